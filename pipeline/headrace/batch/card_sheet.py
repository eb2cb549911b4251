"""The run sheet of a card that was prepared before: what the jobs come to now must be, byte for
byte, what the card has."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from headrace.batch.engines import Engine
from headrace.batch.examination import examine_jobs
from headrace.batch.outdated import older_than_refused
from headrace.batch.prepared import Prepared
from headrace.batch.record import Record
from headrace.batch.sheets import need_place, page_findings, with_sheet
from headrace.batch.sources import JobFile
from headrace.batch.work import nobody
from headrace.card.run_sheet import need_fit
from headrace.card.verification import Verified, verify_card
from headrace.errors import CardError
from headrace.findings import Finding, Severity

if TYPE_CHECKING:
    from headrace.plugins.registry import Registry
    from headrace.recipe import Plan

_OF_PAGES = frozenset(("sheet-outdated", "sheet-altered"))
"""Findings on run sheets on the card: one of them may be about to be replaced."""


def sheet_of_card(
    plan: Plan,
    registry: Registry,
    jobs: Sequence[JobFile],
    card: Path,
    sheet: Path,
    *,
    engine: Engine | None = None,
    told: Callable[[Record], None] = nobody,
) -> Prepared:
    """Go through the recipe's card files and all jobs, compare them with the card, and write their
    run sheet to `sheet`; on the card nothing else is touched.

    Raises CardError, and has written nothing, where the card is not as its list says, or a file on
    it is not what its job comes to.
    """
    from headrace.recipe import lowered

    if not card.is_dir():
        verify_card(card)  # which says what is there instead
    need_fit(sheet, card, plan.machine.card)
    prepared = examine_jobs(plan, registry, jobs, engine=engine, told=told, for_sheet=True)
    need_place(sheet, card.resolve(), plan, [file.naming for file in prepared.files if file.naming])
    verified = verify_card(card)
    of_card = [f for f in verified.findings if f.name not in _OF_PAGES]
    findings = list(lowered([*of_card, *_differences(prepared, verified, plan)], plan.lowerings))
    if any(finding.severity is Severity.REFUSE for finding in findings):
        raise CardError(findings=findings)
    prepared = replace(prepared, findings=tuple(findings))
    standing = [file.found for file in verified.files if file.found is not None]
    strangers = [stranger.name for stranger in verified.strangers]
    prepared = with_sheet(plan, prepared, [*standing, *strangers], sheet)
    return replace(prepared, findings=(*prepared.findings, *page_findings(card, plan)))


def _differences(prepared: Prepared, verified: Verified, plan: Plan) -> Iterator[Finding]:
    """Files that stand otherwise on the card than the jobs come to, or not on its list; and what
    the card still has of jobs that are refused now."""
    entries = {file.name.casefold(): file.entry for file in verified.files}
    for file in prepared.files:
        if file.naming is None:
            continue
        name, source, recipe = file.naming.name, file.naming.source, plan.recipe.name
        entry = entries.get(name.casefold())
        if not file.record.ready:
            if entry is not None:
                yield older_than_refused(file.naming, entry, recipe)
        elif entry is None:
            what = f"{name} is not on the list of the card, and {source} comes to it"
            yield Finding.of("sheet-file-unlisted", what)
        elif entry.content != file.record.content:
            what = f"{name} on the card is not what {source} comes to by {recipe} now"
            yield Finding.of("sheet-file-differs", what)
