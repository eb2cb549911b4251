"""headrace prepares CAM jobs for one described machine. This is the public door.

Everything that a plugin or a script may use is here; nothing else is promised. Names are loaded
when they are first used, so that `import headrace` costs next to nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
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
    from headrace.language import Dialect, EventKind, State, Trace, WorkedOut
    from headrace.machine import (
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
        Transform,
        Use,
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

__version__ = "0.1.0"

_HOMES = {
    "headrace.errors": "CardError HeadraceError JobRefused PluginError RecipeError",
    "headrace.findings": "Finding Place Severity",
    "headrace.job": "Job",
    "headrace.landmarks": "Landmarks",
    "headrace.language": "Dialect EventKind State Trace WorkedOut",
    "headrace.machine": "Heights Machine Setup Span Spindle asking asking_speed asking_tool needed",
    "headrace.plugins": "Facet Part Renumbering Transform Use hookimpl transform",
    "headrace.program": "Comment Edit Line Numerals Program Word after before delete number_text "
    "replace rewrite",
}
_HOME_OF = {name: home for home, names in _HOMES.items() for name in names.split()}

__all__ = [
    "CardError",
    "Comment",
    "Dialect",
    "Edit",
    "EventKind",
    "Facet",
    "Finding",
    "HeadraceError",
    "Heights",
    "Job",
    "JobRefused",
    "Landmarks",
    "Line",
    "Machine",
    "Numerals",
    "Part",
    "Place",
    "PluginError",
    "Program",
    "RecipeError",
    "Renumbering",
    "Setup",
    "Severity",
    "Span",
    "Spindle",
    "State",
    "Trace",
    "Transform",
    "Use",
    "Word",
    "WorkedOut",
    "after",
    "asking",
    "asking_speed",
    "asking_tool",
    "before",
    "delete",
    "hookimpl",
    "needed",
    "number_text",
    "replace",
    "rewrite",
    "transform",
]


def __getattr__(name: str) -> object:
    home = _HOME_OF.get(name)
    if home is None:
        raise AttributeError(f"headrace has no public name {name!r}")
    return getattr(import_module(home), name)


def __dir__() -> list[str]:
    return sorted(__all__)
