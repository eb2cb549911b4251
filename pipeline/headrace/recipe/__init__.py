"""Recipes: what to do to every job, for which machine and which set-up."""

from headrace.recipe.composed import Composed, compose
from headrace.recipe.lowering import Lowering, lowered
from headrace.recipe.plan import (
    CardFile,
    Plan,
    Transforms,
    check_recipe,
    load_alone,
    load_plan,
)
from headrace.recipe.step import Step

__all__ = [
    "CardFile",
    "Composed",
    "Lowering",
    "Plan",
    "Step",
    "Transforms",
    "check_recipe",
    "compose",
    "load_alone",
    "load_plan",
    "lowered",
]
