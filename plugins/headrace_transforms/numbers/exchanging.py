"""Other numbers for some words of a job, and other texts for some lines."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from headrace import Edit, Job, Line, Numerals, Program, delete, replace, rewrite
from headrace_transforms.lines.appending import gap
from headrace_transforms.lines.line_blocks import Blocks
from headrace_transforms.lines.text_lines import lines_of
from headrace_transforms.numbers.exact import Decimals, same
from headrace_transforms.numbers.modes import Bools
from headrace_transforms.telling.refusing import refusal

Longs = npt.NDArray[np.int64]
Scales = npt.NDArray[np.int8]


@dataclass(frozen=True, slots=True, eq=False)
class Exchange:
    """Some lines of a job with their numbers (w words), and which of them are exchanged for
    `mantissa / 10**scale` (w each)."""

    numerals: Numerals
    which: Bools
    mantissa: Longs
    scale: Scales

    @classmethod
    def of(cls, job: Job, stop: int) -> list[Exchange]:
        """All lines before `stop`; nothing is exchanged yet."""
        return [
            cls(each, np.zeros(len(each), bool), each.mantissa.copy(), each.scale.copy())
            for each in Numerals.of(job.program, 0, stop)
        ]

    def words(self, letters: str) -> Bools:
        """Which words have one of some letters (w)."""
        table = np.zeros(256, bool)
        table[list(letters.encode())] = True
        return np.asarray(table[self.numerals.letter])

    def codes(self, number: float) -> Longs:
        """The G words with a number (n)."""
        numerals = self.numerals
        at = np.flatnonzero(numerals.letter == ord("G"))
        value = numerals.mantissa[at] / 10.0 ** numerals.scale[at]
        found: Longs = at[value == number]
        return found

    def put(self, at: Longs, number: Decimals) -> None:
        """Exchange the numbers of some words (n), where they are others."""
        numerals = self.numerals
        other = ~same((numerals.mantissa[at], numerals.scale[at]), number)
        self.which[at] = other
        self.mantissa[at], self.scale[at] = number


@dataclass(slots=True)
class Touch:
    """What is done to a line besides: some codes become others (or none, ""), and a further `word`
    comes behind the last one."""

    codes: Mapping[str, str] = field(default_factory=dict)
    word: str | None = None

    def text(self, line: Line) -> str:
        """The line's text with all that done."""
        spelling = {word: self.codes[word.code] for word in line.words if word.code in self.codes}
        if self.word is not None:
            last = max(line.words, key=lambda word: word.end)
            own = spelling.get(last, line.text[last.start : last.end])
            spelling[last] = own + (gap(line.text) if own else "") + self.word
        return line.rewritten(spelling)


def edits(job: Job, every: Sequence[Exchange], touched: Mapping[int, Touch]) -> Iterator[Edit]:
    """The edits that exchange the numbers, and then do to lines what `touched` says; those of which
    nothing is left are taken out."""
    lines = sorted(touched)
    for each in every:
        start, stop = each.numerals.start, each.numerals.stop
        low, high = np.searchsorted(lines, (start, stop))
        mine = lines[low:high]
        if not each.which.any():
            for line in mine:
                text = touched[line].text(job.program[line])
                yield replace(line, text) if text.strip() else delete(line)
            continue
        data = each.numerals.written(each.which, each.mantissa, each.scale)
        if not mine:
            yield rewrite(start, stop, data)
            continue
        written = Program.read(data)
        texts = {line - start: touched[line].text(written[line - start]) for line in mine}
        blocks = Blocks.of_texts(written, {at: [t] if t.strip() else [] for at, t in texts.items()})
        rows = lines_of(data)
        begun = 0
        for at, end in zip(blocks.lines.tolist(), blocks.ends.tolist(), strict=True):
            rows[at] = blocks.data[begun:end]
            begun = end
        kept = np.delete(np.arange(start, stop), blocks.lines[blocks.counts == 0])
        yield rewrite(start, stop, b"".join(rows), kept)


def require_read(job: Job, every: Sequence[Exchange], which: Callable[[int], bool]) -> None:
    """No axis words with numbers that are worked out, on the lines that `which` tells of."""
    for each in every:
        for line in each.numerals.unread.tolist():
            words = job.program[line].words
            worked_out = any(word.value is None and word.letter in "XYZABCIJKR" for word in words)
            if worked_out and which(line):
                raise refusal(
                    "numbers-not-plain",
                    "a place that is worked out while the job runs cannot be written anew",
                    place=job.program.place(line),
                )
