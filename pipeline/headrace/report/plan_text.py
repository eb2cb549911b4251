"""What a recipe would do to a job: the difference, or each changed line with the step behind it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import PurePath
from typing import TYPE_CHECKING

from headrace.program import Cause
from headrace.report.alignment import Change, changes_between
from headrace.report.causes import Takers, rows, step_names
from headrace.report.diff import unified
from headrace.report.ranges import Ranges

if TYPE_CHECKING:
    from headrace.program import Program
    from headrace.recipe import Plan, Step
    from headrace.run import Outcome


def difference(
    outcome: Outcome, plan: Plan, steps: Sequence[Step], card_name: str, takers: Takers
) -> Iterator[bytes]:
    """A legend, which `patch` skips, and the unified difference."""
    source, result = outcome.source, _result(outcome)
    yield from (f"# {line}\n".encode() for line in _legend(outcome, plan, steps))
    old_name = outcome.name if len(source) else "/dev/null"
    ranges = Ranges(result)
    causes = _causes(outcome, steps)

    def label(changes: list[Change]) -> str:
        taken = {takers.step_of.get(line) for change in changes for line in _few(change)}
        names = step_names(ranges, changes)
        names += [causes[number - 1].step for number in sorted(n for n in taken if n)]
        return ", ".join(dict.fromkeys(names))

    yield from unified(source, result, old_name, card_name, label)


def reasons(outcome: Outcome, plan: Plan, steps: Sequence[Step], takers: Takers) -> Iterator[str]:
    """A table: line, sign, the place in the recipe, the step, and the text of the line."""
    source, result = outcome.source, _result(outcome)
    causes = _causes(outcome, steps)
    places = {cause.number: _place(cause) for cause in causes}
    wide = max((len(place) for place in places.values()), default=0)
    widest = max((len(cause.step) for cause in causes), default=0)
    yield f"# {outcome.name} by {plan.recipe.name}: - out of the source, + into the result"
    yield f"# {'line':>6}   {'recipe':<{wide}}  {'step':<{widest}}  text"
    old, new = Ranges(source), Ranges(result)
    for change in changes_between(source, result):
        for row in rows(old, new, change, takers, causes):
            place = places.get(row.cause.number, "") if row.cause else ""
            step = row.cause.step if row.cause else ""
            where = f"{row.line:>8} {row.sign} {place:<{wide}}  {step:<{widest}}"
            yield f"{where}  {row.text}".rstrip()


def _legend(outcome: Outcome, plan: Plan, steps: Sequence[Step]) -> Iterator[str]:
    yield f"{outcome.name} by {plan.recipe.name} for {plan.machine.name}"
    for step in steps:
        place = _place(Cause(step.name, step.number, step.place))
        reports = [report for report in outcome.steps if report.number == step.number]
        if not reports:
            yield f"{place} {step.name}: nothing to do"
        for report in reports:
            did = f"{report.added} added, {report.touched} rewritten or taken out"
            yield f"{place} {report.label}: {did}"


def _causes(outcome: Outcome, steps: Sequence[Step]) -> tuple[Cause, ...]:
    """The cause that each step which ran gave to its lines, in the order in which they ran."""
    places = {step.number: step.place for step in steps}
    return tuple(Cause(r.label, r.number, places[r.number]) for r in outcome.steps)


def _result(outcome: Outcome) -> Program:
    if outcome.result is None:
        raise ValueError(f"{outcome.name} was refused; there is nothing to compare")
    return outcome.result


def _place(cause: Cause) -> str:
    if cause.place is None:
        return f"step {cause.number}"
    return f"{PurePath(cause.place.file).name}:{cause.place.line}"


def _few(change: Change) -> range:
    """The first lines taken out: enough to name the steps behind a hunk."""
    return range(change.old_start, min(change.old_stop, change.old_start + 10_000))
