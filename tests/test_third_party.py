"""A stranger's distribution on the path: found, usable in a recipe, and never in others' way.

How an installed distribution looks on disk: PyPA specifications, "Recording installed projects"
and "Entry points specification".
"""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest
from workshop import Workshop, set_up

STEPS = '''\
from headrace import Facet, before, hookimpl, transform


@transform(
    "brand",
    changes=[Facet.COMMENTS],
    options={"text": {"type": "string", "description": "The text; text.", "default": "OAK"}},
)
def brand(job, *, text):
    """Put the mark of the workshop first."""
    yield before(0, f"({text})")


@hookimpl
def headrace_transforms():
    return [brand]
'''


@dataclass(frozen=True)
class Stranger:
    """A workshop whose commands have a folder of distributions on their path."""

    shop: Workshop
    folder: Path

    def install(self, name: str, source: str) -> None:
        (self.folder / f"{name}.py").write_text(source)
        info = self.folder / f"{name}-1.4.dist-info"
        info.mkdir()
        (info / "METADATA").write_text(f"Metadata-Version: 2.1\nName: {name}\nVersion: 1.4\n")
        (info / "entry_points.txt").write_text(f"[headrace]\nsteps = {name}\n")
        (info / "RECORD").write_text(f"{name}.py,,\n")

    def run(self, *args: str | Path) -> subprocess.CompletedProcess[str]:
        path = os.pathsep.join([str(self.folder), os.environ.get("PYTHONPATH", "")]).rstrip(":;")
        done = self.shop.run(*args, environment={"PYTHONPATH": path})
        return subprocess.CompletedProcess(
            done.args, done.returncode, done.stdout.decode(), done.stderr.decode()
        )


@pytest.fixture
def stranger(tmp_path: Path) -> Stranger:
    folder = tmp_path / "site"
    folder.mkdir()
    return Stranger(set_up(tmp_path / "hive", ["brand: {text: ASH}", "capitals"]), folder)


def test_its_steps_are_found_and_run(stranger: Stranger) -> None:
    job = stranger.shop.job("lid.nc")
    unknown = stranger.run("check", stranger.shop.recipe)
    stranger.install("hive_brand", STEPS)
    listed = stranger.run("transforms")
    shown = stranger.run("transforms", "brand")
    done = stranger.run("prepare", stranger.shop.recipe, job, "--card", stranger.shop.card)

    assert unknown.returncode == 3
    assert "there is no transform `brand`" in unknown.stderr
    assert "Put the mark of the workshop first." in listed.stdout
    assert "hive_brand 1.4" in shown.stdout
    assert "default OAK" in shown.stdout
    assert done.returncode == 0, done.stderr
    card = stranger.shop.on_card()["LID.NC"]
    assert card.startswith(b"(ASH)\n(HIVE LID)\nG21")


def test_its_options_are_checked_like_all_others(stranger: Stranger) -> None:
    stranger.install("hive_brand", STEPS)
    recipe = stranger.shop.recipe.read_text().replace("{text: ASH}", "{text: 5, colour: red}")
    stranger.shop.recipe.write_text(recipe)
    done = stranger.run("check", stranger.shop.recipe)

    assert done.returncode == 3
    assert "colour" in done.stderr
    assert "plain.yaml:" in done.stderr


@pytest.mark.parametrize(
    ("source", "said"),
    [
        ("import no_such_module\n", "ModuleNotFoundError"),
        ("this is no Python\n", "SyntaxError"),
        (STEPS.replace("return [brand]", "return [brand, 5]"), "which is no transform"),
        (STEPS.replace("def headrace_transforms", "def headrace_transform"), "headrace_transform"),
    ],
)
def test_a_broken_one_is_told_and_stops_nobody(stranger: Stranger, source: str, said: str) -> None:
    stranger.install("a_broken_one", source)
    stranger.install("hive_brand", STEPS)
    job = stranger.shop.job("lid.nc")
    done = stranger.run("prepare", stranger.shop.recipe, job, "--card", stranger.shop.card)

    assert done.returncode == 0, done.stderr
    assert "warn: the plugin a_broken_one" in done.stderr
    assert said in done.stderr
    assert "plugin-unloadable" in done.stderr
    assert "Traceback" not in done.stderr
    assert "LID.NC" in stranger.shop.on_card()


def test_it_never_takes_the_place_of_a_bundled_step(stranger: Stranger) -> None:
    stranger.install("zz_hive", STEPS.replace('"brand"', '"park"'))
    shown = stranger.run("transforms", "park")

    assert "headrace" in shown.stdout.splitlines()[0]
    assert "zz_hive" not in shown.stdout
    assert "`park` is offered by" in shown.stderr


def test_it_works_in_worker_processes(stranger: Stranger) -> None:
    stranger.install("hive_brand", STEPS)
    for at in range(4):
        stranger.shop.job(f"lid{at}.nc")
    done = stranger.run(
        "prepare", stranger.shop.recipe, stranger.shop.jobs,
        "--card", stranger.shop.card, "--jobs", "2",
    )  # fmt: skip

    assert done.returncode == 0, done.stderr
    files = {name for name in stranger.shop.on_card() if name.endswith(".NC")}
    assert files == {f"LID{at}.NC" for at in range(4)}


def test_python_is_the_one_of_the_tests(stranger: Stranger) -> None:
    """The folder is on the path of that process alone."""
    stranger.install("hive_brand", STEPS)

    assert str(stranger.folder) not in sys.path
    assert "hive_brand" not in sys.modules
