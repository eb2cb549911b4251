"""Dwells, in what the machine's P counts."""

from __future__ import annotations

from math import ceil

from headrace import Machine, number_text


def dwell_lines(machine: Machine, seconds: float) -> tuple[str, ...]:
    """A dwell of at least `seconds` (s); no line where there is nothing to wait for."""
    if seconds <= 0:
        return ()
    if machine.dwell_unit == "milliseconds":
        return (f"G4 P{ceil(seconds * 1000 - 1e-6)}",)
    return (f"G4 P{number_text(ceil(seconds * 1000 - 1e-6) / 1000, 3)}",)
