"""What a transform may change: its contract."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

from headrace.plugins.trailing import Trailing

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt


class Facet(StrEnum):
    """A view of a program. What a contract does not name must come out equal.

    Facets view effect, not spelling: a redundant word changes nothing but `SPELLING`.
    """

    COMMENTS = "comments"
    """Comments, messages, blank lines and spaces."""
    LINE_NUMBERS = "line-numbers"
    """N words."""
    SPELLING = "spelling"
    """How the words are written, with the same effect."""
    SPINDLE = "spindle"
    """Spindle state and speed at each cutting move."""
    OUTPUTS = "outputs"
    """Coolant words and what is wired to them, at each cutting move."""
    FEED = "feed"
    """Feed rate at each cutting move, and whether the feed knob works."""
    CORNERS = "corners"
    """How corners are taken: by the exact path, or not."""
    DWELL = "dwell"
    """Dwells."""
    STOPS = "stops"
    """Program stops, optional stops and the program end; and calls of the bit that is in already,
    where these go."""
    PAUSE_TEXTS = "pause-texts"
    """What the operator reads at a stop that was there before."""
    TOOL = "tool"
    """The tool at each cutting move and the index of its length, and tool changes."""
    WORK_ZERO = "work-zero"
    """Work offsets: where the numbers count from."""
    OPTIONAL = "optional-lines"
    """Lines that a switch may leave out: they become lines for good, or go."""


@dataclass(frozen=True, slots=True)
class Affine:
    """An affine map of places in work coordinates: three rows of `x, y, z, shift` (mm)."""

    rows: tuple[tuple[float, float, float, float], ...]

    @classmethod
    def of(cls, rows: Sequence[Sequence[float]]) -> Affine:
        """From three rows of four numbers. Raises ValueError for anything else."""
        import numpy as np

        matrix = np.asarray(rows, np.float64)
        if matrix.shape != (3, 4) or not np.isfinite(matrix).all():
            raise ValueError("an affine map has three rows of four numbers")
        if abs(np.linalg.det(matrix[:, :3])) < 1e-12:
            raise ValueError("an affine map may not flatten the path")
        first, second, third = (tuple(float(value) for value in row) for row in matrix)
        return cls((first, second, third))  # type: ignore[arg-type]

    @property
    def matrix(self) -> npt.NDArray[np.float64]:
        """The three rows as an array (3, 4)."""
        import numpy as np

        return np.array(self.rows)

    def then(self, later: Affine) -> Affine:
        """This map, and another one behind it."""
        import numpy as np

        linear, shift = later.matrix[:, :3], later.matrix[:, 3]
        mine = self.matrix
        joined = np.column_stack([linear @ mine[:, :3], linear @ mine[:, 3] + shift])
        return Affine.of(joined.tolist())

    @property
    def stretch(self) -> float:
        """How many times a length may grow at most."""
        import numpy as np

        return float(np.linalg.norm(self.matrix[:, :3], 2))

    def __str__(self) -> str:
        names = ("x", "y", "z")
        if all(
            row[at] == (at == number) for number, row in enumerate(self.rows) for at in range(3)
        ):
            shifts = [f"{n.upper()}{row[3]:+g}" for n, row in zip(names, self.rows, strict=True)]
            return f"shifted by {' '.join(shifts)}"
        rows = (
            "+".join(
                [f"{value:.6g}{n}" for value, n in zip(row, (*names, ""), strict=True) if value]
            )
            for row in self.rows
        )
        return f"mapped to ({', '.join(row or '0' for row in rows).replace('+-', '-')})"


@dataclass(frozen=True, slots=True)
class Renumbering:
    """Places that were said in one work offset system (1 to 9) are said in another one: `shift`
    (X, Y, Z; mm) is added to their numbers. With a `tool` that holds for its moves alone."""

    system: int
    into: int
    shift: tuple[float, float, float]
    tool: int | None = None

    def then(self, later: Renumbering) -> Renumbering:
        """Both, one behind the other."""
        first, second = self.shift, later.shift
        total = (first[0] + second[0], first[1] + second[1], first[2] + second[2])
        tool = later.tool if self.tool is None else self.tool
        return Renumbering(self.system, later.into, total, tool)


@dataclass(frozen=True, slots=True)
class Wrap:
    """What was said along a linear `axis` (such as `Y`) is said on a rotary one, `onto` (such as
    `A`): so many `degrees` a mm, counted from the same zero. `counts` is what F counts of a move on
    which the rotary axis turns while linear ones go: `linear`, their way alone (RS274/NGC 2.1.2.5),
    or `all`, the root of all squares, degrees among them."""

    axis: str
    onto: str
    degrees: float
    counts: str = "linear"

    def __post_init__(self) -> None:
        fits = self.axis in ("X", "Y", "Z") and self.onto in ("A", "B", "C")
        if not fits or self.counts not in ("linear", "all"):
            raise ValueError("a wrap leads X, Y or Z onto A, B or C; F counts `linear` or `all`")
        if not 0 < abs(self.degrees) < float("inf"):
            raise ValueError(f"a wrap turns by some degrees a mm, not {self.degrees}")

    def __str__(self) -> str:
        return f"{self.axis} wrapped onto {self.onto}, {self.degrees:.6g} degrees a mm"


@dataclass(frozen=True, slots=True)
class Contract:
    """What may come out otherwise than it was.

    `facets` may change as they like. `adds_motion` tells that added lines may move the machine,
    outside the job's own cutting. The path itself may be mapped by `affine`, may stray from where
    it was by `within` mm at the most, and feeds and speeds by `feed_within` mm/min and
    `speed_within` rev/min. With `detours` a rapid may become rapids that lead to the same place:
    Z first where it rises, X and Y first where it sinks. Places said in one work offset system may
    be said in another one, as `renumbers` tell. What linear axes did, rotary ones may do, as
    `wraps` tell, one after the other and behind the map: then feeds are compared by the time of
    each move.
    With `trails` the path of the result is that of a tip which trails the axis; of several, the
    first one trails what the second one leads.
    """

    facets: frozenset[Facet] = frozenset()
    adds_motion: bool = False
    affine: Affine | None = None
    within: float = 0.0
    feed_within: float = 0.0
    speed_within: float = 0.0
    detours: bool = False
    renumbers: tuple[Renumbering, ...] = ()
    wraps: tuple[Wrap, ...] = ()
    trails: tuple[Trailing, ...] = ()

    def __post_init__(self) -> None:
        if self.trails and not self.within:
            raise ValueError("a tip that trails follows a path within a tolerance: give `within`")

    def then(self, later: Contract) -> Contract:
        """What two steps, one behind the other, may change together."""
        affine = self.affine
        if later.affine is not None:
            affine = later.affine if affine is None else affine.then(later.affine)
        grown = self.within * (later.affine.stretch if later.affine else 1.0)
        return Contract(
            facets=self.facets | later.facets,
            adds_motion=self.adds_motion or later.adds_motion,
            affine=affine,
            within=grown + later.within,
            feed_within=self.feed_within + later.feed_within,
            speed_within=self.speed_within + later.speed_within,
            detours=self.detours or later.detours,
            renumbers=_both(self.renumbers, later.renumbers),
            wraps=(*self.wraps, *later.wraps),
            trails=(*self.trails, *later.trails),
        )

    def __str__(self) -> str:
        return "; ".join(self._clauses())

    def _clauses(self) -> Iterator[str]:
        if self.affine is not None:
            yield f"cut path {self.affine}"
        yield from (f"cut path {each}" for each in self.trails)
        if self.within:
            yield f"cut path within {self.within:.6g} mm"
        elif self.affine is None:
            yield "same cut path"
        yield from map(str, self.wraps)
        if self.renumbers:
            yield "places said from another zero"
        if self.feed_within:
            yield f"feeds within {self.feed_within:.6g} mm/min"
        if self.speed_within:
            yield f"speeds within {self.speed_within:.6g} rev/min"
        if self.detours:
            yield "rapids by the corner"
        if self.adds_motion:
            yield "motion added outside the job's own"
        if self.facets:
            yield f"may change {', '.join(facet for facet in Facet if facet in self.facets)}"
        else:
            yield "changes nothing else"


def _both(
    first: tuple[Renumbering, ...], later: tuple[Renumbering, ...]
) -> tuple[Renumbering, ...]:
    """What becomes of places by two steps: the later one finds them where the first left them."""
    behind = {(each.system, each.tool): each for each in later}
    found = dict(behind)
    for each in first:
        then = behind.get((each.into, each.tool)) or behind.get((each.into, None))
        found[each.system, each.tool] = each if then is None else each.then(then)
    return tuple(found[key] for key in sorted(found, key=lambda key: (key[0], key[1] or -1)))
