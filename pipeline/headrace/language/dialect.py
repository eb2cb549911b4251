"""What a described controller does otherwise than the standard; never a silent guess."""

from __future__ import annotations

from bisect import bisect
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from headrace.machine import Assumed, Machine

DWELLS: Mapping[str, float] = {"seconds": 1.0, "milliseconds": 0.001}
"""What the P of a dwell may count, in s."""


@dataclass(frozen=True, slots=True)
class Dialect:
    """How words are read. The defaults are those of RS274/NGC.

    `units` are those in force when a program says none (None: unknown). `dwell_unit` is the time
    in s that a P of 1 means. `homing` is a G code (times ten) that runs the homing switches
    instead of going to a stored point, `homed` the numbers shown after that. `stops` are further
    M codes that wait for the operator, `outputs` M codes that switch something wired to them on,
    `switched_off` M codes that switch some of these off. `heads` are outputs that lower a head, and
    the tool in it: switched off, they give way to the head that was down at the beginning.
    `block_delete` leaves out lines that begin with a slash, and `optional_settled` tells whether it
    is certain what becomes of them. `speeds` are pairs of an S and the
    speed (rev/min) that it stands for, where S is not the speed itself. With `projected_feed` the F
    of a helix counts along what is seen of it in its plane.
    """

    units: str | None = "mm"
    dwell_unit: float = 1.0
    absolute_centres: bool = False
    homing: int | None = None
    homes_all: bool = False
    homed: Mapping[str, float] = field(default_factory=dict)
    homing_clears_shift: bool = False
    sets_here: bool = False
    end_keeps_shift: bool = False
    stops: frozenset[int] = frozenset()
    outputs: Mapping[int, str] = field(default_factory=dict)
    switched_off: Mapping[int, tuple[int, ...]] = field(default_factory=dict)
    block_delete: bool = False
    optional_settled: bool = False
    speeds: tuple[tuple[float, float], ...] = ()
    projected_feed: bool = False
    heads: Mapping[int, int] = field(default_factory=dict)

    @classmethod
    def of(cls, machine: Machine, units: str | None = None) -> Dialect:
        """The dialect of a machine. `units` are assumed where a job says none."""
        homing = machine.homing.word if machine.homing.by == "word" else None
        return cls(
            units=units or machine.power_up_units,
            dwell_unit=DWELLS[machine.dwell_unit],
            homing=None if homing is None else round(float(homing[1:]) * 10),
            homes_all=machine.homing.axes == "all",
            homed={axis.upper(): a.homed_number for axis, a in machine.axes.items()},
            homing_clears_shift=machine.work_zero.word == "G92",
            sets_here=machine.work_zero.word == "G10 L20",
            end_keeps_shift=bool(machine.work_zero.kept_after_end),
            stops=frozenset({int(machine.pause.word[1:])}),
            outputs={int(word[1:]): what for word, what in machine.outputs.items()},
            switched_off=_switched_off(machine),
            absolute_centres=machine.arcs.centres == "absolute",
            block_delete=machine.optional_lines == "left-out",
            optional_settled=machine.optional_lines in ("left-out", "run"),
            speeds=machine.spindle.numbers,
            projected_feed=machine.arcs.feed == "projection",
            heads={int(head.down[1:]): head.tool for head in machine.heads},
        )

    def as_jobs_have_it(self, assumed: Assumed) -> Dialect:
        """The dialect in which jobs come for the machine whose dialect this is: that of the
        standard, but for what is assumed of them. Dwells that nothing is said of are the
        machine's."""
        return replace(
            self,
            dwell_unit=self.dwell_unit if assumed.dwell is None else DWELLS[assumed.dwell],
            absolute_centres=assumed.centres == "absolute",
            block_delete=self.block_delete
            if assumed.optional_lines is None
            else assumed.optional_lines == "leave-out",
            optional_settled=self.optional_settled or assumed.optional_lines is not None,
            speeds=self.speeds if assumed.speeds == "machine" else (),
            projected_feed=False,
        )

    def speed(self, number: float) -> float:
        """The speed (rev/min) that an S stands for.

        >>> Dialect(speeds=((0, 0), (255, 24000))).speed(127.5)
        12000.0
        """
        return number if not self.speeds else _between(self.speeds, number)

    def speed_number(self, speed: float) -> float:
        """The S that stands for a speed (rev/min).

        >>> Dialect(speeds=((0, 0), (255, 24000))).speed_number(12000)
        127.5
        """
        return speed if not self.speeds else _between([(b, a) for a, b in self.speeds], speed)


def _switched_off(machine: Machine) -> Mapping[int, tuple[int, ...]]:
    """The M codes that switch outputs off, and the outputs of each."""
    found: dict[int, tuple[int, ...]] = {}
    for word in machine.outputs:
        off = machine.off_word(word)
        if off is not None:
            code = int(off[1:])
            found[code] = (*found.get(code, ()), int(word[1:]))
    return found


def _between(points: Sequence[tuple[float, float]], value: float) -> float:
    """On the straight lines between points, and on the first and the last one beyond them."""
    at = min(max(bisect([x for x, _ in points], value), 1), len(points) - 1)
    (x, y), (x_next, y_next) = points[at - 1], points[at]
    return y + (value - x) / (x_next - x) * (y_next - y)


STANDARD = Dialect()
