"""Tasks on their way to workers: a few at a time, however many there are."""

from __future__ import annotations

from collections.abc import Callable, Generator, Iterable
from concurrent.futures import FIRST_COMPLETED, Future, wait
from itertools import islice
from typing import TypeVar

T = TypeVar("T")

_GLANCE = 2.0
"""Seconds without a result after which it is looked whether there are workers at all."""


def windowed(
    submit: Callable[[int], Future[T]],
    numbers: Iterable[int],
    ahead: int,
    look: Callable[[], None] = lambda: None,
    cancels: bool = True,
) -> Generator[tuple[int, Future[T]], None, None]:
    """Submit tasks by their numbers, in this order, and give each number with its future when that
    is done. Never more than `ahead` are under way, so memory does not grow with their count.

    `look` is called where nothing has come for a while, and may raise. What is under way when this
    is closed is cancelled, as far as the executor can, unless that is ended as a whole.
    """
    coming = iter(numbers)
    under_way: dict[Future[T], int] = {}
    try:
        while True:
            for number in islice(coming, ahead - len(under_way)):
                under_way[submit(number)] = number
            if not under_way:
                return
            done = wait(under_way, _GLANCE, FIRST_COMPLETED).done
            for future in done:
                yield under_way.pop(future), future
            if not done:
                look()
    finally:
        for future in under_way if cancels else ():
            future.cancel()
