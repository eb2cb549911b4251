"""headrace plan: what would be done to jobs."""

from __future__ import annotations

from pathlib import Path

import click

from headrace.cli.asked import Asked, json_option
from headrace.cli.shared import (
    collected,
    jobs_argument,
    need_work,
    planned,
    recipe_argument,
    set_option,
)


@click.command("plan", short_help="Show what a recipe would do to jobs; write nothing.")
@recipe_argument
@jobs_argument(required=False)
@set_option
@click.option("--why", is_flag=True, help="Each changed line with the step that changed it.")
@json_option
def command(
    asked: Asked, recipe: Path, jobs: tuple[Path, ...], overrides: tuple[str, ...], why: bool
) -> int:
    """Show what RECIPE would do to JOBS and to its own card files; write nothing.

    Standard output gets a unified difference for each, of which `git apply` or `patch -p1` makes
    the card file; lines that begin with # say what each step did. With --why it is a table instead:
    every line taken out or put in, with the step behind it and where the recipe names it.
    """
    from headrace.batch.inspection import inspected
    from headrace.cli.talking import exact, many, say
    from headrace.report.plain_plan import plan_data, planned_file
    from headrace.report.plan_text import difference, reasons

    files, passed = collected(jobs)
    plan, registry, faults = planned(recipe, overrides)
    need_work(files, plan)
    findings = [*faults, *passed]
    say(findings)
    code, documents = 0, []
    for seen in inspected(plan, registry, files):
        say(seen.findings, dict.fromkeys(seen.findings, (seen.name,)))
        code = max(code, seen.exit_code)
        if asked.json:
            documents.append(planned_file(seen, plan))
        elif seen.outcome is None or seen.outcome.result is None:
            continue
        elif why:
            many(reasons(seen, plan))
        else:
            for part in difference(seen, plan):
                exact(part)
    asked.answer(lambda: plan_data(documents, plan, findings, code))
    return code
