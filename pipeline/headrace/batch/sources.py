"""Which files are jobs: those given by name, and of a folder those with a usual extension."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from headrace.findings import Finding

EXTENSIONS = frozenset((".nc", ".ngc", ".tap", ".gcode", ".cnc"))
"""What a folder's jobs are called (common practice). Text files are left out: most are notes."""


@dataclass(frozen=True, slots=True)
class JobFile:
    """A job to prepare. `name` is its file name, with as many of its folders before it as it
    takes to tell it from the other jobs of the run."""

    name: str
    path: Path


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
        for child in sorted(path.iterdir()):
            if why := _not_a_job(child):
                passed.append(Finding.of("passed-over", f"{child} was passed over: {why}"))
            else:
                files.setdefault(child.resolve(), child)
    jobs = [JobFile(name, path) for name, path in _named(files.items())]
    return tuple(sorted(jobs, key=lambda job: job.name)), tuple(passed)


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
    tails = {resolved: 1 for resolved, _ in files}
    while True:
        names = {resolved: _tail(resolved, count) for resolved, count in tails.items()}
        seen = Counter(names.values())
        again = [resolved for resolved, name in names.items() if seen[name] > 1]
        if not again:
            return [(names[resolved], path) for resolved, path in files]
        for resolved in again:
            tails[resolved] += 1


def _tail(path: Path, count: int) -> str:
    return "/".join(path.parts[-count:])
