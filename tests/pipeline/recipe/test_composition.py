"""Parents, referenced files, and where each value comes from."""

from __future__ import annotations

from pathlib import Path

import pytest
from pipeline.recipe.workshop import MACHINE, RECIPE, SETUP, Workshop

from headrace.findings import Place
from headrace.recipe import compose, load_plan
from headrace.recipe.composition import MOST_PARENTS
from headrace.recipe.node import plain

BASE = """\
format: headrace-recipe/2
name: Base
machine: ../machine.yaml
setup:
  name: From the base
  sheet: {corner: [1, 2], size: [30, 40]}
  safe-height: 25
assume: {units: inch}
steps:
  - home
  - park
"""
CHILD = """\
format: headrace-recipe/2
name: Child
extends: shared/base.yaml
setup:
  sheet:
    corner: [5, 6]
  plate: {thickness: 12}
steps: [home]
"""


def origin(workshop: Workshop, way: tuple[str | int, ...]) -> Place:
    composed, found = compose(workshop.recipe)
    assert composed is not None
    assert not found
    return dict(composed.origins())[way].place


def test_child_counts_before_its_parent(workshop: Workshop) -> None:
    workshop.write("shared/base.yaml", BASE)
    workshop.write("recipe.yaml", CHILD)

    plan = load_plan(workshop.recipe, workshop.registry)

    assert plan.name == "Child"
    assert plan.setup.name == "From the base"
    assert plan.setup.sheet.corner == (5, 6)
    assert plan.setup.sheet.size == (30, 40)
    assert plan.setup.safe_height == 25
    assert plan.setup.plate.thickness == 12
    assert plan.assumed.units == "inch"
    assert [step.name for step in plan.steps] == ["home"]
    assert plan.machine.name == "Bench machine"


def test_every_value_keeps_its_origin(workshop: Workshop) -> None:
    base = workshop.write("shared/base.yaml", BASE)
    workshop.write("recipe.yaml", CHILD)

    place = origin(workshop, ("setup", "sheet", "corner", 1))
    assert (place.file, place.line, place.column) == (str(workshop.recipe), 6, 17)
    place = origin(workshop, ("setup", "sheet", "size", 0))
    assert (place.file, place.line, place.column) == (str(base), 6, 34)
    place = origin(workshop, ("machine", "probe", "slow"))
    assert (Path(place.file).resolve(), place.line) == (workshop.folder / "machine.yaml", 27)


def test_origins_cover_every_value_of_all_documents(workshop: Workshop) -> None:
    composed, _ = compose(workshop.recipe, ["setup.plate.thickness=12.5"])
    assert composed is not None
    origins = dict(composed.origins())

    files = {Path(node.place.file).name for node in origins.values()}
    assert files == {"recipe.yaml", "machine.yaml", "setup.yaml", "--set"}
    assert origins[("setup", "plate", "thickness")].place.file == "--set"
    assert ("steps", 1, "spindle", "speed") in origins
    assert ("machine", "homing", "order", 1, 0) in origins


def test_fault_in_a_parent_is_shown_there(workshop: Workshop) -> None:
    base = workshop.write("shared/base.yaml", BASE.replace("safe-height: 25", "safe-height: low"))
    workshop.write("recipe.yaml", CHILD)

    (found,) = workshop.check()

    assert found.name == "recipe-wrong-type"
    assert found.place is not None
    assert (found.place.file, found.place.line, found.place.column) == (str(base), 7, 16)


def test_fault_in_a_parent_that_is_overridden_does_not_count(workshop: Workshop) -> None:
    workshop.write("shared/base.yaml", BASE.replace("[1, 2]", "[1]"))
    workshop.write("recipe.yaml", CHILD)

    assert workshop.check() == []


def test_single_value_replaces_a_mapping_and_the_other_way_round(workshop: Workshop) -> None:
    workshop.write("shared/base.yaml", BASE)
    workshop.write(
        "recipe.yaml", CHILD.replace(CHILD[CHILD.index("setup:") :], "setup: setup.yaml\n")
    )

    plan = load_plan(workshop.recipe, workshop.registry)
    assert plan.setup.name == "Lids"

    workshop.write("shared/base.yaml", RECIPE.replace("machine.yaml", "../machine.yaml"))
    workshop.write("recipe.yaml", CHILD)
    plan = load_plan(workshop.recipe, workshop.registry)
    assert plan.setup.name == ""
    assert plan.setup.sheet.corner == (5, 6)


def test_lists_are_replaced_as_a_whole(workshop: Workshop) -> None:
    workshop.write("parent.yaml", RECIPE)
    workshop.write(
        "recipe.yaml", "format: headrace-recipe/2\nextends: parent.yaml\ncard-files: []\n"
    )

    plan = load_plan(workshop.recipe, workshop.registry)

    assert plan.card_files == ()
    assert len(plan.steps) == 4
    assert plan.steps[0].place.file == str(workshop.folder / "parent.yaml")


def chain(workshop: Workshop, parents: int) -> None:
    workshop.write(f"r{parents}.yaml", RECIPE)
    for number in range(parents):
        text = f"format: headrace-recipe/2\nextends: r{number + 1}.yaml\n"
        workshop.write("recipe.yaml" if number == 0 else f"r{number}.yaml", text)


def test_longest_line_of_parents_is_accepted(workshop: Workshop) -> None:
    chain(workshop, MOST_PARENTS)

    plan = load_plan(workshop.recipe, workshop.registry)

    assert len(plan.sources) == MOST_PARENTS + 3


def test_longer_line_of_parents_is_refused(workshop: Workshop) -> None:
    chain(workshop, MOST_PARENTS + 1)

    (found,) = workshop.check()

    assert found.name == "recipe-extends-deep"
    assert str(found.place) == f"{workshop.folder / 'r8.yaml'}:2:10"


def test_circle_of_parents_is_refused_where_it_closes(workshop: Workshop) -> None:
    text = "format: headrace-recipe/2\nextends: {}\n"
    workshop.write("recipe.yaml", text.format("shared/a.yaml"))
    workshop.write("shared/a.yaml", text.format("b.yaml"))
    workshop.write("shared/b.yaml", text.format("../shared/../recipe.yaml"))

    (found,) = workshop.check()

    assert found.name == "recipe-extends-cycle"
    assert str(found.place) == f"{workshop.folder / 'shared' / 'b.yaml'}:2:10"


def test_parent_of_another_kind_is_refused(workshop: Workshop) -> None:
    workshop.write("recipe.yaml", "format: headrace-recipe/2\nextends: setup.yaml\n")

    (found,) = workshop.check()

    assert found.name == "recipe-format"
    assert "this file is a set-up" in found.remedy
    assert str(found.place) == f"{workshop.folder / 'setup.yaml'}:1:9"


def test_faults_of_a_referenced_file_as_a_whole_point_at_its_name(workshop: Workshop) -> None:
    (workshop.folder / "setup.yaml").unlink()

    (found,) = workshop.check()

    assert str(found.place) == f"{workshop.recipe}:5:8"


def test_machine_that_cannot_be_read_hides_no_other_fault(workshop: Workshop) -> None:
    workshop.write("machine.yaml", MACHINE.replace("bed: 108", "bed: no"))
    workshop.write("setup.yaml", SETUP.replace("12.02", "0"))

    names = [finding.name for finding in workshop.check()]

    assert names == ["recipe-ambiguous", "recipe-out-of-bounds"]


def test_recipe_that_cannot_be_read_is_the_only_fault(workshop: Workshop) -> None:
    workshop.write("recipe.yaml", RECIPE.replace("  - home\n  - spindle", "\t- home\n  - spindle"))

    assert [finding.name for finding in workshop.check()] == ["recipe-tab"]


def test_missing_recipe_has_a_finding(workshop: Workshop) -> None:
    workshop.recipe.rename(workshop.folder / "recipes.yaml")

    (found,) = workshop.check()

    assert found.name == "recipe-missing"
    assert "did you mean `recipes.yaml`?" in found.remedy
    assert found.place is None


def test_recipe_without_a_set_up_knows_nothing_of_it(workshop: Workshop) -> None:
    workshop.write("recipe.yaml", RECIPE.replace("setup: setup.yaml\n", ""))

    plan = load_plan(workshop.recipe, workshop.registry)

    assert plan.setup.sheet.thickness is None
    assert plan.setup.clamps is None


def test_set_up_inside_a_recipe_is_held_to_the_same_rules(workshop: Workshop) -> None:
    workshop.write(
        "recipe.yaml", RECIPE.replace("setup: setup.yaml", "setup: {sheet: {thicknes: 18}}")
    )

    (found,) = workshop.check()

    assert found.name == "recipe-unknown-key"
    assert (found.place.line, found.place.column) == (5, 17) if found.place else False


@pytest.mark.parametrize("setup", ["{a: 1}", "7", "[1]"])
def test_composition_needs_no_valid_set_up(setup: str, workshop: Workshop) -> None:
    workshop.write("recipe.yaml", RECIPE.replace("setup: setup.yaml", f"setup: {setup}"))

    composed, found = compose(workshop.recipe)

    assert composed is not None
    assert not found
    assert plain(composed.recipe)["setup"] is not None
    assert list(composed.origins())


def test_origins_of_a_recipe_without_a_machine(workshop: Workshop) -> None:
    workshop.write("recipe.yaml", RECIPE.replace("machine: machine.yaml\n", ""))

    composed, _ = compose(workshop.recipe)

    assert composed is not None
    assert composed.machine is None
    assert {way[0] for way, _ in composed.origins()} >= {"setup", "steps", "name"}
