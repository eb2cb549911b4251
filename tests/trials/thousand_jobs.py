"""A thousand jobs of mixed size by the demo recipe, through the command: memory stays flat.

    python tests/trials/thousand_jobs.py
    python tests/trials/thousand_jobs.py --small 200 --large 1000000

The memory of the command and of all its children is read from /proc each 50 ms. The large jobs come
first, whatever they are called, so that the comparison of two halves would always be a good one;
therefore the halves of what is alike, the small jobs behind them, are compared as well.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass
from importlib.util import module_from_spec, spec_from_file_location
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]
RECIPE = ROOT / "recipes" / "bench-lids.yaml"
SMALL = 20
"""Lines of a small job."""
LARGE = (10_000_000, 1_000_000, 1_000_000, 1_000_000, 1_000_000)
"""Bytes of the large ones."""
BYTES_A_LINE = 30
MOST_GROWTH = 0.2
PAGE = os.sysconf("SC_PAGE_SIZE")


@dataclass(frozen=True)
class Sample:
    """How things stood at a moment: jobs that were done, bytes that the command holds and that its
    children hold. What several hold in common counts for each of them."""

    done: int
    parent: int
    children: tuple[int, ...]

    @property
    def whole(self) -> int:
        return self.parent + sum(self.children)


def write_jobs(folder: Path, small: int, large: Sequence[int]) -> int:
    """Reliefs as the demo's generator makes them; how many there are. The small ones are all of
    one length, and no two the same."""
    spec = spec_from_file_location("hive_relief", ROOT / "recipes" / "jobs" / "hive_relief.py")
    assert spec is not None
    assert spec.loader is not None
    module = module_from_spec(spec)
    spec.loader.exec_module(module)
    folder.mkdir()
    for number, size in enumerate(large):
        lines = module.relief(size // BYTES_A_LINE)
        (folder / f"large{number}.nc").write_text("".join(f"{line}\n" for line in lines), "ascii")
    text = "".join(f"{line}\n" for line in module.relief(SMALL))
    for number in range(small):
        (folder / f"lid{number:05}.nc").write_text(f"(LID {number:05})\n{text}", "ascii")
    return small + len(large)


def measured(command: Sequence[str], card: Path) -> tuple[int, list[Sample]]:
    """Run a command that fills a card: its exit code, and a sample each 50 ms."""
    samples = []
    quiet = subprocess.DEVNULL
    with subprocess.Popen(command, stdout=quiet, stderr=quiet) as process:
        while process.poll() is None:
            done = sum(path.name.startswith("HR0") for path in card.iterdir())
            children = tuple(map(_held, _children(process.pid)))
            samples.append(Sample(done, _held(process.pid), children))
            time.sleep(0.05)
    return process.returncode, samples


def judged(samples: Sequence[Sample], jobs: int, large: int) -> dict[str, Any]:
    """Peaks in MB, and by how much the second half of all, and of the small ones, exceeds the
    first."""
    most = max(sample.done for sample in samples)
    end = next(number for number, sample in enumerate(samples) if sample.done == most)
    working = [sample for sample in samples[:end] if sample.done]  # then the files get their names
    alike = [sample for sample in working if sample.done > large + jobs // 20]
    curve = {
        f"{percent}%": _mb(max((s.whole for s in _between(working, jobs, percent)), default=0))
        for percent in range(10, 101, 10)
    }
    middle = (large + jobs // 20 + jobs) // 2
    growths = {
        "whole": _growth([s.whole for s in working], [s.done > jobs // 2 for s in working]),
        "whole_alike": _growth([s.whole for s in alike], [s.done > middle for s in alike]),
        "parent_alike": _growth([s.parent for s in alike], [s.done > middle for s in alike]),
        "worker_alike": _growth([max(s.children) for s in alike], [s.done > middle for s in alike]),
    }
    return {
        "peak_parent_mb": _mb(max(s.parent for s in samples)),
        "peak_child_mb": _mb(max(max(s.children, default=0) for s in samples)),
        "curve_mb": curve,
        "parent_curve_mb": {
            f"{percent}%": _mb(max((s.parent for s in _between(working, jobs, percent)), default=0))
            for percent in range(10, 101, 10)
        },
        "growth": growths,
        "samples": len(samples),
    }


def tried(small: int, large: Sequence[int], workers: int = 2) -> dict[str, Any]:
    """The whole trial: what was seen, and under `broken` the promises that were not kept."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        card = folder / "card"
        card.mkdir()
        jobs = write_jobs(folder / "jobs", small, large)
        command = [sys.executable, "-m", "headrace", "prepare", str(RECIPE), str(folder / "jobs"),
                   "--card", str(card), "--jobs", str(workers), "--quiet"]  # fmt: skip
        begun = time.monotonic()
        code, samples = measured(command, card)
        seconds = time.monotonic() - begun
        written = len(list(card.glob("*.NC")))
        strange = [path.name for path in card.iterdir() if path.suffix not in (".NC", ".JSON")]
    seen = judged(samples, jobs, len(large))
    broken = [f"exit code {code}"] if code else []
    if written != jobs or strange:
        broken.append(f"{written} of {jobs} files, and {strange}")
    for name, growth in seen["growth"].items():
        if growth is None or growth > MOST_GROWTH:
            broken.append(f"memory, {name}: the second half's peak exceeds the first's by {growth}")
    rate = round(jobs / seconds, 1)
    return {"jobs": jobs, "seconds": round(seconds, 1), "jobs_a_second": rate,
            **seen, "broken": broken}  # fmt: skip


def _between(samples: Sequence[Sample], jobs: int, percent: int) -> list[Sample]:
    return [s for s in samples if percent - 10 < 100 * s.done / jobs <= percent]


def _growth(values: Sequence[int], later: Sequence[bool]) -> float | None:
    """By what part the later peak exceeds the earlier; None where one of them is not known."""
    halves: tuple[list[int], list[int]] = ([], [])
    for value, late in zip(values, later, strict=True):
        halves[late].append(value)
    if not halves[0] or not halves[1]:
        return None
    return round(max(halves[1]) / max(halves[0]) - 1, 3)


def _mb(size: int) -> float:
    return round(size / 1e6, 1)


def _children(process: int) -> list[int]:
    """All that descend from a process and are there (proc(5): task/*/children)."""
    found: list[int] = []
    waiting = [process]
    while waiting:
        for path in Path(f"/proc/{waiting.pop()}/task").glob("*/children"):
            try:
                own = [int(word) for word in path.read_text().split()]
            except OSError:
                continue
            found += own
            waiting += own
    return found


def _held(process: int) -> int:
    """The resident memory of a process in bytes (proc(5): statm); 0 where it has ended."""
    try:
        return int(Path(f"/proc/{process}/statm").read_text().split()[1]) * PAGE
    except (OSError, IndexError):
        return 0


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--small", type=int, default=1000 - len(LARGE), metavar="JOBS")
    parser.add_argument("--large", type=int, nargs="*", default=LARGE, metavar="BYTES")
    wanted = parser.parse_args()
    seen = tried(wanted.small, wanted.large)
    print(json.dumps(seen))
    sys.exit(bool(seen["broken"]))


if __name__ == "__main__":
    main()
