"""One line of text, read to its items (section 3.3 and the productions of appendix E).

Values are worked out while they are read, with the parameters as they stood before the line
(sections 3.3.2.3 and 3.3.3), so reading needs the parameters and nothing else of the state.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from reference.arithmetic import FUNCTIONS, PRECEDENCE, arc_tangent, binary, unary, whole
from reference.fault import ReferenceError_

LONGEST_LINE = 256
LETTERS = "abcdfghijklmpqrstxyz"
_LEGAL = set("abcdefghijklmnopqrstuvwxyz0123456789+-*/.=#[]()% \t")
_MESSAGE = re.compile(r"[ \t]*m[ \t]*s[ \t]*g[ \t]*,(.*)", re.IGNORECASE | re.DOTALL)


@dataclass(frozen=True, slots=True)
class Word:
    """A letter (lower case) and its value."""

    letter: str
    value: float
    column: int


@dataclass(frozen=True, slots=True)
class Setting:
    """`#index = value`."""

    index: int
    value: float
    column: int


@dataclass(frozen=True, slots=True)
class Line:
    """The items of a line, in the order of the text."""

    deleted: bool
    number: int | None
    words: tuple[Word, ...]
    settings: tuple[Setting, ...]
    comments: tuple[str, ...]

    @property
    def message(self) -> str | None:
        """What the operator is shown: only the last comment acts (section 3.3.5)."""
        if not self.comments:
            return None
        found = _MESSAGE.fullmatch(self.comments[-1])
        return found.group(1) if found else None


def read_line(text: str, parameters: Mapping[int, float], *, semicolons: bool = True) -> Line:
    """Read one line without its end-of-line characters.

    A `;` comment is no part of the language; it is common practice, and `semicolons=False`
    turns it into the bad character that appendix E makes of it. It never carries a message and
    never hides one.

    Raises ReferenceError_ for the leftmost thing that cannot be read.
    """
    if len(text) > LONGEST_LINE:
        raise ReferenceError_("line-too-long", LONGEST_LINE)
    return _Reader(text, parameters, semicolons).line()


class _Reader:
    """A cursor on the text that steps over spaces and tabs, which mean nothing (section 3.3)."""

    def __init__(self, text: str, parameters: Mapping[int, float], semicolons: bool) -> None:
        self.text = text
        self.at = 0
        self.parameters = parameters
        self.semicolons = semicolons
        self._skip()

    def _skip(self) -> None:
        while self.at < len(self.text) and self.text[self.at] in " \t":
            self.at += 1

    def peek(self) -> str:
        """The next character that counts, in lower case; empty at the end."""
        return self.text[self.at].lower() if self.at < len(self.text) else ""

    def take(self) -> str:
        character = self.peek()
        self.at += 1
        self._skip()
        return character

    def matches(self, name: str) -> bool:
        """Step over `name` if it comes next, whatever its case and spacing."""
        start = self.at
        for character in name:
            if self.peek() != character:
                self.at = start
                return False
            self.take()
        return True

    def digits(self) -> str:
        run = ""
        while self.peek() and self.peek() in "0123456789":
            run += self.take()
        return run

    def line(self) -> Line:
        deleted = self.peek() == "/"
        if deleted:
            self.take()
        number = self.line_number() if self.peek() == "n" else None
        words: list[Word] = []
        settings: list[Setting] = []
        comments: list[str] = []
        while self.peek():
            character = self.peek()
            if character == "(":
                comments.append(self.comment())
            elif character == ";" and self.semicolons:
                self.trailing_comment()
            elif character == "#":
                settings.append(self.setting())
            elif character in LETTERS:
                words.append(self.word())
            else:
                raise ReferenceError_(self.unreadable(character), self.at)
        return Line(deleted, number, tuple(words), tuple(settings), tuple(comments))

    def unreadable(self, character: str) -> str:
        if character == "/":
            return "block-delete-misplaced"
        if character == "n":
            return "line-number-misplaced"
        if character == "]":
            return "bracket-unbalanced"
        return "unknown-letter" if character in "eouvw" else "bad-character"

    def line_number(self) -> int:
        column = self.at
        self.take()
        run = self.digits()
        if not 1 <= len(run) <= 5 or (self.peek() and self.peek() in ".+-"):
            raise ReferenceError_("line-number-bad", column)
        return int(run)

    def comment(self) -> str:
        start = self.at
        end = start + 1
        while end < len(self.text) and self.text[end] != ")":
            if self.text[end] == "(":
                raise ReferenceError_("comment-nested", end)
            _printable(self.text[end], end)
            end += 1
        if end == len(self.text):
            raise ReferenceError_("comment-open", start)
        self.at = end + 1
        self._skip()
        return self.text[start + 1 : end]

    def trailing_comment(self) -> None:
        for column in range(self.at + 1, len(self.text)):
            _printable(self.text[column], column)
        self.at = len(self.text)

    def setting(self) -> Setting:
        column = self.at
        index = self.index()
        if self.peek() != "=":
            raise ReferenceError_("setting-without-equals", column)
        self.take()
        return Setting(index, self.real("value-missing"), column)

    def word(self) -> Word:
        column = self.at
        letter = self.take()
        return Word(letter, self.real("word-without-value"), column)

    def index(self) -> int:
        """`#` and the number of a parameter: an integer from 1 to 5399 (section 3.3.2.2)."""
        column = self.at
        self.take()
        index = whole(self.real("value-missing"))
        if index is None or not 1 <= index <= 5399:
            raise ReferenceError_("parameter-index", column)
        return index

    def real(self, missing: str) -> float:
        """A number, a parameter's value, an expression or a function of one."""
        character = self.peek()
        if not character:
            raise ReferenceError_(missing, self.at)
        if character in "0123456789+-.":
            return self.number()
        if character == "#":
            return self.parameters.get(self.index(), 0.0)
        if character == "[":
            return self.expression()
        if character.isascii() and character.isalpha():
            return self.function(missing)
        raise ReferenceError_(missing if character in _LEGAL else "bad-character", self.at)

    def number(self) -> float:
        """Digits with an optional sign and one optional point; no exponent (3.3.2.1)."""
        column = self.at
        sign = self.take() if self.peek() in "+-" else ""
        before = self.digits()
        point = self.take() if self.peek() == "." else ""
        after = self.digits() if point else ""
        # An E right behind the digits is meant as an exponent; elsewhere it is a strange letter.
        exponent = self.peek() == "e" and self.text[self.at - 1] not in " \t"
        if not before + after or self.peek() == "." or exponent:
            raise ReferenceError_("bad-number", column)
        return float(f"{sign}{before or '0'}.{after or '0'}")

    def expression(self) -> float:
        column = self.at
        self.take()
        values = [self.real("value-missing")]
        operators: list[tuple[str, int]] = []
        while self.peek() != "]":
            operators.append(self.operator(column))
            values.append(self.real("value-missing"))
        self.take()
        for group in PRECEDENCE:
            _fold(group, values, operators)
        return values[0]

    def operator(self, opening: int) -> tuple[str, int]:
        column = self.at
        if not self.peek():
            raise ReferenceError_("bracket-unbalanced", opening)
        for group in PRECEDENCE:
            for name in group:
                if self.matches(name):
                    return name, column
        raise ReferenceError_("unknown-operation", column)

    def function(self, missing: str) -> float:
        column = self.at
        for name in FUNCTIONS:
            if self.matches(name):
                if self.peek() != "[":
                    raise ReferenceError_("function-without-bracket", column)
                value = self.expression()
                return self.over(value, column) if name == "atan" else unary(name, value, column)
        run = ""
        while self.peek().isalpha():
            run += self.take()
        called = len(run) > 1 and self.peek() == "["
        raise ReferenceError_("unknown-operation" if called else missing, column)

    def over(self, rise: float, column: int) -> float:
        """The second half of ATAN[..]/[..], which may not be left out (3.3.2.4)."""
        if self.peek() != "/":
            raise ReferenceError_("atan-form", column)
        self.take()
        if self.peek() != "[":
            raise ReferenceError_("atan-form", column)
        return arc_tangent(rise, self.expression())


def _printable(character: str, column: int) -> None:
    if character != "\t" and not character.isprintable():
        raise ReferenceError_("bad-character", column)


def _fold(group: tuple[str, ...], values: list[float], operators: list[tuple[str, int]]) -> None:
    """Carry out the operations of one precedence group, left to right, in place."""
    at = 0
    while at < len(operators):
        name, column = operators[at]
        if name in group:
            values[at : at + 2] = [binary(name, values[at], values[at + 1], column)]
            del operators[at]
        else:
            at += 1
