"""The run sheet of a batch, whose facts were gathered where each file was prepared."""

from __future__ import annotations

import traceback
from collections.abc import Iterable, Iterator, Sequence
from contextlib import AbstractContextManager, nullcontext
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from headrace.batch.prepared import Paper, Prepared
from headrace.batch.record import Leaf
from headrace.card.folder import held
from headrace.card.manifest import LIST_NAME, read_manifest
from headrace.card.names import Naming
from headrace.card.run_sheet import need_fit, put_sheet, sheet_findings, sheet_names
from headrace.errors import CardError, HeadraceError
from headrace.findings import Finding
from headrace.findings.text import few

if TYPE_CHECKING:
    from headrace.recipe import Plan
    from headrace.sheet.facts import SheetFacts


def leaves_of(plan: Plan, namings: Sequence[Naming], wanted: bool = True) -> list[Leaf | None]:
    """The places of files on the run sheet, in run order, or none where none is wanted. `namings`
    begin with the card files."""
    if not wanted:
        return [None] * len(namings)
    titles = [card_file.title for card_file in plan.card_files]
    titles += [naming.source for naming in namings[len(titles) :]]
    return [
        Leaf(naming.name, title, f"f{number}")
        for number, (naming, title) in enumerate(zip(namings, titles, strict=True), 1)
    ]


def need_place(sheet: Path, card: Path, plan: Plan, namings: Sequence[Naming]) -> None:
    """Raise CardError where no run sheet can be written to `sheet`, beside files of these names
    where that is in the card folder."""
    need_fit(sheet, card, plan.machine.card)
    names = {naming.name.casefold() for naming in namings}
    if sheet.parent.resolve() == card and sheet.name.casefold() in names:
        what = f"{sheet.name} is to be a file of this run"
        raise CardError(findings=[Finding.of("sheet-name-unfit", what)])


def with_sheet(
    plan: Plan,
    prepared: Prepared,
    standing: Iterable[str],
    sheet: Path,
    holding: Path | None = None,
) -> Prepared:
    """The run with its sheet written, where a file is fit for one; `standing` are names on the
    card, `holding` is the folder that the caller holds. What keeps the page from being written is
    in the findings."""
    from headrace.recipe import lowered

    findings = [*prepared.findings, *lowered(_left_out(prepared, standing), plan.lowerings)]
    if untold := [file.record.untold for file in prepared.files if file.record.untold]:
        code = HeadraceError.exit_code
        return replace(prepared, findings=(*findings, *untold), fault=code)
    prepared = replace(prepared, findings=tuple(findings))
    if not any(file.record.ready for file in prepared.files):
        return replace(prepared, findings=(*findings, _nothing_fit(sheet)))
    try:
        return replace(prepared, paper=_put(plan, prepared, sheet, holding))
    except CardError as error:
        return replace(prepared, findings=(*findings, *error.findings), fault=error.exit_code)
    except Exception as error:  # the card files are written, and that must be told
        said = f"{type(error).__name__}: {error}".splitlines()[0]
        fault = Finding.of("sheet-untold", f"the run sheet could not be made: {said}")
        return replace(
            prepared,
            findings=(*findings, fault),
            fault=HeadraceError.exit_code,
            details="".join(traceback.format_exception(error)),
        )


def facts_of_run(plan: Plan, prepared: Prepared) -> SheetFacts:
    """All that the run sheet says. Files that are not fit are on it as refused."""
    from headrace.sheet.facts import Refused
    from headrace.sheet.whole import sheet_facts

    records = [file.record for file in prepared.files]
    fit = [record.facts for record in records if record.ready and record.facts is not None]
    refused = [Refused(record.name, record.findings) for record in records if not record.ready]
    return sheet_facts(plan, fit, refused, prepared.findings)


def page_findings(card: Path, plan: Plan) -> Iterator[Finding]:
    """What is wrong with the run sheets that lie on a card, as it is written now. CardError."""
    from headrace.recipe import lowered

    if names := sheet_names(card):
        found = sheet_findings(card, names, read_manifest(card / LIST_NAME))
        yield from lowered(found, plan.lowerings)


def _put(plan: Plan, prepared: Prepared, sheet: Path, holding: Path | None) -> Paper:
    """Make the page and write it. CardError."""
    from headrace.sheet.page import page

    facts = facts_of_run(plan, prepared)
    files = {file.name: file.content for file in facts.files}
    is_held = holding is not None and sheet.parent.resolve() == holding.resolve()
    alone: AbstractContextManager[None] = nullcontext() if is_held else held(sheet.parent)
    with alone:
        return Paper(sheet, put_sheet(sheet, page(facts), files))


def _left_out(prepared: Prepared, standing: Iterable[str]) -> Iterator[Finding]:
    """Files that the machine lists and of which the run sheet does not tell."""
    namings = [file.naming.name for file in prepared.files if file.naming and file.record.ready]
    told = {name.casefold() for name in namings}
    ends = {Path(name).suffix.casefold() for name in namings}
    others = [
        name
        for name in sorted(standing)
        if Path(name).suffix.casefold() in ends and name.casefold() not in told
    ]
    if others:
        what = f"on the card, and not on the run sheet: {few(others)}"
        yield Finding.of("sheet-lacks-files", what)


def _nothing_fit(sheet: Path) -> Finding:
    what = "no run sheet was written, for no file is fit for the card"
    if sheet.exists():
        what += f"; {sheet} is an older one"
    return Finding.of("sheet-not-written", what)
