"""The three machines of the workshop, and jobs put through steps with their contracts checked."""

from __future__ import annotations

from copy import deepcopy
from pathlib import Path
from typing import Any

import jsonschema
import pytest
import yaml

from headrace import Dialect, Job, JobRefused, Machine, Place, Program, Setup, State
from headrace.intake import start_state
from headrace.machine import Assumed
from headrace.plugins.registry import load_registry
from headrace.recipe import Step as RecipeStep
from headrace.way import Way
from headrace_transforms import headrace_transforms

RECIPES = Path(__file__).parents[2] / "recipes"
JOBS = Path(__file__).parents[1] / "jobs"
FILES = sorted(path for path in JOBS.iterdir() if path.is_file() and path.name != "README.md")
"""Jobs that are awkward, as real ones are."""
DEMO = sorted(path for path in (RECIPES / "jobs").iterdir() if path.suffix != ".py")
REGISTRY = load_registry()
TRANSFORMS = {transform.name: transform for transform in headrace_transforms()}
MACHINES = {
    "bench": "bench-hand-switched",
    "relay": "shop-relay",
    "speed": "shop-speed-controlled",
}
SETUPS = {"bench": "lids-18", "relay": "frames-9", "speed": "floor-boards-18"}

Step = tuple[str, dict[str, Any]]


def document(folder: str, name: str, changes: dict[str, Any]) -> dict[str, Any]:
    """A YAML file of the recipes with some fields changed; None takes a field out."""
    path = RECIPES / folder / f"{name}.yaml"
    data: dict[str, Any] = deepcopy(yaml.safe_load(path.read_text("utf-8")))
    for field, value in changes.items():
        *parents, last = field.split("/")
        table = data
        for parent in parents:
            table = table.setdefault(parent, {})
        if value is None:
            table.pop(last, None)
        else:
            table[last] = value
    return data


def machine(name: str, changes: dict[str, Any] | None = None) -> Machine:
    return Machine.of(document("machines", MACHINES[name], changes or {}))


def setup(name: str, changes: dict[str, Any] | None = None) -> Setup:
    return Setup.of(document("setups", SETUPS[name], changes or {}))


def job(
    text: str | bytes,
    name: str = "bench",
    *,
    changes: dict[str, Any] | None = None,
    setup_changes: dict[str, Any] | None = None,
    stand_alone: bool = False,
    start: State | None = None,
    assume: str | None = None,
    assumed: Assumed | None = None,
) -> Job:
    """A job as it comes: in the machine's own language, or as is `assumed` of jobs."""
    described = machine(name, changes)
    data = text if isinstance(text, bytes) else text.encode()
    dialect = Dialect.of(described, assume)
    dialect = dialect if assumed is None else dialect.as_jobs_have_it(assumed)
    set_up = setup(name, setup_changes)
    if start is None:
        start = start_state(described, set_up, dialect)
    return Job(
        Program.read(data, "job.nc"),
        described,
        set_up,
        dialect,
        start,
        stand_alone,
    )


def through(job: Job, *steps: str | Step, part: int = 0) -> Job:
    """The job behind some steps, or a part of it where the first one splits it. Options are checked
    by their schema, contracts by the project."""
    way = Way(job, REGISTRY, [])
    for number, step in enumerate(steps, 1):
        name, options = (step, {}) if isinstance(step, str) else step
        jsonschema.validate(options, TRANSFORMS[name].schema())
        try:
            way.take(taken(name, options, number), part)
        except JobRefused as error:
            if error.findings[0].name == "contract-broken":
                pytest.fail(error.findings[0].what)
            raise
    return way.job


def taken(name: str, options: dict[str, Any], number: int = 1) -> RecipeStep:
    """A step of a recipe that nobody wrote."""
    return RecipeStep(name, options, Place("recipe.yaml", number), number)


def text(job: Job) -> list[str]:
    return [line.text for line in job.program]


def refused(job: Job, *steps: str | Step) -> Any:
    """The finding of the last step's refusal; the steps before it must go through."""
    job = through(job, *steps[:-1])
    with pytest.raises(JobRefused) as caught:
        through(job, steps[-1])
    finding = caught.value.findings[0]
    assert finding.why
    assert finding.remedy
    return finding


def serious(job: Job) -> list[str]:
    """What the interpreter finds wrong with a job, in words."""
    return [finding.what for finding in job.trace.findings if finding.severity == "refuse"]
