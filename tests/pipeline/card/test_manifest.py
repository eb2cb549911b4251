"""The list on a card: it comes back as it was written, and damaged it is never taken for sound."""

from __future__ import annotations

import json
import random
from dataclasses import replace
from hashlib import sha256
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from workshop.handing import entry_of

from headrace.card.manifest import Entry, Manifest, Piece, Proved, Taken, read_manifest, sealed
from headrace.errors import CardError
from headrace.findings import CATALOGUE, Finding, Place, Severity

WARNING = Finding.of("no-end", "no M2 or M30", Place("lid.nc", 9, 3, 2, "G0 Zé5"))
LOWERED = replace(WARNING, severity=Severity.NOTE, lowered="it is fine here")


def rich(name: str) -> Entry:
    """An entry that has everything."""
    return replace(
        entry_of(name, name.encode()),
        steps=(Taken("home", 1, 2, 0), Taken("units", 2, 0, 40, "adapt")),
        piece=Piece("lid.nc", 1, 3),
        folder="today",
        lines=412,
        moves=371,
        findings=(WARNING, LOWERED),
        proof=Proved(174, 3, 0, 0.008191, "same cut path"),
    )


def read(path: Path, data: bytes) -> Manifest:
    path.write_bytes(data)
    return read_manifest(path)


def refused(path: Path, data: bytes) -> Finding:
    path.write_bytes(data)
    with pytest.raises(CardError) as caught:
        read_manifest(path)
    (finding,) = caught.value.findings
    assert finding.name == "card-list-faulty"
    return finding


SMALL = Manifest((rich("FLOOR.NC"), entry_of("LID.NC", b"lid")), ("LID.NC", "FLOOR.NC"))


def test_a_list_of_thousands_comes_back_as_it_was_written(tmp_path: Path) -> None:
    entries = [rich(f"J{number:05}.NC") for number in range(2000)]
    random.Random(3).shuffle(entries)
    order = tuple(entry.name for entry in entries)
    listed = Manifest().with_entries(entries, order)
    data = listed.to_bytes("0.1.0")
    assert read(tmp_path / "list", data) == listed
    assert listed.entries == tuple(sorted(entries, key=lambda entry: entry.name))
    assert read_manifest(tmp_path / "list").to_bytes("0.1.0") == data
    assert {entry.name for entry in entries if listed.get(entry.name.lower()) is entry} == {*order}
    assert len(json.loads(data)["made-by"]) == 1, "said once for all"


def test_the_same_entries_give_the_same_bytes_in_any_order() -> None:
    entries = [rich(f"J{number}.NC") for number in range(20)]
    lists = {
        Manifest().with_entries(some, ("J1.NC",)).to_bytes("0.1.0")
        for some in (entries, entries[::-1], entries[10:] + entries[:10])
    }
    assert len(lists) == 1


def test_entries_are_found_and_replaced_whatever_their_capitals() -> None:
    newer = replace(rich("lid.nc"), title="Newer")
    listed = SMALL.with_entries([newer], ())
    assert listed.get("LID.NC") == listed.get("Lid.nc") == newer
    assert len(listed.entries) == 2
    assert listed.get("none.nc") is None


def test_its_second_line_is_the_sha_256_of_all_others() -> None:
    """As `sed 2d HEADRACE.JSON | sha256sum` tells; what is left of it is JSON as well."""
    data = SMALL.to_bytes("0.1.0")
    lines = data.splitlines(keepends=True)
    others = lines[0] + b"".join(lines[2:])
    assert lines[1] == f'"digest": "{sha256(others).hexdigest()}",\n'.encode()
    whole = json.loads(data)
    del whole["digest"]
    assert json.loads(others) == whole
    assert data.isascii()


@given(st.integers(0, 8 * len(SMALL.to_bytes("0.1.0")) - 1))
def test_any_bit_that_turns_is_seen(tmp_path_factory: pytest.TempPathFactory, bit: int) -> None:
    data = bytearray(SMALL.to_bytes("0.1.0"))
    data[bit // 8] ^= 1 << bit % 8
    refused(tmp_path_factory.getbasetemp() / "turned", bytes(data))


@pytest.mark.parametrize("cut", [0, 1, 2, 30, 90, 500, -1, -2, -3])
def test_a_list_cut_short_is_seen(tmp_path: Path, cut: int) -> None:
    refused(tmp_path / "cut", SMALL.to_bytes("0.1.0")[:cut])


@pytest.mark.parametrize(
    "change",
    [
        lambda data: data + b"\n",
        lambda data: data.replace(b"\n", b"\r\n"),
        lambda data: json.dumps(json.loads(data), indent=1, sort_keys=True).encode(),
        lambda data: data.replace(b'"moves": 371', b'"moves": 372'),
    ],
    ids=["a line more", "other line ends", "written anew", "a count"],
)
def test_a_list_that_says_the_same_in_other_bytes_is_not_taken(
    tmp_path: Path, change: object
) -> None:
    found = refused(tmp_path / "list", change(SMALL.to_bytes("0.1.0")))  # type: ignore[operator]
    assert "not as headrace wrote it" in found.what


@pytest.mark.parametrize("form", ["headrace-card/1", "headrace-card/3"])
@pytest.mark.parametrize("whole", [True, False], ids=["with a digest", "without"])
def test_a_list_of_another_format_is_told_as_such(tmp_path: Path, form: str, whole: bool) -> None:
    data = {**json.loads(SMALL.to_bytes("0.1.0")), "format": form}
    del data["digest"]
    text = sealed(data) if whole else json.dumps(data).encode()
    found = refused(tmp_path / "list", text)
    assert found.what.endswith(f"its format is '{form}', not headrace-card/2")
    assert "the version of headrace that wrote it" in found.remedy
    assert found.remedy != CATALOGUE["card-list-faulty"].remedy


@pytest.mark.parametrize(
    ("way", "value"),
    [
        (("format",), 2),
        (("files",), None),
        (("made-by",), {}),
        (("made-by",), []),
        (("run-order",), [1]),
        (("files", 0, "name"), "../LID.NC"),
        (("files", 0, "name"), "LID.NC"),
        (("files", 0, "sha256"), "0" * 63),
        (("files", 0, "size"), True),
        (("files", 0, "made-by"), "none"),
        (("files", 0, "lines"), -1),
        (("files", 0, "moves"), "12"),
        (("files", 0, "findings"), [{}]),
        (("files", 0, "findings", 0, "severity"), "loud"),
        (("files", 0, "findings", 0, "place"), {"file": "lid.nc"}),
        (("files", 0, "findings", 0, "why"), None),
        (("files", 0, "steps", 0, "added"), 1.5),
        (("files", 0, "steps", 0, "name"), None),
        (("files", 0, "source", "part", "count"), "3"),
        (("files", 0, "source", "folder"), 7),
        (("files", 0, "proof", "deviation"), "far"),
        (("files", 0, "proof", "moves"), None),
    ],
)
def test_what_cannot_be_so_is_not_taken_even_with_a_right_digest(
    tmp_path: Path, way: tuple[str | int, ...], value: object
) -> None:
    data = json.loads(SMALL.to_bytes("0.1.0"))
    *above, last = way
    inner = data
    for part in above:
        inner = inner[part]
    inner[last] = value
    refused(tmp_path / "list", sealed(data))


def test_an_origin_that_lacks_something_is_not_taken(tmp_path: Path) -> None:
    for member in ("recipe", "machine", "setup", "headrace", "plugins"):
        data = json.loads(SMALL.to_bytes("0.1.0"))
        del next(iter(data["made-by"].values()))[member]
        assert f"it lacks '{member}'" in refused(tmp_path / "list", sealed(data)).what
