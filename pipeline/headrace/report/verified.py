"""A card that was verified as text: a line for each file, and the verdict."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from headrace.card.checked import Checked, State
from headrace.findings.text import few

if TYPE_CHECKING:
    from headrace.card.verification import Verified


def checked_line(file: Checked) -> str:
    """One file in one line.

    >>> # LID.NC  as written (12,345 bytes)
    """
    match file.state:
        case State.AS_WRITTEN | State.CHANGED:
            detail = f" ({file.entry.content.size:,} bytes)"
        case State.SHORTER | State.LONGER if file.content is not None:
            detail = f" ({file.content.size:,} bytes, {file.entry.content.size:,} written)"
        case State.SWAPPED | State.MIXED_UP | State.RENAMED:
            detail = f" ({few(file.others)})"
        case _:
            detail = ""
    return f"{file.name}  {file.state}{detail}"


def verdict(verified: Verified, against: Path | None) -> str:
    """Whether the card is ready; where it is not, what is to be done again, in one line.

    >>> # not ready: copy LID.NC again
    """
    if verified.ready:
        return "ready"
    lost = []
    renamed = []
    for file in verified.files:
        if file.state in (State.RENAMED, State.SWAPPED):
            renamed.append(file.name)
        elif file.state not in (State.AS_WRITTEN, State.UNFINISHED):
            lost.append(file.name)
    parts = []
    if lost:
        parts.append(f"{'prepare' if against is None else 'copy'} {few(lost)} again")
    if renamed:
        parts.append(f"give {few(renamed)} the right name again")
    if any(finding.name == "card-run-cut-short" for finding in verified.findings):
        parts.append("run the recipe again")
    return f"not ready: {'; '.join(parts) or 'there is no list to go by'}"
