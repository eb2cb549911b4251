"""A timed run put into a machine file: against PyYAML, and byte by byte."""

from __future__ import annotations

import re
import stat
from pathlib import Path

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st
from workshop import MACHINE

from headrace import whole_file
from headrace.errors import RecipeError
from headrace.machine import TimedRun
from headrace.timing.entry import with_run
from headrace.timing.exchanging import exchange

RECIPES = Path(__file__).parents[3] / "recipes"
MACHINES = sorted((RECIPES / "machines").glob("*.yaml"))
RUN = TimedRun(1.076, 632.2, 680.0, "lid.nc")
SAID = {"factor": 1.076, "planned": 632.2, "took": 680, "job": "lid.nc"}
HERE = Path("machine.yaml")


def put(text: str, run: TimedRun = RUN) -> str:
    return with_run(text.encode(), run, HERE).decode()


@pytest.mark.parametrize("path", MACHINES, ids=lambda path: path.stem)
def test_every_other_byte_stays(path: Path) -> None:
    before = path.read_bytes()
    once = with_run(before, RUN, path)
    again = with_run(once, TimedRun(2.0, 100.5, 200.25, "frame.nc"), path)

    assert once.startswith(before)
    assert yaml.safe_load(once) == {**yaml.safe_load(before), "timing": SAID}
    assert again.startswith(before)
    assert yaml.safe_load(again)["timing"] == {
        "factor": 2,
        "planned": 100.5,
        "took": 200.25,
        "job": "frame.nc",
    }
    assert len(again.splitlines()) == len(once.splitlines())
    assert with_run(once, RUN, path) == once


@pytest.mark.parametrize(
    "text",
    [
        MACHINE,
        MACHINE.rstrip("\n"),
        MACHINE + "# the last word\n",
        MACHINE + "\n\n\n",
        MACHINE + "...\n",
        MACHINE + "...\n# behind it\n",
        "---\n" + MACHINE,
        "# Bees\n\n" + MACHINE,
        "\ufeff" + MACHINE,
        MACHINE.replace("\n", "\r\n"),
        "".join(f"  {line}" for line in MACHINE.splitlines(keepends=True)),
    ],
)
def test_wherever_a_file_ends(text: str) -> None:
    made = put(text)
    taken_out = re.sub(r"(?m)^ *(# How a run with a watch|timing:).*\r?\n", "", made)

    assert yaml.safe_load(made) == {**yaml.safe_load(text), "timing": SAID}
    assert "".join(taken_out.split()) == "".join(text.split())
    for line in text.splitlines():
        assert line in made
    if "\r\n" in text:
        assert made.count("\n") == made.count("\r\n")


OLD = """\
timing:   # by the kitchen clock
  job: 'handhold.nc'      # four of them
  # the feed was at 100 %

  took: 300
  factor: 1.20   # so much
  planned: 250.0
nut: 22
"""


def test_values_that_are_there_give_way_and_nothing_else() -> None:
    text = MACHINE + OLD
    made = put(text)

    assert yaml.safe_load(made)["timing"] == SAID
    assert made == text.replace("'handhold.nc'", '"lid.nc"').replace(
        "took: 300", "took: 680"
    ).replace("1.20 ", "1.076 ").replace("250.0", "632.2")


@pytest.mark.parametrize("behind", ["  took: 300\n", "  took: 300\nnut: 22\n", ""])
def test_a_name_in_lines_of_its_own_gives_way_and_no_more(behind: str) -> None:
    old = "timing:\n  factor: 1.2\n  planned: 250.0\n"
    old += "" if behind else "  took: 300\n"
    old += f"  job: |\n    hand\n    hold\n{behind}"
    made = put(MACHINE + old)

    assert made.endswith("\n")
    assert yaml.safe_load(made)["timing"] == SAID
    assert len(made.splitlines()) == len((MACHINE + old).splitlines()) - 2


PRINTED = st.characters(min_codepoint=32, max_codepoint=126)


@settings(max_examples=80)
@given(
    st.floats(0.1, 4.0),
    st.floats(60, 1e5),
    st.floats(60, 1e5),
    st.text(PRINTED, min_size=1, max_size=40),
)
def test_whatever_it_says_is_read_as_it_was_meant(
    factor: float, planned: float, took: float, name: str
) -> None:
    run = TimedRun(round(factor, 3), round(planned, 1), round(took, 2), name)
    for text in (MACHINE, MACHINE + OLD):
        assert yaml.safe_load(put(text, run))["timing"] == {
            "factor": run.factor,
            "planned": run.planned,
            "took": run.took,
            "job": name,
        }


@pytest.mark.parametrize("name", ["Bienenkörbe.nc", "蜂.nc", "bee\u202e.nc", "bees\u0085.nc"])
def test_a_name_of_other_letters_is_put_in_or_refused(name: str) -> None:
    """Characters that nobody sees are refused in machine files."""
    run = TimedRun(1.1, 600.0, 660.0, name)
    if name.isprintable():
        assert yaml.safe_load(put(MACHINE, run))["timing"]["job"] == name
    else:
        with pytest.raises(RecipeError):
            put(MACHINE, run)


@pytest.mark.parametrize("text", ["{format: headrace-machine/1, name: Bees}\n", "{a: 1,\n b: 2}"])
def test_a_file_in_braces_is_refused(text: str) -> None:
    with pytest.raises(RecipeError) as caught:
        put(text)

    finding = caught.value.findings[0]
    assert finding.name == "timing-unplaced"
    assert finding.remedy is not None
    assert 'timing: {factor: 1.076, planned: 632.2, took: 680, job: "lid.nc"}' in finding.remedy


def test_the_whole_file_or_the_old_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "machine.yaml"
    path.write_bytes(b"old")
    path.chmod(0o640)

    def full(_descriptor: int) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr(whole_file.os, "fsync", full)
        with pytest.raises(RecipeError) as caught:
            exchange(path, b"old", b"new")
    assert "No space left" in caught.value.findings[0].what
    with pytest.raises(RecipeError) as caught:
        exchange(path, b"older", b"new")
    assert "changed meanwhile" in caught.value.findings[0].what
    assert path.read_bytes() == b"old"
    exchange(path, b"old", b"new")

    assert path.read_bytes() == b"new"
    assert stat.S_IMODE(path.stat().st_mode) == 0o640
    assert [each.name for each in tmp_path.iterdir()] == ["machine.yaml"]


def test_a_file_that_is_write_protected_stays(tmp_path: Path) -> None:
    """Whoever may make files in the folder could give it other bytes all the same."""
    path = tmp_path / "machine.yaml"
    path.write_bytes(b"old")
    path.chmod(0o444)
    with pytest.raises(RecipeError) as caught:
        exchange(path, b"old", b"new")
    assert caught.value.findings[0].name == "machine-file-kept"
    assert "it is write-protected" in caught.value.findings[0].what
    assert path.read_bytes() == b"old"
    assert [each.name for each in tmp_path.iterdir()] == ["machine.yaml"]


def test_a_link_still_leads_to_the_file(tmp_path: Path) -> None:
    path, link = tmp_path / "machine.yaml", tmp_path / "mine.yaml"
    path.write_bytes(b"old")
    link.symlink_to(path)

    exchange(link, b"old", b"new")

    assert link.is_symlink()
    assert path.read_bytes() == b"new"
