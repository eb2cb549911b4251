"""Whatever a job uses and its machine lacks."""

from __future__ import annotations

from collections.abc import Callable, Generator, Mapping
from typing import Any

from headrace import Job, Use, transform
from headrace_transforms.absolute import needs_absolute
from headrace_transforms.arcs_to_lines import needs_arcs_written
from headrace_transforms.cycles_to_moves import needs_cycles_written
from headrace_transforms.decimals import needs_decimals
from headrace_transforms.dwell_unit import needs_dwell_unit
from headrace_transforms.expand_calls import needs_calls_expanded
from headrace_transforms.optional_lines import needs_lines_settled
from headrace_transforms.plain_numbers import needs_plain_numbers
from headrace_transforms.rapid_feed import needs_rapids_fed
from headrace_transforms.short_lines import needs_short_lines
from headrace_transforms.spindle_scale import needs_spindle_scale
from headrace_transforms.units import needs_units
from headrace_transforms.work_offset import needs_work_offset

_NEEDS: Mapping[str, Callable[[Job], dict[str, Any] | None]] = {
    "optional-lines": needs_lines_settled,
    "expand-calls": needs_calls_expanded,
    "plain-numbers": needs_plain_numbers,
    "cycles-to-moves": needs_cycles_written,
    "absolute": needs_absolute,
    "work-offset": needs_work_offset,
    "units": needs_units,
    "arcs-to-lines": needs_arcs_written,
    "rapid-feed": needs_rapids_fed,
    "decimals": needs_decimals,
    "dwell-unit": needs_dwell_unit,
    "spindle-scale": needs_spindle_scale,
    "short-lines": needs_short_lines,
}
"""The steps in the order in which they are taken, each with what tells whether a job needs it: its
options, or None. What makes lines of others comes before what writes these lines anew."""


@transform(
    "adapt",
    gives="steps",
    options={
        "tolerance": {
            "type": "number",
            "description": "How far chords may lie from an arc, where arcs are lacking; mm.",
            "exclusiveMinimum": 0,
            "maximum": 1,
            "default": 0.01,
        },
        "leave": {
            "type": "array",
            "description": "Steps that are not to be taken here, without unit: the recipe takes"
            " them itself, or the machine knows more than its file says.",
            "items": {"description": "One step.", "enum": list(_NEEDS)},
            "uniqueItems": True,
            "default": [],
        },
    },
    idempotent=True,
)
def adapt(job: Job, *, tolerance: float, leave: list[str]) -> Generator[Use, Job, None]:
    """Take just those steps that bring a job into the language of its machine.

    Compares what the job uses with what the machine file says: subprograms, expressions, cycles,
    increments, work offsets, units, arcs, decimals, and what the numbers of dwells and speeds
    count. Each step that is taken is told, and keeps its own contract. A job that needs none of
    them stays as it is, byte for byte.

        G20 G91               ->        G21 G90
        G81 X1 Z-.2 R.1 F20             G0 X25.4 F508
                                        G0 Z2.54
                                        G1 Z-2.54
                                        G0 Z2.54
    """
    for name, needs in _NEEDS.items():
        options = None if name in leave else needs(job)
        if options is None:
            continue
        if name == "arcs-to-lines":
            options = {**options, "tolerance": tolerance}
        job = yield Use(name, options)
