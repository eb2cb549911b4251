"""The machine and what is set up on it, described by what they do."""

from headrace.machine.asking import asking, asking_speed, asking_tool
from headrace.machine.assumed import Assumed
from headrace.machine.description import (
    ArcWords,
    Axis,
    Card,
    Comments,
    Corners,
    Head,
    Homing,
    Machine,
    Pause,
    Probe,
    Rotary,
    Shoe,
    Spindle,
    TimedRun,
    WorkZero,
)
from headrace.machine.heights import Heights, lacking, sheet_top_at, spoilboard_at
from headrace.machine.setup import Blank, Clamp, Plate, Setup, Sheet, Tool
from headrace.machine.span import Span
from headrace.machine.unknown import needed, unknown

__all__ = [
    "ArcWords",
    "Assumed",
    "Axis",
    "Blank",
    "Card",
    "Clamp",
    "Comments",
    "Corners",
    "Head",
    "Heights",
    "Homing",
    "Machine",
    "Pause",
    "Plate",
    "Probe",
    "Rotary",
    "Setup",
    "Sheet",
    "Shoe",
    "Span",
    "Spindle",
    "TimedRun",
    "Tool",
    "WorkZero",
    "asking",
    "asking_speed",
    "asking_tool",
    "lacking",
    "needed",
    "sheet_top_at",
    "spoilboard_at",
    "unknown",
]
