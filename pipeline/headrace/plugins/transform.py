"""What a transform is: a function from a job to edits, and a contract on what they may change."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from keyword import iskeyword
from typing import TYPE_CHECKING, Any

from headrace.errors import PluginError
from headrace.findings import Finding, Place
from headrace.plugins.contract import Affine, Contract, Facet

if TYPE_CHECKING:
    from headrace.job import Job
    from headrace.program import Edit


@dataclass(frozen=True, slots=True)
class Transform:
    """A named transform: what it does, what it may change, what options it takes.

    `adds_motion` says that lines which the transform inserts may move the machine. Moves of the
    job's own lines may not change, but as `affine` and `within` allow it: functions of the job and
    the options, as `apply` is, which give the map (three rows of `x, y, z, shift`; mm) and the
    tolerance (mm).
    """

    name: str
    apply: Callable[..., Iterable[Edit]]
    may_change: frozenset[Facet]
    adds_motion: bool
    options: Mapping[str, Mapping[str, Any]]
    required: tuple[str, ...]
    provider: str = field(default="", compare=False)
    affine: Callable[..., Sequence[Sequence[float]]] | None = None
    within: Callable[..., float] | None = None

    @property
    def summary(self) -> str:
        """The first line of the docstring."""
        return self.doc.splitlines()[0]

    @property
    def doc(self) -> str:
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

    def edits(self, job: Job, options: Mapping[str, Any]) -> Iterable[Edit]:
        """The edits for `job`; `options` as the recipe writes them, defaults filled in here."""
        return self.apply(job, **self._given(options))

    def contract(self, job: Job, options: Mapping[str, Any]) -> Contract:
        """What this transform may change in `job` with these options."""
        given = self._given(options)
        within = 0.0 if self.within is None else float(self.within(job, **given))
        if not 0 <= within < float("inf"):
            raise ValueError(f"a tolerance is a length of 0 or more, not {within}")
        affine = None if self.affine is None else Affine.of(self.affine(job, **given))
        return Contract(self.may_change, self.adds_motion, affine, within)

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
    affine: Callable[..., Sequence[Sequence[float]]] | None = None,
    within: Callable[..., float] | None = None,
) -> Callable[[Callable[..., Iterable[Edit]]], Transform]:
    """Make a function a transform.

    The function takes the job and one keyword-only parameter an option (`run-up` becomes
    `run_up`, `from` becomes `from_`), and gives edits. Each option is a JSON Schema; its `default`,
    else None, is passed when the recipe is silent. The docstring's first line is what
    `headrace transforms` shows. A transform that maps the cut path, or writes it anew within a
    tolerance, gives `affine` or `within`: functions of the same job and options.

    Raises PluginError when parameters and options disagree or the docstring is missing.
    """
    schemas = dict(options or {})
    wanted, declared = tuple(required), tuple(changes)

    def decorate(function: Callable[..., Iterable[Edit]]) -> Transform:
        _verify(name, function, schemas, wanted, declared)
        facets = frozenset(Facet(facet) for facet in declared)
        return Transform(
            name, function, facets, adds_motion, schemas, wanted, affine=affine, within=within
        )

    return decorate


def parameter(option: str) -> str:
    """The function's parameter for an option.

    >>> parameter("run-up"), parameter("from")
    ('run_up', 'from_')
    """
    name = option.replace("-", "_")
    return f"{name}_" if iskeyword(name) else name


def _verify(
    name: str,
    function: Callable[..., Any],
    options: Mapping[str, Any],
    required: tuple[str, ...],
    declared: tuple[Facet, ...],
) -> None:
    code = inspect.unwrap(function).__code__
    place = Place(code.co_filename, code.co_firstlineno)
    parameters = list(inspect.signature(function).parameters.values())
    given = {p.name for p in parameters if p.kind is p.KEYWORD_ONLY}
    offered = {parameter(option) for option in options}
    positional = [p for p in parameters if p.kind in (p.POSITIONAL_ONLY, p.POSITIONAL_OR_KEYWORD)]
    faults = []
    if not inspect.getdoc(function):
        faults.append("has no docstring; its first line is what users see")
    if len(positional) != 1:
        faults.append("must take exactly one positional parameter, the job")
    if missing := sorted(given - offered):
        faults.append(f"takes {', '.join(missing)}, for which there is no option")
    if missing := sorted(offered - given):
        faults.append(f"has the option {', '.join(missing)}, but takes no such keyword")
    if unknown := sorted({str(facet) for facet in declared} - {*Facet}):
        faults.append(f"says that it changes {', '.join(unknown)}; facets are {', '.join(Facet)}")
    if unknown := sorted(set(required) - set(options)):
        faults.append(f"requires {', '.join(unknown)}, which is no option")
    if faults:
        raise PluginError(
            findings=[
                Finding.of("plugin-faulty", f"transform `{name}` {fault}", place)
                for fault in faults
            ]
        )
