"""Parts of arcs as lines of text."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from headrace import Job, Line, Word
from headrace_transforms.framing.ending import stop_codes
from headrace_transforms.lines.plain_lines import PlainLines
from headrace_transforms.numbers.digits import gathered, words
from headrace_transforms.paths.arc_parts import Parts
from headrace_transforms.paths.arcs import Bools, Longs
from headrace_transforms.telling.refusing import place_of, refusal

_SMALL = 0x20
"""The bit that makes a letter a small one."""
_ARC_LETTERS = "XYZABCIJKR"


def plain_texts(parts: Parts, lines: PlainLines, line_end: bytes) -> tuple[bytes, Longs]:
    """The lines that parts of plain lines become, and how long all those of each line are (k).

    Line number and feed stay on the first, which says the motion code too.
    """
    owner, first = parts.owner, parts.first
    blank, small = lines.blank[owner], lines.small[owner]
    codes = b"".join(b"%c%d" % (letter, code) for letter in b"Gg" for code in range(4))
    kept = np.concatenate([lines.number, lines.feed])
    kept = kept[kept[:, 1] > 0]
    stop = int(kept.max(initial=0))
    base = int(kept.min(initial=stop))
    sources = [lines.data[base:stop], np.frombuffer(codes + line_end, np.uint8)]
    fixed = stop - base
    columns: list[tuple[Longs, Longs]] = []

    def said(begun: Longs, end: Longs, which: Bools) -> None:
        columns.append((np.where(which, begun, 0), np.where(which, end, 0)))

    number, feed = lines.number[owner] - base, lines.feed[owner] - base
    said(number[:, 0], number[:, 1], first & (lines.number[owner, 1] > 0))
    code = fixed + 2 * parts.code + np.where(small, 8, 0)
    said(code, code + 2, first)
    place = fixed + len(codes) + len(line_end)
    for column in range(len(parts.letters)):
        here = np.flatnonzero(parts.letters[column])
        if not len(here):
            continue
        letters = parts.letters[column][here] | np.where(small[here], _SMALL, 0)
        data, begun, end = words(
            letters.astype(np.uint8),
            parts.values[column][here],
            # a line that begins with a word has no blank before it
            blank[here] & (first[here] | bool(column)),
        )
        begins, ends = np.zeros(len(owner), np.int64), np.zeros(len(owner), np.int64)
        begins[here], ends[here] = begun + place, end + place
        columns.append((begins, ends))
        sources.append(data)
        place += len(data)
    said(feed[:, 0], feed[:, 1], first & (lines.feed[owner, 1] > 0))
    closing = np.full(len(owner), fixed + len(codes))
    columns.append((closing, closing + len(line_end)))
    begun, end = (np.array(side) for side in zip(*columns, strict=True))
    length = (end - begun).sum(axis=0)
    begun, end = begun.T.reshape(-1), end.T.reshape(-1)
    lengths = np.bincount(owner, length, minlength=len(lines.plain)).astype(np.int64)
    return gathered(np.concatenate(sources), begun, end), lengths


def word_texts(parts: Parts) -> list[list[str]]:
    """The words of each arc's parts (k lists), the motion code on the first."""
    count = int(parts.owner.max(initial=-1)) + 1
    none = np.zeros((count, 2), np.int64)
    no = np.zeros(count, np.bool_)
    lines = PlainLines(np.zeros(0, np.uint8), ~no, none, none, none[:, 0], ~no, no)
    data, _ = plain_texts(parts, lines, b"\n")
    texts = iter(data.decode().split("\n"))
    return [[next(texts) for _ in range(size)] for size in np.bincount(parts.owner).tolist()]


def single_texts(job: Job, line: Line, parts: Sequence[str]) -> list[str]:
    """The lines that a line with more on it than a plain move becomes: what acts before the move
    stays on the first, a stop, which acts behind it, goes to the last with the comments."""
    own = [word for word in line.words if _is_arc(word)]
    lead = "/" if line.scan.block_delete else ""
    spelt = dict.fromkeys(own, "")
    spelt[own[0]] = parts[0]
    stops = [word for word in line.words if _stops(job, word)]
    if len(parts) == 1 or not stops:
        return [line.rewritten(spelt), *(lead + part for part in parts[1:])]
    tail = [line.text[word.start : word.end] for word in stops]
    tail += [line.text[comment.start : comment.end] for comment in line.comments]
    first = _without_comments(line, {**spelt, **dict.fromkeys(stops, "")})
    return [first, *(lead + part for part in parts[1:-1]), lead + " ".join([parts[-1], *tail])]


def _without_comments(line: Line, spelt: dict[Word, str]) -> str:
    """The line with some words spelt anew and no comments."""
    cuts = [(word.start, word.end, text) for word, text in spelt.items()]
    cuts += [(comment.start, comment.end, "") for comment in line.comments]
    text = line.text
    for begun, end, new in sorted(cuts, reverse=True):
        head = text[:begun].rstrip(" \t") if not new else text[:begun]
        text = head + new + text[end:]
    return text.strip(" \t")


def _is_arc(word: Word) -> bool:
    motion = word.letter == "G" and word.code in ("G2", "G3")
    return motion or word.letter in _ARC_LETTERS


def _stops(job: Job, word: Word) -> bool:
    return word.letter == "M" and word.value is not None and int(word.value) in stop_codes(job)


def with_code(job: Job, line: Line, code: str) -> str:
    """The line with a motion code before its first axis word. Raises JobRefused where there is
    none: what it does stands in a subprogram."""
    at = min((word.start for word in line.words if word.letter in _ARC_LETTERS), default=None)
    if at is None:
        what = f"what is called here may rely on the {code} before it"
        raise refusal("arc-called", what, place=place_of(job.program, line))
    gap = " " if " " in line.text[at:] else ""
    return f"{line.text[:at]}{code}{gap}{line.text[at:]}"
