"""The numbers of a canned cycle's line, gathered and checked (section 3.5.16)."""

from __future__ import annotations

from reference.arcs import PLANE_AXES
from reference.arithmetic import whole
from reference.block import Block
from reference.cycles import Cycle, Do, unroll
from reference.fault import ReferenceError_
from reference.recorder import SAME, Recorder
from reference.state import AXES

_OFFSETS = {0: "i", 1: "j", 2: "k"}


def drill(tape: Recorder, block: Block, code: str) -> None:
    """Section 3.5.16: gather the numbers of a cycle, check them, and run it."""
    cycle = _gather(tape, block, code)
    shift = tape.state.shift
    plane = PLANE_AXES[cycle.plane]
    for step in unroll(cycle):
        if isinstance(step, Do):
            if step.kind == "spindle":
                tape.turn_spindle(str(step.data))
            else:
                tape.happen(step.kind, step.data)
            continue
        machine_end = list(tape.state.machine)
        for i in plane:
            machine_end[i] = step.end[i] + shift[i]
        feed, unit = (None, None) if step.kind == "rapid" else tape.feed_to(block, step.end)
        tape.straight(
            step.kind, step.end, tuple(machine_end), feed=feed, feed_unit=unit, cycle=code
        )


def _gather(tape: Recorder, block: Block, code: str) -> Cycle:
    state = tape.state
    column = block.at("motion")
    first, second, depth = PLANE_AXES[state.plane]
    if not any(i < 3 for i in block.axes):
        raise ReferenceError_("cycle-no-axis", column)
    if state.feed_mode == 93:
        raise ReferenceError_("cycle-inverse", column)
    now = state.program
    end, _ = tape.target(block)
    if any(abs(a - b) > SAME for a, b in zip(now[3:], end[3:], strict=True)):
        raise ReferenceError_("cycle-rotary", column)
    sticky = _sticky(tape, block, code, AXES[depth])
    incremental = state.distance == 91
    r = sticky["r"] * state.scale + (now[depth] if incremental else 0.0)
    bottom = sticky[AXES[depth]] * state.scale + (r if incremental else 0.0)
    repeats = whole(block.numbers.get("l", 1.0))
    if repeats is None or repeats < 1:
        raise ReferenceError_("cycle-l-bad", block.at("l"))
    if r < bottom:
        raise ReferenceError_("cycle-r-below-depth", block.at("r", "motion"))
    if code == "G84" and state.spindle != "cw":
        raise ReferenceError_("tap-spindle", column)
    if code in ("G86", "G87", "G88") and state.spindle == "off":
        raise ReferenceError_("bore-spindle", column)
    if state.feed == 0:
        raise ReferenceError_("feed-missing", block.at("f", "motion"))
    clear = max(r, now[depth]) if state.retract == 98 else r
    back = sticky.get(_OFFSETS[depth], 0.0) * state.scale
    step = (end[first] - now[first], end[second] - now[second])
    return Cycle(
        code=code,
        plane=state.plane,
        start=now,
        hole=(end[first], end[second]),
        step=step if incremental else (0.0, 0.0),
        repeats=repeats,
        r=r,
        bottom=bottom,
        clear=clear,
        path=state.path,
        spindle=state.spindle,
        dwell=sticky.get("p", 0.0),
        peck=sticky.get("q", 0.0) * state.scale,
        peck_clearance=tape.options.peck_clearance,
        aside=(
            sticky.get(_OFFSETS[first], 0.0) * state.scale,
            sticky.get(_OFFSETS[second], 0.0) * state.scale,
        ),
        back=back + (bottom if incremental else 0.0),
    )


def _sticky(tape: Recorder, block: Block, code: str, depth: str) -> dict[str, float]:
    """Numbers that stay while the same cycle goes on, as written, with the line's own.

    The report keeps R, the depth and (by its samples) P; that Q, I, J and K stay too is
    from memory. A change of cycle or of plane begins afresh: R is then required again.
    """
    state = tape.state
    column = block.at("motion")
    if state.motion != code or state.sticky_plane != state.plane:
        state.sticky = {}
    state.sticky_plane = state.plane
    needed = {"r": "cycle-no-r", depth: "cycle-no-depth"}
    if code in ("G82", "G86", "G88", "G89"):
        needed["p"] = "cycle-p-missing"
    if code == "G83":
        needed["q"] = "cycle-q-bad"
    if code == "G87":
        needed.update(dict.fromkeys("ijk", "cycle-ijk-missing"))
    for letter, kind in needed.items():
        if letter in block.numbers:
            state.sticky[letter] = block.numbers[letter]
        elif letter not in state.sticky:
            raise ReferenceError_(kind, column)
    if state.sticky.get("p", 0.0) < 0:
        raise ReferenceError_("cycle-p-negative", block.at("p"))
    if state.sticky.get("q", 1.0) <= 0:
        raise ReferenceError_("cycle-q-bad", block.at("q"))
    return state.sticky
