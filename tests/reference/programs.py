"""Generated programs: a list of lines each, valid but for the faults that were asked for.

`random_program` takes any `random.Random`, so a seed gives the same program again; `programs`
hands the same makers a source of chance that Hypothesis can shrink.

Lines are made for the state they will meet, which the reference interpreter keeps while the
program grows; a line that it refused would be left out. What the report leaves open is never
generated, so that a difference found is a mistake and not a reading: what G88 leaves behind it,
an old F number after G93 or after a change of units, R of one cycle used by another, and a
number stored in one unit and used in the other.
"""

from __future__ import annotations

import random
from collections.abc import Callable

from hypothesis import strategies as st
from reference.contours import plain_program
from reference.fault import ReferenceError_
from reference.holes import cycle
from reference.machine import Interpreter
from reference.modes import MODE_MAKERS, ONE_UNIT_MAKERS, TWO_UNIT_MAKERS
from reference.records import Options, Start
from reference.refusals import REFUSALS
from reference.shapes import MOVE_MAKERS
from reference.spelling import Words, remark, spell

Maker = Callable[[random.Random, Interpreter], list[Words]]

_MAKERS: tuple[tuple[Maker, int], ...] = (*MOVE_MAKERS, *MODE_MAKERS, (cycle, 8))


def programs(
    profile: str = "all", *, longest: int = 30, faults: float = 0.0, options: Options | None = None
) -> st.SearchStrategy[list[str]]:
    """Programs of 1 to about `longest` lines. See `random_program` for the rest."""
    return st.builds(
        lambda rng, lines: random_program(
            rng, lines, profile=profile, faults=faults, options=options
        ),
        st.randoms(use_true_random=False),
        st.integers(1, longest),
    )


def random_program(
    rng: random.Random,
    lines: int,
    *,
    profile: str = "all",
    faults: float = 0.0,
    options: Options | None = None,
    start: Start | None = None,
) -> list[str]:
    """A program of at least `lines` lines, a little more when one idea takes several.

    profile: `all`, or `plain` for G0 to G3 with X Y Z F S N and comments, all in mm.
    faults: probability that a line of `refusals` is put in somewhere.
    options: as the program will be run; they decide which extensions may appear.
    start: as the program will be run (`all` only).
    """
    if profile == "plain":
        return plain_program(rng, lines)
    if profile != "all":
        raise ValueError(f"no such profile: {profile}")
    machine = Interpreter(start, options)
    text: list[str] = []
    more = rng.choice([ONE_UNIT_MAKERS, TWO_UNIT_MAKERS])
    makers = [maker for maker, weight in (*_MAKERS, *more) for _ in range(weight)]
    unit = rng.choice(["20", "21"])
    for words in ([("G", "90"), ("G", "17"), ("G", unit)], [("G", "94"), ("F", "60")]):
        _try(rng, machine, text, words)
    while len(text) < lines and not machine.ending:
        for words in rng.choice(makers)(rng, machine):
            if not _try(rng, machine, text, words):
                break
        if rng.random() < 0.1:
            text.append(remark(rng, semicolons=machine.options.semicolons))
    if rng.random() < faults:
        # Some faults do no harm where they land (a missing feed was given long ago); then the
        # program is valid, or it is the next arc that no longer fits.
        refusal = rng.choice([r for r in REFUSALS if len(r.lines) == 1 and r.line < 0])
        text.insert(rng.randint(0, len(text)), refusal.lines[0])
    return _framed(rng, text)


def _try(rng: random.Random, machine: Interpreter, text: list[str], words: Words) -> bool:
    line = spell(rng, words, semicolons=machine.options.semicolons)
    try:
        machine.execute(len(text), line)
    except ReferenceError_:
        return False
    text.append(line)
    return True


def _framed(rng: random.Random, text: list[str]) -> list[str]:
    """Ended by M2, M30 or `%`, with lines behind the end now and then that must not be read."""
    way = rng.randrange(4)
    if way == 0:
        text = [rng.choice(["%", " % ", "%\t"]), *text, "%"]
    elif way == 1:
        text = [*text, rng.choice(["M2", "m30", "M 02", "G0 X0 M30"])]
    elif way == 2:
        text = ["", "%", *text, "M30", "%"]
    if way < 3 and rng.random() < 0.3:
        text = [*text, rng.choice(["G0 X1000 Y1000", "this is (not) read", ""])]
    return text
