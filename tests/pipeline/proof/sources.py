"""Jobs for the proof to be tried on: small, valid, with something of everything in them."""

from __future__ import annotations

import math
import random
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from reference import Interpreter, Options, ReferenceError_, run
from reference.grammar import read_line
from reference.programs import random_program
from reference.spelling import number

from headrace.findings import Severity
from headrace.language import State, interpret
from headrace.plugins import Contract
from headrace.program import Program
from headrace.proof import Version, prove_run
from headrace.proof.second.follower import Dialect

RECIPE_JOBS = Path(__file__).parents[3] / "recipes/jobs"
OPTIONS = Options(centre_codes=True)
AXES = "XYZABC"
DIALECT = Dialect({})

_COMMENT = re.compile(r"\([^()]*\)|;.*")
_WORD = re.compile(r"([A-Za-z])([-+]?(?:\d+\.?\d*|\.\d+))")
_RENUMBERING = {"28", "30", "38.2", "10", "92", "92.1", "92.2", "92.3"}


@dataclass(frozen=True, slots=True)
class Word:
    """A word of a line: its letter (a capital), its number as written, and where it stands."""

    letter: str
    text: str
    start: int
    end: int

    @property
    def code(self) -> str:
        """A G or M word as `G1`, whatever its zeros."""
        return f"{self.letter}{float(self.text):g}"


@dataclass(frozen=True, slots=True)
class Source:
    """A job, read, interpreted and run by the reference once.

    `before[line]` are the reference's state, moves and events before each line. `followed` tells
    that the second reading knows every place of it from the first cut on.
    """

    lines: tuple[str, ...]
    words: tuple[tuple[Word, ...], ...]
    program: Program
    version: Version
    start: State
    before: tuple[tuple[object, int, int], ...]
    moves: tuple[object, ...]
    events: tuple[object, ...]
    followed: bool
    moving: tuple[int, ...]
    cutting: tuple[int, ...]
    found: dict[str, tuple[tuple[int, Word], ...]] = field(default_factory=dict)

    def having(self, *letters: str) -> tuple[tuple[int, Word], ...]:
        """All words with one of some letters, by line."""
        key = "".join(letters)
        if key not in self.found:
            self.found[key] = tuple(
                (at, word)
                for at, words in enumerate(self.words[: len(self.before)])
                for word in words
                if word.letter in letters
            )
        return self.found[key]

    def codes(self, *codes: str) -> tuple[tuple[int, Word], ...]:
        """All G and M words with one of some codes, by line."""
        return tuple((at, word) for at, word in self.having("G", "M") if word.code in codes)


def words_of(line: str) -> tuple[Word, ...]:
    """The words of a plainly spelt line, comments left out."""
    bare = _COMMENT.sub(lambda found: " " * len(found[0]), line)
    return tuple(
        Word(found[1].upper(), found[2], found.start(), found.end())
        for found in _WORD.finditer(bare)
    )


def source_of(lines: list[str], *, known: bool) -> Source | None:
    """A job that the reference runs without a fault, or None. `known` tells that the start is."""
    machine = Interpreter(options=OPTIONS)
    before: list[tuple[object, int, int]] = []
    for at, line in enumerate(lines):
        before.append((machine.state.copy(), len(machine.moves), len(machine.events)))
        try:
            machine.execute(at, line)
        except ReferenceError_:
            return None
        if machine.ending:
            break
    program = Program.read("".join(line + "\n" for line in lines).encode(), "job.nc")
    words = tuple(words_of(line) for line in lines)
    start = State.at_zero()
    if not known and not _renumbers(words):
        start = State(units="mm")
        start.origins = [[0.0] * 6 for _ in range(9)]
    version = Version(program, interpret(program, start=start))
    if any(finding.severity is Severity.REFUSE for finding in version.trace.findings):
        return None
    if _wanders(words):
        return None
    cutting = tuple(dict.fromkeys(m.line for m in machine.moves if m.kind != "rapid"))
    read = prove_run(program, [program], Contract(), False, DIALECT)
    return Source(
        lines=tuple(lines),
        words=words,
        program=program,
        version=version,
        start=start,
        before=tuple(before),
        moves=tuple(machine.moves),
        events=tuple(machine.events),
        followed=not (read.unread or _renumbers(words) or _strays(words, cutting)),
        moving=tuple(dict.fromkeys(move.line for move in machine.moves)),
        cutting=cutting,
    )


def _renumbers(words: tuple[tuple[Word, ...], ...]) -> bool:
    """Whether the numbers in force depend on what the machine alone knows, behind some words."""
    codes = {word.code[1:] for row in words for word in row if word.letter == "G"}
    return bool(codes & _RENUMBERING) or any(code.startswith("5") for code in codes)


def _wanders(words: tuple[tuple[Word, ...], ...]) -> bool:
    """Whether a job goes by increments and to places that the machine alone knows: how far it
    goes from there is beyond the proof."""
    codes = {word.code for row in words for word in row}
    return "G91" in codes and bool(codes & {"G28", "G30"})


def _strays(words: tuple[tuple[Word, ...], ...], cutting: tuple[int, ...]) -> bool:
    """Whether a job cuts from a place, or goes by increments, before it has said where it is."""
    stated: set[str] = set()
    for at, row in enumerate(words):
        increments = any(word.code == "G91" for word in row)
        if increments and any(word.letter in "ABC" for other in words for word in other):
            return True
        if (increments or at in cutting) and not {"X", "Y", "Z"} <= stated:
            return True
        stated |= {word.letter for word in row}
    return False


def sources(rng: random.Random, count: int, *, drilling: int = 0) -> list[Source]:
    """Jobs of all kinds, of 12 to about 30 lines; so many that drill come first, for some of these
    must be there whatever the luck of the others."""
    made: list[Source] = []
    every = list(_shop_parts())
    while len(made) < count:
        kind = 0.55 if len(made) < drilling else rng.random()
        if kind < 0.52:
            lines = workshop_job(rng)
        elif kind < 0.6:
            lines = drilling_job(rng)
        elif kind < 0.75:
            lines = rng.choice(every)
        elif kind < 0.85:
            lines = random_program(rng, rng.randint(14, 24), profile="plain")
        else:
            lines = plainly_spelt(random_program(rng, rng.randint(14, 20), options=OPTIONS))
        source = source_of(lines, known=rng.random() < 0.5)
        if source is not None and len(source.moving) > 4:
            made.append(source)
    return made


def _shop_parts() -> Iterator[list[str]]:
    """Beginnings of the gallery's jobs, with an end."""
    for path in sorted(RECIPE_JOBS.iterdir()):
        if path.suffix not in (".nc", ".tap", ".ngc"):
            continue
        lines = [line for line in path.read_text().splitlines() if line.strip() != "%"]
        for length in (17, 25):
            yield [*lines[:length], "M5", "M30"]


def plainly_spelt(lines: list[str]) -> list[str]:
    """A generated program without expressions, parameters and odd spelling, up to a probe."""
    machine = Interpreter(options=OPTIONS)
    plain: list[str] = []
    for at, text in enumerate(lines):
        if machine.ending or (text.strip() == "%" and plain):
            break
        if text.strip() == "%":
            continue
        line = read_line(text, machine.state.parameters)
        machine.execute(at, text)
        if any((word.letter, word.value) == ("g", 38.2) for word in line.words):
            break
        spelt = " ".join(f"{w.letter.upper()}{number(w.value, 5)}" for w in line.words)
        plain.append(spelt or "(hive)")
    return plain


def workshop_job(rng: random.Random) -> list[str]:
    """A job as CAM writes it: two tools, straight moves, arcs of both kinds, a helix, a pause."""
    inch = rng.random() < 0.25
    size, places = (0.04, 4) if inch else (1.0, 3)

    def n(value: float) -> str:
        return f"{value:.{places}f}"

    def place(most: float) -> float:
        return round(rng.uniform(1, most) * size, places)

    x, y, z = place(300), place(300), round(5 * size, places)
    lines = [
        "(HIVE FLOOR)",
        f"G{20 if inch else 21} G90",
        "G17 G94",
        f"T{rng.randint(1, 9)} M6",
        f"M{rng.choice((3, 3, 3, 4))} S{rng.randint(8, 24)}000",
        f"G0 Z{n(z)}",
        f"G0 X{n(x)} Y{n(y)}",
    ]
    if rng.random() < 0.6:
        lines.insert(5, rng.choice(("M8", "M7")))
    if rng.random() < 0.7:
        lines.insert(5, f"G4 P{rng.randint(1, 5)}")
    code = "G0"
    feed = ""
    cuts = rng.randint(6, 9)
    for at in range(cuts):
        if at == cuts // 2 and rng.random() < 0.8:
            lines += _pause(rng, n(5 * size))
            code, z = "G0", 5 * size
        way = rng.random()
        said = ""
        if not feed or rng.random() < 0.2:
            said = f" F{rng.randint(2, 30) * (10 if inch else 100)}"
            feed = said
        if at == 0 or way < 0.15:
            z = round(-rng.uniform(0.5, 9) * size, places)
            new, rest = "G1", f"Z{n(z)}"
        elif way < 0.3:
            new = rng.choice(("G2", "G3"))
            end, radius = (place(300), place(300)), 0.0
            radius = math.hypot(end[0] - x, end[1] - y) / 2 * rng.uniform(1.1, 2.5)
            sign = "-" if rng.random() < 0.25 else ""
            x, y = end
            rest = f"X{n(x)} Y{n(y)} R{sign}{n(radius)}"
        elif way < 0.48:
            new = rng.choice(("G2", "G3"))
            i, j = round(rng.uniform(-30, 30) * size, places), place(30)
            turn = rng.uniform(0.3, 6) * (-1 if new == "G2" else 1)
            angle, radius = math.atan2(-j, -i) + turn, math.hypot(i, j)
            x = round(x + i + radius * math.cos(angle), places)
            y = round(y + j + radius * math.sin(angle), places)
            rest = f"X{n(x)} Y{n(y)} I{n(i)} J{n(j)}"
            if rng.random() < 0.3:
                z = round(z - rng.uniform(0.1, 1) * size, places)
                rest = rest.replace(" I", f" Z{n(z)} I")
        else:
            new, parts = "G1", []
            if rng.random() < 0.8:
                x = place(300)
                parts.append(f"X{n(x)}")
            if rng.random() < 0.7 or not parts:
                y = place(300)
                parts.append(f"Y{n(y)}")
            rest = " ".join(parts)
        shown = "" if new == code and rng.random() < 0.7 else f"{new} "
        lines.append(f"{shown}{rest}{said}")
        code = new
    return [*lines, f"G0 Z{n(5 * size)}", "M9", "M5", "M30"]


def drilling_job(rng: random.Random) -> list[str]:
    """Holes in rows, drilled or pecked."""
    lines = ["(FIXING HOLES)", "G21 G90 G17 G94 G80", "T4 M6", "S8000 M3", "G0 Z12.500", "X5 Y5"]
    for _ in range(rng.randint(1, 3)):
        code = rng.choice(("G81", "G83 Q1.5", "G81", "G85"))
        depth = f"Z-{rng.uniform(2, 6):.2f} R{rng.uniform(1, 3):.1f}"
        x, y = rng.randint(10, 300), rng.randint(10, 300)
        lines.append(f"{rng.choice(('G98', 'G99'))} {code} X{x}.5 Y{y} {depth} F240")
        lines += [f"X{x + 12 * at}.25" for at in range(1, rng.randint(2, 6))]
        lines.append("G80")
    return [*lines, "G0 Z25.", "G1 X20 F900", "M5", "M30"]


def _pause(rng: random.Random, safe: str) -> list[str]:
    """In the midst of a job: up, and a pause or another tool."""
    if rng.random() < 0.5:
        return [f"G0 Z{safe}", rng.choice(("M0", "M0", "M1")), f"G4 P{rng.randint(1, 4)}.5"]
    return [f"G0 Z{safe}", f"T{rng.randint(10, 19)} M6", f"S{rng.randint(8, 24)}000 M3"]


def valid(lines: list[str]) -> bool:
    """Whether the reference runs the lines without a fault."""
    return run(lines, options=OPTIONS).error is None
