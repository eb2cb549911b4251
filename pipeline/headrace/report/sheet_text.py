"""The files of a run sheet as text: a line for each."""

from __future__ import annotations

from typing import TYPE_CHECKING

from headrace.report.outcomes import file_line, planned_text

if TYPE_CHECKING:
    from headrace.batch import Written


def sheet_line(file: Written) -> str:
    """One file in one line.

    >>> # LID.NC  10 to 16 min, 4 pauses, from lid.nc
    """
    from headrace.counting import count_text

    facts = file.record.facts
    if not file.record.ready or facts is None:
        return file_line(file)
    parts = [planned_text(facts.times), count_text(len(facts.pauses), "pause")]
    if facts.source is not None:
        parts.append(f"from {facts.source}")
    return f"{facts.name}  {', '.join(parts)}"
