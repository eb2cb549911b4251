"""What a recipe would do to a job: the difference, or each changed line with the step behind it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import PurePath
from typing import TYPE_CHECKING

from headrace.program import Cause
from headrace.report.alignment import Change, changes_between
from headrace.report.causes import rows, step_names
from headrace.report.diff import name_from_here, unified
from headrace.report.ranges import Ranges

if TYPE_CHECKING:
    from headrace.batch.inspection import Inspected
    from headrace.outcome import Outcome
    from headrace.program import Program
    from headrace.recipe import Plan


def difference(seen: Inspected, plan: Plan) -> Iterator[bytes]:
    """A legend, which tools skip, and the difference that makes the card file of the job."""
    outcome, result = _through(seen)
    yield from (f"# {line}\n".encode() for line in _legend(seen, plan))
    ranges = Ranges(result)
    causes = causes_of(seen)

    def label(changes: list[Change]) -> str:
        taken = {seen.takers.step_of.get(line) for change in changes for line in _few(change)}
        names = step_names(ranges, changes)
        names += [causes[number - 1].step for number in sorted(n for n in taken if n)]
        return ", ".join(dict.fromkeys(names))

    yield from unified(outcome.source, result, _job_name(seen), seen.card_name, label)


def reasons(seen: Inspected, plan: Plan) -> Iterator[str]:
    """A table: line, sign, the place in the recipe, the step, and the text of the line."""
    outcome, result = _through(seen)
    source, causes = outcome.source, causes_of(seen)
    places = {cause.number: _place(cause) for cause in causes}
    wide = max((len(place) for place in places.values()), default=0)
    widest = max((len(cause.step) for cause in causes), default=0)
    yield f"# {outcome.name} by {plan.recipe.name}: - out of the source, + into the result"
    yield f"# {'line':>6}   {'recipe':<{wide}}  {'step':<{widest}}  text"
    old, new = Ranges(source), Ranges(result)
    for change in changes_between(source, result):
        for row in rows(old, new, change, seen.takers, causes):
            place = places.get(row.cause.number, "") if row.cause else ""
            step = row.cause.step if row.cause else ""
            where = f"{row.line:>8} {row.sign} {place:<{wide}}  {step:<{widest}}"
            yield f"{where}  {row.text}".rstrip()


def _legend(seen: Inspected, plan: Plan) -> Iterator[str]:
    outcome, _ = _through(seen)
    yield f"{outcome.name} by {plan.recipe.name} for {plan.machine.name}"
    for step in seen.steps:
        place = _place(Cause(step.name, step.number, step.place))
        reports = [report for report in outcome.steps if report.number == step.number]
        if not reports:
            yield f"{place} {step.name}: nothing to do"
        for report in reports:
            did = f"{report.added} added, {report.touched} rewritten or taken out"
            yield f"{place} {report.label}: {did}"


def causes_of(seen: Inspected) -> tuple[Cause, ...]:
    """The cause that each step which ran gave to its lines, in the order in which they ran."""
    outcome, _ = _through(seen)
    places = {step.number: step.place for step in seen.steps}
    return tuple(Cause(r.label, r.number, places[r.number]) for r in outcome.steps)


def _through(seen: Inspected) -> tuple[Outcome, Program]:
    """The outcome and the result. Raises ValueError for a job that was refused."""
    if seen.outcome is None or seen.outcome.result is None:
        raise ValueError(f"{seen.name} was refused; there is nothing to compare")
    return seen.outcome, seen.outcome.result


def _job_name(seen: Inspected) -> str | None:
    """How a difference names the job: as it was given, where that is a way from this folder down,
    else by its file's name. None for a card file, which has no job."""
    if seen.job is None:
        return None
    return name_from_here(seen.job.path)


def _place(cause: Cause) -> str:
    if cause.place is None:
        return f"step {cause.number}"
    return f"{PurePath(cause.place.file).name}:{cause.place.line}"


def _few(change: Change) -> range:
    """The first lines taken out: enough to name the steps behind a hunk."""
    return range(change.old_start, min(change.old_stop, change.old_start + 10_000))
