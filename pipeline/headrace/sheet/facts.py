"""Everything that the run sheet says, as plain values: gathered where a job was prepared, small
enough to send between processes, and all that the page and the terminal need.

Lengths in mm, feeds in mm/min, speeds in rev/min, times in s. `None` stands for what the
description does not tell; it is said on the sheet, never filled in.
"""

from __future__ import annotations

from dataclasses import dataclass

from headrace.card.entry import Proved
from headrace.card.writing import Content
from headrace.findings import Finding
from headrace.machine import Span
from headrace.picture.drawing import Drawing
from headrace.timing.times import Times


@dataclass(frozen=True, slots=True)
class Pause:
    """A place where the machine waits for its operator.

    `number` counts from 1 in the file, `line` from 1 in the card file. `shown` is what the display
    shows, line by line and cut as the display cuts it; empty where it shows nothing. `needs` are
    sentences: what must be true before going on. `asks` is the question it answers (`clip-on`,
    `tool-2`), None for a pause of the job's own. `after` is when it comes, in planned seconds from
    the file's beginning, other pauses not counted.
    """

    number: int
    line: int
    shown: tuple[str, ...]
    needs: tuple[str, ...]
    asks: str | None
    optional: bool
    after: float | None


@dataclass(frozen=True, slots=True)
class ToolUse:
    """A bit and what the file does with it. `feeds` are those of cuts sideways, level or rising,
    `plunges` of cuts straight down, `ramps` of cuts down and sideways at once. `chip` is how thick
    its chips come out (mm a tooth), `chip_limits` how thick they may be. `cut` is how far it cuts
    (mm), `deepest` how far below the top of the sheet, `first_line` where it first cuts (from 1 in
    the card file). `plunge` is the fastest that it may go down, `fastest` the highest speed that is
    marked on it."""

    number: int | None
    kind: str | None
    diameter: float | None
    stick_out: Span | None
    flute: float | None
    teeth: int | None
    fastest: float | None
    speeds: tuple[float, ...]
    dial: str | None
    feeds: Span | None
    plunges: Span | None
    chip: Span | None
    chip_limits: Span | None
    cut: float
    deepest: Span | None
    seconds: float | None
    first_line: int | None
    ramps: Span | None = None
    plunge: float | None = None


@dataclass(frozen=True, slots=True)
class Reach:
    """How far the file goes along one axis. `cuts` and `moves` are from the sheet's corner (X, Y),
    or from its top, up positive (Z); `stock` is the sheet in the same numbers. `machine` is where
    the head goes in machine coordinates, over all that may vary, `travel` how far it can go.
    `spare` is the least of what is left to both ends of travel. Homing, which goes to an end by
    itself, and standing there is left out. A span is None where one of its places is not known."""

    axis: str
    cuts: Span | None
    moves: Span | None
    stock: Span | None
    machine: Span | None
    travel: Span
    spare: float | None


@dataclass(frozen=True, slots=True)
class Depth:
    """The deepest cut against the sheet. `deepest` is below the top of the sheet (positive), over
    all thicknesses that are allowed; `left` is what stays uncut under it, negative where it goes
    into the spoilboard; `spoilboard` is how thick that is, `allowed` how far it may be cut."""

    deepest: Span | None
    thickness: Span | None
    left: Span | None
    allowed: float | None
    spoilboard: float | None


@dataclass(frozen=True, slots=True)
class FileFacts:
    """One card file. `source` is the job that it was made from, None for one of the recipe's own.

    `does` are sentences, in order, that tell what it does. `modes` are sentences on units, planes,
    zero and the like. `drawings` are the top and the side view; `track` is the way of the tip for
    the slider (see `view/track.py`), None where there is none. `switches` are the outputs that it
    switches on, by what is wired to them.
    """

    name: str
    title: str
    source: str | None
    does: tuple[str, ...]
    modes: tuple[str, ...]
    lines: int
    moves: int
    content: Content
    pauses: tuple[Pause, ...]
    tools: tuple[ToolUse, ...]
    reaches: tuple[Reach, ...]
    depth: Depth
    times: Times
    proof: Proved | None
    findings: tuple[Finding, ...]
    drawings: tuple[Drawing, ...]
    track: str | None
    switches: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Refused:
    """A job that is not on the card, and why."""

    name: str
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class Check:
    """Something to do or to see before the first file runs: `topic` in a word or two, `text` a
    sentence, `values` what it is to be (`Plate` / `12.02 mm`)."""

    topic: str
    text: str
    values: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class SheetFacts:
    """The whole sheet: `checks` before the first file, `files` in run order, `refused` those that
    are not on the card. `bedding` is the clamp map, None where no sheet is described. `findings`
    are those of the run, not of a file. `made_by` is headrace and its version."""

    title: str
    recipe: str
    machine: str
    setup: str
    made_by: str
    checks: tuple[Check, ...]
    bedding: Drawing | None
    files: tuple[FileFacts, ...]
    refused: tuple[Refused, ...]
    findings: tuple[Finding, ...]
