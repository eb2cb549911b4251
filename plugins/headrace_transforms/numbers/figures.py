"""The numbers of a job written anew: in another unit, or with fewer places.

Every number is rounded by itself, exactly; then arcs are made to fit their rounded ends, and
increments to lead to rounded places.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from decimal import Decimal
from typing import TypeVar

import numpy as np

from headrace import Edit, Job, Numerals, Program, before, number_text, replace, rewrite
from headrace_transforms.lines.text_lines import BOM, lines_of
from headrace_transforms.numbers.figure_rules import (
    places_text,
    require_convertible,
    require_feeds,
    require_near,
    require_plain,
    require_stated,
    require_unconditional,
)
from headrace_transforms.numbers.kept_steps import kept_steps
from headrace_transforms.numbers.modes import Mode
from headrace_transforms.numbers.pecks import put_pecks
from headrace_transforms.numbers.section import Section
from headrace_transforms.numbers.style import MM_IN_INCH, Style, inch_mode
from headrace_transforms.paths.kept_arcs import KeptArcs
from headrace_transforms.paths.reach import end_of
from headrace_transforms.telling.refusing import refusal

Given = TypeVar("Given")
Made = TypeVar("Made")

_MANY = 4
"""From so many sections on they are taken in two threads."""


def anew(job: Job, style: Style) -> Iterator[Edit]:
    """The edits that write the numbers of a job in a style.

    Raises JobRefused where a rounding cannot be right.
    """
    stop = end_of(job)
    inch = inch_mode(job, stop)
    inverse = Mode.of(job, stop, (93.0, 94.0), job.start.inverse_time)
    sections = _each(
        lambda numerals: Section.of(numerals, style, inch, inverse),
        Numerals.of(job.program, 0, stop),
    )
    converts = any((section.was_inch != section.to_inch).any() for section in sections)
    if not converts and (style.unit is not None or not any(s.which.any() for s in sections)):
        return
    require_plain(job, sections)
    feeds: dict[int, str] = {}
    if not all(section.exact.all() for section in sections):
        require_stated(job, sections)
    if converts:
        require_stated(job, sections)
        require_convertible(job, style, inch, sections)
        feeds = _restated_feeds(job, style, inch, inverse)
    require_near(job, style, inch, sections)
    arcs = _with_arcs(job, style, stop, sections)
    _with_steps(job, style, stop, sections)
    put_pecks(job, style, inch, sections)
    require_feeds(job, sections)
    if any(section.which.any() for section in sections):
        yield from _edits(job, style, sections, [*feeds.items(), *arcs.centred.items()])


def _each(work: Callable[[Given], Made], items: Sequence[Given]) -> list[Made]:
    """The same for each of some items: array calls let another thread run."""
    if len(items) < _MANY:
        return [work(item) for item in items]
    with ThreadPoolExecutor(2) as pool:
        return list(pool.map(work, items))


def _edits(
    job: Job, style: Style, sections: Sequence[Section], further: Sequence[tuple[int, str]]
) -> Iterator[Edit]:
    """One stretch from the first changed section to the last; a word for the unit before it, where
    no line of the job has one. `further` are words that lines get besides."""
    changed = [at for at, section in enumerate(sections) if section.which.any()]
    some = sections[changed[0] : changed[-1] + 1]
    start, stop = some[0].numerals.start, some[-1].numerals.stop
    data = b"".join(_each(Section.written, some))
    first = _unstated(job, style, sections)
    if first is None and not further:
        yield rewrite(start, stop, data)
        return
    rows = lines_of(data)
    for line, words in further:
        rows[line - start] = _with_words(rows[line - start], words)
    if first is None or first < start:
        yield rewrite(start, stop, b"".join(rows))
    if first is None:
        return
    yield before(first, "G20" if style.unit == "inch" else "G21")
    if first >= start:
        # where lines are put in no stretch may begin
        if start < first:
            yield rewrite(start, first, b"".join(rows[: first - start]))
        row = rows[first - start]
        if row != job.program[first].raw:
            yield replace(first, Program.read(row)[0].text)
        if first + 1 < stop:
            yield rewrite(first + 1, stop, b"".join(rows[first + 1 - start :]))


def _unstated(job: Job, style: Style, sections: Sequence[Section]) -> int | None:
    """The first line that does anything, where numbers become those of another unit before a line
    states one."""
    if style.unit in (None, job.start.units):
        return None
    stated = job.program.lines_with("G", 20, 21)
    first = int(stated[0]) if len(stated) else len(job.program)
    lines = np.concatenate([s.numerals.line[s.which & (s.was_inch != s.to_inch)] for s in sections])
    if not (lines < first).any():
        return None
    return next((line.index for line in job.program if line.is_code), None)


def _with_words(row: bytes, words: str) -> bytes:
    """A line with further words: those of a centre in the place of R, or an F behind the others."""
    line = Program.read(row)[0]
    if words.startswith("F"):
        last = line.words[-1]
        text = line.rewritten({last: f"{line.text[last.start : last.end]} {words}"})
    else:
        text = line.rewritten({word: words for word in line.words if word.letter == "R"})
    mark = BOM if row.startswith(BOM) else b""
    try:
        row.decode("utf-8")
        new = text.encode("utf-8")
    except UnicodeDecodeError:
        new = text.encode("latin-1")
    return mark + new + row[len(row.rstrip(b"\r\n")) :]


def _with_arcs(job: Job, style: Style, stop: int, sections: Sequence[Section]) -> KeptArcs:
    """Centres and radii that fit the rounded ends."""
    arcs = KeptArcs.of(job, stop, style)
    if arcs.lost:
        raise refusal(
            "rounding-breaks-arc",
            f"rounded to {places_text(style.places)} this arc has no centre that fits",
            place=job.program.place(min(arcs.lost)),
        )
    for letter, words in arcs.words.items():
        for section in sections if len(words.line) else ():
            at = section.words(letter)
            line = section.numerals.line[at]
            found = np.minimum(np.searchsorted(words.line, line), len(words.line) - 1)
            here = words.line[found] == line
            section.put(at[here], (words.mantissa[found[here]], words.scale[found[here]]))
    return arcs


def _with_steps(job: Job, style: Style, stop: int, sections: Sequence[Section]) -> None:
    """Increments that lead to rounded places."""
    incremental = Mode.of(job, stop, (91.0, 90.0), job.start.incremental)
    if not incremental.on.any():
        return
    settings = job.program.lines_with("G", 10, 92)
    words = [
        (section, axis, at[incremental.at(line) & ~np.isin(line, settings)])
        for section in sections
        for axis, letter in enumerate("XYZ")
        for at in [section.words(letter)]
        for line in [section.numerals.line[at]]
    ]
    if all(section.exact[at].all() for section, _, at in words):
        return
    require_unconditional(job, incremental)
    for axis in range(3):
        mine = [(section, at) for section, its, at in words if its == axis]
        lines = np.concatenate([s.numerals.line[at] for s, at in mine]).astype(np.int64)
        grid = [np.where(s.to_inch[at], 1 / MM_IN_INCH, 1.0) * 10.0**style.places for s, at in mine]
        values = [section.steps(at, style.places) for section, at in mine]
        kept = kept_steps(job, axis, lines, np.concatenate(values), np.concatenate(grid))
        if len(kept.repeated):
            raise refusal(
                "rounding-breaks-cycle",
                "increments of a cycle would be rounded over and over",
                place=job.program.place(int(kept.repeated[0])),
            )
        begun = 0
        for section, at in mine:
            part = slice(begun, begun + len(at))
            begun += len(at)
            moving = kept.known[part]
            places = np.full(int(moving.sum()), style.places, np.int8)
            section.put(at[moving], (kept.number[part][moving], places))


def _restated_feeds(job: Job, style: Style, inch: Mode, inverse: Mode) -> dict[int, str]:
    """F for the lines that change the unit: the number in force stays by RS274/NGC 3.5.7, and so
    it means another feed from there on."""
    if style.unit is None:
        return {}
    program = job.program
    turns = inch.lines[inch.on[1:] != inch.on[:-1]]
    stated = program.lines_with("F")
    feeds: dict[int, str] = {}
    for line in turns.tolist():
        before_it = stated[: np.searchsorted(stated, line)]
        before_it = before_it[~inverse.at(before_it)]
        if not (len(before_it) or job.start.feed):
            continue
        if inverse.at(np.array([line]))[0]:
            raise refusal(
                "feed-of-two-kinds",
                "the unit changes where F counts moves a minute, and the feed from before stays",
                place=program.place(line),
            )
        if program[line].has("F"):
            continue
        number = program[int(before_it[-1])].get("F") if len(before_it) else None
        exact = Decimal(str(job.start.feed)) if number is None else number
        now = inch.at(np.array([line]))[0]
        if now != (style.unit == "inch"):
            exact = exact * Decimal("25.4") if now else exact / Decimal("25.4")
        feeds[line] = f"F{number_text(exact, style.places)}"
    return feeds


def bound(job: Job, style: Style) -> float:
    """How far the path may stray (mm): half of the last place along each axis; around arcs the
    centre and both ends by half of its diagonal, and what a centre had to move besides; and all of
    the last place where anything is said in increments."""
    stop = end_of(job)
    step = style.step({"inch": bool(inch_mode(job, stop).on.any())})
    far = step / 2 * 3**0.5
    if Mode.of(job, stop, (91.0, 90.0), job.start.incremental).on.any():
        far = max(far, step)
    arcs = KeptArcs.of(job, stop, style)
    if arcs.any:
        far = max(far, 1.5 * step * 2**0.5, arcs.moved + step * 2**0.5)
    return far


def feed_bound(job: Job, style: Style) -> float:
    """By how much a feed may be rounded (mm/min): half of the last place."""
    return style.step({"inch": bool(inch_mode(job, end_of(job)).on.any())}) / 2
