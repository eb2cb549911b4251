"""Verifying a card: whatever is not as written is found, named rightly, and left as it is.

Outside references: the contents are told by hashlib's SHA-256 of the bytes as they stand on disk,
and locks are those of flock(2), Linux man-pages.
"""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Callable
from hashlib import sha256
from pathlib import Path

import pytest
from workshop import set_up
from workshop.handing import NEW, OLD, hand_over

from headrace.card import verification
from headrace.card.checked import State
from headrace.card.folder import card_folder
from headrace.card.manifest import Manifest
from headrace.card.verification import Verified, verify_card
from headrace.card.writing import Content, stage, staged_path
from headrace.errors import CardError

LISTED = "HEADRACE.JSON"


@pytest.fixture
def card(tmp_path: Path) -> Path:
    """A card with the files of `NEW`, in that run order."""
    folder = tmp_path / "card"
    folder.mkdir()
    hand_over(folder, NEW)
    return folder


def looked_at(card: Path, against: Path | None = None) -> Verified:
    """What is found, when nothing is touched by looking: no byte, no name, no time of a file."""

    def everything() -> dict[str, tuple[int, int, str]]:
        return {
            path.name: (
                path.lstat().st_ino,
                path.lstat().st_mtime_ns,
                sha256(path.read_bytes()).hexdigest() if path.is_file() else "",
            )
            for path in card.iterdir()
        }

    before = everything()
    verified = verify_card(card, against)
    assert everything() == before
    return verified


def states(verified: Verified) -> dict[str, State]:
    return {file.name: file.state for file in verified.files}


def kinds(verified: Verified) -> list[str]:
    return [finding.name for finding in verified.findings]


def damaged(verified: Verified, name: str, state: State) -> bool:
    """Whether this file alone is told, as that."""
    wanted = dict.fromkeys(NEW, State.AS_WRITTEN) | {name: state}
    return states(verified) == wanted and verified.exit_code == 5 and not verified.ready


def test_a_card_as_written_is_ready_and_told_in_run_order(card: Path) -> None:
    verified = looked_at(card)
    assert [file.name for file in verified.files] == list(NEW)
    assert set(states(verified).values()) == {State.AS_WRITTEN}
    assert (verified.ready, verified.exit_code, verified.findings) == (True, 0, ())


def test_files_of_earlier_runs_come_behind_those_of_the_last(card: Path) -> None:
    hand_over(card, {"ROOF.NC": b"G1 X7\n", "ENTRY.NC": b"G1 X8\n"})
    names = [file.name for file in looked_at(card).files]
    assert names == ["ROOF.NC", "ENTRY.NC", *sorted(NEW)]


def changed_bit(data: bytes) -> bytes:
    return data[:100] + bytes([data[100] ^ 1]) + data[101:]


@pytest.mark.parametrize(
    ("change", "state"),
    [
        (changed_bit, State.CHANGED),
        (lambda data: data[:512], State.SHORTER),
        (lambda _data: b"", State.SHORTER),
        (lambda data: data + b"\n", State.LONGER),
        (lambda data: data.replace(b"\n", b"\r\n"), State.LONGER),
        (lambda data: bytes(len(data)), State.CHANGED),
    ],
    ids=["bit", "cut", "empty", "line", "line ends", "zeros"],
)
def test_changed_bytes_are_found(
    card: Path, change: Callable[[bytes], bytes], state: State
) -> None:
    (card / "LID.NC").write_bytes(change(NEW["LID.NC"]))
    verified = looked_at(card)
    assert damaged(verified, "LID.NC", state)
    assert kinds(verified) == ["card-file-damaged"]
    assert "prepare lid.nc by " in verified.findings[0].remedy
    assert verified.files[0].content == Content.of(change(NEW["LID.NC"]))


def test_swapped_files_are_told_as_such_and_once(card: Path) -> None:
    (card / "LID.NC").rename(card / "X")
    (card / "FLOOR.NC").rename(card / "LID.NC")
    (card / "X").rename(card / "FLOOR.NC")
    verified = looked_at(card)
    assert states(verified) == {
        "LID.NC": State.SWAPPED,
        "FRAME.NC": State.AS_WRITTEN,
        "FLOOR.NC": State.SWAPPED,
    }
    assert [finding.what for finding in verified.findings] == ["LID.NC and FLOOR.NC are swapped"]
    assert verified.exit_code == 5


def test_three_files_in_a_ring_are_each_told(card: Path) -> None:
    for name, data in zip(NEW, [*list(NEW.values())[1:], NEW["LID.NC"]], strict=True):
        (card / name).write_bytes(data)
    verified = looked_at(card)
    assert [finding.what for finding in verified.findings] == [
        "LID.NC on the card holds the bytes of FRAME.NC",
        "FRAME.NC on the card holds the bytes of FLOOR.NC",
        "FLOOR.NC on the card holds the bytes of LID.NC",
    ]


def test_a_file_written_over_another_is_told_as_such(card: Path) -> None:
    shutil.copy(card / "FRAME.NC", card / "LID.NC")
    verified = looked_at(card)
    assert damaged(verified, "LID.NC", State.MIXED_UP)
    assert verified.files[0].others == ("FRAME.NC",)
    assert kinds(verified) == ["card-files-mixed-up"]


def test_files_of_equal_bytes_are_not_mixed_up(tmp_path: Path) -> None:
    same = {"LID.NC": b"G1 X1\n", "ROOF.NC": b"G1 X1\n"}
    hand_over(tmp_path, same)
    assert looked_at(tmp_path).ready
    (tmp_path / "LID.NC").write_bytes(b"G1 X2\n")
    assert states(looked_at(tmp_path)) == {"LID.NC": State.CHANGED, "ROOF.NC": State.AS_WRITTEN}


def test_a_missing_file_is_found(card: Path) -> None:
    (card / "LID.NC").unlink()
    verified = looked_at(card)
    assert damaged(verified, "LID.NC", State.MISSING)
    assert kinds(verified) == ["card-file-missing"]


@pytest.mark.parametrize("name", ["LID1.NC", "LID.BAK"])
def test_a_renamed_file_is_found_under_its_other_name(card: Path, name: str) -> None:
    (card / "LID.NC").rename(card / name)
    verified = looked_at(card)
    assert damaged(verified, "LID.NC", State.RENAMED)
    assert verified.files[0].others == (name,)
    assert verified.strangers == ()
    assert verified.findings[0].what == f"LID.NC stands on the card as {name}"


def test_a_name_in_other_capitals_is_a_warning(card: Path) -> None:
    (card / "LID.NC").rename(card / "lid.nc")
    (card / LISTED).rename(card / LISTED.lower())
    verified = looked_at(card)
    assert verified.ready
    assert verified.files[0].found == "lid.nc"
    assert [finding.what for finding in verified.findings] == [
        "LID.NC stands on the card as lid.nc",
        "HEADRACE.JSON stands on the card as headrace.json",
    ]


def test_a_twin_in_other_capitals_is_a_warning(card: Path) -> None:
    (card / "lid.nc").write_bytes(b"G1 X9\n")
    if (card / "LID.NC").read_bytes() != NEW["LID.NC"]:
        pytest.skip("capitals do not count in this file system")
    verified = looked_at(card)
    assert (verified.ready, kinds(verified)) == (True, ["card-name-capitals"])
    assert verified.strangers[0].twin_of == "LID.NC"


def test_strangers_are_told_and_do_not_count(card: Path) -> None:
    (card / "NOTES.TXT").write_bytes(b"bees")
    (card / "._LID.NC").write_bytes(b"\x00\x05")
    (card / "FOLDER.NC").mkdir()
    shutil.copy(card / "LID.NC", card / "LID2.NC")
    shutil.copy(card / "LID.NC", card / "LID.BAK")
    verified = looked_at(card)
    assert verified.exit_code == 0
    assert [(finding.what, str(finding.severity)) for finding in verified.findings] == [
        ("LID.BAK on the card is a copy of LID.NC", "note"),
        ("LID2.NC on the card is a copy of LID.NC", "warn"),
        ("not on the list of the card: ._LID.NC", "warn"),
        ("not on the list of the card: FOLDER.NC, NOTES.TXT", "note"),
    ]


def test_what_is_no_plain_file_is_not_read(card: Path) -> None:
    (card / "LID.NC").rename(card.parent / "elsewhere")
    (card / "LID.NC").symlink_to(card.parent / "elsewhere")
    (card / "FLOOR.NC").unlink()
    os.mkfifo(card / "FLOOR.NC")  # reading it would wait for ever
    verified = looked_at(card)
    assert states(verified) == {
        "LID.NC": State.NO_FILE,
        "FRAME.NC": State.AS_WRITTEN,
        "FLOOR.NC": State.NO_FILE,
    }


def test_a_file_that_cannot_be_read_does_not_end_the_look(
    card: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    original = verification.content_of

    def content_of(path: Path) -> Content:
        if path.name == "LID.NC":
            raise OSError(5, "Input/output error")
        return original(path)

    monkeypatch.setattr(verification, "content_of", content_of)
    verified = looked_at(card)
    assert damaged(verified, "LID.NC", State.UNREADABLE)
    assert kinds(verified) == ["card-file-unreadable"]


# --- runs that were cut short -----------------------------------------------------------------


def test_leftovers_are_named_and_left(card: Path) -> None:
    (card / "HR000001.HRT").write_bytes(b"half")
    verified = looked_at(card)
    assert set(states(verified).values()) == {State.AS_WRITTEN}
    assert (kinds(verified), verified.unfinished) == (["card-run-cut-short"], ("HR000001.HRT",))
    assert verified.exit_code == 5


def test_files_that_are_ahead_of_the_list_are_told_as_such(tmp_path: Path) -> None:
    """As between the names and the list: the bytes are new, the list is old, the intended one is
    there still."""
    hand_over(tmp_path, OLD)
    old = (tmp_path / LISTED).read_bytes()
    hand_over(tmp_path, NEW)
    (tmp_path / LISTED).rename(tmp_path / "HR_LIST.HRT")
    (tmp_path / LISTED).write_bytes(old)
    verified = looked_at(tmp_path)
    assert states(verified) == {"LID.NC": State.UNFINISHED, "FRAME.NC": State.AS_WRITTEN}
    assert verified.unfinished == ("HR_LIST.HRT", "FLOOR.NC")
    assert (kinds(verified), verified.strangers) == (["card-run-cut-short"], ())


def test_a_half_written_list_of_such_a_run_tells_nothing(card: Path) -> None:
    (card / "HR_LIST.HRT").write_bytes((card / LISTED).read_bytes()[:-9])
    verified = looked_at(card)
    assert set(states(verified).values()) == {State.AS_WRITTEN}
    assert kinds(verified) == ["card-run-cut-short"]


def test_a_missing_file_whose_bytes_wait_is_told_as_such(card: Path) -> None:
    (card / "LID.NC").rename(card / "HR000001.HRT")
    verified = looked_at(card)
    assert damaged(verified, "LID.NC", State.UNFINISHED)
    assert kinds(verified) == ["card-run-cut-short"]


# --- the list ---------------------------------------------------------------------------------


def test_without_a_list_nothing_is_ready(card: Path) -> None:
    (card / LISTED).unlink()
    verified = looked_at(card)
    assert (verified.files, kinds(verified)) == ((), ["card-list-missing"])
    assert verified.exit_code == 5


def test_a_list_that_names_nothing_makes_nothing_ready(card: Path) -> None:
    (card / LISTED).write_bytes(Manifest().to_bytes("0.0.1"))
    assert kinds(looked_at(card)) == ["card-list-missing"]


@pytest.mark.parametrize(
    "change",
    [
        lambda text: text.replace('"title"', '"titel"', 1),
        lambda text: text.replace(json.loads(text)["headrace"], "9.9.9", 1),
        lambda text: text.replace("lid.nc", "lip.nc", 1),
        lambda text: text.replace(" ", "", 1),
        lambda text: text[:-1],
        lambda text: text.replace("\n", "\r\n"),
        lambda text: text + " ",
    ],
    ids=["key", "version", "source", "blank", "no line end", "line ends", "behind"],
)
def test_a_list_that_reads_well_and_is_not_as_written_is_refused(
    card: Path, change: Callable[[str], str]
) -> None:
    text = (card / LISTED).read_text()
    assert change(text) != text
    (card / LISTED).write_bytes(change(text).encode())
    json.loads(change(text))
    assert kinds(looked_at(card)) == ["card-list-faulty"]


# --- against the folder that it was copied from -----------------------------------------------


def copied(card: Path) -> Path:
    """A card that the jobs were copied to by hand, without the list."""
    copy = card.parent / "copy"
    shutil.copytree(card, copy)
    (copy / LISTED).unlink()
    return copy


@pytest.mark.parametrize("listed", ["", LISTED])
def test_a_copy_is_compared_with_the_folder_that_it_came_from(card: Path, listed: str) -> None:
    copy = copied(card)
    against = card / listed
    assert looked_at(copy, against).ready
    (copy / "LID.NC").write_bytes(changed_bit(NEW["LID.NC"]))
    verified = looked_at(copy, against)
    assert damaged(verified, "LID.NC", State.CHANGED)
    assert verified.findings[0].remedy == f"copy LID.NC from {against} again"


def test_the_lists_of_both_may_differ(card: Path) -> None:
    copy = copied(card)
    shutil.copy(card / LISTED, copy / LISTED)
    assert looked_at(copy, card).findings == ()
    (copy / LISTED).write_bytes(b"{}")
    verified = looked_at(copy, card)
    assert (verified.ready, kinds(verified)) == (True, ["card-list-differs"])


def test_the_state_of_the_other_folder_does_not_matter(card: Path) -> None:
    copy = copied(card)
    for name in NEW:
        (card / name).unlink()
    assert verify_card(copy, card).ready


@pytest.mark.parametrize(
    ("data", "kind"), [(None, "card-list-missing"), (b"{}", "card-list-faulty")]
)
def test_a_list_to_compare_with_that_cannot_be_used_is_an_error(
    card: Path, data: bytes | None, kind: str
) -> None:
    copy = copied(card)
    (card / LISTED).unlink()
    if data is not None:
        (card / LISTED).write_bytes(data)
    with pytest.raises(CardError) as caught:
        verify_card(copy, card)
    assert caught.value.findings[0].name == kind


# --- the folder -------------------------------------------------------------------------------


def test_no_folder_is_no_card(tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(b"")
    for name in ("nowhere", "file"):
        with pytest.raises(CardError) as caught:
            verify_card(tmp_path / name)
        assert caught.value.findings[0].name == "card-missing"


def test_a_card_that_a_run_is_busy_with_is_refused(card: Path) -> None:
    pytest.importorskip("fcntl")
    copy = copied(card)
    with card_folder(card, []) as folder:
        stage(staged_path(folder.path, 1), [b"G1"], Content.of(b"G1"))
        for look in (lambda: verify_card(card), lambda: verify_card(copy, card)):
            with pytest.raises(CardError) as caught:
                look()
            assert caught.value.findings[0].name == "card-busy"
    assert verify_card(card).ready


def test_two_looks_at_a_time_do_not_disturb_each_other(card: Path) -> None:
    fcntl = pytest.importorskip("fcntl")
    descriptor = os.open(card, os.O_RDONLY)
    try:
        fcntl.flock(descriptor, fcntl.LOCK_SH)
        assert verify_card(card).ready
    finally:
        os.close(descriptor)


# --- from the command line --------------------------------------------------------------------


def test_the_command_says_ready_or_what_to_do(tmp_path: Path) -> None:
    workshop = set_up(tmp_path, card_files=True)
    for name in ("lid.nc", "roof.nc"):
        workshop.job(name)
    assert workshop.run("prepare", workshop.recipe, workshop.jobs, "--card", "card").returncode == 0
    size = len(workshop.on_card()["LID.NC"])
    fine = workshop.run("verify", "card")
    assert (fine.returncode, fine.stderr) == (0, b"")
    lines = fine.stdout.decode().splitlines()
    assert [line.split()[0] for line in lines] == ["FIRST.NC", "LID.NC", "ROOF.NC", "ready"]
    assert lines[1] == f"LID.NC  as written ({size:,} bytes)"
    quiet = workshop.run("verify", "card", "--quiet")
    assert (quiet.returncode, quiet.stdout, quiet.stderr) == (0, b"", b"")

    shutil.copytree(workshop.card, tmp_path / "copy")
    lid = workshop.card / "LID.NC"
    lid.write_bytes(lid.read_bytes()[:-1])
    (workshop.card / "FIRST.NC").unlink()
    bad = workshop.run("verify", "card", "--quiet")
    assert bad.returncode == 5
    assert bad.stdout.decode() == "not ready: prepare FIRST.NC, LID.NC again\n"
    assert b"do: take it off the card, then prepare lid.nc by plain.yaml again" in bad.stderr
    assert b"do: prepare plain.yaml again" in bad.stderr
    against = workshop.run("verify", "card", "--against", "copy")
    assert against.returncode == 5
    assert against.stdout.decode().splitlines()[-1] == "not ready: copy FIRST.NC, LID.NC again"
    workshop.card.joinpath("LID.NC").unlink()
    assert workshop.run("prepare", workshop.recipe, workshop.jobs, "--card", "card").returncode == 0
    assert workshop.run("verify", "card").returncode == 0

    (workshop.card / LISTED).unlink()
    none = workshop.run("verify", "card")
    assert (none.returncode, none.stdout) == (5, b"not ready: there is no list to go by\n")
    assert b"[HRC040 card-list-missing]" in none.stderr
