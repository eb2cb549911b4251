"""Where each value is from, from the command line.

Outside reference: PyYAML, which has a mark of its own for where each node begins.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import yaml
from click.testing import CliRunner, Result

from headrace.cli.group import headrace as command
from headrace.recipe import compose

RECIPES = Path(__file__).parents[3] / "recipes"
GALLERY = sorted(path.name for path in RECIPES.glob("*.yaml"))


def run(*args: object) -> Result:
    return CliRunner().invoke(command, ["origin", *map(str, args)])


def values_of(*args: object) -> dict[str, dict[str, Any]]:
    result = run(*args, "--json")
    assert result.exit_code == 0, result.output
    return {each["name"]: each for each in json.loads(result.stdout)["values"]}


def marks(node: yaml.Node) -> Iterator[tuple[int, int, Any]]:
    """Where every node of a file begins, from 1, and what it comes to."""
    loader = yaml.SafeLoader("")
    value = loader.construct_object(node, deep=True)
    yield node.start_mark.line + 1, node.start_mark.column + 1, value
    if isinstance(node, yaml.MappingNode):
        for _, inner in node.value:
            yield from marks(inner)
    elif isinstance(node, yaml.SequenceNode):
        for inner in node.value:
            yield from marks(inner)


def size(value: Any) -> int:
    """How many single values there are in one; what is empty counts as one."""
    return sum(map(size, value)) if isinstance(value, list) and value else 1


@pytest.mark.parametrize("name", GALLERY)
def test_every_value_is_where_it_is_said_to_be(name: str) -> None:
    read: dict[str, list[tuple[int, int, Any]]] = {}
    found = values_of(RECIPES / name)

    for each in found.values():
        file = each["file"]
        if file not in read:
            read[file] = list(marks(yaml.compose(Path(file).read_text("utf-8"), yaml.SafeLoader)))
        assert (each["line"], each["column"], each["value"]) in read[file], each
    composed, _ = compose(RECIPES / name)
    assert composed is not None
    whole = sum(1 for _ in composed.origins())
    own = isinstance(yaml.safe_load((RECIPES / name).read_text("utf-8")).get("setup"), dict)
    paths = 0 if own or "setup" not in found else 1
    assert sum(size(each["value"]) for each in found.values()) == whole + paths, (
        "not one is missing"
    )


def test_a_parent_and_a_machine_are_told_by_their_own_files() -> None:
    found = values_of(RECIPES / "speed-window.yaml")

    def at(name: str) -> str:
        return Path(found[name]["file"]).name

    assert at("name") == "speed-window.yaml"
    assert at("machine") == "base.yaml", "only the parent says it"
    assert at("machine.bed") == "shop-speed-controlled.yaml"
    assert at("setup.sheet.thickness.least") == "window-3.yaml"


def test_the_command_line_counts_before_the_files() -> None:
    lids = RECIPES / "bench-lids.yaml"
    result = run(lids, "setup.sheet.thickness", "--set", "setup.sheet.thickness.most=18.4")

    assert result.stdout.splitlines() == [
        f"setup.sheet.thickness.least: 17.6  ({RECIPES / 'setups' / 'lids-18.yaml'}:8)",
        "setup.sheet.thickness.most: 18.4  (--set setup.sheet.thickness.most=18.4)",
    ]


def test_names_choose_values_and_what_lies_below() -> None:
    lids = RECIPES / "bench-lids.yaml"

    assert set(values_of(lids, "machine.pause", "name")) == {
        "name", "machine.pause.word", "machine.pause.text", "machine.pause.width"
    }  # fmt: skip
    assert set(values_of(lids, "steps.4")) == {"steps.4.rereference-z.margin"}


def test_a_recipe_need_not_be_right_to_be_told_of(tmp_path: Path) -> None:
    """And nothing of it is run."""
    recipe = tmp_path / "smoke.yaml"
    recipe.write_text(
        "format: headrace-recipe/2\nname: 7\npython: [not-there.py]\nsteps: [prak]\nsetup: {}\n"
    )

    found = values_of(recipe)

    assert {name: each["line"] for name, each in found.items()} == {
        "format": 1, "name": 2, "python": 3, "steps.1": 4, "setup": 5
    }  # fmt: skip


@pytest.mark.parametrize(
    ("text", "args", "code", "said"),
    [
        ("format: headrace-recipe/2\nmachine: no.yaml\n", [], 3, "there is no file"),
        ("format: headrace-recipe/2\nname: [\n", [], 3, "recipe-syntax"),
        ("format: headrace-recipe/2\nname: A\n", ["nmae"], 2, "did you mean 'name'?"),
        ("format: headrace-recipe/2\nname: A\n", ["nam"], 2, "no file says anything of 'nam'"),
        ("format: headrace-recipe/2\nname: A\n", ["--set", "nmae=1"], 3, "recipe-override"),
    ],
)
def test_what_cannot_be_told_is_refused(
    text: str, args: list[str], code: int, said: str, tmp_path: Path
) -> None:
    recipe = tmp_path / "a.yaml"
    recipe.write_text(text)

    result = run(recipe, *args)

    assert result.exit_code == code
    assert said in result.stderr
    assert result.stdout == ""
