"""The arcs of a job, in columns."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
import numpy.typing as npt

from headrace import Job
from headrace_transforms.numbers.modes import Mode
from headrace_transforms.numbers.style import ARC_TOLERANCE, MM_IN_INCH, inch_mode

Bools = npt.NDArray[np.bool_]
Floats = npt.NDArray[np.float64]
Longs = npt.NDArray[np.int64]

AXES, CENTRES = "XYZ", "IJK"
CLOCKWISE = 2
"""The kind of a move by G2; one by G3 is 3."""
PLANES = {17: (0, 1, 2), 18: (2, 0, 1), 19: (1, 2, 0)}
"""First and second axis of each plane, right-handed, and the axis across (RS274/NGC 4.3.6.1)."""
ACROSS = {plane: axes[2] for plane, axes in PLANES.items()}
_SAME = 1e-6


@dataclass(frozen=True, slots=True, eq=False)
class Arcs:
    """Arcs (k) in the order of the job: their lines, kinds and planes; start and end (k, 3) in X Y
    Z and the centre (k, 2) in the plane's axes, in mm; the turn (rad, positive).

    `by_radius`, `increments`, `absolute` (centres as places), `inch`, `timed` (G93) and `swings`
    (A, B or C turn as well) tell how each is said; `lifts` that it names the axis across.
    """

    line: Longs
    kind: Longs
    plane: Longs
    start: Floats
    end: Floats
    centre: Floats
    turn: Floats
    by_radius: Bools
    increments: Bools
    absolute: Bools
    inch: Bools
    timed: Bools
    swings: Bools
    lifts: Bools

    def __len__(self) -> int:
        return len(self.line)

    @classmethod
    def of(cls, job: Job) -> Arcs:
        """All arcs that a job runs, in the order of running."""
        line, kind, plane = [_WHOLE], [_WHOLE], [_WHOLE]
        start, end, centre, turn = [_PLACES], [_PLACES], [_PLACES[:, :2]], [_PLACES[:, 0]]
        increments, timed, swings = [_WAYS], [_WAYS], [_WAYS]
        for block in job.trace.blocks:
            if block.arcs is None:
                continue
            rows, held = block.arcs.rows, block.setting
            begun = np.column_stack([block.starts(axis)[rows] for axis in range(6)])
            ended = np.column_stack([block.ends[axis][rows] for axis in range(6)])
            stands = (begun[:, 3:] == ended[:, 3:]) | np.isnan(ended[:, 3:])
            line.append(block.line[rows].astype(np.int64))
            kind.append(block.kind[rows].astype(np.int64))
            plane.append(np.full(len(rows), held.plane))
            start.append(begun[:, :3])
            end.append(ended[:, :3])
            centre.append(np.column_stack([block.arcs.centre_u, block.arcs.centre_v]))
            turn.append(block.arcs.turn)
            increments.append(np.full(len(rows), held.incremental))
            timed.append(np.full(len(rows), held.inverse_time))
            swings.append(~stands.all(axis=1))
        lines, planes = np.concatenate(line), np.concatenate(plane)
        stop = int(lines.max(initial=0)) + 1
        lifts = np.zeros(len(lines), np.bool_)
        for code, axes in PLANES.items():
            here = planes == code
            lifts[here] = np.isin(lines[here], job.program.lines_with(AXES[axes[2]]))
        return cls(
            line=lines,
            kind=np.concatenate(kind),
            plane=planes,
            start=np.concatenate(start),
            end=np.concatenate(end),
            centre=np.concatenate(centre),
            turn=np.concatenate(turn),
            by_radius=np.isin(lines, job.program.lines_with("R")),
            increments=np.concatenate(increments),
            absolute=Mode.of(job, stop, (90.1, 91.1), job.start.absolute_centres).at(lines),
            inch=inch_mode(job, stop).at(lines),
            timed=np.concatenate(timed),
            swings=np.concatenate(swings),
            lifts=lifts,
        )

    def where(self, chosen: Bools | Longs) -> Arcs:
        """Some of the arcs."""
        return Arcs(**{field.name: getattr(self, field.name)[chosen] for field in fields(self)})

    def axes(self, which: int) -> Longs:
        """The first (0) or second (1) axis of each arc's plane, or the one across (2) (k)."""
        table = np.zeros(20, np.int64)
        for plane, axes in PLANES.items():
            table[plane] = axes[which]
        axis: Longs = table[self.plane]
        return axis

    def in_plane(self, places: Floats) -> Floats:
        """Places (k, 3) in X Y Z along each arc's own axes: first, second, across (k, 3)."""
        if (self.plane == 17).all():
            return places
        found = places.copy()
        for plane, axes in PLANES.items():
            here = self.plane == plane
            found[here] = places[here][:, list(axes)]
        return found

    def from_centre(self, places: Floats) -> Floats:
        """Places (k, 3) in the plane, from the centre (k, 2)."""
        return self.in_plane(places)[:, :2] - self.centre

    @property
    def radii(self) -> tuple[Floats, Floats]:
        """The radius at the start and at the end (k, mm)."""
        first, last = (np.hypot(*self.from_centre(place).T) for place in (self.start, self.end))
        return first, last

    @property
    def rise(self) -> Floats:
        """How far each goes across its plane (k, mm); NaN where it is not known."""
        rise = self.in_plane(self.end)[:, 2] - self.in_plane(self.start)[:, 2]
        return np.where(self.lifts, rise, 0.0)

    @property
    def factor(self) -> Floats:
        """Millimetres in the unit that each is said in (k)."""
        return np.where(self.inch, MM_IN_INCH, 1.0)

    @property
    def full(self) -> Bools:
        """Which end where they begin, seen in the plane (k)."""
        apart = np.abs(self.in_plane(self.end) - self.in_plane(self.start))
        full: Bools = (apart[:, 0] < _SAME) & (apart[:, 1] < _SAME)
        return full

    @property
    def allowed(self) -> Floats:
        """By how much the radii at both ends may differ (k, mm)."""
        return np.where(self.inch, ARC_TOLERANCE["inch"], ARC_TOLERANCE["mm"])


_WHOLE, _PLACES, _WAYS = np.zeros(0, np.int64), np.zeros((0, 3)), np.zeros(0, np.bool_)
