"""What one file does, told alone. The numbers are worked out beside each test."""

from __future__ import annotations

import json
import math
import re
from pathlib import Path
from typing import Any

import pytest
from workshop import REFUSED, Workshop, set_up
from workshop.command import run

RECIPES = Path(__file__).parents[3] / "recipes"
JOBS = sorted(
    path for path in (RECIPES / "jobs").iterdir() if path.suffix in (".nc", ".ngc", ".tap")
)
SLOT = """\
(entrance slot)
(beech, 12)
G21 G90 G94 G17
T3 M6
S16000 M3
G0 X10 Y20 Z5
G1 Z-2 F300
G1 X50 F1200
G3 X50 Y40 I0 J10
G4 P2
M0
G0 Z5
M5
M30
"""
"""Down 7 mm, 40 mm along, half a circle of radius 10 that bulges to X60, a dwell and a pause."""


@pytest.fixture
def hive(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Workshop:
    made = set_up(tmp_path / "hive")
    monkeypatch.chdir(made.root)
    made.job("slot.nc", SLOT)
    return made


def facts(*args: object) -> dict[str, Any]:
    told = json.loads(run("show", *args, "--json").stdout)
    assert len(told["files"]) == 1
    found: dict[str, Any] = told["files"][0]["facts"]
    return found


@pytest.mark.usefixtures("hive")
def test_a_file_alone_is_told_in_its_own_numbers() -> None:
    told = facts("jobs/slot.nc")
    # counted in the text above
    assert (told["lines"], told["size"]) == (14, len(SLOT))
    assert {extent["axis"]: (extent["moves"], extent["cuts"]) for extent in told["extents"]} == {
        "X": ([10, 60], [10, 60]),
        "Y": ([20, 40], [20, 40]),
        "Z": ([-2, 5], [-2, 5]),
    }
    (tool,) = told["tools"]
    assert (tool["number"], tool["speeds"]) == (3, [16000])
    assert (tool["feeds"], tool["plunges"]) == ([1200, 1200], [300, 300])
    # below Z0: 2 of the 7 mm down, all of the straight line and of the half circle
    assert tool["cut"] == pytest.approx(2 + 40 + math.pi * 10, abs=1e-6)
    assert (tool["deepest"], tool["first-line"]) == ([2, 2], 7)
    (pause,) = told["pauses"]
    assert (pause["number"], pause["line"], pause["asks"]) == (1, 11, None)
    # way by feed; the dwell's 2 s beside it; rapids are not in it
    moving = (7 / 300 + (40 + math.pi * 10) / 1200) * 60
    assert told["times"]["cutting"] == pytest.approx(moving, abs=1e-3)
    assert told["times"]["naive"] == pytest.approx(moving + 2, abs=1e-3)
    assert (told["times"]["rapids"], told["times"]["waiting"]) == (0, 2)
    assert pause["after"] == pytest.approx(moving + 2, abs=1e-3)


@pytest.mark.usefixtures("hive")
def test_nothing_is_told_that_only_a_machine_tells() -> None:
    told = facts("jobs/slot.nc")
    assert (told["reaches"], told["depth"], told["does"]) == ([], None, [])
    assert told["times"]["low"] is told["times"]["high"] is None
    text = run("show", "jobs/slot.nc").stdout
    assert "no machine is named" in text
    assert "shows nothing" not in text  # what the display shows is not described
    assert "travel" not in text
    assert "sheet's corner" not in text
    assert "1000000" not in text, "no made-up travel"
    assert any(sentence.startswith("Zero: no set-up tells") for sentence in told["modes"])


def test_inches_are_told_in_inches(hive: Workshop) -> None:
    hive.job(
        "inch.nc", "G20 G90 G94\nS9000 M3\nG0 X1 Y1 Z0.2\nG1 Z-0.1 F10\nG1 X3.5 F40\nM5\nM30\n"
    )
    told = facts("jobs/inch.nc")
    assert {each["axis"]: (each["unit"], each["moves"]) for each in told["extents"]} == {
        "X": ("inch", [1, 3.5]),
        "Y": ("inch", [1, 1]),
        "Z": ("inch", [-0.1, 0.2]),
    }
    assert told["tools"][0]["feeds"] == [1016, 1016], "40 in/min of 25.4 mm"
    assert "1 to 3.5 inch" in run("show", "jobs/inch.nc").stdout


def test_a_unit_may_be_given(hive: Workshop) -> None:
    hive.job("none.nc", "S9000 M3\nG0 X1 Y1 Z2\nG1 Z-1 F40\nG1 X3\nM30\n")
    assert run("show", "jobs/none.nc").exit_code == 1
    assert "units-not-stated" in run("show", "jobs/none.nc").stderr
    done = run("show", "jobs/none.nc", "--units", "inch")
    assert (done.exit_code, "1 to 3 inch" in done.stdout) == (0, True)
    assert facts("jobs/none.nc", "--units", "inch")["tools"][0]["feeds"] == [1016, 1016]


@pytest.mark.usefixtures("hive")
def test_on_a_machine_it_is_told_where_it_goes() -> None:
    """The machine's file has travel from 0 to 600; nothing tells where the file's zero is."""
    result = run("show", "jobs/slot.nc", "--machine", "recipes/machine.yaml")
    assert result.exit_code == 0, "nothing is described of a sheet, so nothing is in the way"
    assert "cannot-tell" in result.stderr
    assert "as it is, on Bench machine" in result.stdout
    assert "on the machine: not known; travel is 0 to 600 mm" in result.stdout
    assert "does\n" in result.stdout


def test_of_no_time_there_are_no_parts(hive: Workshop) -> None:
    hive.job("waits.nc", "(LAY IN)\nM0\nM30\n")
    machine = RECIPES / "machines" / "bench-hand-switched.yaml"
    lines = run("show", "jobs/waits.nc", "--machine", machine).stdout.splitlines()
    assert "  0 s (no run was timed yet), planned 0 s" in lines
    assert not any(line.strip().startswith("of it") for line in lines)


@pytest.mark.usefixtures("hive")
def test_by_a_recipe_it_is_told_as_that_makes_it() -> None:
    result = run("show", "jobs/slot.nc", "--recipe", "recipes/plain.yaml")
    assert result.exit_code == 0, result.output
    assert result.stdout.startswith("SLOT.NC  as plain.yaml makes it of slot.nc\n  15 lines, ")


def test_what_a_recipe_refuses_is_told_as_it_comes(hive: Workshop) -> None:
    hive.job("bad.nc", REFUSED)
    result = run("show", "jobs/bad.nc", "--recipe", "recipes/plain.yaml")
    assert result.exit_code == 1
    assert result.stdout.startswith("bad.nc  as it comes, for plain.yaml refuses it\n  3 lines, ")
    assert "word-without-value" in result.stderr


def test_each_part_of_a_job_is_told() -> None:
    """feeder-board.nc calls two bits, and its recipe makes a file for each."""
    told = json.loads(
        run("show", RECIPES / "jobs" / "feeder-board.nc", "--recipe",
            RECIPES / "speed-feeder-boards.yaml", "--json").stdout
    )  # fmt: skip
    bits = [[tool["number"] for tool in file["facts"]["tools"]] for file in told["files"]]
    assert bits == [[1], [2]]


@pytest.mark.parametrize("path", JOBS, ids=lambda path: path.name)
def test_every_demo_job_is_told_in_plain_ascii(path: Path) -> None:
    result = run("show", path)
    assert result.exit_code == 0, result.stderr
    assert result.stdout.isascii()
    assert "\x1b" not in result.stdout
    assert {"bits", "time"} <= set(result.stdout.splitlines())


@pytest.mark.parametrize(
    ("data", "kind"),
    [
        (b"SQLite format 3\0\0\0", "binary-file"),
        ("\ufeffG21\n".encode("utf-16"), "wide-characters"),
        (b"M104 S200\nG1 X1 E2\n", "additive-job"),
    ],
)
def test_of_another_kind_of_file_nothing_more_is_told(
    hive: Workshop, data: bytes, kind: str
) -> None:
    hive.job("other.nc", data)
    result = run("show", "jobs/other.nc")
    assert result.exit_code == 1
    assert kind in result.stderr
    assert len(result.stdout.splitlines()) == 2
    told = json.loads(run("show", "jobs/other.nc", "--json").stdout)
    assert told["files"][0]["facts"] is None


@pytest.mark.parametrize("text", ["", "\n\n", "(nothing)\n", "M30\n", "G0\n", "%\n%\n"])
def test_files_of_hardly_anything(hive: Workshop, text: str) -> None:
    hive.job("little.nc", text)
    for way in ([], ["--machine", "recipes/machine.yaml"], ["--recipe", "recipes/plain.yaml"]):
        result = run("show", "jobs/little.nc", *way)
        assert result.exit_code in (0, 1), result.output
        assert result.stdout.startswith("little.nc  ") or way[:1] == ["--recipe"]


def test_it_writes_nothing(hive: Workshop) -> None:
    before = {path: path.stat().st_mtime_ns for path in hive.root.rglob("*")}
    for way in ([], ["--machine", "recipes/machine.yaml"], ["--recipe", "recipes/plain.yaml"]):
        run("show", "jobs/slot.nc", *way)
    after = {path: path.stat().st_mtime_ns for path in hive.root.rglob("*")}
    made = {path for path in after if "__pycache__" not in path.parts}
    assert made == {path for path in before if "__pycache__" not in path.parts}


@pytest.mark.usefixtures("hive")
def test_no_machine_is_no_excuse() -> None:
    for args, said in (
        (["--setup", "recipes/plain.yaml"], "--setup goes with --machine"),
        (["--set", "setup.tool.diameter=3"], "--set goes with"),
        (["--recipe", "recipes/plain.yaml", "--setup", "recipes/plain.yaml"], "a recipe names its"),
    ):
        result = run("show", "jobs/slot.nc", *args)
        assert result.exit_code == 2
        assert said in result.stderr
    assert run("show").exit_code == 2
    assert run("show", "jobs").exit_code == 2


def test_control_characters_of_a_file_do_not_reach_the_terminal(hive: Workshop) -> None:
    hive.job("odd.nc", SLOT.replace("(beech, 12)", "(\x1b[31mred\x07 \u202e)").encode())
    result = run("show", "jobs/odd.nc")
    assert not re.search(r"[\x00-\x09\x0b-\x1f\x7f\u202e]", result.stdout)
