"""How the time of every reader and pattern grows with the size of the worst inputs.

    python tests/hostility/scaling.py [--most 8388608]

prints a JSON line for each reader and input: seconds by size, and the largest ratio of a doubling.
"""

from __future__ import annotations

import argparse
import importlib
import json
import pkgutil
import re
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from functools import cache
from itertools import pairwise
from math import log2
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from hostility.shapes import JOB_SHAPES, YAML_SHAPES

import headrace
import headrace_transforms
from headrace.errors import HeadraceError
from headrace.plugins.registry import Registry, load_registry
from headrace.program import Program, Text, scan
from headrace.recipe import Plan, load_plan
from headrace.recipe.document import parse_document
from headrace.recipe.override import read_override
from headrace.run import prepare_job

RECIPES = Path(__file__).parents[2] / "recipes"
Reader = Callable[[bytes], object]

_WHOLE = {"headrace.recipe.scalar", "headrace.recipe.complaint"}
_AT_START = {
    "headrace.language.suitability",
    "headrace_transforms.comments",
    "headrace_transforms.optional_lines",
}
"""Modules whose patterns have to fit a text as a whole, or at its beginning, and nowhere else."""


@cache
def _planned(recipe: str) -> tuple[Plan, Registry]:
    registry = load_registry()
    return load_plan(RECIPES / recipe, registry), registry


def _prepared(recipe: str) -> Reader:
    return lambda data: prepare_job("hostile.nc", data, *_planned(recipe))


def _transformed(name: str, **options: object) -> Reader:
    """The edits of one step, and the program that they make, whatever the job says."""
    from headrace.intake import start_state
    from headrace.job import Job
    from headrace.language import Dialect
    from headrace.program import Cause

    plan, registry = _planned("clean-text.yaml")
    transform = registry.transforms[name]

    def run(data: bytes) -> object:
        dialect = Dialect.of(plan.machine, plan.assumed.units)
        start = start_state(plan.machine, plan.setup, dialect)
        job = Job(Program.read(data), plan.machine, plan.setup, dialect, start)
        return job.program.edited(list(transform.given(job, options)), Cause(name, 1))

    return run


READERS: dict[str, Reader] = {
    "columns": lambda data: Text(data).chunks,
    "one line": lambda data: scan(data.decode("latin-1")),
    "a job by a recipe that adds": _prepared("bench-lids.yaml"),
    "a job by a recipe of texts": _prepared("clean-text.yaml"),
    "the step comments": _transformed("comments", keep="all", width=20, ascii=True),
    "the step renumber": _transformed("renumber", **{"from": 1, "step": 1, "remove": True}),
    "the step strip": _transformed(
        "strip", **{"blank-lines": True, "spaces": True, "line-ends": "machine"}
    ),
}  # fmt: skip
YAML_READERS: dict[str, Reader] = {
    "a YAML file": lambda data: parse_document(data, Path("hive.yaml")),
    "an override": lambda data: read_override("setup.bit=" + data.decode("utf-8")),
}


def patterns() -> Iterator[tuple[str, re.Pattern[Any]]]:
    """Every pattern that a module of headrace holds, with the module's name."""
    for package in (headrace, headrace_transforms):
        for found in pkgutil.walk_packages(package.__path__, package.__name__ + "."):
            module = importlib.import_module(found.name)
            for value in list(vars(module).values()):
                for pattern in _patterns_in(value):
                    yield found.name, pattern


def _patterns_in(value: object) -> Iterator[re.Pattern[Any]]:
    if isinstance(value, re.Pattern):
        yield value
    elif isinstance(value, (tuple, list)):
        for part in value:
            yield from _patterns_in(part)


def pattern_reader(module: str, pattern: re.Pattern[Any]) -> Reader:
    """The pattern as its module uses it."""
    text = isinstance(pattern.pattern, str)

    def run(data: bytes) -> object:
        subject: Any = data.decode("latin-1") if text else data
        if module in _WHOLE:
            return pattern.fullmatch(subject)
        if module in _AT_START:
            return pattern.match(subject)
        return sum(1 for _ in pattern.finditer(subject))

    return run


def seconds(reader: Reader, data: bytes, times: int = 2) -> float:
    """Processor time: the best of some runs."""
    best = float("inf")
    for _ in range(times):
        began = time.process_time()
        with suppress(HeadraceError):  # refused is as good an answer as any
            reader(data)
        best = min(best, time.process_time() - began)
        if best > 2:
            break
    return best


def worst_doubling(sizes: Sequence[int], times: Sequence[float], floor: float = 0.02) -> float:
    """The largest growth for a doubling of the size, where the time is more than noise."""
    return max(
        (
            (late / max(early, floor / 8)) ** (1 / log2(large / small))
            for (small, large), (early, late) in zip(pairwise(sizes), pairwise(times), strict=True)
            if late > floor
        ),
        default=1.0,
    )


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--most", type=int, default=1 << 23, help="the largest size, bytes")
    most = parser.parse_args().most
    sizes = [size for size in (1 << 16, 1 << 18, 1 << 20, 1 << 23) if size <= most]
    works = [(name, reader, JOB_SHAPES) for name, reader in READERS.items()]
    works += [(f"{m} {p.pattern!r}"[:90], pattern_reader(m, p), JOB_SHAPES) for m, p in patterns()]
    works += [(name, reader, YAML_SHAPES) for name, reader in YAML_READERS.items()]
    grown = False
    for name, reader, shapes in works:
        for shape, make in shapes.items():
            times: list[float] = []
            for size in sizes:
                times.append(seconds(reader, make(size)))
                if times[-1] > 20:
                    break
            worst = worst_doubling(sizes[: len(times)], times)
            grown = grown or worst > 2.5
            shown = {"reader": name, "input": shape, "worst_doubling": round(worst, 2)}
            print(json.dumps(shown | {"seconds": [round(t, 3) for t in times]}), flush=True)
    return int(grown)


if __name__ == "__main__":
    sys.exit(main())
