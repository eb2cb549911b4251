"""Recipes of the gallery, read as `headrace` reads them."""

from __future__ import annotations

from pathlib import Path

from headrace.batch.engines.kit import with_python_files
from headrace.plugins.registry import Registry, load_registry
from headrace.recipe import Plan, load_plan

RECIPES = Path(__file__).parents[2] / "recipes"


def planned(recipe: str, *values: str, shop: Path = RECIPES) -> tuple[Plan, Registry]:
    """A recipe's plan, with some values set, and the transforms that it may name."""
    installed = load_registry()
    plan = load_plan(shop / f"{recipe}.yaml", installed, values)
    return plan, with_python_files(installed, plan)
