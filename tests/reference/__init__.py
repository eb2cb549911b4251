"""A slow, plain interpreter of RS274/NGC, written from the published language alone.

It exists to be disagreed with: the interpreter that ships is written for speed, this one for
being checked by eye against NISTIR 6556 (the RS274/NGC report, 17 August 2000). They share no
code. Section numbers in these modules are those of that report; "from memory" marks a rule
that the report leaves open and that was settled here.
"""

from __future__ import annotations

from reference.fault import Fault, ReferenceError_
from reference.machine import Interpreter, run
from reference.records import Event, Move, Options, Run, Start
from reference.state import State

__all__ = [
    "Event",
    "Fault",
    "Interpreter",
    "Move",
    "Options",
    "ReferenceError_",
    "Run",
    "Start",
    "State",
    "run",
]
