"""Hostile cases for as long as is asked: one JSON line of counts, exit code 1 for any fault.

python tests/hostility/fuzz.py --seconds 55 --jobs 2 [--seed N] [--show]
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import resource
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from hostility.harness import Case, Hive, Tally

_ROOM = 3 << 30
"""Bytes of address space of a process: what asks for more ends in a MemoryError."""
MOST_MEGABYTES = 300


def fuzzed(start: int, step: int, seconds: float, most: int | None = None) -> tuple[Tally, float]:
    """Cases from seed `start` on; counts, and the most memory in MB that the process held."""
    resource.setrlimit(resource.RLIMIT_AS, (_ROOM, _ROOM))
    tally = Tally()
    with tempfile.TemporaryDirectory() as scratch:
        hive = Hive(Path(scratch))
        until = time.monotonic() + seconds
        seed = start
        while time.monotonic() < until and (most is None or tally.cases < most):
            case = hive.case(seed)
            tally.add(case, hive.judged(case))
            seed += step
    return tally, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def _shown(cases: list[tuple[Case, str, str]]) -> None:
    for case, kind, what in cases:
        print(f"{kind}: {case}\n{what}\n", file=sys.stderr)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=55)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--show", action="store_true", help="tell the first faults of each kind")
    wanted = parser.parse_args()
    began = time.monotonic()
    with multiprocessing.get_context("spawn").Pool(wanted.jobs) as pool:
        tasks = [(wanted.seed + at, wanted.jobs, wanted.seconds) for at in range(wanted.jobs)]
        done = pool.starmap(fuzzed, tasks)
    faults: Counter[str] = sum((tally.faults for tally, _ in done), Counter())
    memory = max(megabytes for _, megabytes in done)
    cases = sum(tally.cases for tally, _ in done)
    counts = {
        "cases": cases,
        "cases_per_second": round(cases / (time.monotonic() - began), 1),
        "uncaught": faults["uncaught"],
        "bad_exit_codes": faults["exit code"],
        "slow": faults["slow"],
        "left_behind": faults["left behind"],
        "control_characters": faults["control character"],
        "slowest_s": round(max(tally.slowest for tally, _ in done), 3),
        "peak_memory_mb": round(memory, 1),
        "seed": wanted.seed,
    }
    print(json.dumps(counts))
    for tally, _ in done:
        _shown(tally.shown if wanted.show else [])
    return int(bool(faults.total()) or memory > MOST_MEGABYTES)


if __name__ == "__main__":
    sys.exit(main())
