"""Turning: a blank on a rotary axis, under a bit that stands above its centre line."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from math import floor, isnan

import numpy as np

from headrace.findings import Finding, Severity
from headrace.job import Job
from headrace.language.modal import AXES
from headrace.language.trace import LINE, RAPID
from headrace.machine import Blank, Rotary, unknown
from headrace.program import number_text
from headrace.rehearsal.lengths import NEAR, mm
from headrace.rehearsal.space.extents import Spokes, bulge
from headrace.rehearsal.space.rolled import angles, counted, turns
from headrace.rehearsal.space.stretches import Stretch

_OFF = 0.05
"""So far (mm) the bit may stand from the centre line: on a blank of 40 its top lies 0.00006 lower
there."""
_SLACK = 1.005
"""Numbers are rounded: speeds that are over by less are let pass."""


def turning_findings(job: Job, space: Sequence[Stretch]) -> Iterator[Finding]:
    """What there is to say of axes that turn, and of a blank on one."""
    blank = job.setup.blank
    for letter, axis in job.machine.rotary.items():
        turning = [stretch for stretch in space if turns(stretch.block, letter)]
        if turning:
            yield from _travel(letter, axis, turning)
            yield from _speed(letter, axis, turning)
        if turning and (blank is None or blank.axis != letter):
            row = int(np.argmax(angles(turning[0].block, letter) != 0))
            question = f"what the bit meets on a blank that {letter.upper()} turns"
            yield unknown("setup.blank", question, turning[0].place(row))
    if blank is not None:
        on_blank = _OnBlank(job, space, blank, job.machine.rotary[blank.axis])
        yield from on_blank.findings()


def _travel(letter: str, axis: Rotary, space: Sequence[Stretch]) -> Iterator[Finding]:
    """The number furthest outside of the travel; and that nobody knows where the zero is."""
    if axis.travel is None:
        return
    low, high = axis.travel
    worst: tuple[float, float, Stretch, int] | None = None
    for stretch in space:
        ends = stretch.block.ends[AXES.index(letter.upper())]
        out = np.nan_to_num(np.maximum(low - ends, ends - high), nan=-np.inf)
        row = int(out.argmax())
        if worst is None or out[row] > worst[0]:
            worst = float(out[row]), float(ends[row]), stretch, row
    assert worst is not None
    out_by, number, stretch, row = worst
    name = letter.upper()
    if out_by > NEAR:
        what = f"{name}{mm(number)} lies outside the travel of {name}, {low:g} to {high:g} degrees"
        yield Finding.of("turn-outside", what, stretch.place(row))
    elif isnan(stretch.block.setting.offset[AXES.index(name)]):
        what = f"cannot tell whether {name} stays inside its travel: its zero may lie anywhere"
        remedy = f"see that {name} stands at its own zero before the job starts"
        yield Finding.of("cannot-tell", what, remedy=remedy, severity=Severity.NOTE)


def _speed(letter: str, axis: Rotary, space: Sequence[Stretch]) -> Iterator[Finding]:
    """The cut on which an axis would turn fastest, where that is too fast."""
    worst: tuple[float, Stretch, int] | None = None
    for stretch in space:
        block = stretch.block
        turned = np.abs(angles(block, letter))
        cuts = (block.kind == LINE) & (turned > 0)
        timed = block.setting.inverse_time
        with np.errstate(invalid="ignore", divide="ignore"):
            speed = turned * block.feed / (1.0 if timed else counted(block, letter, axis))
        speed = np.where(cuts, np.nan_to_num(speed), 0.0)
        row = int(speed.argmax())
        if speed[row] > (axis.feed * _SLACK if worst is None else worst[0]):
            worst = float(speed[row]), stretch, row
        linear = any((angles(block, each)[cuts] != 0).any() for each in "xyz")
        if axis.counts is None and not timed and linear:
            question = f"how fast {letter.upper()} turns where X, Y or Z go too"
            yield unknown(f"machine.rotary.{letter}.counts", question)
            return
    if worst is not None:
        fast, stretch, row = worst
        feed = float(stretch.block.feed[row])
        what = (
            f"F{feed:g} would turn {letter.upper()} at {fast:.0f} degrees/min, and it cuts at"
            f" {axis.feed:g} at the most"
        )
        most = number_text(floor(feed * axis.feed / fast * 1e4) / 1e4, 4)
        yield Finding.of(
            "feed-over-axis", what, stretch.place(row), remedy=f"F{most} is the most for this move"
        )


@dataclass(frozen=True, slots=True)
class _OnBlank:
    """A job on a blank. Heights and places count from the highest line of its near end."""

    job: Job
    space: Sequence[Stretch]
    blank: Blank
    axis: Rotary

    def findings(self) -> Iterator[Finding]:
        checks: tuple[Callable[[Stretch], Finding | None], ...] = (
            self._beside, self._turned_low, self._too_deep, self._past_end
        )  # fmt: skip
        for check in checks:
            yield from [found for found in map(check, self.space) if found is not None][:1]

    def _beside(self, stretch: Stretch) -> Finding | None:
        """The first cut that is not above the centre line."""
        across = 1 if self.axis.along == "x" else 0
        add, cuts = stretch.frame.sheet[across], stretch.own_cuts
        if add is None or not cuts.any():
            return None
        off = np.where(cuts, stretch.numbers(across) + add, 0.0)
        for row, beyond in self._bows(stretch, across, add):
            off[row] = beyond
        wrong = ~(np.abs(off) <= _OFF)
        if not wrong.any():
            return None
        row, name = int(np.argmax(wrong)), "XY"[across]
        if isnan(off[row]):
            what = f"a cut, and no line says where the bit stands along {name}"
            return Finding.of("beside-the-axis", what, stretch.place(row), severity=Severity.WARN)
        what = (
            f"a cut {mm(abs(float(off[row])))} mm beside the centre line of"
            f" {self.blank.axis.upper()}, along {name}"
        )
        return Finding.of("beside-the-axis", what, stretch.place(row))

    @staticmethod
    def _bows(stretch: Stretch, across: int, add: float) -> Iterator[tuple[int, float]]:
        """The arc that goes furthest to either side of the centre line between its ends, and how
        far."""
        spokes, cuts = Spokes.of(stretch.block), stretch.own_cuts
        for up in (True, False):
            bound = (_OFF if up else -_OFF) - add
            found = bulge(stretch.block, across, up, (bound, 0), spokes)
            if found is not None and cuts[found[1]]:
                yield found[1], found[0] + add

    def _turned_low(self, stretch: Stretch) -> Finding | None:
        """The first rapid that turns the blank while the bit is below its surface."""
        block, tip = stretch.block, stretch.frame.tip
        rapid = (block.kind == RAPID) & (angles(block, self.blank.axis) != 0)
        if tip is None or not rapid.any():
            return None
        ends = stretch.numbers(2)
        starts = np.concatenate([[stretch.begun[2]], ends[:-1]])
        height = np.minimum(starts, ends) + tip.least
        wrong = rapid & ~(height >= -NEAR)
        if not wrong.any():
            return None
        row = int(np.argmax(wrong))
        if isnan(height[row]):
            what = "a rapid turns the blank, and no line says how high the bit is"
            return Finding.of("turns-in-blank", what, stretch.place(row), severity=Severity.WARN)
        what = f"a rapid turns the blank, and the bit is {mm(-float(height[row]))} mm in it"
        return Finding.of("turns-in-blank", what, stretch.place(row))

    def _too_deep(self, stretch: Stretch) -> Finding | None:
        """The first stretch that cuts to the centre line or beyond it."""
        tip, low = stretch.frame.tip, stretch.lowest_cut
        radius = self.blank.diameter / 2
        if tip is None or low is None or low[0] + tip.least > -radius + NEAR:
            return None
        what = (
            f"{mm(-(low[0] + tip.least))} mm deep in a blank of {self.blank.diameter:g}, whose"
            f" centre line is {mm(radius)} below its surface"
        )
        return Finding.of("past-the-axis", what, stretch.place(low[1]))

    def _past_end(self, stretch: Stretch) -> Finding | None:
        """The first cut of a bit's middle past an end of the blank."""
        along = "xy".index(self.axis.along)
        add, cuts = stretch.frame.sheet[along], stretch.own_cuts
        if add is None or not cuts.any():
            return None
        at = np.where(cuts, stretch.numbers(along) + add, 0.0)
        out = np.nan_to_num(np.maximum(-at, at - self.blank.length))
        row = int(out.argmax())
        if not out[row] > NEAR:
            return None
        end = "near" if at[row] < 0 else "far"
        what = (
            f"the bit's middle goes {mm(float(out[row]))} mm past the {end} end of the blank, which"
            f" is {self.blank.length:g} long"
        )
        return Finding.of("off-sheet", what, stretch.place(row))
