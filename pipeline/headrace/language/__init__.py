"""What programs mean: RS274/NGC, in bulk where lines are plain and one by one where not."""

from headrace.language.dialect import STANDARD, Dialect
from headrace.language.interpreter import interpret
from headrace.language.move import Move
from headrace.language.state import State
from headrace.language.trace import Block, Event, EventKind, Trace
from headrace.language.worked_out import WorkedOut

__all__ = [
    "STANDARD",
    "Block",
    "Dialect",
    "Event",
    "EventKind",
    "Move",
    "State",
    "Trace",
    "WorkedOut",
    "interpret",
]
