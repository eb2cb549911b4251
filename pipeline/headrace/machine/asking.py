"""What pauses ask the operator for, in so many words: written by steps, known again in any file.

A question is what is true once the operator has gone on: `clip-on`, `clip-off`, `spindle-on`,
`spindle-off`, `tool-2`; `spindle-set` asks for another speed of a router that turns. Questions on
the spindle are asked where a hand switches it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from headrace.machine.description import Machine
from headrace.machine.fittings import Spindle
from headrace.machine.setup import Tool

_TEXTS = {
    "clip-on": ("PLATE UNDER THE BIT, CLIP ON", "PLATE ON, CLIP ON", "CLIP ON"),
    "clip-off": ("CLIP OFF, PLATE AWAY", "CLIP + PLATE AWAY", "CLIP OFF"),
    "spindle-off": ("SPINDLE OFF, WAIT UNTIL IT STANDS", "SPINDLE OFF, WAIT", "SPINDLE OFF", "OFF"),
}
_SPEEDS = {"spindle-on": ("SPINDLE ON", "ON"), "spindle-set": ("SPINDLE TO", "SET")}
_FIT = "FIT TOOL"
_TOOL = re.compile(r"(?:FIT )?TOOL (\d{1,4})(?= |$)")
_NUMBER = re.compile(r" (\d+(?:\.\d+)?)(?= |$)")


def asking(question: str) -> tuple[str, ...]:
    """The texts that ask it, longest first.

    >>> asking("clip-off")[0]
    'CLIP OFF, PLATE AWAY'
    """
    return _TEXTS[question]


def asking_speed(question: str, spindle: Spindle, speed: float) -> tuple[str, ...]:
    """The texts that ask for the spindle at a speed (rev/min), longest first: `spindle-on` or
    `spindle-set`."""
    from headrace.program import number_text  # a description alone is read without its weight

    full, short = _SPEEDS[question]
    turns, mark = number_text(speed, 3), spindle.nearest_mark(speed)
    if mark is None:
        return (f"{full} {turns}", f"{short} {turns}")
    return (
        f"{full} {turns} DIAL {mark}",
        f"{short} {turns} DIAL {mark}",
        f"{short} DIAL {mark}",
    )


def asking_tool(number: int, kind: str | None) -> tuple[str, ...]:
    """The texts that ask for a bit by its number, longest first: `tool-2`. `kind` is what it is, as
    the set-up has it.

    >>> asking_tool(2, "Upcut 6")
    ('FIT TOOL 2 UPCUT 6', 'TOOL 2 UPCUT 6', 'FIT TOOL 2')
    """
    short = f"{_FIT} {number}"
    if kind is None:
        return (short,)
    return (f"{short} {kind.upper()}", f"TOOL {number} {kind.upper()}", short)


def question(machine: Machine, text: str, tools: Sequence[Tool] = ()) -> str | None:
    """The question that a text asks on this machine, with these bits at hand; None for any other
    text. Nothing is guessed: one letter more, a mark that its dial has not for that speed, or
    another kind of bit, and it is another text."""
    fit = _TOOL.match(text)
    if fit is not None:
        number = int(fit[1])
        kinds = {None, *(tool.kind for tool in tools if tool.number == number)}
        known = any(text in asking_tool(number, kind) for kind in kinds)
        return f"tool-{number}" if known else None
    by_hand = machine.spindle.control == "by-hand"
    for asked, texts in _TEXTS.items():
        if text in texts and (by_hand or not asked.startswith("spindle")):
            return asked
    if by_hand:
        return next((asked for asked, _ in _asked_speeds(machine.spindle, text)), None)
    return None


def speed_asked(machine: Machine, text: str) -> float | None:
    """The speed (rev/min) that a text asks a hand to set; None for any other text."""
    if machine.spindle.control != "by-hand":
        return None
    return next((speed for _, speed in _asked_speeds(machine.spindle, text)), None)


def _asked_speeds(spindle: Spindle, text: str) -> Iterator[tuple[str, float]]:
    """The questions that a text may be, each with the speed that it asks for."""
    for speed in _speeds(spindle, text):
        for asked in _SPEEDS:
            if text in asking_speed(asked, spindle, speed):
                yield asked, speed


def _speeds(spindle: Spindle, text: str) -> Iterator[float]:
    """The speeds that a text may ask for: a number in it, else those of the dial's marks."""
    number = _NUMBER.search(text)
    if number is not None and spindle.slowest <= float(number[1]) <= spindle.fastest:
        yield float(number[1])
    yield from (speed for _, speed in spindle.dial)
