"""The public doors for type checkers and for people: every name is typed, and told of.

Outside references: mypy and pyright, the two checkers in use; pyright's `--verifytypes` counts
what a library that says that it is typed (PEP 561) leaves unknown.
"""

from __future__ import annotations

import inspect
import json
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from editor.server import node_program
from typed import script

import headrace
from headrace import testing

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
FILES = [HERE / name for name in ("steps.py", "script.py", "own_tests.py")]
CACHE = ".mypy_cache"
WRONG = """\
from headrace import Result, load_recipe
load_recipe(3)
data: bytes = load_recipe("lids.yaml").prepare(["lid.nc"])[0].data
names: list[str] = Result
"""
"""Lines 2 to 4 are at fault each; bytes that may be missing are not taken for bytes."""


def run(*words: str, folder: Path = ROOT) -> subprocess.CompletedProcess[str]:
    paths = os.pathsep.join(str(ROOT / each) for each in ("pipeline", "plugins"))
    environ = {**os.environ, "PYTHONPATH": paths, "MYPYPATH": paths}
    return subprocess.run(
        words, capture_output=True, text=True, cwd=folder, env=environ, timeout=250, check=False
    )


def pyright(*words: str, folder: Path = ROOT) -> dict[str, Any]:
    command = [*node_program("pyright"), "--outputjson", "--pythonpath", sys.executable]
    ran = run(*command, *words, folder=folder)
    assert ran.stdout.startswith("{"), ran.stderr
    told: dict[str, Any] = json.loads(ran.stdout)
    return told


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder of an author's, in which one file is at fault."""
    (tmp_path / "typed").mkdir()
    for path in FILES:
        shutil.copy(path, tmp_path / "typed")
    (tmp_path / "typed/__init__.py").touch()
    (tmp_path / "typed/wrong.py").write_text(WRONG)
    return tmp_path


def test_mypy_takes_what_authors_write_and_nothing_else(folder: Path) -> None:
    config = ["--config-file", str(ROOT / "pyproject.toml"), "--cache-dir", str(ROOT / CACHE)]
    ran = run(sys.executable, "-m", "mypy", *config, "--no-error-summary", "typed", folder=folder)
    told = [line for line in ran.stdout.splitlines() if line.startswith("typed/")]

    assert [line.split(": ")[0] for line in told] == [
        "typed/wrong.py:2", "typed/wrong.py:3", "typed/wrong.py:4",
    ], ran.stdout + ran.stderr  # fmt: skip


def test_pyright_takes_what_authors_write_and_nothing_else(folder: Path) -> None:
    told = pyright("typed", folder=folder)
    places = [
        (Path(each["file"]).name, each["range"]["start"]["line"] + 1)
        for each in told["generalDiagnostics"]
        if each["severity"] == "error"
    ]

    assert places == [("wrong.py", 2), ("wrong.py", 3), ("wrong.py", 4)], told


def test_every_type_is_known() -> None:
    """Not only behind the doors: in every module of the package. Every public name is among them;
    both are asked of one run, for it takes long."""
    told = pyright("--verifytypes", "headrace", "--ignoreexternal")["typeCompleteness"]
    symbols = told["symbols"]
    doubtful = [
        each["name"] for each in symbols if not each["isTypeKnown"] or each["isTypeAmbiguous"]
    ]
    homes = {
        f"{value.__module__}.{name}"
        for door in (headrace, testing)
        for name in door.__all__
        if inspect.isclass(value := getattr(door, name)) or inspect.isfunction(value)
    }

    assert len(symbols) > 4000
    assert doubtful == []
    assert told["completenessScore"] == 1
    assert len(homes) > 40
    assert homes - {each["name"] for each in symbols} == set()


def told_of(value: object, name: str) -> Iterator[str]:
    """Names of what has no docstring: a class, and what it defines for others."""
    if inspect.isclass(value) or inspect.isfunction(value):
        if not inspect.getdoc(value) or value.__doc__ == dict.__doc__:
            yield name
        if inspect.isclass(value):
            for part, inner in vars(value).items():
                function = inner.fget if isinstance(inner, property) else inner
                function = getattr(function, "__func__", function)
                if not part.startswith("_") and inspect.isfunction(function):
                    yield from told_of(function, f"{name}.{part}")


@pytest.mark.parametrize("door", [headrace, testing], ids=["headrace", "headrace.testing"])
def test_every_public_name_is_told_of(door: Any) -> None:
    untold = [missing for name in door.__all__ for missing in told_of(getattr(door, name), name)]

    assert untold == []
    assert len(str(door.__doc__)) > 100


def test_the_script_does_what_the_command_does(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    recipe, job = (str(ROOT / "recipes" / each) for each in ("bench-lids.yaml", "jobs/lid.nc"))
    by_script, by_command = tmp_path / "script", tmp_path / "command"
    by_script.mkdir()
    by_command.mkdir()
    code = script.main(recipe, job, str(by_script))
    words = ["prepare", recipe, job, "--card", str(by_command)]
    ran = run(sys.executable, "-m", "headrace", *words, "--set", "setup.sheet.thickness.most=18.4")
    told = capsys.readouterr().out.splitlines()

    assert code == 0
    assert ran.returncode == 0, ran.stderr
    assert sorted(path.name for path in by_script.iterdir()) == ["HEADRACE.JSON", "LID.NC"]
    written = (by_script / "LID.NC").read_bytes()
    assert written == (by_command / "LID.NC").read_bytes()
    assert told == [
        f"LID.NC {len(written)} bytes, within 0 mm", "AGAIN.NC fit", "LID.NC written",
    ]  # fmt: skip


def test_a_script_is_told_what_is_wrong(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "lids.yaml"
    path.write_text("format: headrace-recipe/2\nname: Lids\n")

    assert script.main(str(path), "lid.nc", "card") == 3
    assert "lacks `machine`" in capsys.readouterr().err
