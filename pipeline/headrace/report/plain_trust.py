"""Trusted Python files as plain data."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from headrace.report.plain import Data, finding_list

if TYPE_CHECKING:
    from headrace.findings import Finding
    from headrace.plugins.trusted import TrustedList


def trust_data(
    known: TrustedList,
    files: Iterable[tuple[str, str, str]],
    findings: Iterable[Finding],
    exit_code: int,
) -> Data:
    """The list after the command, and the files that it was about: SHA-256, path, summary."""
    trusted = {entry.sha256 for entry in known.entries()}
    return {
        "format": "headrace-trust/1",
        "exit-code": exit_code,
        "list": str(known.path),
        "files": [
            {"sha256": sha256, "path": path, "summary": summary, "trusted": sha256 in trusted}
            for sha256, path, summary in files
        ],
        "findings": finding_list(findings),
    }
