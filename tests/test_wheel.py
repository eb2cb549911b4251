"""The wheel by itself: built, installed into an environment of its own, and run far from the tree.

Layout of wheels: PyPA specifications, "Binary distribution format".
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import sysconfig
import zipfile
from dataclasses import dataclass
from email.parser import Parser
from pathlib import Path

import pytest

import headrace

TREE = Path(__file__).parents[1]
PACKAGES = {"headrace": "pipeline", "headrace_transforms": "plugins"}


@dataclass(frozen=True)
class Installed:
    """A wheel, and an environment that has it and what it needs, but not the tree."""

    wheel: Path
    python: Path
    folder: Path

    def run(self, *args: str | Path) -> subprocess.CompletedProcess[str]:
        """The command, as its users start it."""
        command = self.python.with_name("headrace.exe" if os.name == "nt" else "headrace")
        return self._run([command, *args])

    def code(self, text: str) -> str:
        done = self._run([self.python, "-c", text])
        assert done.returncode == 0, done.stderr
        return done.stdout.strip()

    def _run(self, args: list[str | Path]) -> subprocess.CompletedProcess[str]:
        plain = {
            key: value
            for key, value in os.environ.items()
            if not key.startswith(("PYTHON", "COV", "VIRTUAL_ENV"))
        }
        return subprocess.run(
            args, cwd=self.folder, env=plain, capture_output=True, text=True, check=False,
            timeout=120,
        )  # fmt: skip


def done(args: list[str | Path]) -> None:
    finished = subprocess.run(args, capture_output=True, text=True, check=False, timeout=300)
    assert finished.returncode == 0, finished.stdout + finished.stderr


@pytest.fixture(scope="module")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Installed:
    root = tmp_path_factory.mktemp("wheel")
    build = [sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", root]
    done([*build, TREE])
    wheel = next(root.glob("*.whl"))
    environment = root / "environment"
    done([sys.executable, "-m", "venv", "--without-pip", environment])
    python = environment / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
    done([
        sys.executable, "-m", "pip", "--python", python, "install", "--quiet", "--no-deps",
        "--no-index", "--disable-pip-version-check", wheel,
    ])  # fmt: skip
    # what headrace needs is taken from here, module by module, so that the tree stays out of it
    site = next(environment.glob("**/site-packages"))
    for name in sorted(needed()):
        (site / name.name).symlink_to(name, target_is_directory=name.is_dir())
    folder = root / "elsewhere"
    folder.mkdir()
    return Installed(wheel, python, folder)


def needed() -> set[Path]:
    """The modules of this environment but for headrace, and without what makes it editable."""
    here = {Path(sysconfig.get_path(name)) for name in ("purelib", "platlib")}
    return {
        path
        for site in here
        for path in site.iterdir()
        if not path.name.startswith(("headrace", "_headrace", "__pycache__", "pip", "setuptools"))
        and path.suffix not in (".pth", ".virtualenv")
        and not path.name.startswith(("_virtualenv", "distutils-precedence", "a1_coverage"))
    }


def test_holds_two_packages_and_nothing_else(installed: Installed) -> None:
    with zipfile.ZipFile(installed.wheel) as wheel:
        assert wheel.testzip() is None
        names = set(wheel.namelist())
    roots = {name.split("/")[0] for name in names}

    assert {root for root in roots if not root.endswith(".dist-info")} == set(PACKAGES)
    assert len(roots) == 3
    for package, source in PACKAGES.items():
        files = {
            path.relative_to(TREE / source).as_posix()
            for path in (TREE / source / package).rglob("*")
            if path.is_file() and "__pycache__" not in path.parts
        }
        assert {name for name in names if name.startswith(f"{package}/")} == files
        assert f"{package}/py.typed" in names
    for kind in ("machine", "recipe", "setup"):
        assert f"headrace/recipe/schemas/{kind}.json" in names
    assert "headrace/findings/examples/bad-number.yaml" in names
    assert "headrace/findings/examples/bases/relay/job.nc" in names
    for name in ("page.html", "file.html", "parts.html", "reading.html", "page.css"):
        assert f"headrace/sheet/templates/{name}" in names


def test_says_what_it_is(installed: Installed) -> None:
    with zipfile.ZipFile(installed.wheel) as wheel:
        info = next(n for n in wheel.namelist() if n.endswith(".dist-info/METADATA"))
        metadata = Parser().parsestr(wheel.read(info).decode())
        points = wheel.read(info.replace("METADATA", "entry_points.txt")).decode()

    assert (metadata["Name"], metadata["Version"]) == ("headrace", headrace.__version__)
    assert metadata["License-Expression"] == "MIT"
    assert metadata.get_payload()
    needs = {text.split(">")[0] for text in metadata.get_all("Requires-Dist") if ";" not in text}
    assert needs == {"click", "jinja2", "jsonschema", "numpy", "pluggy", "pyyaml"}
    assert "[headrace]\ntransforms = headrace_transforms" in points
    assert "headrace = headrace.cli:main" in points


def test_is_not_the_tree(installed: Installed) -> None:
    code = "import headrace, headrace_transforms as t; print(headrace.__file__, t.__file__)"
    for file in installed.code(code).split():
        assert Path(file).is_relative_to(installed.python.parents[1])
    assert str(TREE) not in installed.code("import sys; print(sys.path)")


def test_command_answers(installed: Installed) -> None:
    version = installed.run("--version")
    transforms = installed.run("transforms")
    schema = installed.run("schema", "machine")
    explained = installed.run("explain", "HRL004")

    assert version.stdout == f"headrace {headrace.__version__}\n"
    assert (version.returncode, transforms.returncode, schema.returncode) == (0, 0, 0)
    assert "touch-off" in transforms.stdout
    assert explained.returncode == 0, explained.stderr
    assert explained.stdout.startswith("HRL004 bad-number\n")
    assert json.loads(schema.stdout)["type"] == "object"


def test_prepares_a_card(installed: Installed) -> None:
    card = installed.folder / "card"
    card.mkdir()
    recipes = TREE / "recipes"
    args = [recipes / "bench-lids.yaml", recipes / "jobs" / "lid.nc", "--card", card]
    prepared = installed.run("prepare", *args)

    assert prepared.returncode == 0, prepared.stderr
    assert sorted(path.name for path in card.iterdir()) == ["HEADRACE.JSON", "LID.NC"]
    text = (card / "LID.NC").read_text()
    assert "G38.2" in text
    assert text.rstrip().endswith(("\nM2", "\nM30", "\n%"))
    again = installed.run("prepare", *args)
    assert again.returncode == 0, again.stderr
    assert (card / "LID.NC").read_text() == text
