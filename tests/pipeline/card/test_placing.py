"""Files take their names, and a run cut short amid that is brought in order.

What a FAT card may look like behind a power cut follows from its directory: every name has an entry
of its own, which tells where the file begins (FAT32 File System Specification 1.03, "FAT Directory
Structure"), and entries in two sectors are written one after the other.
"""

from __future__ import annotations

import errno
import os
import sys
from pathlib import Path

import pytest
from workshop.handing import NEW, OLD, entry_of, hand_over, no_flags

from headrace import __version__
from headrace.card import delivery, exchange, placing, writing
from headrace.card.delivery import Delivery, deliver
from headrace.card.exchange import give
from headrace.card.folder import card_folder
from headrace.card.manifest import INTENDED_NAME, LIST_NAME, Manifest, read_manifest
from headrace.card.placing import LAST_NAME, NEXT_NAME, put_list
from headrace.card.room import Room
from headrace.card.writing import Content, content_of, stage, staged_path
from headrace.errors import CardError

LISTS = tuple(
    Manifest().with_entries([entry_of(name, data) for name, data in files.items()], tuple(files))
    for files in (OLD, NEW)
)
OLD_LIST, NEW_LIST = (manifest.to_bytes(__version__) for manifest in LISTS)


def all_of(card: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in card.iterdir() if path.is_file()}


def lay(card: Path, **files: bytes) -> None:
    """Files by their names, `_` for the point before the extension."""
    for name, data in files.items():
        stem, _, extension = name.rpartition("_")
        (card / f"{stem}.{extension}").write_bytes(data)


def names_of(caught: pytest.ExceptionInfo[CardError]) -> list[str]:
    return [finding.name for finding in caught.value.findings]


@pytest.mark.parametrize("plain", [False, True])
def test_a_name_is_never_given_twice(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, plain: bool
) -> None:
    if plain:
        monkeypatch.setattr(exchange, "renamed", no_flags)
    lay(tmp_path, A_NC=b"a", B_NC=b"b")
    with pytest.raises(FileExistsError):
        give(tmp_path / "A.NC", tmp_path / "B.NC")
    assert all_of(tmp_path) == {"A.NC": b"a", "B.NC": b"b"}
    give(tmp_path / "A.NC", tmp_path / "C.NC")
    assert all_of(tmp_path) == {"C.NC": b"a", "B.NC": b"b"}


@pytest.mark.skipif(sys.platform not in ("linux", "darwin"), reason="no such call here")
def test_names_change_places(tmp_path: Path) -> None:
    """Outside reference: renameat2(2), RENAME_EXCHANGE: the files stay and their names do not."""
    lay(tmp_path, A_NC=b"a", B_NC=b"b")
    inodes = [(tmp_path / name).stat().st_ino for name in ("B.NC", "A.NC")]
    assert exchange.exchange(tmp_path / "A.NC", tmp_path / "B.NC")
    assert all_of(tmp_path) == {"A.NC": b"b", "B.NC": b"a"}
    assert [(tmp_path / name).stat().st_ino for name in ("A.NC", "B.NC")] == inodes


def test_a_system_without_the_call_does(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(exchange, "_call", lambda: None)
    hand_over(tmp_path, OLD)
    hand_over(tmp_path, NEW)
    assert {name: (tmp_path / name).read_bytes() for name in NEW} == NEW
    assert len(all_of(tmp_path)) == len(NEW) + 1


def test_a_replaced_file_keeps_its_entry_until_the_list_is_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The old bytes wait under an unlisted name, so that nothing is lost before all is done."""
    hand_over(tmp_path, OLD)
    seen = {}

    def looked(folder: Path, data: bytes) -> None:
        seen.update(all_of(tmp_path))
        put_list(folder, data)

    monkeypatch.setattr(delivery, "put_list", looked)
    hand_over(tmp_path, NEW)
    assert seen["LID.NC"] == NEW["LID.NC"]
    assert seen["HR000001.HRT"] == OLD["LID.NC"]
    assert seen[LIST_NAME] == OLD_LIST
    assert seen[INTENDED_NAME] == NEW_LIST
    assert set(all_of(tmp_path)) == {*NEW, LIST_NAME}


def test_a_name_that_lacks_its_file_gets_the_new_one(tmp_path: Path) -> None:
    lay(tmp_path, FRAME_NC=OLD["FRAME.NC"], HEADRACE_JSON=OLD_LIST, HR_LIST_HRT=NEW_LIST)
    lay(tmp_path, HR_00001_HRT=OLD["LID.NC"], HR000001_HRT=NEW["LID.NC"])
    with card_folder(tmp_path, []) as folder:
        assert folder.listed.get("LID.NC") == entry_of("LID.NC", NEW["LID.NC"])
        assert {finding.name for finding in folder.findings} == {"card-leftover"}
    assert (tmp_path / "LID.NC").read_bytes() == NEW["LID.NC"]
    assert set(all_of(tmp_path)) == {"LID.NC", "FRAME.NC", LIST_NAME}


def test_a_name_that_lacks_its_file_gets_the_old_one_where_the_new_one_is_not_whole(
    tmp_path: Path,
) -> None:
    lay(tmp_path, FRAME_NC=OLD["FRAME.NC"], HEADRACE_JSON=OLD_LIST, HR_LIST_HRT=NEW_LIST)
    lay(tmp_path, HR_00001_HRT=OLD["LID.NC"], HR000001_HRT=NEW["LID.NC"][:-1])
    with card_folder(tmp_path, []) as folder:
        assert folder.listed.get("LID.NC") == entry_of("LID.NC", OLD["LID.NC"])
    assert all_of(tmp_path) == {**OLD, LIST_NAME: OLD_LIST}


def test_a_file_that_was_taken_off_the_card_is_not_given_back(tmp_path: Path) -> None:
    """It lacks its file as well, but the run that was cut short did not mean to write it."""
    third = Manifest().with_entries([entry_of("FLOOR.NC", NEW["FLOOR.NC"])], ("FLOOR.NC",))
    lay(tmp_path, FRAME_NC=OLD["FRAME.NC"], HEADRACE_JSON=OLD_LIST)
    lay(tmp_path, HR_LIST_HRT=third.to_bytes(__version__), HR000001_HRT=OLD["LID.NC"])
    with card_folder(tmp_path, []):
        pass
    assert all_of(tmp_path) == {"FRAME.NC": OLD["FRAME.NC"], LIST_NAME: OLD_LIST}


def test_bytes_that_wait_for_another_name_do_not_bring_back_a_file_taken_off(
    tmp_path: Path,
) -> None:
    """The run was to leave LID.NC as it was, and replaced a file that held the same."""
    alike = [entry_of("FLOOR.NC", OLD["LID.NC"]), entry_of("LID.NC", OLD["LID.NC"])]
    before = Manifest().with_entries(alike, ("FLOOR.NC", "LID.NC"))
    meant = before.with_entries([entry_of("FLOOR.NC", NEW["FLOOR.NC"])], ("FLOOR.NC", "LID.NC"))
    lay(tmp_path, FLOOR_NC=NEW["FLOOR.NC"], HEADRACE_JSON=before.to_bytes(__version__))
    lay(tmp_path, HR_LIST_HRT=meant.to_bytes(__version__), HR000001_HRT=OLD["LID.NC"])
    with card_folder(tmp_path, []):
        pass
    assert all_of(tmp_path).keys() == {"FLOOR.NC", LIST_NAME}


def test_a_list_that_was_being_replaced_is_put_back(tmp_path: Path) -> None:
    lay(tmp_path, **{name.replace(".", "_"): data for name, data in OLD.items()})
    lay(tmp_path, HR_LAST_HRT=OLD_LIST, HR_NEXT_HRT=NEW_LIST, HR_LIST_HRT=NEW_LIST)
    with card_folder(tmp_path, []) as folder:
        assert folder.listed == LISTS[0]
    assert all_of(tmp_path) == {**OLD, LIST_NAME: OLD_LIST}


def test_empty_files_under_names_of_the_run_are_taken_off(tmp_path: Path) -> None:
    """An entry for a new name was written, but not yet where its file begins (DIR_FstClusLO and
    DIR_FileSize are 0). A stranger's empty file is none of these."""
    lay(tmp_path, LID_NC=OLD["LID.NC"], FRAME_NC=OLD["FRAME.NC"], HEADRACE_JSON=OLD_LIST)
    lay(tmp_path, FLOOR_NC=b"", MINE_NC=b"", HR_LIST_HRT=NEW_LIST)
    hand_over(tmp_path, NEW)
    assert all_of(tmp_path).keys() == {*NEW, "MINE.NC", LIST_NAME}
    assert {name: (tmp_path / name).read_bytes() for name in NEW} == NEW


def test_an_empty_list_and_an_empty_file_give_way_to_those_that_wait(tmp_path: Path) -> None:
    """Where names cannot change places, the same happens to names that were free for a moment."""
    lay(tmp_path, LID_NC=b"", FRAME_NC=OLD["FRAME.NC"], HR_00001_HRT=OLD["LID.NC"])
    lay(tmp_path, HEADRACE_JSON=b"", HR_LAST_HRT=OLD_LIST, HR_LIST_HRT=NEW_LIST)
    with card_folder(tmp_path, []) as folder:
        assert folder.listed == LISTS[0]
    assert all_of(tmp_path) == {**OLD, LIST_NAME: OLD_LIST}


def test_an_empty_file_without_a_run_that_was_cut_short_is_a_strangers(tmp_path: Path) -> None:
    lay(tmp_path, FLOOR_NC=b"")
    with pytest.raises(CardError) as caught:
        hand_over(tmp_path, NEW)
    assert names_of(caught) == ["card-foreign-file"]
    assert all_of(tmp_path) == {"FLOOR.NC": b""}


SHARED = {
    "the new file": {"LID_NC": NEW["LID.NC"], "HR000001_HRT": NEW["LID.NC"]},
    "the old file": {"LID_NC": OLD["LID.NC"], "HR000001_HRT": OLD["LID.NC"]},
    "a file that is new": {
        "LID_NC": OLD["LID.NC"],
        "FLOOR_NC": NEW["FLOOR.NC"],
        "HR000003_HRT": NEW["FLOOR.NC"],
    },
    "the new list": {
        "LID_NC": NEW["LID.NC"],
        "HEADRACE_JSON": NEW_LIST,
        "HR_NEXT_HRT": NEW_LIST,
    },
    "the old list": {"LID_NC": NEW["LID.NC"], "HR_NEXT_HRT": OLD_LIST},
}


@pytest.mark.parametrize("way", SHARED)
def test_two_entries_that_may_lead_to_one_file_stop_the_run(tmp_path: Path, way: str) -> None:
    """Half of an exchange, or of a rename, is on the card: taking either file away would free the
    space of the other."""
    lay(tmp_path, FRAME_NC=OLD["FRAME.NC"], HEADRACE_JSON=OLD_LIST, HR_LIST_HRT=NEW_LIST)
    lay(tmp_path, **SHARED[way])
    before = all_of(tmp_path)
    with pytest.raises(CardError) as caught:
        hand_over(tmp_path, NEW)
    assert names_of(caught) == ["card-needs-repair"]
    assert all_of(tmp_path) == before


def test_equal_files_of_two_jobs_are_no_damage(tmp_path: Path) -> None:
    same = {"LID.NC": NEW["LID.NC"], "FLOOR.NC": NEW["LID.NC"]}
    listed = Manifest().with_entries([entry_of(n, d) for n, d in same.items()], tuple(same))
    lay(tmp_path, LID_NC=NEW["LID.NC"], HR000002_HRT=NEW["LID.NC"])
    lay(tmp_path, HR_LIST_HRT=listed.to_bytes(__version__))
    hand_over(tmp_path, same)
    assert all_of(tmp_path).keys() == {*same, LIST_NAME}


@pytest.mark.parametrize("plain", [False, True])
def test_wrong_bytes_under_a_name_give_way_to_the_old_ones(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, plain: bool
) -> None:
    if plain:
        monkeypatch.setattr(exchange, "renamed", no_flags)
    hand_over(tmp_path, OLD)

    def spoilt(_folder: Path, _paths: list[Path]) -> None:
        (tmp_path / "LID.NC").write_bytes(b"G1 X9\n")

    with monkeypatch.context() as patch:
        patch.setattr(delivery, "make_last", spoilt)
        with pytest.raises(CardError) as caught:
            hand_over(tmp_path, NEW)
    assert names_of(caught) == ["card-differs", "card-unfinished"]
    assert caught.value.findings[1].what == "1 of 2 files are new on the card: FLOOR.NC"
    assert (tmp_path / "LID.NC").read_bytes() == OLD["LID.NC"]
    assert read_manifest(tmp_path / LIST_NAME).get("LID.NC") == entry_of("LID.NC", OLD["LID.NC"])


def test_wrong_bytes_under_a_new_name_lose_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def spoilt(_folder: Path, _paths: list[Path]) -> None:
        (tmp_path / "LID.NC").write_bytes(b"")

    with monkeypatch.context() as patch:
        patch.setattr(delivery, "make_last", spoilt)
        with pytest.raises(CardError) as caught:
            hand_over(tmp_path, {"LID.NC": NEW["LID.NC"]})
    assert names_of(caught) == ["card-differs"]
    assert all_of(tmp_path) == {}


def test_a_failure_behind_the_last_name_says_that_all_are_in_place(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    hand_over(tmp_path, OLD)

    def fails(_folder: Path) -> None:
        raise OSError(errno.EIO, "broken")

    with monkeypatch.context() as patch:
        patch.setattr(placing, "sync_folder", fails)
        with pytest.raises(CardError) as caught:
            hand_over(tmp_path, NEW)
    assert names_of(caught) == ["card-unwritable", "card-unconfirmed"]
    assert caught.value.findings[1].what == (
        "in place on the card, but whether it lasts is not confirmed: LID.NC, FLOOR.NC"
    )
    assert {name: (tmp_path / name).read_bytes() for name in NEW} == NEW


def test_damage_to_earlier_files_is_told_before_anything_is_written(tmp_path: Path) -> None:
    hand_over(tmp_path, OLD)
    data = bytearray(OLD["LID.NC"])
    data[100] ^= 1
    (tmp_path / "LID.NC").write_bytes(data)
    with card_folder(tmp_path, []) as folder:
        findings = folder.findings
        assert set(all_of(tmp_path)) == {*OLD, LIST_NAME}
    assert [(finding.name, finding.what) for finding in findings] == [
        ("card-file-altered", "LID.NC on the card holds other bytes than were written to it")
    ]


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes of that kind here")
def test_what_is_no_plain_file_is_told_and_never_opened(tmp_path: Path) -> None:
    """A pipe would keep whoever opens it waiting, and a link leads off the card."""
    hand_over(tmp_path, NEW)
    for name in NEW:
        (tmp_path / name).unlink()
    os.mkfifo(tmp_path / "LID.NC")
    (tmp_path / "FRAME.NC").symlink_to("/dev/zero")
    (tmp_path / "FLOOR.NC").mkdir()
    with card_folder(tmp_path, []) as folder:
        assert [finding.what for finding in folder.findings] == [
            f"{name} on the card is no plain file any more" for name in sorted(NEW)
        ]


@pytest.mark.parametrize(
    ("free", "new", "enough"), [(2, 1, False), (3, 1, False), (4, 1, True), (0, 0, True)]
)
def test_a_card_without_room_for_a_new_file_is_told_before_the_first_job(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, free: int, new: int, enough: bool
) -> None:
    """A cluster for the file and one for each list, one for the directory; nothing is certain of
    files that are there already, which may come out the same."""
    hand_over(tmp_path, OLD)
    monkeypatch.setattr(Room, "of", lambda _folder: Room(free, 4096))
    with card_folder(tmp_path, []) as folder:
        names = ["lid.nc", *["FLOOR.NC"] * new]
        if enough:
            folder.need_room(names)
        else:
            with pytest.raises(CardError) as caught:
                folder.need_room(names)
            assert names_of(caught) == ["card-full"]


@pytest.mark.parametrize("clusters", range(1, 40))
def test_no_file_gets_its_name_where_the_lists_have_no_room(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, clusters: int
) -> None:
    """A card of so many clusters of 512 bytes; on a FAT card each file takes whole ones."""

    def left(folder: Path) -> Room:
        used = Room(0, 512).clusters(path.stat().st_size for path in folder.iterdir())
        return Room(clusters - used, 512)

    monkeypatch.setattr(Room, "of", left)
    faults: tuple[str, ...] = ()
    try:
        hand_over(tmp_path, OLD)
    except CardError as error:
        faults = tuple(finding.name for finding in error.findings)
    named = {path.name for path in tmp_path.iterdir() if path.suffix != ".HRT"}
    assert (faults, named) in ((("card-full",), set()), ((), {*OLD, "HEADRACE.JSON"}))


def test_clusters_are_counted_whole() -> None:
    assert Room(9, 512).clusters([0, 1, 512, 513]) == 0 + 1 + 1 + 2


def test_a_top_folder_that_takes_no_more_files_is_told_as_such(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The top folder of a FAT12 or FAT16 card has a fixed number of entries (specification 1.03,
    BPB_RootEntCnt), so it may be full while there is room on the card."""
    original = os.open

    def full(path: str | Path, flags: int, *args: int) -> int:
        if flags & os.O_CREAT:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        return original(path, flags, *args)

    monkeypatch.setattr(os, "open", full)
    with pytest.raises(CardError) as caught:
        hand_over(tmp_path, OLD)
    assert names_of(caught) == ["card-full"]
    assert "takes no more files, though there is room" in caught.value.findings[0].what


def test_unlisted_names_of_the_lists_are_known_as_leftovers(tmp_path: Path) -> None:
    for name in (NEXT_NAME, LAST_NAME, INTENDED_NAME, "HR_00001.HRT"):
        (tmp_path / name).write_bytes(b"half")
    hand_over(tmp_path, OLD)
    assert all_of(tmp_path).keys() == {*OLD, LIST_NAME}


def test_what_a_refused_job_has_staged_is_gone_before_the_first_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """So that what waits beside the intended list belongs to it."""
    hand_over(tmp_path, OLD)
    seen: list[str] = []

    def looked(folder: Path) -> None:
        seen.extend(path.name for path in folder.glob("*.HRT"))

    with card_folder(tmp_path, []) as folder:
        for number in (1, 2):
            stage(staged_path(folder.path, number), [b"G1 X5\n"], Content.of(b"G1 X5\n"))
        monkeypatch.setattr(delivery, "sync_folder", looked)
        entry = entry_of("FLOOR.NC", b"G1 X5\n")
        deliver(folder, [Delivery(entry, staged_path(folder.path, 2))])
    assert sorted(seen) == ["HR000002.HRT", INTENDED_NAME]


def test_a_file_that_was_taken_off_comes_back_without_a_new_list(tmp_path: Path) -> None:
    hand_over(tmp_path, NEW)
    before = (tmp_path / LIST_NAME).stat()
    (tmp_path / "LID.NC").unlink()
    hand_over(tmp_path, NEW)
    assert (tmp_path / "LID.NC").read_bytes() == NEW["LID.NC"]
    after = (tmp_path / LIST_NAME).stat()
    assert (after.st_ino, after.st_mtime_ns) == (before.st_ino, before.st_mtime_ns)


def test_a_list_that_reads_otherwise_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def other(path: Path) -> Content:
        return Content.of(b"other") if path.name == LIST_NAME else content_of(path)

    with monkeypatch.context() as patch:
        patch.setattr(placing, "content_of", other)
        with pytest.raises(CardError) as caught:
            hand_over(tmp_path, NEW)
    assert names_of(caught) == ["card-differs", "card-unconfirmed"]
    assert caught.value.findings[0].what.startswith(LIST_NAME)


def test_a_link_of_a_name_of_ours_is_left_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It stands where the file that is replaced would have to wait."""
    monkeypatch.setattr(exchange, "renamed", no_flags)
    hand_over(tmp_path, OLD)
    (tmp_path / "HR_00001.HRT").symlink_to("NOTES.TXT")
    with pytest.raises(CardError) as caught:
        hand_over(tmp_path, NEW)
    assert names_of(caught) == ["card-unwritable"]
    assert (tmp_path / "HR_00001.HRT").is_symlink()
    assert (tmp_path / "LID.NC").read_bytes() == OLD["LID.NC"]


@pytest.mark.parametrize("whole", [True, False])
def test_many_files_are_made_to_last(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, whole: bool
) -> None:
    """All at once where the system can; one by one else."""
    asked: list[str] = []

    def sync_whole(folder: Path) -> bool:
        asked.append(folder.name)
        return whole and writing.sync_whole(folder)

    def sync_file(path: Path) -> None:
        asked.append(path.name)

    monkeypatch.setattr(placing, "sync_whole", sync_whole)
    monkeypatch.setattr(placing, "sync_file", sync_file)
    many = {f"F{n}.NC": b"G1 X1\n" for n in range(40)}
    hand_over(tmp_path, many)
    one_by_one = {name for name in asked if name in many}
    assert tmp_path.name in asked
    can = whole and sys.platform == "linux"
    assert one_by_one == (set() if can else set(many))


@pytest.mark.parametrize("way", SHARED)
def test_a_card_that_was_looked_over_can_be_used_again(tmp_path: Path, way: str) -> None:
    """What is said helps also where the system's check finds nothing, or gives each of the two
    names space of its own."""
    lay(tmp_path, FRAME_NC=OLD["FRAME.NC"], HEADRACE_JSON=OLD_LIST, HR_LIST_HRT=NEW_LIST)
    lay(tmp_path, **SHARED[way])
    with pytest.raises(CardError) as caught:
        hand_over(tmp_path, NEW)
    unlisted = next(name for name in ("HR000001.HRT", "HR000003.HRT", "HR_NEXT.HRT")
                    if (tmp_path / name).exists())  # fmt: skip
    assert f"then take {unlisted} off the card and run again" in caught.value.findings[0].remedy
    (tmp_path / unlisted).unlink()
    hand_over(tmp_path, NEW)
    assert all_of(tmp_path) == {**NEW, LIST_NAME: NEW_LIST}


def test_what_somebody_copied_over_a_file_is_no_damage(tmp_path: Path) -> None:
    """A run was killed before its first name, and a file of the list holds the bytes of another."""
    lay(tmp_path, LID_NC=OLD["LID.NC"], FRAME_NC=NEW["LID.NC"])
    lay(tmp_path, HEADRACE_JSON=OLD_LIST, HR_LIST_HRT=NEW_LIST, HR000001_HRT=NEW["LID.NC"])
    hand_over(tmp_path, {"LID.NC": NEW["LID.NC"]})
    there = all_of(tmp_path)
    assert there.pop(LIST_NAME)
    assert there == {"LID.NC": NEW["LID.NC"], "FRAME.NC": NEW["LID.NC"]}


def test_a_list_put_aside_that_cannot_be_read_is_named(tmp_path: Path) -> None:
    lay(tmp_path, **{"LID_NC": NEW["LID.NC"], "HR_LAST_HRT": OLD_LIST[:-9]}, HR_LIST_HRT=NEW_LIST)
    with pytest.raises(CardError) as caught:
        hand_over(tmp_path, NEW)
    assert names_of(caught) == ["card-list-faulty"]
    assert caught.value.findings[0].remedy == f"take {LAST_NAME} off the card and run again"
    (tmp_path / LAST_NAME).unlink()
    hand_over(tmp_path, NEW)
    assert all_of(tmp_path) == {**NEW, LIST_NAME: NEW_LIST}


@pytest.mark.parametrize("old", ["HR000001.HRT", "HR_00001.HRT"])
def test_the_old_file_of_two_that_were_equal_is_no_damage(tmp_path: Path, old: str) -> None:
    """A run was killed behind its list, before it had taken all unlisted files away."""
    files = {"LID.NC": NEW["LID.NC"], "FLOOR.NC": OLD["LID.NC"]}
    both = [entry_of(name, OLD["LID.NC"]) for name in files]
    before = Manifest().with_entries(both, tuple(files))
    behind = before.with_entries([entry_of("LID.NC", NEW["LID.NC"])], tuple(files))
    lay(tmp_path, LID_NC=NEW["LID.NC"], FLOOR_NC=OLD["LID.NC"])
    lay(tmp_path, HEADRACE_JSON=behind.to_bytes(__version__))
    lay(tmp_path, HR_LIST_HRT=behind.to_bytes(__version__))
    (tmp_path / old).write_bytes(OLD["LID.NC"])
    (tmp_path / (NEXT_NAME if old[2] == "0" else LAST_NAME)).write_bytes(
        before.to_bytes(__version__)
    )
    hand_over(tmp_path, files)
    assert all_of(tmp_path) == {**files, LIST_NAME: behind.to_bytes(__version__)}


@pytest.mark.parametrize("listed", [OLD_LIST, NEW_LIST], ids=["old list", "new list"])
def test_names_that_a_killed_run_gave_are_made_to_last(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, listed: bytes
) -> None:
    """It may not have come to that; the next run finds nothing to write, and says all is well."""
    for name, data in NEW.items():
        (tmp_path / name).write_bytes(data)
    lay(tmp_path, HEADRACE_JSON=listed, HR_LIST_HRT=NEW_LIST)
    synced = []
    monkeypatch.setattr(placing, "sync_file", lambda path: synced.append(path.name))
    hand_over(tmp_path, NEW)
    assert {*NEW, LIST_NAME} <= set(synced)


@pytest.mark.parametrize("plain", [False, True])
def test_an_older_copy_laid_over_a_card_is_brought_in_order(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, plain: bool
) -> None:
    """The copy was of a card on which a run had been cut short amid its list."""
    if plain:
        monkeypatch.setattr(exchange, "renamed", no_flags)
    for name, data in NEW.items():
        (tmp_path / name).write_bytes(data)
    older = Manifest().with_entries([entry_of("FRAME.NC", OLD["FRAME.NC"])], ("FRAME.NC",))
    lay(tmp_path, HEADRACE_JSON=OLD_LIST, HR_LIST_HRT=NEW_LIST)
    lay(tmp_path, HR_LAST_HRT=older.to_bytes(__version__), HR_NEXT_HRT=NEW_LIST)
    hand_over(tmp_path, NEW)
    assert all_of(tmp_path) == {**NEW, LIST_NAME: NEW_LIST}
