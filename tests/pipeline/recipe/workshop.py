"""A workshop with one sound recipe, and a registry of transforms that do nothing."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from headrace.errors import PluginError
from headrace.findings import Finding, Place
from headrace.plugins.transform import Transform, transform
from headrace.recipe import check_recipe

MACHINE = """\
format: headrace-machine/1
name: Bench machine
axes:
  x:
    travel: [0, 620]
    home-end: low
    homed-number: 0
    rapid: 4000
    feed: 3000
  y: {travel: [0, 560], home-end: low, homed-number: 0, rapid: 4000, feed: 3000}
  z: {travel: [-85, 0], home-end: high, homed-number: 0, rapid: 1500, feed: 800}
bed: 108
homing:
  by: word
  word: G28
  order: [[z], [x, y]]
work-zero: {word: G92}
soft-limits: {action: clamps, numbers: shown}
spindle:
  control: by-hand
  range: [10000, 30000]
  run-up: 2
  run-down: 8
  dial: [["1", 10000], ["6", 30000]]
probe:
  quick: 120
  slow: 30
pause: {word: M0, text: before, width: 20}
dwell: milliseconds
comments: both
outputs: {M8: extraction}
park: {x: 0, y: 550, z: -2}
card: {names: short, extension: NC}
"""

SETUP = """\
format: headrace-setup/1
name: Lids
sheet:
  thickness: {least: 17.6, most: 18.1}
  corner: [20, 20]
  size: [580, 500]
plate:
  thickness: 12.02
  at: [50, 50]
tool:
  stick-out: [28, 32]
safe-height: 25
clamps:
  - name: left
    from: [-20, 230]
    to: [20, 270]
    top: 20
  - {name: right, from: [560, 230], to: [600, 270], top: 20}
"""

RECIPE = """\
format: headrace-recipe/2
name: Lids
description: Home, touch off, cut, park.
machine: machine.yaml
setup: setup.yaml
assume: {units: mm}
steps:
  - home
  - spindle: {speed: 17000, missing: start}
  - pause:
      text: EXTRACTION ON
  - park
card-files:
  - name: SETUP
    title: Home
    steps: [home]
  - name: TOUCH
    after: SETUP
    steps:
      - home
"""


@transform("home")
def home(job: Any) -> Iterable[Any]:  # noqa: ARG001
    """Home the machine."""
    return ()


@transform("park")
def park(job: Any) -> Iterable[Any]:  # noqa: ARG001
    """Park the head."""
    return ()


SPINDLE_OPTIONS: dict[str, dict[str, Any]] = {
    "speed": {
        "type": "integer",
        "description": "The speed; rev/min.",
        "minimum": 1000,
        "exclusiveMaximum": 40000,
        "multipleOf": 100,
    },
    "missing": {
        "description": "What to do for a job that never starts it.",
        "enum": ["refuse", "start"],
        "default": "refuse",
    },
    "wait": {
        "description": "How long it runs up; s.",
        "anyOf": [
            {"type": "number", "minimum": 0},
            {"const": "none"},
            {
                "type": "object",
                "required": ["least"],
                "properties": {"least": {"type": "number"}},
                "additionalProperties": False,
            },
        ],
    },
    "marks": {
        "type": "object",
        "patternProperties": {"^[0-9]$": {"type": "number"}},
        "additionalProperties": False,
        "minProperties": 1,
    },
    "never": {"properties": {"x": False}},
    "exact": {"oneOf": [{"type": "number"}, {"type": "integer"}, {"enum": ["a", "b"]}]},
    "either": {
        "anyOf": [
            {"type": "object", "required": ["a", "b"]},
            {"type": "object", "required": ["c"]},
            {"type": "object", "required": ["d", "e"]},
        ]
    },
    "odder": {"anyOf": [{"allOf": [{"type": "string"}]}, {"const": 7}]},
    "odd": {"not": {"const": 4}},
    "old": {"oneOf": [{"title": "no type here", "minimum": 3}, True]},
}


def switch_on(job: Any, **options: Any) -> Iterable[Any]:  # noqa: ARG001
    """Switch the spindle on before the first cut."""
    return ()


spindle = Transform("spindle", switch_on, frozenset(), False, SPINDLE_OPTIONS, ())


@transform(
    "pause",
    options={
        "text": {
            "type": "string",
            "description": "What the operator is asked.",
            "maxLength": 20,
            "pattern": "^[A-Z ?]+$",
            "default": "READY?",
        },
        "codes": {
            "type": "array",
            "items": {"type": "string", "pattern": "^M"},
            "uniqueItems": True,
        },
    },
    required=["text"],
)
def pause(job: Any, *, text: Any, codes: Any) -> Iterable[Any]:  # noqa: ARG001
    """Wait for the operator."""
    return ()


@dataclass(frozen=True)
class Registry:
    """As much of a registry as recipes need; `loaded` are the Python files asked for."""

    transforms: Mapping[str, Transform]
    loaded: tuple[Path, ...] = ()

    def with_files(self, paths: Sequence[Path], places: Sequence[Place]) -> Registry:
        for path, place in zip(paths, places, strict=True):
            if "broken" in path.name:
                what = f"the plugin {path.name} cannot be loaded"
                raise PluginError(findings=[Finding.of("plugin-unloadable", what, place)])
        local = {path.stem.replace("_", "-"): park for path in paths}
        return Registry({**self.transforms, **local}, tuple(paths))


@dataclass(frozen=True)
class Workshop:
    """A folder with a machine, a set-up and a recipe, all of them sound."""

    folder: Path
    registry: Registry

    @property
    def recipe(self) -> Path:
        return self.folder / "recipe.yaml"

    def write(self, name: str, text: str | bytes) -> Path:
        path = self.folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(text.encode() if isinstance(text, str) else text)
        return path

    def check(self, *overrides: str) -> list[Finding]:
        return check_recipe(self.recipe, self.registry, overrides)
