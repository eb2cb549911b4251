"""Run sheets from the command line: `headrace sheet`, and `headrace prepare --sheet`.

Outside references: hashlib, html.parser, and the FAT specification for names on the card.
"""

from __future__ import annotations

import hashlib
import json
import re
from dataclasses import fields
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from click.testing import Result
from workshop import LID, REFUSED, Workshop, set_up
from workshop.command import run

from headrace.card.run_sheet import read_mark
from headrace.report.schema import output_schema
from headrace.sheet.facts import Depth, FileFacts, Pause, Reach, ToolUse
from headrace.timing.times import Times

PREPARE = ("prepare", "recipes/plain.yaml", "jobs", "--card", "card")
SHEET = ("sheet", "recipes/plain.yaml", "jobs", "--card", "card", "--to")


@pytest.fixture
def hive(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Workshop:
    made = set_up(tmp_path / "hive")
    monkeypatch.chdir(made.root)
    made.job("lid.nc")
    return made


def document(*args: object) -> dict[str, Any]:
    result = run(*args, "--json")
    found: dict[str, Any] = json.loads(result.stdout)
    assert found["exit-code"] == result.exit_code
    return found


def told_of(result: Result) -> list[str]:
    """The names of the findings that were said."""
    return re.findall(r"\[HR\w\d{3} ([\w-]+)\]", result.stderr)


# --- prepare --sheet --------------------------------------------------------------------------


@pytest.mark.usefixtures("hive")
def test_the_run_says_where_its_sheet_is_and_how_long_files_take() -> None:
    plain = run(*PREPARE).stdout.splitlines()
    lines = run(*PREPARE, "--sheet", "lids.html").stdout.splitlines()

    assert plain[0] == "lid.nc -> LID.NC  written: 10 lines (1 added), 4 moves"
    assert re.fullmatch(
        r"lid\.nc -> LID\.NC  unchanged: 10 lines \(1 added\), 4 moves, (at least )?[\dhmins to]+",
        lines[0],
    )
    assert lines[1] == plain[1]
    assert lines[2] == "run sheet -> lids.html  written"
    again = run(*PREPARE, "--sheet", "lids.html").stdout.splitlines()
    assert again[2] == "run sheet -> lids.html  unchanged"
    assert run(*PREPARE, "--sheet", "lids.html", "--quiet").stdout == ""


@pytest.mark.usefixtures("hive")
def test_programs_are_told_too() -> None:
    assert document(*PREPARE)["sheet"] is None
    assert document(*PREPARE, "--sheet", "lids.html")["sheet"] == {
        "file": "lids.html",
        "fate": "written",
    }


@pytest.mark.parametrize(
    ("target", "kind"),
    [
        ("card/run sheet.html", "sheet-name-unfit"),
        ("card/lids.htm", "sheet-name-unfit"),
        ("card/SHEET.NC", "sheet-name-unfit"),
        ("nowhere/lids.html", "folder-missing"),
        ("jobs/lid.nc", "sheet-not-ours"),
        ("recipes/plain.yaml", "sheet-not-ours"),
        ("jobs", "sheet-not-ours"),
    ],
)
def test_a_sheet_that_cannot_go_there_stops_the_run(hive: Workshop, target: str, kind: str) -> None:
    before = {path: path.read_bytes() for path in hive.root.rglob("*") if path.is_file()}
    result = run(*PREPARE, "--sheet", target)
    assert result.exit_code == 5
    assert told_of(result) == [kind]
    assert result.stdout == ""
    assert {p: p.read_bytes() for p in hive.root.rglob("*") if p.is_file()} == before


def test_jobs_are_never_given_up_for_a_page(hive: Workshop) -> None:
    """A job in the folder whose name is that of the page."""
    hive.job("page.html", LID)
    result = run("prepare", "recipes/plain.yaml", "jobs/page.html", "--card", "card",
                 "--sheet", "jobs/page.html")  # fmt: skip
    assert result.exit_code == 5
    assert (hive.jobs / "page.html").read_text() == LID


# --- sheet ------------------------------------------------------------------------------------


def test_a_prepared_card_gets_its_sheet(hive: Workshop) -> None:
    run(*PREPARE)
    before = hive.on_card()
    result = run(*SHEET, "lids.html")

    assert result.exit_code == 0, result.output
    assert re.match(r"LID\.NC  .+, 0 pauses, from lid\.nc\n", result.stdout)
    assert result.stdout.endswith("run sheet -> lids.html  written\n")
    assert hive.on_card() == before
    mark = read_mark(hive.root / "lids.html")
    assert mark is not None
    assert mark.files["LID.NC"].sha256 == hashlib.sha256(before["LID.NC"]).hexdigest()


def test_both_ways_give_the_same_page(hive: Workshop) -> None:
    run(*PREPARE, "--sheet", "one.html")
    run(*SHEET, "other.html")
    assert (hive.root / "one.html").read_bytes() == (hive.root / "other.html").read_bytes()


def test_the_facts_are_told_to_programs(hive: Workshop) -> None:
    hive.job("bad.nc", REFUSED)
    run(*PREPARE)
    told = document(*SHEET, "lids.html")
    data = hive.on_card()["LID.NC"]

    assert told["exit-code"] == 1
    assert told["sheet"] == {"file": "lids.html", "fate": "written"}
    assert [(file["name"], file["fate"]) for file in told["files"]] == [
        ("bad.nc", "refused"),
        ("lid.nc", "fit"),
    ]
    assert [facts["name"] for facts in told["facts"]] == ["LID.NC"]
    facts = told["facts"][0]
    assert facts["content"] == {"sha256": hashlib.sha256(data).hexdigest(), "size": len(data)}
    assert facts["source"] == "lid.nc"
    # G1 Z-1 from Z5 at 300, then X40 at 900 from nobody knows where; so the way down counts alone
    assert facts["pauses"] == []
    assert facts["times"]["cutting"] >= 6 / 300 * 60
    assert json.dumps(told).isascii()


def test_another_card_gets_none(hive: Workshop) -> None:
    run(*PREPARE)
    (hive.card / "LID.NC").write_bytes(b"G0 X0\n")
    result = run(*SHEET, "lids.html")
    assert (result.exit_code, told_of(result)) == (
        5,
        ["card-file-damaged", "sheet-file-differs"][:1],
    )
    assert not (hive.root / "lids.html").exists()
    assert document(*SHEET, "lids.html")["format"] == "headrace-error/1"


@pytest.mark.usefixtures("hive")
def test_a_card_is_needed() -> None:
    result = run("sheet", "recipes/plain.yaml", "jobs", "--to", "lids.html")
    assert result.exit_code == 2
    assert "--card" in result.stderr
    assert run(*SHEET[:-1]).exit_code == 2
    assert run("sheet", "recipes/plain.yaml", "--card", "card", "--to", "x.html").exit_code == 2


def test_a_sheet_beside_the_files_is_kept_an_eye_on(hive: Workshop) -> None:
    run(*PREPARE, "--sheet", "card/SHEET.HTM")
    assert told_of(run(*PREPARE)) == []
    assert told_of(run("verify", "card")) == []
    hive.job("lid.nc", LID.replace("X40", "X50"))
    assert told_of(run(*PREPARE)) == ["sheet-outdated"]
    verified = run("verify", "card")
    assert told_of(verified) == ["sheet-outdated"]
    assert (verified.exit_code, verified.stdout.splitlines()[-1]) == (0, "ready")
    assert told_of(run(*SHEET, "card/SHEET.HTM")) == []
    assert told_of(run("verify", "card")) == []


def test_a_recipe_may_lower_that_too(hive: Workshop) -> None:
    run(*PREPARE, "--sheet", "card/SHEET.HTM")
    lower = "lower:\n  - finding: sheet-outdated\n    because: the page is for the shelf only\n"
    hive.recipe.write_text(hive.recipe.read_text() + lower)
    hive.job("lid.nc", LID.replace("X40", "X50"))
    result = run(*PREPARE)
    assert "note: SHEET.HTM on the card is not of LID.NC as it is now" in result.stderr
    assert "the page is for the shelf only" in result.stderr


HOSTILE = "(<script>alert(1)</script> --> & ]]> \x07 \u202eright to left)"


def test_hostile_texts_are_texts(hive: Workshop) -> None:
    """HTML, 13.2.5: none of them opens an element or a comment."""
    name = "lid <img src=x> & 'so' on.nc"
    hive.job(name, LID.replace("(hive lid)", HOSTILE).encode())
    result = run(*PREPARE, "--sheet", "lids.html")
    assert result.exit_code == 0, result.output

    class Parts(HTMLParser):
        def __init__(self) -> None:
            super().__init__()
            self.tags: list[str] = []
            self.comments: list[str] = []

        def handle_starttag(self, tag: str, attrs: Any) -> None:  # noqa: ARG002
            self.tags.append(tag)

        def handle_comment(self, data: str) -> None:
            self.comments.append(data)

    parts = Parts()
    page = (hive.root / "lids.html").read_text("utf-8")
    parts.feed(page)
    assert "img" not in parts.tags
    assert [comment.split()[0] for comment in parts.comments] == ["headrace-sheet/1"]
    assert "alert(1)" in page
    assert "<script>alert" not in page
    assert "\u202e" not in page
    assert "\x07" not in page


def test_no_fact_is_left_out_of_the_document() -> None:
    """What the page has and the document lacks is told elsewhere in it, or is a drawing."""
    elsewhere = {"lines", "moves", "proof", "findings", "drawings", "track"}
    told = output_schema("sheet")["$defs"]
    for kind, name, left in (
        (FileFacts, "facts", elsewhere),
        (Pause, "pause", set()),
        (ToolUse, "tool-use", set()),
        (Reach, "reach", set()),
        (Depth, "depth", set()),
        (Times, "times", set()),
    ):
        names = {field.name.replace("_", "-") for field in fields(kind)} - left
        assert names <= set(told[name]["properties"]), name
