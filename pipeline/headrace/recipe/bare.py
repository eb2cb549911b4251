"""The plan of no machine: words read by the standard, nothing described."""

from __future__ import annotations

from pathlib import Path

from headrace.machine import Assumed, Machine, Setup
from headrace.recipe.plan import Plan, Values

_ENDLESS = 1e9
"""No axis ends, and none is slower than what a file asks for (mm, mm/min)."""


def bare_plan(units: str | None) -> Plan:
    """The plan, `units` being those of files that state none. Its machine stands for none: what
    would follow from travel, rapids or switches must not be told."""
    axis = {
        "travel": [-_ENDLESS, _ENDLESS],
        "home-end": "high",
        "homed-number": 0,
        "rapid": _ENDLESS,
        "feed": _ENDLESS,
    }
    machine = {
        "name": "no machine",
        "axes": {"x": axis, "y": axis, "z": axis},
        "homing": {"by": "by-hand"},
        "work-zero": {"word": "G92", "systems": []},
        "spindle": {"control": "speed", "range": [0, _ENDLESS], "run-up": 0, "run-down": 0},
        "pause": {},
        "dwell": "seconds",
        "comments": "both",
        "parameters": True,
        "subprograms": True,
    }
    return Plan(
        recipe=Path(),
        name="no machine",
        description="",
        machine=Machine.of(machine),
        setup=Setup.of({}),
        steps=(),
        card_files=(),
        assumed=Assumed(units=units),
        python_files=(),
        sources=(),
        values=Values({}, {}, {}),
        alone=True,
    )
