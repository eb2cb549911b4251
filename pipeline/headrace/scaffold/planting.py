"""New files in a folder: all of them, or none. What is there already stays as it is."""

from __future__ import annotations

import os
from collections.abc import Collection, Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path


class InTheWay(Exception):
    """Something is where a new file would go."""


@dataclass(frozen=True, slots=True)
class Planted:
    """The files that were written, and those that were there and are left as they are."""

    written: tuple[Path, ...]
    left: tuple[Path, ...]


def plant(folder: Path, files: Mapping[str, bytes], may_stay: Collection[str] = ()) -> Planted:
    """Write files by their names below `folder`, which is made if it is not there; those that
    `may_stay` names are left out where something of that name is there.

    The last one is written last, so it should be the one that makes use of all others. Raises
    InTheWay, and OSError where the system does not let; either way nothing of it is there.
    """
    paths = {folder / name: content for name, content in files.items()}
    left = tuple(folder / name for name in may_stay if os.path.lexists(folder / name))
    taken = [str(path) for path in paths if path not in left and os.path.lexists(path)]
    if taken:
        what = "is there already" if len(taken) == 1 else "are there already"
        raise InTheWay(
            f"{', '.join(taken)} {what}, and nothing is ever written over: name another folder, or"
            " move what is there away"
        )
    made: list[Path] = []
    try:
        for path, content in paths.items():
            if path not in left:
                _make_room(path.parent, folder, made)
                with path.open("xb") as file:
                    made.append(path)
                    file.write(content)
                    file.flush()
                    os.fsync(file.fileno())
    except BaseException:
        for path in reversed(made):
            with suppress(OSError):
                path.rmdir() if path.is_dir() else path.unlink()
        raise
    return Planted(tuple(path for path in paths if path not in left), left)


def _make_room(wanted: Path, folder: Path, made: list[Path]) -> None:
    """Make the folders from `folder` down to the wanted one, as far as they are not there. The one
    that holds `folder` must be: a slip in a path makes no trees."""
    if wanted != folder:
        _make_room(wanted.parent, folder, made)
    if not wanted.is_dir():
        wanted.mkdir()
        made.append(wanted)
