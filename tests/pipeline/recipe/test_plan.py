"""The plan as a whole."""

from __future__ import annotations

import pickle
import subprocess
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from pipeline.recipe.workshop import RECIPE, Registry, Workshop, switch_on

from headrace.errors import PluginError, RecipeError
from headrace.findings import CATALOGUE, Place, render
from headrace.machine import Machine, Setup
from headrace.plugins.transform import Transform
from headrace.recipe import check_recipe, load_plan


def test_plan_holds_what_the_recipe_says(workshop: Workshop) -> None:
    plan = load_plan(workshop.recipe, workshop.registry)

    assert plan.recipe == workshop.recipe
    assert (plan.name, plan.description) == ("Lids", "Home, touch off, cut, park.")
    assert isinstance(plan.machine, Machine)
    assert isinstance(plan.setup, Setup)
    assert plan.assumed.units == "mm"
    assert [(step.number, step.name, dict(step.options)) for step in plan.steps] == [
        (1, "home", {}),
        (2, "spindle", {"speed": 17000, "missing": "start"}),
        (3, "pause", {"text": "EXTRACTION ON"}),
        (4, "park", {}),
    ]
    places = [(step.place.line, step.place.column, step.place.length) for step in plan.steps]
    assert places == [(8, 5, 4), (9, 5, 7), (10, 5, 5), (12, 5, 4)]
    assert plan.sources == tuple(
        workshop.folder / name for name in ("recipe.yaml", "machine.yaml", "setup.yaml")
    )


def test_plan_holds_card_files(workshop: Workshop) -> None:
    first, second = load_plan(workshop.recipe, workshop.registry).card_files

    assert (first.name, first.title, first.after) == ("SETUP", "Home", None)
    assert (second.name, second.title, second.after) == ("TOUCH", "", "SETUP")
    assert [step.name for step in first.steps] == ["home"]
    assert first.steps[0].place.line == 16
    assert second.place == Place(str(workshop.recipe), 17, 5, 1, "  - name: TOUCH")


def test_recipe_of_card_files_alone_is_accepted(workshop: Workshop) -> None:
    text = RECIPE.replace(RECIPE[RECIPE.index("steps:") : RECIPE.index("card-files:")], "")
    workshop.write("recipe.yaml", text)

    plan = load_plan(workshop.recipe, workshop.registry)

    assert plan.steps == ()
    assert len(plan.card_files) == 2


def test_plan_goes_to_another_process(workshop: Workshop) -> None:
    plan = load_plan(workshop.recipe, workshop.registry)

    assert pickle.loads(pickle.dumps(plan)) == plan


def test_loading_raises_every_finding(workshop: Workshop) -> None:
    workshop.write("recipe.yaml", RECIPE.replace("- park", "- prak").replace("- home", "- hoem", 1))

    with pytest.raises(RecipeError) as caught:
        load_plan(workshop.recipe, workshop.registry)

    assert caught.value.exit_code == 3
    assert [finding.name for finding in caught.value.findings] == ["recipe-unknown-step"] * 2
    assert list(caught.value.findings) == check_recipe(workshop.recipe, workshop.registry)
    assert pickle.loads(pickle.dumps(caught.value)).findings == caught.value.findings


@dataclass(frozen=True)
class Watched:
    """A registry that remembers which Python files it was asked for."""

    transforms: Mapping[str, Transform]
    asked: list[Path] = field(default_factory=list)

    def with_files(self, paths: Sequence[Path], places: Sequence[Place]) -> Watched:
        self.asked.extend(paths)
        assert len(paths) == len(places)
        return self


def with_plugins(workshop: Workshop, *names: str) -> None:
    listed = "".join(f"  - {name}\n" for name in names)
    workshop.write("recipe.yaml", RECIPE.replace("steps:\n", f"python:\n{listed}steps:\n", 1))


def test_python_files_offer_steps(workshop: Workshop) -> None:
    workshop.write("own/bee_smoke.py", "")
    with_plugins(workshop, "own/bee_smoke.py")
    text = workshop.recipe.read_text("utf-8")
    workshop.write("recipe.yaml", text.replace("- park", "- bee-smoke"))

    plan = load_plan(workshop.recipe, workshop.registry)

    assert plan.steps[3].name == "bee-smoke"
    assert plan.python_files == (workshop.folder / "own" / "bee_smoke.py",)


def test_python_files_of_a_parent_lie_beside_the_parent(workshop: Workshop) -> None:
    workshop.write("shared/smoke.py", "")
    with_plugins(workshop, "smoke.py")
    text = workshop.recipe.read_text("utf-8").replace(".yaml", ".yaml").replace(
        "machine: ", "machine: ../").replace("setup: ", "setup: ../")  # fmt: skip
    workshop.write("shared/base.yaml", text)
    workshop.write("recipe.yaml", "format: headrace-recipe/2\nextends: shared/base.yaml\n")

    plan = load_plan(workshop.recipe, workshop.registry)

    assert plan.python_files == (workshop.folder / "shared" / "smoke.py",)


def test_plugin_that_cannot_be_loaded_is_a_plugin_fault(workshop: Workshop) -> None:
    workshop.write("broken.py", "")
    with_plugins(workshop, "broken.py")

    with pytest.raises(PluginError) as caught:
        load_plan(workshop.recipe, workshop.registry)

    assert caught.value.exit_code == 4
    assert str(caught.value.findings[0].place) == f"{workshop.recipe}:8:5"
    assert workshop.check() == list(caught.value.findings)


@pytest.mark.parametrize(
    "slip",
    [("name: Lids", "nmae: Lids"), ("setup.yaml", "setups.yaml"), ("after: SETUP", "after: X")],
    ids=["in the recipe", "in a path", "in a card file"],
)
def test_no_plugin_runs_for_a_recipe_at_fault(slip: tuple[str, str], workshop: Workshop) -> None:
    workshop.write("smoke.py", "")
    with_plugins(workshop, "smoke.py")
    workshop.write("recipe.yaml", workshop.recipe.read_text("utf-8").replace(*slip))
    registry = Watched(workshop.registry.transforms)

    assert len(check_recipe(workshop.recipe, registry)) == 1
    assert registry.asked == []

    with_plugins(workshop, "smoke.py")
    assert check_recipe(workshop.recipe, registry) == []
    assert registry.asked == [workshop.folder / "smoke.py"]


def test_plugin_behind_a_link_that_leads_out_is_refused(
    workshop: Workshop, tmp_path_factory: pytest.TempPathFactory
) -> None:
    outside = tmp_path_factory.mktemp("elsewhere") / "smoke.py"
    outside.write_text("")
    (workshop.folder / "smoke.py").symlink_to(outside)
    with_plugins(workshop, "smoke.py")

    (found,) = workshop.check()

    assert found.name == "recipe-plugin-path"


def test_plugin_behind_a_link_in_a_circle_is_refused(workshop: Workshop) -> None:
    (workshop.folder / "smoke.py").symlink_to(workshop.folder / "smoke.py")
    with_plugins(workshop, "smoke.py")

    (found,) = workshop.check()

    assert found.name == "recipe-plugin-path"
    assert found.place is not None
    assert found.place.line == 8


@pytest.mark.parametrize(
    "schema",
    [
        {"type": "nmber"},
        {"minimum": "low"},
        {"pattern": "("},
        {"$ref": "https://localhost/never.json"},
        {"$ref": "#/nowhere"},
    ],
    ids=["an unknown type", "a bound that is text", "a broken pattern", "a schema from elsewhere",
         "a schema that is nowhere"],
)  # fmt: skip
def test_schema_that_cannot_be_used_is_a_plugin_fault(
    schema: dict[str, Any], workshop: Workshop
) -> None:
    faulty = Transform("park", switch_on, frozenset(), False, {"height": schema}, ())
    registry = Registry({**workshop.registry.transforms, "park": faulty})
    value = "low" if "pattern" in schema else "1"
    workshop.write("recipe.yaml", RECIPE.replace("- park", f"- park: {{height: {value}}}"))

    with pytest.raises(PluginError) as caught:
        load_plan(workshop.recipe, registry)

    (found,) = caught.value.findings
    assert "the schema of the step `park`" in found.what
    assert found.place is not None
    assert found.place.line == 12


def test_options_are_held_against_their_own_transform_only(workshop: Workshop) -> None:
    workshop.write(
        "recipe.yaml", RECIPE.replace("      text: EXTRACTION ON", "      speed: 1\n      text: A")
    )

    (found,) = workshop.check()

    assert found.name == "recipe-unknown-key"
    assert "known here: `text`, `codes`" in found.remedy
    assert "spindle" not in render(found)


def test_several_mistakes_are_told_in_the_order_of_the_text(workshop: Workshop) -> None:
    text = RECIPE.replace("speed: 17000, missing: start", "missing: stop, speed: 1, sped: 2")
    workshop.write("recipe.yaml", text)

    found = workshop.check()

    assert [(f.name, f.place.column if f.place else 0) for f in found] == [
        ("recipe-not-accepted", 24),
        ("recipe-out-of-bounds", 37),
        ("recipe-unknown-key", 40),
    ]


def halves(job: Any) -> Any:  # noqa: ARG001
    """Make two of one."""
    return ()


@pytest.mark.parametrize(
    ("step", "found"),
    [("- home", []), ("- park", ["recipe-split-late"])],
)
def test_a_job_is_split_before_all_else(workshop: Workshop, step: str, found: list[str]) -> None:
    splitting = Transform("halves", halves, frozenset(), True, {}, (), gives="parts")
    registry = Registry({**workshop.registry.transforms, "halves": splitting})
    text = RECIPE.split("card-files")[0].replace(step, "- halves", 1)
    workshop.write("recipe.yaml", text)

    assert [finding.name for finding in check_recipe(workshop.recipe, registry)] == found


def test_a_file_without_a_job_is_not_split(workshop: Workshop) -> None:
    splitting = Transform("halves", halves, frozenset(), True, {}, (), gives="parts")
    registry = Registry({**workshop.registry.transforms, "halves": splitting})
    files = "card-files:\n  - {name: SETUP, steps: [halves]}\n"
    workshop.write("recipe.yaml", RECIPE.split("card-files")[0].rstrip() + "\n" + files)

    assert [finding.name for finding in check_recipe(workshop.recipe, registry)] == [
        "recipe-split-late"
    ]


def test_every_kind_of_finding_has_a_test() -> None:
    """Each kind of this area stands in at least one test file, by its name."""
    kinds = [name for name, kind in CATALOGUE.items() if kind.id.startswith("HRR")]
    texts = "".join(path.read_text("utf-8") for path in Path(__file__).parent.glob("test_*.py"))

    assert len(kinds) >= 30
    assert [name for name in kinds if f'"{name}"' not in texts] == []


def test_heavy_libraries_are_not_imported_before_they_are_needed() -> None:
    code = (
        "import sys, headrace.recipe; "
        "print(sorted({'yaml', 'jsonschema', 'numpy', 'pluggy', 'referencing'} & set(sys.modules)))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60
    )

    # The hooks of plugins need pluggy, and they are imported with `headrace.plugins`.
    assert done.stdout.strip() in ("[]", "['pluggy']")
