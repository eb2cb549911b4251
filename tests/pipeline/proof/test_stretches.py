"""The second reading by the thousand: against itself line by line, and numbers against `float`."""

from __future__ import annotations

import math
import random
import re
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from plugins.hive_cuts import cuts

from headrace.proof.second.bare import bare
from headrace.proof.second.follower import Dialect, Follower, Move, lines_of
from headrace.proof.second.stretch import Stretch, _words, follow

NUMBERS = st.decimals(-99999, 99999, places=5).map(lambda value: format(value, "f"))
SPELT = st.one_of(
    NUMBERS, NUMBERS.map(lambda text: text.replace("0.", ".")), st.integers().map(str)
)


@given(st.lists(SPELT.filter(lambda text: len(text) < 15), min_size=1))
def test_numbers_are_those_of_float(texts: list[str]) -> None:
    """Python reads decimals correctly rounded, and so are mantissas below 2**53 over powers of ten
    up to 10**22."""
    found = _words("".join(f"X{text}\n" for text in texts).encode())
    assert found is not None
    assert found[3].tolist() == [float(text) for text in texts]


@pytest.mark.parametrize(
    "line",
    ["X1.2.3", "X-", "X.", "X+-1", "X1-2", "XY1", "5X1", "X1 2", "X1E3", "M3", "X1(A)", "g1X1",
     "G4", "X12345678901234567"],
)  # fmt: skip
def test_what_is_not_certain_is_left_to_the_follower(line: str) -> None:
    assert _words(f"G1X1\n{line}\nX2\n".encode()) is None


@given(
    st.randoms(use_true_random=False),
    st.booleans(),
    st.booleans(),
    st.sampled_from(["", "a", "i"]),
)
def test_a_stretch_is_what_its_lines_are(
    rng: random.Random, inch: bool, known: bool, kinds: str
) -> None:
    """The same moves, one by one and in columns, from the same state."""
    made = cuts(rng, inch=inch, places=4, kinds=kinds, length=20)
    plain = [line for line in made[1:-1] if re.match(r"[GXYZ]", line) and line[:3] not in HEADS]
    lines = bare("\n".join([*plain, ""]).encode())
    singly, whole = Follower(inch, Dialect({})), Follower(inch, Dialect({}))
    for follower in (singly, whole):
        follower.line(0, b"G91\n" if "i" in kinds else b"G90\n")
        follower.line(0, b"G1F50.5\n")
        if known:
            follower.line(0, b"G53G0Z-5\n")
        follower.take()
    for number, line in enumerate(lines_of(lines)):
        singly.line(number, line)
    stretch = follow(whole, lines)
    assert stretch is not None
    require_same(singly.take(), stretch)
    for name in ("at", "placed", "feed"):
        np.testing.assert_allclose(getattr(whole, name), getattr(singly, name), atol=1e-9)
    assert whole.modes == singly.modes


HEADS = ("G17", "G18", "G19", "G90", "G91")


def require_same(moves: list[Move], stretch: Stretch) -> None:
    assert [move.line for move in moves] == stretch.row.tolist()
    assert [move.kind for move in moves] == stretch.kind.tolist()
    for axis in range(6):
        for name, columns in (("start", stretch.starts), ("end", stretch.ends)):
            wanted = [getattr(move, name)[axis] for move in moves]
            np.testing.assert_allclose(columns[axis], wanted, atol=1e-9)
        column = stretch.placed[axis]
        wanted = [move.placed[axis] for move in moves]
        found = np.full(len(moves), math.nan) if column is None else column
        np.testing.assert_array_equal(found, wanted)
    np.testing.assert_allclose(stretch.feed, [move.feed for move in moves])
    nothing = (math.nan,) * 4
    arcs = np.array([move.arc or nothing for move in moves]).reshape(-1, 4)
    np.testing.assert_allclose(stretch.arc.T, arcs, atol=1e-9)


def test_a_move_to_where_it_stands_has_its_feed_in_inches() -> None:
    """Axes of which nothing is known have not turned: F counts inches, not degrees (2.1.2.5)."""
    follower = Follower(True, Dialect({}))
    follower.line(0, b"G1X1Y1Z1F2\n")
    follower.take()
    stretch = follow(follower, b"X1Y1Z1\nX2\nX2\n")
    assert stretch is not None
    assert stretch.feed.tolist() == [float(2 * Decimal("25.4"))] * 3
