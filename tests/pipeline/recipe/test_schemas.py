"""The schemas themselves, and what is published for editors."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest
import yaml
from jsonschema import Draft202012Validator
from pipeline.recipe.workshop import MACHINE, RECIPE, SETUP, Registry

from headrace.machine import Machine, Setup
from headrace.recipe.mismatch import mismatches
from headrace.recipe.schema import schema
from headrace.recipe.schema_export import full_schema

KINDS = ("recipe", "machine", "setup")
TEXTS = {"recipe": RECIPE, "machine": MACHINE, "setup": SETUP}


def described(node: Any, way: str = "") -> Iterator[tuple[str, dict[str, Any]]]:
    """Every property, item and shared definition of a schema, with the way to it."""
    if not isinstance(node, dict):
        return
    for group in ("properties", "$defs"):
        for name, inner in node.get(group, {}).items():
            yield f"{way}/{group}/{name}", inner
            yield from described(inner, f"{way}/{group}/{name}")
    for name in ("items", "additionalProperties"):
        if isinstance(inner := node.get(name), dict):
            yield f"{way}/{name}", inner
            yield from described(inner, f"{way}/{name}")


@pytest.mark.parametrize("kind", KINDS)
def test_schema_is_valid_against_the_metaschema(kind: str) -> None:
    """Outside reference: the 2020-12 metaschema as the jsonschema library carries it."""
    Draft202012Validator.check_schema(schema(kind))
    assert schema(kind)["$schema"] == Draft202012Validator.META_SCHEMA["$id"]


UNIT = re.compile(
    r"[;(] ?(diameter, )?(mm|mm/min|mm/s2|mm a tooth|s|rev/min|lines/s|degrees(/min|/s2)?"
    r"|text|true or false|a whole number|only true makes sense)\b|How many times"
)
"""How a description tells in what a number counts, or what else is written there."""
SINGLE = {"number", "integer", "string", "boolean"}


def types(part: dict[str, Any]) -> set[str]:
    kind = part.get("type", [])
    return {kind} if isinstance(kind, str) else set(kind)


@pytest.mark.parametrize("kind", KINDS)
def test_every_part_of_a_schema_explains_itself(kind: str) -> None:
    """Of each property without exception: description, type, unit, and a default or an example."""
    found = dict(described(schema(kind)))
    known = {
        way: part
        for way, part in found.items()
        if way.rsplit("/", 2)[-2] in ("properties", "$defs") and way != "/$defs/step"
    }

    def lacking(*keys: str) -> list[str]:
        return [way for way, part in known.items() if not part.keys() & {"$ref", *keys}]

    assert [way for way, part in found.items() if not part.keys() & {"description", "$ref"}] == []
    assert lacking("type", "enum", "const") == []
    assert lacking("default", "examples", "enum", "const") == []
    assert [
        part["description"]
        for part in known.values()
        if types(part) & SINGLE and not UNIT.search(part["description"])
    ] == []
    assert len(known) >= {"recipe": 20, "machine": 80, "setup": 40}[kind]


@pytest.mark.parametrize("kind", KINDS)
def test_every_mapping_of_a_schema_is_closed(kind: str) -> None:
    parts = [("", schema(kind)), *described(schema(kind))]

    assert [way for way, part in parts if "properties" in part
            and part.get("additionalProperties") is not False] == []  # fmt: skip


@pytest.mark.parametrize("kind", KINDS)
def test_defaults_and_examples_are_accepted_by_their_own_schema(kind: str) -> None:
    whole = schema(kind)
    tried = 0
    for way, part in described(whole):
        for value in [*part.get("examples", ()), *([part["default"]] if "default" in part else [])]:
            inner = {**part, "$defs": whole.get("$defs", {})}
            assert mismatches(value, inner) == [], way
            tried += 1
    assert tried > 5


@pytest.mark.parametrize("kind", KINDS)
def test_sound_file_is_accepted_by_the_library_itself(kind: str) -> None:
    """Outside reference: jsonschema on what PyYAML reads."""
    Draft202012Validator(schema(kind)).validate(yaml.safe_load(TEXTS[kind]))


def test_no_choice_needs_alternatives() -> None:
    """`oneOf` and `anyOf` give findings that help nobody; `type` lists do the same here."""
    assert not [
        way
        for kind in KINDS
        for way, part in described(schema(kind))
        if {"oneOf", "anyOf"} & set(part)
    ]


@pytest.mark.parametrize("kind", KINDS)
def test_full_schema_is_valid_and_accepts_the_sound_file(kind: Any, registry: Registry) -> None:
    full = full_schema(kind, registry)

    Draft202012Validator.check_schema(full)
    Draft202012Validator(full).validate(yaml.safe_load(TEXTS[kind]))


def errors(registry: Registry, text: str) -> list[str]:
    full = full_schema("recipe", registry)
    found = Draft202012Validator(full).iter_errors(yaml.safe_load(text))
    return ["/".join(str(part) for part in error.absolute_path) for error in found]


@pytest.mark.parametrize(
    ("old", "new", "where"),
    [
        ("- park", "- prak", "steps/3"),
        ("- park", "- pause", "steps/3"),
        ("- park", "- prak: {}", "steps/3"),
        ("speed: 17000", "sped: 17000", "steps/1/spindle"),
        ("speed: 17000", "speed: 100000", "steps/1/spindle/speed"),
        ("text: EXTRACTION ON", "codes: []", "steps/2/pause"),
        ("steps: [home]", "steps: [hoem]", "card-files/0/steps/0"),
        ("setup: setup.yaml", "setup: {sheet: {thicknes: 18}}", "setup/sheet"),
        ("setup: setup.yaml", "setup: {sheet: {thickness: -1}}", "setup/sheet/thickness"),
    ],
)
def test_full_schema_knows_the_options_of_all_transforms(
    old: str, new: str, where: str, registry: Registry
) -> None:
    assert errors(registry, RECIPE) == []
    assert errors(registry, RECIPE.replace(old, new)) == [where]


def test_full_schema_shows_what_each_step_does(registry: Registry) -> None:
    step = full_schema("recipe", registry)["$defs"]["step"]

    assert step["properties"]["park"]["description"] == "Park the head."
    told = {choice.get("const"): choice.get("description") for choice in step["anyOf"]}
    assert told["home"] == "Home the machine."
    assert "pause" not in told


def test_export_leaves_the_schema_of_the_package_alone(registry: Registry) -> None:
    before = repr(schema("recipe"))

    full_schema("recipe", registry)["properties"].clear()

    assert repr(schema("recipe")) == before


class Watched(dict[str, Any]):
    """A mapping that notes which keys are asked for, with the way to them."""

    def __init__(self, data: dict[str, Any], asked: set[str], way: str = "") -> None:
        self.asked, self.way = asked, way
        super().__init__({key: self._inner(value, key) for key, value in data.items()})

    def _inner(self, value: Any, key: str) -> Any:
        if isinstance(value, list):
            return [self._inner(item, f"{key}/items") for item in value]
        return Watched(value, self.asked, f"{self.way}/{key}") if isinstance(value, dict) else value

    def __getitem__(self, key: str) -> Any:
        self.asked.add(f"{self.way}/{key}")
        return super().__getitem__(key)

    def get(self, key: str, default: Any = None) -> Any:
        self.asked.add(f"{self.way}/{key}")
        return super().get(key, default)

    def items(self) -> Any:
        self.asked.update(f"{self.way}/{key}" for key in self)
        return super().items()


def keys_of(node: dict[str, Any], root: dict[str, Any], way: str = "") -> Iterator[str]:
    """The way to every key that a schema knows."""
    if "$ref" in node:
        node = root["$defs"][node["$ref"].rsplit("/", 1)[1]] | node
    for key, inner in node.get("properties", {}).items():
        yield f"{way}/{key}"
        yield from keys_of(inner, root, f"{way}/{key}")
    if isinstance(node.get("items"), dict):
        yield from keys_of(node["items"], root, f"{way}/items")


@pytest.mark.parametrize(("kind", "build"), [("machine", Machine.of), ("setup", Setup.of)])
def test_schema_knows_exactly_the_keys_that_are_read(kind: str, build: Any) -> None:
    data = yaml.safe_load(TEXTS[kind])
    if kind == "machine":
        data |= {"line": {}, "arcs": {}, "shoe": {"diameter": 90, "below-collet": 5}, "corners": {}}
        data |= {"timing": {"factor": 1.1, "planned": 600, "took": 660, "job": "lid.nc"}}
        turning = schema("machine")["$defs"]["rotary"]["examples"][0]
        data |= {"rotary": {"a": turning, "b": turning}}
        data |= {"heads": schema("machine")["properties"]["heads"]["examples"][0]}
    else:
        spans = {"stick-out": {"least": 1, "most": 2}, "chip": {"least": 1, "most": 2}}
        data["tool"] |= spans
        data["tools"] = [{"number": 2, **spans}]
        data["blank"] = schema("setup")["properties"]["blank"]["examples"][0]
    asked: set[str] = set()

    build(Watched(data, asked))

    # The outputs are called as the machine's maker likes; what kind of file it is was seen before.
    asked.discard("/outputs/M8")
    assert asked | {"/format"} == set(keys_of(schema(kind), schema(kind)))
