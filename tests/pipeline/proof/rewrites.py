"""Harmless rewrites of jobs: other bytes, the same effect.

Where it can, the reference interpreter says that the effect is the same (`yardstick`); the others
are the same by arithmetic, as their docstrings tell.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal

import numpy as np
from reference.state import State

from headrace import Edit, Facet, after, before, delete, replace
from headrace.language.trace import CCW, CW, RAPID
from headrace.plugins import Contract
from headrace.program import Cause, Program, rewrite

from .sources import AXES, Source, Word, words_of
from .yardstick import differs

CAUSE = Cause("rewriting", 1)
EVERY_VIEW = frozenset({"path", "feed", "spindle", "tool", "outputs", "stops", "dwell"})
WRITING = frozenset({Facet.SPELLING, Facet.COMMENTS, Facet.PAUSE_TEXTS, Facet.LINE_NUMBERS})
MOTIONS = ("G0", "G1", "G2", "G3")

Make = Callable[[random.Random, Source], list[Edit] | None]


@dataclass(frozen=True, slots=True)
class Rewrite:
    """One way of writing a job anew, what must be declared for it, and whether the reference is
    asked that nothing else has changed."""

    make: Make
    contract: Contract
    judged: bool


REWRITES: dict[str, Rewrite] = {}


def way(
    name: str, *facets: Facet, within: float = 0.0, judged: bool = True
) -> Callable[[Make], Make]:
    """A way of rewriting, put into the table of all."""

    def register(make: Make) -> Make:
        REWRITES[name] = Rewrite(make, Contract(frozenset(facets), within=within), judged)
        return make

    return register


def rewritten(
    how: Rewrite, rng: random.Random, source: Source
) -> tuple[Program, Contract, int] | None:
    """The job written anew, its contract, and how many lines were; None where it does not fit."""
    edits = how.make(rng, source)
    if not edits:
        return None
    new = source.program.edited(edits, CAUSE)
    if how.judged and differs(source, new, EVERY_VIEW, own_only=False) is not None:
        return None
    lines = sum(1 if edit.stretch is None else edit.stretch.stop - edit.line for edit in edits)
    return new, how.contract, lines


def _each(source: Source, spelt: Callable[[int, str], str | None]) -> list[Edit]:
    """Every line with words, written anew."""
    edits = []
    for at, line in enumerate(source.lines[: len(source.before)]):
        if not source.words[at]:
            continue
        text = spelt(at, line)
        if text is not None and text != line:
            edits.append(replace(at, text))
    return edits


def _words_anew(line: str, anew: Callable[[Word], str]) -> str:
    for word in reversed(words_of(line)):
        line = line[: word.start] + anew(word) + line[word.end :]
    return line


def _body(text: str) -> tuple[str, str]:
    return ("-", text[1:]) if text.startswith("-") else ("", text.removeprefix("+"))


@way("blanks and tabs", Facet.COMMENTS)
def _blanks(rng: random.Random, source: Source) -> list[Edit]:
    def spelt(_: int, line: str) -> str:
        gap = rng.choice((" ", "  ", "\t", ""))
        return rng.choice(("", " ")) + _words_anew(line, lambda w: f"{w.letter}{gap}{w.text} ")

    return _each(source, spelt)


@way("case", Facet.SPELLING)
def _case(_: random.Random, source: Source) -> list[Edit]:
    return _each(source, lambda _, line: _words_anew(line, lambda w: w.letter.lower() + w.text))


@way("leading zeros", Facet.SPELLING, Facet.LINE_NUMBERS)
def _leading(_: random.Random, source: Source) -> list[Edit]:
    def anew(word: Word) -> str:
        sign, body = _body(word.text)
        return f"{word.letter}{sign}{'' if word.letter == 'N' else '0'}{body}"

    return _each(source, lambda _, line: _words_anew(line, anew))


@way("plus signs", Facet.SPELLING)
def _plus(_: random.Random, source: Source) -> list[Edit]:
    def anew(word: Word) -> str:
        sign = "+" if word.letter in "XYZIJKRF" and word.text[0] not in "+-" else ""
        return f"{word.letter}{sign}{word.text}"

    return _each(source, lambda _, line: _words_anew(line, anew))


@way("trailing zeros", Facet.SPELLING)
def _trailing(rng: random.Random, source: Source) -> list[Edit]:
    def anew(word: Word) -> str:
        if word.letter not in "XYZIJKRFP":
            return f"{word.letter}{word.text}"
        point = "" if "." in word.text else "."
        return f"{word.letter}{word.text}{point}{'0' * rng.randint(0, 3)}"

    return _each(source, lambda _, line: _words_anew(line, anew))


@way("zeros without use", Facet.SPELLING)
def _bare(_: random.Random, source: Source) -> list[Edit]:
    def anew(word: Word) -> str:
        if word.letter not in "XYZIJKR" or "." not in word.text:
            return f"{word.letter}{word.text}"
        sign, body = _body(word.text)
        body = body.rstrip("0").lstrip("0")
        return f"{word.letter}{sign}{'0' if body == '.' else body}"

    return _each(source, lambda _, line: _words_anew(line, anew))


@way("the sign of zero", Facet.SPELLING)
def _zero(_: random.Random, source: Source) -> list[Edit]:
    def anew(word: Word) -> str:
        zero = word.letter in "XYZIJK" and Decimal(word.text) == 0
        return f"{word.letter}{'-0.00' if zero else word.text}"

    return _each(source, lambda _, line: _words_anew(line, anew))


@way("comments put in", Facet.COMMENTS, Facet.PAUSE_TEXTS)
def _comments(rng: random.Random, source: Source) -> list[Edit]:
    edits = _each(
        source,
        lambda _, line: (
            None if "(" in line or ";" in line else line + rng.choice(("(comb)", " ; X1"))
        ),
    )
    return [*edits, before(rng.randrange(len(source.lines)), "(beeswax; G1 X9)")]


@way("comments taken out", Facet.COMMENTS, Facet.PAUSE_TEXTS)
def _no_comments(_: random.Random, source: Source) -> list[Edit]:
    edits = []
    for at, line in enumerate(source.lines):
        if "(" not in line and ";" not in line:
            continue
        words = source.words[at]
        text = " ".join(f"{word.letter}{word.text}" for word in words)
        edits.append(replace(at, text) if words else delete(at))
    return edits


@way("blank lines", Facet.COMMENTS)
def _empty(rng: random.Random, source: Source) -> list[Edit]:
    return [rng.choice((before, after))(at, "") for at in range(len(source.before))]


@way("line numbers", Facet.LINE_NUMBERS)
def _numbers(rng: random.Random, source: Source) -> list[Edit]:
    def spelt(at: int, line: str) -> str:
        if source.words[at][0].letter == "N":
            return _words_anew(line, lambda w: f"{w.letter}{at if w.letter == 'N' else w.text}")
        return f"N{at * 10:05d}{rng.choice(('', ' '))}{line}"

    return _each(source, spelt)


def _state(source: Source, at: int) -> State:
    state = source.before[at][0]
    assert isinstance(state, State)
    return state


@way("modal words stated", Facet.SPELLING)
def _stated(rng: random.Random, source: Source) -> list[Edit]:
    def spelt(at: int, line: str) -> str | None:
        state, words = _state(source, at), source.words[at]
        if words[0].letter == "N" or not {w.letter for w in words} & set("XYZ"):
            return None
        codes = {word.code for word in words}
        said = [f"G{state.distance}", f"G{state.plane}", f"G{state.units}"]
        if state.motion in MOTIONS and not codes & {*MOTIONS, "G92", "G10", "G28", "G30"}:
            said.append(state.motion)
        if "F" not in {w.letter for w in words} and state.feed and state.feed_mode == 94:
            said.append(f"F{state.feed!r}")
        rng.shuffle(said)
        return " ".join([*said[: rng.randint(1, len(said))], line])

    return _each(source, spelt)


@way("modal words left out", Facet.SPELLING)
def _left_out(_: random.Random, source: Source) -> list[Edit]:
    def spelt(at: int, line: str) -> str | None:
        state = _state(source, at)
        held = {state.motion, f"G{state.distance}", f"G{state.plane}", f"G{state.units}"}
        feed = state.feed if state.feed_mode == 94 else None

        def anew(word: Word) -> str:
            gone = word.letter == "G" and word.code in held
            gone = gone or (word.letter == "F" and float(word.text) == feed)
            return "" if gone else f"{word.letter}{word.text}"

        return _words_anew(line, anew) if len(source.words[at]) > 1 else None

    return _each(source, spelt)


@way("words in another order", Facet.SPELLING)
def _order(rng: random.Random, source: Source) -> list[Edit]:
    def spelt(at: int, line: str) -> str | None:
        words = [f"{word.letter}{word.text}" for word in source.words[at]]
        if "(" in line or ";" in line or words[0].startswith("N"):
            return None
        return " ".join(rng.sample(words, len(words)))

    return _each(source, spelt)


@way("a mode on a line of its own", Facet.SPELLING)
def _split(_: random.Random, source: Source) -> list[Edit]:
    edits = []
    for at, words in enumerate(source.words[: len(source.before)]):
        moves = {w.letter for w in words} & set("XYZ")
        modes = [w for w in words if w.letter in "FST" or w.code in ("G17", "G90", "G91", "M3")]
        if not moves or not modes or words[0].letter == "N":
            continue
        rest = [w for w in words if w not in modes]
        first, second = (" ".join(w.letter + w.text for w in some) for some in (modes, rest))
        edits.append(replace(at, first, second))
    return edits


@way("modes of two lines on one", Facet.SPELLING, Facet.COMMENTS, Facet.LINE_NUMBERS)
def _merged(_: random.Random, source: Source) -> list[Edit]:
    edits: list[Edit] = []
    at = 0
    while at + 1 < len(source.before):
        pair = source.words[at], source.words[at + 1]
        letters = [{w.letter for w in words} for words in pair]
        odd = any("(" in line or ";" in line for line in source.lines[at : at + 2])
        if all(pair) and not odd and not (letters[0] | letters[1]) & set("XYZABCNRIJP"):
            edits += [replace(at, f"{source.lines[at]} {source.lines[at + 1]}"), delete(at + 1)]
            at += 1
        at += 1
    return edits


@way("modes said again", Facet.SPELLING)
def _again(_: random.Random, source: Source) -> list[Edit]:
    def line(at: int) -> str:
        state = _state(source, at)
        return f"G{state.distance} G{state.plane} G{state.units} G{state.feed_mode}"

    return [before(at, line(at)) for at in range(len(source.before))]


@way("another line end", judged=False)
def _line_ends(rng: random.Random, source: Source) -> list[Edit]:
    """The line end is no part of a line (3.3)."""
    end = rng.choice(("\r\n", "\r"))
    data = "".join(line + end for line in source.lines).encode()
    return [rewrite(0, len(source.lines), data)]


@way("a frame of %", Facet.SPELLING, judged=False)
def _frame(_: random.Random, source: Source) -> list[Edit]:
    """Two lines with % around a program do nothing (3.1)."""
    return [before(0, "%"), before(len(source.lines), "%")]


@way("lines behind the end", Facet.SPELLING, Facet.COMMENTS)
def _behind(_: random.Random, source: Source) -> list[Edit] | None:
    ended = any(word.code in ("M2", "M30") for word in source.words[len(source.before) - 1])
    return [before(len(source.lines), "G1 X999", "(not read)")] if ended else None


@way("lines put in their own place")
def _same(_: random.Random, source: Source) -> list[Edit]:
    return [replace(at, line) for at, line in enumerate(source.lines)]


_SCALED = "XYZIJKRQF"
_UNSCALABLE = {"G93", "G92", "G92.1", "G92.2", "G92.3", "G10", "G28", "G30"}


def _other_units(source: Source, places: int, feed_places: int) -> list[Edit] | None:
    codes = {word.code for words in source.words for word in words}
    letters = {word.letter for words in source.words for word in words}
    units = codes & {"G20", "G21"}
    if len(units) != 1 or codes & _UNSCALABLE or letters & set("ABC#"):
        return None
    (was,) = units
    factor = Decimal("25.4") if was == "G20" else 1 / Decimal("25.4")

    def anew(word: Word) -> str:
        if word.code == was:
            return "G21" if was == "G20" else "G20"
        if word.letter not in _SCALED:
            return f"{word.letter}{word.text}"
        kept = feed_places if word.letter == "F" else places
        return f"{word.letter}{Decimal(word.text) * factor:.{kept}f}"

    return _each(source, lambda _, line: _words_anew(line, anew))


@way("the other unit", Facet.SPELLING)
def _unit(_: random.Random, source: Source) -> list[Edit] | None:
    """1 inch is 25.4 mm; nine decimals of an inch are a thousandth of what counts as the same."""
    return _other_units(source, 9, 9)


@way("the other unit, rounded", Facet.SPELLING, within=0.001, judged=False)
def _unit_rounded(_: random.Random, source: Source) -> list[Edit] | None:
    """Six decimals of an inch are off by 0.0000127 mm at the most."""
    if any(move.centre and move.turn > 6 for move in source.moves):  # type: ignore[attr-defined]
        return None  # nearly a full circle: rounding may make it one
    return _other_units(source, 6, 9)


@way("arcs by their centre", Facet.SPELLING)
def _by_centre(_: random.Random, source: Source) -> list[Edit]:
    """Centre less start, from the reference's run."""
    edits = []
    for move in source.moves:
        words = source.words[move.line]  # type: ignore[attr-defined]
        state = _state(source, move.line)  # type: ignore[attr-defined]
        radius = next((w for w in words if w.letter == "R"), None)
        plain = state.plane == 17 and not state.absolute_centres
        if radius is None or move.centre is None or not plain:  # type: ignore[attr-defined]
            continue
        i, j = (
            state.written(0, c - s)
            for c, s in zip(move.centre, move.start, strict=False)  # type: ignore[attr-defined]
        )
        text = source.lines[move.line]  # type: ignore[attr-defined]
        said = f"I{i:.10f} J{j:.10f}"
        text = text[: radius.start] + said + text[radius.end :]
        edits.append(replace(move.line, text))  # type: ignore[attr-defined]
    return edits


@way("arcs by their radius", Facet.SPELLING, within=0.01, judged=False)
def _by_radius(_: random.Random, source: Source) -> list[Edit] | None:
    """Half circles and nearly full ones left out, where a radius does not say enough (3.5.3.1)."""
    if not source.followed:
        return None  # from an unknown place nobody can tell where a radius leads
    edits = []
    for move in source.moves:
        line, state = move.line, _state(source, move.line)  # type: ignore[attr-defined]
        words = source.words[line]
        centres = [w for w in words if w.letter in "IJ"]
        turn, centre = move.turn, move.centre  # type: ignore[attr-defined]
        steady = 0.4 < turn < 2.4 or 3.9 < turn < 5.6
        if not centres or centre is None or not steady or state.plane != 17:
            continue
        start, end = (np.array(p[:2]) - centre for p in (move.start, move.end))  # type: ignore[attr-defined]
        radius = state.written(0, (math.hypot(*start) + math.hypot(*end)) / 2)
        sign = "-" if turn > math.pi else ""
        text = _words_anew(
            source.lines[line], lambda w: "" if w.letter in "IJ" else w.letter + w.text
        )
        edits.append(replace(line, f"{text} R{sign}{radius:.7f}"))
    return edits


@way("increments", Facet.SPELLING)
def _increments(_: random.Random, source: Source) -> list[Edit] | None:
    """Decimal differences of the numbers as written are exact."""
    at, edits = 0, []
    stated: dict[str, Decimal] = {}
    codes = {word.code for words in source.words for word in words}
    if codes & {"G91", "G92", "G10", "G28", "G30", "G53", "G81", "G82", "G83", "G55"}:
        return None
    if len(codes & {"G20", "G21"}) > 1:
        return None
    begun = False
    for at, words in enumerate(source.words[: len(source.before)]):
        here = {word.letter: word for word in words if word.letter in AXES}
        if not begun and len(stated) >= 3 and here and "G90" not in {w.code for w in words}:
            begun = {"X", "Y", "Z"} <= stated.keys()
            lead = ["G91"]
        else:
            lead = []
        if begun and any(word.code == "G90" for word in words):
            return None
        if begun and (here or lead):

            def anew(word: Word, from_: dict[str, Decimal] = dict(stated)) -> str:  # noqa: B006
                if word.letter not in AXES:
                    return f"{word.letter}{word.text}"
                return f"{word.letter}{Decimal(word.text) - from_.get(word.letter, Decimal(0)):f}"

            edits.append(replace(at, *lead, _words_anew(source.lines[at], anew)))
        stated |= {letter: Decimal(word.text) for letter, word in here.items()}
    return edits


@way("cycles as single moves", Facet.SPELLING, judged=False)
def _expanded(_: random.Random, source: Source) -> list[Edit] | None:
    """Drilling is rapid, feed and rapid (3.5.16.4), as the interpreter has it; the reference
    differs only in rapid moves that go nowhere."""
    codes = {word.code for words in source.words for word in words}
    if not codes & {"G81", "G83"} or codes & {"G82", "G84", "G85", "G86", "G87", "G88", "G89"}:
        return None
    if codes & {"G91", "G93"} or not source.followed:
        return None  # from an unknown height nobody can tell the moves of a cycle
    drilled = {move.line for move in source.moves if move.cycle}  # type: ignore[attr-defined]
    lines: dict[int, list[str]] = {line: [] for line in drilled}
    factor = 25.4 if "G20" in codes else 1.0
    for block in source.version.trace.blocks:
        for row, line in enumerate(block.line.tolist()):
            if line not in drilled or block.kind[row] in (CW, CCW):
                continue
            where = (f"{AXES[a]}{float(block.ends[a][row]) / factor:.10f}" for a in range(3))
            code = "G0" if block.kind[row] == RAPID else "G1"
            lines[line].append(" ".join([code, *where]))
    edits = []
    for line, texts in lines.items():
        feed = next((w.letter + w.text for w in source.words[line] if w.letter == "F"), None)
        edits.append(replace(line, *([feed] if feed else []), *texts))
    return edits
