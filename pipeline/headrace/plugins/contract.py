"""What a transform may change: its contract."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

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
    """Program stops, optional stops and the program end."""
    PAUSE_TEXTS = "pause-texts"
    """What the operator reads at a stop that was there before."""
    TOOL = "tool"
    """The tool at each cutting move, and tool changes."""
    WORK_ZERO = "work-zero"
    """Work offsets: where the numbers count from."""


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
class Contract:
    """What may come out otherwise than it was.

    `facets` may change as they like. `adds_motion` tells that added lines may move the machine,
    outside the job's own cutting. The path itself may be mapped by `affine`, and may stray from
    where it was by `within` mm at the most.
    """

    facets: frozenset[Facet] = frozenset()
    adds_motion: bool = False
    affine: Affine | None = None
    within: float = 0.0

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
        )

    def __str__(self) -> str:
        return "; ".join(self._clauses())

    def _clauses(self) -> Iterator[str]:
        if self.affine is not None:
            yield f"cut path {self.affine}"
        if self.within:
            yield f"cut path within {self.within:g} mm"
        elif self.affine is None:
            yield "same cut path"
        if self.adds_motion:
            yield "motion added outside the job's own"
        if self.facets:
            yield f"may change {', '.join(facet for facet in Facet if facet in self.facets)}"
        else:
            yield "changes nothing else"
