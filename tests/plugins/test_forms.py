"""What a machine does not read, and what it reads in another sense: told before the card is
written, each with the step that mends it."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from plugins.shop import job, through

from headrace import Finding
from headrace.machine import Assumed
from headrace.rehearsal.words import wording_findings

HEAD = "G21 G90 G94 G17\nG0 X0. Y0. Z5.\nG1 Z-1. F100.\n"
HELIX = "G2 X2. I1. Z-2.\n"


def told(lines: str, changes: dict[str, Any], assumed: Assumed | None = None) -> list[Finding]:
    source = job(HEAD + lines + "M30\n", "speed", changes=changes, assumed=assumed)
    names = ("word-unknown-here", "dialect-left")
    return [finding for finding in wording_findings(source) if finding.name in names]


LACKING = [
    ("no arcs", {"arcs/forms": []}, "G2 X2. R1.\n", "at all", "arcs-to-lines"),
    (
        "no centres",
        {"arcs/forms": ["radius"]},
        "G2 X2. R1.\nG2 X4. I1.\n",
        "centre",
        "arcs-to-lines",
    ),
    ("no radii", {"arcs/forms": ["centre"]}, "G2 X2. I1.\nG2 X4. R1.\n", "radius", "arcs-to-lines"),
    ("a plane", {"arcs/planes": ["G17"]}, "G2 X2. I1.\nG18 G2 X4. I1.\n", "G18", "arcs-to-lines"),
    (
        "no helix",
        {"arcs/helix": False},
        "G2 X2. I1.\nG2 X4. I1. Z-2.\n",
        "leave their plane",
        "arcs-to-lines",
    ),
    (
        "no circle",
        {"arcs/full-circles": False},
        "G2 X2. I1.\nG2 X2. I1.\n",
        "where they begin",
        "arcs-to-lines",
    ),
    ("no inch", {"units": ["mm"]}, "G0 X1.\nG20\n", "inch", "units"),
    ("no increments", {"distances": ["absolute"]}, "G0 X1.\nG91\n", "increments", "absolute"),
    ("places", {"decimals": 3}, "G0 X1.123\nG0 X1.1234\n", "3 places", "decimals"),
    (
        "places of an odd line",
        {"decimals": 2},
        "G0 X1.12\nG0 X - 1.1 23 (A)\n",
        "2 places",
        "decimals",
    ),
    ("points", {"decimal-point": "required"}, "G0 X1.\nG0 X1. Y2\n", "without a point", "decimals"),
    ("slashes", {"optional-lines": "refused"}, "G0 X1. (/)\n/G0 X2.\n", "slash", "optional-lines"),
]


@pytest.mark.parametrize(
    ("changes", "lines", "what", "step"), [row[1:] for row in LACKING], ids=[r[0] for r in LACKING]
)
def test_what_the_machine_does_not_read(
    changes: dict[str, Any], lines: str, what: str, step: str
) -> None:
    """The last of the lines is the one; without the field in the machine file all are read."""
    (finding,) = told(lines, changes)
    assert finding.name == "word-unknown-here"
    assert finding.place is not None
    assert finding.place.line == HEAD.count("\n") + lines.count("\n")
    assert what in finding.what
    assert f"`{step}`" in str(finding.remedy)
    assert told(lines, {}) == []


def test_codes_are_no_numbers_with_places() -> None:
    lines = "G0 X1.5\nG59.1\nG91.1\n"
    found = told(lines, {"decimals": 0, "modes": ["G91.1", "G59.1"]})
    assert [finding.place and finding.place.line for finding in found] == [2 + 2]


def test_what_stands_behind_the_end_is_not_looked_at() -> None:
    changes = {"decimals": 3, "units": ["mm"], "decimal-point": "required"}
    source = job(HEAD + "M30\nG20 X1.23456\nX1\n", "speed", changes=changes)
    assert not [f for f in wording_findings(source) if f.name == "word-unknown-here"]


MEANT = [
    ("dwell", "G4 P2.\n", {}, Assumed(dwell="milliseconds"), "seconds"),
    (
        "speeds",
        "G0 X1.\nS9000\n",
        {"spindle/numbers": [[0, 0], [255, 24000]]},
        Assumed(),
        "numbers",
    ),
    ("centres", "G2 X2. R1.\nG2 X4. I1.\n", {"arcs/centres": "absolute"}, Assumed(), "places"),
    ("centres of the job", "G2 X2. I1. J0.\n", {}, Assumed(centres="absolute"), "begins"),
    (
        "helix",
        "G2 X2. I1.\n" + HELIX.replace("X2", "X4"),
        {"arcs/feed": "projection"},
        Assumed(),
        "seen of it",
    ),
    (
        "left out",
        "G0 X1.\n/G0 X2.\n",
        {"optional-lines": "run"},
        Assumed(optional_lines="leave-out"),
        "run",
    ),
    (
        "run",
        "G0 X1.\n/G0 X2.\n",
        {"optional-lines": "left-out"},
        Assumed(optional_lines="run"),
        "left out",
    ),
]


@pytest.mark.parametrize(
    ("lines", "changes", "assumed", "what"), [row[1:] for row in MEANT], ids=[r[0] for r in MEANT]
)
def test_what_is_read_in_another_sense(
    lines: str, changes: dict[str, Any], assumed: Assumed, what: str
) -> None:
    (finding,) = told(lines, changes, assumed)
    assert finding.name == "dialect-left"
    assert finding.place is not None
    assert finding.place.line == HEAD.count("\n") + lines.count("\n")
    assert what in finding.what
    assert "`adapt`" in str(finding.remedy)
    assert told("G0 X1.\n", changes, assumed) == [], "what is not used does no harm"
    assert told(lines, changes) == [], "a file in the machine's own language"


def test_centres_that_a_word_settles() -> None:
    changes = {"arcs/centres": "absolute", "modes": ["G91.1"]}
    assert told("G91.1\nG2 X2. I1.\n", changes, Assumed()) == []


def test_the_steps_mend_it() -> None:
    changes = {"spindle/numbers": [[0, 0], [255, 24000]]}
    assumed = Assumed(dwell="milliseconds")
    source = job(HEAD + "M3 S9000\nG4 P5000\nM5\nM30\n", "speed", changes=changes, assumed=assumed)
    assert len([f for f in wording_findings(source) if f.name == "dialect-left"]) == 2
    done = through(source, "dwell-unit", "spindle-scale")
    assert not [f for f in wording_findings(done) if f.name == "dialect-left"]


def test_the_first_of_many_numbers() -> None:
    """Against NumPy's own rounding: in columns, and among lines that no column holds."""
    rng = np.random.default_rng(5)
    numbers = [
        f"{value:.{places}f}"
        for value, places in zip(
            rng.uniform(-9, 9, 9000), rng.choice([0, 1, 2, 3], 9000), strict=True
        )
    ]
    numbers[7000:7000] = ["1.2345"]
    lines = [f"X{number}" if at % 50 else f"X {number} (A)" for at, number in enumerate(numbers)]
    (finding,) = told("G1\n" + "\n".join(lines) + "\n", {"decimals": 3})
    rounded = np.round([float(number) for number in numbers], 3)
    first = int(np.argmax(rounded != np.array([float(number) for number in numbers])))
    assert finding.place is not None
    assert finding.place.line == HEAD.count("\n") + 2 + first
