"""Lines that become others, or several, or none: many at once."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from headrace import Edit, Program, delete, replace, rewrite
from headrace_transforms.lines.text_lines import BOM, encoded, lines_of, stretch, text_of

Longs = npt.NDArray[np.int64]

_FEW = 32
"""Up to so many lines are edited one by one."""


@dataclass(frozen=True, slots=True, eq=False)
class Blocks:
    """New bytes for some lines (k, ascending): what stands up to `ends` (k) of `data` belongs to
    each, `counts` (k) lines with their line ends, or none."""

    lines: Longs
    data: bytes
    ends: Longs
    counts: Longs

    @classmethod
    def of_texts(cls, program: Program, texts: dict[int, Sequence[str]]) -> Blocks:
        """From the new texts of some lines."""
        parts = []
        for index in sorted(texts):
            raw = program[index].raw
            body = raw.rstrip(b"\r\n")
            end = raw[len(body) :] or program.line_end.encode()
            mark = BOM if index == 0 and raw.startswith(BOM) else b""
            parts.append(mark + b"".join(encoded(text, raw) + end for text in texts[index]))
        lines = np.array(sorted(texts), np.int64)
        counts = np.array([len(texts[index]) for index in sorted(texts)], np.int64)
        return cls(lines, b"".join(parts), np.cumsum([len(part) for part in parts]), counts)

    def one_by_one(self) -> Iterator[Edit]:
        """An edit for each line."""
        begun = 0
        for line, end in zip(self.lines.tolist(), self.ends.tolist(), strict=True):
            texts = [text_of(text) for text in lines_of(self.data[begun:end].removeprefix(BOM))]
            yield replace(line, *texts) if texts else delete(line)
            begun = end


def edits(program: Program, *blocks: Blocks) -> Iterator[Edit]:
    """The edits that put blocks in the place of their lines."""
    every = [each for each in blocks if len(each.lines)]
    if sum(len(each.lines) for each in every) <= _FEW:
        for each in every:
            yield from each.one_by_one()
        return
    yield _rewriting(program, every)


def _rewriting(program: Program, every: Sequence[Blocks]) -> Edit:
    """One edit for all, over the stretch from the first line to the last."""
    lines = np.concatenate([blocks.lines for blocks in every])
    order = np.argsort(lines, kind="stable")
    lines = lines[order]
    start, stop = int(lines[0]), int(lines[-1]) + 1
    old = stretch(program, start, stop)
    bounds = _bounds(program, start, stop)
    offsets = np.cumsum([0, *(len(blocks.data) for blocks in every)])
    ends = np.concatenate([b.ends + at for b, at in zip(every, offsets, strict=False)])
    begins = np.concatenate([
        np.concatenate([[0], b.ends[:-1]]) + at for b, at in zip(every, offsets, strict=False)
    ])  # fmt: skip
    new = b"".join(blocks.data for blocks in every)
    counts = np.ones(stop - start, np.int64)
    counts[lines - start] = np.concatenate([blocks.counts for blocks in every])[order]
    # what lies between the new lines stays; neighbours in both are joined into one
    at = lines - start
    kept = np.column_stack([np.concatenate([[0], bounds[at[:-1] + 1]]), bounds[at]])
    texts = np.column_stack([begins[order], ends[order]])
    parts = []
    for source, (begun, end) in _runs(kept, texts):
        parts.append((old, new)[source][begun:end])
    return rewrite(start, stop, b"".join(parts), np.repeat(np.arange(start, stop), counts))


def _runs(kept: Longs, texts: Longs) -> Iterator[tuple[int, tuple[int, int]]]:
    """Kept and new bytes in turn, what follows on joined: (0 or 1, where it begins and ends)."""
    follows = np.zeros(len(texts), np.bool_)
    follows[1:] = (kept[1:, 0] == kept[1:, 1]) & (texts[1:, 0] == texts[:-1, 1])
    firsts = np.flatnonzero(~follows)
    lasts = np.append(firsts[1:] - 1, len(texts) - 1)
    for first, last in zip(firsts.tolist(), lasts.tolist(), strict=True):
        yield 0, (int(kept[first, 0]), int(kept[first, 1]))
        yield 1, (int(texts[first, 0]), int(texts[last, 1]))


def _bounds(program: Program, start: int, stop: int) -> Longs:
    """Where the lines of a stretch begin in its bytes, and its length (n + 1)."""
    lengths = [
        np.diff(piece.text.starts[piece.start : piece.stop + 1])
        for _, piece in program.pieces_between(start, stop)
    ]
    return np.concatenate([[0], np.cumsum(np.concatenate(lengths))])
