"""What was read once is not read again while it stands as it did. The steps of two seconds are
those of the FAT specification ("Date and Time Formats"); `hashlib` says what a file holds."""

from __future__ import annotations

import hashlib
import os
import time
from pathlib import Path

import pytest

from headrace.card import seen
from headrace.card.seen import Seen, sign_of
from headrace.card.writing import Content, content_of

SECOND = 1_000_000_000


@pytest.fixture
def reads(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The names of the files that are read, each time."""
    names: list[str] = []

    def read(path: Path) -> Content:
        names.append(path.name)
        return content_of(path)

    monkeypatch.setattr(seen, "content_of", read)
    return names


def later(monkeypatch: pytest.MonkeyPatch, seconds: int) -> None:
    """From now on the clock is ahead of all files by so much."""
    now = time.time_ns() + seconds * SECOND
    monkeypatch.setattr(seen.time, "time_ns", lambda: now)


def test_a_file_is_read_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, reads: list[str]
) -> None:
    lid = tmp_path / "LID.NC"
    lid.write_bytes(b"G1 X1\n")
    later(monkeypatch, 10)
    known = Seen()
    held = {known.content_of(lid) for _ in range(3)}
    assert held == {Content(hashlib.sha256(b"G1 X1\n").hexdigest(), 6)}
    assert reads == ["LID.NC"]
    known.forget()
    known.content_of(lid)
    assert reads == ["LID.NC"] * 2


def test_a_young_file_is_read_each_time(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, reads: list[str]
) -> None:
    """Within a step of the clock it may change again, and stand as before."""
    lid = tmp_path / "LID.NC"
    lid.write_bytes(b"G1 X1\n")
    known = Seen()
    for seconds, times in ((0, 1), (2, 2), (10, 3), (10, 3)):
        later(monkeypatch, seconds)
        known.content_of(lid)
        assert len(reads) == times


@pytest.mark.parametrize("how", ["written over", "another in its place", "written at its old time"])
def test_what_stands_otherwise_is_read_again(
    how: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    lid = tmp_path / "LID.NC"
    lid.write_bytes(b"G1 X1\n")
    later(monkeypatch, 10)
    known = Seen()
    known.content_of(lid)
    found, before = lid.stat(), sign_of(lid)
    time.sleep(0.05)
    if how == "another in its place":
        (tmp_path / "NEW").write_bytes(b"G1 X2\n")
        (tmp_path / "NEW").replace(lid)
    else:
        lid.write_bytes(b"G1 X2\n")
    if how == "written at its old time":
        os.utime(lid, ns=(found.st_atime_ns, found.st_mtime_ns))
    assert sign_of(lid) != before
    assert known.content_of(lid) == Content(hashlib.sha256(b"G1 X2\n").hexdigest(), 6)


def test_what_is_gone_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    lid = tmp_path / "LID.NC"
    lid.write_bytes(b"G1 X1\n")
    later(monkeypatch, 10)
    known = Seen()
    known.content_of(lid)
    lid.unlink()
    assert sign_of(lid) is None
    with pytest.raises(FileNotFoundError):
        known.content_of(lid)
