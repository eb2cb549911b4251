"""Straight moves, arcs, probing and going home (section 3.5)."""

from __future__ import annotations

import math

from reference.arcs import PLANE_AXES, TOLERANCE, centre_form, radius_form
from reference.block import Block
from reference.fault import ReferenceError_
from reference.recorder import SAME, Recorder
from reference.state import PARAMETER_BASE

_OFFSETS = {0: "i", 1: "j", 2: "k"}
_PROBE_MINIMUM = 0.254  # mm; 0.01 inch is the same length (section 3.5.9.1)


def go_straight(tape: Recorder, block: Block, motion: str) -> None:
    """Sections 3.5.1, 3.5.2 and 3.5.12."""
    state = tape.state
    end, machine_end = tape.target(block)
    if block.codes.get("once") == "G53":
        if state.distance == 91:
            raise ReferenceError_("g53-incremental", block.at("once"))
        absolute = list(state.machine)
        for i, number in block.axes.items():
            absolute[i] = state.measure(i, number)
        machine_end = tuple(absolute)
        end = tuple(m - s for m, s in zip(machine_end, state.shift, strict=True))
    if motion == "G0":
        tape.straight("rapid", end, machine_end)
        return
    feed, unit = tape.feed_to(block, end)
    tape.straight("feed", end, machine_end, feed=feed, feed_unit=unit)


def go_round(tape: Recorder, block: Block, motion: str) -> None:
    """Section 3.5.3. Refusing mixed forms and strange offset words is from memory."""
    state = tape.state
    first, second, third = PLANE_AXES[state.plane]
    written = {i for i, letter in _OFFSETS.items() if letter in block.numbers}
    if "r" in block.numbers and written:
        raise ReferenceError_("arc-mixed", block.at("r"))
    if third in written:
        raise ReferenceError_("arc-wrong-offset", block.at(_OFFSETS[third]))
    if first not in block.axes and second not in block.axes:
        raise ReferenceError_("arc-no-axis", block.at("motion"))
    incomplete = len(written) < 2 if state.absolute_centres else not written
    if "r" not in block.numbers and incomplete:
        raise ReferenceError_("arc-no-centre", block.at("motion"))
    end, machine_end = tape.target(block)
    a = (state.program[first], state.program[second])
    b = (end[first], end[second])
    clockwise = motion == "G2"
    tolerance = TOLERANCE[state.units]
    if "r" in block.numbers:
        radius = block.numbers["r"] * state.scale
        arc = radius_form(
            a, b, radius, clockwise=clockwise, tolerance=tolerance, column=block.at("r")
        )
    else:
        column = block.at(_OFFSETS[min(written)])
        offset = [block.numbers.get(_OFFSETS[i], 0.0) * state.scale for i in (first, second)]
        base = (0.0, 0.0) if state.absolute_centres else a
        centre = (base[0] + offset[0], base[1] + offset[1])
        arc = centre_form(a, b, centre, clockwise=clockwise, tolerance=tolerance, column=column)
    feed, unit = tape.feed_to(block, end)
    kind = "cw" if clockwise else "ccw"
    tape.straight(kind, end, machine_end, feed=feed, feed_unit=unit, arc=arc)


def probe(tape: Recorder, block: Block) -> None:
    """Section 3.5.9.1. As far as the file knows, the move goes all the way."""
    state = tape.state
    column = block.at("motion")
    if not any(i < 3 for i in block.axes):
        raise ReferenceError_("probe-no-axis", column)
    if state.feed_mode == 93:
        raise ReferenceError_("probe-inverse", column)
    end, machine_end = tape.target(block)
    if any(abs(a - b) > SAME for a, b in zip(state.program[3:], end[3:], strict=True)):
        raise ReferenceError_("probe-rotary", column)
    if state.spindle != "off":
        raise ReferenceError_("probe-spindle-on", column)
    if state.feed == 0:
        raise ReferenceError_("probe-zero-feed", column)
    if math.dist(state.program[:3], end[:3]) < _PROBE_MINIMUM - SAME:
        raise ReferenceError_("probe-too-close", column)
    tape.straight("probe", end, machine_end, feed=state.feed * state.scale, feed_unit="mm/min")
    for i in range(6):
        state.parameters[PARAMETER_BASE["probe"] + i] = state.written(i, end[i])


def go_home(tape: Recorder, block: Block, code: str) -> None:
    """Section 3.5.8: through the programmed point, if there is one, to the stored one."""
    if block.axes:
        tape.straight("rapid", *tape.target(block))
    home = tape.state.stored(PARAMETER_BASE[code])
    shift = tape.state.shift
    tape.straight("rapid", tuple(h - s for h, s in zip(home, shift, strict=True)), home)
