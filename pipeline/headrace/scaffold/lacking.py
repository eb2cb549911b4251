"""What a machine does not read, in words for a comment."""

from __future__ import annotations

from collections.abc import Iterator

from headrace.machine import Machine

_CYCLES = 9
"""The drilling cycles of RS274/NGC 3.5.16: G81 to G89."""


def lacking_words(machine: Machine) -> Iterator[str]:
    """Each thing that jobs may use, and that the description denies the machine."""
    arcs = machine.arcs
    if not (arcs.centre or arcs.radius):
        yield "arcs"
    else:
        if not arcs.centre:
            yield "arcs by centre"
        if not arcs.radius:
            yield "arcs by radius"
        if not arcs.helix:
            yield "helices"
        if not arcs.full_circles:
            yield "full circles in one move"
        if len(arcs.planes) < 3:
            yield "arcs in some planes"
    if machine.cycles is not None and len(machine.cycles) < _CYCLES:
        yield "some drilling cycles" if machine.cycles else "drilling cycles"
    if "inch" not in machine.units:
        yield "inches"
    if "mm" not in machine.units:
        yield "millimetres"
    if "increments" not in machine.distances:
        yield "increments"
    if "absolute" not in machine.distances:
        yield "absolute places"
    if machine.decimals is not None:
        yield f"more than {machine.decimals} decimals"
    if not machine.work_zero.systems:
        yield "work offset systems"
    if not machine.parameters:
        yield "expressions"
    if not machine.subprograms:
        yield "subprograms"
    if machine.spindle.numbers:
        yield "S as a speed"
    if machine.rapid_feed == "word":
        yield "rapids without F"
