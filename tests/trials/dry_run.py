"""Looking writes nothing, and what `plan` shows is what `prepare` writes.

    python tests/trials/dry_run.py

By the log of system calls of `plan`, `check`, `verify`, `show` and `timed --check` (strace): none
that could write, but to standard output and error, to pipes and to /dev/null; and `sheet` writes
its page alone. And by the tools `patch` and `git apply`: what they make of a plan's differences is,
byte for byte, what `prepare` puts on the card; for the demo's recipes with their jobs, and for
awkward jobs by a recipe that changes texts and by one that cleans.

It prints one line of JSON with its counts, and exits with 1 where a promise breaks. Python itself
is kept from storing compiled modules (PYTHONDONTWRITEBYTECODE), which is no doing of headrace. A
check that is large enough for several processes lets Python put their socket into the system's
folder for temporary files, and their locks into shared memory: there, and nowhere else.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT / "tests")]

from recipes.test_gallery import GALLERY  # noqa: E402
from workshop import LID, set_up  # noqa: E402

ENVIRONMENT = {**os.environ, "PYTHONDONTWRITEBYTECODE": "1"}
CALLS = """
    open openat openat2 creat write pwrite64 writev pwritev pwritev2 sendfile copy_file_range splice
    truncate ftruncate fallocate rename renameat renameat2 unlink unlinkat rmdir mkdir mkdirat
    mknod mknodat link linkat symlink symlinkat chmod fchmod fchmodat fchmodat2 chown fchown lchown
    fchownat utime utimes utimensat futimesat setxattr lsetxattr fsetxattr removexattr lremovexattr
    fremovexattr mount umount2 fsync fdatasync sync syncfs sync_file_range
""".split()  # noqa: SIM905  # read as a text
"""Calls of Linux that change what is stored, and those that open for it (man pages, section 2)."""
TRACED = ",".join(f"?{call}" for call in CALLS)
_OPENING = re.compile(r"^(open|openat|openat2|creat)\(")
_FOR_WRITING = re.compile(r"O_WRONLY|O_RDWR|O_CREAT|O_TRUNC|O_APPEND|O_TMPFILE|^creat")
_WRITING = re.compile(r"^(write|pwrite64|writev|pwritev|pwritev2|sendfile|splice)\(")
_ALLOWED_TARGET = re.compile(r"^\w+\((1|2)<|^\w+\(\d+<(pipe:|/dev/null|anon_inode:|socket:|UNIX)")

APPLIERS = {
    "patch": ["patch", "--binary", "-s", "-p1"],
    "git apply": ["git", "apply", "--whitespace=nowarn"],
}
AWKWARD = {
    "crlf.nc": LID.replace("\n", "\r\n").encode(),
    "bom.nc": b"\xef\xbb\xbf" + LID.encode(),
    "lone returns.nc": LID.replace("\n", "\r").encode(),
    "mixed.nc": LID.replace("\nG0", "\r\nG0").replace("M5\n", "M5\r").encode(),
    "no-last-line-end.nc": LID.rstrip().encode(),
    "no-utf-8.nc": LID.encode().replace(b"(hive lid)", b"(abeille \xe9\xff lid)"),
    "utf-8.nc": LID.replace("hive", "hïve 🐝").encode(),
    "form feed.nc": LID.replace("\nM30", "\n\f\nM30").encode(),
    "tabs.nc": LID.replace(" ", "\t").encode(),
    "looks-like-a-patch.nc": LID.replace("M3 ", "(--- a)\n(+++ b)\n(@@ -1 +1 @@)\nM3 ").encode(),
    'a "quoted" lid.nc': LID.encode(),
    "lïd of the hive.nc": LID.encode(),
}
"""Jobs, each odd in the way that its name says."""


@dataclass
class Shown:
    """What came of it."""

    counts: Counter[str] = field(default_factory=Counter)
    broken: list[str] = field(default_factory=list)


def headrace(*args: str, cwd: Path) -> subprocess.CompletedProcess[bytes]:
    """The command, in a folder."""
    return subprocess.run(
        [sys.executable, "-m", "headrace", *args], cwd=cwd, env=ENVIRONMENT, capture_output=True,
        check=False, timeout=120,
    )  # fmt: skip


# --- nothing is written -----------------------------------------------------------------------


def writing_calls(log: str) -> list[str]:
    """The lines of a log of system calls that could have written somewhere."""
    found = []
    for line in log.splitlines():
        call = re.sub(r"^\d+ +", "", line)
        if not re.match(r"\w+\(", call):
            continue  # a signal, or the end of a call that has been seen
        if _OPENING.match(call):
            if _FOR_WRITING.search(call) and '"/dev/null"' not in call and '"/dev/tty"' not in call:
                found.append(line)
        elif not (_WRITING.match(call) and _ALLOWED_TARGET.match(call)):
            found.append(line)
    return found


def logged(args: Sequence[str], cwd: Path) -> tuple[int, list[str], int]:
    """Exit code of a command, its calls that could have written, and how many lines were logged."""
    with tempfile.TemporaryDirectory() as folder:
        log = Path(folder) / "calls"
        done = subprocess.run(
            ["strace", "-f", "--seccomp-bpf", "-qq", "-y", "-e", f"trace={TRACED}",
             "-o", str(log), sys.executable, "-m", "headrace", *args],
            cwd=cwd, env=ENVIRONMENT, capture_output=True, check=False, timeout=120,
        )  # fmt: skip
        text = log.read_text("utf-8", "replace")
        return done.returncode, writing_calls(text), text.count("\n")


def looking(demo: Path) -> list[list[str]]:
    """Command lines that only look, in a copy of the demo; its card is there."""
    bad = demo / "bad.nc"
    bad.write_text("G21\nG1 X1 F100 Q\nM30\n")
    (demo / "older.yaml").write_text("format: headrace-recipe/1\nplugins: []\n")
    lids, jobs = "recipes/bench-lids.yaml", ["recipes/jobs/lid.nc", "recipes/jobs/handhold.nc"]
    return [
        ["plan", lids, *jobs],
        ["plan", "--why", lids, jobs[0]],
        ["plan", lids, "bad.nc", "--json"],
        ["check", lids],
        ["check", lids, *jobs, "--json"],
        ["check", lids, "bad.nc", "--sarif", "-"],
        ["check", "--machine", "recipes/machines/shop-relay.yaml", "card"],
        ["plan", "recipes/swarm-warning.yaml", "recipes/jobs/frame-side.nc"],
        ["plan", "recipes/speed-feeder-boards.yaml", "recipes/jobs/feeder-board.nc"],
        ["verify", "card"],
        ["verify", "card", "--json"],
        ["transforms", "touch-off"],
        ["explain", "bad-number"],
        ["keep", "--check", "recipes/kept"],
        ["recheck", "recipes/machines/shop-relay.yaml"],
        ["upgrade", lids, "older.yaml"],
        ["show", jobs[0]],
        ["show", jobs[0], "--recipe", lids],
        ["show", "card/LID.NC", "--machine", "recipes/machines/bench-hand-switched.yaml"],
        ["timed", "--check", lids, jobs[0], "11:20"],
    ]


def show_that_looking_writes_nothing(shown: Shown, folder: Path, few: bool) -> None:
    """strace over commands that only look; and over one that writes, which must show."""
    demo = folder / "demo"
    demo.mkdir()
    shutil.copytree(
        ROOT / "recipes", demo / "recipes", ignore=shutil.ignore_patterns("__pycache__")
    )
    (demo / "card").mkdir()
    writing = ["prepare", "recipes/bench-lids.yaml", "recipes/jobs/lid.nc", "--card", "card"]
    code, calls, _ = logged(writing, demo)
    shown.counts["calls of prepare that write"] = len(calls)
    if code or len(calls) < 10:
        shown.broken.append("prepare wrote a card, and the log does not show it")
    lines = looking(demo)[::6] if few else looking(demo)
    _only_its_page(shown, demo, writing)
    held = {path: path.stat() for path in demo.rglob("*")}
    if not few:
        _in_processes(shown, demo)
    with ThreadPoolExecutor(2) as pool:
        for args, (code, calls, count) in zip(
            lines, pool.map(lambda args: logged(args, demo), lines), strict=True
        ):
            shown.counts["commands that look"] += 1
            shown.counts["calls looked at"] += count
            shown.counts["calls that write"] += len(calls)
            if code not in (0, 1):
                shown.broken.append(f"{' '.join(args)} ended with {code}")
            shown.broken += [f"{' '.join(args)}: {call}" for call in calls[:3]]
    after = {path: path.stat() for path in demo.rglob("*")}
    if {path: (s.st_ino, s.st_mtime_ns, s.st_size) for path, s in held.items()} != {
        path: (s.st_ino, s.st_mtime_ns, s.st_size) for path, s in after.items()
    }:
        shown.broken.append("looking changed the folder")


def _only_its_page(shown: Shown, demo: Path, prepared: Sequence[str]) -> None:
    """The run sheet of a prepared card: its page is written, and the card left alone."""
    jobs = ["sheet", *prepared[1:], "--to", "lids.html"]
    own = re.compile(
        rf"HR_PAGE\.HRT|lids\.html|^(\d+ +)?f(data)?sync\(\d+<{re.escape(str(demo))}>\)"
    )
    code, calls, _ = logged(jobs, demo)
    astray = [call for call in calls if not own.search(call)]
    shown.counts["calls of sheet that write"] = len(calls)
    shown.counts["calls of sheet that write beside its page"] = len(astray)
    shown.broken += astray[:3]
    if code or not (demo / "lids.html").is_file():
        shown.broken.append(f"sheet ended with {code}")


def _in_processes(shown: Shown, demo: Path) -> None:
    """A check in two processes: what they need lies in the system's own places."""
    here = re.escape(tempfile.gettempdir())  # of eight letters: Python tries whether it may write
    own = re.compile(rf'["<]({here}/(pymp-|[a-z0-9_]{{8}}[">])|/dev/shm/sem\.)')
    jobs = ["recipes/jobs/lid.nc", "recipes/jobs/handhold.nc"]
    _, calls, _ = logged(["check", "recipes/bench-lids.yaml", *jobs, "--jobs", "2"], demo)
    astray = [call for call in calls if not own.search(call)]
    shown.counts["calls that write elsewhere, in two processes"] = len(astray)
    shown.broken += astray[:3]


# --- the difference is the file ---------------------------------------------------------------


def show_that_plans_come_true(shown: Shown, folder: Path, recipe: str, jobs: Sequence[str]) -> None:
    """The differences of a plan, applied by each tool, against what prepare writes; in `folder`."""
    card = folder / "card-to-be"
    card.mkdir()
    arguments = [word if not word.startswith("-") else f"./{word}" for word in jobs]
    planned = headrace("plan", recipe, *arguments, cwd=folder)
    prepared = headrace("prepare", recipe, *arguments, "--card", str(card), "--json", cwd=folder)
    written = {path.name: path.read_bytes() for path in card.iterdir()}
    written.pop("HEADRACE.JSON", None)
    if planned.returncode != prepared.returncode or planned.returncode not in (0, 1):
        shown.broken.append(
            f"{recipe}: plan ended with {planned.returncode}, prepare with {prepared.returncode}: "
            + planned.stderr.decode("utf-8", "replace")[-300:]
        )
        return
    files = json.loads(prepared.stdout)["files"]
    for file in files:
        if file["exit-code"]:
            shown.counts["refused by both"] += 1
            if not any(finding["what"].encode() in planned.stderr for finding in file["findings"]):
                shown.broken.append(f"{recipe}: plan does not say why {file['name']} is refused")
    for tool, command in APPLIERS.items():
        made = folder / "made"
        shutil.copytree(folder, made, ignore=shutil.ignore_patterns("card-to-be", "made"))
        done = subprocess.run(
            command, cwd=made, input=planned.stdout, capture_output=True, check=False, timeout=120
        )
        if done.returncode:
            said = (done.stderr or done.stdout).decode("utf-8", "replace")
            shown.broken.append(f"{recipe}: {tool} says {said[:300]}")
        for file in files:
            if file["exit-code"]:
                continue
            name = file["card-name"]
            target = made / name
            # where the job is to stay as it is there is no difference
            source = made / file["name"] if target.is_file() is False else target
            if source.is_file() and source.read_bytes() == written[name]:
                shown.counts[f"card files made by {tool}"] += 1
            else:
                shown.broken.append(f"{recipe}: {tool} makes another {name} than prepare")
        shutil.rmtree(made)
    shutil.rmtree(card)


def demo_folders(folder: Path, few: bool) -> Iterator[tuple[Path, str, list[str]]]:
    """The demo's recipes, each with its jobs in a copy."""
    for name, jobs in list(GALLERY.items())[: 1 if few else None]:
        home = folder / name
        shutil.copytree(
            ROOT / "recipes", home, ignore=shutil.ignore_patterns("__pycache__", "kept", "card")
        )
        own = dict.fromkeys(job.partition(",")[0] for job in jobs)
        for job in own:
            shutil.copy(ROOT / "recipes" / "jobs" / job, home / job)
        yield home, f"{name}.yaml", list(own)


def awkward_folders(folder: Path, few: bool) -> Iterator[tuple[Path, str, list[str]]]:
    """Awkward jobs, made here and kept in the tests, with a recipe that changes texts."""
    hive = set_up(folder / "hive", names="long")
    jobs: list[str] = []
    for name, data in AWKWARD.items():
        (hive.root / name).write_bytes(data)
        jobs.append(name)
    if not few:
        for path in sorted((ROOT / "tests" / "jobs").iterdir()):
            if path.is_file() and path.suffix != ".md" and path.name not in AWKWARD:
                shutil.copy(path, hive.root / path.name)
                jobs.append(path.name)
    yield hive.root, "recipes/plain.yaml", jobs
    if not few:
        home = folder / "cleaned"
        shutil.copytree(
            ROOT / "recipes", home, ignore=shutil.ignore_patterns("__pycache__", "kept")
        )
        for name in jobs:
            shutil.copy(hive.root / name, home / name)
        yield home, "clean-text.yaml", jobs


def run(folder: Path, few: bool) -> Shown:
    """The whole trial; a `few` of everything for the tests."""
    shown = Shown()
    show_that_looking_writes_nothing(shown, folder, few)
    cases = [*demo_folders(folder / "gallery", few), *awkward_folders(folder, few)]
    with ThreadPoolExecutor(2) as pool:
        list(pool.map(lambda case: show_that_plans_come_true(shown, *case), cases))
    shown.counts["recipes"] = len(cases)
    return shown


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as place:
        outcome = run(Path(place), few=False)
    print(json.dumps({**outcome.counts, "broken": len(outcome.broken)}))
    for told in outcome.broken:
        print(told, file=sys.stderr)
    sys.exit(bool(outcome.broken))
