"""The heights of touching off, and what must hold for them. All in mm, mm/min and s."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from headrace import Heights, Machine, Setup, needed
from headrace_transforms.framing.travel import NEAR, require_inside
from headrace_transforms.telling.refusing import refusal
from headrace_transforms.telling.wording import mm

LEAST_WAY = 0.254
"""A controller refuses a probe that starts nearer to its aim than this (RS274/NGC 3.5.9.1)."""

SPARE = 0.5
"""Backing off must clear the overrun by this much (common practice)."""


def _length(description: str, default: float, most: float = 200) -> dict[str, Any]:
    return {
        "type": "number",
        "description": f"{description}; mm.",
        "exclusiveMinimum": 0,
        "maximum": most,
        "default": default,
    }


def _feed(description: str, example: float) -> dict[str, Any]:
    return {
        "type": "number",
        "description": f"{description}; mm/min. When left out, as the machine says.",
        "exclusiveMinimum": 0,
        "examples": [example],
    }


OPTIONS: dict[str, dict[str, Any]] = {
    "gap": _length("Air that the rapid leaves above the highest possible plate", 3),
    "back-off": _length("How far to go up again between the two touches", 2, 50),
    "over-travel": _length("How far below the lowest possible touch the probe aims", 3, 50),
    "retract": _length("How far above the plate to wait for it to be taken away", 15),
    "quick": _feed("Feed of the first touch", 120),
    "slow": _feed("Feed of the second touch, which counts", 30),
}
"""The options of a step that touches."""


@dataclass(frozen=True, slots=True)
class Touch:
    """How the plate is touched. Heights are machine coordinates, but for those above the plate."""

    approach: float
    aim: float
    plate: float
    back_off: float
    over_travel: float
    retract: float
    quick: float
    slow: float


def overrun(feed: float, acceleration: float, reaction: float) -> float:
    """How far (mm) an axis runs on behind a contact: v^2 / 2a + v t, from elementary mechanics.

    `feed` in mm/min, `acceleration` in mm/s^2, `reaction` in s.

    >>> round(overrun(500, 250, 0.01), 3)
    0.222
    """
    speed = feed / 60.0
    return speed * speed / (2.0 * acceleration) + speed * reaction


def touch_of(
    machine: Machine,
    setup: Setup,
    purpose: str,
    *,
    gap: float,
    back_off: float,
    over_travel: float,
    retract: float,
    quick: float | None,
    slow: float | None,
) -> Touch:
    """The heights for this machine and set-up; JobRefused where they do not hold."""
    probe = needed(machine.probe, "machine.probe", purpose)
    plate = needed(setup.plate.thickness, "setup.plate.thickness", purpose)
    touch = Heights.of(machine, setup, purpose).touch
    top = machine.axes["z"].high
    found = Touch(
        approach=top - touch.least + gap,
        aim=top - touch.most - over_travel,
        plate=plate,
        back_off=back_off,
        over_travel=over_travel,
        retract=retract,
        quick=probe.quick if quick is None else quick,
        slow=probe.slow if slow is None else slow,
    )
    room = touch.least - machine.margin
    stick_out = setup.field(setup.tool, "stick-out")
    for what, option, height in (
        ("the approach", "gap", gap),
        ("backing off", "back-off", back_off),
        ("the retract", "retract", retract),
    ):
        _require_room(what, option, height, room, stick_out)
    _require_clear(setup, found)
    fields = f"machine.bed, {stick_out}, setup.sheet.thickness or over-travel"
    require_inside(machine, "Z", found.aim, "the lowest aim of the probe", fields)
    for way in (found.approach - found.aim, back_off + over_travel):
        if way < LEAST_WAY:
            raise refusal(
                "probe-way-short",
                f"a probe over {mm(way)} mm; {LEAST_WAY} mm is the least",
                remedy="give more `gap`, `back-off` or `over-travel`",
            )
    _require_feeds(machine, found, probe.reaction, purpose)
    return found


def _require_room(what: str, option: str, height: float, room: float, stick_out: str) -> None:
    if height > room + NEAR:
        raise refusal(
            "touch-out-of-travel",
            f"{what} of {mm(height)} mm above the highest possible touch leaves the travel;"
            f" there is room for {mm(max(room, 0.0))}",
            remedy=f"`{option}` may be {mm(room)} at the most"
            if room > 0
            else "the highest possible touch is out of reach: see machine.bed,"
            f" {stick_out}, setup.sheet.thickness and setup.plate.thickness",
        )


def _require_clear(setup: Setup, touch: Touch) -> None:
    """From where the plate is taken away the job may go sideways at once."""
    safe, height = setup.safe_height, touch.plate + touch.retract
    if safe is not None and height < safe - NEAR:
        raise refusal(
            "retract-too-low",
            f"the retract leaves the tip {mm(height)} mm above the sheet, {mm(safe - height)} mm"
            " below the safe height",
            remedy=f"give `retract` at least {mm(safe - touch.plate)}",
        )


def _require_feeds(machine: Machine, touch: Touch, reaction: float, purpose: str) -> None:
    axis = machine.axes["z"]
    if touch.slow > touch.quick:
        raise refusal(
            "probe-feeds",
            f"the slow touch ({mm(touch.slow)}) is faster than the quick one ({mm(touch.quick)})",
            remedy=f"give `slow` at most {mm(touch.quick)}",
        )
    if touch.quick > axis.feed:
        raise refusal(
            "probe-feeds",
            f"a touch at {mm(touch.quick)} mm/min; Z cuts at {mm(axis.feed)} at the most",
            remedy=f"give `quick` at most {mm(axis.feed)}",
        )
    acceleration = needed(axis.acceleration, "machine.axes.z.acceleration", purpose)
    run = overrun(touch.quick, acceleration, reaction)
    for option, room in (("over-travel", touch.over_travel), ("back-off", touch.back_off - SPARE)):
        if run >= room:
            raise refusal(
                "probe-overrun",
                f"a touch at {mm(touch.quick)} mm/min runs on for {mm(run)} mm; `{option}` leaves"
                f" room for {mm(max(room, 0.0))}",
                remedy=f"give a slower `quick`, or `{option}` above"
                f" {mm(run + (SPARE if option == 'back-off' else 0.0))}",
            )
