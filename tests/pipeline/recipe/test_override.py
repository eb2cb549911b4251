"""`--set path=value`: what it sets, and what it refuses."""

from __future__ import annotations

import pytest
from pipeline.recipe.workshop import RECIPE, Workshop

from headrace.machine import Span
from headrace.recipe import load_plan


def test_values_are_set_over_what_files_say(workshop: Workshop) -> None:
    plan = load_plan(
        workshop.recipe,
        workshop.registry,
        [
            "setup.sheet.thickness.most=18.6",
            "setup.sheet.corner=[7, 8.5]",
            "setup.name='A # and a: b'",
            "machine.probe.slow=20",
            "machine.margin=2",
            "machine.homing.order=[[z], [y], [x]]",
            "steps.spindle.speed=18000",
            "steps.home=1".replace("home=1", "spindle.wait=none"),
            "assume.units=inch",
            "name=Lids of oak",
        ],
    )

    assert plan.setup.sheet.thickness == Span(17.6, 18.6)
    assert plan.setup.sheet.corner == (7, 8.5)
    assert plan.setup.name == "A # and a: b"
    assert plan.machine.probe is not None
    assert plan.machine.probe.slow == 20
    assert plan.machine.margin == 2
    assert plan.machine.homing.order == (("z",), ("y",), ("x",))
    assert plan.steps[1].options == {"speed": 18000, "missing": "start", "wait": "none"}
    assert plan.assumed.units == "inch"
    assert plan.name == "Lids of oak"


def test_mapping_may_be_replaced_by_a_single_value(workshop: Workshop) -> None:
    plan = load_plan(workshop.recipe, workshop.registry, ["setup.sheet.thickness=18.2"])

    assert plan.setup.sheet.thickness == Span(18.2, 18.2)


def test_set_up_is_made_where_the_recipe_names_none(workshop: Workshop) -> None:
    workshop.write("recipe.yaml", RECIPE.replace("setup: setup.yaml\n", ""))

    plan = load_plan(workshop.recipe, workshop.registry, ["setup.plate.thickness=12.5"])

    assert plan.setup.plate.thickness == 12.5


def test_bare_step_gets_options(workshop: Workshop) -> None:
    workshop.write(
        "recipe.yaml", RECIPE.replace("spindle: {speed: 17000, missing: start}", "spindle")
    )

    plan = load_plan(workshop.recipe, workshop.registry, ["steps.spindle.speed=2000"])

    assert plan.steps[1].name == "spindle"
    assert plan.steps[1].options == {"speed": 2000}


def test_only_the_first_step_of_a_name_is_set(workshop: Workshop) -> None:
    workshop.write("recipe.yaml", RECIPE.replace("  - park\n", "  - pause: {text: AGAIN}\n"))

    plan = load_plan(workshop.recipe, workshop.registry, ["steps.pause.text=FIRST"])

    assert [step.options["text"] for step in plan.steps if step.name == "pause"] == [
        "FIRST", "AGAIN",
    ]  # fmt: skip


REFUSED = [
    ("no equals sign", "setup.name", "recipe-override", 1, "sets nothing"),
    ("nothing", "", "recipe-override", 1, "sets nothing"),
    ("no value", "setup.name=", "recipe-override", 12, "no value"),
    ("a blank value", "setup.name=  ", "recipe-override", 12, "no value"),
    ("an empty part", "setup..name=1", "recipe-override", 7, "empty part"),
    ("a blank in a part", "setup. name=1", "recipe-override", 7, "a blank in it"),
    ("no path", "=1", "recipe-override", 1, "empty part"),
    ("an unknown root", "stup.name=1", "recipe-override", 1, "did you mean `setup`?"),
    ("a root far from any", "qqq=1", "recipe-override", 1, "can be set: `setup`"),
    ("the format", "format=headrace-recipe/2", "recipe-override", 1, "nothing that can be set"),
    ("the machine as a whole", "machine=other.yaml", "recipe-override", 1, "as a whole"),
    ("all steps", "steps=[home]", "recipe-override", 1, "option of a step"),
    ("a step as a whole", "steps.home=1", "recipe-override", 7, "option of a step"),
    ("a part of a name", "name.first=1", "recipe-override", 6, "has no parts"),
    ("a step that is not there", "steps.spindel.speed=1", "recipe-override", 7,
     "did you mean `spindle`?"),
    ("a part of a single value", "setup.plate.thickness.most=1", "recipe-override", 23,
     "setup.yaml:8:14"),
    ("a part of a list", "setup.sheet.corner.x=1", "recipe-override", 20, "has no parts"),
    ("a mapping as a value", "setup.sheet={size: [1, 2]}", "recipe-override", 13, "neither"),
    ("a mapping in a list", "setup.plate.at=[1, {a: 1}]", "recipe-override", 16, "neither"),
    ("a list without brackets", "setup.plate.at=- 1", "recipe-override", 16, "neither"),
    ("text with a colon", "setup.name=a: b", "recipe-override", 12, "put text in quotes"),
    ("text behind a hash", "setup.plate.thickness=12 # mm", "recipe-override", 23, "left out"),
    ("two lines", "setup.name=a\nb", "recipe-override", 1, "one line"),
    ("a value that readers differ on", "setup.safe-height=012", "recipe-ambiguous", 19, "`012`"),
    ("a value inside a list that readers differ on", "setup.plate.at=[1, 1e1]",
     "recipe-ambiguous", 20, "`1e1`"),
    ("a list that is never closed", "setup.plate.at=[1", "recipe-syntax", 16, "never closed"),
    ("an unseen character", "setup.name=a\x1b", "recipe-character", 13, "U+001B"),
    ("an unknown key", "setup.sheet.thicknes=18", "recipe-unknown-key", 13, "`thickness`"),
    ("an unknown option", "steps.spindle.sped=18", "recipe-unknown-key", 15, "`speed`"),
    ("a value of the wrong sort", "machine.probe.slow=fast", "recipe-wrong-type", 20, "a number"),
    ("a value out of bounds", "setup.plate.thickness=-1", "recipe-out-of-bounds", 23, "more than"),
    ("a value that contradicts a file", "machine.probe.slow=121", "recipe-contradiction", 20,
     "more than `probe.quick`, 120"),
    ("a least above the most of a file", "setup.sheet.thickness.most=17", "recipe-contradiction",
     28, "17.6 as the least"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "name", "column", "words"), [row[1:] for row in REFUSED],
                         ids=[row[0] for row in REFUSED])  # fmt: skip
def test_refused_override_has_its_column(
    text: str, name: str, column: int, words: str, workshop: Workshop
) -> None:
    (found,) = workshop.check(text)

    assert found.name == name
    assert found.place is not None
    assert (found.place.file, found.place.line, found.place.column) == ("--set", 1, column)
    assert found.place.excerpt == text.split("\n")[0]
    assert words in found.what + found.remedy


@pytest.mark.parametrize(
    "texts",
    [
        ("setup.plate.thickness=1", "setup.plate.thickness=2"),
        ("machine.probe=[1]", "machine.probe.slow=2"),
        ("steps.spindle.speed=2000", "steps.spindle.speed=2000"),
    ],
    ids=["the same path", "a part and its whole", "the same value"],
)
def test_overrides_of_one_value_are_refused(texts: tuple[str, ...], workshop: Workshop) -> None:
    (found,) = workshop.check(*texts)

    assert found.name == "recipe-override"
    assert "set the same value" in found.what
    assert found.place is not None
    assert found.place.excerpt == texts[1]


def test_override_of_steps_that_are_no_list_is_refused(workshop: Workshop) -> None:
    workshop.write("recipe.yaml", "format: headrace-recipe/2\nsteps: [[home], 7, {a: {}, b: {}}]\n")

    (found,) = workshop.check("steps.home.speed=1")

    assert found.name == "recipe-override"
    assert "steps here: none" in found.remedy
