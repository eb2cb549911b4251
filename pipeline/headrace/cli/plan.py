"""headrace plan: what would be done to jobs."""

from __future__ import annotations

from pathlib import Path

import click

from headrace.cli.shared import collected, jobs_argument, planned, recipe_argument, set_option


@click.command("plan", short_help="Show what a recipe would do to jobs; write nothing.")
@recipe_argument
@jobs_argument(required=False)
@set_option
@click.option("--why", is_flag=True, help="Each changed line with the step that changed it.")
def command(recipe: Path, jobs: tuple[Path, ...], overrides: tuple[str, ...], why: bool) -> int:
    """Show what RECIPE would do to JOBS and to its own card files; write nothing.

    Standard output gets a unified difference for each, which `patch` applies; lines that begin
    with # say what each step did. With --why it is a table instead: every line taken out or put
    in, with the step behind it and where the recipe names it.
    """
    from headrace.batch.inspection import inspected
    from headrace.cli.talking import exact, many, say
    from headrace.report.plan_text import difference, reasons

    files, passed = collected(jobs)
    plan, registry, faults = planned(recipe, overrides)
    if not files and not plan.card_files:
        raise click.UsageError("there are no jobs, and the recipe has no card files of its own")
    say([*faults, *passed])
    code = 0
    for seen in inspected(plan, registry, files):
        say(seen.findings, dict.fromkeys(seen.findings, (seen.name,)))
        code = max(code, seen.exit_code)
        if seen.outcome is None or seen.outcome.result is None:
            continue
        if why:
            many(reasons(seen.outcome, plan, seen.steps, seen.takers))
        else:
            for part in difference(seen.outcome, plan, seen.steps, seen.card_name, seen.takers):
                exact(part)
    return code
