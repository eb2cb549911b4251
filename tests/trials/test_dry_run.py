"""A few of what `dry_run.py` shows at length."""

from __future__ import annotations

from pathlib import Path

from trials import dry_run
from trials.tools import needed_tools


def test_looking_writes_nothing_and_plans_come_true(tmp_path: Path) -> None:
    needed_tools("strace", "patch", "git")
    shown = dry_run.run(tmp_path, few=True)

    assert shown.broken == []
    assert shown.counts["calls that write"] == 0
    assert shown.counts["calls looked at"] > 1000
    assert shown.counts["calls of prepare that write"] > 10
    made = [shown.counts[f"card files made by {tool}"] for tool in dry_run.APPLIERS]
    assert made[0] == made[1] >= 12


def test_the_log_is_read_rightly() -> None:
    """Lines as strace prints them (strace(1))."""
    quiet = [
        '7 openat(AT_FDCWD</x>, "a.nc", O_RDONLY|O_CLOEXEC) = 3</x/a.nc>',
        '7 openat(AT_FDCWD</x>, "/dev/null", O_RDWR|O_CLOEXEC) = 3</dev/null>',
        '7 write(1<pipe:[12]>, "ready\\n", 6)   = 6',
        '7 write(5<pipe:[12]>, "x", 1)         = 1',
        "7 --- SIGINT {si_signo=SIGINT, si_code=SI_USER} ---",
    ]
    loud = [
        '7 openat(AT_FDCWD</x>, "a.nc", O_WRONLY|O_CREAT|O_CLOEXEC, 0666) = 3</x/a.nc>',
        '7 openat(AT_FDCWD</x>, "a.nc", O_RDWR) = -1 EROFS (Read-only file system)',
        '7 write(4</x/a.nc>, "G21\\n", 4)       = 4',
        '7 rename("a", "b")                    = 0',
        '7 unlink("b")                         = -1 ENOENT (No such file or directory)',
        '7 mkdir("card", 0777 <unfinished ...>',
        "7 fsync(3</x>)                        = 0",
    ]
    assert dry_run.writing_calls("\n".join(quiet)) == []
    assert dry_run.writing_calls("\n".join(loud)) == loud
