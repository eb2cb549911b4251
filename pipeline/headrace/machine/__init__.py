"""The machine and what is set up on it, described by what they do."""

from headrace.machine.asking import asking, asking_speed, asking_tool
from headrace.machine.assumed import Assumed
from headrace.machine.controller import ArcWords, Card, Comments, Pause, WorkZero
from headrace.machine.description import Machine
from headrace.machine.fittings import Head, Probe, Shoe, Spindle
from headrace.machine.heights import Heights, lacking, sheet_top_at, spoilboard_at
from headrace.machine.motion import Axis, Corners, Homing, Rotary, TimedRun
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
