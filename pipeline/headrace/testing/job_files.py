"""The jobs that a transform is tried on: those that are odd in one way, and made-up exports."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import count, islice
from random import Random

from headrace.testing.awkward import awkward_jobs
from headrace.testing.export import export


def job_files(number: int, seed: int = 0) -> Iterator[tuple[str, bytes]]:
    """So many jobs, each with what it is: always the same ones for a `seed`, and the first ones of
    a larger `number` too."""
    return islice(_all(seed), number)


def _all(seed: int) -> Iterator[tuple[str, bytes]]:
    """Odd jobs and exports take turns, as long as there are odd ones."""
    odd = awkward_jobs()
    for number in count(1):
        yield from islice(odd, 1)
        yield f"export {number} of seed {seed}", export(Random(f"{seed}/{number}"))
