"""For the tests of pictures: drawings of jobs, and a reading of what an SVG draws.

The reading follows the SVG 2 specification (section 9.3, path data) for the commands that are used,
and shares nothing with the code that writes it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from xml.etree import ElementTree

import shapely

from headrace.batch.engines.kit import with_python_files
from headrace.intake import job_of
from headrace.job import Job
from headrace.machine import Setup
from headrace.picture.drawing import Drawing
from headrace.plugins.registry import load_registry
from headrace.recipe import load_plan
from headrace.run import prepare_job

RECIPES = Path(__file__).parents[3] / "recipes"
REGISTRY = load_registry()
BENCH = load_plan(RECIPES / "bench-lids.yaml", REGISTRY)
DEMOS = (
    ("bench-lids", "lid.nc"),
    ("bench-lids", "handhold.nc"),
    ("bench-windows", "window.ngc"),
    ("relay-frames", "frame-side.nc"),
    ("relay-frames", "entrance-reducer.nc"),
    ("speed-floor-boards", "floor-board.tap"),
    ("speed-window", "window.ngc"),
    ("speed-feeder-changes", "feeder-board.nc"),
    ("speed-excluder", "queen-excluder.nc"),
)
SVG = "{http://www.w3.org/2000/svg}"
START = "G21 G17 G90 G94\nS17000 M3\nG0 Z5\n"


def prepared(recipe: str, name: str) -> Job:
    """A job of the gallery as its recipe makes it."""
    plan = load_plan(RECIPES / f"{recipe}.yaml", REGISTRY)
    data = (RECIPES / "jobs" / name).read_bytes()
    outcome = prepare_job(name, data, plan, with_python_files(REGISTRY, plan))
    assert outcome.job is not None
    return outcome.job


def job(text: str, setup: dict[str, object] | None = None) -> Job:
    """A job as CAM writes it, on the bench machine; its zero is the sheet's corner and top."""
    plan = BENCH if setup is None else replace(BENCH, setup=Setup.of(setup))
    return job_of("part.nc", (START + text + "M2\n").encode(), plan)


def tree(drawing: Drawing) -> ElementTree.Element:
    return ElementTree.fromstring(drawing.svg)


Line = list[tuple[float, float]]


def lines_of(data: str) -> list[Line]:
    """The lines of path data, each its points."""
    lines: list[Line] = []
    x = y = 0.0
    for letter, rest in re.findall(r"([a-zA-Z])([^a-zA-Z]*)", data):
        numbers = [float(n) for n in re.findall(r"-?(?:\d+\.?\d*|\.\d+)", rest)]
        near = letter.islower()
        if letter in "zZ":
            x, y = lines[-1][0]
            lines[-1].append((x, y))
            continue
        size = {"m": 2, "l": 2, "h": 1, "v": 1}[letter.lower()]
        assert numbers, (letter, rest)
        assert len(numbers) % size == 0, (letter, rest)
        for at in range(0, len(numbers), size):
            part = numbers[at : at + size]
            dx = part[0] if letter not in "vV" else None
            dy = part[-1] if letter not in "hH" else None
            x = x if dx is None else (x if near else 0.0) + dx
            y = y if dy is None else (y if near else 0.0) + dy
            if letter in "mM" and at == 0:
                lines.append([])
            lines[-1].append((x, y))
    return lines


@dataclass(frozen=True)
class Used:
    """A path that is drawn: its classes, how wide, and its lines in the sheet's numbers."""

    classes: tuple[str, ...]
    width: float
    lines: list[Line]


def used(drawing: Drawing) -> Iterator[Used]:
    """What is drawn with paths by name in a drawing from above."""
    root = tree(drawing)
    paths = {path.get("id"): path.get("d") for path in root.iter(f"{SVG}path") if path.get("id")}
    for use in root.iter(f"{SVG}use"):
        data = paths[use.attrib["href"][1:]]
        assert data is not None
        classes = tuple(use.attrib["class"].split())
        yield Used(classes, float(use.attrib["stroke-width"]), lines_of(data))


def areas(drawing: Drawing) -> dict[str, list[Line]]:
    """The areas of a drawing from above, by class."""
    found: dict[str, list[Line]] = {}
    for path in tree(drawing).iter(f"{SVG}path"):
        name = path.get("class", "")
        if re.fullmatch(r"hr-f\d|hr-reach", name):
            found[name] = lines_of(path.attrib["d"])
    return found


def dashes(drawing: Drawing) -> set[tuple[str, str | None]]:
    """The looks of lines: class and dashes."""
    return {
        (element.get("class", ""), element.get("stroke-dasharray"))
        for element in tree(drawing).iter()
        if element.get("stroke-width")
    }


def lines_and_points(lines: Sequence[Sequence[tuple[float, float]]]) -> shapely.Geometry:
    """All of some lines; those that stay at one place are points, as Shapely has it."""
    return shapely.union_all([
        shapely.LineString(line) if len(set(line)) > 1 else shapely.Point(line[0]) for line in lines
    ])  # fmt: skip
