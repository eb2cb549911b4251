"""`headrace timed`: what it writes, shows and refuses, against its parts and `patch`."""

from __future__ import annotations

import json
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest
import yaml
from click.testing import CliRunner, Result
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from headrace.cli.group import headrace
from headrace.report.schema import output_schema
from headrace.timing.reading import seconds_of, watch_text

RECIPES = Path(__file__).parents[3] / "recipes"
LIDS = ["recipes/bench-lids.yaml", "recipes/jobs/lid.nc"]
MACHINE = "recipes/machines/bench-hand-switched.yaml"


@pytest.fixture
def shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy of the gallery, in which commands are run."""
    ignored = shutil.ignore_patterns("kept", "__pycache__")
    shutil.copytree(RECIPES, tmp_path / "recipes", ignore=ignored)
    monkeypatch.chdir(tmp_path)
    return tmp_path


def timed(*words: str, code: int = 0) -> Result:
    result = CliRunner().invoke(headrace, ["timed", *words])
    assert result.exit_code == code, result.output
    return result


def described(path: str = MACHINE) -> dict[str, Any]:
    found: dict[str, Any] = yaml.safe_load(Path(path).read_text("utf-8"))
    return found


@pytest.mark.usefixtures("shop")
def test_it_goes_into_the_machine_file_and_card_files_stay() -> None:
    def prepared() -> str:
        words = ["prepare", *LIDS, "--card", "card"]
        return CliRunner().invoke(headrace, words).stdout

    Path("card").mkdir()
    prepared()
    before, was = Path(MACHINE).read_bytes(), described()
    result = timed(*LIDS, "11:40")
    run = described().pop("timing")

    assert {**was, "timing": run} == described()
    assert Path(MACHINE).read_bytes().startswith(before)
    assert (run["took"], run["job"]) == (700, "lid.nc")
    assert run["factor"] == pytest.approx((700 - 2) / (run["planned"] - 2), abs=6e-4)
    assert f"{run['factor']:g} times as long" in result.stderr
    assert "unchanged" in prepared()


@pytest.mark.usefixtures("shop")
def test_a_second_run_starts_from_the_plan_and_not_from_the_first() -> None:
    timed(*LIDS, "14:00")
    first = described()["timing"]
    timed(*LIDS, "14:00")

    assert described()["timing"] == first


def test_what_it_shows_is_what_it_does(shop: Path) -> None:
    """`patch` makes the same file of the difference."""
    if shutil.which("patch") is None:
        pytest.skip("patch is not here")
    shown = timed(*LIDS, "11:40", "--check").stdout
    before = Path(MACHINE).read_bytes()
    timed(*LIDS, "11:40")
    after = Path(MACHINE).read_bytes()
    Path(MACHINE).write_bytes(before)
    subprocess.run(["patch", "-p1", "--silent"], input=shown.encode(), cwd=shop, check=True)

    assert Path(MACHINE).read_bytes() == after != before


@pytest.mark.usefixtures("shop")
def test_check_writes_nothing() -> None:
    before = Path(MACHINE).read_bytes()
    result = timed(*LIDS, "11:40", "--check")

    assert Path(MACHINE).read_bytes() == before
    assert "nothing is written" in result.stderr
    assert timed(*LIDS, "11:40", "--check", "--quiet").output == ""


@pytest.mark.usefixtures("shop")
def test_the_machine_of_a_parent(shop: Path) -> None:
    path = "recipes/machines/shop-speed-controlled.yaml"
    timed("recipes/speed-floor-boards.yaml", "recipes/jobs/floor-board.tap", "9:00")

    assert described(path)["timing"]["took"] == 540
    assert [
        each.name for each in (shop / "recipes" / "machines").iterdir() if each.name[0] == "."
    ] == []


@pytest.mark.usefixtures("shop")
def test_which_of_several_card_files() -> None:
    words = ["recipes/speed-feeder-boards.yaml", "recipes/jobs/feeder-board.nc", "5:00", "--check"]
    asked = timed(*words, code=2)
    names = asked.stderr.split("--file ")[1].split()
    told = timed(*words, "--file", names[-1].lower())

    assert "name the card file that was run" in asked.stderr
    assert names[-1] in told.stderr


@pytest.mark.usefixtures("shop")
def test_the_machine_is_that_of_the_file() -> None:
    """By how much a machine with other numbers is slower says nothing of this one."""
    before = Path(MACHINE).read_bytes()
    told = timed("--set", "machine.axes.x.acceleration=500", *LIDS, "12:00", code=2).stderr
    assert "change the machine file itself" in " ".join(told.split())
    assert Path(MACHINE).read_bytes() == before

    timed("--set", "setup.sheet.thickness.most=18.2", *LIDS, "12:00")
    assert described()["timing"]["took"] == 720


@pytest.mark.parametrize(
    ("took", "name"), [("9:42", "time-too-short"), ("45:00", "time-too-long"), ("9:44", None)]
)
@pytest.mark.usefixtures("shop")
def test_what_cannot_be(took: str, name: str | None) -> None:
    """At full feed throughout, homing left out, the lid takes 583.8 s; a watch shows whole ones."""
    before = Path(MACHINE).read_bytes()
    shown = timed(*LIDS, took, "--json", code=0 if name is None else 1)
    answer = json.loads(shown.stdout)

    assert [finding["name"] for finding in answer["findings"]] == ([name] if name else [])
    assert (Path(MACHINE).read_bytes() == before) == (name is not None)
    form = answer["format"].removeprefix("headrace-").split("/")[0]
    assert list(Draft202012Validator(output_schema(form)).iter_errors(answer)) == []


@pytest.mark.usefixtures("shop")
def test_a_description_that_does_not_tell() -> None:
    path = Path(MACHINE)
    path.write_text(path.read_text("utf-8").replace("corners: {deviation: 0.02}\n", ""), "utf-8")

    assert (
        "how corners are taken  [HRS001 times-not-planned]" in timed(*LIDS, "12:00", code=1).stderr
    )


@pytest.mark.usefixtures("shop")
def test_a_run_that_tells_little() -> None:
    short = (
        "(SHORT)\nG21 G90 G94 G17\nG0 Z30\nG0 X100 Y100\nG1 Z-1 F300\nG1 X140 F900\nG0 Z30\nM30\n"
    )
    Path("short.nc").write_text(short, "ascii")
    told = timed(LIDS[0], "short.nc", "1:10", code=1).stderr

    assert "run-tells-little" in told


@pytest.mark.usefixtures("shop")
def test_a_refused_job() -> None:
    Path("bad.nc").write_text("(BAD)\nG21 G90\nG1 X1O F300\nM30\n", "ascii")

    assert "refuse" in timed(LIDS[0], "bad.nc", "12:00", code=1).stderr


@pytest.mark.parametrize(
    "text", ["", "12", "0", "12:3", "1:2:3", "12:60", "-5", "1e3", "1:60:00", "x"]
)
def test_a_time_that_no_watch_shows(text: str) -> None:
    right = {"12": 12.0, "0": 0.0}

    assert seconds_of(text) == right.get(text)


@given(st.integers(0, 3_000_000))
def test_times_read_back(seconds: int) -> None:
    assert seconds_of(watch_text(seconds)) == seconds
    assert seconds_of(str(seconds)) == seconds
