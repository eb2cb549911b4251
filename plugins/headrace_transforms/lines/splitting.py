"""One line as several, in the order in which it is carried out (RS274/NGC table 8)."""

from __future__ import annotations

from collections.abc import Iterator

from headrace import Job, Line, Word
from headrace_transforms.framing.ending import stop_codes
from headrace_transforms.numbers.systems import SYSTEMS

_ORDER = (
    ("G93", "G94"),
    ("F",),
    ("S",),
    ("T",),
    ("M6",),
    ("M3", "M4", "M5"),
    ("M7", "M8", "M9"),
    ("M48", "M49"),
    ("G4",),
    ("G17", "G18", "G19"),
    ("G20", "G21"),
    ("G40",),
    ("G43", "G49"),
    SYSTEMS,
    ("G61", "G61.1", "G64"),
    ("G90", "G91"),
    ("G90.1", "G91.1"),
    ("G98", "G99"),
)
"""What comes before the motion, in order. `G90.1` and `G91.1` are common practice."""
_RANK = {name: rank for rank, names in enumerate(_ORDER) for name in names}
_ALONG = {"G4": "P", "G43": "H", "G64": "PQ"}
"""Letters that belong to a code, where nothing else on the line uses them."""
_USERS = {
    "P": ("G10", "G82", "G86", "G88", "G89", "M98"),
    "Q": ("G83",),
}


def parts(job: Job, line: Line, most: int) -> list[str] | None:
    """The texts of the lines, none longer than `most`; None where the line cannot be split.

    A line with a slash, with parameters or with words that are worked out is left whole, and so is
    one that must have a number.
    """
    scan = line.scan
    if scan.block_delete or scan.settings or scan.heading is not None or scan.number is not None:
        return None
    if any(word.value is None for word in line.words):
        return None
    before, motion, behind = _sorted(job, line)
    joined = [*_packed([_text(line, words) for words in before], most),
              *(_text(line, words) for words in (motion, behind) if words)]  # fmt: skip
    return joined if len(joined) > 1 and max(map(len, joined)) <= most else None


def _sorted(job: Job, line: Line) -> tuple[list[list[Word]], list[Word], list[Word]]:
    """The words in three: those before the motion, in order and each with what belongs to it, those
    of the motion, and those behind it."""
    stops = {f"M{code}" for code in stop_codes(job)}
    names = {word.code for word in line.words}
    # under G93 each cut needs its own F (RS274/NGC 3.5.19)
    timed = job.start.inverse_time or len(job.program.lines_with("G", 93)) > 0
    before: dict[int, list[Word]] = {}
    motion: list[Word] = []
    behind: list[Word] = []
    for word in line.words:
        name = word.code if word.letter in "GM" else word.letter
        owner = next((code for code in _ALONG if code in names and name in _ALONG[code]), None)
        if owner is not None and not names.intersection(_USERS.get(name, ())):
            before.setdefault(_RANK[owner], []).append(word)
        elif name in stops:
            behind.append(word)
        elif name in _RANK and not (name == "F" and timed):
            before.setdefault(_RANK[name], []).append(word)
        else:
            motion.append(word)
    return [before[rank] for rank in sorted(before)], motion, behind


def _text(line: Line, words: list[Word]) -> str:
    return "".join(line.text[word.start : word.end] for word in words)


def _packed(texts: list[str], most: int) -> Iterator[str]:
    """Texts joined to as few lines as possible."""
    line = ""
    for text in texts:
        if line and len(line) + len(text) > most:
            yield line
            line = ""
        line += text
    if line:
        yield line
