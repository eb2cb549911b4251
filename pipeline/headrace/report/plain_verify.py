"""A card that was verified as plain data."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from headrace.report.plain import Data, content_data, finding_list

if TYPE_CHECKING:
    from headrace.card.checked import Checked, Stranger
    from headrace.card.verification import Verified


def verify_data(verified: Verified, card: Path, against: Path | None) -> Data:
    """How a card stands against its list, or against that of another folder."""
    return {
        "format": "headrace-verify/1",
        "exit-code": verified.exit_code,
        "card": str(card),
        "against": None if against is None else str(against),
        "ready": verified.ready,
        "files": [_file(file) for file in verified.files],
        "strangers": [_stranger(stranger) for stranger in verified.strangers],
        "unfinished": list(verified.unfinished),
        "findings": finding_list(verified.findings),
    }


def _file(file: Checked) -> dict[str, Any]:
    entry = file.entry
    return {
        "name": file.name,
        "state": str(file.state).replace(" ", "-"),
        "found-as": file.found,
        "written": content_data(entry.content),
        "content": content_data(file.content),
        "others": list(file.others),
        "source": entry.source,
        "recipe": entry.recipe,
    }


def _stranger(stranger: Stranger) -> dict[str, Any]:
    return {
        "name": stranger.name,
        "listed": stranger.listed,
        "copy-of": list(stranger.copy_of),
        "twin-of": stranger.twin_of,
    }
