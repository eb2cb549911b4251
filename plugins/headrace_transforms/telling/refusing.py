"""Refusing a job from within a step."""

from __future__ import annotations

from headrace import Finding, JobRefused, Line, Place, Program


def refusal(
    name: str, what: str, *, remedy: str | None = None, place: Place | None = None
) -> JobRefused:
    """The error to raise: `name` is a kind of the catalogue."""
    return JobRefused(findings=[Finding.of(name, what, place, remedy=remedy)])


def place_of(program: Program, line: Line) -> Place:
    """A whole line as a place."""
    return program.place(line.index)
