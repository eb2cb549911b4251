"""The hooks. One offers, one watches; neither orders: the recipe alone does."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from headrace.plugins.hooks import hookspec

if TYPE_CHECKING:
    from headrace.plugins.transform import Transform
    from headrace.program import Program


@hookspec
def headrace_transforms() -> Iterable[Transform]:
    """Offer transforms that a recipe may name.

    Called once, before a recipe's steps are bound.
    """
    raise NotImplementedError


@hookspec
def headrace_step_done(name: str, before: Program, after: Program) -> None:
    """Watch a step that has run and has kept its contract.

    `name` is the transform's, `before` and `after` are the programs around the step.
    """
