"""Formats: an older recipe is read as ever, alone and among newer ones, in its own words."""

from __future__ import annotations

import json
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from pipeline.recipe.workshop import RECIPE, Workshop

from headrace.errors import RecipeError
from headrace.findings import Finding
from headrace.recipe import load_plan
from headrace.recipe.document import parse_document
from headrace.recipe.formats import UPGRADES, former, is_newer, newest, number_of, upgraded
from headrace.recipe.named_files import named_files
from headrace.recipe.node import Table, plain
from headrace.recipe.older import older_formats

OLD = RECIPE.replace("headrace-recipe/2", "headrace-recipe/1")
PARTS = ("recipe.yaml", "parent.yaml")


def with_file(text: str) -> str:
    """A recipe that names a Python file, in the words of its format."""
    key = "plugins" if "headrace-recipe/1" in text else "python"
    return text.replace("steps:\n", f"{key}: [swarm_guard.py]\nsteps:\n  - swarm-guard\n", 1)


def document(text: str) -> Table:
    root = parse_document(text.encode(), Path("recipe.yaml")).root
    assert isinstance(root, Table)
    return root


def told(found: list[Finding]) -> list[tuple[str, str, str, str]]:
    return [(each.name, str(each.place), each.what, each.remedy) for each in found]


@pytest.mark.parametrize("kind", UPGRADES)
def test_every_format_has_a_schema_that_states_it(kind: str) -> None:
    """And what an upgrade renames is a key of the one and not of the other."""
    folder = files("headrace.recipe").joinpath("schemas")
    schemas: list[dict[str, Any]] = [
        json.loads(folder.joinpath(f"{name}.json").read_text("utf-8"))
        for name in [*(f"{kind}-{number + 1}" for number in range(len(UPGRADES[kind]))), kind]
    ]

    for number, schema in enumerate(schemas, 1):
        assert schema["properties"]["format"]["const"] == f"headrace-{kind}/{number}"
        assert schema["$id"] == f"urn:headrace:schema:{kind}:{number}"
    for upgrade, old, new in zip(UPGRADES[kind], schemas, schemas[1:], strict=False):
        for before, after in upgrade.renamed.items():
            assert before in old["properties"]
            assert after not in old["properties"]
            assert after in new["properties"]
            assert before not in new["properties"]
    assert newest(kind) == f"headrace-{kind}/{len(schemas)}"


def test_what_a_format_is() -> None:
    assert number_of(document("format: headrace-recipe/7\n"), "recipe") == 7
    assert is_newer(document("format: headrace-recipe/7\n"), "recipe")
    for text in ("headrace-recipe/0", "headrace-recipe/02", "headrace-recipe/x", "recipe/2", "[2]"):
        assert number_of(document(f"format: {text}\n"), "recipe") is None
        assert not is_newer(document(f"format: {text}\n"), "recipe")
    assert former("recipe") == {"plugins": "python"}


def test_an_old_recipe_is_the_same_plan(workshop: Workshop) -> None:
    (workshop.folder / "swarm_guard.py").write_text("")
    workshop.write("recipe.yaml", with_file(RECIPE))
    new = load_plan(workshop.recipe, workshop.registry)
    workshop.write("recipe.yaml", with_file(OLD))
    old = load_plan(workshop.recipe, workshop.registry)

    assert new.python_files == (workshop.folder / "swarm_guard.py",)
    assert old == new


@pytest.mark.parametrize("child", [1, 2])
@pytest.mark.parametrize("parent", [1, 2])
def test_recipes_of_two_formats_extend_one_another(
    child: int, parent: int, workshop: Workshop
) -> None:
    """The child's Python files replace its parent's, whatever each of them calls them."""
    names = {1: "plugins", 2: "python"}
    for name in ("of_parent.py", "of_child.py"):
        (workshop.folder / name).write_text("")
    text = RECIPE.replace("headrace-recipe/2", f"headrace-recipe/{parent}")
    workshop.write("parent.yaml", f"{text}{names[parent]}: [of_parent.py]\n")
    head = f"format: headrace-recipe/{child}\nextends: parent.yaml\n"
    workshop.write("recipe.yaml", head)
    assert [each.name for each in load_plan(workshop.recipe, workshop.registry).python_files] == [
        "of_parent.py"
    ]
    workshop.write("recipe.yaml", f"{head}{names[child]}: [of_child.py]\n")
    plan = load_plan(workshop.recipe, workshop.registry)

    assert [each.name for each in plan.python_files] == ["of_child.py"]
    older = [Path(each.place.file).name for each in older_formats(workshop.recipe) if each.place]
    assert older == [
        name for name, number in zip(PARTS, (child, parent), strict=True) if number == 1
    ]


SLIPS = [
    ("plugins: [¦own.txt]", "recipe-not-accepted", "`plugins` is `own.txt`", ""),
    ("plugins: ¦own.py", "recipe-wrong-type", "`plugins` must be a list; this is text", ""),
    ("plugins:\n  - own.py\n  - ¦own.py", "recipe-bad-value", "for the second time", ""),
    ("¦python: [own.py]", "recipe-unknown-key", "the file has no key `python`", "`plugins`"),
    ("¦plugin: [own.py]", "recipe-unknown-key", "no key `plugin`", "did you mean `plugins`?"),
]


@pytest.mark.parametrize(("line", "name", "what", "remedy"), SLIPS)
@pytest.mark.parametrize("child", [None, 1, 2])
def test_a_slip_in_an_old_recipe_is_told_in_its_own_words(
    line: str, name: str, what: str, remedy: str, child: int | None, workshop: Workshop
) -> None:
    """Also in a parent of a newer child."""
    before, _, behind = f"{OLD}{line}\n".partition("¦")
    path = workshop.write("recipe.yaml" if child is None else "parent.yaml", before + behind)
    if child is not None:
        workshop.write("recipe.yaml", f"format: headrace-recipe/{child}\nextends: parent.yaml\n")

    (found,) = workshop.check()

    assert found.name == name
    assert found.place is not None
    assert (found.place.file, found.place.line, found.place.column) == (
        str(path), before.count("\n") + 1, len(before.rpartition("\n")[2]) + 1,
    )  # fmt: skip
    assert what in found.what
    assert remedy in found.remedy
    assert name != "recipe-unknown-key" or "`python`" not in found.remedy


def test_a_slip_that_its_child_replaces_is_none(workshop: Workshop) -> None:
    """As in the newest format: what counts is judged, and nothing else."""
    for number, key in ((1, "plugins"), (2, "python")):
        head = f"format: headrace-recipe/{number}\nname: Lids\nmachine: machine.yaml\n"
        workshop.write("parent.yaml", f"{head}setup: setup.yaml\nsteps: 7\n{key}: 7\n")
        child = "format: headrace-recipe/2\nextends: parent.yaml\nsteps: [home]\n"
        workshop.write("recipe.yaml", f"{child}python: []\n")
        assert workshop.check() == []
        workshop.write("recipe.yaml", child)
        assert [each.name for each in workshop.check()] == ["recipe-wrong-type"]


def test_other_slips_are_told_as_in_the_newest_format(workshop: Workshop) -> None:
    text = RECIPE.replace("assume:", "assumed: 3\nassume:")
    workshop.write("recipe.yaml", text)
    new = told(workshop.check())
    workshop.write("recipe.yaml", text.replace("headrace-recipe/2", "headrace-recipe/1"))
    old = told(workshop.check())

    assert len(old) == 1
    assert [each[:3] for each in old] == [each[:3] for each in new]
    assert old[0][3] == new[0][3].replace("`python`", "`plugins`")


@pytest.mark.parametrize("kind", ["recipe", "machine", "setup"])
def test_a_newer_format_is_refused_wherever_it_is_named(kind: str, workshop: Workshop) -> None:
    path = workshop.folder / f"{kind}.yaml"
    later = newest(kind)[:-1] + str(int(newest(kind)[-1]) + 1)
    path.write_text(path.read_text().replace(newest(kind), later))

    (found,) = workshop.check()

    assert found.name == "recipe-format-newer"
    assert found.place is not None
    assert (found.place.file, found.place.line, found.place.column) == (str(path), 1, 9)
    assert later in found.what
    assert "get a newer headrace" in found.remedy
    with pytest.raises(RecipeError):
        load_plan(workshop.recipe, workshop.registry)


def test_the_note_says_what_to_run(workshop: Workshop) -> None:
    workshop.write("recipe.yaml", OLD)
    (found,) = older_formats(workshop.recipe)

    assert found.name == "recipe-format-old"
    assert f"`headrace upgrade {workshop.recipe}`" in found.remedy
    assert workshop.check() == []  # it is no fault, and what only checks does not tell it


def test_a_document_that_is_new_already_stays() -> None:
    for text in ("format: headrace-recipe/2\nplugins: []\n", "name: Lids\n", "format: [1]\n"):
        assert upgraded(document(text), "recipe") is not None
        assert plain(upgraded(document(text), "recipe")) == plain(document(text))


@pytest.mark.parametrize("text", [RECIPE, OLD], ids=["new", "old"])
def test_the_files_that_it_names_are_known(text: str, workshop: Workshop) -> None:
    workshop.write("recipe.yaml", with_file(text))

    assert {path.name for path in named_files(workshop.recipe)} == {
        "recipe.yaml", "machine.yaml", "setup.yaml", "swarm_guard.py",
    }  # fmt: skip
