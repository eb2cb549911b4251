"""Sameness shown: the same jobs by the same recipe are the same bytes on the card, its list
included, whatever the circumstances; and preparing them again touches nothing.

    python tests/trials/sameness.py

200 jobs, the demo's own, variants of them, and its generator's, are prepared by three of the
demo's recipes. From run to run differ: the hash seed of Python, the time zone, the locale, the
line ends of the YAML files, the number of workers, the working folder, and whether paths are
absolute. Not all combinations are run, but so many that any two values of hash seed, line ends,
workers and paths meet in one of them, and the others take turns. It prints one line of JSON, and
fails where any card differs from that of the first run by a byte, or where the same command once
more changes a byte, an inode or a time.
"""

from __future__ import annotations

import itertools
import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT / "tests")]

from benchmarks.prepare import write_relief  # noqa: E402

RECIPES = ROOT / "recipes"
COMMANDS = {"bench-lids": "lids", "clean-text": "texts", "bench-setup-cards": None}
"""Recipes, each with its folder of jobs; the last makes card files without any."""
DEMO = {
    "lids": ("lid.nc", "handhold.nc", "entrance-reducer.nc"),
    "texts": ("lid.nc", "floor-board.tap", "frame-side.nc", "queen-excluder.nc", "window.ngc"),
}

MEETING = ("hash seed", "ends", "workers", "paths")
"""Circumstances of which any two values meet in some run."""

Row = Mapping[str, str]
State = dict[str, tuple[bytes, int, int]]
"""Of each file on a card its bytes, its inode and its time of change."""


@dataclass(frozen=True)
class Shown:
    """What came of the runs: how many, of how many jobs, files on all cards of one run, what
    differed from the first run, and what a second run of the same touched."""

    runs: int
    jobs: int
    files: int
    differing: tuple[str, ...]
    touched: tuple[str, ...]

    @property
    def kept(self) -> bool:
        """Whether the promise was kept."""
        return bool(self.runs > 1 and self.files > self.jobs and not self.differing + self.touched)


def circumstances() -> dict[str, tuple[str, ...]]:
    """What differs from run to run."""
    return {
        "hash seed": ("0", "1", "4242"),
        "zone": ("UTC", "Asia/Kathmandu", "America/St_Johns"),
        "locale": _locales(),
        "ends": ("\n", "\r\n"),
        "workers": ("1", "2"),
        "folder": ("one", "two words", "deep/down/below"),
        "paths": ("relative", "absolute"),
    }


def _locales() -> tuple[str, ...]:
    """C, C.UTF-8, and another one where the machine has any."""
    try:
        found = subprocess.run(["locale", "-a"], capture_output=True, text=True, check=False).stdout
    except OSError:
        found = ""
    others = [name for name in found.split() if name.split(".")[0] not in ("C", "POSIX")]
    return ("C", "C.UTF-8", *others[:1])


def covering(values: Mapping[str, Sequence[str]]) -> list[Row]:
    """Rows in which any two values of two circumstances that are to meet do so at least once; those
    that are not take turns."""
    meeting = [values[name] for name in MEETING]
    every = [dict(zip(MEETING, row, strict=True)) for row in itertools.product(*meeting)]
    missing = {pair for row in every for pair in _pairs(row)}
    rows: list[Row] = []
    while missing:
        best = max(every, key=lambda row: len(missing.intersection(_pairs(row))))
        missing.difference_update(_pairs(best))
        turns = {name: some[len(rows) % len(some)] for name, some in values.items()}
        rows.append({**turns, **best})
    return rows


def _pairs(row: Row) -> Iterator[tuple[tuple[str, str], ...]]:
    return itertools.combinations(sorted(row.items()), 2)


def write_jobs(folder: Path, count: int) -> int:
    """So many jobs for the recipes that take some; how many they are. One in sixteen goes through
    all the steps for a machine, the others have their text changed."""
    lids = max(2, count // 16)
    wanted = {"lids": lids, "texts": count - lids}
    for name, number in wanted.items():
        jobs = folder / name
        jobs.mkdir(parents=True)
        for at in range(number):
            if at % 4:
                write_relief(jobs / f"relief {at}.nc", 18 + at % 40)
                continue
            source = RECIPES / "jobs" / DEMO[name][at // 4 % len(DEMO[name])]
            beside = f"(HIVE {at})\n".encode()
            (jobs / f"{source.stem}-ä{at}{source.suffix}").write_bytes(beside + source.read_bytes())
    return sum(wanted.values())


def checkout(folder: Path, ends: str) -> None:
    """The demo's recipes with these line ends."""
    shutil.copytree(RECIPES, folder, ignore=shutil.ignore_patterns("__pycache__", "jobs", "kept"))
    for path in folder.rglob("*.yaml"):
        path.write_bytes(path.read_bytes().replace(b"\n", ends.encode()))


def prepared(row: Row, folder: Path, jobs: Path) -> tuple[State, list[str]]:
    """All cards of a run in its circumstances; and what the same run once more touched."""
    root = folder / row["folder"]
    checkout(root / "recipes", row["ends"])
    shutil.copytree(jobs, root / "jobs")
    for recipe in COMMANDS:
        (root / "cards" / recipe).mkdir(parents=True)
    _run(row, root)
    first = _state(root / "cards")
    _run(row, root)
    second = _state(root / "cards")
    touched = [name for name in first.keys() | second.keys() if first.get(name) != second.get(name)]
    return first, sorted(touched)


def _run(row: Row, root: Path) -> None:
    environment = {
        **os.environ,
        "PYTHONHASHSEED": row["hash seed"],
        "TZ": row["zone"],
        "LC_ALL": row["locale"],
        "LANG": row["locale"],
        "PYTHONUTF8": "0",
        "PYTHONCOERCECLOCALE": "0",
    }
    before = root if row["paths"] == "absolute" else Path()
    for recipe, jobs in COMMANDS.items():
        command = [sys.executable, "-m", "headrace", "prepare", before / f"recipes/{recipe}.yaml"]
        command += [] if jobs is None else [before / "jobs" / jobs]
        command += ["--card", before / "cards" / recipe, "--jobs", row["workers"], "--quiet"]
        done = subprocess.run(
            command, cwd=root, env=environment, capture_output=True, text=True, check=False
        )
        if done.returncode != 0:
            raise RuntimeError(f"{recipe} ended with {done.returncode}: {done.stderr}")


def _state(cards: Path) -> State:
    found = {}
    for path in sorted(cards.rglob("*")):
        if path.is_file():
            stat = path.stat()
            name = path.relative_to(cards).as_posix()
            found[name] = (path.read_bytes(), stat.st_ino, stat.st_mtime_ns)
    return found


def shown(count: int, rows: Sequence[Row]) -> Shown:
    """So many jobs in all these circumstances."""
    with tempfile.TemporaryDirectory() as name, ThreadPoolExecutor(2) as together:
        folder = Path(name).resolve()
        jobs = write_jobs(folder / "jobs", count)
        works = [
            together.submit(prepared, row, folder / str(number), folder / "jobs")
            for number, row in enumerate(rows)
        ]
        runs = [work.result() for work in works]
    expected = {name: data for name, (data, *_) in runs[0][0].items()}
    differing, touched = [], []
    for row, (state, again) in zip(rows, runs, strict=True):
        found = {name: data for name, (data, *_) in state.items()}
        names = [name for name in expected.keys() | found if expected.get(name) != found.get(name)]
        differing += [f"{name} with {dict(row)}" for name in sorted(names)]
        touched += [f"{name} with {dict(row)}" for name in again]
    return Shown(len(rows), jobs, len(expected), tuple(differing), tuple(touched))


def main() -> int:
    begun = time.perf_counter()
    values = circumstances()
    found = shown(200, covering(values))
    told = {
        "jobs": found.jobs,
        "runs": found.runs,
        "circumstances": {name: len(some) for name, some in values.items()},
        "files-a-run": found.files,
        "differing": len(found.differing),
        "touched-by-a-second-run": len(found.touched),
        "seconds": round(time.perf_counter() - begun, 1),
    }
    print(json.dumps(told))
    for what in (*found.differing, *found.touched)[:10]:
        print(what, file=sys.stderr)
    return 0 if found.kept else 1


if __name__ == "__main__":
    sys.exit(main())
