"""The whole run sheet, from what is known of its files."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from headrace.sheet.facts import FileFacts, Refused, SheetFacts

if TYPE_CHECKING:
    from headrace.findings import Finding
    from headrace.recipe import Plan


def sheet_facts(
    plan: Plan,
    files: Sequence[FileFacts],
    refused: Sequence[Refused],
    findings: Sequence[Finding],
) -> SheetFacts:
    """The facts of a sheet; `files` stand in run order, `findings` are those of the whole run."""
    from headrace import __version__
    from headrace.picture.bedding import bedding
    from headrace.sheet.checks import checks

    return SheetFacts(
        title=plan.name,
        recipe=plan.recipe.name,
        machine=plan.machine.name,
        setup=plan.setup.name,
        made_by=f"headrace {__version__}",
        checks=checks(plan, files),
        bedding=bedding(plan.machine, plan.setup, "bed"),
        files=tuple(files),
        refused=tuple(refused),
        findings=tuple(findings),
    )
