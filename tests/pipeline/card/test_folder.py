"""What stands on the card already is never lost, and what does not fit is not begun."""

from __future__ import annotations

import errno
import json
import os
from pathlib import Path

import pytest
from workshop.handing import NEW, OLD, entry_of, hand_over

from headrace.card.delivery import Delivery, Fate, deliver
from headrace.card.folder import card_folder
from headrace.card.manifest import FORMAT, Manifest, read_manifest, sealed
from headrace.card.room import Room
from headrace.card.writing import Content, in_plain_words, stage, staged_path, sync_folder
from headrace.errors import CardError


def refused(card: Path, files: dict[str, bytes] = NEW) -> list[str]:
    """The kinds of findings of a run that must be refused and leave everything as it was."""
    before = {path.name: path.read_bytes() for path in card.iterdir() if path.is_file()}
    with pytest.raises(CardError) as caught:
        hand_over(card, files)
    after = {path.name: path.read_bytes() for path in card.iterdir() if path.is_file()}
    assert after == before
    assert all(finding.place is None for finding in caught.value.findings)
    return [finding.name for finding in caught.value.findings]


def test_files_are_written_and_listed(tmp_path: Path) -> None:
    assert hand_over(tmp_path, OLD) == (Fate.WRITTEN, Fate.WRITTEN)
    assert {path.name for path in tmp_path.iterdir()} == {"LID.NC", "FRAME.NC", "HEADRACE.JSON"}
    listed = read_manifest(tmp_path / "HEADRACE.JSON")
    assert listed.entries == tuple(entry_of(name, OLD[name]) for name in sorted(OLD))
    assert listed.order == tuple(OLD)


def test_a_second_run_replaces_its_own_files_and_leaves_equal_ones_alone(tmp_path: Path) -> None:
    hand_over(tmp_path, OLD)
    frame = (tmp_path / "FRAME.NC").stat()
    assert hand_over(tmp_path, NEW) == (Fate.REPLACED, Fate.UNCHANGED, Fate.WRITTEN)
    assert {name: (tmp_path / name).read_bytes() for name in NEW} == NEW
    again = (tmp_path / "FRAME.NC").stat()
    assert (again.st_ino, again.st_mtime_ns) == (frame.st_ino, frame.st_mtime_ns)


def test_the_same_run_again_touches_nothing(tmp_path: Path) -> None:
    hand_over(tmp_path, NEW)
    before = {p.name: (p.stat().st_ino, p.stat().st_mtime_ns) for p in tmp_path.iterdir()}
    assert set(hand_over(tmp_path, NEW)) == {Fate.UNCHANGED}
    assert before == {p.name: (p.stat().st_ino, p.stat().st_mtime_ns) for p in tmp_path.iterdir()}


def test_files_of_earlier_runs_stay_in_the_list_until_they_are_gone(tmp_path: Path) -> None:
    hand_over(tmp_path, OLD)
    hand_over(tmp_path, {"FLOOR.NC": b"G1 Z1\n"})
    listed = read_manifest(tmp_path / "HEADRACE.JSON")
    assert [entry.name for entry in listed.entries] == ["FLOOR.NC", "FRAME.NC", "LID.NC"]
    assert listed.order == ("FLOOR.NC",)
    (tmp_path / "LID.NC").unlink()
    with card_folder(tmp_path, []) as folder:
        assert [finding.name for finding in folder.findings] == ["card-file-gone"]
    hand_over(tmp_path, {"FLOOR.NC": b"G1 Z2\n"})
    listed = read_manifest(tmp_path / "HEADRACE.JSON")
    assert [entry.name for entry in listed.entries] == ["FLOOR.NC", "FRAME.NC"]


def test_a_file_that_headrace_did_not_write_is_not_replaced(tmp_path: Path) -> None:
    (tmp_path / "LID.NC").write_bytes(b"of another program")
    assert refused(tmp_path) == ["card-foreign-file"]


def test_a_foreign_file_of_equal_content_is_taken_over(tmp_path: Path) -> None:
    """As when the list was lost: nothing is overwritten by it."""
    hand_over(tmp_path, NEW)
    (tmp_path / "HEADRACE.JSON").unlink()
    assert set(hand_over(tmp_path, NEW)) == {Fate.UNCHANGED}
    assert read_manifest(tmp_path / "HEADRACE.JSON").get("lid.nc") == entry_of(
        "LID.NC", NEW["LID.NC"]
    )


def test_a_file_that_was_changed_since_is_not_replaced(tmp_path: Path) -> None:
    hand_over(tmp_path, OLD)
    (tmp_path / "LID.NC").write_bytes(b"mended by hand")
    assert refused(tmp_path) == ["card-changed-file"]


def test_all_that_stands_in_the_way_is_told_at_once(tmp_path: Path) -> None:
    hand_over(tmp_path, OLD)
    (tmp_path / "LID.NC").write_bytes(b"mended by hand")
    (tmp_path / "FLOOR.NC").write_bytes(b"of another program")
    assert refused(tmp_path) == ["card-changed-file", "card-foreign-file"]


def test_a_change_that_keeps_the_size_is_seen_when_the_file_is_to_be_replaced(
    tmp_path: Path,
) -> None:
    hand_over(tmp_path, OLD)
    data = bytearray(OLD["LID.NC"])
    data[100] ^= 1
    (tmp_path / "LID.NC").write_bytes(data)
    assert refused(tmp_path) == ["card-changed-file"]


def test_the_file_of_another_job_is_not_replaced(tmp_path: Path) -> None:
    hand_over(tmp_path, OLD)
    with card_folder(tmp_path, []) as folder:
        data = b"G1 X9\n"
        staged = staged_path(folder.path, 1)
        stage(staged, [data], Content.of(data))
        delivery = Delivery(entry_of("LID.NC", data, source="lid.tap"), staged)
        with pytest.raises(CardError) as caught:
            deliver(folder, [delivery])
    assert [finding.name for finding in caught.value.findings] == ["card-name-taken"]
    assert caught.value.findings[0].what == "LID.NC on the card was made from lid.nc, not lid.tap"
    assert (tmp_path / "LID.NC").read_bytes() == OLD["LID.NC"]


def test_a_changed_size_of_any_listed_file_is_told(tmp_path: Path) -> None:
    hand_over(tmp_path, OLD)
    (tmp_path / "LID.NC").write_bytes(b"short")
    with card_folder(tmp_path, []) as folder:
        assert [finding.name for finding in folder.findings] == ["card-file-altered"]


def test_a_name_that_differs_by_capitals_only_is_the_same_name(tmp_path: Path) -> None:
    (tmp_path / "lid.nc").write_bytes(b"of another program")
    assert refused(tmp_path) == ["card-foreign-file"]


@pytest.mark.parametrize("to", ["elsewhere.nc", "nowhere.nc"])
def test_a_link_is_never_followed(tmp_path: Path, to: str) -> None:
    card = tmp_path / "card"
    card.mkdir()
    (tmp_path / "elsewhere.nc").write_bytes(b"precious")
    (card / "LID.NC").symlink_to(tmp_path / to)
    with pytest.raises(CardError) as caught:
        hand_over(card, NEW)
    assert caught.value.findings[0].name == "card-not-a-file"
    assert (tmp_path / "elsewhere.nc").read_bytes() == b"precious"
    assert (card / "LID.NC").is_symlink()


def test_a_folder_of_that_name_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "LID.NC").mkdir()
    assert refused(tmp_path) == ["card-not-a-file"]


def test_a_link_in_the_place_of_a_staged_file_is_never_followed(tmp_path: Path) -> None:
    card = tmp_path / "card"
    card.mkdir()
    (card / "HR000001.HRT").symlink_to(tmp_path / "elsewhere")
    with pytest.raises(CardError) as caught:
        hand_over(card, NEW)
    assert caught.value.findings[0].name == "card-unwritable"
    assert not (tmp_path / "elsewhere").exists()


def test_a_card_that_is_not_there_is_not_made(tmp_path: Path) -> None:
    with pytest.raises(CardError) as caught:
        hand_over(tmp_path / "card", NEW)
    assert caught.value.findings[0].name == "card-missing"
    assert not (tmp_path / "card").exists()


@pytest.mark.parametrize("linked", [False, True])
def test_a_folder_of_sources_is_no_card(tmp_path: Path, linked: bool) -> None:
    jobs = tmp_path / "jobs"
    jobs.mkdir()
    source = jobs / "lid.nc"
    source.write_bytes(b"G1 X1\n")
    card = jobs
    if linked:
        card = tmp_path / "card"
        card.symlink_to(jobs)
    with pytest.raises(CardError) as caught, card_folder(card, [source]):
        pass
    assert caught.value.findings[0].name == "card-holds-sources"


def test_a_card_is_held_by_one_run_at_a_time(tmp_path: Path) -> None:
    pytest.importorskip("fcntl")
    with card_folder(tmp_path, []), pytest.raises(CardError) as caught, card_folder(tmp_path, []):
        pass
    assert caught.value.findings[0].name == "card-busy"
    with card_folder(tmp_path, []):
        pass


def test_a_file_system_without_locks_does(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    fcntl = pytest.importorskip("fcntl")

    def flock(_descriptor: int, _operation: int) -> None:
        raise OSError(errno.ENOTSUP, "not supported")

    monkeypatch.setattr(fcntl, "flock", flock)
    hand_over(tmp_path, NEW)
    assert (tmp_path / "LID.NC").read_bytes() == NEW["LID.NC"]


def test_a_card_with_too_little_room_is_not_begun(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    hand_over(tmp_path, OLD)
    monkeypatch.setattr(Room, "of", lambda _path: Room(1, 1024))
    assert refused(tmp_path) == ["card-full"]


def test_leftovers_are_taken_away_and_told_and_nothing_else_is(tmp_path: Path) -> None:
    for name in ("HR000007.HRT", "hr000008.hrt", "MINE.HRT", "HR12.HRT", "HR000009.NC"):
        (tmp_path / name).write_bytes(b"half")
    (tmp_path / "HR000010.HRT").mkdir()
    with card_folder(tmp_path, []) as folder:
        assert [finding.name for finding in folder.findings] == ["card-leftover"] * 2
    assert {path.name for path in tmp_path.iterdir()} == {
        "MINE.HRT",
        "HR12.HRT",
        "HR000009.NC",
        "HR000010.HRT",
    }


def test_a_half_written_list_of_a_run_that_was_cut_short_is_ignored(tmp_path: Path) -> None:
    hand_over(tmp_path, OLD)
    (tmp_path / "HR_LIST.HRT").write_bytes(b'{"format": "headrace-ca')
    with card_folder(tmp_path, []) as folder:
        assert folder.listed.get("LID.NC") == entry_of("LID.NC", OLD["LID.NC"])
    assert not (tmp_path / "HR_LIST.HRT").exists()


FAULTS = {
    "not JSON": b"{",
    "not text": b"\xff\xfe",
    "not an object": b"[]",
    "another format": b'{"format": "other/1", "files": [], "run-order": []}',
    "no files": sealed({"format": FORMAT, "made-by": {}, "run-order": []}),
    "nested too deep": b"[" * 100_000,
}


@pytest.mark.parametrize("data", FAULTS.values(), ids=FAULTS)
def test_a_list_that_cannot_be_read_stops_the_run(tmp_path: Path, data: bytes) -> None:
    (tmp_path / "HEADRACE.JSON").write_bytes(data)
    assert refused(tmp_path) == ["card-list-faulty"]


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("name", "../LID.NC"),
        ("name", "/LID.NC"),
        ("name", ".."),
        ("name", "HRÄ.NC"),
        ("name", 7),
        ("sha256", "00"),
        ("sha256", None),
        ("size", -1),
        ("size", True),
        ("size", "12"),
        ("source", {"name": "lid.nc"}),
        ("steps", [1]),
        ("steps", None),
    ],
)
def test_an_entry_that_cannot_be_so_stops_the_run(tmp_path: Path, key: str, value: object) -> None:
    hand_over(tmp_path, OLD)
    data = json.loads((tmp_path / "HEADRACE.JSON").read_bytes())
    data["files"][0][key] = value
    (tmp_path / "HEADRACE.JSON").write_bytes(sealed(data))
    assert refused(tmp_path) == ["card-list-faulty"]


def test_a_list_that_names_a_file_twice_stops_the_run(tmp_path: Path) -> None:
    hand_over(tmp_path, OLD)
    data = json.loads((tmp_path / "HEADRACE.JSON").read_bytes())
    data["files"].append({**data["files"][0], "name": data["files"][0]["name"].lower()})
    (tmp_path / "HEADRACE.JSON").write_bytes(sealed(data))
    assert refused(tmp_path) == ["card-list-faulty"]


def test_a_list_that_is_a_folder_stops_the_run(tmp_path: Path) -> None:
    (tmp_path / "HEADRACE.JSON").mkdir()
    assert refused(tmp_path) == ["card-list-faulty"]


def test_a_list_that_is_too_large_stops_the_run(tmp_path: Path) -> None:
    with (tmp_path / "HEADRACE.JSON").open("wb") as file:
        file.truncate((1 << 26) + 1)
    with pytest.raises(CardError, match="larger than"):
        hand_over(tmp_path, NEW)


def test_a_list_comes_back_as_it_was_written() -> None:
    entries = [entry_of("LID.NC", b"a"), entry_of("FRAME.NC", b"b")]
    manifest = Manifest().with_entries(entries, ("LID.NC", "FRAME.NC"))
    data = json.loads(manifest.to_bytes("1.2.3"))
    assert list(data) == sorted(data)
    assert [item["name"] for item in data["files"]] == ["FRAME.NC", "LID.NC"]
    assert data["headrace"] == "1.2.3"


def test_nothing_to_hand_over_writes_no_list(tmp_path: Path) -> None:
    assert hand_over(tmp_path, {}) == ()
    assert list(tmp_path.iterdir()) == []


def test_a_file_that_appears_meanwhile_is_not_overwritten(tmp_path: Path) -> None:
    with card_folder(tmp_path, []) as folder:
        data = NEW["LID.NC"]
        staged = staged_path(folder.path, 1)
        stage(staged, [data], Content.of(data))
        (tmp_path / "LID.NC").write_bytes(b"of another program")
        with pytest.raises(CardError) as caught:
            deliver(folder, [Delivery(entry_of("LID.NC", data), staged)])
    assert caught.value.findings[0].name == "card-foreign-file"
    assert (tmp_path / "LID.NC").read_bytes() == b"of another program"


def test_a_folder_that_cannot_be_synced_as_such_does(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fsync(_descriptor: int) -> None:
        raise OSError(errno.EINVAL, "not for folders")

    monkeypatch.setattr(os, "fsync", fsync)
    sync_folder(tmp_path)


def test_an_unknown_fault_of_the_system_is_told_in_its_own_words() -> None:
    with pytest.raises(CardError, match="LID: odd"), in_plain_words("LID"):
        raise OSError(9999, "odd")
