"""What one file does as plain data."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from headrace.findings import Finding
from headrace.report.plain import Data, finding_list
from headrace.report.plain_sheet import (
    depth_data,
    pause_data,
    reach_data,
    span_data,
    times_data,
    tool_data,
)

if TYPE_CHECKING:
    from headrace.batch.looking import Look
    from headrace.picture.drawing import Drawing
    from headrace.sheet.shown import Shown


def show_data(
    file: Path,
    told: Sequence[tuple[Look, Shown | None]],
    findings: Iterable[Finding],
    exit_code: int,
) -> Data:
    """A file, or those that a recipe makes of it; `findings` belong to none of them."""
    plan = told[0][0].plan
    bare = told[0][0].outcome is None
    return {
        "format": "headrace-show/1",
        "exit-code": exit_code,
        "file": str(file),
        "recipe": None if plan.alone else str(plan.recipe),
        "machine": None if bare else plan.machine.name,
        "findings": finding_list(findings),
        "files": [_file(look, facts) for look, facts in told],
    }


def _file(look: Look, facts: Shown | None) -> Data:
    return {
        "name": look.name,
        "made": look.made,
        "refused": look.refused,
        "findings": finding_list(look.findings),
        "facts": None if facts is None else _facts(facts),
    }


def _facts(facts: Shown) -> Data:
    return {
        "lines": facts.lines,
        "moves": facts.moves,
        "size": facts.size,
        "modes": list(facts.modes),
        "does": list(facts.does),
        "extents": [
            {
                "axis": extent.axis,
                "unit": extent.unit,
                "moves": span_data(extent.moves),
                "cuts": span_data(extent.cuts),
            }
            for extent in facts.extents
        ],
        "pauses": [pause_data(pause) for pause in facts.pauses],
        "tools": [tool_data(tool) for tool in facts.tools],
        "reaches": [reach_data(reach) for reach in facts.reaches],
        "depth": None if facts.depth is None else depth_data(facts.depth),
        "times": times_data(facts.times),
    }


def picture_data(
    file: Path, target: Path, fate: str, drawing: Drawing, findings: Iterable[Finding]
) -> Data:
    """A drawing that was written."""
    return {
        "format": "headrace-picture/1",
        "exit-code": 0,
        "file": str(file),
        "picture": {
            "file": str(target),
            "fate": fate,
            "view": drawing.view,
            "scale": drawing.scale,
            "title": drawing.title,
            "text": drawing.text,
        },
        "findings": finding_list(findings),
    }
