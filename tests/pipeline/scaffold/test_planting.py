"""New files, all or none, whatever happens on the way."""

from __future__ import annotations

from pathlib import Path

import pytest

from headrace.scaffold import planting
from headrace.scaffold.planting import InTheWay, plant

FILES = {"README.md": b"read\n", "deep/er/one.yaml": b"one\n", "deep/two.yaml": b"", "last": b"l"}


def held(root: Path) -> dict[str, bytes]:
    return {
        path.relative_to(root).as_posix(): path.read_bytes()
        for path in root.rglob("*")
        if path.is_file()
    }


def test_all_are_there(tmp_path: Path) -> None:
    planted = plant(tmp_path / "new", FILES)

    assert held(tmp_path / "new") == FILES
    assert planted.written == tuple(tmp_path / "new" / name for name in FILES)
    assert planted.left == ()


def test_other_files_do_not_matter(tmp_path: Path) -> None:
    (tmp_path / "deep").mkdir()
    (tmp_path / "deep" / "mine").write_bytes(b"mine")
    plant(tmp_path, FILES)

    assert held(tmp_path) == {**FILES, "deep/mine": b"mine"}


@pytest.mark.parametrize("name", FILES)
def test_nothing_is_written_over(tmp_path: Path, name: str) -> None:
    (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
    (tmp_path / name).write_bytes(b"mine")
    with pytest.raises(InTheWay, match=name):
        plant(tmp_path, FILES)

    assert held(tmp_path) == {name: b"mine"}


def test_a_link_that_leads_nowhere_is_in_the_way_too(tmp_path: Path) -> None:
    (tmp_path / "last").symlink_to(tmp_path / "elsewhere")
    with pytest.raises(InTheWay, match="last"):
        plant(tmp_path, FILES)

    assert not (tmp_path / "elsewhere").exists()
    assert [path.name for path in tmp_path.iterdir()] == ["last"]


def test_what_may_stay_stays(tmp_path: Path) -> None:
    (tmp_path / "README.md").write_bytes(b"mine")
    planted = plant(tmp_path, FILES, ["README.md", "last"])

    assert held(tmp_path) == {**FILES, "README.md": b"mine"}
    assert planted.left == (tmp_path / "README.md",)
    assert tmp_path / "README.md" not in planted.written


@pytest.mark.parametrize("fails", range(len(FILES)))
@pytest.mark.parametrize("error", [OSError(28, "No space left on device"), KeyboardInterrupt()])
def test_what_was_begun_is_taken_away(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, fails: int, error: BaseException
) -> None:
    """At each of the files; the folder that was made goes too, and what was there stays."""
    left = [fails]

    def full(_descriptor: int) -> None:
        if not left[0]:
            raise error
        left[0] -= 1

    monkeypatch.setattr(planting.os, "fsync", full)
    (tmp_path / "old" / "deep").mkdir(parents=True)
    for folder in ("new", "old"):
        left[0] = fails
        with pytest.raises(type(error)):
            plant(tmp_path / folder, FILES)

    assert sorted(path.relative_to(tmp_path).as_posix() for path in tmp_path.rglob("*")) == [
        "old",
        "old/deep",
    ]


def test_a_file_where_a_folder_goes(tmp_path: Path) -> None:
    (tmp_path / "deep").write_bytes(b"mine")
    with pytest.raises(OSError, match="deep"):
        plant(tmp_path, FILES)

    assert held(tmp_path) == {"deep": b"mine"}


def test_a_slip_in_a_path_makes_no_trees(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError):
        plant(tmp_path / "slip" / "new", FILES)

    assert not (tmp_path / "slip").exists()
