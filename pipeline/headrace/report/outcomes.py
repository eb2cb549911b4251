"""A run as text: a line for each file, the findings, and a summary."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

from headrace.counting import count_text
from headrace.findings import Finding, Severity
from headrace.findings.text import few
from headrace.program.numbers import number_text

if TYPE_CHECKING:
    from headrace.batch import Paper, Prepared, Record, Written
    from headrace.card.entry import Proved
    from headrace.timing.times import Times

_MOST = 20
"""So many names are told in one line."""


def file_line(file: Written) -> str:
    """One file of a run in one line.

    >>> # lid.nc -> LID.NC  written: 412 lines (31 added), 371 moves, 1 warning
    """
    record = file.record
    if not record.ready:
        return f"{record.name}  {_unfit(record)}: {count_text(len(record.findings), 'finding')}"
    target = f" -> {file.naming.name}" if file.naming else ""
    fate = str(file.fate) if file.fate else "fit for the card"
    parts = [
        f"{count_text(record.lines, 'line')} ({record.added} added)",
        count_text(record.moves, "move"),
    ]
    if record.facts is not None:
        parts.append(planned_text(record.facts.times))
    if record.warnings:
        parts.append(count_text(record.warnings, "warning"))
    return f"{record.name}{target}  {fate}: {', '.join(parts)}"


def planned_text(times: Times) -> str:
    """How long a file takes, without its pauses.

    >>> # 10 to 16 min
    """
    from headrace.sheet.telling import band_text, time_text

    if times.low is None or times.high is None:
        return f"at least {time_text(times.naive)}"
    return band_text(times.low, times.high)


def paper_line(paper: Paper) -> str:
    """A run sheet in one line.

    >>> # run sheet -> lids.html  written
    """
    return f"run sheet -> {paper.path}  {paper.fate}"


def asked_lines(record: Record) -> Iterator[str]:
    """What a step did by others, a line for each.

    >>> # adapt: cycles-to-moves on 12 lines
    """
    for step in record.steps:
        if step.asked_by is not None:
            lines = count_text(step.added + step.touched, "line")
            yield f"{step.label} on {lines}"


def proof_line(proof: Proved) -> str:
    """What was proved of a file in one line.

    >>> # proved: 174 moves compared, largest deviation 0 mm; same cut path; may change comments
    """
    parts = [f"{count_text(proof.moves, 'move')} compared"]
    if proof.alike:
        parts.append(f"{count_text(proof.alike, 'line')} the same in the same state")
    if proof.unread:
        parts.append(f"{count_text(proof.unread, 'line')} read once only")
    parts.append(f"largest deviation {number_text(proof.deviation, 6)} mm")
    return f"proved: {', '.join(parts)}; {proof.contract}"


def summary(prepared: Prepared) -> Iterator[str]:
    """The end of a run: names that had to be changed, counts, and what was refused."""
    files = prepared.files
    changed = [
        f"{file.naming.source} -> {file.naming.name}"
        for file in files
        if file.naming and file.naming.changed and file.fate
    ]
    if changed:
        yield f"named otherwise on the card: {few(changed, _MOST)}"
    unfit = [file.record for file in files if not file.record.ready]
    if unfit:
        yield f"refused: {few([record.name for record in unfit], _MOST)}"
    yield f"{_counts(prepared)}; exit code {prepared.exit_code}"


def weighty(findings: Iterable[Finding], quiet: bool) -> list[Finding]:
    """The findings to show, the gravest last, each once; quietly only what refuses."""
    order = (Severity.NOTE, Severity.WARN, Severity.REFUSE)
    shown = [
        finding
        for finding in dict.fromkeys(findings)
        if not quiet or finding.severity is Severity.REFUSE
    ]
    return sorted(shown, key=lambda finding: order.index(finding.severity))


def _counts(prepared: Prepared) -> str:
    files = prepared.files
    unfit = sum(not file.record.ready for file in files)
    fates = [str(file.fate) for file in files if file.fate]
    if fates or any(file.naming for file in files):
        kinds = dict.fromkeys(("written", *fates))
        parts = [f"{fates.count(kind)} {kind}" for kind in kinds]
    else:
        parts = [f"{len(files) - unfit} fit for the card"]
    return ", ".join([*parts, f"{unfit} refused"])


def _unfit(record: Record) -> str:
    return {1: "refused", 4: "stopped by a plugin", 5: "not written"}.get(
        record.exit_code, "stopped by a fault of headrace"
    )
