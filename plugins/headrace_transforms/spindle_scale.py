"""What S counts: rev/min, or the controller's own number."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace as changed
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_EVEN, Decimal
from itertools import pairwise
from typing import Any

from headrace import Dialect, Edit, Facet, Job, Line, Word, number_text, transform
from headrace_transforms.framing.speeds import require_in_range
from headrace_transforms.lines.line_changes import Change, edits
from headrace_transforms.paths.reach import runs
from headrace_transforms.telling.refusing import place_of, refusal

_EXPORT = "export the job with a speed"
_EXACT = 1e-9
"""Speeds (rev/min) that differ by less are the same."""


def _dialect(job: Job, **_: Any) -> Dialect:
    return changed(job.dialect, speeds=job.machine.spindle.numbers)


def _speed_within(job: Job, *, places: int) -> float:
    """Half of the last place where the scale is steepest; the whole of it where the nearest number
    stands for a speed outside the range, so that the one next to it is taken."""
    if needs_spindle_scale(job) is None:
        return 0.0
    pairs = pairwise(job.machine.spindle.numbers)
    steepest = max((fast - slow) / (high - low) for (low, slow), (high, fast) in pairs)
    values = (word.value for _, word in _stated(job) if word.value is not None)
    speeds = (job.dialect.speed(float(value)) for value in values)
    inwards = any(_outside(job, _rounded(job, speed, places)) for speed in speeds if speed)
    return steepest * 10.0**-places * (1.0 if inwards else 0.5)


@transform(
    "spindle-scale",
    changes=[Facet.SPELLING],
    options={
        "places": {
            "type": "integer",
            "description": "How many places behind the point an S may have; a number without unit.",
            "minimum": 0,
            "maximum": 4,
            "default": 0,
        },
    },
    speed_within=_speed_within,
    dialect=_dialect,
    idempotent=True,
)
def spindle_scale(job: Job, *, places: int) -> Iterator[Edit]:
    """Write speeds as the numbers that the machine counts its spindle by.

    The machine file says by `spindle.numbers` which S stands for which speed; straight lines lie
    between. A speed that falls between two numbers gets the nearer one, and never one outside the
    range of the spindle. Put it last of the steps that write an S.

        S18000 M3     ->        S191 M3
    """
    if needs_spindle_scale(job) is not None:
        yield from edits(job.program, _changes(job, places))


def needs_spindle_scale(job: Job) -> dict[str, Any] | None:
    """The options of the step where S counts otherwise in a job than on its machine; else None."""
    return {} if _dialect(job) != job.dialect else None


def _changes(job: Job, places: int) -> Iterator[Change]:
    for line, word in _stated(job):
        text = line.rewritten({word: _counted(job, line, word, places)})
        if text != line.text:
            yield Change(line.index, line.raw, text)


def _stated(job: Job) -> Iterator[tuple[Line, Word]]:
    """The lines with an S that are ever carried out, and the word."""
    for index in job.program.lines_with("S").tolist():
        if runs(job, index):
            line = job.program[index]
            yield line, next(word for word in line.words if word.letter == "S")


def _counted(job: Job, line: Line, word: Word, places: int) -> str:
    """The word with the number that stands for its speed."""
    place = place_of(job.program, line)
    if word.value is None:
        raise refusal("numbers-not-plain", "this line works its speed out", place=place)
    speed = job.dialect.speed(float(word.value))
    if speed == 0:
        return _stopped(job, line, word)
    what = f"S{number_text(word.value)}"
    require_in_range(job.machine.spindle, speed, what, _EXPORT, place)
    return line.text[word.start] + _nearest(job, speed, places)


def _nearest(job: Job, speed: float, places: int) -> str:
    """The number nearest to that of a speed, but inside the range of the spindle."""
    ways = (ROUND_HALF_EVEN, ROUND_FLOOR, ROUND_CEILING)
    numbers = (_rounded(job, speed, places, way) for way in ways)
    found = next((number for number in numbers if not _outside(job, number)), None)
    if found is None:
        what = f"no S of {places} places stands for a speed of this spindle near {speed:g}"
        raise refusal("speed-out-of-range", what, remedy="give the step more `places`")
    return found


def _rounded(job: Job, speed: float, places: int, way: str = ROUND_HALF_EVEN) -> str:
    """The number that stands for a speed, with so many places."""
    exact = Decimal(repr(_dialect(job).speed_number(speed)))
    return number_text(exact.quantize(Decimal(1).scaleb(-places), way), places)


def _outside(job: Job, number: str) -> bool:
    """Whether a number stands for a speed that is none of the spindle."""
    speed, spindle = _dialect(job).speed(float(number)), job.machine.spindle
    return not spindle.slowest - _EXACT <= speed <= spindle.fastest + _EXACT


def _stopped(job: Job, line: Line, word: Word) -> str:
    """S0: the number for no speed at all; beside M5, which stops the spindle, none is needed."""
    number = _dialect(job).speed_number(0.0)
    if _dialect(job).speeds[:1] and number >= _dialect(job).speeds[0][0]:
        return line.text[word.start] + number_text(number)
    if line.has("M", 5):
        return ""
    what = "S0, and no number of this machine stands for a spindle at rest"
    remedy = "write M5 where the spindle is to stop"
    raise refusal("speed-out-of-range", what, place=place_of(job.program, line), remedy=remedy)
