"""The bundled transforms. They come in through the same door as everyone else's."""

from __future__ import annotations

from collections.abc import Iterable

from headrace import Transform, hookimpl
from headrace_transforms.absolute import absolute
from headrace_transforms.adapt import adapt
from headrace_transforms.arcs_to_lines import arcs_to_lines
from headrace_transforms.comments import comments
from headrace_transforms.corner_zero import corner_zero
from headrace_transforms.cycles_to_moves import cycles_to_moves
from headrace_transforms.decimals import decimals
from headrace_transforms.dwell_unit import dwell_unit
from headrace_transforms.expand_calls import expand_calls
from headrace_transforms.feed_limits import feed_limits
from headrace_transforms.home import home
from headrace_transforms.lines_to_arcs import lines_to_arcs
from headrace_transforms.optional_lines import optional_lines
from headrace_transforms.outputs import outputs
from headrace_transforms.park import park
from headrace_transforms.pause import pause
from headrace_transforms.plain_numbers import plain_numbers
from headrace_transforms.rapid_feed import rapid_feed
from headrace_transforms.renumber import renumber
from headrace_transforms.rereference_z import rereference_z
from headrace_transforms.safe_start import safe_start
from headrace_transforms.safe_words import safe_words
from headrace_transforms.short_lines import short_lines
from headrace_transforms.spindle import spindle
from headrace_transforms.spindle_scale import spindle_scale
from headrace_transforms.split_tools import split_tools
from headrace_transforms.strip import strip
from headrace_transforms.tool_change import tool_change
from headrace_transforms.touch_off import touch_off
from headrace_transforms.units import units
from headrace_transforms.work_offset import work_offset


@hookimpl
def headrace_transforms() -> Iterable[Transform]:
    """All transforms of this package."""
    return (
        absolute,
        adapt,
        arcs_to_lines,
        comments,
        corner_zero,
        cycles_to_moves,
        decimals,
        dwell_unit,
        expand_calls,
        feed_limits,
        home,
        lines_to_arcs,
        optional_lines,
        outputs,
        park,
        pause,
        plain_numbers,
        rapid_feed,
        renumber,
        rereference_z,
        safe_start,
        safe_words,
        short_lines,
        spindle,
        spindle_scale,
        split_tools,
        strip,
        tool_change,
        touch_off,
        units,
        work_offset,
    )
