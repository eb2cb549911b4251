"""Steps: bound to no function, only named, so that a plan can go to another process."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from headrace.findings import Finding, Place
from headrace.plugins.transform import Transform
from headrace.recipe.node import Items, Node, Table, plain
from headrace.recipe.validation import Subject, schema_findings, shortened
from headrace.recipe.wording import listed, nearest, told


@dataclass(frozen=True, slots=True)
class Step:
    """A transform by name, its options as the recipe writes them, and where that is.

    `number` counts from 1 in the list of steps.
    """

    name: str
    options: Mapping[str, Any]
    place: Place
    number: int


def steps_of(node: Node) -> tuple[Step, ...]:
    """The steps of a list that the recipe schema has accepted."""
    return tuple(
        Step(name, plain(options), place, number)
        for number, (name, options, place) in enumerate(_named(node), 1)
    )


def step_findings(
    node: Node, transforms: Mapping[str, Transform], stand_alone: bool = False
) -> list[Finding]:
    """What is wrong with the steps, of jobs or of a file that stands alone: unknown names, options
    that their transforms refuse, and a job that is split too late."""
    found: list[Finding] = []
    for number, (name, options, place) in enumerate(_named(node)):
        if (known := transforms.get(name)) is None:
            found.append(_unknown(name, place, transforms))
        elif known.gives == "parts" and (number or stand_alone):
            behind = "a file without a job is not split" if stand_alone else "other steps before it"
            what = f"the step {told(name)} splits jobs: {behind}"
            found.append(Finding.of("recipe-split-late", what, place))
        else:
            subject = Subject(options, f"the step {told(name)}", place)
            found.extend(schema_findings(subject, known.schema()))
    return shortened(found)


def _named(node: Node) -> list[tuple[str, Node, Place]]:
    named: list[tuple[str, Node, Place]] = []
    for item in node.items if isinstance(node, Items) else ():
        if isinstance(item, Table):
            for name, entry in item.entries.items():
                named.append((name, entry.node, entry.key))
        else:
            named.append((str(plain(item)), Table({}, item.place), item.place))
    return named


def _unknown(name: str, place: Place, transforms: Mapping[str, Transform]) -> Finding:
    close = nearest(name, transforms)
    hint = f"did you mean `{close}`? " if close else ""
    what = f"there is no transform {told(name)}"
    remedy = f"{hint}known are: {listed(sorted(transforms))}"
    return Finding.of("recipe-unknown-step", what, place, remedy=remedy)
