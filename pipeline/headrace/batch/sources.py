"""Which files are jobs: those given by name, and of a folder those with a usual extension."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from headrace.card.entry import Piece
from headrace.card.writing import Content
from headrace.errors import JobRefused
from headrace.findings import Finding

EXTENSIONS = frozenset((".nc", ".ngc", ".tap", ".gcode", ".cnc"))
"""What a folder's jobs are called (common practice). Text files are left out: most are notes."""


@dataclass(frozen=True, slots=True)
class JobFile:
    """A job to prepare, or a part of one. `name` is its file name, with as many of its folders
    before it as it takes to tell it from the other jobs of the run; a part's own name where it is
    the part of that number (from 0), of so many `parts`, of the job that is called `whole`.
    `counted` is what the file held when its parts were counted; None where they were not. `held`
    is what it holds where it is no file, and `path` then only names it."""

    name: str
    path: Path
    part: int | None = None
    whole: str | None = None
    parts: int = 1
    counted: Content | None = None
    held: bytes | None = None

    @property
    def folder(self) -> str:
        """The name of the folder in which it lies."""
        return name_of(self.path.parent.resolve())

    @property
    def piece(self) -> Piece | None:
        """Which part of which job it is."""
        if self.part is None or self.whole is None:
            return None
        return Piece(self.whole, self.part, self.parts)


def collect_jobs(paths: Sequence[Path]) -> tuple[tuple[JobFile, ...], tuple[Finding, ...]]:
    """The jobs, sorted by name, and what was passed over in folders.

    A file that is given twice is one job. Raises OSError where a folder cannot be listed.
    """
    files: dict[Path, Path] = {}
    passed: list[Finding] = []
    for path in paths:
        if not path.is_dir():
            files.setdefault(path.resolve(), path)
            continue
        folder = path.resolve()
        for child in sorted(path.iterdir()):
            if why := _not_a_job(child):
                passed.append(Finding.of("passed-over", f"{child} was passed over: {why}"))
            else:
                whole = child.resolve() if child.is_symlink() else folder / child.name
                files.setdefault(whole, child)
    jobs = [JobFile(name, path) for name, path in _named(files.items())]
    return tuple(sorted(jobs, key=lambda job: job.name)), tuple(passed)


def read_job(job: JobFile) -> bytes:
    """What a job's file holds. Raises JobRefused where it cannot be read, or is no longer what it
    was when its parts were counted."""
    if job.held is not None:
        return job.held
    try:
        if not job.path.is_file():
            there = job.path.exists()
            raise OSError("it is no plain file" if there else "there is no such file")
        data = job.path.read_bytes()
    except OSError as error:
        what = f"{job.path} cannot be read: {error.strerror or error}"
        raise JobRefused(findings=[Finding.of("job-unreadable", what)]) from error
    if job.counted not in (None, Content.of(data)):
        what = f"{job.whole or job.name} was changed while it was prepared"
        finding = Finding.of("job-being-written", what, remedy="run again when it is at rest")
        raise JobRefused(findings=[finding])
    return data


def _not_a_job(path: Path) -> str:
    """Why a file of a folder is none of its jobs; nothing where it is one."""
    if path.is_dir():
        return "it is a folder; give it as well if its jobs are meant"
    if not path.is_file():
        return "it is no plain file"
    if path.name.startswith("."):
        return "its name begins with a point"
    if path.suffix.lower() not in EXTENSIONS:
        usual = " ".join(sorted(EXTENSIONS))
        return f"its extension is none of {usual}"
    return ""


def _named(files: Iterable[tuple[Path, Path]]) -> list[tuple[str, Path]]:
    """Names that tell the files apart; the same whatever the working folder is."""
    pairs = list(files)
    tails = [1] * len(pairs)
    while True:
        names = [name_of(resolved, tail) for (resolved, _), tail in zip(pairs, tails, strict=True)]
        seen = Counter(names)
        longer = [
            index
            for index, (resolved, _) in enumerate(pairs)
            if seen[names[index]] > 1 and tails[index] < len(resolved.parts)
        ]
        if not longer:
            return [(name, path) for name, (_, path) in zip(names, pairs, strict=True)]
        for index in longer:
            tails[index] += 1


def name_of(path: Path, count: int = 1) -> str:
    """The last parts of a path. Names are bytes to most systems; read as UTF-8 they do not depend
    on the locale, no two become equal, and each is one line of text."""
    name = os.fsencode("/".join(path.parts[-count:])).replace(b"\\", b"\\\\")
    text = name.decode("utf-8", "backslashreplace")
    return "".join(c if c.isprintable() else f"\\u{{{ord(c):x}}}" for c in text)
