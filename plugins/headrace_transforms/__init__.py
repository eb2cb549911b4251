"""The bundled transforms. They come in through the same door as everyone else's."""

from __future__ import annotations

from collections.abc import Iterable

from headrace import Transform, hookimpl
from headrace_transforms.comments import comments
from headrace_transforms.corner_zero import corner_zero
from headrace_transforms.home import home
from headrace_transforms.park import park
from headrace_transforms.pause import pause
from headrace_transforms.renumber import renumber
from headrace_transforms.rereference_z import rereference_z
from headrace_transforms.safe_start import safe_start
from headrace_transforms.spindle import spindle
from headrace_transforms.strip import strip
from headrace_transforms.touch_off import touch_off


@hookimpl
def headrace_transforms() -> Iterable[Transform]:
    """All transforms of this package."""
    return (
        comments,
        corner_zero,
        home,
        park,
        pause,
        renumber,
        rereference_z,
        safe_start,
        spindle,
        strip,
        touch_off,
    )
