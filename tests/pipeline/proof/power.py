"""How strong is the proof? Seeded faults that it must see, harmless rewrites that it must let pass.

    python tests/pipeline/proof/power.py [--faults 1000] [--rewrites 20000] [--classes 24]

Every fault is one that the reference interpreter sees (`yardstick`), done by edits as a transform
would, under the most generous contract that does not declare it. The proof of the step must see
it, and, where it is about how the job's own moves go, the proof of the whole run as well. The
rewrites change spelling only, or what their contract declares. Exit code 1 if a fault is accepted
or a rewrite is not.
"""

from __future__ import annotations

import argparse
import random
import sys
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from difflib import ndiff
from functools import lru_cache
from pathlib import Path

if __package__:
    from .faults import CUTTING_VIEWS, FAULTS, Fault
    from .rewrites import REWRITES, rewritten
    from .sources import DIALECT, Source, sources
else:  # run as a script
    sys.path[:0] = [str(Path(__file__).parents[2])]
    from pipeline.proof.faults import CUTTING_VIEWS, FAULTS, Fault
    from pipeline.proof.rewrites import REWRITES, rewritten
    from pipeline.proof.sources import DIALECT, Source, sources

from headrace.findings import Severity
from headrace.language import interpret
from headrace.program import Cause, Program
from headrace.proof import Version, prove_run, prove_step

CAUSE = Cause("trial", 1)
SOURCES = 60
"""So many jobs a worker makes, for all classes."""
_TRIES = 200
"""So many edits may turn out harmless for each fault that is asked for."""


@dataclass(slots=True)
class Tally:
    """What became of some trials: done, accepted by the steps' proof; the same for the run's.
    `shown` are the first of those that went wrong."""

    done: int = 0
    by_steps: int = 0
    for_run: int = 0
    by_run: int = 0
    shown: list[str] = field(default_factory=list)

    def add(self, other: Tally) -> None:
        self.done += other.done
        self.by_steps += other.by_steps
        self.for_run += other.for_run
        self.by_run += other.by_run
        self.shown += other.shown


@lru_cache
def jobs(seed: int) -> tuple[Source, ...]:
    """The jobs, made once."""
    return tuple(sources(random.Random(seed), SOURCES, drilling=5))


def try_faults(fault: Fault, count: int, seed: int) -> Tally:
    """`count` faults of one class. One that makes a line which the reading refuses, so that no
    job with it is written anyway, counts only where the proof sees it too."""
    tally, rng = Tally(), random.Random(f"{seed} {fault.name}")
    every = jobs(seed)
    for _ in range(count * _TRIES):
        if tally.done == count:
            break
        source = rng.choice(every)
        edits = fault.make(rng, source)
        if edits is None:
            continue
        new = source.program.edited(edits, CAUSE)
        view = fault.view(source, new)
        if view is None:
            continue
        after = Version(new, interpret(new, start=source.start))
        refused = any(f.severity is Severity.REFUSE for f in after.trace.findings)
        missed = ""
        if not prove_step(source.version, after, fault.contract).breaches:
            if refused:
                continue
            tally.by_steps += 1
            missed = "steps"
        tally.done += 1
        if source.followed and view in CUTTING_VIEWS:
            run = prove_run(source.program, [new], fault.contract, False, DIALECT)
            if run.breach is not None or not refused:
                tally.for_run += 1
            if run.breach is None and not refused:
                tally.by_run += 1
                missed += " whole"
        if missed and len(tally.shown) < 2:
            tally.shown.append(_shown(f"{missed} accepted: {fault.name} ({view})", source, new))
    return tally


def try_rewrites(name: str, count: int, seed: int) -> Tally:
    """`count` harmless rewrites of one kind, each on a job's every line that it fits."""
    tally, rng = Tally(), random.Random(f"{seed} {name}")
    for _ in range(count):
        for source in jobs(seed):
            if tally.done >= count:
                return tally
            made = rewritten(REWRITES[name], rng, source)
            if made is None:
                continue
            new, contract, lines = made
            after = Version(new, interpret(new, start=source.start))
            step = prove_step(source.version, after, contract)
            run = prove_run(source.program, [new], contract, False, DIALECT)
            tally.done += lines
            tally.for_run += 1
            if step.breaches:
                tally.by_steps += 1
            if run.breach is not None:
                tally.by_run += 1
            if (step.breaches or run.breach) and len(tally.shown) < 2:
                said = f"false alarm: {name}: {step.breaches} {run.breach}"
                tally.shown.append(_shown(said, source, new))
    return tally


def _shown(what: str, source: Source, new: Program) -> str:
    lines = new.to_bytes().decode().splitlines()
    return "\n".join([f"--- {what}", *ndiff(source.lines, lines)])


Task = tuple[str, str, int, int]
"""Kind, name, how many, seed."""


def _work(task: Task) -> Tally:
    kind, name, count, seed = task
    if kind == "rewrite":
        return try_rewrites(name, count, seed)
    return try_faults(next(fault for fault in FAULTS if fault.name == name), count, seed)


def measure(
    faults: int, rewrites: int, workers: int, seed: int, classes: int | None = None
) -> Iterator[tuple[Task, Tally]]:
    """All classes, or the first so many of faults, each with its tally."""
    each = -(-rewrites // len(REWRITES))
    tasks = [("fault", fault.name, faults, seed) for fault in FAULTS[:classes] if faults]
    tasks += [("rewrite", name, each, seed) for name in REWRITES if rewrites]
    if workers == 1:
        yield from zip(tasks, map(_work, tasks), strict=True)
        return
    with ProcessPoolExecutor(workers) as pool:
        yield from zip(tasks, pool.map(_work, tasks), strict=True)


def main(arguments: Sequence[str] | None = None) -> int:
    """The table, and one line at the end."""
    parser = argparse.ArgumentParser(description="How strong is the proof?")
    parser.add_argument("--faults", type=int, default=1000, help="of each class")
    parser.add_argument("--classes", type=int, help="the first so many only")
    parser.add_argument("--rewrites", type=int, default=20000, help="altogether")
    parser.add_argument("--jobs", type=int, default=2, help="worker processes")
    parser.add_argument("--seed", type=int, default=1)
    chosen = parser.parse_args(arguments)
    begun = time.perf_counter()
    total, false, kinds = Tally(), Tally(), Counter[str]()
    print(f"{'class':62} {'tried':>7} {'steps':>7} {'of':>7} {'whole':>7}")
    for (kind, name, _, _), tally in measure(
        chosen.faults, chosen.rewrites, chosen.jobs, chosen.seed, chosen.classes
    ):
        (total if kind == "fault" else false).add(tally)
        kinds[kind] += 1
        print(
            f"{name:62} {tally.done:7} {tally.by_steps:7} {tally.for_run:7} {tally.by_run:7}",
            flush=True,
        )
    for text in (*total.shown, *false.shown):
        print(text)
    print(
        f"{kinds['fault']} classes, {total.done} faults: accepted by steps {total.by_steps}, "
        f"by the whole {total.by_run} of {total.for_run}; "
        f"{false.done} rewrites: false alarms {false.by_steps} + {false.by_run}; "
        f"{time.perf_counter() - begun:.0f} s"
    )
    wrong = total.by_steps + total.by_run + false.by_steps + false.by_run
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
