"""The machine and what is set up on it, described by what they do."""

from headrace.machine.asking import asking, asking_speed, asking_tool
from headrace.machine.assumed import Assumed
from headrace.machine.description import (
    ArcWords,
    Axis,
    Card,
    Comments,
    Corners,
    Homing,
    Machine,
    Pause,
    Probe,
    Shoe,
    Spindle,
    TimedRun,
    WorkZero,
)
from headrace.machine.heights import Heights, lacking, sheet_top_at, spoilboard_at
from headrace.machine.setup import Clamp, Plate, Setup, Sheet, Tool
from headrace.machine.span import Span
from headrace.machine.unknown import needed, unknown

__all__ = [
    "ArcWords",
    "Assumed",
    "Axis",
    "Card",
    "Clamp",
    "Comments",
    "Corners",
    "Heights",
    "Homing",
    "Machine",
    "Pause",
    "Plate",
    "Probe",
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
