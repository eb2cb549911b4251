"""What the interview writes into a machine file beside values: notes on each of them, on parts that
the machine does not have, and on what is still open.

Lines that begin with `#?` are its own, and are written anew each time; all other text stays.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from textwrap import wrap

from headrace.interview.fields import field_schema, is_required
from headrace.interview.question import Question
from headrace.recipe.node import Path
from headrace.recipe.unfinished import OPEN_MARK

WIDEST = 100
_ABSENT = re.compile(r"^# ([a-z-]+): there is none, as was answered\.\r?$", re.MULTILINE)
_OPEN = re.compile(rf"^{re.escape(OPEN_MARK)} [*-] ([a-z-]+):", re.MULTILINE)
_SHORT = {"m": "measured", "b": "by its manual", "t": "by a test file"}
_UNSAID = "how it was found is not said"
_HEAD = (
    "Still open. `headrace describe` with the name of this file asks for it;",
    "what has a * must be answered before a recipe can use the file.",
)


def beginning() -> str:
    """The text with which a new machine file begins."""
    from headrace.recipe.schema import schema

    whole = schema("machine")
    lines = wrap(f"{whole['description']} Written by `headrace describe`; mend what is wrong.", 98)
    text = "".join(f"# {line}\n" for line in lines)
    return f"{text}format: {whole['properties']['format']['const']}\n"


def found_by(said: str, card_file: str) -> str:
    """How a value was found, from what was typed behind the answer.

    >>> found_by("m", ""), found_by("a rod", ""), found_by("t", "T02DWELL")
    ('measured', 'a rod', 'by the test file T02DWELL')
    """
    if said == "t" and card_file:
        return f"by the test file {card_file}"
    return _SHORT.get(said, said) or _UNSAID


def note(path: Path, found: str, indent: int, newline: str) -> str:
    """The comment above a value: what it means and how it was found."""
    lines = wrap(f"{meaning(path)} ({found})", WIDEST - 2 - indent)
    return "".join(f"{' ' * indent}# {line}{newline}" for line in lines)


def meaning(path: Path) -> str:
    """What a field means, in the words of the machine schema."""
    return str(field_schema(path)["description"])


def absent_parts(text: str) -> frozenset[str]:
    """The parts that a file says to be absent."""
    return frozenset(_ABSENT.findall(text))


def open_ids(text: str) -> frozenset[str]:
    """The ids of the questions that a file says to be open."""
    return frozenset(_OPEN.findall(text))


def absence(part: str, newline: str) -> str:
    """The line that says so."""
    return f"# {part}: there is none, as was answered.{newline}"


def without_absence(text: str, part: str) -> str:
    """A text without that line."""
    lines = text.splitlines(keepends=True)
    return "".join(line for line in lines if _absent(line) != part)


def _absent(line: str) -> str | None:
    found = _ABSENT.match(line.rstrip("\r\n"))
    return found[1] if found else None


def without_open(text: str) -> str:
    """A text without the lines that tell what is open, and the blank one before them."""
    lines = text.splitlines(keepends=True)
    kept = [line for line in lines if not line.startswith(OPEN_MARK)]
    if len(kept) < len(lines) and lines[-1].startswith(OPEN_MARK) and not kept[-1].strip():
        kept.pop()
    return "".join(kept)


def with_open(text: str, questions: Iterable[Question], newline: str) -> str:
    """A text with such lines at its end, or without where nothing is open."""
    bare = without_open(text)
    lines = [
        line
        for question in questions
        for line in wrap(
            f"{_mark(question)} {question.id}: {question.text}",
            WIDEST - 3,
            subsequent_indent="    ",
        )
    ]
    if not lines:
        return bare
    gap = "" if bare.endswith("\n") else newline
    told = newline.join(f"{OPEN_MARK} {line}" for line in (*_HEAD, *lines))
    return f"{bare}{gap}{newline}{told}{newline}"


def _mark(question: Question) -> str:
    needed = question.needed or any(is_required(path) for path in question.fields)
    return "*" if needed else "-"
