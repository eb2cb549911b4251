"""Words that the machine does not know: taken out or refused, by name."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence

import numpy as np
import numpy.typing as npt

from headrace import Edit, Facet, Job, Line, Word, delete, replace, transform
from headrace_transforms.lines.deciding import deciding
from headrace_transforms.lines.droppable import DROPPABLE, USERS, may_change
from headrace_transforms.lines.respelling import Span, respelt
from headrace_transforms.numbers.lengths_in_force import unfounded
from headrace_transforms.numbers.systems import SYSTEMS
from headrace_transforms.paths.reach import runs
from headrace_transforms.telling.refusing import place_of, refusal

_CODE = r"[A-Z]|[GM][0-9]{1,3}(\.[0-9])?"
_EMPTY = re.compile(r"[ \t]*+/?[ \t]*+(?:[Nn][0-9 \t]*+)?")
_HEADED = re.compile(rb"(?:\A|[\r\n])[^\r\n]*?[Oo][ \t]*[0-9]")


def _facets(job: Job, *, drop: Sequence[str], refuse: Sequence[str]) -> set[Facet]:  # noqa: ARG001
    return {Facet.SPELLING, Facet.LINE_NUMBERS, *may_change(drop)}


@transform(
    "safe-words",
    changes=[
        Facet.SPELLING,
        Facet.LINE_NUMBERS,
        Facet.CORNERS,
        Facet.FEED,
        Facet.OUTPUTS,
        Facet.STOPS,
        Facet.TOOL,
    ],
    options={
        "drop": {
            "type": "array",
            "description": "Words that are taken out, such as G64, or a letter for all its words;"
            " without unit.",
            "items": {"enum": list(DROPPABLE)},
            "uniqueItems": True,
            "default": [],
            "examples": [["G43", "G49", "G64"]],
        },
        "refuse": {
            "type": "array",
            "description": "Words at which the job is refused, such as G64, or a letter for all its"
            " words; without unit.",
            "items": {"type": "string", "pattern": f"^({_CODE})$"},
            "uniqueItems": True,
            "default": [],
            "examples": [["M6"]],
        },
    },
    facets=_facets,
    idempotent=True,
)
def safe_words(job: Job, *, drop: Sequence[str], refuse: Sequence[str]) -> Iterator[Edit]:
    """Take out or refuse words that the machine does not know, each by its name.

    Nothing goes that is not named; with G43 goes its H, with G64 its P and Q. What the step may
    change by that is in its contract: corners with G64, outputs with M8; a mode such as G17 may go
    only where it says what holds anyway. Without G43 every height counts from where the tip of
    that bit was touched off, so there must be a touch for each length. The steps' own lines stay.

        G43 H1 Z15          ->        Z15
        G64 P0.05
    """
    _require_known(job, refuse, drop)
    _require_said(job, drop)
    if "G43" in drop:
        _require_touched(job)
    for line in _lines_with(job, drop):
        if line.origin is not None:
            spans = _gone(job, line, drop)
            if spans:
                text = respelt(line, dict.fromkeys(spans, ""))
                empty = _EMPTY.fullmatch(text)
                yield delete(line.index) if empty else replace(line.index, text)


def _require_known(job: Job, refuse: Sequence[str], drop: Sequence[str]) -> None:
    """JobRefused for the first word that is not to be there, and for codes that are worked out."""
    for line in _lines_with(job, refuse):
        names = [name for name, _ in _words(line)]
        names += ["O"] if line.scan.heading is not None else []
        names += ["N"] if line.scan.number is not None else []
        for name in names:
            if name in refuse or name[0] in refuse:
                what = f"{name} is among the words that `refuse` names"
                raise refusal("word-unknown-here", what, place=place_of(job.program, line))
    for letter in "GM":
        if any(word.startswith(letter) for word in (*refuse, *drop)):
            for line in _lines_with(job, letter):
                if any(word.letter == letter and word.value is None for word in line.words):
                    what = f"this line works out its {letter} code"
                    remedy = "put the step `plain-numbers` before it"
                    place = place_of(job.program, line)
                    raise refusal("numbers-not-plain", what, place=place, remedy=remedy)


def _require_said(job: Job, drop: Sequence[str]) -> None:
    """JobRefused for the first mode that is to go and says what does not hold anyway."""
    found = min(deciding(job, frozenset(drop)), key=lambda each: each.line, default=None)
    if found is None:
        return
    what = f"{found.word} says here what nothing before it has said"
    if found.since is not None:
        since = _number(job, found.since)
        what = f"{found.word} ends the {found.ends} of line {since} here"
    remedy = None
    if found.word in SYSTEMS:
        remedy = "put the step `work-offset` with `to: none` before it, which takes selections out"
    raise refusal("word-needed", what, place=job.program.place(found.line), remedy=remedy)


def _require_touched(job: Job) -> None:
    """JobRefused where heights under one tool length follow those under another one, and no touch
    lies between them."""
    found = unfounded(job)
    if found is not None:
        last, first = found
        one, other = (
            "no length" if height.length is None else f"H{height.length}" for height in found
        )
        what = (
            f"this height counts with {other}, and the one on line {_number(job, last.line)}"
            f" before it with {one}; Z is not touched off between them"
        )
        place = place_of(job.program, job.program[first.line])
        bare = None in (last.length, first.length)
        remedy = "export every height under one length, and behind it in machine coordinates (G53)"
        raise refusal("lengths-differ", what, place=place, remedy=remedy if bare else None)


def _number(job: Job, line: int) -> int:
    """A line's number in the job."""
    origin = job.program[line].origin
    return (line if origin is None else origin) + 1


def _gone(job: Job, line: Line, drop: Sequence[str]) -> list[Span]:
    """Where the words of a line stand that go; JobRefused where others on the line need them."""
    if "G43" in drop and line.has("G", 43) and not line.has("H"):
        raise _needed(job, line, "G43 has no H, so which length it takes is not known")
    heading = line.scan.heading
    spans: list[Span] = []
    if (
        "O" in drop
        and heading is not None
        and not heading.says
        and not job.trace.calls.defines(line.index)
    ):
        spans.append((heading.start, heading.end))
    words = _words(line)
    going = {name for name, _ in words if name in drop}
    kept = {name for name, _ in words if name not in drop}
    taken = "".join(DROPPABLE[name].takes for name in going)
    for name, word in words:
        users = kept.intersection(USERS.get(word.letter, ()))
        if name in drop or word.letter in drop:
            if users:
                raise _needed(job, line, f"{min(users)} needs {word.letter}")
            if word.letter == "T" and len(job.program.lines_with("M", 6)):
                raise _needed(job, line, "M6 puts the bit in that T calls")
        elif not (word.letter in taken and not users):
            continue
        spans.append((word.start, word.end))
    return spans


def _needed(job: Job, line: Line, why: str) -> Exception:
    return refusal("word-needed", why, place=place_of(job.program, line))


def _words(line: Line) -> list[tuple[str, Word]]:
    """The words of a line by their names: a code, or the letter of another word."""
    return [(word.code if word.letter in "GM" else word.letter, word) for word in line.words]


def _lines_with(job: Job, names: Iterable[str]) -> Iterator[Line]:
    """The lines that hold any of some words and are ever reached, ascending."""
    found = [np.zeros(0, np.int64)]
    for name in names:
        if name == "O":
            found.append(_headed(job))
        elif len(name) == 1:
            found.append(job.program.lines_with(name))
        else:
            found.append(job.program.lines_with(name[0], float(name[1:])))
    for index in np.unique(np.concatenate(found)).tolist():
        if runs(job, index):
            yield job.program[index]


def _headed(job: Job) -> npt.NDArray[np.int64]:
    """The lines that may hold a program number."""
    found = [np.zeros(0, np.int64)]
    for first, piece in job.program.numbered_pieces():
        text = piece.text
        if b"O" in text.data.upper():
            places = [match.end() - 1 for match in _HEADED.finditer(text.data)]
            lines = np.searchsorted(text.starts, places, "right") - 1
            found.append(lines[(lines >= piece.start) & (lines < piece.stop)] + first - piece.start)
    return np.concatenate(found)
