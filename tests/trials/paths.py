"""`headrace prepare` given jobs of hostile names, and a card full of traps.

    python tests/trials/paths.py

strace watches every call that can change a file system: opening for writing, renaming, removing,
making, linking, cutting short, changing modes or times. All that it sees must be in the card
folder, where each of the files on the card belongs to headrace or was there before, unchanged.

It prints one line of JSON with its counts, and fails where a promise is broken.
"""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterable, Sequence
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[1])]

from workshop import LID, Workshop, set_up  # noqa: E402
from workshop.hostile import HOSTILE  # noqa: E402

_CHANGING = (
    "creat", "rename", "renameat", "renameat2", "unlink", "unlinkat", "rmdir", "mkdir", "mkdirat",
    "link", "linkat", "symlink", "symlinkat", "truncate", "ftruncate", "mknod", "mknodat", "chmod",
    "fchmod", "fchmodat", "chown", "lchown", "fchown", "fchownat", "utime", "utimes", "utimensat",
    "setxattr", "lsetxattr", "fsetxattr", "fallocate", "copy_file_range", "sendfile", "bind",
)  # fmt: skip
_OPENING = ("open", "openat", "openat2")
_WRITING = re.compile(r"O_(WRONLY|RDWR|CREAT|TRUNC|APPEND|TMPFILE)")
_PATH = re.compile(r'"((?:[^"\\]|\\.)*)"|<([^>]*)>')
_CALL = re.compile(r"^(?:\d+ +)?(\w+)\((.*)")
_HARMLESS = re.compile(r"/dev/(null|tty|pts/\d+)|pipe:\[\d+\]|socket:\[\d+\]|anon_inode:.*")
TRAPS = ("CON_.NC", "LID_9.NC", "JOB.NC", "HR900001.HRT")
"""Names on the card that are links, which lead off it, or pipes."""


def written(folder: Path, names: Iterable[str]) -> tuple[list[Path], int]:
    """Job files of these names, each in a folder of its own, and how many there cannot be."""
    made: list[Path] = []
    impossible = 0
    for number, name in enumerate(names):
        home = folder / f"{number:03}"
        home.mkdir()
        try:
            # as a name in its folder: a slash in it would be that of a folder, and stand for none
            if "/" in name or name in (".", ".."):
                raise ValueError
            path = home / name
            path.write_bytes(LID.encode())
            made.append(path)
        except (OSError, ValueError):
            impossible += 1
    return made, impossible


def trapped(shop: Workshop, elsewhere: Path) -> None:
    """A card with links that lead off it, a pipe, and a folder."""
    for name in TRAPS[:3]:
        (shop.card / name).symlink_to(elsewhere / name)
    (shop.card / TRAPS[3]).symlink_to(elsewhere / "other.txt")
    os.mkfifo(shop.card / "PIPE.NC")
    (shop.card / "FOLDER.NC").mkdir()
    (elsewhere / "other.txt").write_bytes(b"precious\n")


def changes(log: Path, home: Path) -> list[tuple[str, str]]:
    """Calls that may change something, each with a path that it names: those of strace's log."""
    found = []
    for line in log.read_text(errors="replace").splitlines():
        told = _CALL.match(line)
        if told is None:
            continue
        name, rest = told.groups()
        if name in _OPENING and not _WRITING.search(rest):
            continue
        if name in _OPENING or name in _CHANGING:
            paths = [
                (quoted.encode().decode("unicode_escape"), quoted != "")
                for quoted, _ in _PATH.findall(rest.split(" = ")[0])
                if quoted
            ] or [(held, False) for _, held in _PATH.findall(rest)]
            found += [(name, os.path.normpath(home / path)) for path, _ in paths]
    return found


def run(shop: Workshop, jobs: Sequence[Path], log: Path) -> subprocess.CompletedProcess[bytes]:
    """The command under strace, with everything that it starts."""
    calls = ",".join(f"?{name}" for name in (*_OPENING, *_CHANGING))
    return subprocess.run(
        [
            *("strace", "-f", "-qqq", "-y", "-s", "4096", "-o", str(log), "-e", f"trace={calls}"),
            *(sys.executable, "-m", "headrace", "prepare", str(shop.recipe)),
            *("--card", str(shop.card), "--jobs", "1", "--", *map(str, jobs)),
        ],
        cwd=shop.root,
        env={**os.environ, "PYTHONDONTWRITEBYTECODE": "1"},
        capture_output=True,
        check=False,
    )


def trial(names: Sequence[str], root: Path) -> tuple[dict[str, int], list[str]]:
    """Two runs: onto an empty card, and onto one with traps."""
    counts = {"names": len(names), "no file can have": 0, "on the card": 0, "calls": 0}
    found: list[str] = []
    for way in ("empty", "trapped"):
        shop = set_up(root / way)
        elsewhere = root / way / "elsewhere"
        elsewhere.mkdir()
        jobs, counts["no file can have"] = written(shop.jobs, names)
        if way == "trapped":
            trapped(shop, elsewhere)
        before = _outside(root, shop.card)
        log = root / f"{way}.log"
        ended = run(shop, jobs, log)
        seen = changes(log, shop.root)
        counts["calls"] += len(seen)
        found += [
            f"{way}: {name} {path}"
            for name, path in seen
            if not Path(path).is_relative_to(shop.card) and not _HARMLESS.fullmatch(path)
        ]
        if _outside(root, shop.card) | {log: b""} != before | {log: b""}:
            found.append(f"{way}: a file beside the card has changed")
        listed = _listed(shop.card)
        runnable = {path.name for path in shop.card.iterdir() if path.is_file()} - {"HEADRACE.JSON"}
        wanted = 0 if way == "empty" else 5
        if ended.returncode != wanted:
            said = ended.stderr.decode(errors="replace")[-400:]
            found.append(f"{way}: exit code {ended.returncode}, not {wanted}: {said}")
        if way == "empty":
            counts["on the card"] = len(listed)
            if len(listed) != len(jobs) or listed != runnable:
                found.append(f"{len(jobs)} jobs, {len(listed)} listed, {len(runnable)} on the card")
        elif listed:
            found.append("something was written to a card that is full of traps")
    if counts["calls"] < counts["on the card"]:
        found.append("strace has seen too little to tell anything")
    return counts, found


def _listed(card: Path) -> set[str]:
    path = card / "HEADRACE.JSON"
    return {e["name"] for e in json.loads(path.read_bytes())["files"]} if path.exists() else set()


def _outside(root: Path, card: Path) -> dict[Path, bytes]:
    """All files beside the card."""
    return {
        path: path.read_bytes()
        for path in root.rglob("*")
        if path.is_file() and not path.is_relative_to(card) and path.suffix != ".log"
    }


def main() -> int:
    begun = time.monotonic()
    with tempfile.TemporaryDirectory() as name:
        counts, found = trial(HOSTILE, Path(name).resolve())
    seconds = round(time.monotonic() - begun, 1)
    print(json.dumps({**counts, "elsewhere": len(found), "seconds": seconds, "faults": found[:20]}))
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
