"""Every recipe of the gallery over its jobs: whole card files, one snapshot a file.

Look at a changed snapshot as an operator would before you accept it.
"""

from __future__ import annotations

import re
from importlib.util import module_from_spec, spec_from_file_location
from pathlib import Path

import pytest
from syrupy.assertion import SnapshotAssertion
from syrupy.extensions.single_file import SingleFileSnapshotExtension
from syrupy.types import SerializableData, SerializedData
from workshop.gallery import planned

from headrace.outcome import Outcome
from headrace.plugins.registry import load_registry
from headrace.recipe import check_recipe
from headrace.run import prepare_card_file, prepare_job

RECIPES = Path(__file__).parents[2] / "recipes"
JOBS = RECIPES / "jobs"
GALLERY = {
    "bench-lids": ("lid.nc", "handhold.nc"),
    "bench-setup-cards": ("lid.nc", "handhold.nc"),
    "bench-windows": ("window.ngc",),
    "relay-frames": ("frame-side.nc", "entrance-reducer.nc"),
    "swarm-warning": ("frame-side.nc",),
    "speed-floor-boards": ("floor-board.tap",),
    "speed-window": ("window.ngc",),
    "speed-feeder-boards": ("feeder-board.nc", "feeder-board.nc, part 2"),
    "speed-feeder-changes": ("feeder-board.nc",),
    "speed-excluder": ("queen-excluder.nc",),
    "clean-text": ("floor-board.tap", "lid.nc"),
    "rotary-dipper": ("honey-dipper.nc",),
    "knife-seals": ("lid-seals.nc",),
    "heads-end-bars": ("end-bars.nc",),
}
TOLD = {
    ("bench-lids", "handhold.nc"): ["output-not-described"],  # M8, and nothing is wired to it
    ("bench-setup-cards", "handhold.nc"): ["output-not-described"],
    ("speed-floor-boards", "floor-board.tap"): ["tool-behind-touch"],
    # text only: what no step cares for is told
    ("clean-text", "floor-board.tap"): ["modes-not-stated", "cannot-tell"],
    ("clean-text", "lid.nc"): [
        "frame-differs", "modes-not-stated", "cut-before-speed", "cannot-tell"
    ],
}  # fmt: skip
"""What is told of a recipe and its job; of all others nothing is."""

CASES = [(recipe, job) for recipe, jobs in GALLERY.items() for job in jobs]


class CardFile(SingleFileSnapshotExtension):
    """A snapshot is a card file, byte for byte."""

    file_extension = "nc"

    def serialize(self, data: SerializableData, **_: object) -> SerializedData:
        assert isinstance(data, bytes)
        return data


@pytest.fixture
def card_file(snapshot: SnapshotAssertion) -> SnapshotAssertion:
    return snapshot.use_extension(CardFile)


def prepared(recipe: str, job: str) -> Outcome:
    plan, registry = planned(recipe)
    name, _, part = job.partition(", part ")
    return prepare_job(name, (JOBS / name).read_bytes(), plan, registry, int(part or 1) - 1)


def test_every_recipe_is_in_the_gallery() -> None:
    assert {path.stem for path in RECIPES.glob("*.yaml")} == set(GALLERY)


def test_every_recipe_names_its_jobs_in_its_heading() -> None:
    for recipe, jobs in GALLERY.items():
        heading = (RECIPES / f"{recipe}.yaml").read_text("utf-8").split("format:")[0]
        named = re.findall(r"jobs/([a-z-]+\.[a-z]+)", heading)
        assert set(named) <= set(jobs), recipe


def test_every_job_is_cut_by_a_recipe() -> None:
    used = {job.split(",")[0] for jobs in GALLERY.values() for job in jobs}
    there = {path.name for path in JOBS.iterdir() if path.suffix in (".nc", ".ngc", ".tap")}

    assert there == used


@pytest.mark.parametrize("recipe", [*GALLERY, "shared/base"])
def test_recipe_has_no_faults(recipe: str) -> None:
    assert check_recipe(RECIPES / f"{recipe}.yaml", load_registry()) == []


@pytest.mark.parametrize(("recipe", "job"), CASES, ids=lambda value: str(value))
def test_card_file(recipe: str, job: str, card_file: SnapshotAssertion) -> None:
    outcome = prepared(recipe, job)

    assert outcome.result is not None, outcome.findings
    told = [finding.name for finding in outcome.findings]
    assert told == TOLD.get((recipe, job), [])
    assert outcome.result.to_bytes() == card_file


def test_stand_alone_card_files(card_file: SnapshotAssertion) -> None:
    plan, registry = planned("bench-setup-cards")
    finished: dict[str, Outcome] = {}
    for wanted in plan.card_files:
        finished[wanted.name] = prepare_card_file(wanted, plan, registry, finished)
        result = finished[wanted.name].result
        assert result is not None, finished[wanted.name].findings
        assert result.to_bytes() == card_file(name=wanted.name)


@pytest.mark.parametrize(("recipe", "job"), CASES, ids=lambda value: str(value))
def test_preparing_gives_the_same_bytes_each_time(recipe: str, job: str) -> None:
    first, second = prepared(recipe, job), prepared(recipe, job)

    assert first.result is not None
    assert second.result is not None
    assert first.result.to_bytes() == second.result.to_bytes()


def test_two_tools_are_refused() -> None:
    outcome = prepared("speed-floor-boards", "feeder-board.nc")

    assert outcome.refused
    assert "tool-without-zero" in [finding.name for finding in outcome.findings]


def test_a_long_relief_keeps_every_line_of_its_own() -> None:
    """A job of 200,000 lines, generated on demand: what CAM wrote is there, byte for byte."""
    spec = spec_from_file_location("hive_relief", JOBS / "hive_relief.py")
    assert spec is not None
    assert spec.loader is not None
    module = module_from_spec(spec)
    spec.loader.exec_module(module)
    data = "".join(line if line.endswith("\n") else line + "\n" for line in module.relief(200_000))
    plan, registry = planned("bench-lids")

    outcome = prepare_job("relief.nc", data.encode(), plan, registry)

    assert outcome.result is not None, outcome.findings
    assert outcome.job is not None
    lines = data.encode().splitlines(keepends=True)
    own = [line for line in outcome.result if line.cause is None]
    assert len(own) > 199_980
    assert [line.raw for line in own] == [lines[line.origin or 0] for line in own]
    assert [line.origin for line in own] == sorted({line.origin or 0 for line in own})
    moving = {at for at, line in enumerate(lines) if line.startswith((b"X", b"Y", b"Z", b"G1 "))}
    assert moving <= {line.origin for line in own}
