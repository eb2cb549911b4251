"""headrace prepares CAM jobs for one described machine. This is the public door.

Everything that a plugin or a script may use is here; nothing else is promised, but for
`headrace.testing`, the door for those who test their own transforms. Names are loaded when they are
first used, so that `import headrace` costs next to nothing.

A script begins with `load_recipe`; a plugin with `transform`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from headrace.doors import behind

if TYPE_CHECKING:
    from headrace.card.entry import Proved
    from headrace.errors import (
        CardError,
        HeadraceError,
        JobRefused,
        PluginError,
        RecipeError,
    )
    from headrace.findings import Finding, Place, Severity
    from headrace.job import Job
    from headrace.landmarks import Landmarks
    from headrace.language import Dialect, EventKind, Move, State, Trace, WorkedOut
    from headrace.machine import (
        Head,
        Heights,
        Machine,
        Setup,
        Span,
        Spindle,
        asking,
        asking_speed,
        asking_tool,
        needed,
    )
    from headrace.plugins import (
        Facet,
        Part,
        Renumbering,
        Trailing,
        Transform,
        Use,
        Wrap,
        hookimpl,
        transform,
    )
    from headrace.program import (
        Comment,
        Edit,
        Line,
        Numerals,
        Program,
        Word,
        after,
        before,
        delete,
        number_text,
        replace,
        rewrite,
    )
    from headrace.scripting import CardResult, CardRun, Recipe, Result, load_recipe
    from headrace.waiting import pause_lines, pausing

__version__ = "0.1.0"

_HOMES = {
    "headrace.card.entry": "Proved",
    "headrace.errors": "CardError HeadraceError JobRefused PluginError RecipeError",
    "headrace.findings": "Finding Place Severity",
    "headrace.job": "Job",
    "headrace.landmarks": "Landmarks",
    "headrace.language": "Dialect EventKind Move State Trace WorkedOut",
    "headrace.machine": "Head Heights Machine Setup Span Spindle asking asking_speed asking_tool "
    "needed",
    "headrace.waiting": "pause_lines pausing",
    "headrace.plugins": "Facet Part Renumbering Trailing Transform Use Wrap hookimpl transform",
    "headrace.program": "Comment Edit Line Numerals Program Word after before delete number_text "
    "replace rewrite",
    "headrace.scripting": "CardResult CardRun Recipe Result load_recipe",
}
_LEAVING: dict[str, str] = {}
"""Names that go with the next minor version, each with what to do instead."""

__all__ = [
    "CardError",
    "CardResult",
    "CardRun",
    "Comment",
    "Dialect",
    "Edit",
    "EventKind",
    "Facet",
    "Finding",
    "Head",
    "HeadraceError",
    "Heights",
    "Job",
    "JobRefused",
    "Landmarks",
    "Line",
    "Machine",
    "Move",
    "Numerals",
    "Part",
    "Place",
    "PluginError",
    "Program",
    "Proved",
    "Recipe",
    "RecipeError",
    "Renumbering",
    "Result",
    "Setup",
    "Severity",
    "Span",
    "Spindle",
    "State",
    "Trace",
    "Trailing",
    "Transform",
    "Use",
    "Word",
    "WorkedOut",
    "Wrap",
    "after",
    "asking",
    "asking_speed",
    "asking_tool",
    "before",
    "delete",
    "hookimpl",
    "load_recipe",
    "needed",
    "number_text",
    "pause_lines",
    "pausing",
    "replace",
    "rewrite",
    "transform",
]


def __getattr__(name: str) -> object:
    return behind(__name__, name, _HOMES, _LEAVING)


def __dir__() -> list[str]:
    return sorted(__all__)
