"""Schemas from the command line: printed, and as files beside recipes for editors.

Outside reference: the library jsonschema (JSON Schema, draft 2020-12).
"""

from __future__ import annotations

import errno
import json
import os
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from jsonschema import Draft202012Validator

from headrace.cli.group import headrace as command

OWN = '''\
from headrace import Facet, after, transform


@transform("{name}", changes=[Facet.DWELL], options={{"puffs": {{"type": "integer",
           "description": "How many puffs of the smoker; a whole number.", "default": 3}}}})
def smoke(job, *, puffs):
    """Wait for the smoker before the first line."""
    yield after(0, f"G4 P{{puffs}}")
'''
RECIPE = "format: headrace-recipe/2\nname: Smoke\npython: [{file}]\nsteps: [not-yet, known]\n"
FILES = ("machine.json", "recipe.json", "setup.json")


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a recipe that brings a step, and one that extends it."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "smoke.py").write_text(OWN.format(name="smoke-first"))
    (tmp_path / "smoke.yaml").write_text(RECIPE.format(file="smoke.py"))
    (tmp_path / "child.yaml").write_text("format: headrace-recipe/2\nextends: smoke.yaml\n")
    return tmp_path


def run(*args: object) -> Result:
    return CliRunner().invoke(command, ["schema", *map(str, args)])


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def steps_in(schema: bytes | str) -> set[str]:
    return set(json.loads(schema)["$defs"]["step"]["properties"])


def test_the_three_files_are_written_as_they_are_printed(home: Path) -> None:
    result = run("--to", "schemas")

    assert result.exit_code == 0
    assert sorted(contents(home / "schemas")) == list(FILES)
    for name, content in contents(home / "schemas").items():
        assert content.decode() == run(name.removesuffix(".json")).stdout
        assert content.endswith(b"}\n")
        Draft202012Validator.check_schema(json.loads(content))
        assert f"schemas/{name}  written" in result.stdout


def test_what_is_the_same_stays_and_what_is_ours_is_replaced(home: Path) -> None:
    run("--to", "schemas")
    again = run("--to", "schemas")
    more = run("--to", "schemas", "--for", "smoke.yaml", "--json")

    assert again.stdout.count("unchanged") == 3
    fates = {each["file"]: each["fate"] for each in json.loads(more.stdout)["files"]}
    assert fates == {
        "schemas/machine.json": "unchanged",
        "schemas/recipe.json": "replaced",
        "schemas/setup.json": "unchanged",
    }
    assert "smoke-first" in steps_in((home / "schemas" / "recipe.json").read_bytes())


@pytest.mark.parametrize("by", ["smoke.yaml", "child.yaml", "."])
@pytest.mark.usefixtures("home")
def test_steps_of_a_recipe_are_added(by: str) -> None:
    """Its own, its parents', and those of all recipes of a folder; it need not be right yet."""
    assert steps_in(run("--for", by).stdout) == steps_in(run().stdout) | {"smoke-first"}


def test_two_steps_of_one_name_are_refused(home: Path) -> None:
    (home / "other.py").write_text(OWN.format(name="smoke-first"))
    (home / "other.yaml").write_text(RECIPE.format(file="other.py"))

    result = run("--to", "schemas", "--for", ".")

    assert result.exit_code == 4
    assert "`smoke-first` is offered by" in result.stderr
    assert not (home / "schemas").exists()


def test_a_python_file_that_is_not_there_is_refused_at_its_place(home: Path) -> None:
    (home / "smoke.py").unlink()

    result = run("--for", "smoke.yaml")

    assert result.exit_code == 3
    assert "smoke.yaml:3:10" in result.stderr
    assert result.stdout == ""


def test_code_that_nobody_trusts_does_not_run(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HEADRACE_PYTHON", "off")
    (home / "smoke.py").write_text("raise SystemExit('it ran')\n")

    result = run("--to", "schemas", "--for", "smoke.yaml")

    assert result.exit_code in (3, 4)
    assert "it ran" not in result.stderr
    assert "smoke.yaml:3:10" in result.stderr
    assert not (home / "schemas").exists()


def foreign(path: Path) -> None:
    path.write_text('{"type": "object"}\n')


def no_json(path: Path) -> None:
    path.write_bytes(b"\xff\x00 no text")


def edited(path: Path) -> None:
    path.write_text(path.read_text("utf-8").replace("; mm.", "; cm.", 1))


def folder(path: Path) -> None:
    path.unlink()
    path.mkdir()


def link(path: Path) -> None:
    path.rename(path.with_name("kept.txt"))
    path.symlink_to("kept.txt")


@pytest.mark.parametrize("spoil", [foreign, no_json, edited, folder, link])
def test_what_is_not_ours_stays_and_nothing_is_written(
    spoil: Callable[[Path], None], home: Path
) -> None:
    run("--to", "schemas")
    spoil(home / "schemas" / "setup.json")
    before = {path: path.stat().st_mtime_ns for path in (home / "schemas").iterdir()}

    result = run("--to", "schemas", "--for", "smoke.yaml")

    assert result.exit_code == 2
    assert "is no schema as headrace wrote it: move it away" in result.stderr
    assert "schemas/setup.json cannot be written" in result.stderr
    assert {path: path.stat().st_mtime_ns for path in (home / "schemas").iterdir()} == before


def test_a_file_that_was_only_laid_out_anew_is_still_ours(home: Path) -> None:
    """As a formatter that runs before a commit does it."""
    run("--to", "schemas")
    path = home / "schemas" / "setup.json"
    path.write_text(json.dumps(json.loads(path.read_bytes()), indent=4, sort_keys=True))

    assert "setup.json  replaced" in run("--to", "schemas").stdout


def test_a_disk_that_is_full_leaves_all_as_it_was(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whatever cannot be written: a new file among old ones, one that would be replaced."""
    run("--to", "schemas")
    (home / "schemas" / "setup.json").unlink()
    before = contents(home / "schemas")

    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", full)
    result = run("--to", "schemas", "--for", "smoke.yaml")

    assert result.exit_code == 2
    assert "No space left" in result.stderr
    assert contents(home / "schemas") == before


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (["machine", "--to", "schemas"], "--to writes all three of them: leave machine out"),
        (["machine", "--for", "smoke.yaml"], "--for adds steps to the schema of a recipe"),
        (["--to", "no/where"], "no/where cannot be written"),
        (["--to", "smoke.py"], "smoke.py cannot be written"),
    ],
)
def test_misuse_is_told(args: list[str], said: str, home: Path) -> None:
    before = contents(home)

    result = run(*args)

    assert result.exit_code == 2
    assert said in result.stderr
    assert contents(home) == before
