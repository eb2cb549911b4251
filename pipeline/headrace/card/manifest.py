"""The list of what headrace wrote to a card: `HEADRACE.JSON`.

It holds no times and no absolute paths, and is sorted: the same input gives the same bytes. Its
second line is the SHA-256 of all other lines, so that no change of it goes unnoticed.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from hashlib import sha256
from pathlib import Path
from typing import Any

from headrace.card.entry import Entry, Piece, Proved, Taken, entry_data, entry_of
from headrace.card.names import LIST_STEM, STAGED_EXTENSION
from headrace.card.origin import origin_data, origin_of, text
from headrace.errors import CardError
from headrace.findings import Finding

__all__ = [
    "FORMAT",
    "INTENDED_NAME",
    "LIST_NAME",
    "Entry",
    "Manifest",
    "Piece",
    "Proved",
    "Taken",
    "read_manifest",
    "sealed",
]

FORMAT = "headrace-card/2"
LIST_NAME = f"{LIST_STEM}.JSON"
INTENDED_NAME = f"HR_LIST.{STAGED_EXTENSION}"
"""The list that will hold once a run is finished; written before its first file gets its name."""

_LARGEST = 1 << 26
_ENCODER = json.JSONEncoder(sort_keys=True)


class _OtherFormat(ValueError):
    """A list, but not of the format that is read here."""


@dataclass(frozen=True)
class Manifest:
    """All files that headrace wrote and knows of. `order` names those of the last run, in order."""

    entries: tuple[Entry, ...] = ()
    order: tuple[str, ...] = ()

    @cached_property
    def _named(self) -> Mapping[str, Entry]:
        """The entries by their names, folded to one case."""
        return {entry.name.casefold(): entry for entry in self.entries}

    def get(self, name: str) -> Entry | None:
        """The entry of a file, capitals or not."""
        return self._named.get(name.casefold())

    def with_entries(self, entries: Iterable[Entry], order: tuple[str, ...]) -> Manifest:
        """This list with some entries new."""
        named = {**self._named, **{entry.name.casefold(): entry for entry in entries}}
        return Manifest(tuple(named[key] for key in sorted(named)), order)

    def to_bytes(self, version: str) -> bytes:
        """The list as it stands on the card; `version` is headrace's own.

        What many files were made by is said once, under a key of its own.
        """
        keys = {origin: origin.key for origin in {entry.origin for entry in self.entries}}
        return sealed(
            {
                "format": FORMAT,
                "headrace": version,
                "run-order": list(self.order),
                "made-by": {key: origin_data(origin) for origin, key in keys.items()},
                "files": [entry_data(entry, keys[entry.origin]) for entry in self.entries],
            }
        )


def read_manifest(path: Path) -> Manifest:
    """The list on a card; an empty one where there is none.

    Raises CardError where the file is there and is no such list, or not as headrace wrote it.
    """
    try:
        if path.is_symlink() or (path.exists() and not path.is_file()):
            raise ValueError("it is not a plain file")
        if path.stat().st_size > _LARGEST:
            raise ValueError(f"it is larger than {_LARGEST} bytes")
        return _manifest(path.read_bytes())
    except FileNotFoundError:
        return Manifest()
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        said = f"it lacks {error}" if isinstance(error, KeyError) else str(error)
        what = f"{path.name} on the card cannot be read as headrace's list: {said}"
        remedy = None if path.name == LIST_NAME else f"take {path.name} off the card and run again"
        if isinstance(error, _OtherFormat):
            remedy = (
                "prepare with the version of headrace that wrote it, or give an empty folder; "
                f"{path.name} taken off the card, files of other content count as not ours"
            )
        raise CardError(findings=[Finding.of("card-list-faulty", what, remedy=remedy)]) from error


def sealed(data: Mapping[str, Any]) -> bytes:
    """A list as it is written, one file a line, with its digest."""
    keys = sorted(key for key in data if key != "digest")
    members = [f"{_json(key)}: {_lines(data[key])}" for key in keys]
    first, rest = b"{\n", (",\n".join(members) + "\n}\n").encode("ascii")
    return first + _digest_line(first, rest) + rest


def _lines(value: Any) -> str:
    """A value of the list; its items or members, where it has such, on lines of their own."""
    if isinstance(value, dict) and value:
        return "{\n" + ",\n".join(f" {_json(k)}: {_json(value[k])}" for k in sorted(value)) + "\n}"
    if isinstance(value, list) and value:
        return "[\n" + ",\n".join(f" {_json(item)}" for item in value) + "\n]"
    return _json(value)


def _json(value: Any) -> str:
    return _ENCODER.encode(value)


def _digest_line(first: bytes, rest: bytes) -> bytes:
    digest = sha256(first + rest).hexdigest()
    return f'"digest": "{digest}",\n'.encode("ascii")


def _manifest(written: bytes) -> Manifest:
    data = json.loads(written)
    first, _, behind = written.partition(b"\n")
    digest, _, rest = behind.partition(b"\n")
    whole = digest + b"\n" == _digest_line(first + b"\n", rest)
    if data["format"] != FORMAT and (whole or "digest" not in data):
        raise _OtherFormat(f"its format is {data['format']!r}, not {FORMAT}")
    if not whole:
        raise ValueError("it is not as headrace wrote it, for its digest is another one")
    origins = {key: origin_of(value) for key, value in data["made-by"].items()}
    entries = tuple(entry_of(item, origins) for item in data["files"])
    if len({entry.name.casefold() for entry in entries}) < len(entries):
        raise ValueError("it names a file twice")
    return Manifest(entries, tuple(text(name) for name in data["run-order"]))
