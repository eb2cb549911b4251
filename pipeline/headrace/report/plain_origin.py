"""Where values are from, as plain data: what `headrace origin` tells."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from headrace.recipe.said import Said
from headrace.report.plain import Data


def origin_data(recipe: Path, values: Iterable[Said]) -> Data:
    """Values by their names, each with its place."""
    return {
        "format": "headrace-origin/1",
        "exit-code": 0,
        "findings": [],
        "recipe": str(recipe),
        "values": [
            {
                "name": each.name,
                "value": each.value,
                "file": each.place.file,
                "line": each.place.line,
                "column": each.place.column,
            }
            for each in values
        ],
    }
