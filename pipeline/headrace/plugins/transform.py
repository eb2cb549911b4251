"""What a transform is: a function from a job to edits, and a contract on what they may change."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, fields
from typing import TYPE_CHECKING, Any

from headrace.plugins.contract import Affine, Contract, Facet, Renumbering, Wrap
from headrace.plugins.declaration import Declared, listed, need_name, parameter, verify
from headrace.plugins.trailing import Trailing

if TYPE_CHECKING:
    from headrace.job import Job
    from headrace.language import Dialect
    from headrace.program import Edit


@dataclass(frozen=True, slots=True)
class Terms:
    """What a contract says that hangs on the job: functions of the job and the options, as the
    transform itself is.

    `affine` gives the map of the path (three rows of `x, y, z, shift`; mm), `within` how far it may
    stray (mm), `feed_within` and `speed_within` by how much feeds (mm/min) and speeds (rev/min)
    may be rounded, `renumbers` what becomes of work offset systems, `wraps` which linear axes go
    onto rotary ones, `trails` what tip cuts behind the axis, `facets` which of the facets that may
    change do so here, and `dialect` the dialect in which the result is to be read.
    """

    affine: Callable[..., Sequence[Sequence[float]]] | None = None
    within: Callable[..., float] | None = None
    feed_within: Callable[..., float] | None = None
    speed_within: Callable[..., float] | None = None
    renumbers: Callable[..., Iterable[Renumbering]] | None = None
    wraps: Callable[..., Iterable[Wrap]] | None = None
    trails: Callable[..., Trailing] | None = None
    facets: Callable[..., Iterable[Facet]] | None = None
    dialect: Callable[..., Dialect] | None = None


def _tolerance(function: Callable[..., float] | None, job: Job, given: Mapping[str, Any]) -> float:
    value = 0.0 if function is None else float(function(job, **given))
    if not 0 <= value < float("inf"):
        raise ValueError(f"a tolerance is 0 or more, not {value}")
    return value


@dataclass(frozen=True, slots=True)
class Transform:
    """A named transform: what it does, what it may change, what options it takes.

    `gives` says what `apply` makes of a job: `edits`, the `parts` into which it is split, or the
    further `steps` to take. `adds_motion` says that lines which the transform inserts may move the
    machine, `detours` that a rapid may go by the corner. Moves of the job's own lines may not
    change otherwise, but as `terms` allow it. `idempotent` says that a second run with the same
    options finds nothing to do.
    """

    name: str
    apply: Callable[..., Iterable[Edit]]
    may_change: frozenset[Facet]
    adds_motion: bool
    options: Mapping[str, Mapping[str, Any]]
    required: tuple[str, ...]
    provider: str = field(default="", compare=False)
    gives: str = "edits"
    detours: bool = False
    terms: Terms = Terms()
    idempotent: bool = False

    @property
    def summary(self) -> str:
        """The first line of the docstring."""
        return self.doc.splitlines()[0]

    @property
    def doc(self) -> str:
        """What people are told of it: the docstring of its function."""
        return inspect.getdoc(self.apply) or ""

    def schema(self) -> dict[str, Any]:
        """The JSON Schema (2020-12) of the options."""
        schema: dict[str, Any] = {
            "type": "object",
            "description": self.summary,
            "properties": {name: dict(option) for name, option in self.options.items()},
            "additionalProperties": False,
        }
        if self.required:
            schema["required"] = list(self.required)
        return schema

    def given(self, job: Job, options: Mapping[str, Any]) -> Iterable[Any]:
        """What it makes of `job`, of the kind that `gives` says: edits, as a rule. `options` are as
        the recipe writes them; defaults are filled in here."""
        return self.apply(job, **self._given(options))

    def contract(self, job: Job, options: Mapping[str, Any]) -> Contract:
        """What this transform may change in `job` with these options."""
        given = self._given(options)
        terms = self.terms
        facets = self.may_change
        if terms.facets is not None:
            facets = facets & {Facet(facet) for facet in terms.facets(job, **given)}
        return Contract(
            facets,
            self.adds_motion,
            None if terms.affine is None else Affine.of(terms.affine(job, **given)),
            _tolerance(terms.within, job, given),
            _tolerance(terms.feed_within, job, given),
            _tolerance(terms.speed_within, job, given),
            self.detours,
            () if terms.renumbers is None else tuple(terms.renumbers(job, **given)),
            () if terms.wraps is None else tuple(terms.wraps(job, **given)),
            () if terms.trails is None else (terms.trails(job, **given),),
        )

    def dialect(self, job: Job, options: Mapping[str, Any]) -> Dialect:
        """The dialect in which the result is to be read."""
        if self.terms.dialect is None:
            return job.dialect
        return self.terms.dialect(job, **self._given(options))

    def _given(self, options: Mapping[str, Any]) -> dict[str, Any]:
        return {
            parameter(name): options.get(name, option.get("default"))
            for name, option in self.options.items()
        }


def transform(
    name: str,
    *,
    changes: Iterable[Facet] = (),
    adds_motion: bool = False,
    options: Mapping[str, Mapping[str, Any]] | None = None,
    required: Iterable[str] = (),
    gives: str = "edits",
    detours: bool = False,
    idempotent: bool = False,
    **terms: Callable[..., Any],
) -> Callable[[Callable[..., Iterable[Any]]], Transform]:
    """Make a function a transform.

    The function takes the job and one keyword-only parameter an option (`run-up` becomes
    `run_up`, `from` becomes `from_`), and gives edits. Each option is a JSON Schema; its `default`,
    else None, is passed when the recipe is silent. The docstring's first line is what
    `headrace transforms` shows. `terms` are the functions of `Terms`, by name: a transform that
    maps the cut path gives `affine`, one that rounds feeds `feed_within`, and so on.
    `idempotent=True` says that a second run finds nothing to do; `headrace.testing` tries that.

    With `gives="parts"` the function gives the `Part`s into which a job is split; with
    `gives="steps"` it is a generator that yields `Use`s and is sent the job as each left it.

    Raises PluginError when parameters and options disagree or the docstring is missing.
    """
    need_name(name)
    changes, required = listed(changes), listed(required)
    known = tuple(each.name for each in fields(Terms))
    told = Declared(name, changes, options or {}, required, gives, terms, known)

    def decorate(function: Callable[..., Iterable[Any]]) -> Transform:
        verify(told, function)
        return Transform(
            name,
            function,
            frozenset(Facet(facet) for facet in changes),
            adds_motion,
            dict(options or {}),
            tuple(required),
            gives=gives,
            detours=detours,
            terms=Terms(**terms),
            idempotent=idempotent,
        )

    return decorate
