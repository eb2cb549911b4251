"""The grammar of one line, after RS274/NGC (NISTIR 6556) section 3.3 and appendix E.

`scan` takes a line apart, column by column, and never raises: what is wrong with a line is in its
`faults`. Comments to the end of the line (`;`) are common practice and read too. Letters are
case-insensitive, spaces and tabs have no meaning outside comments (3.3).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from headrace.program.expression import Expression, Reader, ReadingError
from headrace.program.numbers import plain

LETTERS = frozenset("ABCDFGHIJKLMNPQRSTXYZ")

_LONGEST_HEADING = 8
"""Program numbers have four or five digits as a rule (common practice)."""


@dataclass(frozen=True, slots=True)
class Word:
    """A letter and its value. `start` and `end` are columns (from 0) in the line's text.

    `value` is the exact number, or None where the value is a parameter or an expression.
    """

    letter: str
    value: Decimal | None
    expression: Expression | None
    start: int
    end: int

    @property
    def code(self) -> str:
        """Letter and number in one spelling: `G01` and `g1.0` are both `G1`."""
        return f"{self.letter}{plain(self.value)}" if self.value is not None else self.letter


@dataclass(frozen=True, slots=True)
class Setting:
    """`#index = value`, both expressions."""

    index: Expression
    value: Expression
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Heading:
    """An O word: the number of a program, or what a line says of a subprogram (common practice;
    RS274/NGC has no O words). `says` is `sub`, `endsub`, `call`, or nothing."""

    number: int
    says: str
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Comment:
    """A comment; `text` is what stands inside, `start` and `end` are those of the whole."""

    text: str
    start: int
    end: int
    semicolon: bool

    @property
    def message(self) -> str | None:
        """What is shown to the operator, where the comment is a message (3.3.4)."""
        head, comma, rest = self.text.partition(",")
        is_message = comma and head.replace(" ", "").replace("\t", "").upper() == "MSG"
        return rest if is_message and not self.semicolon else None


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong, where: `name` is a kind of finding, columns count from 0.

    A fault that is not `fatal` leaves no doubt about the words of the line.
    """

    name: str
    what: str
    column: int
    length: int = 1
    fatal: bool = True


@dataclass(frozen=True, slots=True)
class Scan:
    """One line, taken apart. After a fatal fault the items end where it stands."""

    text: str
    block_delete: bool
    number: str | None
    number_span: tuple[int, int] | None
    words: tuple[Word, ...]
    settings: tuple[Setting, ...]
    comments: tuple[Comment, ...]
    percent: bool
    faults: tuple[Fault, ...]
    heading: Heading | None = None

    @property
    def is_code(self) -> bool:
        """Whether the line holds anything to do: a word, a setting, a subprogram's beginning, end
        or call, or a fatal fault."""
        said = self.heading is not None and self.heading.says != ""
        return bool(self.words or self.settings or said or self.fatal)

    @property
    def fatal(self) -> Fault | None:
        """The fault behind which the line could not be read, if there is one."""
        return next((fault for fault in self.faults if fault.fatal), None)


def scan(text: str) -> Scan:
    """Take one line (without line end) apart."""
    comments, faults, blank = _comments(text)
    faults.extend(_unprintable(comments))
    reader = Reader(text, blank)
    words: list[Word] = []
    settings: list[Setting] = []
    block_delete = False
    number: str | None = None
    number_span: tuple[int, int] | None = None
    heading: Heading | None = None
    percent = False
    if reader.peek() == "%":
        percent = True
        reader.take()
        if reader.peek():
            faults.append(
                Fault("bad-character", "text beside the % sign", reader.column, len(reader.peek()))
            )
    else:
        try:
            if reader.peek() == "/":
                reader.take()
                block_delete = True
            if reader.peek() == "N":
                number, number_span = _line_number(reader)
            if reader.peek() == "O":
                heading = _heading(reader)
            while reader.peek():
                _item(reader, words, settings)
        except ReadingError as trouble:
            faults.append(Fault(trouble.name, str(trouble), trouble.column, trouble.length))
    return Scan(
        text=text,
        block_delete=block_delete,
        number=number,
        number_span=number_span,
        words=tuple(words),
        settings=tuple(settings),
        comments=tuple(comments),
        percent=percent,
        faults=tuple(faults),
        heading=heading,
    )


def _item(reader: Reader, words: list[Word], settings: list[Setting]) -> None:
    """One word or parameter setting."""
    start = reader.column
    character = reader.take()
    if character == "#":
        index = reader.real()
        if reader.peek() != "=":
            raise ReadingError("setting-without-equals", "a parameter as an item needs `=`", start)
        reader.take()
        settings.append(Setting(index, reader.real(), start, reader.behind))
        return
    if character == "N":
        raise ReadingError(
            "line-number-misplaced", "a line number must come first on its line", start
        )
    if character not in LETTERS:
        joined = words and words[-1].end == start and words[-1].value is not None
        if character == "E" and joined and reader.at_number():
            raise ReadingError("exponent", "numbers have no exponent in this language", start)
        if character.isascii() and character.isalpha():
            raise ReadingError("unknown-letter", f"no word starts with {character}", start)
        raise ReadingError("bad-character", f"{character!r} has no meaning here", start)
    if not reader.at_value():
        raise ReadingError("word-without-value", f"{character} has no number", start)
    if reader.at_number():
        value = reader.number()
        words.append(Word(character, value, None, start, reader.behind))
    else:
        words.append(Word(character, None, reader.real(), start, reader.behind))


def _heading(reader: Reader) -> Heading:
    """An O word, which has its line to itself."""
    start = reader.column
    reader.take()
    if reader.peek() == "<":
        raise ReadingError("subprogram", "a subprogram that has a name for a number", start)
    digits = reader.digits()
    if not digits:
        raise ReadingError("unknown-letter", "no word starts with O", start)
    if len(digits) > _LONGEST_HEADING:
        raise ReadingError("subprogram", "a program number of too many digits", start)
    says = ""
    while reader.peek().isalpha() and reader.peek().isascii():
        says += reader.take().lower()
    end = reader.behind
    if reader.peek() == "[" and says == "call":
        what = "values that are handed over to a subprogram are not followed"
        raise ReadingError("subprogram", what, reader.column)
    if reader.peek() and reader.peek() != "[":
        raise ReadingError("subprogram", "a program number has its line to itself", start)
    if says not in ("", "sub", "endsub", "call"):
        what = f"`O{digits} {says}` is not followed: only sub, endsub and call are"
        raise ReadingError("subprogram", what, start, end - start)
    return Heading(int(digits), says, start, end)


def _line_number(reader: Reader) -> tuple[str, tuple[int, int]]:
    start = reader.column
    reader.take()
    digits = reader.digits()
    if not digits or reader.peek() in ("+", "-", "."):
        raise ReadingError("line-number-bad", "a line number is one to five plain digits", start)
    return digits, (start, reader.behind)


def _comments(text: str) -> tuple[list[Comment], list[Fault], list[tuple[int, int]]]:
    """The comments, what is wrong with them, and the spans that they take.

    The standard ends a comment at the first `)` and forbids a second `(` before it. Controllers
    differ there, so nested ones are taken as a whole and reported.
    """
    comments: list[Comment] = []
    faults: list[Fault] = []
    spans: list[tuple[int, int]] = []
    column = 0
    while column < len(text):
        character = text[column]
        if character == ";":
            comments.append(Comment(text[column + 1 :], column, len(text), True))
            spans.append((column, len(text)))
            break
        if character == "(":
            end, nested = _closing(text, column)
            if nested:
                faults.append(
                    Fault(
                        "comment-nested", "a comment inside a comment", column, end - column, False
                    )
                )
            closed = end <= len(text)
            if not closed:
                end = len(text)
                faults.append(
                    Fault(
                        "comment-open", "a comment that is not closed", column, end - column, False
                    )
                )
            inside = text[column + 1 : end - 1] if closed else text[column + 1 :]
            comments.append(Comment(inside, column, end, False))
            spans.append((column, end))
            column = end
            continue
        column += 1
    return comments, faults, spans


def _unprintable(comments: list[Comment]) -> Iterator[Fault]:
    """Comments hold printable characters, blanks and tabs (3.3.4)."""
    for comment in comments:
        for at, character in enumerate(comment.text):
            if (character < " " and character != "\t") or character == "\x7f":
                what = f"a control character, {character!r}, in a comment"
                column = comment.start + 1 + at
                yield Fault("comment-unprintable", what, column, fatal=False)
                break


def _closing(text: str, start: int) -> tuple[int, bool]:
    """Where the comment at `start` ends (past the text if it does not), and if it is nested."""
    depth = 0
    nested = False
    for column in range(start, len(text)):
        if text[column] == "(":
            depth += 1
            nested = nested or depth > 1
        elif text[column] == ")":
            depth -= 1
            if depth == 0:
                return column + 1, nested
    return len(text) + 1, nested
