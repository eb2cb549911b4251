"""A check of what changed files lead to, as plain data: what `headrace recheck` tells."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from headrace.findings import Finding
from headrace.report.plain import Data, finding_list


def recheck_data(
    told: Mapping[Path, Sequence[Finding]], others: Iterable[Path], exit_code: int
) -> Data:
    """Files that were checked, each with its findings; `others` are those passed over."""
    return {
        "format": "headrace-recheck/1",
        "exit-code": exit_code,
        "findings": finding_list(finding for some in told.values() for finding in some),
        "checked": [
            {"file": str(path), "fit": not some, "findings": finding_list(some)}
            for path, some in told.items()
        ],
        "passed-over": [str(path) for path in others],
    }
