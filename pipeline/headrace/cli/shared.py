"""What several sub-commands take, and how they begin."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeAlias, TypeVar

import click

from headrace.cli import choices
from headrace.findings import Finding, Severity

if TYPE_CHECKING:
    from headrace.batch import JobFile
    from headrace.batch.engines import Engine
    from headrace.plugins.registry import Registry
    from headrace.recipe import Plan

Command = TypeVar("Command", bound=Callable[..., Any])
Decorator: TypeAlias = "Callable[[Callable[..., Any]], Callable[..., Any]]"

recipe_argument: Decorator = click.argument(
    "recipe",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    shell_complete=choices.recipes,
)
set_option: Decorator = click.option(
    "--set", "overrides", multiple=True, metavar="PATH=VALUE",
    help="A value instead of the recipe's, such as setup.sheet.thickness.most=18.6.",
)  # fmt: skip
workers_option: Decorator = click.option(
    "--jobs", "workers", type=click.IntRange(1, 256), metavar="N",
    help="How many jobs to prepare at a time; as many as there are cores if not given.",
)  # fmt: skip
cluster_option: Decorator = click.option(
    "--cluster", metavar="ADDRESS",
    help="Let the workers of a Dask cluster prepare them; its scheduler is at ADDRESS, such as"
    " tcp://bench:8786. They need this very headrace and its plugins, and the same jobs and Python"
    " files at the same paths; the card they need not see.",
)  # fmt: skip
quiet_option: Decorator = click.option("--quiet", is_flag=True, help="Say only what is wrong.")


def jobs_argument(required: bool) -> Callable[[Command], Command]:
    """Job files, and folders of them."""
    kind = click.Path(exists=True, path_type=Path)
    return click.argument(
        "jobs", nargs=-1, required=required, type=kind, shell_complete=choices.jobs
    )


def card_option(said: str) -> Callable[[Command], Command]:
    """The card folder, with what is said of it in the help."""
    return click.option(
        "--card", required=True, type=click.Path(path_type=Path), metavar="DIR",
        shell_complete=choices.folders, help=said,
    )  # fmt: skip


def need_work(files: Sequence[JobFile], plan: Plan) -> None:
    """Raise UsageError where there is nothing to prepare: neither jobs nor card files."""
    if not files and not plan.card_files:
        raise click.UsageError("there are no jobs, and the recipe has no card files of its own")


def planned(recipe: Path, overrides: Sequence[str]) -> tuple[Plan, Registry, list[Finding]]:
    """The plan, the transforms it may name, and plugins that could not be loaded (as warnings:
    a recipe that needs one of them is refused by itself)."""
    from headrace.batch.engines.kit import with_python_files
    from headrace.cli.leave import known_registry
    from headrace.recipe import load_plan

    installed = known_registry()
    plan = load_plan(recipe, installed, overrides)
    registry = with_python_files(installed, plan)
    faults = [replace(fault, severity=Severity.WARN) for fault in registry.faults]
    return plan, registry, faults


def collected(jobs: Sequence[Path]) -> tuple[tuple[JobFile, ...], list[Finding]]:
    """The jobs meant, and what was passed over. Raises UsageError where there are none."""
    from headrace.batch import collect_jobs
    from headrace.cli.talking import say

    try:
        files, passed = collect_jobs(jobs)
    except OSError as error:
        raise click.UsageError(f"{error.filename} cannot be listed: {error.strerror}") from error
    if jobs and not files:
        say(passed)
        raise click.UsageError("there are no jobs: " + ", ".join(str(path) for path in jobs))
    return files, list(passed)


@contextmanager
def engine_for(workers: int | None, cluster: str | None = None) -> Iterator[Engine | None]:
    """What carries a batch out; None where it may be chosen by what there is to do.

    Raises UsageError or EngineError.
    """
    if cluster is None:
        from headrace.batch.engines import Processes

        yield None if workers is None else Processes(workers)
        return
    if workers is not None:
        raise click.UsageError("--jobs counts processes here; with --cluster there are none")
    from headrace.batch.engines.cluster import engine_on

    with engine_on(cluster) as engine:
        yield engine
