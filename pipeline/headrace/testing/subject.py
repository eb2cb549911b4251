"""The transform under test, and what it makes of a job by the real run."""

from __future__ import annotations

import inspect
import traceback
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from types import CodeType
from typing import Any

from headrace.errors import HeadraceError, JobRefused, PluginError
from headrace.findings import Place
from headrace.job import Job
from headrace.plugins import Transform
from headrace.plugins.registry import Registry, load_registry
from headrace.program import Cause
from headrace.recipe import Step
from headrace.testing.case import Case
from headrace.way import Way

Ahead = Sequence[Transform | str | Mapping[str, Any]]
"""Steps in order: transforms or their names, each with its options behind it where it has some."""


@dataclass(frozen=True)
class Made:
    """What a step made of a job: the job behind it, or why there is none. `lent` is how the
    machine, the set-up and the start state were before it, where that was kept."""

    job: Job | None = None
    refused: JobRefused | None = None
    failed: BaseException | None = None
    lent: tuple[object, ...] = ()

    @property
    def data(self) -> bytes | None:
        return None if self.job is None else self.job.program.to_bytes()

    @property
    def key(self) -> object:
        """What tells two apart: the bytes, or the words of the refusal."""
        if self.refused is not None:
            return [(finding.name, finding.what) for finding in self.refused.findings]
        return self.data if self.failed is None else type(self.failed)

    def __str__(self) -> str:
        if self.refused is not None:
            return f"a refusal, {self.refused.message!r}"
        if self.failed is not None:
            return told(self.failed)
        return repr((self.data or b"").decode("utf-8", "replace"))


@dataclass(frozen=True)
class Subject:
    """A transform, and the steps that go ahead of it."""

    transform: Transform
    ahead: tuple[Step, ...]
    registry: Registry

    @classmethod
    def of(cls, transform: Transform, ahead: Ahead = ()) -> Subject:
        """Raises TypeError or KeyError where `ahead` is no list of steps."""
        steps, given = steps_of(ahead)
        return cls(transform, steps, registry_with([*given, transform]))

    def ready(self, case: Case, *, in_bulk: bool = False) -> Job | None:
        """The job of a case behind the steps that go ahead; None where they refuse it."""
        job = case.job(in_bulk=in_bulk)
        if not self.ahead:
            return job
        way = Way(job, self.registry, [])
        try:
            for step in self.ahead:
                way.take(step, 0)
        except JobRefused:
            return None
        return way.job

    def made(self, job: Job, case: Case) -> Made:
        """What the step makes of a job, its contract proved as in every run."""
        way = Way(job, self.registry, [])
        lent = way.lent
        try:
            way.take(step_of(self.transform.name, case.options, len(self.ahead) + 1), case.part)
        except JobRefused as error:
            own = error.__cause__  # what the step itself has raised, as it raised it
            return Made(refused=own if isinstance(own, JobRefused) else error, lent=lent)
        except (Exception, SystemExit) as error:
            return Made(failed=error, lent=lent)
        return Made(way.job, lent=lent)

    def made_quickly(self, job: Job, case: Case) -> Made:
        """The same without the proof, where the step gives edits."""
        if self.transform.gives != "edits":
            return self.made(job, case)
        try:
            edits = list(self.transform.given(job, case.options))
            program = job.program.edited(edits, Cause(self.transform.name, 1))
        except JobRefused as error:
            return Made(refused=error)
        except (Exception, SystemExit) as error:
            return Made(failed=error)
        return Made(job if program is job.program else job.with_program(program))


@cache
def _installed() -> Registry:
    return load_registry()


def registry_with(transforms: Sequence[Transform]) -> Registry:
    """The installed transforms, and some that take the place of those of their names."""
    installed = _installed()
    known = {**installed.transforms, **{each.name: each for each in transforms}}
    return replace(installed, transforms=known)


def steps_of(ahead: Ahead) -> tuple[tuple[Step, ...], list[Transform]]:
    """Steps as the run takes them, and the transforms that were given themselves."""
    steps: list[Step] = []
    known: list[Transform] = []
    for each in ahead:
        if isinstance(each, Transform):
            known.append(each)
            steps.append(step_of(each.name, {}, len(steps) + 1))
        elif isinstance(each, str):
            if each not in _installed().transforms:
                raise KeyError(f"there is no installed transform {each!r}")
            steps.append(step_of(each, {}, len(steps) + 1))
        elif isinstance(each, Mapping) and steps and not steps[-1].options:
            steps[-1] = replace(steps[-1], options=dict(each))
        else:
            raise TypeError(f"{each!r} is no step: give a transform or a name, then its options")
    return tuple(steps), known


def step_of(name: str, options: Mapping[str, Any], number: int) -> Step:
    """A step that no recipe has written."""
    return Step(name, options, Place("steps", number), number)


def code_of(transform: Transform) -> CodeType:
    """The code of the function that a transform was made of."""
    code: CodeType = inspect.unwrap(transform.apply).__code__
    return code


def told(error: BaseException) -> str:
    """An error in words, with the line of its author's code that it comes from."""
    if isinstance(error, HeadraceError) and error.__cause__ is None:
        return error.message
    cause = error.__cause__ if isinstance(error, PluginError) and error.__cause__ else error
    frames = traceback.extract_tb(cause.__traceback__)
    where = f" ({Path(frames[-1].filename).name}:{frames[-1].lineno})" if frames else ""
    return f"{type(cause).__name__}: {cause}{where}"
