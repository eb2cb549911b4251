"""Comments in the style of the machine."""

from __future__ import annotations

import re
from collections.abc import Iterator

from headrace import Comment, Edit, Facet, Job, Line, Machine, before, delete, replace, transform
from headrace_transforms.refusing import place_of, refusal
from headrace_transforms.wording import comment as styled
from headrace_transforms.wording import folded

_STOPS = frozenset((0, 1, 60))
_MARK = re.compile(r"(?i)\s*M\s*S\s*G\s*,\s*")
_LEAST_ROOM = 8
"""A comment that would have less room than this beside its line's words gets its own line."""


@transform(
    "comments",
    changes=[Facet.COMMENTS],
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
    of their own before it. A text that is too long ends in `..`. Words stay as they are.

        G0 X0 ; über die Fluglochkante        ->        G0 X0 (uber die Flugloc..)
    """
    program, machine = job.program, job.machine
    room = min(width or machine.line_length, machine.line_length - 2)
    fine = _fine(machine, room) if keep == "all" else None
    last = min(job.landmarks.end, len(program) - 1)
    for index in program.lines_with_comments():
        if index > last:
            break
        line = program[int(index)]
        raw = line.raw
        if fine is not None and len(raw) <= machine.line_length and fine.fullmatch(raw):
            continue
        wanted = _wanted(job, line, keep)
        yield from _rewritten(job, line, wanted, room, ascii)


def _fine(machine: Machine, room: int) -> re.Pattern[bytes] | None:
    """Matches lines that need no look: one closed comment of plain ASCII, short enough."""
    if not machine.comments.parentheses:
        return None
    pattern = rb"[^();\r\n\x80-\xff]*\([ -'*-:<-~]{1,%d}\)[^();\r\n\x80-\xff]*[\r\n]*" % room
    return re.compile(pattern)


def _wanted(job: Job, line: Line, keep: str) -> list[Comment]:
    """The comments of a line that are kept."""
    if job.machine.comments.style == "none":
        return []
    found = [comment for comment in line.comments if comment.text.strip()]
    if keep == "all" or line.origin is None or _is_stop(job, line):
        return found
    following = line.index + 1
    if not line.is_code and following < len(job.program) and _is_stop(job, job.program[following]):
        return found
    return [comment for comment in found if comment.message is not None]


def _is_stop(job: Job, line: Line) -> bool:
    return line.has("M", *(_STOPS | job.dialect.stops))


def _rewritten(
    job: Job, line: Line, wanted: list[Comment], room: int, ascii_only: bool
) -> Iterator[Edit]:
    """The edits of one line."""
    machine = job.machine
    messages = [comment for comment in wanted if comment.message is not None]
    staying = (messages or wanted)[-1] if wanted else None
    bare = _with_comment(machine, line, None, "")
    moved = [comment for comment in wanted if comment is not staying]
    new = bare
    if staying is not None:
        beside = len(_with_comment(machine, line, staying, ""))
        free = min(room, machine.line_length - beside)
        if free < min(_LEAST_ROOM, room, len(staying.text)):
            if _is_stop(job, line):
                what = f"the comment of line {line.index + 1} has no room on that line"
                raise refusal("line-no-room", what, place=place_of(job.program, line))
            moved.append(staying)
        else:
            new = _with_comment(machine, line, staying, _text(staying, free, ascii_only))
    if moved:
        texts = (_text(comment, room, ascii_only) for comment in moved)
        yield before(line.index, *(styled(machine, text) for text in texts))
    if new != line.text:
        yield replace(line.index, new) if new.strip() else delete(line.index)


def _with_comment(machine: Machine, line: Line, staying: Comment | None, text: str) -> str:
    """The line with one of its comments spelt `text` and without the others."""
    inside = machine.comments.parentheses
    new = line.text
    for comment in reversed(line.comments):
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
    text = comment.text.strip() if comment.semicolon else comment.text
    text = "".join(character if character.isprintable() else " " for character in text)
    text = text.translate(str.maketrans("();", "[],"))
    if ascii_only:
        text = folded(text)
    mark = _MARK.match(text) if comment.message is not None else None
    head = mark.group() if mark else ""
    return head + _shortened(text[len(head) :], max(room - len(head), 2))


def _shortened(text: str, room: int) -> str:
    """`text`, or as much of it as leaves room for two points.

    >>> _shortened("ENTRANCE REDUCER", 12), _shortened("LID", 12)
    ('ENTRANCE R..', 'LID')
    """
    if len(text) <= room:
        return text
    return text[: room - 2].rstrip() + ".."
