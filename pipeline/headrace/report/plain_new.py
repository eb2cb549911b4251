"""Beginnings as plain data: what `headrace new` tells."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from headrace.report.plain import Data

if TYPE_CHECKING:
    from headrace.scaffold.beginning import Beginning
    from headrace.scaffold.planting import Planted


def new_data(kind: str, root: Path, planted: Planted, beginning: Beginning) -> Data:
    """Files that were written to a folder, and what follows."""
    return {
        "format": "headrace-new/1",
        "exit-code": 0,
        "findings": [],
        "kind": kind,
        "folder": str(root),
        "written": [str(path) for path in planted.written],
        "left": [str(path) for path in planted.left],
        "told": list(beginning.told),
        "next": list(beginning.following),
    }
