"""What an editor tells of the place under the pointer: what it means, its unit, its bounds, and
what holds where it is left out.

Outside reference: a YAML language server, with the schemas that lie beside the recipes.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from editor.mistakes import BENCH, LIDS, SETUP
from editor.server import Document, Server

PLACES = [
    # the file, where the pointer is (in the only place with these words), what is told
    (LIDS, "format:", "", ["What kind of file this is."]),
    (LIDS, "name: Lids", "", ["What the recipe is called; text."]),
    (LIDS, "machine:", "", ["The file that describes the machine.", "bench-hand-switched.yaml"]),
    (LIDS, "setup:", "", ["or the set-up itself"]),
    (LIDS, "steps:", "", ["What is done to every job, in this order."]),
    (LIDS, "- adapt", "adapt", ["Take just those steps", "G81 X1 Z-.2 R.1 F20"]),
    (LIDS, "- home", "home", ["Home the machine before the job"]),
    (LIDS, "rereference-z", "", ["so that a probe may aim at the plate"]),
    (LIDS, "{margin", "margin", ["; mm.", "More than 0, at most 100.", "If left out: `2`."]),
    (LIDS, "touch-off", "", ["Touch the plate twice", "```text\nG0 Z5         ->        G90\n"]),
    (LIDS, "gap: 3", "", ["above the highest possible plate; mm.", "If left out: `3`."]),
    (LIDS, "back-off: 2", "", ["; mm.", "If left out: `2`."]),
    (LIDS, "retract: 15", "", ["; mm.", "If left out: `15`."]),
    (LIDS, "at: start", "", ["Where the machine waits", "* `first-cut`"]),
    (LIDS, "speed: 17000", "", ["; rev/min."]),
    (LIDS, "missing: start", "start", ["refuse it, or start the spindle", "* `refuse`"]),
    (LIDS, "width: 20", "", ["characters"]),
    (LIDS, "remove: true", "", ["true or false", "If left out: `false`."]),
    ("swarm-warning.yaml", "swarm-warning: {", "", ["Ask for the observation hive's shutter"]),
    ("swarm-warning.yaml", "{text:", "text", ["asked.", "If left out: `HIVE SHUTTER CLOSED?`."]),
    (BENCH, "bed: 108", "", ["down to the spoilboard; mm.", "More than 0, at most 2000."]),
    (BENCH, "x: {travel", "x", ["The axis along the gantry."]),
    (BENCH, "{travel: [-85", "travel", ["both ends of travel, the lower one first; mm."]),
    (BENCH, "rapid: 1500", "", ["The fastest that the axis goes in a rapid; mm/min."]),
    (BENCH, "acceleration: 100", "", ["How fast it gains and loses speed; mm/s2."]),
    (BENCH, "rapids:", "", ["straight, or each axis at its own speed", "* `each-axis`"]),
    (BENCH, "deviation:", "", ["; mm.", "More than 0, at most 10."]),
    (BENCH, "look-ahead:", "", ["a whole number"]),
    (BENCH, "  word: G28 ", "word", ["The G code that runs to the homing switches"]),
    (BENCH, "run-up: 2", "", ["until it is at speed; s."]),
    (BENCH, "control: by-hand", "", ["relay: M3 and M5 switch it at one speed"]),
    (BENCH, "quick: 120", "", ["The feed of the first touch; mm/min."]),
    (BENCH, "lowest-target: 0", "", ["lets a probe aim at; mm."]),
    (BENCH, "dwell: milliseconds", "", ["What the P of a dwell (G4) counts.", "* `seconds`"]),
    (BENCH, "names: short", "", ["eight characters, a point and three"]),
    (SETUP, "thickness: {", "thickness", ["a number, or the least and the most of it; mm."]),
    (SETUP, "{least: 17.6", "least", ["The least that was measured; mm."]),
    (SETUP, "thickness: 12.02", "", ["Its thickness in the middle, by micrometer; mm."]),
    (SETUP, "stick-out:", "", ["From the face of the collet to the tip"]),
    (SETUP, "safe-height:", "", ["at which the head may go anywhere; mm."]),
    (SETUP, "{name: left, from", "from", ["Its lower left corner", "; mm."]),
    (SETUP, "to: [20, 270], top", "top", ["How far it stands up above the sheet; mm."]),
]


@pytest.fixture(scope="session")
def opened(server: Server, gallery: Path) -> Callable[[str], Document]:
    found: dict[str, Document] = {}

    def once(name: str) -> Document:
        if name not in found:
            found[name] = server.open(gallery / name)
        return found[name]

    return once


@pytest.mark.parametrize(
    ("file", "words", "on", "told"), PLACES, ids=lambda value: value if value else "there"
)
def test_hover_tells_what_it_is(
    file: str, words: str, on: str, told: list[str], opened: Callable[[str], Document]
) -> None:
    shown = opened(file).hover(words, on or words.strip())

    for each in told:
        assert each in shown
    assert "Source: [" in shown, "the server's own last line"


def test_hover_begins_with_what_the_key_means(opened: Callable[[str], Document]) -> None:
    """No heading that says nothing, and paragraphs are not torn where the source has line ends."""
    shown = opened(LIDS).hover("touch-off")

    assert shown.startswith("Touch the plate twice and set Z zero on the top of the sheet.\n\n")
    assert "comes down to `gap` above the highest place where the plate may be" in shown
