"""Recipes for scripts: what the commands do, in memory and onto a card."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

import headrace
from headrace.errors import CardError, JobRefused, PluginError, RecipeError
from headrace.findings import Severity
from headrace.scripting import Recipe

RECIPES = Path(__file__).parents[2] / "recipes"
JOBS = RECIPES / "jobs"
KEPT = RECIPES / "kept/lids"


def gallery(name: str) -> Recipe:
    return headrace.load_recipe(RECIPES / f"{name}.yaml")


def test_what_is_prepared_in_memory_is_what_is_kept() -> None:
    """The kept outcomes of the gallery were made by another command."""
    recipe = gallery("bench-lids")
    results = recipe.prepare([JOBS / "lid.nc", str(JOBS / "handhold.nc")])

    assert {result.name: result.data for result in results} == {
        name: (KEPT / name).read_bytes() for name in ("LID.NC", "HANDHOLD.NC")
    }
    assert all(result.proof is not None and result.proof.moves > 50 for result in results)
    lid = next(result for result in results if result.source == "lid.nc")
    assert lid.steps == tuple(step for step in recipe.steps if step != "adapt")  # as it is fit
    assert recipe.machine.name == "Bench machine, router switched by hand"
    assert recipe.setup.sheet.thickness is not None


def test_one_job_needs_no_list() -> None:
    recipe = gallery("bench-lids")

    assert recipe.prepare(str(JOBS / "lid.nc")) == recipe.prepare([JOBS / "lid.nc"])


def test_a_job_that_is_no_file() -> None:
    data = (JOBS / "lid.nc").read_bytes()
    (result,) = gallery("bench-lids").prepare_bytes(data, "lid.nc")
    assert result.data == (KEPT / "LID.NC").read_bytes()

    (refused,) = gallery("bench-lids").prepare_bytes(b"G0 X1\n")
    assert refused.refused
    assert refused.data is None
    assert refused.proof is None
    assert any(each.severity is Severity.REFUSE for each in refused.findings)


def test_parts_are_all_fit_or_none() -> None:
    recipe = gallery("speed-feeder-boards")
    data = (JOBS / "feeder-board.nc").read_bytes()
    in_memory = recipe.prepare_bytes(data, "feeder-board.nc")
    assert [each.source for each in in_memory] == ["feeder-board-1.nc", "feeder-board-2.nc"]
    assert in_memory == recipe.prepare([JOBS / "feeder-board.nc"])

    # the second bit goes too deep
    lines = data.decode().splitlines(keepends=True)
    second = max(number for number, line in enumerate(lines) if "T" in line and "M6" in line)
    deep = [line.replace("Z-", "Z-9") for line in lines[second:]]
    spoilt = "".join(lines[:second] + deep).encode()
    assert spoilt != data
    results = recipe.prepare_bytes(spoilt, "feeder-board.nc")
    assert len(results) == 2
    assert all(each.refused for each in results)
    assert any(finding.name == "part-unready" for each in results for finding in each.findings)


def test_card_files_of_the_recipe_come_first() -> None:
    recipe = gallery("bench-setup-cards")
    results = recipe.prepare([JOBS / "lid.nc"])
    assert [(each.name, each.source) for each in results] == [
        ("SETUP.NC", None), ("TOUCH.NC", None), ("LID.NC", "lid.nc"),
    ]  # fmt: skip
    assert recipe.prepare() == results[:2]
    assert [each.name for each in recipe.prepare_bytes(b"", "lid.nc")] == ["LID.NC"]


def test_a_card(tmp_path: Path) -> None:
    jobs, card, page = tmp_path / "jobs", tmp_path / "card", tmp_path / "lids.html"
    jobs.mkdir()
    card.mkdir()
    shutil.copy(JOBS / "lid.nc", jobs)
    (jobs / "notes.txt").write_text("bees")
    (jobs / "bad.nc").write_text("G0 X1\n")
    recipe = gallery("bench-lids")
    run = recipe.write([jobs], card, sheet=page)

    assert [(each.name, each.source, each.fate) for each in run.files] == [
        ("BAD.NC", "bad.nc", "refused"), ("LID.NC", "lid.nc", "written"),
    ]  # fmt: skip
    assert (run.ready, run.exit_code) == (False, 1)
    assert [each.name for each in run.findings] == ["passed-over"]
    assert (card / "LID.NC").read_bytes() == (KEPT / "LID.NC").read_bytes()
    assert page.read_bytes().startswith(b"<!DOCTYPE html>")
    (jobs / "bad.nc").unlink()
    again = recipe.write([jobs], card, workers=2)
    assert [each.fate for each in again.files] == ["unchanged"]
    assert again.ready
    with pytest.raises(CardError):
        recipe.write([jobs], tmp_path / "gone")


def test_what_cannot_be_read_is_refused(tmp_path: Path) -> None:
    recipe = gallery("bench-lids")
    reasons = {tmp_path / "gone.nc": "there is no such file", tmp_path: "is a folder"}
    for path, reason in reasons.items():
        with pytest.raises(JobRefused) as caught:
            recipe.prepare([path])
        assert caught.value.findings[0].name == "job-unreadable"
        assert reason in caught.value.findings[0].what
    with pytest.raises(RecipeError):
        headrace.load_recipe(RECIPES / "gone.yaml")
    with pytest.raises(RecipeError):
        headrace.load_recipe(RECIPES / "bench-lids.yaml", ["setup.sheet.thicknes.most=18"])


def test_files_of_strangers_do_not_run(monkeypatch: pytest.MonkeyPatch) -> None:
    assert gallery("swarm-warning").steps
    monkeypatch.setenv("HEADRACE_PYTHON", "off")
    with pytest.raises(PluginError):
        gallery("swarm-warning")
