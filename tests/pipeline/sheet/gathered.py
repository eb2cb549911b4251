"""Facts gathered from the gallery's recipes, and from any text on one of its machines."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from pathlib import Path

from headrace.batch.engines.kit import with_python_files
from headrace.outcome import Outcome
from headrace.plugins.registry import load_registry
from headrace.recipe import Plan, load_plan
from headrace.recipe.plan import load_alone
from headrace.run import count_parts, prepare_card_file, prepare_job
from headrace.sheet.facts import FileFacts
from headrace.sheet.files import file_facts

RECIPES = Path(__file__).parents[3] / "recipes"
BENCH, RELAY, SPEED = "bench-hand-switched", "shop-relay", "shop-speed-controlled"
JOBS = {
    "bench-lids": ("lid.nc", "handhold.nc"),
    "bench-setup-cards": (),
    "bench-windows": ("window.ngc",),
    "relay-frames": ("frame-side.nc", "entrance-reducer.nc"),
    "swarm-warning": ("frame-side.nc",),
    "speed-floor-boards": ("floor-board.tap",),
    "speed-window": ("window.ngc",),
    "speed-feeder-boards": ("feeder-board.nc",),
    "speed-feeder-changes": ("feeder-board.nc",),
    "speed-excluder": ("queen-excluder.nc",),
    "clean-text": ("floor-board.tap",),
}


@cache
def gallery(recipe: str) -> tuple[Plan, tuple[tuple[Outcome, FileFacts], ...]]:
    """A recipe of the gallery, with the outcome and the facts of each of its files."""
    registry = load_registry()
    plan = load_plan(RECIPES / f"{recipe}.yaml", registry)
    registry = with_python_files(registry, plan)
    made: dict[str, Outcome] = {}
    for wanted in plan.card_files:
        made[wanted.name] = prepare_card_file(wanted, plan, registry, made)
    found = [(name, None, outcome) for name, outcome in made.items()]
    for job in JOBS[recipe]:
        data = (RECIPES / "jobs" / job).read_bytes()
        splits = registry.transforms[plan.steps[0].name].gives == "parts"
        for part in range(count_parts(job, data, plan, registry) if splits else 1):
            found.append((job, job, prepare_job(job, data, plan, registry, part)))
    return plan, tuple(
        (outcome, file_facts(outcome, plan, "f", name=name, title=name, source=source))
        for name, source, outcome in found
    )


def files(recipe: str) -> list[FileFacts]:
    """The facts of each file of a recipe of the gallery."""
    return [facts for _, facts in gallery(recipe)[1]]


def every() -> list[tuple[Plan, Outcome, FileFacts]]:
    """All files of the gallery."""
    return [(plan, *pair) for plan, pairs in map(gallery, JOBS) for pair in pairs]


@cache
def described(machine: str, setup: str | None, changes: tuple[str, ...]) -> Plan:
    """A machine and a set-up of the gallery, with some other values, without a recipe."""
    return load_alone(
        RECIPES / "machines" / f"{machine}.yaml",
        None if setup is None else RECIPES / "setups" / f"{setup}.yaml",
        "mm",
        changes,
    )


def alone(
    text: str, machine: str = SPEED, setup: str | None = None, changes: Sequence[str] = ()
) -> FileFacts:
    """The facts of a file as it is, on a machine and with a set-up of the gallery, whose values
    `changes` replace; those of a refused file are what it would do."""
    plan = described(machine, setup, tuple(changes))
    outcome = prepare_job("job.nc", text.encode("ascii"), plan, load_registry())
    assert outcome.job is not None, outcome.findings
    outcome = replace(outcome, result=outcome.job.program)
    return file_facts(outcome, plan, "f", name="JOB.NC", title="job.nc", source="job.nc")
