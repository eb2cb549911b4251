"""`headrace upgrade`, and the note of `headrace check`, against Git's own `apply`."""

from __future__ import annotations

import json
import shutil
import subprocess
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import pytest
from click.testing import CliRunner, Result

from headrace.cli.group import headrace
from headrace.report.kept_changes import changes_since

GALLERY = Path(__file__).parents[3] / "recipes"
GIT = shutil.which("git")


@pytest.fixture
def shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The gallery in its older form; commands are run in its folder."""
    shutil.copytree(GALLERY, tmp_path, dirs_exist_ok=True, ignore=shutil.ignore_patterns("kept"))
    for path in (*tmp_path.glob("*.yaml"), *tmp_path.glob("shared/*.yaml")):
        text = path.read_bytes().replace(b"\npython:", b"\nplugins:")
        path.write_bytes(text.replace(b"format: headrace-recipe/2", b"format: headrace-recipe/1"))
    monkeypatch.chdir(tmp_path)
    return tmp_path


def run(*words: str, code: int = 0) -> Result:
    result = CliRunner().invoke(headrace, list(words))
    assert result.exit_code == code, result.output
    return result


def held(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.glob("*.yaml")}


@pytest.mark.skipif(GIT is None, reason="git is not here")
def test_git_makes_the_same_files_of_the_difference(shop: Path) -> None:
    names = [*sorted(path.name for path in shop.glob("*.yaml")), "shared/base.yaml"]
    windows = shop / "clean-text.yaml"
    windows.write_bytes(windows.read_bytes().replace(b"\n", b"\r\n").rstrip())
    before = held(shop)
    shown = run("upgrade", *names)

    assert held(shop) == before
    assert shown.stderr.count("nothing is written without --write") == len(names)
    subprocess.run(
        [str(GIT), "apply", "--whitespace=nowarn"], input=shown.stdout_bytes, cwd=shop, check=True
    )
    by_git = held(shop)
    for name, data in before.items():
        (shop / name).write_bytes(data)
    (shop / "shared/base.yaml").write_bytes(
        (shop / "shared/base.yaml").read_bytes().replace(b"recipe/2", b"recipe/1")
    )
    again = run("upgrade", "--write", *names)

    assert again.stdout == shown.stdout
    assert held(shop) == by_git
    assert (shop / "swarm-warning.yaml").read_bytes() == (
        GALLERY / "swarm-warning.yaml"
    ).read_bytes()


@pytest.mark.usefixtures("shop")
def test_parents_that_are_not_named_are_told() -> None:
    result = run("upgrade", "speed-window.yaml")
    assert "recipe-format-old] at shared/base.yaml:" in result.stderr
    assert "recipe-format-old" not in run("upgrade", "--quiet", "bench-lids.yaml").stderr
    both = run("upgrade", "--write", "speed-window.yaml", "shared/base.yaml")
    assert "recipe-format-old" not in both.stderr
    assert run("check", "speed-window.yaml").stderr == ""


@pytest.mark.usefixtures("shop")
def test_what_is_new_already_is_told() -> None:
    named = ["machines/shop-relay.yaml", "setups/lids-18.yaml"]
    result = run("upgrade", "--write", *named)

    assert result.stdout == ""
    assert "headrace-machine/1 is the newest; nothing to do" in result.stderr
    assert "headrace-setup/1 is the newest; nothing to do" in result.stderr


def test_one_at_fault_keeps_all(shop: Path) -> None:
    (shop / "odd.yaml").write_text("format: headrace-recipe/8\n")
    before = held(shop)
    result = run("upgrade", "--write", "bench-lids.yaml", "odd.yaml", code=3)

    assert "recipe-format-newer" in result.stderr
    assert held(shop) == before


def test_a_file_that_is_not_there_is_a_slip_of_the_command_line(shop: Path) -> None:
    assert "gone.yaml" in run("upgrade", "gone.yaml", code=2).stderr
    assert "is a directory" in run("upgrade", str(shop), code=2).stderr


@pytest.mark.usefixtures("shop")
def test_documents() -> None:
    shown = json.loads(run("upgrade", "--json", "swarm-warning.yaml").stdout)
    assert shown["written"] is False
    assert [each["name"] for each in shown["findings"]] == ["recipe-format-old"]  # its parent
    (file,) = shown["files"]
    assert (file["stated"], file["newest"], file["changes"]) == (
        "headrace-recipe/1", "headrace-recipe/2", True,
    )  # fmt: skip
    assert "\n-plugins:\n+python:\n" in file["difference"]
    done = json.loads(run("upgrade", "--json", "--write", "swarm-warning.yaml").stdout)
    assert done["written"] is True
    assert done["files"][0]["difference"] == file["difference"]
    again = json.loads(run("upgrade", "--json", "--write", "swarm-warning.yaml").stdout)
    assert (again["files"][0]["changes"], again["files"][0]["difference"]) == (False, "")


@pytest.mark.usefixtures("shop")
def test_check_alone_notes_it() -> None:
    told = run("check", "bench-lids.yaml")
    assert told.stdout.startswith("bench-lids.yaml: fine")
    assert told.stderr.startswith("note: the recipe is of an older format")
    assert run("check", "--quiet", "bench-lids.yaml").output == ""
    assert "recipe-format-old" in run("check", "bench-lids.yaml", "jobs/lid.nc").stderr
    Path("card").mkdir()
    quiet = run("prepare", "bench-lids.yaml", "jobs/lid.nc", "--card", "card")
    assert "recipe-format-old" not in quiet.output
    assert "recipe-format-old" not in run("recheck", "bench-lids.yaml").output


def test_what_is_kept_is_not_another_one_by_that() -> None:
    """Outcomes that were kept before their recipe was upgraded."""
    same = {key: {"sha256": key} for key in ("recipe", "machine", "setup")}
    made_by = {**same, "plugins": [], "headrace": {"name": "headrace", "version": "", "sha256": ""}}
    old, new = (
        SimpleNamespace(values={"format": f, "steps": s}, made_by=made_by, files=())
        for f, s in (("headrace-recipe/1", ["home"]), ("headrace-recipe/2", ["home", "park"]))
    )
    told = list(changes_since(cast(Any, SimpleNamespace(before=old, now=new))))

    assert len(told) == 1
    assert told[0].startswith("steps")
