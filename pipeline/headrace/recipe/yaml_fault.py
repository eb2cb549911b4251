"""What a YAML reader complains of, in plain words and at a useful place."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

from headrace.findings import Finding, Place
from headrace.recipe.source_text import SourceText

if TYPE_CHECKING:
    from yaml.error import Mark

# The two readers word their complaints differently; a pattern fits both.
_PLAIN_WORDS = (
    (r"mapping values are not allowed",
     "a `:` too many, or a line that is indented further than the one above allows",
     "put text that holds `: ` in quotes, line up the keys of one mapping, and leave a blank behind"
     " the `:` of a key"),
    (r"(block )?sequence entries are not allowed", "a list cannot begin here",
     "begin the list on a line of its own, or write it in brackets"),
    (r"expected (<block end>|key|'-' indicator)|'-' indicator",
     "this line fits neither the lines above it nor a new part",
     "line it up with the lines that it belongs to"),
    (r"could not find expected ':'", "a key without `: ` behind it",
     "write `key: value`, with a blank after the colon"),
    (r"unknown escape|hexdecimal|hexadecimal|escape code|chr\(\)",
     "a backslash in double quotes begins an escape, and there is none like this",
     "use single quotes, or write the backslash twice"),
    (r"node content", "a value is missing here, or a closing bracket is too many",
     "write the value, or take the bracket out"),
    (r"',' or", "the brackets are not closed, or a comma is missing",
     "separate the values by commas and close the brackets"),
    (r"alphabetic or numeric character", "`&` and `*` mean something else in YAML",
     "put the text in quotes"),
    (r"document start", "this stands behind the end of the whole",
     "take it out, or line it up with what it belongs to"),
    (r"directive", "a line that begins with `%` is an instruction to YAML readers",
     "put the text in quotes, or take the line out"),
    (r"comment or line break|chomping|indentation indicator",
     "text behind `|` or `>` belongs on the lines below it",
     "begin the text on the next line, or put it in quotes"),
)  # fmt: skip


def yaml_fault(error: Exception, source: SourceText, opened: Place | None) -> Finding:
    """The finding for what went wrong while YAML was read.

    `opened` is the place of the innermost bracket that was still open.
    """
    problem = str(getattr(error, "problem", None) or "")
    context = str(getattr(error, "context", None) or "")
    mark: Mark | None = getattr(error, "problem_mark", None)
    opening: Mark | None = getattr(error, "context_mark", None)
    if mark is None:
        return _finding(str(error), source.place(0, 0))
    place = source.place(mark.line, mark.column)
    if "depth" in problem:
        return Finding.of("recipe-too-deep", "brackets in brackets without end", place)
    if _at_end(mark, source):
        if opening is not None and "quoted" in context:
            return _never_closed(source.place(opening.line, opening.column))
        if opened is not None:
            return _never_closed(opened)
    character = place.excerpt[place.column - 1 : place.column]
    if "cannot start any token" in problem:
        if character == "\t":
            return Finding.of("recipe-tab", "a tab stands where a line is indented", place)
        return Finding.of(
            "recipe-syntax", f"a value cannot begin with {character}", place,
            remedy="put the text in quotes",
        )  # fmt: skip
    return _finding(problem or context, place)


def _at_end(mark: Mark, source: SourceText) -> bool:
    rest = source.lines[mark.line : mark.line + 1]
    return not any(line[mark.column :].strip() for line in rest) and not any(
        line.strip() for line in source.lines[mark.line + 1 :]
    )


def _never_closed(place: Place) -> Finding:
    mark = place.excerpt[place.column - 1]
    what = f"the {mark} that opens here is never closed"
    return Finding.of("recipe-syntax", what, replace(place, length=1), remedy="close it")


def _finding(problem: str, place: Place) -> Finding:
    for pattern, what, remedy in _PLAIN_WORDS:
        if re.search(pattern, problem):
            return Finding.of("recipe-syntax", what, place, remedy=remedy)
    first = problem.splitlines()[0] if problem else "it cannot be read"
    return Finding.of("recipe-syntax", f"this is not YAML: {first}", place)
