"""Pictures of one file from the command line.

Outside references: xml.etree for SVG, and the PNG specification (third edition) for chunks.
"""

from __future__ import annotations

import builtins
import json
import struct
import zlib
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

import pytest
from workshop import Workshop, set_up
from workshop.command import run

from headrace.card.folder import held

SVG = "{http://www.w3.org/2000/svg}"
BY_RECIPE = ["--recipe", "recipes/plain.yaml"]
SLOT = """\
(hive slot)
G21 G90 G94
M3 S18000
G0 X10 Y20
G0 Z5
G1 Z-1 F300
G1 X40 F900
G0 Z5
M5
M30
"""
RECIPES = Path(__file__).parents[3] / "recipes"


@pytest.fixture
def hive(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Workshop:
    made = set_up(tmp_path / "hive")
    monkeypatch.chdir(made.root)
    made.job("lid.nc", SLOT)
    return made


def chunks(data: bytes) -> list[tuple[bytes, bytes]]:
    """PNG, 5.3: length, type, data and CRC-32 of the latter two."""
    assert data[:8] == b"\x89PNG\r\n\x1a\n"
    found, at = [], 8
    while at < len(data):
        (length,) = struct.unpack(">I", data[at : at + 4])
        kind, body = data[at + 4 : at + 8], data[at + 8 : at + 8 + length]
        (check,) = struct.unpack(">I", data[at + 8 + length : at + 12 + length])
        assert check == zlib.crc32(kind + body)
        found.append((kind, body))
        at += 12 + length
    return found


@pytest.mark.parametrize("view", ["top", "side"])
@pytest.mark.parametrize(
    "way",
    [
        [],
        ["--machine", "recipes/machine.yaml"],
        ["--recipe", "recipes/plain.yaml"],
    ],
    ids=["as it is", "on a machine", "by a recipe"],
)
def test_svg(hive: Workshop, view: str, way: list[str]) -> None:
    result = run("picture", "jobs/lid.nc", *way, "--view", view, "--to", "lid.svg")
    assert result.exit_code in (0, 1), result.output
    root = ET.parse(hive.root / "lid.svg").getroot()
    assert root.tag == f"{SVG}svg"
    assert root.find(f"{SVG}title") is not None
    assert root.find(f"{SVG}style") is not None
    assert list(root.iter(f"{SVG}path"))


def test_png_is_as_wide_as_it_shall_be(hive: Workshop) -> None:
    """PNG, 11.2.1: width and height are the first eight bytes of IHDR."""
    pytest.importorskip("resvg_py")
    for width in (300, 1200):
        target = hive.root / f"{width}.png"
        result = run("picture", "jobs/lid.nc", "--to", target.name, "--width", width)
        assert result.exit_code == 0, result.output
        parts = chunks(target.read_bytes())
        assert struct.unpack(">I", parts[0][1][:4]) == (width,)
        assert [kind for kind, _ in parts][:2] == [b"IHDR", b"tEXt"]
        assert parts[-1] == (b"IEND", b"")


def pixels(data: bytes) -> int:
    """How many pixels of an 8-bit picture are not as the one before; PNG, 9 (filters), read by the
    library that made it would prove nothing, so the filtered bytes are counted."""
    body = b"".join(body for kind, body in chunks(data) if kind == b"IDAT")
    return sum(byte != 0 for byte in zlib.decompress(body))


def test_letters_are_in_the_png(hive: Workshop, monkeypatch: pytest.MonkeyPatch) -> None:
    """The same drawing without a font has less ink; and headrace refuses it."""
    library = pytest.importorskip("resvg_py")
    run("picture", "jobs/lid.nc", "--to", "lid.png")
    with_letters = pixels((hive.root / "lid.png").read_bytes())
    original = library.svg_to_bytes

    def blind(*args: Any, **more: Any) -> Any:
        return original(*args, **{**more, "skip_system_fonts": True})

    monkeypatch.setattr(library, "svg_to_bytes", blind)
    result = run("picture", "jobs/lid.nc", "--to", "blind.png")
    assert result.exit_code == 5
    assert "picture-without-letters" in result.stderr
    assert not (hive.root / "blind.png").exists()
    monkeypatch.setattr("headrace.report.picture_file._need_letters", lambda _font: None)
    run("picture", "jobs/lid.nc", "--to", "blind.png")
    assert pixels((hive.root / "blind.png").read_bytes()) < with_letters


def test_the_library_may_be_missing(hive: Workshop, monkeypatch: pytest.MonkeyPatch) -> None:
    original = builtins.__import__

    def without(name: str, *args: Any, **more: Any) -> Any:
        if name == "resvg_py":
            raise ImportError(name)
        return original(name, *args, **more)

    monkeypatch.setattr(builtins, "__import__", without)
    result = run("picture", "jobs/lid.nc", "--to", "lid.png")
    assert result.exit_code == 2
    assert "pip install 'headrace[picture]'" in result.stderr
    assert not (hive.root / "lid.png").exists()
    assert run("picture", "jobs/lid.nc", "--to", "lid.svg").exit_code == 0


@pytest.mark.parametrize("name", ["lid.svg", "lid.png"])
def test_only_a_picture_of_its_own_gives_way(hive: Workshop, name: str) -> None:
    if name.endswith("png"):
        pytest.importorskip("resvg_py")
    target = hive.root / name

    def said() -> str:
        result = run("picture", "jobs/lid.nc", "--to", name)
        return result.stdout or result.stderr

    assert f"lid.nc -> {name}  written" in said()
    first = target.read_bytes()
    assert f"lid.nc -> {name}  unchanged" in said()
    hive.job("lid.nc", SLOT.replace("X40", "X60"))
    assert f"lid.nc -> {name}  replaced" in said()
    other = target.read_bytes()
    assert other != first
    for at in (30, len(other) // 2, len(other) - 2):
        changed = bytearray(other)
        changed[at] ^= 1
        target.write_bytes(changed)
        assert "picture-not-ours" in said()
        assert target.read_bytes() == bytes(changed)


def test_the_same_file_gives_the_same_picture(hive: Workshop) -> None:
    for name in ("one.svg", "other.svg"):
        run("picture", "jobs/lid.nc", "--to", name)
    assert (hive.root / "one.svg").read_bytes() == (hive.root / "other.svg").read_bytes()


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (["--to", "lid.pdf"], "neither in .svg nor in .png"),
        (["--to", "lid.svg", "--width", "300"], "--width is for a PNG"),
        (["--to", "lid.svg", "--setup", "recipes/plain.yaml"], "--setup goes with --machine"),
        (["--to", "lid.svg", "--set", "name=x"], "--set goes with"),
        (["--to", "lid.svg", "--units", "mm", *BY_RECIPE], "--units goes"),
        (
            ["--to", "lid.svg", "--machine", "recipes/plain.yaml", *BY_RECIPE],
            "--machine goes without --recipe",
        ),
        (["--to", "lid.svg", "--part", "2"], "--part 2: there are 1"),
        ([], "Missing option '--to'"),
    ],
)  # fmt: skip
def test_misuse(hive: Workshop, args: list[str], said: str) -> None:
    result = run("picture", "jobs/lid.nc", *args)
    assert result.exit_code == 2
    assert said in result.stderr
    assert not (hive.root / "lid.svg").exists()


def test_one_part_of_a_job_is_drawn(tmp_path: Path) -> None:
    args = ["picture", RECIPES / "jobs" / "feeder-board.nc", "--recipe",
            RECIPES / "speed-feeder-boards.yaml", "--to"]  # fmt: skip
    result = run(*args, tmp_path / "board.svg")
    assert result.exit_code == 2
    assert "--part 1" in result.stderr
    for part in (1, 2):
        assert run(*args, tmp_path / f"{part}.svg", "--part", part).exit_code == 0
    assert (tmp_path / "1.svg").read_bytes() != (tmp_path / "2.svg").read_bytes()


def test_what_is_drawn_is_told_in_words(hive: Workshop) -> None:
    result = run("picture", "jobs/lid.nc", "--to", "lid.svg", "--json")
    told = json.loads(result.stdout)
    root = ET.parse(hive.root / "lid.svg").getroot()
    assert told["picture"]["view"] == "top"
    assert told["picture"]["title"] == root.findtext(f"{SVG}title")
    assert told["picture"]["text"] == root.findtext(f"{SVG}desc")


def test_there_is_no_picture_of_what_is_no_job(hive: Workshop) -> None:
    hive.job("binary.nc", b"SQLite\0\0\0")
    result = run("picture", "jobs/binary.nc", "--to", "lid.svg")
    assert result.exit_code == 1
    assert "binary-file" in result.stderr
    assert not (hive.root / "lid.svg").exists()


def test_a_folder_that_another_run_holds_is_told_before_the_work(hive: Workshop) -> None:
    hive.job("binary.nc", b"SQLite\0\0\0")
    with held(hive.root):
        result = run("picture", "jobs/binary.nc", "--to", "lid.svg")
    assert result.exit_code == 5
    assert "card-busy" in result.stderr
    assert "binary-file" not in result.stderr  # nobody has looked at it yet
