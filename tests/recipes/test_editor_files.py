"""What editors find beside the gallery: schemas that are those of today, and the way to them.

Renew them with `headrace schema --to recipes/schemas --for recipes`.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest
import yaml
from click.testing import CliRunner
from jsonschema import Draft202012Validator

from headrace.cli.group import headrace as command
from headrace.recipe.dependents import kind_of

RECIPES = Path(__file__).parents[2] / "recipes"
SCHEMAS = RECIPES / "schemas"
KINDS = ("recipe", "machine", "setup")
FILES = sorted(path for path in RECIPES.rglob("*.yaml") if "kept" not in path.parts)


@pytest.mark.parametrize("kind", KINDS)
def test_the_schema_beside_the_gallery_is_what_is_printed(kind: str) -> None:
    steps = ["--for", str(RECIPES)] if kind == "recipe" else []
    printed = CliRunner().invoke(command, ["schema", kind, *steps])

    assert printed.exit_code == 0, printed.output
    assert (SCHEMAS / f"{kind}.json").read_text("utf-8") == printed.stdout
    assert {path.stem for path in SCHEMAS.iterdir()} == set(KINDS)


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.relative_to(RECIPES).as_posix())
def test_the_first_line_leads_to_the_schema(path: Path) -> None:
    """And the file is as that says. Outside reference: jsonschema, on what PyYAML reads."""
    text = path.read_text("utf-8")
    first = text.partition("\n")[0]
    told, _, way = first.partition("$schema=")

    assert told == "# yaml-language-server: "
    target = path.parent / way
    assert target.resolve() == (SCHEMAS / f"{kind_of(path)}.json").resolve()
    assert not Path(way).is_absolute()
    schema = json.loads(target.read_text("utf-8"))
    Draft202012Validator(schema).validate(yaml.safe_load(text))


def test_the_schema_knows_the_steps_of_the_gallerys_own() -> None:
    schema = json.loads((SCHEMAS / "recipe.json").read_text("utf-8"))
    option = schema["$defs"]["step"]["properties"]["swarm-warning"]["properties"]["text"]

    assert option["description"] == "What the operator is asked."
    assert option["default"] == "HIVE SHUTTER CLOSED?"
