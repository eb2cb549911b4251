"""What a person at a router minds before, while and after a file runs.

Our own wording of what workshop rules and safety guides have in common (common practice). It
claims no safety: it is read by a trained person, beside the rules that bind that person.
"""

from __future__ import annotations

from dataclasses import dataclass

FIRST = (
    "This page is a proposal for a trained person to check. You decide whether to start, and you"
    " stay able to stop the machine for as long as it runs."
)
"""Stands at the top of the page."""

ABOVE = (
    "Local codes, licensed practice, the machine maker's instructions and your insurer's terms come"
    " first, whatever this page says. Fixed wiring, spindle drives and emergency-stop circuits are"
    " work for a qualified electrician. Where a part carries load, pressure, food or people, ask a"
    " licensed professional."
)
"""Stands above the cautions."""


@dataclass(frozen=True, slots=True)
class Cautions:
    """Cautions that belong together: when they are due, and what they are."""

    when: str
    said: tuple[str, ...]


CAUTIONS = (
    Cautions(
        "Before",
        (
            "Emergency stop within reach and tried today. Guards, extraction and interlocks in"
            " place and working; none of them is switched off to make a job run.",
            "Glasses on, ears covered, dust taken away at the bit. A mask as well for emptying and"
            " for sweeping: the dust that has settled is the fine one.",
            "No gloves, loose sleeves, strings, jewellery or open hair where something turns.",
            "Spindle at rest and its power cut off, plug pulled or isolator locked, before hands,"
            " wrenches, plate or clip come near the bit. A number on a display cuts off nothing.",
            "The sheet lies flat and is held so that no part can come loose and be thrown. No"
            " screw, nail or clamp lies where the bit goes.",
            "The bit is sharp, whole and clean, and its mark allows the speed. What the maker of"
            " the bit says goes before any figure on this page.",
            "An extinguisher that suits the material within reach, and a way out behind you.",
            "Try each new file above the bed before it cuts, without a bit, only where it does not"
            " touch off: without a bit a touch finds no plate, and the head goes on down to the end"
            " of its way. Never try a file that touches off like that.",
        ),
    ),
    Cautions(
        "While it runs",
        (
            "Stay beside it, watch and listen. Never leave a running machine.",
            "A feed hold is no stop for hands: the spindle goes on turning. After it is switched"
            " off it still turns for a while.",
            "Never hold a part by hand. Reach in only when everything stands still.",
            "Smoke, a glow, squealing: stop the feed, then the spindle. Do not blow on it. Find out"
            " where the heat came from before anything goes on.",
            "After an emergency stop or a power cut the place is lost: home again and touch off"
            " again. Nothing may start by itself when the power comes back.",
        ),
    ),
    Cautions(
        "After",
        (
            "Wait until the bit stands still. Edges, chips and bit may be hot and sharp.",
            "An ember can lie in chips and bags for hours: empty them outdoors into metal, and look"
            " again an hour later, and once more after that.",
            "Wood dust and aluminium dust never go into the same collector. Fine dust can explode:"
            " take it up, do not blow it about.",
            "Measure the first part before the next sheet goes on.",
        ),
    ),
)

UNSEEN = (
    "headrace knows only what the description says. A clamp that moved, another bit, a sheet that"
    " is loose or of another thickness, a lead that fell off: it cannot see them. A file without"
    " findings can still strike something. “Clip off” and “spindle off” are what somebody confirmed"
    " by going on, not what was measured."
)
"""Stands below the cautions."""
