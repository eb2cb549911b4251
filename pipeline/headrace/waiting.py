"""Pauses: by the machine's own word, with a text where the machine shows it."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from headrace.errors import JobRefused
from headrace.findings import Finding
from headrace.machine import Machine
from headrace.program import Edit, before

Insert = Callable[..., Edit]
"""`before` or `after`."""

_NO_SHORTER = (
    "the step knows no shorter text: see `pause: {width}` and `line: {length}` in the machine"
    " file; `pause: {text: none}` if it shows no texts"
)


def room(machine: Machine) -> int:
    """How many characters of a pause's text fit: on the display, and on the line."""
    pause = machine.pause
    if pause.text == "none":
        return machine.line_length - 2
    if pause.text == "same-line":
        return min(pause.width, machine.line_length - len(pause.word) - 3)
    return min(pause.width, machine.line_length - 2)


def pause_lines(machine: Machine, *variants: str) -> tuple[str, ...]:
    """The lines of one pause; of several texts, longest first, the first that fits is shown.

    The word stands on a line without anything that acts: on a line with motion it would come last
    (RS274/NGC table 8). JobRefused where no text fits, or where the machine cannot show any.
    """
    pause = machine.pause
    if pause.text != "none" and machine.comments.style == "none":
        what = f"the pause {pause.word} shows comments, and there are none to read"
        raise JobRefused(findings=[Finding.of("pause-unshown", what)])
    fits = [text for text in variants if len(text) <= room(machine)]
    if not fits:
        text = variants[-1]
        over = len(text) - room(machine)
        what = f"{text!r} is {over} characters too long: {text[: room(machine)]!r} is all that fits"
        remedy = _NO_SHORTER if len(variants) > 1 else None
        raise JobRefused(findings=[Finding.of("text-too-long", what, remedy=remedy)])
    note = machine.comments.written(fits[0])
    if pause.text == "same-line":
        return (f"{pause.word} {note}",)
    return (note, pause.word) if note else (pause.word,)


def pausing(
    machine: Machine, line: int, *variants: str, asks: str | None = None, insert: Insert = before
) -> Iterator[Edit]:
    """A pause at `line` that shows a text the way this machine does; of several, longest first,
    the first that fits. What it `asks` is confirmed behind the word itself, not its text.

    JobRefused where no text fits, or where the machine cannot show any.
    """
    lines = pause_lines(machine, *variants)
    if lines[:-1]:
        yield insert(line, *lines[:-1])
    yield insert(line, lines[-1], asks=asks)
