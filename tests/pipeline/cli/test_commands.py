"""The command line: exit codes, streams, words. The same through click's runner and in processes
of their own. Sources: https://no-color.org (any value that is not empty asks for no colour);
ISO/IEC 6429 (escape sequences begin with ESC, 1Bh)."""

from __future__ import annotations

import ast
import json
import os
import subprocess
import sys
from importlib import import_module
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from workshop import REFUSED, Workshop, set_up
from workshop.command import run

import headrace
from headrace.cli.group import SUMMARIES
from headrace.findings import CATALOGUE

HEAVY = ("numpy", "yaml", "jsonschema", "pluggy", "headrace.recipe", "headrace.program")


@pytest.fixture
def hive(tmp_path: Path) -> Workshop:
    return set_up(tmp_path / "hive")


# --- exit codes -------------------------------------------------------------------------------


def test_0_when_all_is_fine(hive: Workshop) -> None:
    job = hive.job("lid.nc")
    for args in (
        ["prepare", hive.recipe, job, "--card", hive.card],
        ["check", hive.recipe],
        ["check", hive.recipe, job],
        ["plan", hive.recipe, job],
        ["plan", "--why", hive.recipe, job],
        ["schema"],
        ["--help"],
        ["--version"],
        ["prepare", "--help"],
    ):
        result = run(*args)
        assert result.exit_code == 0, (args, result.output)


def test_1_when_a_job_is_refused_and_the_others_are_written(hive: Workshop) -> None:
    hive.job("a.nc")
    hive.job("b.nc", REFUSED)
    result = run("prepare", hive.recipe, hive.jobs, "--card", hive.card)
    assert result.exit_code == 1
    assert set(hive.on_card()) == {"A.NC", "HEADRACE.JSON"}
    assert "Q has no number" in result.stderr
    assert "b.nc:2:12" in result.stderr
    assert "refused: b.nc" in result.stderr
    assert result.stderr.rstrip().endswith("1 written, 1 refused; exit code 1")
    assert run("check", hive.recipe, hive.jobs).exit_code == 1
    assert run("plan", hive.recipe, hive.jobs).exit_code == 1


def test_1_when_a_step_breaks_its_contract(tmp_path: Path) -> None:
    hive = set_up(tmp_path / "hive", ["creep"])
    result = run("prepare", hive.recipe, hive.job("lid.nc"), "--card", hive.card)
    assert result.exit_code == 1
    assert "contract-broken" in result.stderr
    assert hive.on_card() == {}


@pytest.mark.parametrize(
    "args",
    [
        ["prepare", "RECIPE", "JOB"],
        ["prepare", "RECIPE", "nowhere.nc", "--card", "CARD"],
        ["prepare", "nowhere.yaml", "JOB", "--card", "CARD"],
        ["prepare", "RECIPE", "EMPTY", "--card", "CARD"],
        ["prepare", "RECIPE", "--card", "CARD"],
        ["prepare", "RECIPE", "JOB", "--card", "CARD", "--jobs", "0"],
        ["plan", "RECIPE"],
        ["check"],
        ["schema", "card"],
        ["transforms", "no-such-thing"],
        ["prepares"],
        ["--nonsense"],
        [],
    ],
    ids=lambda args: " ".join(args) or "nothing",
)
def test_2_when_misused(hive: Workshop, args: list[str]) -> None:
    empty = hive.root / "empty"
    empty.mkdir()
    named = {"RECIPE": hive.recipe, "JOB": hive.job("lid.nc"), "CARD": hive.card, "EMPTY": empty}
    result = run(*(named.get(arg, arg) for arg in args))
    assert result.exit_code == 2
    assert result.stdout == ""
    assert result.stderr
    assert hive.on_card() == {}


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("capitals", "capitol", "there is no transform"),
        ("machine: machine.yaml", "machine: nowhere.yaml", "nowhere.yaml"),
        ("name: Plain text", "name: [", "plain.yaml"),
    ],
)
def test_3_when_the_recipe_is_at_fault(hive: Workshop, old: str, new: str, said: str) -> None:
    hive.recipe.write_text(hive.recipe.read_text().replace(old, new))
    for args in (
        ["prepare", hive.recipe, hive.job("lid.nc"), "--card", hive.card],
        ["check", hive.recipe],
        ["plan", hive.recipe, hive.job("lid.nc")],
    ):
        result = run(*args)
        assert result.exit_code == 3, result.output
        assert said in result.stderr
        assert result.stdout == ""
    assert hive.on_card() == {}


def test_3_when_an_override_is_at_fault(hive: Workshop) -> None:
    job = hive.job("lid.nc")
    result = run("check", hive.recipe, job, "--set", "machine.probe=[")
    assert result.exit_code == 3
    result = run(
        "prepare", hive.recipe, job, "--card", hive.card, "--set", "steps.heading.text=A B"
    )
    assert result.exit_code == 0
    assert hive.on_card()["LID.NC"].startswith(b"(A B)\n")


def test_a_finding_on_the_recipe_names_the_jobs_it_is_about(tmp_path: Path) -> None:
    hive = set_up(tmp_path / "hive", ["sting"])
    for number in range(8):
        hive.job(f"{number}.nc", "(BEES)\nG21\nG1 X1 F100\nM30\n")
    told = run("check", hive.recipe, hive.jobs, "--jobs", "1").stderr
    assert "    in: 0.nc, 1.nc, 2.nc, 3.nc, 4.nc and 3 more\n" in told
    assert told.count("step-failed") == 1
    assert "    in: 0.nc\n" in run("plan", hive.recipe, hive.jobs / "0.nc").stderr


def test_4_when_a_plugin_is_at_fault(hive: Workshop) -> None:
    (hive.recipe.parent / "hive_steps.py").write_text("1 / 0\n")
    for args in (
        ["prepare", hive.recipe, hive.job("lid.nc"), "--card", hive.card],
        ["check", hive.recipe],
    ):
        result = run(*args)
        assert result.exit_code == 4, result.output
        assert "ZeroDivisionError" in result.stderr
        assert "Traceback" not in result.stderr


def test_4_when_a_step_fails_and_the_others_are_written(tmp_path: Path) -> None:
    hive = set_up(tmp_path / "hive", ["sting"])
    hive.job("a.nc")
    hive.job("b.nc", "(BEES)\nG21\nG1 X1 F100\nM30\n")
    result = run("prepare", hive.recipe, hive.jobs, "--card", hive.card)
    assert result.exit_code == 4
    assert set(hive.on_card()) == {"A.NC", "HEADRACE.JSON"}
    assert run("plan", hive.recipe, hive.jobs).exit_code == 4


def test_5_when_the_card_is_at_fault(hive: Workshop) -> None:
    job = hive.job("lid.nc")
    assert run("prepare", hive.recipe, job, "--card", hive.root / "no").exit_code == 5
    assert run("prepare", hive.recipe, job, "--card", hive.jobs).exit_code == 5
    (hive.card / "LID.NC").write_bytes(b"of another program")
    result = run("prepare", hive.recipe, job, "--card", hive.card)
    assert result.exit_code == 5
    assert "move that file away" in result.stderr
    assert hive.on_card() == {"LID.NC": b"of another program"}


def test_70_when_headrace_is_at_fault(hive: Workshop, monkeypatch: pytest.MonkeyPatch) -> None:
    def faulty(*_args: Any) -> None:
        raise LookupError("nobody home\nat all")

    monkeypatch.setattr("headrace.recipe.check_recipe", faulty)
    result = run("check", hive.recipe)
    assert result.exit_code == 70
    assert result.stderr.splitlines() == [
        "error: a fault of headrace itself: LookupError: nobody home",
        "   do: set HEADRACE_DEBUG=1 to see the details",
    ]
    monkeypatch.setenv("HEADRACE_DEBUG", "1")
    assert "Traceback" in run("check", hive.recipe).stderr


def test_70_when_one_job_meets_a_fault_of_headrace(
    hive: Workshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    def faulty(*_args: Any) -> None:
        raise LookupError("nobody home")

    monkeypatch.setattr("headrace.run.prepare_job", faulty)
    job = hive.job("lid.nc")
    for args in (["prepare", hive.recipe, job, "--card", hive.card], ["plan", hive.recipe, job]):
        result = run(*args)
        assert result.exit_code == 70
        assert "internal-fault" in result.stderr
        assert "Traceback" not in result.stderr
    monkeypatch.setenv("HEADRACE_DEBUG", "1")
    assert "Traceback" in run("prepare", hive.recipe, job, "--card", hive.card).stderr


def test_130_when_interrupted(hive: Workshop, monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupted(*_args: Any) -> None:
        assert not list(hive.card.glob("*.NC"))
        raise KeyboardInterrupt

    monkeypatch.setattr("headrace.run.prepare_job", interrupted)
    result = run("prepare", hive.recipe, hive.job("lid.nc"), "--card", hive.card)
    assert result.exit_code == 130
    assert hive.on_card() == {}


@pytest.mark.skipif(sys.platform == "win32", reason="needs pipes that break")
def test_141_when_nobody_reads_on(hive: Workshop) -> None:
    """As a process that a shell sees ended by SIGPIPE (13): 128 + 13."""
    hive.job("lid.nc", "G21\n" + "(bee)\n" * 40_000 + "G1 X1 F100\nM30\n")
    with subprocess.Popen(
        [sys.executable, "-m", "headrace", "plan", "--why", hive.recipe, hive.jobs],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    ) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        process.stdout.read(10)
        process.stdout.close()
        assert b"Traceback" not in process.stderr.read()
    assert process.returncode == 141


# --- streams and looks ------------------------------------------------------------------------


def test_data_goes_to_standard_output_and_talk_to_standard_error(hive: Workshop) -> None:
    hive.job("a.nc")
    hive.job("b.nc", REFUSED)
    hive.job("notes.txt")
    done = hive.run("prepare", hive.recipe, "jobs", "--card", "card")
    assert done.stdout.decode().splitlines() == [
        "a.nc -> A.NC  written: 10 lines (1 added), 4 moves",
        "  proved: 4 moves compared, largest deviation 0 mm; same cut path; may change comments",
        "b.nc  refused: 1 finding",
    ]
    assert b"notes.txt was passed over" in done.stderr


def test_names_that_had_to_change_are_told(hive: Workshop) -> None:
    hive.job("entrance reducer.nc")
    hive.job("lid.nc")
    result = run("prepare", hive.recipe, hive.jobs, "--card", hive.card)
    told = [line for line in result.stderr.splitlines() if "named otherwise" in line]
    assert told == ["named otherwise on the card: entrance reducer.nc -> ENTRANCE.NC"]


def test_quiet_says_only_what_is_wrong(hive: Workshop) -> None:
    hive.job("a.nc")
    hive.job("notes.txt")
    result = run("prepare", hive.recipe, hive.jobs, "--card", hive.card, "--quiet")
    assert (result.exit_code, result.output) == (0, "")
    hive.job("b.nc", REFUSED)
    result = run("check", hive.recipe, hive.jobs, "--quiet")
    assert result.stdout == ""
    assert "Q has no number" in result.stderr
    assert "passed over" not in result.stderr


def test_control_characters_of_a_job_never_reach_the_terminal(hive: Workshop) -> None:
    hive.job("bad\x1b[31m.nc", "G21\nG1 X1 Q (\x1b]0;bees\x07)\n")
    result = run("check", hive.recipe, hive.jobs)
    assert result.exit_code == 1
    assert "\x1b" not in result.output
    assert "\x07" not in result.output


@pytest.mark.parametrize(
    ("environment", "terminal", "coloured"),
    [
        ({}, True, True),
        ({"NO_COLOR": ""}, True, True),
        ({"NO_COLOR": "1"}, True, False),
        ({"NO_COLOR": "0"}, True, False),
        ({"TERM": "dumb"}, True, False),
        ({}, False, False),
    ],
)
def test_colour_only_on_a_terminal_that_wants_it(
    hive: Workshop, environment: dict[str, str], terminal: bool, coloured: bool
) -> None:
    pty = pytest.importorskip("pty")
    hive.job("a.nc", REFUSED)
    hive.job("b.nc")
    around = {key: value for key, value in os.environ.items() if key != "NO_COLOR"}
    around |= {"TERM": "xterm-256color", **environment}
    paths = [str(hive.recipe), str(hive.jobs)]
    args = [sys.executable, "-m", "headrace", "check", *paths, "--jobs", "1"]
    if not terminal:
        done = subprocess.run(args, env=around, capture_output=True, check=False)
        said = done.stdout + done.stderr
    else:
        ours, theirs = pty.openpty()
        with subprocess.Popen(args, env=around, stdout=theirs, stderr=theirs) as process:
            os.close(theirs)
            said = b""
            while True:
                try:
                    part = os.read(ours, 4096)
                except OSError:
                    break
                if not part:
                    break
                said += part
        os.close(ours)
        assert process.returncode == 1
    assert b"Q has no number" in said
    assert (b"\x1b" in said) == coloured


def test_a_dry_run_writes_nothing_anywhere(hive: Workshop) -> None:
    hive.job("a.nc")
    before = sorted(hive.root.rglob("*"))
    around = {"PYTHONDONTWRITEBYTECODE": "1"}
    hive.run("plan", hive.recipe, "jobs", environment=around)
    hive.run("check", hive.recipe, "jobs", environment=around)
    assert sorted(hive.root.rglob("*")) == before


def test_plan_tells_why(tmp_path: Path) -> None:
    hive = set_up(tmp_path / "hive", card_files=True)
    hive.job("lid.nc")
    result = run("plan", "--why", hive.recipe, hive.jobs)
    lines = [line.split() for line in result.stdout.splitlines() if not line.startswith("#")]
    steps = {
        name: f"plain.yaml:{number}"
        for number, line in enumerate(hive.recipe.read_text().splitlines(), 1)
        for name in ("heading: {text", "capitals", "no-blanks", "steps: [heading]")
        if name in line
    }
    assert lines == [
        ["1", "+", steps["steps: [heading]"], "heading", "(HIVE", "PART)"],
        ["1", "-", steps["capitals"], "capitals", "(hive", "lid)"],
        ["1", "+", steps["heading: {text"], "heading", "(LIDS)"],
        ["2", "+", steps["capitals"], "capitals", "(HIVE", "LID)"],
        ["4", "-", steps["no-blanks"], "no-blanks"],
    ]


# --- the other commands -----------------------------------------------------------------------


def test_transforms_are_listed_and_told_about() -> None:
    result = run("transforms")
    assert result.exit_code == 0, result.stderr
    names = [line.split()[0] for line in result.stdout.splitlines()]
    assert names == sorted(names)
    assert "touch-off" in names
    for name in names:
        told = run("transforms", name)
        assert told.exit_code == 0
        assert told.stdout.splitlines()[0].startswith(name)
        assert "may change: " in told.stdout
        assert "may add motion: " in told.stdout


def test_a_misspelt_transform_gets_the_nearest_name() -> None:
    assert "did you mean 'touch-off'?" in run("transforms", "tuch-off").stderr


@pytest.mark.parametrize("kind", ["recipe", "machine", "setup"])
def test_schemas_are_schemas(kind: str) -> None:
    schema = json.loads(run("schema", kind).stdout)
    jsonschema.Draft202012Validator.check_schema(schema)


def test_summaries_are_those_of_the_commands() -> None:
    for name, summary in SUMMARIES.items():
        module = import_module(f"headrace.cli.{name}")
        assert module.command.name == name
        assert module.command.short_help == summary


def test_the_version_is_headraces() -> None:
    assert run("--version").stdout == f"headrace {headrace.__version__}\n"


def test_kinds_of_the_card_are_all_used_somewhere() -> None:
    """A kind of finding that nothing gives is dead; one that is not listed cannot be given."""
    source = Path(headrace.__file__).parent
    used: set[str] = set()
    for path in source.rglob("*.py"):
        if path.parent.name != "kinds":
            tree = ast.parse(path.read_text(encoding="utf-8"))
            used |= {str(n.value) for n in ast.walk(tree) if isinstance(n, ast.Constant)}
    ours = {kind.name for kind in CATALOGUE.values() if kind.id.startswith("HRC")}
    assert not ours - used


# --- quick ------------------------------------------------------------------------------------


def test_help_loads_nothing_heavy() -> None:
    script = (
        "import sys\n"
        "from headrace.cli.group import headrace\n"
        "try: headrace(['--help'])\n"
        "except SystemExit: pass\n"
        f"print([name for name in {HEAVY!r} if name in sys.modules], file=sys.stderr)\n"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, check=True)
    assert done.stderr.decode().strip() == "[]"
