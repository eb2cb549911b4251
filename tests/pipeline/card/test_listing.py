"""The order in which a controller lists the files of a card.

The directory of a FAT card is a row of entries; a new name takes the first gap that is long enough,
and where one is taken off a gap stays (FAT32 File System Specification 1.03, "FAT Directory
Structure": DIR_Name[0] E5h is free, 00h is free with all behind it; taking the first gap is common
practice).
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from workshop.handing import entry_of

from headrace.card import exchange
from headrace.card.delivery import Delivery, deliver
from headrace.card.folder import card_folder
from headrace.card.listing import order_findings
from headrace.card.writing import Content, stage, staged_path
from headrace.machine import Card

BY_NAME = Card("short", "NC", order="by-name")
AS_WRITTEN = Card("short", "NC", order="as-written")


@dataclass
class Directory:
    """Entries in their places, as a FAT card keeps them; None is a gap."""

    entries: list[str | None] = field(default_factory=list)

    def add(self, name: str) -> None:
        if None in self.entries:
            self.entries[self.entries.index(None)] = name
        else:
            self.entries.append(name)

    def take_off(self, name: str) -> None:
        self.entries[self.entries.index(name)] = None

    @property
    def names(self) -> list[str]:
        return [name for name in self.entries if name is not None]


@pytest.fixture
def directory(monkeypatch: pytest.MonkeyPatch) -> Directory:
    """The directory of a FAT card whose names cannot change places."""
    row = Directory()
    open_, unlink, rename, scandir = os.open, os.unlink, os.rename, os.scandir

    def opened(path: Any, flags: int, *args: int) -> int:
        descriptor = open_(path, flags, *args)
        if flags & os.O_CREAT:
            row.add(Path(path).name)
        return descriptor

    def unlinked(path: Any) -> None:
        unlink(path)
        row.take_off(Path(path).name)

    def renamed(old: Any, new: Any) -> None:
        rename(old, new)
        row.add(Path(new).name)
        row.take_off(Path(old).name)

    @contextmanager
    def scanned(folder: Any) -> Iterator[list[os.DirEntry[str]]]:
        with scandir(folder) as entries:
            yield sorted(entries, key=lambda entry: row.entries.index(entry.name))

    monkeypatch.setattr(exchange, "renamed", lambda _one, _other, _flag: False)
    for name, instead in {
        "open": opened, "unlink": unlinked, "rename": renamed, "scandir": scanned
    }.items():  # fmt: skip
        monkeypatch.setattr(os, name, instead)
    return row


def hand_over(card: Path, names: list[str], in_turn: bool, staged_as: list[int]) -> None:
    """Files that were staged as the numbers say, in that order, as several processes would."""
    with card_folder(card, []) as folder:
        paths = {}
        for number in staged_as:
            data = names[number].encode()
            paths[number] = staged_path(folder.path, number + 1)
            stage(paths[number], [data], Content.of(data))
        deliveries = [
            Delivery(entry_of(name, name.encode()), paths[number])
            for number, name in enumerate(names)
        ]
        deliver(folder, deliveries, in_turn)


NAMES = ["SETUP.NC", "LID.NC", "FRAME.NC", "FLOOR.NC"]


@pytest.mark.parametrize("gaps", [0, 1, 2, 7])
@pytest.mark.parametrize("staged_as", [[0, 1, 2, 3], [3, 1, 0, 2]], ids=["in turn", "mixed"])
def test_files_come_to_lie_in_run_order(
    tmp_path: Path, directory: Directory, gaps: int, staged_as: list[int]
) -> None:
    for name in ("A.TXT", *(f"{n}.TMP" for n in range(gaps)), "B.TXT"):
        (tmp_path / name).write_bytes(b"")
        directory.add(name)
    for number in range(gaps):
        (tmp_path / f"{number}.TMP").unlink()
    hand_over(tmp_path, NAMES, True, staged_as)
    runnable = [name for name in directory.names if name.endswith(".NC")]
    assert runnable == NAMES
    assert set(directory.names) == {*NAMES, "A.TXT", "B.TXT", "HEADRACE.JSON"}
    assert list(order_findings(tmp_path, NAMES, AS_WRITTEN)) == []


def test_the_check_sees_files_that_do_not(tmp_path: Path, directory: Directory) -> None:
    """Without care they lie otherwise, which shows that the directory above is no easy one."""
    hand_over(tmp_path, NAMES, False, [0, 1, 2, 3])
    assert [name for name in directory.names if name.endswith(".NC")] != NAMES
    (finding,) = order_findings(tmp_path, NAMES, AS_WRITTEN)
    assert finding.name == "card-order"
    assert "empty folder" in finding.remedy


def test_a_folder_that_keeps_no_order_is_left_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    scandir = os.scandir

    @contextmanager
    def scanned(folder: Any) -> Iterator[list[os.DirEntry[str]]]:
        with scandir(folder) as entries:
            yield sorted(entries, key=lambda entry: entry.name, reverse=True)

    (tmp_path / "0.TXT").write_bytes(b"")
    monkeypatch.setattr(os, "scandir", scanned)
    hand_over(tmp_path, NAMES, True, [0, 1, 2, 3])
    assert {path.name for path in tmp_path.iterdir()} == {*NAMES, "0.TXT", "HEADRACE.JSON"}


def test_a_full_folder_is_no_fault_of_the_order(
    tmp_path: Path, directory: Directory, monkeypatch: pytest.MonkeyPatch
) -> None:
    opened = os.open

    def full(path: Any, flags: int, *args: int) -> int:
        if Path(path).name.startswith("HR9"):
            raise OSError(28, "no space")
        return opened(path, flags, *args)

    monkeypatch.setattr(os, "open", full)
    hand_over(tmp_path, NAMES, True, [0, 1, 2, 3])
    assert set(directory.names) == {*NAMES, "HEADRACE.JSON"}


@pytest.mark.parametrize(
    ("names", "rules", "told"),
    [
        (["A.NC", "B.NC"], BY_NAME, ""),
        (["B.NC", "A.NC", "C.NC"], BY_NAME, "the controller lists A.NC before B.NC, which runs"),
        (["b.nc", "C.nc"], BY_NAME, ""),
        (["B.NC", "A.NC"], Card("short", "NC"), ""),
    ],
)
def test_a_list_by_name_is_compared_with_the_run(
    tmp_path: Path, names: list[str], rules: Card, told: str
) -> None:
    findings = list(order_findings(tmp_path, names, rules))
    assert bool(findings) == bool(told)
    assert all(finding.what.startswith(told) for finding in findings)
