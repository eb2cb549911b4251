"""The list of what headrace wrote to a card: `HEADRACE.JSON`.

It holds no times and no absolute paths, and is sorted: the same input gives the same bytes.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from headrace.card.names import LIST_STEM, STAGED_EXTENSION
from headrace.card.writing import Content
from headrace.errors import CardError
from headrace.findings import Finding

if TYPE_CHECKING:
    from headrace.proof import RunProof

FORMAT = "headrace-card/1"
LIST_NAME = f"{LIST_STEM}.JSON"
INTENDED_NAME = f"HR_LIST.{STAGED_EXTENSION}"
"""The list that will hold once a run is finished; written before its first file gets its name."""

_LARGEST = 1 << 24


@dataclass(frozen=True, slots=True)
class Proved:
    """What was proved of a file: moves compared, lines alike in a like state, lines that one
    reading alone has followed, the largest deviation (mm), and what the steps may have changed."""

    moves: int
    alike: int
    unread: int
    deviation: float
    contract: str

    @classmethod
    def of(cls, proof: RunProof) -> Proved:
        return cls(
            proof.moves, proof.alike, proof.unread, round(proof.deviation, 9), proof.contract
        )


@dataclass(frozen=True, slots=True)
class Entry:
    """One file on the card: what it holds, and what it was made from.

    `source` is the job's file name, `source_content` what that file held; both are None for a
    card file that the recipe makes without a job. `lowered` are names of warnings that the recipe
    lowers, each with its reason; `proof` is missing for a card file, which has no job.
    """

    name: str
    content: Content
    source: str | None
    source_content: Content | None
    recipe: str
    steps: tuple[str, ...]
    title: str
    lowered: tuple[tuple[str, str], ...] = ()
    proof: Proved | None = None


@dataclass(frozen=True, slots=True)
class Manifest:
    """All files that headrace wrote and knows of. `order` names those of the last run, in order."""

    entries: tuple[Entry, ...] = ()
    order: tuple[str, ...] = ()

    def get(self, name: str) -> Entry | None:
        """The entry of a file, capitals or not."""
        wanted = name.casefold()
        return next((entry for entry in self.entries if entry.name.casefold() == wanted), None)

    def with_entries(self, entries: Iterable[Entry], order: tuple[str, ...]) -> Manifest:
        """This list with some entries new."""
        named = {entry.name.casefold(): entry for entry in self.entries}
        named.update((entry.name.casefold(), entry) for entry in entries)
        return Manifest(tuple(named[key] for key in sorted(named)), order)

    def to_bytes(self, version: str) -> bytes:
        """The list as it stands on the card; `version` is headrace's own."""
        data = {
            "format": FORMAT,
            "headrace": version,
            "run-order": list(self.order),
            "files": [_plain(entry) for entry in self.entries],
        }
        text = json.dumps(data, indent=1, sort_keys=True, ensure_ascii=True)
        return text.encode("ascii") + b"\n"


def read_manifest(path: Path) -> Manifest:
    """The list on a card; an empty one where there is none.

    Raises CardError where the file is there and is no such list.
    """
    try:
        if path.is_symlink() or (path.exists() and not path.is_file()):
            raise ValueError("it is not a plain file")
        if path.stat().st_size > _LARGEST:
            raise ValueError(f"it is larger than {_LARGEST} bytes")
        return _manifest(json.loads(path.read_bytes()))
    except FileNotFoundError:
        return Manifest()
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        said = f"it lacks {error}" if isinstance(error, KeyError) else str(error)
        what = f"{path.name} on the card cannot be read as headrace's list: {said}"
        raise CardError(findings=[Finding.of("card-list-faulty", what)]) from error


def _plain(entry: Entry) -> dict[str, Any]:
    source = None
    if entry.source is not None and entry.source_content is not None:
        source = {
            "name": entry.source,
            "sha256": entry.source_content.sha256,
            "size": entry.source_content.size,
        }
    return {
        "name": entry.name,
        "sha256": entry.content.sha256,
        "size": entry.content.size,
        "source": source,
        "recipe": entry.recipe,
        "steps": list(entry.steps),
        "title": entry.title,
        "lowered": [{"finding": name, "because": because} for name, because in entry.lowered],
        "proof": None if entry.proof is None else asdict(entry.proof),
    }


def _manifest(data: Any) -> Manifest:
    if data["format"] != FORMAT:
        raise ValueError(f"its format is {data['format']!r}, not {FORMAT}")
    entries = tuple(_entry(item) for item in data["files"])
    if len({entry.name.casefold() for entry in entries}) < len(entries):
        raise ValueError("it names a file twice")
    return Manifest(entries, tuple(_text(name) for name in data["run-order"]))


def _entry(item: Any) -> Entry:
    source = item["source"]
    return Entry(
        name=_name(item["name"]),
        content=_content(item),
        source=None if source is None else _text(source["name"]),
        source_content=None if source is None else _content(source),
        recipe=_text(item["recipe"]),
        steps=tuple(_text(step) for step in item["steps"]),
        title=_text(item["title"]),
        lowered=tuple(
            (_text(lowered["finding"]), _text(lowered["because"]))
            for lowered in item.get("lowered", ())  # lists of before say nothing of it
        ),
        proof=_proof(item.get("proof")),
    )


def _proof(item: Any) -> Proved | None:
    if item is None:
        return None
    moves, alike, unread = (item[name] for name in ("moves", "alike", "unread"))
    if not all(isinstance(count, int) and count >= 0 for count in (moves, alike, unread)):
        raise ValueError("its proof counts nothing that can be counted")
    return Proved(moves, alike, unread, float(item["deviation"]), _text(item["contract"]))


def _content(item: Any) -> Content:
    digest, size = _text(item["sha256"]), item["size"]
    if re.fullmatch("[0-9a-f]{64}", digest) is None:
        raise ValueError(f"{digest!r} is no SHA-256")
    if not isinstance(size, int) or isinstance(size, bool) or size < 0:
        raise ValueError(f"{size!r} is no size")
    return Content(digest, size)


def _name(value: Any) -> str:
    """A name in the card folder itself, never a way out of it."""
    name = _text(value)
    if re.fullmatch(r"[A-Za-z0-9_-][A-Za-z0-9._-]*", name) is None:
        raise ValueError(f"{name!r} is no name of a file on the card")
    return name


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise TypeError(f"{value!r} is no text")
    return value
