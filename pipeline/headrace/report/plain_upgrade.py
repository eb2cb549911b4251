"""Files in the newest format as plain data."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from headrace.report.plain import Data, finding_list
from headrace.report.upgrade_text import difference

if TYPE_CHECKING:
    from headrace.findings import Finding
    from headrace.recipe.upgrading import Upgraded


def upgrade_data(files: Sequence[Upgraded], findings: Iterable[Finding], written: bool) -> Data:
    """What came of each file; `written` tells whether files hold what the difference shows."""
    return {
        "format": "headrace-upgrade/1",
        "exit-code": 0,
        "written": written,
        "findings": finding_list(findings),
        "files": [
            {
                "file": str(file.path),
                "stated": file.stated,
                "newest": file.newest,
                "changes": file.changes,
                # a file that is read is UTF-8
                "difference": b"".join(difference(file)).decode("utf-8"),
            }
            for file in files
        ],
    }
