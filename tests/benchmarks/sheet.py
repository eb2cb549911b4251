"""What does the run sheet cost? Ratios, side by side, medians of one run.

    python tests/benchmarks/sheet.py
    python tests/benchmarks/sheet.py --lines 10000 --repeat 1     # a short look

On generated reliefs it compares
(a) preparing one file with a whole recipe, as in prepare.py;
(b) all that a run sheet needs of the prepared job, while it is at hand: planned times, both
    drawings, the way of the tip for the slider, all other facts, and the page itself;
(c) the planned time alone, acceleration and corners and all, against a plain loop in pure Python
    that takes the same file apart with a regular expression.

Each part is measured on a job that was just prepared, so none profits from what another one found.
The memory is that of the command, at most, with a run sheet and without.

Nothing here is a test: speed is shown, not asserted.
"""

from __future__ import annotations

import argparse
import os
import statistics
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT / "tests")]

from benchmarks.prepare import (  # noqa: E402
    RECIPE,
    prepare,
    seconds,
    tokenise,
    write_relief,
)

if TYPE_CHECKING:
    from headrace.job import Job
    from headrace.outcome import Outcome
    from headrace.recipe import Plan
    from headrace.sheet.facts import SheetFacts

PARTS = ("times", "drawings", "track", "facts", "page")


class Bench:
    """The plan of the benchmark, and one job of it."""

    def __init__(self, path: Path) -> None:
        from headrace.plugins.registry import load_registry
        from headrace.recipe import load_plan

        self.path = path
        self.data = path.read_bytes()
        self.registry = load_registry()
        self.plan: Plan = load_plan(RECIPE, self.registry)

    def outcome(self) -> Outcome:
        """The job as it is at hand where it was just prepared."""
        from headrace.card.writing import Content
        from headrace.run import prepare_job

        found = prepare_job(self.path.name, self.data, self.plan, self.registry)
        assert found.result is not None, found.findings
        self.content = Content.of(*found.result.parts())
        return found

    def whole(self, outcome: Outcome) -> SheetFacts:
        """All facts of a run sheet on this one job, whose bytes `prepare` has told already."""
        from headrace.sheet.files import file_facts
        from headrace.sheet.whole import sheet_facts

        facts = file_facts(
            outcome, self.plan, "f1", name="RELIEF.NC", title="Relief", source=self.path.name,
            content=self.content,
        )  # fmt: skip
        return sheet_facts(self.plan, (facts,), (), ())

    def _fresh(self) -> Job:
        job = self.outcome().job
        assert job is not None
        return job

    def once(self) -> tuple[dict[str, float], float, SheetFacts, bytes]:
        """Seconds of each part, of all together, and what came of it."""
        from headrace.picture.job import job_drawings
        from headrace.sheet.page import page
        from headrace.sheet.view.track import track_of
        from headrace.timing.clock import clock_of
        from headrace.timing.times import times_of

        found: list[SheetFacts] = []
        pages: list[bytes] = []
        outcome = self.outcome()
        gathering = seconds(lambda: found.append(self.whole(outcome)))
        paging = seconds(lambda: pages.append(page(found[0])))
        spent: dict[str, float] = {}
        job = self._fresh()
        spent["times"] = seconds(lambda: times_of(job, clock_of(job)))
        clock = clock_of(job)
        spent["track"] = seconds(lambda: track_of(job, clock))
        drawn = self._fresh()
        spent["drawings"] = seconds(lambda: job_drawings(drawn, "f1"))
        spent["facts"] = gathering - sum(spent.values())
        spent["page"] = paging
        return spent, gathering + spent["page"], found[0], pages[0]


def medians(rows: list[dict[str, float]]) -> dict[str, float]:
    return {name: statistics.median(row[name] for row in rows) for name in rows[0]}


def line(*cells: str) -> None:
    print("  ".join(f"{cell:>11}" for cell in cells), flush=True)


def sheet_table(sizes: list[int], repeat: int, folder: Path) -> None:
    line("lines", "(a) prepare", "(b) sheet", "(b)/(a)", *PARTS, "(b) growth")
    told: list[tuple[str, ...]] = []
    before: float | None = None
    for lines in sizes:
        path = folder / f"relief{lines}.nc"
        write_relief(path, lines)
        bench = Bench(path)
        bench.once()  # warm: imports, templates, file cache
        preparing: list[float] = []
        parts: list[dict[str, float]] = []
        for _ in range(repeat):
            preparing.append(seconds(lambda path=path: prepare([path], folder / "card")))
            spent, whole, facts, page = bench.once()
            parts.append({**spent, "whole": whole})
        a, found = statistics.median(preparing), medians(parts)
        growth = "" if before is None else f"{found['whole'] / before:.2f}"
        line(f"{lines}", f"{a:.3f} s", f"{found['whole']:.3f} s", f"{found['whole'] / a:.2f}",
             *(f"{found[name]:.3f} s" for name in PARTS), growth)  # fmt: skip
        before = found["whole"]
        file = facts.files[0]
        sizes_kb = [*(len(one.svg) for one in file.drawings), len(file.track or ""), len(page)]
        told.append((f"{lines}", *(f"{size / 1000:.0f} kB" for size in sizes_kb)))
    print("\nwhat comes of it")
    line("lines", "top", "side", "track", "page")
    for row in told:
        line(*row)


def times_table(sizes: list[int], repeat: int, folder: Path) -> None:
    from headrace.timing.clock import clock_of
    from headrace.timing.times import times_of

    print("\nthe planned time of a job that was read, against the loop")
    line("lines", "moves", "(c) planned", "loop", "(c)/loop", "growth")
    before: float | None = None
    for lines in sizes:
        path = folder / f"relief{lines}.nc"
        bench = Bench(path)
        planning, looping = [], []
        for _ in range(repeat):
            job = bench.outcome().job
            assert job is not None
            planning.append(seconds(lambda job=job: times_of(job, clock_of(job))))
            looping.append(seconds(lambda path=path: tokenise(path)))
        c, loop = statistics.median(planning), statistics.median(looping)
        growth = "" if before is None else f"{c / before:.2f}"
        line(f"{lines}", f"{len(job.trace)}", f"{c:.3f} s", f"{loop:.3f} s", f"{c / loop:.3f}",
             growth)  # fmt: skip
        before = c


def peak_memory(path: Path, folder: Path, *more: str) -> float:
    """Megabytes that `headrace prepare` takes at most, Python included."""
    with tempfile.TemporaryDirectory(dir=folder) as card:
        code = (
            "import resource, subprocess, sys;"
            "subprocess.run(sys.argv[1:], check=True, capture_output=True);"
            "print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)"
        )
        command = [sys.executable, "-m", "headrace", "prepare", str(RECIPE), str(path),
                   "--card", card, *more]  # fmt: skip
        done = subprocess.run(
            [sys.executable, "-c", code, *command], check=True, capture_output=True
        )
    return int(done.stdout) * (1 if sys.platform == "darwin" else 1024) / 1e6


def memory_row(lines: int, folder: Path) -> None:
    path = folder / f"relief{lines}.nc"
    plain = peak_memory(path, folder)
    more = peak_memory(path, folder, "--sheet", str(folder / "sheet.html"))
    print(f"\nmemory of the command at most, {lines} lines: {plain:.0f} MB, with a run sheet"
          f" {more:.0f} MB: {more / plain:.2f} times")  # fmt: skip


def profile(lines: int, folder: Path) -> None:
    """Where the time of (b) goes."""
    import cProfile
    import pstats

    path = folder / f"relief{lines}.nc"
    if not path.exists():
        write_relief(path, lines)
    bench = Bench(path)
    bench.whole(bench.outcome())
    outcome = bench.outcome()
    profiler = cProfile.Profile()
    profiler.runcall(bench.whole, outcome)
    pstats.Stats(profiler).sort_stats("cumulative").print_stats("headrace|numpy", 40)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--lines", type=int, nargs="+", default=[250_000, 500_000, 1_000_000])
    parser.add_argument("--repeat", type=int, default=5)
    parser.add_argument("--profile", action="store_true", help="only show where the time goes")
    wanted = parser.parse_args()
    works: list[Callable[[Path], object]] = [
        lambda folder: sheet_table(wanted.lines, wanted.repeat, folder),
        lambda folder: times_table(wanted.lines, wanted.repeat, folder),
        lambda folder: memory_row(max(wanted.lines), folder),
    ]
    if wanted.profile:
        works = [lambda folder: profile(max(wanted.lines), folder)]
    print(f"Python {sys.version.split()[0]}, {os.cpu_count()} cores, {RECIPE.relative_to(ROOT)}\n")
    with tempfile.TemporaryDirectory() as name:
        for work in works:
            work(Path(name))


if __name__ == "__main__":
    main()
