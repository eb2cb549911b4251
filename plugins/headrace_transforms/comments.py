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
    head, tail = _around(line, staying)
    texts = [_text(comment, room, ascii_only) for comment in wanted if comment is not staying]
    code = f"{head} {tail}".strip() if head and tail else head or tail
    new = code
    if staying is not None:
        free = machine.line_length - len(code) - 3 if code else room
        text = _text(staying, min(room, free), ascii_only) if free >= _LEAST_ROOM else None
        if text is None:
            if _is_stop(job, line):
                what = f"the comment of line {line.index + 1} has no room on that line"
                raise refusal("line-no-room", what, place=place_of(job.program, line))
            texts.append(_text(staying, room, ascii_only))
        elif machine.comments.parentheses and tail.strip():
            new = f"{head}({text}){tail}"
        else:
            blank = " " if code and not head.endswith((" ", "\t")) and line.text != head + "(" else ""
            new = _behind(machine, line, staying, head or code, text, blank)
    rows = [styled(machine, text) for text in texts]
    if rows:
        yield before(line.index, *rows)
    if new == line.text:
        return
    yield replace(line.index, new) if new.strip() else delete(line.index)
