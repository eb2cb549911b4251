"""Trust on first use: a Python file of a recipe runs only as the user has trusted it, to the byte.

Outside references: `hashlib` and `sha256sum` for the digests.
"""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result
from jsonschema import Draft202012Validator
from workshop import Workshop, set_up

from headrace import HeadraceError, Place, PluginError
from headrace.batch.engines.kit import Kit, unpacked
from headrace.cli import leave
from headrace.cli.asked import Asked
from headrace.cli.group import headrace as command
from headrace.plugins.python_file import PythonFile
from headrace.plugins.registry import load_registry
from headrace.plugins.trust import policy
from headrace.plugins.trusted import Entry, TrustedList
from headrace.recipe import load_plan
from headrace.report.schema import output_schema

PLACE = Place("lids.yaml", 3, 5, 8, "  - hive.py")
STEP = '''"""Steps that leave a track.

For tests.
"""
from pathlib import Path
from headrace import transform
Path({track!r}).touch()
@transform("look")
def look(job):
    """Look."""
    return ()
'''


@pytest.fixture(autouse=True)
def by_trust(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("HEADRACE_PYTHON")
    monkeypatch.setenv("HEADRACE_STATE", str(tmp_path / "state"))


@pytest.fixture
def hive(tmp_path: Path) -> Workshop:
    """A workshop whose recipe names one Python file; where that has run there is `track`."""
    shop = set_up(tmp_path / "hive", ["look"])
    steps(shop).write_text(STEP.format(track=str(track(shop))))
    shop.job("lid.nc")
    shop.job("rim.nc")
    return shop


def steps(hive: Workshop) -> Path:
    return hive.recipe.parent / "hive_steps.py"


def track(hive: Workshop) -> Path:
    return hive.root / "track"


def run(*args: object, answer: str = "") -> Result:
    return CliRunner().invoke(command, [str(arg) for arg in args], input=answer)


def trust(path: Path) -> str:
    digest = hashlib.sha256(path.read_bytes()).hexdigest()
    TrustedList.of_user().add([Entry(digest, str(path))])
    return digest


def refused(path: Path) -> list[tuple[str, Place | None]]:
    with pytest.raises(PluginError) as error:
        load_registry().with_files([path], [PLACE])
    return [(finding.name, finding.place) for finding in error.value.findings]


# --- the gate ---------------------------------------------------------------------------------


def test_what_counts_is_every_byte(hive: Workshop) -> None:
    file = steps(hive)
    assert refused(file) == [("python-untrusted", PLACE)]
    assert not track(hive).exists()

    trust(file)
    assert "look" in load_registry().with_files([file], [PLACE]).transforms
    assert track(hive).exists()

    file.write_bytes(file.read_bytes() + b"\n")
    assert refused(file) == [("python-untrusted", PLACE)]


def test_where_the_bytes_lie_does_not_count(hive: Workshop, tmp_path: Path) -> None:
    trust(steps(hive))
    other = tmp_path / "others.py"
    other.write_bytes(steps(hive).read_bytes())

    assert "look" in load_registry().with_files([other], [PLACE]).transforms


def test_nothing_runs_where_one_may_not(hive: Workshop, tmp_path: Path) -> None:
    trust(steps(hive))
    others = [tmp_path / name for name in ("wax.py", "honey.py")]
    for path in others:
        path.write_text("x = 1\n")
    paths = [steps(hive), *others]
    with pytest.raises(PluginError) as error:
        load_registry().with_files(paths, [PLACE] * 3)

    assert [finding.name for finding in error.value.findings] == ["python-untrusted"] * 2
    assert not track(hive).exists()


def test_what_was_shown_to_the_gate_is_what_runs(hive: Workshop, tmp_path: Path) -> None:
    """Somebody puts another file in its place between the look and the run."""
    seen = []

    def gate(file: PythonFile, _place: Place | None) -> None:
        seen.append(file.sha256)
        steps(hive).write_text(f"open({str(tmp_path / 'evil')!r}, 'w')\n")

    digest = hashlib.sha256(steps(hive).read_bytes()).hexdigest()
    registry = load_registry(gate).with_files([steps(hive)], [PLACE])

    assert seen == [digest]
    assert registry.python == (digest,)
    assert "look" in registry.transforms
    assert not (tmp_path / "evil").exists()


@pytest.mark.parametrize(
    ("setting", "is_trusted", "found"),
    [
        ("off", True, ["python-off"]),
        ("off", False, ["python-off"]),
        ("trusted", True, []),
        ("trusted", False, ["python-untrusted"]),
        ("", True, []),
        ("", False, ["python-untrusted"]),
        ("any", False, []),
    ],
)
def test_one_switch(
    hive: Workshop,
    monkeypatch: pytest.MonkeyPatch,
    setting: str,
    is_trusted: bool,
    found: list[str],
) -> None:
    if is_trusted:
        trust(steps(hive))
    monkeypatch.setenv("HEADRACE_PYTHON", setting)
    result = run("check", hive.recipe, "--json")
    document = json.loads(result.stdout)

    assert result.exit_code == document["exit-code"] == (4 if found else 0)
    assert [each["name"] for each in document["findings"]] == found
    assert track(hive).exists() == (not found)


def test_any_other_setting_is_refused(hive: Workshop, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HEADRACE_PYTHON", "Any")
    result = run("check", hive.recipe)

    assert result.exit_code == 2
    assert "HEADRACE_PYTHON is 'Any'" in result.stderr
    with pytest.raises(ValueError, match="it can be off, trusted, any"):
        policy()


def test_the_switch_on_the_command_line_goes_before_all(
    hive: Workshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    trust(steps(hive))
    for setting in ("any", "trusted"):
        monkeypatch.setenv("HEADRACE_PYTHON", setting)
        result = run("--no-python", "check", hive.recipe)

        assert result.exit_code == 4
        assert "HRP009 python-off" in result.stderr
        assert not track(hive).exists()
        assert os.environ["HEADRACE_PYTHON"] == setting


def commands(hive: Workshop) -> dict[str, list[Any]]:
    """Every command that reads a recipe."""
    recipe, job = hive.recipe, hive.jobs / "lid.nc"
    return {
        "check": ["check", recipe],
        "check jobs": ["check", recipe, job],
        "keep": ["keep", recipe, job, "--in", hive.root / "kept"],
        "picture": ["picture", job, "--recipe", recipe, "--to", hive.root / "lid.svg"],
        "plan": ["plan", recipe, job],
        "prepare": ["prepare", recipe, job, "--card", hive.card],
        "recheck": ["recheck", recipe, "--below", hive.root],
        "schema": ["schema", "recipe", "--for", recipe],
        "sheet": ["sheet", recipe, job, "--card", hive.card, "--to", hive.root / "lid.html"],
        "show": ["show", job, "--recipe", recipe],
        "timed": ["timed", recipe, job, "1:00"],
        "trust": ["trust", recipe],
    }


@pytest.mark.parametrize("name", commands(Workshop(Path("/hive"))))
def test_no_command_runs_what_is_not_trusted(hive: Workshop, name: str) -> None:
    before = set(hive.root.rglob("*"))
    result = run(*commands(hive)[name])

    assert result.exit_code == 4, result.output
    assert "HRP008 python-untrusted" in result.stderr
    assert f"`headrace trust {hive.recipe}`" in result.stderr
    assert set(hive.root.rglob("*")) == before
    assert not TrustedList.of_user().path.exists()


def test_a_broken_list_lets_nothing_run(hive: Workshop) -> None:
    trust(steps(hive))
    TrustedList.of_user().path.write_text("all\n")
    result = run("check", hive.recipe)

    assert result.exit_code == 4
    assert "HRP010 trust-list-unfit" in result.stderr
    assert not track(hive).exists()


# --- workers ----------------------------------------------------------------------------------


def test_a_worker_runs_the_bytes_of_whoever_asks_and_no_others(hive: Workshop) -> None:
    """Also where others are trusted by now: else a batch would mix two states."""
    trust(steps(hive))
    installed = load_registry()
    plan = load_plan(hive.recipe, installed)
    registry = installed.with_files(plan.python_files, [PLACE])
    kit = Kit.of(plan, registry)
    assert set(unpacked(kit)[1].transforms) == set(registry.transforms)

    unpacked.cache_clear()
    track(hive).unlink()
    steps(hive).write_bytes(steps(hive).read_bytes() + b"# other wax\n")
    trust(steps(hive))
    with pytest.raises(PluginError) as error:
        unpacked(kit)
    assert [finding.name for finding in error.value.findings] == ["worker-unlike"]
    assert "hive_steps.py holds other bytes" in error.value.message
    assert not track(hive).exists()


@pytest.mark.parametrize("elsewhere", [False, True])
def test_a_worker_heeds_its_own_switch(
    hive: Workshop, monkeypatch: pytest.MonkeyPatch, elsewhere: bool
) -> None:
    trust(steps(hive))
    installed = load_registry()
    plan = load_plan(hive.recipe, installed)
    kit = Kit.of(plan, installed.with_files(plan.python_files, [PLACE]), elsewhere)
    unpacked.cache_clear()
    monkeypatch.setenv("HEADRACE_PYTHON", "off")

    with pytest.raises(HeadraceError, match="may not run: HEADRACE_PYTHON is off") as error:
        unpacked(kit)
    assert [finding.name for finding in error.value.findings] == ["worker-unlike"]


def test_the_working_folder_is_no_place_for_plugins_and_modules(hive: Workshop) -> None:
    """Python looks into the working folder first, for `-m` and for `-c` (its documentation of
    `sys.path`), and so do the processes that `multiprocessing` starts. Recipes from elsewhere may
    bring such files with them."""
    trust(steps(hive))
    marks = [hive.root / f"ran-{number}" for number in range(3)]
    for mark, name in zip(marks, ("a_plugin", "multiprocessing", "yaml"), strict=True):
        (hive.root / f"{name}.py").write_text(f"open({str(mark)!r}, 'w')\n")
    info = hive.root / "a_plugin-1.0.dist-info"
    info.mkdir()
    (info / "METADATA").write_text("Metadata-Version: 2.1\nName: a-plugin\nVersion: 1.0\n")
    (info / "entry_points.txt").write_text("[headrace]\na = a_plugin\n")
    ran = subprocess.run(
        [sys.executable, "-m", "headrace", "check", "--jobs", "2", hive.recipe, hive.jobs],
        cwd=hive.root, capture_output=True, text=True, check=False, timeout=120,
    )  # fmt: skip

    assert ran.returncode == 0, ran.stderr
    assert [mark.name for mark in marks if mark.exists()] == []


# --- asking -----------------------------------------------------------------------------------


@pytest.fixture
def somebody(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(leave, "may_ask", lambda: True)


@pytest.mark.usefixtures("somebody")
def test_yes_is_for_now_and_from_now_on(hive: Workshop) -> None:
    result = run("check", hive.recipe, answer="y\n")

    assert result.exit_code == 0
    digest = hashlib.sha256(steps(hive).read_bytes()).hexdigest()
    size = steps(hive).stat().st_size
    for said in (
        f"{hive.recipe}:5:10 names a Python file",
        f"{steps(hive)}  {size} bytes",
        f"SHA-256 {digest}",
        "it says of itself: Steps that leave a track.",
        "It runs with your own rights",
        leave.QUESTION,
    ):
        assert said in result.stderr
    assert result.stderr.count(leave.QUESTION) == 1
    again = run("check", hive.recipe)
    assert (again.exit_code, again.stderr) == (0, "")


@pytest.mark.usefixtures("somebody")
@pytest.mark.parametrize("answer", ["n\n", "\n"])
def test_no_is_a_refusal(hive: Workshop, answer: str) -> None:
    result = run("prepare", hive.recipe, hive.jobs, "--card", hive.card, answer=answer)

    assert result.exit_code == 4
    assert "HRP008 python-untrusted" in result.stderr
    assert not track(hive).exists()
    assert list(hive.card.iterdir()) == []
    assert not TrustedList.of_user().path.exists()


@pytest.mark.usefixtures("somebody")
def test_nobody_is_asked_for_a_recipe_that_is_refused_anyway(hive: Workshop) -> None:
    hive.recipe.write_text(hive.recipe.read_text().replace("thickness: 18", "thickness: thick"))
    result = run("check", hive.recipe, answer="y\n")

    assert result.exit_code == 3
    assert leave.QUESTION not in result.stderr


@pytest.mark.usefixtures("somebody")
def test_what_a_file_says_of_itself_is_harmless_to_a_terminal(hive: Workshop) -> None:
    steps(hive).write_text('"""Bees\\x1b[2J\\x07."""\n')
    result = run("check", hive.recipe, answer="n\n")

    assert "it says of itself: Bees�[2J�." in result.stderr
    assert "\x1b" not in result.stderr


def test_only_a_person_is_asked(hive: Workshop, monkeypatch: pytest.MonkeyPatch) -> None:
    """Neither a pipe nor a program that wants JSON."""
    monkeypatch.setattr(sys.stdin, "isatty", lambda: True, raising=False)
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True, raising=False)
    with command.make_context("headrace", ["check", str(hive.recipe)], obj=Asked("check")):
        assert leave.may_ask()
        monkeypatch.setattr(sys.stderr, "isatty", lambda: False, raising=False)
        assert not leave.may_ask()
        monkeypatch.setattr(sys.stderr, "isatty", lambda: True, raising=False)
    with command.make_context("headrace", ["check"], obj=Asked("check", json=True)):
        assert not leave.may_ask()


@pytest.mark.skipif(os.name == "nt", reason="Windows has no such terminals")
def test_in_a_terminal(hive: Workshop) -> None:
    import pty

    ours, theirs = pty.openpty()
    os.write(ours, b"y\n")
    ran = subprocess.run(
        [sys.executable, "-m", "headrace", "check", hive.recipe],
        stdin=theirs, stdout=subprocess.PIPE, stderr=theirs, check=False, timeout=60,
    )  # fmt: skip
    os.close(theirs)
    said = os.read(ours, 1 << 16).decode()
    os.close(ours)

    assert ran.returncode == 0, said
    assert leave.QUESTION in " ".join(said.split())
    assert TrustedList.of_user().holds(hashlib.sha256(steps(hive).read_bytes()).hexdigest())


# --- the command ------------------------------------------------------------------------------


def document(*args: object) -> dict[str, Any]:
    result = run("trust", *args, "--json")
    found: dict[str, Any] = json.loads(result.stdout)
    Draft202012Validator(output_schema("trust")).validate(found)
    assert found["exit-code"] == result.exit_code
    return found


def test_trusting_and_forgetting(hive: Workshop) -> None:
    digest = hashlib.sha256(steps(hive).read_bytes()).hexdigest()
    first = document(hive.recipe)
    assert first["exit-code"] == 4
    assert [finding["name"] for finding in first["findings"]] == ["python-untrusted"]
    assert not TrustedList.of_user().path.exists()

    (file,) = document(hive.recipe, "--yes")["files"]
    assert file == {
        "sha256": digest,
        "path": str(steps(hive)),
        "summary": "Steps that leave a track.",
        "trusted": True,
    }
    assert not track(hive).exists(), "to trust is not to run"
    assert document(hive.recipe)["exit-code"] == 0
    assert [each["path"] for each in document("--list")["files"]] == [str(steps(hive).resolve())]
    assert "as it is there" in run("trust", "--list").stdout

    (gone,) = document("--forget", digest[:8])["files"]
    assert (gone["sha256"], gone["trusted"]) == (digest, False)
    assert document("--list")["files"] == []
    assert run("check", hive.recipe).exit_code == 4


def test_a_file_is_forgotten_by_its_path_too(hive: Workshop) -> None:
    old = trust(steps(hive))
    steps(hive).write_text("x = 1\n")
    new = trust(steps(hive))
    assert "other bytes there" in run("trust", "--list").stdout
    gone = document("--forget", steps(hive))["files"]

    assert {each["sha256"] for each in gone} == {old, new}


def test_without_a_terminal_it_says_how_to_trust(hive: Workshop) -> None:
    result = run("trust", hive.recipe)

    assert result.exit_code == 4
    assert "nobody can be asked here: read the file, then add --yes" in result.stderr
    assert "--yes" not in run("trust", hive.recipe, "--yes").stderr


def test_files_of_parents_are_shown_and_trusted(hive: Workshop) -> None:
    child = hive.recipe.with_name("child.yaml")
    child.write_text("format: headrace-recipe/1\nname: Child\nextends: plain.yaml\n")
    files = document(child, "--yes")["files"]

    assert [file["path"] for file in files] == [str(steps(hive))]
    assert run("check", child).exit_code == 0


def test_a_file_that_does_not_lie_beside_is_not_trusted(hive: Workshop, tmp_path: Path) -> None:
    (tmp_path / "elsewhere.py").write_text("x = 1\n")
    text = hive.recipe.read_text().replace("hive_steps.py", "../../elsewhere.py")
    hive.recipe.write_text(text)
    result = run("trust", hive.recipe, "--yes")

    assert result.exit_code == 3
    assert "recipe-plugin-path" in result.stderr
    assert not TrustedList.of_user().path.exists()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ([], "name recipes, or --list, or --forget"),
        (["--list", "--forget", "steps.py"], "one of them"),
        (["--list", "--yes"], "--yes goes with recipes"),
        (["--forget", "steps.py"], "steps.py is not trusted"),
    ],
)
def test_what_it_cannot_do(words: list[str], said: str) -> None:
    result = run("trust", *words)

    assert result.exit_code == 2
    assert said in result.stderr
