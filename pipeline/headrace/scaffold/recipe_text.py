"""The recipe of a beginning, and its set-up, as text that people go on writing."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from textwrap import fill

from headrace.scaffold.choice import Choice, Chosen, Value

_WIDTH = 98


def recipe_text(name: str, schema: str, machine: str, setup: str, choice: Choice) -> str:
    """A recipe; `schema`, `machine` and `setup` are paths from its folder."""
    lines = [
        f"# yaml-language-server: $schema={schema}",
        *_note("For: jobs that cut with one bit from one sheet. Take steps out, put others in, and"
               " give them options: `headrace transforms` lists them, `headrace transforms"
               " touch-off` tells all about one. The order of this file is the order in which they"
               " are taken.", ""),
        *_note(f"Before the first job: fill in {setup}. Until then every run is refused, and"
               " `headrace check` says what is left to measure.", ""),
        "format: headrace-recipe/2",
        f"name: {_quoted(name)}",
        f"description: {_quoted(_DESCRIPTIONS[choice.finds])}",
        "",
        f"machine: {_quoted(machine)}",
        f"setup: {setup}",
        "",
        *_note("What jobs do not say themselves is not guessed: such a job is refused. Where you"
               " know it, say it here, such as", ""),
        "# assume: {units: mm}",
        "",
    ]  # fmt: skip
    if choice.first_file:
        lines += [
            "# A file without a job, to be run first: it homes and finds the corner.",
            "card-files:",
            "  - name: SETUP",
            "    title: Home and find the sheet's corner",
            "    steps:",
            *_steps(choice.first_file, " " * 6),
            "",
        ]
    return "\n".join([*lines, "steps:", *_steps(choice.steps, "  "), ""])


_DESCRIPTIONS = {
    "probe": "Home, find the corner, touch off, cut, park.",
    "hand": "SETUP homes and finds the corner; Z0 is set by hand; then the jobs cut.",
    "panel": "The zero is set at the panel before each job; then the job cuts.",
}


def _steps(steps: tuple[Chosen, ...], indent: str) -> Iterator[str]:
    for step in steps:
        yield from _note(step.because, indent)
        yield f"{indent}- {step.name}{options_text(step.options)}"


def options_text(options: Mapping[str, Value]) -> str:
    """Options behind the name of a step.

    >>> options_text({"at": "start", "text": "ALL CLEAR?", "remove": True})
    ': {at: start, text: "ALL CLEAR?", remove: true}'
    """
    if not options:
        return ""
    return f": {{{', '.join(f'{key}: {_value(value)}' for key, value in options.items())}}}"


def _value(value: Value) -> str:
    if isinstance(value, str):
        return value if re.fullmatch("[a-z]{2,}", value) else _quoted(value)
    return json.dumps(value)


def _quoted(text: str) -> str:
    """Text that no reader of YAML takes for anything else; JSON's strings are YAML's too."""
    return json.dumps(text, ensure_ascii=False)


def _note(text: str, indent: str) -> list[str]:
    lead = f"{indent}# "
    return fill(text, _WIDTH, initial_indent=lead, subsequent_indent=lead).split("\n")


def setup_text(schema: str, choice: Choice) -> str:
    """A set-up in which nothing is measured yet: each line that waits has no value, which no
    command lets pass."""
    plate = _PLATE if choice.finds == "probe" else ""
    return _SETUP.format(schema=f"# yaml-language-server: $schema={schema}", plate=plate)


_SETUP = """\
{schema}
# What is on the machine. Nothing is measured yet: write each value before the `#` of its line, with
# a point and without a unit; lengths in mm. As long as one is lacking, every run is refused, and
# `headrace check recipe.yaml` lists those that are. Measure anew for each sheet and each bit.
format: headrace-setup/1
name: First sheet

sheet:
  thickness:    # callipers, at eight places: {{least: ..., most: ...}}, and never the nominal one
  corner:       # [X, Y] of its lower left corner, in the numbers shown right after homing
  size:         # [X, Y], how far it goes from that corner
  zero:         # top or bed: where your jobs have their Z0, by your CAM; touching off needs top
{plate}
tool:
  stick-out:    # from the face of the collet to the tip: {{least: ..., most: ...}}
  diameter:     # how wide it cuts
  flute:        # from the tip up to where it no longer cuts

safe-height:    # above the sheet, where the head may go anywhere: over every clamp, and a bit

# [] where there are none; else a line for each, from and to counted from the sheet's corner, and
# top from the sheet up:
#   - {{name: left, from: [X, Y], to: [X, Y], top: Z}}
clamps:         # measure them all, with their bolts
"""

_PLATE = """
plate:
  thickness:    # micrometer, in the middle
  at:           # [X, Y] of its middle, from the sheet's corner
"""
