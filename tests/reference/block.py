"""A line's words sorted by what they are for, and the rules that need no more than that."""

from __future__ import annotations

from dataclasses import dataclass

from reference.arithmetic import whole
from reference.codes import (
    AXIS_USERS,
    CENTRE_CODES,
    CYCLES,
    G_GROUP,
    M_GROUP,
    g_code,
)
from reference.fault import ReferenceError_
from reference.grammar import Line, Word
from reference.records import Options
from reference.state import AXES

_DWELLING = ("G82", "G86", "G88", "G89")


@dataclass(frozen=True, slots=True)
class Block:
    """Codes by modal group, other numbers by letter, and the column where each is written."""

    codes: dict[str, str]
    numbers: dict[str, float]
    columns: dict[str, int]

    @property
    def axes(self) -> dict[int, float]:
        """Axis words: number 0..5 of the axis, and the value as written."""
        return {i: self.numbers[a] for i, a in enumerate(AXES) if a in self.numbers}

    def at(self, *names: str) -> int:
        """Column of the first of these letters or groups that is written; 0 if none is."""
        return next((self.columns[name] for name in names if name in self.columns), 0)


def sort_words(line: Line, options: Options) -> Block:
    """Sections 3.3.5 and 3.4: one of a letter, one of a modal group, four M words."""
    block = Block({}, {}, {})
    count = 0
    for word in line.words:
        if word.letter == "g":
            _add(block, *_g(word, options), word.column)
        elif word.letter == "m":
            count += 1
            if count > 4:
                raise ReferenceError_("too-many-m", word.column)
            _add(block, *_m(word), word.column)
        else:
            if word.letter in block.numbers:
                raise ReferenceError_("repeated-letter", word.column)
            block.numbers[word.letter] = _number(word, options)
            block.columns[word.letter] = word.column
    return block


def _add(block: Block, group: str, code: str, column: int) -> None:
    if group in block.codes:
        raise ReferenceError_("same-modal-group", column)
    block.codes[group] = code
    block.columns[group] = column


def _g(word: Word, options: Options) -> tuple[str, str]:
    if word.value < 0:
        raise ReferenceError_("negative-g-m", word.column)
    code = g_code(word.value)
    if code in CENTRE_CODES and options.centre_codes:
        return "centres", code
    if code not in G_GROUP:
        raise ReferenceError_("unknown-g", word.column)
    return G_GROUP[code], code


def _m(word: Word) -> tuple[str, str]:
    if word.value < 0:
        raise ReferenceError_("negative-g-m", word.column)
    number = whole(word.value)
    if number is None:
        raise ReferenceError_("integer-expected", word.column)
    code = f"M{number}"
    if code not in M_GROUP:
        raise ReferenceError_("unknown-m", word.column)
    return M_GROUP[code], code


def _number(word: Word, options: Options) -> float:
    """The value of a word, after what can be asked of it alone."""
    index = whole(word.value)
    bad_index = index is None or index < 0
    if word.letter == "f" and word.value < 0:
        raise ReferenceError_("feed-negative", word.column)
    if word.letter == "s" and word.value < 0:
        raise ReferenceError_("speed-negative", word.column)
    if word.letter == "t":
        above = index is not None and options.slots is not None and index > options.slots
        if bad_index or above:
            raise ReferenceError_("tool-bad", word.column)
    if word.letter == "d" and bad_index:
        raise ReferenceError_("comp-d-bad", word.column)
    if word.letter == "h" and bad_index:
        raise ReferenceError_("length-index-bad", word.column)
    return float(index) if word.letter in "tdh" and index is not None else word.value


def motion_of(block: Block, in_force: str) -> str | None:
    """The motion code that this line carries out, or None.

    Section 3.4: a group 0 code that uses axis words suspends an inherited motion for its line
    and excludes a written one. G80 moves nothing, so it may stand beside such a code.
    """
    written = block.codes.get("motion")
    once = block.codes.get("once")
    if once in AXIS_USERS:
        if written is not None and written != "G80":
            raise ReferenceError_("axis-conflict", block.at("once"))
        return None
    if once == "G53":
        if not block.axes:
            raise ReferenceError_("no-axis-g53", block.at("once"))
        if (written or in_force) not in ("G0", "G1"):
            raise ReferenceError_("g53-no-straight", block.at("once"))
    if not block.axes and written in ("G0", "G1", "G2", "G3"):
        raise ReferenceError_("no-axis-for-motion", block.at("motion"))
    if block.axes and (written or in_force) == "G80":
        raise ReferenceError_("axis-words-unused", block.at(AXES[min(block.axes)]))
    if written == "G80":
        return None
    return written or (in_force if block.axes else None)


def refuse_unused(block: Block, motion: str | None) -> None:
    """Words that nothing on the line uses (D: section B.5; the others from memory)."""
    once = block.codes.get("once")
    used = set()
    if motion in ("G2", "G3", "G87"):
        used |= set("ijk")
    if motion in ("G2", "G3", *CYCLES):
        used |= set("r")
    if motion in CYCLES:
        used |= set("l")
    if motion in _DWELLING or once in ("G4", "G10"):
        used |= set("p")
    if once == "G10":
        used |= set("l")
    if motion == "G83":
        used |= set("q")
    for letter in "ijklpqr":
        if letter in block.numbers and letter not in used:
            raise ReferenceError_("word-unused", block.at(letter))
    if "d" in block.numbers and block.codes.get("compensation") not in ("G41", "G42"):
        raise ReferenceError_("d-unused", block.at("d"))
    if "h" in block.numbers and block.codes.get("length") != "G43":
        raise ReferenceError_("h-unused", block.at("h"))
