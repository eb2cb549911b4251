"""A workshop on disk for the tests: a recipe, its machine and set-up, steps of its own, and jobs.

The steps are a Python file beside the recipe, so that these tests need no bundled transform.
"""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

os.environ.setdefault("HEADRACE_PYTHON", "any")
"""Its steps run unasked, also where no test runner has seen to that."""

STEPS = '''\
"""Steps of the workshop's own."""

from headrace import before, delete, hookimpl, replace, transform, Facet


@transform(
    "heading",
    changes=[Facet.COMMENTS],
    options={"text": {"type": "string", "description": "The text.", "default": "HIVE PART"}},
)
def heading(job, *, text):
    """Put a comment first.

    It stands above the whole program.
    """
    yield before(0, f"({text})")


@transform("capitals", changes=[Facet.COMMENTS])
def capitals(job):
    """Write comments in capitals."""
    for index in job.program.lines_with_comments():
        text = job.program[int(index)].text
        if text != text.upper():
            yield replace(int(index), text.upper())


@transform("no-blanks", changes=[Facet.COMMENTS])
def no_blanks(job):
    """Take blank lines out."""
    for line in job.program:
        if not line.text.strip():
            yield delete(line.index)


@transform("sting", changes=[])
def sting(job):
    """Fail on jobs that tell of bees."""
    if b"BEES" in job.program.to_bytes():
        raise ZeroDivisionError("stung")
    return ()


@transform("creep", changes=[])
def creep(job):
    """Move a millimetre, which it does not declare."""
    yield before(job.landmarks.end, "G1 X1 F100")


@hookimpl
def headrace_transforms():
    return heading, capitals, no_blanks, sting, creep
'''

MACHINE = """\
format: headrace-machine/1
name: Bench machine
axes:
  x: {travel: [0, 600], home-end: low, homed-number: 0, rapid: 3000, feed: 2000}
  y: {travel: [0, 600], home-end: low, homed-number: 0, rapid: 3000, feed: 2000}
  z: {travel: [-90, 0], home-end: high, homed-number: 0, rapid: 1000, feed: 600}
bed: 120
homing: {by: word, word: G28}
machine-moves: true
work-zero: {word: G92}
spindle: {control: relay, range: [18000, 18000], run-up: 0, run-down: 10}
pause: {word: M0, text: same-line, width: 32}
dwell: seconds
comments: parentheses
card: {names: NAMES, extension: EXTENSION}
"""

RECIPE = """\
format: headrace-recipe/2
name: Plain text
machine: machine.yaml
setup: {format: headrace-setup/1, sheet: {thickness: 18, corner: [10, 10], size: [500, 400]}, \
tool: {stick-out: 30, diameter: 6, flute: 20}, clamps: []}
python: [hive_steps.py]
assume: {units: mm}
CARD-FILES
steps:
STEPS
"""

CARD_FILES = """\
card-files:
  - name: FIRST
    title: Before anything else
    steps: [heading]
"""

LID = """\
(hive lid)
G21 G90 G94
M3 S18000

G0 Z5
G1 Z-1 F300
G1 X40 F900
G0 Z5
M5
M30
"""

REFUSED = "G21\nG1 X1 F100 Q\nM30\n"
"""A letter without a number."""


@dataclass(frozen=True)
class Workshop:
    """Folders below `root`: recipes, jobs and card."""

    root: Path

    @property
    def recipe(self) -> Path:
        return self.root / "recipes" / "plain.yaml"

    @property
    def jobs(self) -> Path:
        return self.root / "jobs"

    @property
    def card(self) -> Path:
        return self.root / "card"

    def job(self, name: str, text: str | bytes = LID) -> Path:
        """A job file of this name."""
        path = self.jobs / name
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return path

    def on_card(self) -> dict[str, bytes]:
        """Everything in the card folder by its name."""
        return {path.name: path.read_bytes() for path in sorted(self.card.iterdir())}

    def run(
        self, *args: str | Path, environment: Mapping[str, str] | None = None
    ) -> subprocess.CompletedProcess[bytes]:
        """The command in a process of its own, in the workshop's folder."""
        return subprocess.run(
            [sys.executable, "-m", "headrace", *map(str, args)],
            cwd=self.root,
            env={**os.environ, **(environment or {})},
            capture_output=True,
            check=False,
            timeout=120,
        )


def set_up(
    root: Path,
    steps: Sequence[str] = ("heading: {text: LIDS}", "capitals", "no-blanks"),
    card_files: bool = False,
    names: str = "short",
    extension: str = "NC",
) -> Workshop:
    """A workshop in an empty folder."""
    workshop = Workshop(root)
    for folder in (workshop.recipe.parent, workshop.jobs, workshop.card):
        folder.mkdir(parents=True)
    machine = MACHINE.replace("NAMES", names).replace("EXTENSION", extension)
    recipe = RECIPE.replace("CARD-FILES", CARD_FILES if card_files else "")
    recipe = recipe.replace("STEPS", "\n".join(f"  - {step}" for step in steps))
    (workshop.recipe.parent / "machine.yaml").write_text(machine)
    (workshop.recipe.parent / "hive_steps.py").write_text(STEPS)
    workshop.recipe.write_text(recipe)
    return workshop
