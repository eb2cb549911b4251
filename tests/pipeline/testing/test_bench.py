"""The bench for examples of one's own."""

from __future__ import annotations

from pathlib import Path

import pytest
from pipeline.testing.zoo import ZOO, settle

from headrace import PluginError
from headrace.errors import RecipeError
from headrace.testing import Bench, transforms_of

RECIPES = Path(__file__).parents[3] / "recipes"
JOB = "G21 G90\nM3 S18000\nG0 Z5\nG0 X50 Y50\nG1 Z-1 F300\nG1 X80\nG0 Z5\nM5\nM30\n"


def test_some_lines_through_a_step() -> None:
    bench = Bench()

    assert bench.run("M3 S9000", [settle, {"seconds": 2.5}]).text == "M3 S9000\nG4 P2.5\n"
    assert bench.run("M3\r\n", [settle]).data == b"M3\r\nG4 P2\r\n"
    assert bench.run(b"M3\r\n", [settle]).lines == ["M3", "G4 P2"]
    assert bench.on("hand").run("M3\n", [settle]).lines == ["M3", "G4 P2000"]


def test_steps_by_their_names_and_options() -> None:
    done = Bench().run("M3\nM5\n", [settle, "renumber", {"from": 5, "step": 5}])

    assert done.lines == ["N5 M3", "N10 G4 P2", "N15 M5"]


def test_a_refusal_is_told() -> None:
    done = Bench().run("M30\n", ["pause", {"at": "first-cut", "text": "READY?"}])

    assert done.refused
    assert done.findings[0].name == "no-cut"
    with pytest.raises(AssertionError, match="the job was refused: no-cut: "):
        assert done.text


def test_a_broken_contract_is_a_refusal() -> None:
    done = Bench().run("M3\n", [ZOO["undeclared"][0]])

    assert [finding.name for finding in done.findings] == ["contract-broken"]


def test_a_step_that_fails() -> None:
    with pytest.raises(PluginError, match="IndexError"):
        Bench().run("", [ZOO["first-line"][0]])


def test_a_whole_job_is_rehearsed() -> None:
    """Only the whole run sees that a cut leaves the travel."""
    bench = Bench("relay")
    alone = bench.prepare(JOB.replace("G1 X80", "G1 X2080"), [settle])
    whole = Bench("speed").prepare(
        JOB.replace("\nM3", "\nT1 M6\nM3"),
        ["safe-start", "home", "corner-zero", "touch-off", {"gap": 5}, "tool-change", "park"],
    )

    assert not bench.run(JOB, [settle]).refused
    assert alone.refused
    assert not whole.refused, whole.findings
    assert "G28" in whole.text


def test_a_machine_of_ones_own() -> None:
    machine = RECIPES / "machines" / "bench-hand-switched.yaml"
    bench = Bench((machine, RECIPES / "setups" / "lids-18.yaml"))

    assert bench.run("M3\n", [settle]).lines == ["M3", "G4 P2000"]
    with pytest.raises(RecipeError, match="there is no machine 'lathe'"):
        Bench("lathe").run("M3\n", [settle])


def test_what_is_no_step() -> None:
    for steps in ([{"seconds": 2}], [settle, {"seconds": 2}, {"seconds": 3}], [3]):
        with pytest.raises(TypeError, match="is no step"):
            Bench().run("M3\n", steps)
    with pytest.raises(KeyError, match="no installed transform 'sharpen'"):
        Bench().run("M3\n", ["sharpen"])


def test_transforms_of_files_and_modules(tmp_path: Path) -> None:
    found = {transform.name for transform in transforms_of("headrace_transforms")}
    (own,) = transforms_of(RECIPES / "swarm_warning.py")
    empty = tmp_path / "empty.py"
    empty.write_text("from headrace import transform\n")

    assert {"park", "home", "strip"} <= found
    assert own.name == "swarm-warning"
    with pytest.raises(PluginError, match="offers no transforms"):
        transforms_of(empty)
