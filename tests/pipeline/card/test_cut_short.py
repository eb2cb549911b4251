"""A run that is cut short anywhere leaves whole files only, and the next run finishes the work."""

from __future__ import annotations

import errno
import os
import subprocess
import sys
from pathlib import Path

import pytest
from workshop import handing
from workshop.handing import CALLS, NEW, OLD, counted, hand_over, no_flags

from headrace.card import exchange
from headrace.card.manifest import read_manifest
from headrace.card.writing import Content
from headrace.errors import CardError

FOREIGN = b"of another program\n"


@pytest.fixture(params=["exchange", "plain"], ids=["names change places", "plain renames"])
def way(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> str:
    """Whether the file system lets names change places. Without that a file that is being replaced
    may lack its name for a moment, which the next run gives back."""
    if request.param == "plain":
        monkeypatch.setattr(exchange, "renamed", no_flags)
    return str(request.param)


def assert_whole(card: Path, way: str = "exchange") -> None:
    """Every file that a machine could list is an old one or a new one, and nothing is missing."""
    for path in card.iterdir():
        if path.suffix == ".HRT" or path.name in ("HEADRACE.JSON", "NOTES.TXT"):
            continue
        assert path.read_bytes() in (OLD.get(path.name), NEW[path.name]), path
    wanted = {"LID.NC", "FRAME.NC", "HEADRACE.JSON"}
    missing = wanted - {path.name for path in card.iterdir()}
    assert len(missing) <= (way == "plain"), missing
    if "HEADRACE.JSON" not in missing:
        read_manifest(card / "HEADRACE.JSON")
    assert (card / "NOTES.TXT").read_bytes() == FOREIGN


def assert_finished(card: Path) -> None:
    """The card is as after a run that nothing disturbed."""
    left = {path.name: path.read_bytes() for path in card.iterdir()}
    listed = read_manifest(card / "HEADRACE.JSON")
    assert {entry.name: entry.content for entry in listed.entries} == {
        name: Content.of(data) for name, data in NEW.items()
    }
    del left["HEADRACE.JSON"]
    assert left == {**NEW, "NOTES.TXT": FOREIGN}


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs processes that fork")
def test_killed_at_every_call(tmp_path: Path, way: str) -> None:
    script = Path(handing.__file__)
    subprocess.run([sys.executable, script, tmp_path, way], check=True, timeout=100)
    cards = sorted(tmp_path.iterdir())
    assert len(cards) > 50
    for card in cards:
        assert_whole(card, way)
        hand_over(card, NEW)
        assert_finished(card)


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs processes that fork")
def test_killed_and_then_given_other_files(tmp_path: Path, way: str) -> None:
    """What a killed run has given its name counts as headrace's own, so it may be replaced."""
    script = Path(handing.__file__)
    subprocess.run([sys.executable, script, tmp_path, way], check=True, timeout=100)
    third = {"LID.NC": b"G1 X3\n", "FLOOR.NC": b"G1 Z3\n"}
    for card in sorted(tmp_path.iterdir()):
        hand_over(card, third)
        assert {name: (card / name).read_bytes() for name in third} == third


@pytest.mark.parametrize("for_ever", [False, True], ids=["once", "from then on"])
@pytest.mark.parametrize("fault", [errno.ENOSPC, errno.EIO, errno.EROFS, errno.EINTR])
@pytest.mark.parametrize("call", CALLS)
def test_each_call_that_fails(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    way: str,
    call: str,
    fault: int,
    for_ever: bool,
) -> None:
    point = 1
    while True:
        card = tmp_path / f"card-{point}"
        card.mkdir()
        hand_over(card, OLD)
        (card / "NOTES.TXT").write_bytes(FOREIGN)
        failed = False

        def act(number: int, point: int = point) -> None:
            nonlocal failed
            if number == point or (for_ever and number > point):
                failed = True
                raise OSError(fault, os.strerror(fault))

        said = None
        with monkeypatch.context() as patch:
            patch.setattr(*counted(call, act))
            try:
                hand_over(card, NEW)
            except CardError as error:
                said = error
        assert_whole(card, way)
        if said is not None:
            assert all(finding.what and finding.remedy for finding in said.findings)
        hand_over(card, NEW)
        assert_finished(card)
        if not failed:
            break
        point += 1
    assert point > 1 or (call == "rename" and way == "exchange")


def test_a_write_that_takes_only_some_bytes_goes_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    original = os.write
    monkeypatch.setattr(os, "write", lambda descriptor, data: original(descriptor, data[:7]))
    hand_over(tmp_path, OLD)
    assert (tmp_path / "LID.NC").read_bytes() == OLD["LID.NC"]


def test_a_card_that_gives_back_other_bytes_is_found_out(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    original = os.write
    monkeypatch.setattr(
        os, "write", lambda descriptor, data: original(descriptor, bytes(data).replace(b"1", b"7"))
    )
    with pytest.raises(CardError) as caught:
        hand_over(tmp_path, OLD)
    assert caught.value.findings[0].name == "card-differs"
    assert list(tmp_path.iterdir()) == []


def test_a_failure_after_the_first_name_says_which_files_are_new(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    hand_over(tmp_path, OLD)

    def act(number: int) -> None:
        if number == 2:
            raise OSError(errno.EIO, "broken")

    with monkeypatch.context() as patch:
        patch.setattr(*counted("renamed", act))
        with pytest.raises(CardError) as caught:
            hand_over(tmp_path, NEW)
    assert [finding.name for finding in caught.value.findings] == [
        "card-unwritable",
        "card-unfinished",
    ]
    assert caught.value.findings[1].what == "1 of 2 files are new on the card: LID.NC"
    assert not list(tmp_path.glob("*.HRT"))
    listed = read_manifest(tmp_path / "HEADRACE.JSON").get("LID.NC")
    assert listed is not None
    assert listed.content == Content.of(NEW["LID.NC"])
