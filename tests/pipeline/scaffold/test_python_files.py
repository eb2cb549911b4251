"""A transform to begin with, as a file beside a recipe and as a distribution.

Outside references: ruff and mypy for the Python that is written, `tokenize` for its length, PyYAML
for the snippet, and what the Python Packaging User Guide has on `pyproject.toml`, wheels and entry
points ("Writing your pyproject.toml", "Binary distribution format", "Entry points specification"),
by hatchling, build and pip.
"""

from __future__ import annotations

import ast
import os
import re
import shutil
import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path

import pytest
import yaml
from click.testing import CliRunner
from packaging.requirements import Requirement

import headrace
from headrace.cli.group import headrace as command
from headrace.testing import conforms, transforms_of

GALLERY = Path(__file__).parents[3] / "recipes"
PYPROJECT = tomllib.loads((GALLERY.parent / "pyproject.toml").read_text("utf-8"))
CACHE = GALLERY.parent / ".mypy_cache"
NAMES = ["chip-watch", "w", "a-step-of-thirty-characters-01"]


def new(*args: str | Path) -> list[str]:
    """What the command says should be done next."""
    result = CliRunner().invoke(command, ["new", *map(str, args)])
    assert result.exit_code == 0, result.output
    return result.stderr.splitlines()


def python(folder: Path, *args: str | Path, path: Path | None = None) -> str:
    """What a run of Python in a folder says; `path` is where it looks for modules too."""
    around = {**os.environ, **({"PYTHONPATH": str(path)} if path else {})}
    done = subprocess.run(
        [sys.executable, *args], cwd=folder, env=around, capture_output=True, text=True,
        check=False, timeout=120,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def tidy(folder: Path) -> None:
    """By ruff as it comes, and by all the rules that this project goes by."""
    rules = ",".join(PYPROJECT["tool"]["ruff"]["lint"]["select"])
    python(folder, "-m", "ruff", "check", "--isolated", "--no-cache", "--select", rules, ".")
    python(folder, "-m", "ruff", "format", "--isolated", "--no-cache", "--check", ".")


def code_lines(path: Path) -> int:
    """Lines that are neither blank, a docstring nor an import."""
    tree = ast.parse(path.read_text("utf-8"))
    lines: set[int] = set()
    for node in tree.body:
        if isinstance(node, (ast.Import, ast.ImportFrom, ast.Expr)):
            continue
        first = min([node.lineno, *(d.lineno for d in getattr(node, "decorator_list", []))])
        lines.update(range(first, (node.end_lineno or first) + 1))
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef) and ast.get_docstring(node):
            told = node.body[0]
            lines.difference_update(range(told.lineno, (told.end_lineno or told.lineno) + 1))
    return len(lines)


# --- a file beside a recipe -------------------------------------------------------------------


@pytest.mark.parametrize("name", NAMES)
def test_what_is_written_is_tidy(tmp_path: Path, name: str) -> None:
    """However long the name is."""
    beside = tmp_path / "combs"
    beside.mkdir()
    new("transform", name, "--in", beside)
    new("package", name, "--in", tmp_path)

    for folder in (beside, tmp_path / name):
        tidy(folder)
        for path in folder.rglob("*.*"):
            assert path.is_dir() or b"\r" not in path.read_bytes()
    assert code_lines(beside / f"{name.replace('-', '_')}.py") <= 15


def test_its_types_are_strict(tmp_path: Path) -> None:
    """Those of a file and of a package, in one run, for it takes long."""
    new("transform", "wing-watch", "--in", tmp_path)
    new("package", "chip-watch", "--in", tmp_path)
    files = sorted(path.relative_to(tmp_path).as_posix() for path in tmp_path.rglob("*.py"))
    around = {**os.environ, "MYPYPATH": "chip-watch/src"}
    done = subprocess.run(
        [sys.executable, "-m", "mypy", "--strict", "--cache-dir", CACHE, *files],
        cwd=tmp_path, env=around, capture_output=True, text=True, check=False, timeout=120,
    )  # fmt: skip

    assert len(files) == 5
    assert done.returncode == 0, done.stdout + done.stderr


def test_it_is_a_step_as_the_documentation_needs_it(tmp_path: Path) -> None:
    new("transform", "chip-watch", "--in", tmp_path)
    (made,) = transforms_of(tmp_path / "chip_watch.py")

    assert made.name == "chip-watch"
    assert "->" in made.doc
    assert made.summary == "Say by a comment what is to be watched at the first cut."
    assert made.options["text"]["description"].endswith("; text.")


def test_it_keeps_what_it_declares(tmp_path: Path) -> None:
    """By the kit, as its own test has it, on fewer jobs."""
    new("transform", "chip-watch", "--in", tmp_path)
    (made,) = transforms_of(tmp_path / "chip_watch.py")
    conforms(made, jobs=60)


def test_its_own_tests_see_a_slip(tmp_path: Path) -> None:
    new("transform", "chip-watch", "--in", tmp_path)
    step = tmp_path / "chip_watch.py"
    step.write_text(step.read_text("utf-8").replace("first is not None", "False"), "utf-8")
    with pytest.raises(AssertionError, match=r"- \(MIND THE TABS\)(.|\n)*1 failed"):
        python(tmp_path, "-m", "pytest", "-q", "-p", "no:cacheprovider", "-k", "says")


def test_the_snippet_makes_it_run(tmp_path: Path) -> None:
    """Put into the recipe of a begun folder as it is told."""
    combs = tmp_path / "combs"
    new("recipe", combs, "--machine", GALLERY / "machines" / "shop-relay.yaml")
    said = new("transform", "chip-watch", "--in", combs)
    shutil.copy(GALLERY / "setups" / "frames-9.yaml", combs / "setups" / "first.yaml")
    start = said.index("  python:")
    told = yaml.safe_load("\n".join(line[2:] for line in said[start : start + 4]))
    recipe = combs / "recipe.yaml"
    text = recipe.read_text("utf-8").replace(
        "steps:\n", f"python: {told['python']}\nsteps:\n  - {told['steps'][0]}\n", 1
    )
    recipe.write_text(text, "utf-8")
    card = tmp_path / "card"
    card.mkdir()
    job = GALLERY / "jobs" / "frame-side.nc"
    args = ["prepare", str(recipe), str(job), "--card", str(card)]
    prepared = CliRunner().invoke(command, args)

    assert prepared.exit_code == 0, prepared.output
    (written,) = card.glob("FRAME*")
    lines = written.read_text().splitlines()
    cut = next(at for at, line in enumerate(lines) if line.startswith("G1Z-"))
    assert lines[cut - 1] == "(WATCH THE CHIPS)"


# --- a distribution ---------------------------------------------------------------------------


@pytest.fixture(scope="module")
def package(tmp_path_factory: pytest.TempPathFactory) -> Path:
    root = tmp_path_factory.mktemp("package")
    said = new("package", "chip-watch", "--in", root)
    assert any("no license" in line for line in said)
    return root / "chip-watch"


def test_it_says_what_it_is(package: Path) -> None:
    told = tomllib.loads((package / "pyproject.toml").read_text("utf-8"))
    project = told["project"]
    (needed,) = project["dependencies"]

    assert project["name"] == "chip-watch"
    assert project["entry-points"]["headrace"] == {"transforms": "chip_watch"}
    assert "license" not in project
    assert not (package / "LICENSE").exists()
    assert Requirement(needed).name == "headrace"
    assert Requirement(needed).specifier.contains(headrace.__version__)
    assert project["requires-python"] == PYPROJECT["project"]["requires-python"]
    assert told["build-system"]["build-backend"] == "hatchling.build"


def test_its_wheel_is_a_plugin(package: Path, tmp_path: Path) -> None:
    """It holds the package alone; and headrace finds it, in a process that has it on its path."""
    build = ["-m", "build", "--wheel", "--no-isolation", "--outdir", tmp_path]
    python(tmp_path, *build, package)
    (wheel,) = tmp_path.glob("*.whl")
    with zipfile.ZipFile(wheel) as opened:
        names = {name for name in opened.namelist() if ".dist-info/" not in name}
    site = tmp_path / "site"
    python(tmp_path, "-m", "pip", "install", "--quiet", "--no-deps", "--no-index",
           "--disable-pip-version-check", "--target", site, wheel)  # fmt: skip
    shown = python(tmp_path, "-m", "headrace", "transforms", "chip-watch", path=site)

    assert names == {f"chip_watch/{name}" for name in ("__init__.py", "py.typed", "steps.py")}
    assert shown.startswith("chip-watch  (chip-watch 0.1.0)")
    assert "chip_watch" not in sys.modules


def test_its_own_tests_pass(package: Path) -> None:
    """Its example, and every check of the kit by itself."""
    own = ["-m", "pytest", "-v", "-p", "no:cacheprovider", "--headrace-jobs", "20"]
    said = python(package, *own, path=package / "src")

    assert "tests/test_chip_watch.py::test_says_it_at_the_first_cut PASSED" in said
    assert re.search("chip_watch.*chip-watch::keeps-its-contract PASSED", said)
    assert "failed" not in said
