"""Kept outcomes as plain data: what `headrace keep` tells."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from headrace.report.kept_changes import changes_since
from headrace.report.kept_text import difference_of
from headrace.report.plain import Data, finding_list

if TYPE_CHECKING:
    from headrace.batch.keeping import Compared, Turn


def keep_data(turns: Sequence[Turn], checking: bool, exit_code: int) -> Data:
    """Folders that were written, or checked; `folders` in the order in which they were."""
    return {
        "format": "headrace-keep/1",
        "exit-code": exit_code,
        "check": checking,
        "findings": finding_list(finding for turn in turns for finding in turn.findings),
        "folders": [_folder(turn) for turn in turns],
    }


def _folder(turn: Turn) -> Data:
    compared = turn.compared
    return {
        "folder": str(turn.folder),
        "exit-code": turn.exit_code,
        "recipe": None if compared is None else compared.now.recipe,
        "since-then": [] if compared is None else list(changes_since(compared)),
        "findings": finding_list(turn.findings),
        "outcomes": [] if compared is None else _outcomes(compared),
    }


def _outcomes(compared: Compared) -> list[Data]:
    found = []
    for name, standing in compared.standings().items():
        file = compared.now.get(name)
        found.append(
            {
                "name": name,
                "source": None if file is None else file.source,
                "standing": str(standing),
                "refused": None if file is None else file.refused,
                "difference": list(difference_of(compared, name)),
                "findings": [] if file is None else finding_list(file.findings),
            }
        )
    return found
