"""What a recipe would do to jobs as plain data: the difference, and each changed line with its
step."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING

from headrace.findings import Finding
from headrace.report.alignment import changes_between
from headrace.report.causes import rows
from headrace.report.plain import Data, finding_list, proof_data, step_list
from headrace.report.plan_text import causes_of, difference
from headrace.report.ranges import Ranges

if TYPE_CHECKING:
    from headrace.batch.inspection import Inspected
    from headrace.recipe import Plan

_UNFIT = {1: "refused", 4: "stopped-by-plugin"}


def plan_data(
    files: Sequence[Data], plan: Plan, findings: Iterable[Finding], exit_code: int
) -> Data:
    """What would be done to all jobs and card files; `files` are those of `planned_file`."""
    return {
        "format": "headrace-plan/1",
        "exit-code": exit_code,
        "recipe": str(plan.recipe),
        "machine": plan.machine.name,
        "findings": finding_list(findings),
        "files": list(files),
    }


def planned_file(seen: Inspected, plan: Plan) -> Data:
    """What would be done to one of them."""
    outcome = seen.outcome
    fit = outcome is not None and outcome.result is not None
    return {
        "name": seen.name,
        "card-name": seen.card_name,
        "fate": "fit" if fit else _UNFIT.get(seen.exit_code, "stopped-by-fault"),
        "exit-code": seen.exit_code,
        "steps": [] if outcome is None else step_list(outcome.steps),
        "proof": None if outcome is None else proof_data(outcome.proof),
        "findings": finding_list(seen.findings),
        "difference": _difference(seen, plan) if fit else None,
        "changes": list(_changes(seen)) if fit else [],
    }


def _difference(seen: Inspected, plan: Plan) -> Data:
    """The unified difference: as text of UTF-8 where its bytes are that, else of Latin-1, which
    any bytes are."""
    data = b"".join(difference(seen, plan))
    try:
        return {"text": data.decode("utf-8"), "encoding": "utf-8"}
    except UnicodeDecodeError:
        return {"text": data.decode("latin-1"), "encoding": "iso-8859-1"}


def _changes(seen: Inspected) -> Iterator[Data]:
    assert seen.outcome is not None
    assert seen.outcome.result is not None
    source, result = seen.outcome.source, seen.outcome.result
    old, new = Ranges(source), Ranges(result)
    causes = causes_of(seen)
    for change in changes_between(source, result):
        for row in rows(old, new, change, seen.takers, causes):
            cause = row.cause
            place = cause.place if cause else None
            yield {
                "sign": row.sign,
                "line": row.line,
                "text": row.text,
                "step": cause.step if cause else None,
                "number": cause.number if cause else None,
                "recipe-file": place.file if place else None,
                "recipe-line": place.line if place else None,
            }
