"""Run sheets as files: known again, whole or not at all, and never in place of something else.

Outside references: hashlib, html.parser, and for calls of the system that fail the man pages.
"""

from __future__ import annotations

import errno
import hashlib
import os
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from workshop.handing import CALLS, counted, entry_of, hand_over, killed_at, no_flags

from headrace.card import exchange
from headrace.card.delivery import Fate
from headrace.card.manifest import Manifest
from headrace.card.names import fitting, is_card_name
from headrace.card.run_sheet import mark_of, marked, need_fit, put_sheet, read_mark, sheet_findings
from headrace.card.verification import verify_card
from headrace.card.writing import Content, remove_leftovers
from headrace.errors import CardError
from headrace.machine import Card

LID, FRAME = b"G1 X1\n", b"G1 Y1\n"
FILES = {"LID.NC": Content.of(LID), "FRAME.NC": Content.of(FRAME)}
PAGE = b"<!doctype html><html><title>Lids</title><p>Clamps on.</p></html>\n"
SHORT = Card("short", "NC")


def names_of(findings: Any) -> list[str]:
    return [finding.name for finding in findings]


# --- the mark ---------------------------------------------------------------------------------


def test_a_mark_tells_what_the_page_is_of() -> None:
    mark = mark_of(marked(PAGE, FILES))
    assert mark is not None
    assert mark.whole
    assert {name: (held.sha256, held.size) for name, held in mark.files.items()} == {
        "LID.NC": (hashlib.sha256(LID).hexdigest(), len(LID)),
        "FRAME.NC": (hashlib.sha256(FRAME).hexdigest(), len(FRAME)),
    }


def test_the_mark_is_a_comment_behind_the_page() -> None:
    """HTML, 13.1.6: a comment; nothing that is shown comes in."""

    class Parts(HTMLParser):
        def __init__(self) -> None:
            super().__init__()
            self.told: list[tuple[str, str]] = []

        def handle_comment(self, data: str) -> None:
            self.told.append(("comment", data))

        def handle_data(self, data: str) -> None:
            self.told.append(("text", data.strip()))

        def handle_starttag(self, tag: str, attrs: Any) -> None:
            self.told.append((tag, str(attrs)))

    plain, more = Parts(), Parts()
    plain.feed(PAGE.decode())
    more.feed(marked(PAGE, {**FILES, "A--!-_.NC": Content.of(b"")}).decode())
    comments = [data for kind, data in more.told if kind == "comment"]
    assert len(comments) == 1
    assert comments[0].startswith(" headrace-sheet/1 ")
    assert [part for part in more.told if part[0] != "comment" and part[1]] == [
        part for part in plain.told if part[1]
    ]


@given(st.data())
def test_no_changed_byte_goes_unnoticed(data: st.DataObject) -> None:
    whole = bytearray(marked(PAGE, FILES))
    at = data.draw(st.integers(0, len(whole) - 1))
    whole[at] ^= data.draw(st.integers(1, 255))
    mark = mark_of(bytes(whole))
    assert mark is None or not mark.whole


@given(st.binary(min_size=1, max_size=40))
def test_nor_what_is_put_behind_or_before_it(more: bytes) -> None:
    for changed in (marked(PAGE, FILES) + more, more + marked(PAGE, FILES)):
        mark = mark_of(changed)
        assert mark is None or not mark.whole


@pytest.mark.parametrize(
    "data", [b"", PAGE, b"<!-- headrace-sheet/1", b"\n<!-- headrace-sheet/1  -->\n", b"\xff" * 99]
)
def test_other_files_have_none(data: bytes) -> None:
    assert mark_of(data) is None


# --- writing ----------------------------------------------------------------------------------


def test_written_replaced_and_left_alone(tmp_path: Path) -> None:
    target = tmp_path / "lids.html"
    assert put_sheet(target, PAGE, FILES) is Fate.WRITTEN
    before = target.stat()
    assert put_sheet(target, PAGE, FILES) is Fate.UNCHANGED
    assert target.stat().st_mtime_ns == before.st_mtime_ns
    assert put_sheet(target, PAGE + b"<p>\n", FILES) is Fate.REPLACED
    assert target.read_bytes() == marked(PAGE + b"<p>\n", FILES)
    assert [path.name for path in tmp_path.iterdir()] == ["lids.html"]


def test_also_where_names_cannot_change_places(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(exchange, "renamed", no_flags)
    test_written_replaced_and_left_alone(tmp_path)


def _foreign(path: Path) -> None:
    path.write_bytes(PAGE)


def _noted(path: Path) -> None:
    path.write_bytes(marked(PAGE, FILES).replace(b"on.", b"on!"))


def _link(path: Path) -> None:
    (path.parent / "away.html").write_bytes(marked(PAGE, FILES))
    path.symlink_to("away.html")


def _dangling(path: Path) -> None:
    path.symlink_to("nowhere.html")


def _folder(path: Path) -> None:
    path.mkdir()


def _empty(path: Path) -> None:
    path.touch()


@pytest.mark.parametrize("lay", [_foreign, _noted, _link, _dangling, _folder, _empty])
def test_nothing_else_is_ever_replaced(tmp_path: Path, lay: Any) -> None:
    target = tmp_path / "lids.html"
    lay(target)
    before = {path: (path.lstat().st_ino, path.lstat().st_size) for path in tmp_path.iterdir()}
    for write in (
        lambda: need_fit(target, tmp_path / "card", SHORT),
        lambda: put_sheet(target, PAGE, FILES),
    ):
        with pytest.raises(CardError) as refused:
            write()
        wanted = ["sheet-altered"] if lay is _noted else ["sheet-not-ours"]
        assert names_of(refused.value.findings) == wanted
    after = {path: (path.lstat().st_ino, path.lstat().st_size) for path in tmp_path.iterdir()}
    assert after == before


@pytest.mark.parametrize("plain", [False, True], ids=["names change places", "they cannot"])
@pytest.mark.parametrize("call", CALLS)
def test_whatever_call_fails_the_old_page_or_the_new_one_is_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, call: str, plain: bool
) -> None:
    """Each call of a kind in turn fails as on a disk that is broken (EIO)."""
    if plain:
        monkeypatch.setattr(exchange, "renamed", no_flags)
    old, new = marked(PAGE, FILES), marked(PAGE + b"<p>\n", FILES)
    for failing in range(1, 40):
        folder = tmp_path / str(failing)
        folder.mkdir()
        target = folder / "lids.html"
        target.write_bytes(old)
        calls = 0

        def broken(number: int, failing: int = failing) -> None:
            nonlocal calls
            calls = number
            if number == failing:
                raise OSError(errno.EIO, os.strerror(errno.EIO))

        with monkeypatch.context() as patch:
            patch.setattr(*counted(call, broken))
            try:
                put_sheet(target, PAGE + b"<p>\n", FILES)
                done = True
            except CardError:
                done = False
        assert target.read_bytes() in ((new,) if done else (old, new)), (call, failing)
        names = {path.name for path in folder.iterdir()} - {"lids.html"}
        assert names <= {"HR_PAGE.HRT"}, (call, failing)
        if calls < failing:
            break
    else:
        pytest.fail("it never came to an end")


@pytest.mark.filterwarnings("ignore::DeprecationWarning")  # of os.fork beside threads
@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs processes that can be killed")
@pytest.mark.parametrize("call", CALLS)
def test_a_run_that_is_killed_leaves_the_old_page_or_the_new_one(tmp_path: Path, call: str) -> None:
    """signal(7): nothing of a process goes on behind SIGKILL. At each call of a kind in turn."""
    new = PAGE + b"<p>\n"
    for point in range(1, 40):
        folder = tmp_path / str(point)
        folder.mkdir()
        target = folder / "lids.html"
        put_sheet(target, PAGE, FILES)
        child = os.fork()
        if child == 0:
            setattr(*counted(call, killed_at(point)))
            put_sheet(target, new, FILES)
            os._exit(0)
        _, status = os.waitpid(child, 0)
        killed = os.WIFSIGNALED(status)
        assert target.read_bytes() in (marked(PAGE, FILES), marked(new, FILES)), (call, point)
        assert put_sheet(target, new, FILES) in (Fate.REPLACED, Fate.UNCHANGED)
        remove_leftovers(folder)
        assert [path.name for path in folder.iterdir()] == ["lids.html"]
        if not killed:
            return
    pytest.fail("it never came to an end")


def test_what_was_left_is_taken_away_by_the_next_run(tmp_path: Path) -> None:
    (tmp_path / "HR_PAGE.HRT").write_bytes(PAGE)
    assert remove_leftovers(tmp_path) == ["HR_PAGE.HRT"]


# --- names ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "fits"),
    [
        ("SHEET.HTM", "SHEET.HTM"),
        ("sheet.html", "SHEET.HTM"),
        ("run sheet of today.html", "RUN_SHEE.HTM"),
        ("LID.NC", "LID.HTM"),
        ("SHEET", "JOB.HTM"),
        ("NUL.HTM", "NUL_.HTM"),
    ],
)
def test_short_names_are_eight_and_three_characters(name: str, fits: str) -> None:
    """FAT32 File System Specification 1.03, "FAT Directory Structure": 8 and 3."""
    found = fitting(name, SHORT)
    assert len(found.partition(".")[0]) <= 8
    assert len(found.partition(".")[2]) <= 3
    if name != "SHEET":
        assert found == fits
    assert fitting(found, SHORT) == found, "what is proposed fits"


@given(st.text(max_size=90), st.sampled_from(["short", "long"]))
def test_what_is_proposed_fits(name: str, names: str) -> None:
    rules = Card(names, "NC")
    found = fitting(name, rules)
    assert is_card_name(found)
    assert fitting(found, rules) == found
    assert not found.casefold().endswith((".nc", ".hrt", ".json"))


def test_long_names_stay_as_they_are() -> None:
    assert fitting("run-sheet_of_today.html", Card("long", "NC")) == "run-sheet_of_today.html"


def test_a_name_that_does_not_fit_is_refused_in_the_card_folder_only(tmp_path: Path) -> None:
    card = tmp_path / "card"
    card.mkdir()
    need_fit(tmp_path / "run sheet.html", card, SHORT)
    need_fit(card / "SHEET.HTM", card, SHORT)
    with pytest.raises(CardError) as refused:
        need_fit(card / "sheet.html", card, SHORT)
    assert names_of(refused.value.findings) == ["sheet-name-unfit"]
    assert "call it SHEET.HTM" in refused.value.findings[0].remedy
    with pytest.raises(CardError) as refused:
        need_fit(tmp_path / "none" / "sheet.html", card, SHORT)
    assert names_of(refused.value.findings) == ["folder-missing"]


@pytest.mark.parametrize("name", ["page", "lids.nc", "lids.yaml", "-"])
def test_a_page_is_never_called_as_a_job_is(tmp_path: Path, name: str) -> None:
    """Outside the card folder too: in a folder of jobs it would be taken for one."""
    for folder in (tmp_path / "card", tmp_path / "jobs"):
        folder.mkdir()
        with pytest.raises(CardError) as refused:
            need_fit(folder / name, tmp_path / "card", SHORT)
        assert names_of(refused.value.findings) == ["sheet-name-unfit"]
    assert refused.value.findings[0].remedy == f"call it {name.split('.')[0]}.html"


# --- beside the card's files ------------------------------------------------------------------


def told(tmp_path: Path, listed: dict[str, bytes], page: dict[str, bytes]) -> list[str]:
    """What is said of a page of some files, where the list names others."""
    put_sheet(tmp_path / "SHEET.HTM", PAGE, {n: Content.of(data) for n, data in page.items()})
    entries = tuple(entry_of(name, data) for name, data in listed.items())
    found = sheet_findings(tmp_path, ["SHEET.HTM"], Manifest(entries, tuple(listed)))
    assert {finding.name for finding in found} <= {"sheet-outdated"}
    found = sheet_findings(tmp_path, ["SHEET.HTM"], Manifest(entries, tuple(listed)))
    return [finding.what for finding in found]


def test_a_page_is_outdated_where_files_are_others(tmp_path: Path) -> None:
    both = {"LID.NC": LID, "FRAME.NC": FRAME}
    lead = "SHEET.HTM on the card"
    assert told(tmp_path, both, both) == []
    assert told(tmp_path, {**both, "LID.NC": b"M2\n"}, both) == [
        f"{lead} is not of LID.NC as it is now"
    ]
    assert told(tmp_path, {"LID.NC": LID}, both) == [f"{lead} tells of FRAME.NC, which is gone"]
    assert told(tmp_path, both, {"LID.NC": LID}) == [f"{lead} does not tell of FRAME.NC"]
    assert told(tmp_path, {"RIM.NC": LID}, both) == [
        f"{lead} tells of LID.NC, FRAME.NC, which are gone and does not tell of RIM.NC"
    ]


def test_verifying_knows_run_sheets(tmp_path: Path) -> None:
    hand_over(tmp_path, {"LID.NC": LID, "FRAME.NC": FRAME})
    page = tmp_path / "SHEET.HTM"
    put_sheet(page, PAGE, FILES)
    verified = verify_card(tmp_path)
    assert (verified.ready, verified.findings, verified.strangers) == (True, (), ())

    page.write_bytes(page.read_bytes().replace(b"on.", b"on!"))
    verified = verify_card(tmp_path)
    assert names_of(verified.findings) == ["sheet-altered"]
    assert verified.ready, "the machine runs the same files"
    assert verified.strangers == ()

    page.write_bytes(PAGE)
    verified = verify_card(tmp_path)
    assert names_of(verified.findings) == ["card-stranger"]

    page.unlink()
    put_sheet(page, PAGE, {"LID.NC": Content.of(b"other")})
    verified = verify_card(tmp_path)
    assert names_of(verified.findings) == ["sheet-outdated"]
    assert verified.ready


def test_a_run_sheet_under_a_jobs_name_is_told_as_what_it_is(tmp_path: Path) -> None:
    """Whatever it holds, the machine would list it."""
    hand_over(tmp_path, {"LID.NC": LID})
    put_sheet(tmp_path / "SHEET.HTM", PAGE, {"LID.NC": Content.of(LID)})
    (tmp_path / "SHEET.HTM").rename(tmp_path / "SHEET.NC")
    verified = verify_card(tmp_path)
    assert names_of(verified.findings) == ["card-stranger"]
    assert [stranger.listed for stranger in verified.strangers] == [True]


def test_a_page_too_large_to_be_one_is_none(tmp_path: Path) -> None:
    path = tmp_path / "large.html"
    with path.open("wb") as file:
        file.truncate((1 << 28) + 1)
    assert read_mark(path) is None
