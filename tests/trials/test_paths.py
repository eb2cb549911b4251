"""The trial of paths, smaller: see `paths.py`."""

from __future__ import annotations

from pathlib import Path

from trials.tools import needed_tools
from workshop.hostile import HOSTILE


def test_hostile_names_change_nothing_beside_the_card(tmp_path: Path) -> None:
    needed_tools("strace")
    from trials import paths

    counts, found = paths.trial(HOSTILE[::9], tmp_path)

    assert found == []
    assert counts["on the card"] > 20


def test_a_change_beside_the_card_is_seen(tmp_path: Path) -> None:
    """What reads the log of calls sees what it should; lines as strace 6.1 writes them."""
    from trials import paths

    log = tmp_path / "log"
    log.write_text(
        '17 openat(AT_FDCWD</w>, "a/b.nc", O_RDONLY|O_CLOEXEC) = 3</w/a/b.nc>\n'
        '17 openat(AT_FDCWD</w>, "../c.nc", O_WRONLY|O_CREAT|O_EXCL, 0666) = 3</c.nc>\n'
        '17 renameat2(AT_FDCWD</w>, "/w/d", AT_FDCWD</w>, "/w/e", RENAME_EXCHANGE) = 0\n'
        "17 ftruncate(3</w/f>, 0) = 0\n"
    )
    assert paths.changes(log, Path("/w")) == [
        ("openat", "/c.nc"),
        ("renameat2", "/w/d"),
        ("renameat2", "/w/e"),
        ("ftruncate", "/w/f"),
    ]
