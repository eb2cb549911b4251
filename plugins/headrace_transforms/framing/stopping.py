"""Making sure that the spindle stands still."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from headrace import Edit, Job, State, asking, before, pausing
from headrace_transforms.framing.dwelling import dwell_lines
from headrace_transforms.telling.refusing import refusal

Insert = Callable[..., Edit]
"""`before` or `after`."""


def require_still(state: State, purpose: str) -> None:
    """JobRefused where the spindle is known to turn."""
    if state.spindle in ("cw", "ccw"):
        raise refusal("spindle-turning", f"{purpose} while the spindle turns")


def stopped(job: Job, line: int, state: State, insert: Insert = before) -> Iterator[Edit]:
    """Stop a spindle that turns or may turn, and wait until it stands."""
    spindle = job.machine.spindle
    if state.spindle == "off" or spindle.control == "none":
        return
    if spindle.control == "by-hand":
        texts = asking("spindle-off")
        yield from pausing(job.machine, line, *texts, asks="spindle-off", insert=insert)
        return
    yield insert(line, "M5", *dwell_lines(job, spindle.run_down))
