"""A light view of one line."""

from __future__ import annotations

from decimal import Decimal

from headrace.program.edits import Cause
from headrace.program.grammar import Comment, Scan, Word
from headrace.program.lineage import Lineage
from headrace.program.text import Text


class Line:
    """One line of a program. `index` counts from 0 in the program."""

    __slots__ = ("_at", "_job_lines", "_lineage", "_scan", "_text", "index")

    def __init__(self, index: int, text: Text, at: int, lineage: Lineage, job_lines: int) -> None:
        self.index: int = index
        self._job_lines = job_lines
        self._scan: Scan | None = None
        self._text = text
        self._at = at
        self._lineage = lineage

    def __repr__(self) -> str:
        return f"<line {self.index + 1}: {self.text!r}>"

    @property
    def raw(self) -> bytes:
        """The bytes, line end included."""
        return self._text.raw(self._at)

    @property
    def text(self) -> str:
        """The characters without line end."""
        return self._text.line_text(self._at)

    @property
    def scan(self) -> Scan:
        """The line taken apart."""
        if self._scan is None:
            self._scan = self._text.scan(self._at)
        return self._scan

    @property
    def words(self) -> tuple[Word, ...]:
        """The words, in the order in which they stand."""
        return self.scan.words

    @property
    def comments(self) -> tuple[Comment, ...]:
        """The comments, in the order in which they stand."""
        return self.scan.comments

    @property
    def is_code(self) -> bool:
        """Whether the line does anything: neither blank, nor a comment, nor a % line."""
        return self.scan.is_code

    @property
    def origin(self) -> int | None:
        """The job's own line (from 0), or None where a step added the line."""
        return self.id if self.id < self._job_lines else None

    @property
    def id(self) -> int:
        """What stays with the line through all steps, even when its text is replaced."""
        return int(self._lineage.ids_of(self._at, self._at + 1)[0])

    @property
    def cause(self) -> Cause | None:
        """The last step that wrote this line, or None as CAM wrote it."""
        return self._lineage.cause(self._at)

    @property
    def asks(self) -> str | None:
        """What the operator confirms by going on after this line."""
        return self._lineage.asks.get(self._at)

    def get(self, letter: str) -> Decimal | None:
        """The number of the first word with this letter; None without one, or with an expression.

        >>> # M3 S18000: line.get("S") gives Decimal("18000")
        """
        for word in self.words:
            if word.letter == letter:
                return word.value
        return None

    def has(self, letter: str, *numbers: float) -> bool:
        """Whether a word with this letter stands here; with numbers, whether it has one of them."""
        return any(
            word.letter == letter
            and (not numbers or (word.value is not None and float(word.value) in numbers))
            for word in self.words
        )

    def without(self, *words: Word) -> str:
        """The text with these words cut out, the rest as it was written."""
        return self.rewritten(dict.fromkeys(words, ""))

    def rewritten(self, spelling: dict[Word, str]) -> str:
        """The text with some words spelt anew; with "" a word and the blanks before it go."""
        text = self.text
        for word in sorted(spelling, key=lambda w: w.start, reverse=True):
            head, tail = text[: word.start], text[word.end :]
            if not spelling[word]:
                head = head.rstrip(" \t")
                if not head:
                    tail = tail.lstrip(" \t")
            text = head + spelling[word] + tail
        return text
