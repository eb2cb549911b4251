"""headrace keep: outcomes under version control, and whether they are still the same."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from headrace.cli import choices
from headrace.cli.asked import Asked, json_option
from headrace.cli.shared import (
    collected,
    need_work,
    planned,
    quiet_option,
    set_option,
)
from headrace.errors import HeadraceError, JobRefused
from headrace.findings import Finding

if TYPE_CHECKING:
    from headrace.batch import JobFile
    from headrace.batch.keeping import Turn
    from headrace.batch.kept import Case
    from headrace.batch.outcomes import Made


@click.command("keep", short_help="Keep what a recipe makes of jobs, or check that it still does.")
@click.argument(
    "paths", nargs=-1, metavar="[RECIPE] [JOBS]... | FOLDERS...",
    type=click.Path(exists=True, path_type=Path), shell_complete=choices.recipes_and_jobs,
)  # fmt: skip
@click.option(
    "--in", "folder", type=click.Path(path_type=Path), metavar="FOLDER",
    shell_complete=choices.folders,
    help="Keep what RECIPE makes of JOBS in this folder, which is made if it is not there.",
)  # fmt: skip
@click.option(
    "--check", "checking", is_flag=True,
    help="Make all that is kept in FOLDERS again, and show what is different; write nothing.",
)  # fmt: skip
@set_option
@quiet_option
@json_option
def command(
    asked: Asked,
    paths: tuple[Path, ...],
    folder: Path | None,
    checking: bool,
    overrides: tuple[str, ...],
    quiet: bool,
) -> int:
    """Keep what a recipe makes of jobs in a folder under version control.

    With --in, FOLDER gets the outcomes as they would be on the card, and a list, KEPT.json, of what
    they were made from and what was said of them. A job that is refused is kept as refused.

    With --check, everything that is kept in FOLDERS, or below them, is made again and compared: the
    exit code is 1 where an outcome, a finding or a refusal is not what was kept, or where a kept
    file was edited; --set shows what would come of another value. Without it, FOLDERS are renewed.

    \b
        headrace keep recipes/bench-lids.yaml recipes/jobs/lid.nc --in kept/lids
        headrace keep --check kept
        headrace keep kept/lids
    """
    from headrace.cli.talking import talk
    from headrace.report.kept_text import folders_line
    from headrace.report.plain_kept import keep_data

    if folder is not None:
        cases: dict[Path, Case | None] = {folder: _case(paths, overrides, checking)}
    elif overrides and not checking:
        raise click.UsageError("--set goes with --in or --check; what is kept has its own")
    else:
        cases = dict.fromkeys(_folders(paths))
    turns = []
    for each, case in cases.items():
        turns.append(_taken(each, case, overrides, checking))
        _tell(turns[-1], checking, quiet, asked.text)
    code = max(turn.exit_code for turn in turns)
    if len(turns) > 1 and (code or not quiet):
        talk(folders_line(turns, code))
    asked.answer(lambda: keep_data(turns, checking, code))
    return code


def _case(paths: Sequence[Path], overrides: tuple[str, ...], checking: bool) -> Case:
    """The recipe and the jobs that are to be kept. Raises UsageError."""
    from headrace.batch.kept import Case

    if checking:
        raise click.UsageError("--check goes without --in; name the folder itself")
    if not paths or paths[0].is_dir():
        raise click.UsageError("name the recipe first, then the jobs")
    return Case(paths[0], tuple(paths[1:]), overrides)


def _folders(paths: Sequence[Path]) -> list[Path]:
    """All kept folders among or below the paths. Raises UsageError where there is none."""
    from headrace.batch.kept import kept_folders

    if not paths:
        raise click.UsageError("name a kept folder; or a recipe and jobs, with --in FOLDER")
    found: list[Path] = []
    for path in paths:
        if not path.is_dir():
            raise click.UsageError(
                f"{path} is no folder; a recipe and its jobs go with --in FOLDER"
            )
        here = list(kept_folders(path))
        if not here:
            raise click.UsageError(f"nothing is kept in {path}: there is no KEPT.json in or below")
        found += here
    return list(dict.fromkeys(found))


def _taken(folder: Path, case: Case | None, overrides: tuple[str, ...], checking: bool) -> Turn:
    """One folder, made again, and compared or written. An error that ends it is in the turn."""
    from headrace.batch.keeping import Turn, compare, keep
    from headrace.batch.kept import read_kept

    try:
        before = read_kept(folder)
        if case is None:
            assert before is not None  # its list has been seen
            case = before.case(folder, overrides)
        made, told = _made(folder, case, checking)
        if checking and before is not None:
            compared = compare(folder, before, made)
        else:
            compared = keep(folder, before, made)
    except HeadraceError as error:
        return Turn(folder, None, error.findings, error.exit_code)
    return Turn(folder, compared, (*told, *compared.findings), compared.exit_code)


def _made(folder: Path, case: Case, checking: bool) -> tuple[Made, list[Finding]]:
    """What comes of a case now, and what else there is to tell."""
    from headrace.batch.outcomes import make

    files, passed = _still_there(case.jobs) if checking else collected(case.jobs)
    plan, registry, faults = planned(case.recipe, case.overrides)
    if not checking:
        need_work(files, plan)
    return make(plan, registry, files, case, folder), [*faults, *passed]


def _still_there(jobs: Sequence[Path]) -> tuple[tuple[JobFile, ...], list[Finding]]:
    """The jobs, of which there may be none any more. Raises JobRefused."""
    from headrace.batch import collect_jobs

    try:
        files, passed = collect_jobs(jobs)
    except OSError as error:
        what = f"{error.filename} cannot be listed: {error.strerror}"
        raise JobRefused(findings=[Finding.of("job-unreadable", what)]) from error
    return files, list(passed)


def _tell(turn: Turn, checking: bool, quiet: bool, text: bool) -> None:
    """What came of a folder: lines to standard output, findings to standard error."""
    from headrace.cli.talking import data, many, say
    from headrace.report.kept_changes import changes_since
    from headrace.report.kept_text import difference, headline, outcome_lines, told_of
    from headrace.report.outcomes import weighty

    compared = turn.compared
    if compared is not None and text and not (quiet and not turn.exit_code):
        data(headline(compared, checking))
        many(f"  {line}" for line in outcome_lines(compared))
        many(f"  since then: {line}" for line in changes_since(compared))
        if checking:
            many(difference(compared))
    of = {} if compared is None or checking else told_of(compared)
    say(weighty([*turn.findings, *of], quiet), of)
