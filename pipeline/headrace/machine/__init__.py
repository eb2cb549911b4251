"""The machine and what is set up on it, described by what they do."""

from headrace.machine.description import (
    Axis,
    Card,
    Comments,
    Homing,
    Machine,
    Pause,
    Probe,
    Spindle,
    WorkZero,
)
from headrace.machine.heights import Heights
from headrace.machine.setup import Clamp, Plate, Setup, Sheet
from headrace.machine.span import Span
from headrace.machine.unknown import needed

__all__ = [
    "Axis",
    "Card",
    "Clamp",
    "Comments",
    "Heights",
    "Homing",
    "Machine",
    "Pause",
    "Plate",
    "Probe",
    "Setup",
    "Sheet",
    "Span",
    "Spindle",
    "WorkZero",
    "needed",
]
