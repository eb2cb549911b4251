"""Bits and work offset systems in words."""

from __future__ import annotations

from dataclasses import replace

from headrace.machine import Setup, Span, Tool
from headrace.sheet.facts import ToolUse
from headrace.sheet.telling import size_text, span_text

_SYSTEMS = ("G54", "G55", "G56", "G57", "G58", "G59", "G59.1", "G59.2", "G59.3")


def system_name(number: int) -> str:
    """A work offset system by its number, from 1 (RS274/NGC 3.5.13).

    >>> system_name(1), system_name(9)
    ('G54', 'G59.3')
    """
    return _SYSTEMS[number - 1]


def bit_of(setup: Setup, number: int | None) -> Tool:
    """The bit that a file calls by a number; one of which nothing is described, where the set-up
    has another one only."""
    bit = setup.tool_of(number)
    return bit if bit.number in (None, number) else replace(Tool.of({}), number=number)


def bit_text(number: int | None, bit: Tool | ToolUse | None) -> str:
    """A bit in a few words, to begin a sentence with.

    >>> bit_text(2, None)
    'Tool 2'
    """
    name = "The bit" if number is None else f"Tool {number}"
    if bit is None:
        return name
    parts = [bit.kind, None if bit.diameter is None else f"diameter {size_text(bit.diameter)}"]
    told = ", ".join(part for part in parts if part)
    return f"{name} ({told})" if told else name


def stick_out_text(stick_out: Span | None) -> str:
    """How far a bit stands out, and how to measure that."""
    if stick_out is None:
        return "How far it stands out is not described: measure from the collet's face to the tip."
    return f"It stands out {span_text(stick_out)}, measured from the collet's face to the tip."
