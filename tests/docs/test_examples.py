"""The examples in the pages that are more than commands: they do what is said of them."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pytest
import yaml
from docs.pages import TREE, blocks_of

from headrace.batch.engines.kit import with_python_files
from headrace.plugins.registry import load_registry
from headrace.recipe import check_recipe, load_plan
from headrace.run import prepare_job

RECIPES = TREE / "recipes"


def file_of(page: str, name: str) -> str:
    """The text of a file that a page shows."""
    return next(block.text for block in blocks_of(page) if block.file == name)


def test_the_recipe_is_a_recipe(tmp_path: Path) -> None:
    recipes = shutil.copytree(RECIPES, tmp_path / "recipes")
    text = file_of("recipes/WRITING.md", "recipes/frames.yaml")
    path = recipes / "frames.yaml"
    path.write_text(text, "utf-8")
    registry = load_registry()

    assert check_recipe(path, registry) == []
    plan = load_plan(path, registry)
    assert [step.name for step in plan.steps] == [
        step if isinstance(step, str) else next(iter(step))
        for step in yaml.safe_load(text)["steps"]
    ]
    outcome = prepare_job("lid.nc", (RECIPES / "jobs" / "lid.nc").read_bytes(), plan, registry)
    assert outcome.result is not None, outcome.findings


def step_of_ones_own(tmp_path: Path, source: str, job: str) -> bytes:
    """The page's step in a recipe beside the gallery, and what becomes of a job."""
    recipes = shutil.copytree(RECIPES, tmp_path / "recipes")
    (recipes / "settle.py").write_text(source, "utf-8")
    recipe = recipes / "settle.yaml"
    recipe.write_text(
        "format: headrace-recipe/2\n"
        "name: Settle\n"
        "machine: machines/shop-speed-controlled.yaml\n"
        "setup: setups/floor-boards-18.yaml\n"
        "python: [settle.py]\n"
        "steps:\n"
        "  - settle: {seconds: 2.5}\n"
    )
    registry = load_registry()
    plan = load_plan(recipe, registry)
    local = with_python_files(registry, plan)
    outcome = prepare_job("lid.nc", job.encode(), plan, local)
    assert outcome.result is not None, outcome.findings
    return outcome.result.to_bytes()


JOB = "G21 G90 G94\nG0 Z5\nM3 S18000\nG0 X1 Y1\nG1 Z-1 F300\nG0 Z5\nM5\nM30\n"


def test_the_step_of_ones_own_runs(tmp_path: Path) -> None:
    source = file_of("plugins/WRITING.md", "recipes/settle.py")
    result = step_of_ones_own(tmp_path, source, JOB)

    assert result == JOB.replace("M3 S18000\n", "M3 S18000\nG4 P2.5\n").encode()


def test_its_slips_are_caught_as_the_text_says(tmp_path: Path) -> None:
    """ "It may change dwells and nothing else; a slip that moves the path is caught and named." """
    source = file_of("plugins/WRITING.md", "recipes/settle.py").replace("G4 P", "G1 F100 X")

    with pytest.raises(AssertionError, match="contract-broken"):
        step_of_ones_own(tmp_path, source, JOB)


def test_the_picture_is_what_headrace_draws(tmp_path: Path) -> None:
    """`headrace picture recipes/jobs/lid.nc --recipe recipes/bench-lids.yaml --to
    recipes/pictures/lid.svg` draws it anew."""
    drawn = tmp_path / "lid.svg"
    words = ["picture", "recipes/jobs/lid.nc", "--recipe", "recipes/bench-lids.yaml", "--to"]
    done = subprocess.run(
        [sys.executable, "-m", "headrace", *words, str(drawn)], cwd=TREE, timeout=120, check=False
    )

    assert done.returncode == 0
    assert drawn.read_bytes() == (RECIPES / "pictures" / "lid.svg").read_bytes()
