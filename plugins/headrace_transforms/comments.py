"""Comments in the style of the machine."""

from __future__ import annotations

import re
from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

from headrace import Comment, Edit, Facet, Job, Machine, Program, transform
from headrace_transforms.lines.line_changes import Change, edits
from headrace_transforms.lines.text_lines import BOM, lines_of, stretch, text_of
from headrace_transforms.telling.refusing import place_of, refusal
from headrace_transforms.telling.wording import folded

_STOPS = frozenset((0, 1, 60))
_MARK = re.compile(r"(?i)\s*M\s*S\s*G\s*,\s*")
_MARKS = str.maketrans("();", "[],")
_SOUND = re.compile(r"(?:[^();]++|\([^()]*+\))*+(?:;.*+)?", re.DOTALL)
_EACH = re.compile(r"\(([^()]*+)\)|;(.*+)", re.DOTALL)
_ONE = re.compile(r"([^();]*+)(?:\(([^()]*+)\)([^();]*+)|;(.*+))", re.DOTALL)
_ENDLESS = 1 << 16
_FEW = 16
"""Lines that are fewer than one in so many are looked up one by one."""
_LEAST_ROOM = 8
"""A comment that would have less room than this beside its line's words gets its own line."""


@transform(
    "comments",
    changes=[Facet.COMMENTS, Facet.PAUSE_TEXTS],
    options={
        "keep": {
            "description": "all: every comment stays; none: those of CAM go, but for messages and"
            " for the texts of pauses.",
            "enum": ["all", "none"],
            "default": "all",
        },
        "width": {
            "type": "integer",
            "description": "The most characters of a comment's text, without unit; when left out,"
            " as many as the machine reads of a line.",
            "minimum": 4,
            "maximum": 254,
            "examples": [20],
        },
        "ascii": {
            "type": "boolean",
            "description": "Whether accents are dropped and other signs become `?`; true or false.",
            "default": True,
        },
    },
    idempotent=True,
)
def comments(
    job: Job,
    *,
    keep: str,
    width: int | None,
    ascii: bool,  # noqa: A002 - the option's name
) -> Iterator[Edit]:
    """Write comments the way the machine reads them: its style, one a line, short and ASCII.

    Of several comments on a line the last one stays there, or the message; the others get lines
    of their own before it. A text that is too long ends in `..`, but for what a pause asks: that
    must fit, or the job is refused. Words stay as they are.

        G0 X0 ; über die Fluglochkante        ->        G0 X0 (uber die Flugloc..)
    """
    lines = job.program.lines_with_comments()
    lines = lines[lines <= job.landmarks.end]
    if len(lines):
        yield from edits(job.program, _Rewriting(job, keep, width, ascii).changes(lines))


class _Rewriting:
    """How the comments of a job become those of its machine."""

    def __init__(self, job: Job, keep: str, width: int | None, ascii_only: bool) -> None:
        machine = job.machine
        self.job = job
        self.machine = machine
        self.keep_all = keep == "all"
        self.ascii_only = ascii_only
        self.room = min(width or machine.line_length, machine.line_length - 2)
        self.fine = _fine(machine, self.room) if self.keep_all else None
        stops = job.program.lines_with("M", *(_STOPS | job.dialect.stops))
        self.stops = frozenset(stops.tolist())

    def changes(self, lines: npt.NDArray[np.int64]) -> Iterator[Change]:
        """The changes of some lines (ascending)."""
        program, longest = self.job.program, self.machine.line_length
        fine = self.fine
        owns, raws = program.own(lines).tolist(), _raws(program, lines)
        for index, own, raw in zip(lines.tolist(), owns, raws, strict=True):
            if fine is not None and len(raw) <= longest and fine.fullmatch(raw):
                continue
            text = text_of(raw if index else raw.removeprefix(BOM))
            asking = index in self.stops or index + 1 in self.stops
            if not asking and (quick := self._quick(text)) is not None:
                if quick != text:
                    yield Change(index, raw, quick)
                continue
            found = _comments(text)
            if found is None:
                found = list(program[index].comments)
            wanted = self._wanted(index, own, found)
            new, moved = self._rewritten(index, text, found, wanted)
            if asking:
                self._require_whole(index, wanted, (new, *moved))
            if moved or new != text:
                yield Change(index, raw, new, moved)

    def _quick(self, line: str) -> str | None:
        """The new line where nothing is to be decided: it holds one comment, which is no message,
        stays and has room. None for all other lines."""
        one = _ONE.fullmatch(line) if self.fine is not None else None
        if one is None:
            return None
        head, inside, tail, behind = one.groups("")
        text = inside or behind
        free = min(self.room, self.machine.line_length - len(head) - len(tail) - 2)
        if _MARK.match(text) or not text.strip() or free < min(_LEAST_ROOM, self.room, len(text)):
            return None
        spelt = _cleaned(text.strip() if behind else text, self.ascii_only)
        return f"{head}({_shortened(spelt, max(free, 2))}){tail}"

    def _require_whole(self, index: int, wanted: list[Comment], lines: tuple[str, ...]) -> None:
        """JobRefused where what a pause asks for would be cut short."""
        for comment in wanted:
            text = _text(comment, _ENDLESS, self.ascii_only)
            if not any(text in line for line in lines):
                what = f"a pause would not show all of {text!r}: there is room for {self.room}"
                place = place_of(self.job.program, self.job.program[index])
                remedy = "use a shorter text there, or give `width` more"
                raise refusal("text-too-long", what, place=place, remedy=remedy)

    def _wanted(self, index: int, own: bool, found: list[Comment]) -> list[Comment]:
        """The comments of a line that are kept; `own` says whether the line is the job's own."""
        if self.machine.comments.style == "none":
            return []
        full = [comment for comment in found if comment.text.strip()]
        if self.keep_all or not own or index in self.stops:
            return full
        if index + 1 in self.stops and not self.job.program[index].is_code:
            return full
        return [comment for comment in full if comment.message is not None]

    def _rewritten(
        self, index: int, text: str, found: list[Comment], wanted: list[Comment]
    ) -> tuple[str, list[str]]:
        """The new line, and the comment lines that go before it; JobRefused where the text of a
        pause has no room beside it."""
        machine, room = self.machine, self.room
        if not wanted:
            return _with_comment(machine, text, found, None, ""), []
        staying = ([comment for comment in wanted if comment.message is not None] or wanted)[-1]
        moved = [comment for comment in wanted if comment is not staying]
        beside = len(_with_comment(machine, text, found, staying, ""))
        free = min(room, machine.line_length - beside)
        if free < min(_LEAST_ROOM, room, len(staying.text)):
            if index in self.stops:
                what = "the comment of this line has no room beside its words"
                place = place_of(self.job.program, self.job.program[index])
                raise refusal("line-no-room", what, place=place)
            moved.append(staying)
            new = _with_comment(machine, text, found, None, "")
        else:
            spelt = _text(staying, free, self.ascii_only)
            new = _with_comment(machine, text, found, staying, spelt)
        return new, [machine.comments.written(_text(each, room, self.ascii_only)) for each in moved]


def _raws(program: Program, lines: npt.NDArray[np.int64]) -> Iterator[bytes]:
    """The bytes of some lines (ascending): one by one, or all at once where they lie close."""
    first, stop = int(lines[0]), int(lines[-1]) + 1
    if len(lines) * _FEW < stop - first:
        yield from (program[index].raw for index in lines.tolist())
        return
    all_lines = lines_of(stretch(program, first, stop))
    yield from (all_lines[index - first] for index in lines.tolist())


def _fine(machine: Machine, room: int) -> re.Pattern[bytes] | None:
    """Matches lines that need no look: one closed comment of plain ASCII, short enough."""
    if not machine.comments.parentheses:
        return None
    pattern = rb"[^();\r\n\x80-\xff]*\([ -'*-:<-~]{1,%d}\)[^();\r\n\x80-\xff]*[\r\n]*" % room
    return re.compile(pattern)


def _comments(line: str) -> list[Comment] | None:
    """The comments of a line; None where one is nested or open, which the grammar is to read."""
    if not _SOUND.fullmatch(line):
        return None
    return [
        Comment(match[match.lastindex or 0], match.start(), match.end(), match.lastindex == 2)
        for match in _EACH.finditer(line)
    ]


def _with_comment(
    machine: Machine, line: str, found: list[Comment], staying: Comment | None, text: str
) -> str:
    """A line with one of its comments spelt `text` and without the others."""
    inside = machine.comments.parentheses
    new = line
    for comment in reversed(found):
        head, tail = new[: comment.start], new[comment.end :]
        if comment is staying and inside:
            new = f"{head}({text}){tail}"
            continue
        head = head.rstrip(" \t")
        gap = " " if head and tail and tail[0] not in " \t" else ""
        new = f"{head}{gap}{tail}" if head else tail.lstrip(" \t")
    if staying is not None and not inside:
        new = f"{new.rstrip()} ; {text}" if new.strip() else f"; {text}"
    return new


def _text(comment: Comment, room: int, ascii_only: bool) -> str:
    """A comment's text: no marks that open or end a comment, not longer than `room`."""
    text = _cleaned(comment.text.strip() if comment.semicolon else comment.text, ascii_only)
    mark = _MARK.match(text) if comment.message is not None else None
    head = mark.group() if mark else ""
    return head + _shortened(text[len(head) :], max(room - len(head), 2))


def _cleaned(text: str, ascii_only: bool) -> str:
    """Without marks that open or end a comment and without characters that cannot be seen."""
    if not text.isprintable():
        text = "".join(character if character.isprintable() else " " for character in text)
    # marks last: to fold is to make an ASCII semicolon of a Greek question mark
    return (folded(text) if ascii_only else text).translate(_MARKS)


def _shortened(text: str, room: int) -> str:
    """`text`, or as much of it as leaves room for two points.

    >>> _shortened("ENTRANCE REDUCER", 12), _shortened("LID", 12)
    ('ENTRANCE R..', 'LID')
    """
    if len(text) <= room:
        return text
    return text[: room - 2].rstrip() + ".."
