"""A file on the card: what it holds, what it was made from, and what came of making it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

from headrace.card.names import is_card_name
from headrace.card.origin import Origin, counted, matched, text
from headrace.card.writing import Content
from headrace.findings import Finding
from headrace.findings.data import finding_data, finding_of

if TYPE_CHECKING:
    from headrace.proof import RunProof


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
        """What a list keeps of a proof."""
        return cls(
            proof.moves, proof.alike, proof.unread, round(proof.deviation, 9), proof.contract
        )


@dataclass(frozen=True, slots=True)
class Taken:
    """A step that was taken: its `number` in the recipe, lines that it added, lines that it rewrote
    or took out, and the step that asked for it where the recipe does not name it itself."""

    name: str
    number: int
    added: int
    touched: int
    asked_by: str | None = None

    @property
    def label(self) -> str:
        """What the step is called to people: its name, behind that of the step which asked."""
        return self.name if self.asked_by is None else f"{self.asked_by}: {self.name}"


@dataclass(frozen=True, slots=True)
class Piece:
    """Which part of a job a file is: the job's name, and `number` (from 0) of `count`."""

    job: str
    number: int
    count: int


@dataclass(frozen=True)
class Entry:
    """One file on the card: what it holds, and what it was made from.

    `source` is the job's file name, `source_content` what that file held and `folder` the name of
    the folder in which it lay; all are None for a card file that the recipe makes without a job.
    `piece` tells which part of a job it is, where the job was split. `lines` and `moves` count what
    it holds, `findings` are what was told of it; `proof` is missing for a card file.
    """

    name: str
    content: Content
    source: str | None
    source_content: Content | None
    origin: Origin
    steps: tuple[Taken, ...]
    title: str
    folder: str | None = None
    piece: Piece | None = None
    lines: int = 0
    moves: int = 0
    findings: tuple[Finding, ...] = ()
    proof: Proved | None = None

    @property
    def recipe(self) -> str:
        """The file name of the recipe."""
        return self.origin.recipe

    @property
    def job(self) -> str | None:
        """The job that it was made from, or from a part of which."""
        return self.source if self.piece is None else self.piece.job

    @cached_property
    def lowered(self) -> tuple[tuple[str, str], ...]:
        """Names of warnings that the recipe lowers and that were given, each with its reason."""
        given = {finding.name: finding.lowered for finding in self.findings if finding.lowered}
        return tuple(sorted(given.items()))


def entry_data(entry: Entry, made_by: str) -> dict[str, Any]:
    """An entry as plain data; `made_by` is the key of its origin."""
    source = None
    if entry.source is not None and entry.source_content is not None:
        source = {
            "name": entry.source,
            **_content_data(entry.source_content),
            "folder": entry.folder,
            "part": None if entry.piece is None else _piece_data(entry.piece),
        }
    return {
        "name": entry.name,
        **_content_data(entry.content),
        "source": source,
        "made-by": made_by,
        "title": entry.title,
        "steps": [
            {"name": step.name, "number": step.number, "added": step.added,
             "touched": step.touched, "asked-by": step.asked_by}
            for step in entry.steps
        ],
        "lines": entry.lines,
        "moves": entry.moves,
        "findings": [finding_data(finding) for finding in entry.findings],
        "proof": None if entry.proof is None else _proof_data(entry.proof),
    }  # fmt: skip


def entry_of(data: Any, origins: Mapping[str, Origin]) -> Entry:
    """The entry of such data. Raises KeyError, TypeError or ValueError for other data."""
    source = data["source"]
    folder, piece = (None, None) if source is None else (source["folder"], source["part"])
    return Entry(
        name=_name(data["name"]),
        content=_content(data),
        source=None if source is None else text(source["name"]),
        source_content=None if source is None else _content(source),
        origin=origins[text(data["made-by"])],
        steps=tuple(_taken(step) for step in data["steps"]),
        title=text(data["title"]),
        folder=None if folder is None else text(folder),
        piece=None if piece is None else _piece(piece),
        lines=counted(data["lines"]),
        moves=counted(data["moves"]),
        findings=tuple(_finding(finding) for finding in data["findings"]),
        proof=_proof(data["proof"]),
    )


def _taken(data: Any) -> Taken:
    asked_by = data["asked-by"]
    return Taken(
        text(data["name"]),
        counted(data["number"]),
        counted(data["added"]),
        counted(data["touched"]),
        None if asked_by is None else text(asked_by),
    )


def _piece_data(piece: Piece) -> dict[str, Any]:
    return {"job": piece.job, "number": piece.number, "count": piece.count}


def _piece(data: Any) -> Piece:
    return Piece(text(data["job"]), counted(data["number"]), counted(data["count"]))


def _finding(data: Any) -> Finding:
    for member in ("name", "what", "why", "remedy", "lowered"):
        text(data[member])
    return finding_of(data)


def _proof_data(proof: Proved) -> dict[str, Any]:
    return {
        "moves": proof.moves,
        "alike": proof.alike,
        "unread": proof.unread,
        "deviation": proof.deviation,
        "contract": proof.contract,
    }


def _proof(data: Any) -> Proved | None:
    if data is None:
        return None
    moves, alike, unread = (counted(data[name]) for name in ("moves", "alike", "unread"))
    return Proved(moves, alike, unread, float(data["deviation"]), text(data["contract"]))


def _content_data(content: Content) -> dict[str, Any]:
    return {"sha256": content.sha256, "size": content.size}


def _content(data: Any) -> Content:
    return Content(matched(data["sha256"], "[0-9a-f]{64}", "SHA-256"), counted(data["size"]))


def _name(data: Any) -> str:
    """A name in the card folder itself, never a way out of it."""
    name = text(data)
    if not is_card_name(name):
        raise ValueError(f"{name!r} is no name of a file on the card")
    return name
