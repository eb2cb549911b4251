"""Schemas that were written beside recipes, as plain data: what `headrace schema --to` tells."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from headrace.report.plain import Data


def schema_data(fates: Mapping[Path, str]) -> Data:
    """The files, each with what became of it."""
    return {
        "format": "headrace-schema/1",
        "exit-code": 0,
        "findings": [],
        "files": [{"file": str(path), "fate": fate} for path, fate in fates.items()],
    }
