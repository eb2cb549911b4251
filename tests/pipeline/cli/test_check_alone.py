"""`headrace check --machine`: any file, without a recipe, on a described machine.

Sources: one inch is 25.4 mm exactly (the yard as agreed on in 1959); RS274/NGC (NISTIR 6556) 3.5.7
(G20 and G21), 3.5.18 (G92), 3.6.1 (M2). That a unit is whatever was left in force by the file
before, and that a hand-written file homes and probes without a cut, is common practice.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from workshop import LID, REFUSED, Workshop, set_up

from headrace.cli.group import headrace as command
from headrace.findings import Severity
from headrace.outcome import Outcome
from headrace.plugins.registry import load_registry
from headrace.recipe import load_alone, load_plan
from headrace.run import prepare_job

TREE = Path(__file__).parents[3]
RECIPES = TREE / "recipes"

SETUP = """\
(HOME AND FIND THE CORNER)
G21 G90 G94
G28 Z0
G28 X0 Y0
G0 X20 Y20
G92 X0 Y0
M2
"""
TOUCH = """\
(CLIP ON)
G21 G90 G94
M0
G38.2 Z-10 F60
G92 Z12.02
G91
G0 Z5
G90
M2
"""


@pytest.fixture
def hive(tmp_path: Path) -> Workshop:
    return set_up(tmp_path / "hive")


def machine_of(hive: Workshop) -> Path:
    return hive.recipe.parent / "machine.yaml"


def run(*args: object) -> Result:
    return CliRunner().invoke(command, ["check", *map(str, args)])


def alone(hive: Workshop, text: str, units: str | None = None) -> Outcome:
    """What is said of a file on the workshop's machine."""
    plan = load_alone(machine_of(hive), None, units)
    return prepare_job("file.nc", text.encode(), plan, load_registry())


def told(outcome: Outcome) -> dict[str, Severity]:
    return {finding.name: finding.severity for finding in outcome.findings}


# --- what is checked --------------------------------------------------------------------------


def test_a_file_is_looked_at_as_it_is(hive: Workshop) -> None:
    outcome = alone(hive, LID)

    assert outcome.job is not None
    assert outcome.job.program.to_bytes() == LID.encode()
    assert outcome.steps == ()


def test_nothing_is_known_at_the_start(hive: Workshop) -> None:
    job = alone(hive, SETUP).job

    assert job is not None
    assert job.start.homed == set()
    assert job.start.spindle is None
    assert all(place != place for place in (*job.start.position, *job.start.machine))


@pytest.mark.parametrize("text", [SETUP, TOUCH], ids=["homes", "touches"])
def test_a_file_that_only_homes_or_touches_is_no_wrong_file(hive: Workshop, text: str) -> None:
    assert "no-motion" not in told(alone(hive, text))


@pytest.mark.parametrize("line", ["G92 X0 Y0", "M3 S18000", "M8", "M0", "G4 P5", "G10 L2 P1 X0 Y0"])
def test_a_file_that_sets_or_switches_or_waits_moves_nothing_on_purpose(
    hive: Workshop, line: str
) -> None:
    assert told(alone(hive, f"G21\n{line}\nM2\n"))["no-motion"] is Severity.NOTE


@pytest.mark.parametrize("text", ["G21 G90\nM2\n", "(MSG, HELLO)\nM2\n", "M48\n", "(lid)\n", ""])
def test_a_file_that_does_nothing_is_refused(hive: Workshop, text: str) -> None:
    outcome = alone(hive, text)

    assert told(outcome)["no-motion"] is Severity.REFUSE
    assert outcome.refused


def test_with_a_recipe_a_job_that_only_sets_a_zero_is_still_refused(hive: Workshop) -> None:
    job = hive.job("zero.nc", "G21\nG92 X0 Y0\nM2\n")

    assert "[HRJ007 no-motion]" in run(hive.recipe, job).stderr
    assert run(hive.recipe, job).exit_code == 1


@pytest.mark.parametrize("path", sorted((TREE / "tests" / "jobs" / "refused").iterdir()), ids=str)
def test_what_no_recipe_reads_is_refused_alone_too(hive: Workshop, path: Path) -> None:
    """The same first finding as by a recipe whose steps come after the reading."""
    registry = load_registry()
    by_recipe = load_plan(RECIPES / "relay-frames.yaml", registry)
    plan = load_alone(machine_of(hive), None, "mm")
    data = path.read_bytes()

    ours = prepare_job(path.name, data, plan, registry)
    theirs = prepare_job(path.name, data, by_recipe, registry)

    assert ours.refused
    if theirs.job is None and not theirs.steps:
        assert [finding.name for finding in ours.findings] == [f.name for f in theirs.findings]


GALLERY = {
    "bench-lids": ("lid.nc", "bench-hand-switched", "lids-18"),
    "bench-setup-cards": ("handhold.nc", "bench-hand-switched", "lids-18"),
    "relay-frames": ("frame-side.nc", "shop-relay", "frames-9"),
    "speed-window": ("window.ngc", "shop-speed-controlled", "window-3"),
    "speed-excluder": ("queen-excluder.nc", "shop-speed-controlled", "excluder-1-5"),
}


@pytest.mark.parametrize("recipe", GALLERY)
def test_what_was_prepared_passes_alone(tmp_path: Path, recipe: str) -> None:
    job, machine, setup = GALLERY[recipe]
    card = tmp_path / "card"
    card.mkdir()
    given = ["prepare", RECIPES / f"{recipe}.yaml", RECIPES / "jobs" / job, "--card", card]
    assert CliRunner().invoke(command, list(map(str, given))).exit_code == 0

    result = run(
        "--machine", RECIPES / "machines" / f"{machine}.yaml",
        "--setup", RECIPES / "setups" / f"{setup}.yaml",
        *(path for path in card.iterdir() if path.suffix != ".JSON"),
    )  # fmt: skip

    assert result.exit_code == 0, result.stderr


# --- zeros and where it starts ----------------------------------------------------------------


def test_a_file_that_homes_and_cuts_in_the_numbers_of_the_machine_is_refused(
    hive: Workshop,
) -> None:
    cut = "G21 G90 G94\nG28 Z0\nG28 X0 Y0\nG0 X10\n{}G1 X20 F100\nM2\n"

    assert told(alone(hive, cut.format("")))["job-loses-zero"] is Severity.REFUSE
    assert "job-loses-zero" not in told(alone(hive, cut.format("G92 X0 Y0 Z10\n")))
    assert "job-loses-zero" in told(alone(hive, cut.format("G54\n"))), "choosing sets nothing"


def test_a_zero_behind_the_first_cut_comes_too_late(hive: Workshop) -> None:
    text = "G21 G90 G94\nG28 Z0\nG28 X0 Y0\nM0\nG1 X20 F100\nG92 X0 Y0 Z10\nG1 X5\nM2\n"

    assert "job-loses-zero" in told(alone(hive, text))


def test_setting_a_zero_is_what_such_a_file_is_for(hive: Workshop) -> None:
    assert "job-moves-zero" not in told(alone(hive, SETUP))


@pytest.mark.parametrize(
    ("text", "axes"),
    [
        ("G28 Z0\nG28 X0 Y0\nG0 X5 Y5 Z-5\n", ""),
        ("G28 Z0\nG28 X0 Y0\nG92 X0 Y0 Z0\nG0 X5 Y5 Z-5\n", ""),
        ("G28 X0 Y0\nG0 X5 Y5 Z-5\n", "Z"),
        ("G0 X5\nG28 Z0\nG28 X0 Y0\nG0 Y5\n", "X"),
        ("G92 X0 Y0\nG0 X5 Y5\n", "X, Y"),
        ("G0 X5 Y5 Z-5\n", "X, Y, Z"),
        ("G28 Z0\nG0 X5\n", "X"),
    ],
)
def test_what_moves_before_it_was_homed_is_told(hive: Workshop, text: str, axes: str) -> None:
    found = [f for f in alone(hive, f"G21\n{text}M2\n").findings if f.name == "start-unknown"]

    assert [finding.what for finding in found] == (
        [f"the file moves {axes}, which it has not homed"] if axes else []
    )
    assert all(finding.severity is Severity.WARN for finding in found)


def test_a_system_whose_origin_the_file_sets_is_known(hive: Workshop) -> None:
    """G10 L2 states an origin in absolute coordinates (RS274/NGC 3.5.5)."""
    machine = machine_of(hive)
    text = machine.read_text().replace("{word: G92}", "{word: G10 L2, systems: [G54, G55]}")
    machine.write_text(text)
    file = "G21\n{}G54\nG0 X5 Y5 Z-5\nM2\n"

    assert "start-unknown" in told(alone(hive, file.format("")))
    assert "start-unknown" not in told(alone(hive, file.format("G10 L2 P1 X9 Y9 Z-9\n")))


# --- units ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "power_up", "units", "refused"),
    [
        ("G0 X5\nM2\n", "mm", None, True),
        ("G0 X5\nM2\n", "mm", "mm", False),
        ("G0 X5\nM2\n", "mm", "inch", True),
        ("G0 X5\nM2\n", "inch", "inch", False),
        ("G0 X5\nM2\n", None, "mm", True),
        ("G21\nG0 X5\nM2\n", "inch", None, False),
        ("G21\nG0 X5\nM2\n", "inch", "inch", False),
        ("G92 Z12.02\nM2\n", "mm", None, True),
        ("G92 Z12.02\nG21\nM2\n", "mm", None, True),
        ("G92 Z[6+6]\nM2\n", "mm", None, True),
        ("G92 Z12.02\nM2\n", "mm", "mm", False),
        ("G92 Z12.02\nM2\n", "mm", "inch", True),
        ("G92 Z12.02\nM2\n", None, "mm", True),
        ("G20\nG92 Z0.473\nM2\n", "mm", None, False),
        ("G92 X0 Y0\nM2\n", "mm", None, False),
        ("G92.1\nM2\n", "mm", None, False),
    ],
)
def test_lengths_need_a_unit_that_is_in_force(
    hive: Workshop, text: str, power_up: str | None, units: str | None, refused: bool
) -> None:
    if power_up:
        with machine_of(hive).open("a") as file:
            file.write(f"power-up-units: {power_up}\n")

    assert ("units-not-stated" in told(alone(hive, text, units))) is refused


def test_inches_are_inches(hive: Workshop) -> None:
    with machine_of(hive).open("a") as file:
        file.write("power-up-units: inch\n")
    job = alone(hive, "G0 X2\nM2\n", "inch").job

    assert job is not None
    assert job.trace.ends(0).tolist() == [50.8]


def test_remedies_are_those_of_a_file_without_a_recipe(hive: Workshop) -> None:
    stderr = run("--machine", machine_of(hive), hive.job("a.nc", "G0 X5\n")).stderr

    assert "--units mm" in stderr
    assert "in the recipe" not in stderr
    assert "step `park`" not in stderr


# --- the command line -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (["--machine", "MACHINE"], "there are no jobs"),
        (["--machine", "MACHINE", "EMPTY"], "there are no jobs"),
        (["--machine", "MACHINE", "RECIPE", "JOB"], "with --machine there is no recipe"),
        (["--machine", "MACHINE", "JOB", "nowhere.nc"], "nowhere.nc"),
        (["--machine", "nowhere.yaml", "JOB"], "nowhere.yaml"),
        (["--machine", "JOBS", "JOB"], "is a directory"),
        (["--machine", "MACHINE", "--setup", "nowhere.yaml", "JOB"], "nowhere.yaml"),
        (["--machine", "MACHINE", "--units", "yard", "JOB"], "yard"),
        (["--setup", "MACHINE", "RECIPE", "JOB"], "--setup goes with --machine"),
        (["--units", "mm", "RECIPE", "JOB"], "--units goes with --machine"),
        (["JOB"], "is a job, no recipe"),
        (["JOBS"], "is a folder, no recipe"),
        ([], "name a recipe"),
    ],
    ids=lambda value: value if isinstance(value, str) else " ".join(value) or "nothing",
)
def test_what_does_not_go_together_is_a_slip_of_the_command_line(
    hive: Workshop, args: list[str], said: str
) -> None:
    empty = hive.root / "empty"
    empty.mkdir()
    named = {"MACHINE": machine_of(hive), "RECIPE": hive.recipe, "JOB": hive.job("lid.nc")}
    named |= {"EMPTY": empty, "JOBS": hive.jobs}

    result = run(*(named.get(arg, arg) for arg in args))

    assert (result.exit_code, result.stdout) == (2, "")
    assert said in result.stderr


def test_all_that_is_wrong_with_both_files_is_told_with_its_place(hive: Workshop) -> None:
    machine = machine_of(hive)
    machine.write_text(machine.read_text().replace("bed: 120", "bet: 120"))
    setup = hive.root / "setup.yaml"
    setup.write_text("format: headrace-setup/1\nsheet: {thicknes: 18}\n")

    result = run("--machine", machine, "--setup", setup, hive.job("lid.nc"))

    assert (result.exit_code, result.stdout) == (3, "")
    assert f"[HRR020 recipe-unknown-key] at {machine}:7:1" in result.stderr
    assert f"[HRR020 recipe-unknown-key] at {setup}:2:9" in result.stderr


def test_a_file_of_another_kind_is_told_from_a_machine(hive: Workshop) -> None:
    result = run("--machine", hive.recipe, hive.job("lid.nc"))

    assert result.exit_code == 3
    assert f"[HRR019 recipe-format] at {hive.recipe}:1:9" in result.stderr


def test_values_of_machine_and_setup_can_be_set(hive: Workshop) -> None:
    given = ["--machine", machine_of(hive), hive.job("lid.nc", LID.replace("(hive lid)\n", ""))]

    assert "line-over-length" not in run(*given).stderr
    result = run(*given, "--set", "machine.line.length=8")
    assert result.exit_code == 3, "the least is more"
    long = hive.job("long.nc", f"({'bees ' * 30})\n{LID}")
    said = run("--machine", machine_of(hive), long, "--set", "machine.line.length=60").stderr
    assert "[HRM035 line-over-length]" in said
    assert run(*given, "--set", "setup.sheet.thickness=18").exit_code == 0
    wrong = run(*given, "--set", "setup.sheet.thicknes=18")
    assert wrong.exit_code == 3
    assert "did you mean `thickness`?" in wrong.stderr


@pytest.mark.parametrize("text", ["steps.park.x=3", "assume.units=mm", "name=Lids"])
def test_without_a_recipe_nothing_of_a_recipe_can_be_set(hive: Workshop, text: str) -> None:
    result = run("--machine", machine_of(hive), hive.job("lid.nc"), "--set", text)

    assert (result.exit_code, result.stdout) == (3, "")
    assert "is nothing that can be set without a recipe" in result.stderr
    assert "can be set: `setup`, `machine`" in result.stderr


def test_folders_and_several_jobs_and_processes(hive: Workshop) -> None:
    hive.job("a.nc")
    hive.job("b.nc", REFUSED)
    hive.job("c.nc")
    hive.job("notes.txt")

    one = run("--machine", machine_of(hive), hive.jobs, "--jobs", "1")
    two = hive.run("check", "--machine", machine_of(hive), hive.jobs, "--jobs", "2")

    assert one.exit_code == two.returncode == 1
    assert one.stdout == two.stdout.decode()
    assert one.stderr == two.stderr.decode()
    assert one.stdout.splitlines()[1] == "b.nc  refused: 1 finding"
    assert "notes.txt was passed over" in one.stderr
    assert one.stderr.rstrip().endswith("2 fit for the card, 1 refused; exit code 1")


def test_quietly_only_what_refuses_is_said(hive: Workshop) -> None:
    lid = hive.job("lid.nc")
    assert run("--machine", machine_of(hive), lid, "--quiet").output == ""
    result = run("--machine", machine_of(hive), hive.job("b.nc", REFUSED), "--quiet")
    assert (result.exit_code, result.stdout) == (1, "")
    assert "Q has no number" in result.stderr


def test_nothing_is_written(hive: Workshop) -> None:
    hive.job("a.nc")
    before = {path: path.stat().st_mtime_ns for path in hive.root.rglob("*")}

    hive.run("check", "--machine", machine_of(hive), hive.jobs)

    assert {path: path.stat().st_mtime_ns for path in hive.root.rglob("*")} == before
