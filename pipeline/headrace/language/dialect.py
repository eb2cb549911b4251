"""What a described controller does otherwise than the standard; never a silent guess."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from headrace.machine import Machine


@dataclass(frozen=True, slots=True)
class Dialect:
    """How words are read. The defaults are those of RS274/NGC.

    `units` are those in force when a program says none (None: unknown). `dwell_unit` is the time
    in s that a P of 1 means. `homing` is a G code (times ten) that runs the homing switches
    instead of going to a stored point, `homed` the numbers shown after that. `stops` are further
    M codes that wait for the operator, `outputs` M codes that switch something wired to them.
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
    block_delete: bool = False

    @classmethod
    def of(cls, machine: Machine, units: str | None = None) -> Dialect:
        """The dialect of a machine. `units` are assumed where a job says none."""
        homing = machine.homing.word if machine.homing.by == "word" else None
        return cls(
            units=units or machine.power_up_units,
            dwell_unit={"seconds": 1.0, "milliseconds": 0.001}[machine.dwell_unit],
            homing=None if homing is None else round(float(homing[1:]) * 10),
            homes_all=machine.homing.axes == "all",
            homed={axis.upper(): a.homed_number for axis, a in machine.axes.items()},
            homing_clears_shift=machine.work_zero.word == "G92",
            sets_here=machine.work_zero.word == "G10 L20",
            end_keeps_shift=bool(machine.work_zero.kept_after_end),
            stops=frozenset({int(machine.pause.word[1:])}),
            outputs={int(word[1:]): what for word, what in machine.outputs.items()},
        )


STANDARD = Dialect()
