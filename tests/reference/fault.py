"""What stops a program: anything that the language does not allow (section 3.3)."""

from __future__ import annotations

from dataclasses import dataclass


class ReferenceError_(Exception):  # noqa: N801 - the plain name is a Python built-in
    """A line breaks a rule. `kind` names the rule, `column` is counted from 0."""

    def __init__(self, kind: str, column: int = 0) -> None:
        super().__init__(f"{kind} at column {column}")
        self.kind = kind
        self.column = column


@dataclass(frozen=True, slots=True)
class Fault:
    """Where and why a run stopped; line and column are counted from 0."""

    kind: str
    line: int
    column: int
