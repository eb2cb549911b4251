"""Feeds that the machine can follow."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from headrace import Edit, Facet, Job, Numerals, number_text, transform
from headrace_transforms.lines.appending import with_feed
from headrace_transforms.lines.line_blocks import Blocks, edits
from headrace_transforms.lines.slashes import left_out
from headrace_transforms.lines.text_lines import lines_of, stretch
from headrace_transforms.numbers.feed_caps import PROBE, Bools, Floats, Limits, Longs, shares
from headrace_transforms.numbers.modes import Mode
from headrace_transforms.numbers.style import inch_mode
from headrace_transforms.paths.reach import end_of
from headrace_transforms.telling.refusing import refusal

_FEED = ord("F")
_NOISE = 1e-6
_MARKS = re.compile(rb"[;(\x80-\xff]")
_OWN = re.compile(rb"[Ff][ \t]*+[-+0-9.](?:[ \t]*+[-+0-9.])*+")


@transform(
    "feed-limits",
    changes=[Facet.FEED],
    options={
        "most": {
            "type": "number",
            "description": "The highest feed of any cut; mm/min. Left out: what the axes can.",
            "exclusiveMinimum": 0,
            "examples": [2400],
        },
        "plunge": {
            "type": "number",
            "description": "How fast the bit goes down at the most, straight or on a ramp; mm/min."
            " Left out: what the Z axis can.",
            "exclusiveMinimum": 0,
            "examples": [300],
        },
    },
    idempotent=True,
)
def feed_limits(job: Job, *, most: float | None, plunge: float | None) -> Iterator[Edit]:
    """Lower the feed of cuts that would drive an axis faster than it can go.

    An axis goes at its share of the way: a ramp of 3 degrees at F2000 sinks at 105 mm/min. Only
    cuts that are too fast get an F of their own, rounded down, and the job's comes back behind
    them. The chips get thinner by that: with `chip` and `teeth` in the set-up the rehearsal says
    where they are too thin.

        G1 X40 F4000        ->        G1 X40 F4000
        G1 Z-3                        G1 Z-3 F1500
        G1 X80                        G1 X80 F4000
    """
    limits = Limits.of(job, most, plunge)
    slow = _slowed(job, limits)
    if slow is not None:
        yield from edits(job.program, _written(job, _Feeds.of(job, slow)))


def _slowed(job: Job, limits: Limits) -> Floats | None:
    """What share of its feed each move may have (m); None where all of them have all of it."""
    found = None
    for begun, share in shares(job, limits):
        found = np.ones(len(job.trace)) if found is None else found
        found[begun : begun + len(share)] = share
    return found


@dataclass(frozen=True, slots=True, eq=False)
class _Feeds:
    """The lines (n, ascending) that cut at a feed or state one, the F that is to hold there (n, as
    written), whether the line states one now, and whether it is to state this one."""

    line: Longs
    now: Floats
    says: Bools
    stated: Bools

    @classmethod
    def of(cls, job: Job, share: Floats) -> _Feeds:
        _require_plain(job, share)
        cut, least = _by_lines(job, share)
        said, value = _said(job)
        line = _either(job, cut, said)
        inverse = Mode.of(job, len(job.program), (93.0, 94.0), job.start.inverse_time).at(line)
        says, cuts = np.isin(line, said), np.isin(line, cut)
        own = np.full(len(line), np.nan)
        own[says] = value
        was = np.where(inverse, own, _held(job, own, says & ~inverse))
        slow = np.ones(len(line))
        slow[cuts] = least
        capped = slow < 1
        _require_known(job, line[capped & np.isnan(was)])
        now = np.where(capped, _rounded(job, line, was * slow, inverse), was)
        stated = capped & says
        modal = np.flatnonzero(~inverse)
        behind = np.where(cuts, now, was)[modal]
        stated[modal] |= _missing(job, line[modal], was[modal], behind) & (cuts & ~says)[modal]
        return cls(line, now, says, stated)


def _by_lines(job: Job, share: Floats) -> tuple[Longs, Floats]:
    """The lines (k, ascending) with moves at feed, and the least share of any on each (k)."""
    trace = job.trace
    rows = np.flatnonzero((trace.kind > 0) & (trace.kind <= PROBE))
    line = trace.line[rows].astype(np.int64)
    first = np.flatnonzero(np.diff(line, prepend=-1))
    return line[first], np.minimum.reduceat(share[rows], first)


def _either(job: Job, first: Longs, second: Longs) -> Longs:
    """The lines that are among some lines or others, ascending."""
    among = np.zeros(len(job.program), np.bool_)
    among[first] = among[second] = True
    return np.flatnonzero(among)


def _said(job: Job) -> tuple[Longs, Floats]:
    """The lines (k, ascending) with an F that are carried out, and their numbers (k) as written;
    NaN for those that are worked out."""
    stop = end_of(job)
    lines = job.program.lines_with("F")
    lines = lines[lines < stop]
    lines = lines[~np.isin(lines, left_out(job))]
    value = np.full(len(lines), np.nan)
    for numerals in Numerals.of(job.program, 0, stop):
        at = np.flatnonzero(numerals.letter == _FEED)
        found = np.searchsorted(lines, numerals.line[at])
        here = np.isin(numerals.line[at], lines)
        value[found[here]] = (numerals.mantissa[at] / 10.0 ** numerals.scale[at])[here]
    return lines, value


def _held(job: Job, own: Floats, says: Bools) -> Floats:
    """The F that holds on each line (n): the last one that was said; NaN where none is known."""
    index = np.maximum.accumulate(np.where(says, np.arange(1, len(own) + 1), 0))
    start = np.nan if job.start.feed is None else job.start.feed
    return np.concatenate([[start], own])[index]


def _missing(job: Job, line: Longs, was: Floats, now: Floats) -> Bools:
    """Which lines (n) find another F in force than is to hold there; `was` and `now` are what holds
    behind each, before and after the step.

    A line that a switch may leave out leaves open what is in force behind it, unless that is what
    the job has there anyway.
    """
    other = now != was
    unsure = np.zeros(len(line), np.bool_)
    for at in np.flatnonzero(np.isin(line, job.program.lines_optional())).tolist():
        unsure[at] = other[max(at - 1, 0) : at + 1].any() or (at > 0 and unsure[at - 1])
    start = np.nan if job.start.feed is None else job.start.feed
    before = np.concatenate([[start], np.where(unsure, np.nan, now)[:-1]])
    missing: Bools = ~np.isnan(now) & (before != now)
    return missing


def _rounded(job: Job, line: Longs, feed: Floats, inverse: Bools) -> Floats:
    """Feeds as they are written, rounded down: whole mm/min, hundredths of an inch/min, finer where
    they are small; JobRefused where nothing is left."""
    inch = inch_mode(job, len(job.program)).at(line)
    places = np.where(inverse, 4, np.where(inch, 2, 0)) + np.where(feed < 10, 2, 0)
    if job.machine.decimals is not None:
        places = np.minimum(places, job.machine.decimals)
    step = 10.0**places
    rounded: Floats = np.floor(feed * step * (1 + _NOISE**2) + _NOISE) / step
    lost = np.flatnonzero(rounded == 0)
    if len(lost):
        what = f"the machine reads no feed as low as F{number_text(float(feed[lost[0]]), 6)}"
        raise refusal("feed-rounded-away", what, place=job.program.place(int(line[lost[0]])))
    return rounded


def _require_plain(job: Job, share: Floats) -> None:
    """JobRefused where a line that is run several times would need several feeds."""
    calls = job.trace.calls.calls
    if calls:
        first = int(job.trace.line[int(np.argmax(share < 1))])
        called = first if first in calls else min(calls)
        raise refusal(
            "numbers-not-plain",
            "a subprogram is called here, in which feeds may have to be others",
            place=job.program.place(called),
            remedy="put the step `expand-calls` before it",
        )


def _require_known(job: Job, lines: Longs) -> None:
    if len(lines):
        what = "this cut is too fast, and its feed is worked out by the controller"
        remedy = "put the step `plain-numbers` before it"
        place = job.program.place(int(lines[0]))
        raise refusal("numbers-not-plain", what, place=place, remedy=remedy)


def _written(job: Job, feeds: _Feeds) -> Blocks:
    """The new texts of the lines that are to state another feed than they do."""
    program = job.program
    point = "." if job.machine.decimal_point == "required" else ""
    numbers, which = np.unique(feeds.now[feeds.stated], return_inverse=True)
    words = [_word(number, point) for number in numbers.tolist()]
    lines, says = feeds.line[feeds.stated].tolist(), feeds.says[feeds.stated].tolist()
    first = lines[0]
    data = stretch(program, first, lines[-1] + 1)
    plain = first > 0 and _MARKS.search(data) is None
    raws, end = lines_of(data), program.line_end.encode()
    parts: list[bytes] = []
    for line, own, at in zip(lines, says, which.tolist(), strict=True):
        raw = raws[line - first]
        body = raw.rstrip(b"\r\n \t")
        if not plain and (not line or _MARKS.search(body)):
            text = with_feed(program[line], words[at].decode())
            parts.append(Blocks.of_texts(program, {line: [text]}).data)
            continue
        if own:
            new = _OWN.sub(words[at], body)
        else:
            new = b"".join((body, b" " if b" " in body else b"", words[at]))
        parts.append(new + (raw[len(body) :] or end))
    ends = np.cumsum([len(part) for part in parts])
    return Blocks(np.array(lines), b"".join(parts), ends, np.ones(len(lines), np.int64))


def _word(number: float, point: str) -> bytes:
    text = number_text(number, 9)
    return f"F{text}{'' if '.' in text else point}".encode()
