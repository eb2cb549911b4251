"""Comparing paths: the same places, in the same way, under the same settings."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

from headrace.findings import Place
from headrace.language.modal import AXES, PLANES
from headrace.plugins.contract import Contract, Facet
from headrace.program import number_text
from headrace.proof.bundles import Bundles
from headrace.proof.chains import Chains, chain, deviations
from headrace.proof.detours import straightened
from headrace.proof.path import SAME, Bools, Floats, Held, Path, at_place
from headrace.proof.tips import Blade, Tips
from headrace.proof.version import Breach
from headrace.proof.wraps import Stood, flat, unrolled

_SETTINGS = (
    (Facet.SPINDLE, ("spindle",), "the spindle at a cutting move"),
    (Facet.OUTPUTS, ("mist", "flood", "outputs"), "the outputs at a cutting move"),
    (Facet.TOOL, ("tool",), "the tool of a cutting move"),
    (Facet.TOOL, ("length",), "the tool length of a cutting move"),
    (Facet.WORK_ZERO, ("system",), "the work offset system of a cutting move"),
    (Facet.FEED, ("inverse_time",), "what the feed of a move means"),
)
_FIRST_WINDOW = 64
_LARGE = 1e15
"""Numbers from here on are said by their first digits alone."""

_Difference = tuple[Bools, Callable[[int], str]]
Noted = tuple[int, float, list[bool], list[Blade]]


@dataclass(slots=True, eq=False)
class Brought:
    """Where the steps bring the machine before the job's own part begins.

    A step that moves the machine or the zero may leave it elsewhere than before. As long as the
    job's own moves name no place along an axis, they stay where the steps brought it: `old` and
    `new` are these places, `waiting` tells of each axis whether that still holds.
    """

    old: tuple[float, ...]
    new: tuple[float, ...]
    waiting: list[bool] = field(default_factory=lambda: [True] * len(AXES))

    def excused(
        self, axis: int, own: Bools, old: tuple[Floats, Floats], new: tuple[Floats, Floats]
    ) -> tuple[Bools, Bools] | None:
        """Which moves wait for the job along an axis where they begin, and which still where they
        end; None where the job has named a place. `old` and `new` are starts and ends."""
        if not self.waiting[axis] or not len(own):
            return None
        begins, ends = (
            at_place(was, self.old[axis]) & at_place(now, self.new[axis])
            for was, now in zip(old, new, strict=True)
        )
        still: Bools = np.logical_and.accumulate(ends | ~own)
        begun = np.concatenate([[True], still[:-1]])
        self.waiting[axis] = bool(still[-1])
        return begins & begun & own, still & own

    def passed(self) -> None:
        """A block came out equal: an axis that differed at the beginning no longer waits."""
        self.waiting = [
            waits and old == new
            for waits, old, new in zip(self.waiting, self.old, self.new, strict=True)
        ]


@dataclass(slots=True, eq=False)
class Comparison:
    """Comparing stretch by stretch, under one contract.

    `was` and `now` give the places of lines on both sides; `own` which lines of the first are the
    job's. `moves` counts what was compared, `deviation` is the largest distance found (mm).
    """

    contract: Contract
    was: Callable[[int], Place | None]
    now: Callable[[int], Place | None]
    own: Callable[[npt.NDArray[np.int32]], Bools]
    brought: Brought | None = None
    moves: int = 0
    deviation: float = 0.0
    stood: Stood = field(default_factory=dict)
    own_now: Callable[[npt.NDArray[np.int32]], Bools] | None = None
    tips: Tips = field(init=False)

    def __post_init__(self) -> None:
        contract = self.contract
        self.tips = Tips(contract.trails, contract.within)
        if contract.trails:  # the tip is followed to its grain, which is taken off and added again
            self.contract = replace(contract, within=contract.within - self.tips.grain)

    @property
    def strayed(self) -> float:
        """The largest deviation of what cuts (mm), at the most."""
        return self.deviation + self.tips.grain

    def noted(self) -> Noted:
        """How far it has come, to go back to."""
        waiting = [] if self.brought is None else list(self.brought.waiting)
        return self.moves, self.deviation, waiting, list(self.tips.blades)

    def back_to(self, noted: Noted) -> None:
        """As if nothing had been compared since."""
        self.moves, self.deviation, waiting, self.tips.blades = noted
        if self.brought is not None:
            self.brought.waiting = waiting

    def of(self, old: Path, new: Path) -> Breach | None:
        """The first difference between some moves and those in their place."""
        if self.contract.renumbers:
            old = old.renumbered(self.contract.renumbers)
        if self.contract.affine is not None:
            old = old.mapped(self.contract.affine)
        if self.contract.wraps:
            old = flat(old, self.contract.wraps, self.contract.within)
            new = unrolled(new, self.contract.wraps, self.stood)
        if self.contract.trails:
            new = self.tips.of(new, self._led(new))
        if self.contract.detours:
            new = straightened(old, new)
        within = self.contract.within
        if within and same_lines(old, new) and self._first_wrong(old, new) is None:
            self._tally(old, new, len(old))
            return None
        at, there = self._by_lines(old, new) if within and self.brought is None else (0, 0)
        window = _FIRST_WINDOW if within else max(len(old), len(new))
        while at < len(old) and there < len(new):
            size = min(window, len(old) - at, len(new) - there)
            first, second = (
                old.where(slice(at, at + size)),
                new.where(slice(there, there + size)),
            )
            wrong = self._first_wrong(first, second)
            fine = size if wrong is None else wrong[0]
            self._tally(first, second, fine)
            at, there = at + fine, there + fine
            window *= 4
            if wrong is None:
                continue
            step = self._chain(old, at, new, there) if within else None
            if step is None:
                return self._breach(wrong[1], old, at, new, there)
            at, there = at + step[0], there + step[1]
            window = _FIRST_WINDOW
        if at < len(old):
            return Breach("the number of moves: one is lost", self.was(int(old.line[at])))
        if there < len(new):
            return Breach("the number of moves: one is added", None, self.now(int(new.line[there])))
        return None

    def _led(self, new: Path) -> Bools:
        """Which moves of the result are the job's own (m): they lead the blade."""
        if self.own_now is None:
            return np.ones(len(new), np.bool_)
        return self.own_now(new.line)

    def _breach(self, what: str, old: Path, at: int, new: Path, there: int) -> Breach:
        return Breach(what, self.was(int(old.line[at])), self.now(int(new.line[there])))

    def _tally(self, old: Path, new: Path, count: int) -> None:
        self.moves += count
        if not count:
            return
        off = np.zeros(count)
        for axis in range(3):
            apart = old.ends[axis][:count] - new.ends[axis][:count]
            if old.placed[axis] is None and self.brought is None:
                off += np.nan_to_num(apart) ** 2
            else:  # a zero that was moved changes the numbers, not the path
                known = np.abs(np.nan_to_num(apart))
                off += np.where(known <= max(self.contract.within, SAME), known, 0.0) ** 2
        self.deviation = max(self.deviation, float(np.sqrt(off.max())))

    def _by_lines(self, old: Path, new: Path) -> tuple[int, int]:
        """Compare what became of each line, in bulk; how many moves of both sides, from the first
        on, say the same. What comes behind them is not settled by that."""
        reached = (0, 0)
        for bundles in Bundles.of(old, new):
            stop = self._bundles(bundles)
            reached = int(bundles.was[stop]), int(bundles.now[stop])
            if stop < len(bundles):
                break
        return reached

    def _bundles(self, bundles: Bundles) -> int:
        """How many bundles, from the first on, say the same; these are tallied."""
        pairs, (was, now) = bundles.pairs(), bundles.sizes
        forth, back = ~pairs & (was == 1) & (now > 0), ~pairs & (was > 1) & (now == 1)
        rest = np.flatnonzero(~(pairs | forth | back))
        stop = int(rest[0]) if len(rest) else len(bundles)
        paired = np.flatnonzero(pairs[:stop])
        first, second, bundle = bundles.rows_of(paired)
        wrong = self._first_wrong(first, second)
        if wrong is not None:
            stop = int(bundle[wrong[0]])
        measured = []
        for which, backwards in ((forth, False), (back, True)):
            chosen = np.flatnonzero(which[:stop])
            chains = bundles.chains(chosen, back=backwards)
            found = deviations(chains, self.contract.within)
            good = (found < np.inf) & self._same_way(chains, back=backwards)
            if not good.all():
                stop = min(stop, int(chosen[np.argmin(good)]))
            measured.append((chosen, found))
        self._tally(first, second, int(np.searchsorted(bundle, stop)))
        for chosen, found in measured:
            counted = chosen < stop
            self.moves += int(was[chosen[counted]].sum())
            self.deviation = max(self.deviation, float(found[counted].max(initial=0.0)))
        return stop

    def _chain(self, old: Path, at: int, new: Path, there: int) -> tuple[int, int] | None:
        """How many old moves and how many new ones say the same within the tolerance."""
        within = self.contract.within
        for single, one, other, begun, swapped in (
            (old, at, new, there, False),
            (new, there, old, at, True),
        ):
            found = chain(single, one, other, begun, within)
            if found is None:
                continue
            count = np.array([found.count])
            chains = Chains(single, np.array([one]), other, np.array([begun]), count)
            if not self._same_way(chains, back=swapped).all():
                continue
            self.moves += found.count if swapped else 1
            self.deviation = max(self.deviation, found.deviation)
            return (found.count, 1) if swapped else (1, found.count)
        return None

    def _same_way(self, chains: Chains, *, back: bool) -> Bools:
        """Whether a move and its chain are cut in the same way (g); with `back` the chain is what
        was there before."""
        if not len(chains):
            return np.ones(0, np.bool_)
        one, many = chains.single, chains.many
        rows, at = chains.rows, chains.at[chains.owner]
        same = np.ones(len(rows), np.bool_)
        for axis in range(3, len(AXES)):  # an axis that turns has no part in a chain
            if not (_known(one, axis, chains.at) or _known(many, axis, rows)):
                continue
            stands = one.starts[axis][at]
            for column in (one.ends[axis][at], many.starts[axis][rows], many.ends[axis][rows]):
                same &= ~_differ(stands, column) & ~_differ(column, stands)
        if Facet.FEED not in self.contract.facets:
            feeds = (many.feed[rows], one.feed[at]) if back else (one.feed[at], many.feed[rows])
            same &= ~_differ(*feeds, SAME + self.contract.feed_within)
            # F says how long each move takes
            timed = np.array([held.inverse_time for held in one.settings], np.bool_)
            same &= ~timed[one.which[at]]
        # what holds is the same throughout, as a rule
        pairs = one.which[at] * len(many.settings) + many.which[rows]
        for pair in _distinct(pairs):
            was, now = divmod(pair, len(many.settings))
            if not same_settings(one.settings[was], many.settings[now], self.contract):
                same &= pairs != pair
        return chains.all(same)

    def _first_wrong(self, old: Path, new: Path) -> tuple[int, str] | None:
        wrong = [
            (int(np.argmax(bad)), what) for bad, what in self._differences(old, new) if bad.any()
        ]
        if not wrong:
            return None
        at, what = min(wrong, key=lambda found: found[0])
        return at, what(at)

    def _differences(self, old: Path, new: Path) -> Iterator[_Difference]:
        """For each view, where moves differ, one for one."""
        cuts, arcs = old.cuts, old.arcs
        yield old.kind != new.kind, lambda _: "the kind of a move"
        yield from self._places(old, new, cuts)
        if arcs.any():
            limits = (self._slack, self._slack, self._turn_slack(old), SAME)
            changed = [
                _differ(old.arc[row], new.arc[row], limit) for row, limit in enumerate(limits)
            ]
            yield arcs & np.logical_or.reduce(changed), lambda _: "an arc"
        if Facet.FEED not in self.contract.facets:
            feeds = (old.feed, new.feed)
            limit = SAME + self.contract.feed_within
            yield (
                cuts & _differ(*feeds, limit),
                lambda at: f"the feed of a move ({_said(*feeds, at)})",
            )
        if Facet.SPINDLE not in self.contract.facets:
            other = _speed_changes(old, new, self.contract.speed_within)
            if other is not None:
                yield cuts & other, lambda _: "the speed of the spindle at a cutting move"
        for facet, names, what in _SETTINGS:
            for name in names if _holds(facet, self.contract) else ():
                other = _setting_changes(old, new, name)
                if other is not None:
                    yield cuts & other, lambda _, what=what: what  # type: ignore[misc]

    @property
    def _slack(self) -> float:
        return SAME + self.contract.within

    def _turn_slack(self, old: Path) -> Floats | float:
        if not self.contract.within:
            return SAME
        radius = np.full(len(old), np.nan)
        for plane, (u, v, _) in PLANES.items():
            rows = np.flatnonzero(old.arc[3] == plane)
            begins = np.array([old.starts[axis][rows] for axis in (u, v)])
            radius[rows] = np.hypot(*(begins - old.arc[:2, rows]))
        with np.errstate(divide="ignore", invalid="ignore"):
            share: Floats = SAME + 2 * self.contract.within / np.maximum(radius, 1e-9)
        return np.where(np.isnan(share), SAME, np.minimum(share, 0.1))

    def _places(self, old: Path, new: Path, cuts: Bools) -> Iterator[_Difference]:
        own = None if self.brought is None else self.own(old.line)
        for axis, name in enumerate(AXES):
            if self.brought is None and _stands(old, new, axis):
                continue
            was, now = (old.starts[axis], old.ends[axis]), (new.starts[axis], new.ends[axis])
            limit = self._slack if axis < 3 else SAME
            begins, ends = (_differ(a, b, limit) for a, b in zip(was, now, strict=True))
            # only a line that names the axis takes it elsewhere, and no line did
            ends |= np.isnan(was[1]) & ~np.isnan(now[1]) & (now[0] != now[1]) & new.named
            # what a line says in machine coordinates holds whatever numbers are in force
            stays = _same_place(old.placed[axis], new.placed[axis], limit)
            begins &= ~_same_place(old.held[axis], new.held[axis], limit)
            ends &= ~stays
            place = old.placed[axis]
            if place is not None:
                ends |= np.isnan(was[1]) & ~np.isnan(place) & ~stays
            if old.by is not None:
                ends |= _other_increments(old, new, axis, limit)
            if self.brought is not None and own is not None:
                excused = self.brought.excused(axis, own, was, now)
                if excused is not None:
                    begins &= ~excused[0]
                    ends &= ~excused[1]
            yield (
                ends,
                lambda at, name=name, was=was, now=now: (  # type: ignore[misc]
                    f"where a move goes in {name} ({_said(was[1], now[1], at)})"
                ),
            )
            yield (
                begins & cuts,
                lambda at, name=name, was=was, now=now: (  # type: ignore[misc]
                    f"where a cut begins in {name} ({_said(was[0], now[0], at)})"
                ),
            )


def same_lines(old: Path, new: Path) -> bool:
    """Whether the moves are of the same lines, one for one."""
    if old.ids is None or new.ids is None:
        return False
    return np.array_equal(old.ids, new.ids)


def _stands(old: Path, new: Path, axis: int) -> bool:
    """Whether an axis stands at one and the same place throughout, or nobody knows where, as far
    as that is told without looking at each move."""
    sides = [side[axis] for path in (old, new) for side in (path.starts, path.ends)]
    if old.by is not None or any(len(side) == 0 or side.strides != (0,) for side in sides):
        return False
    if any(path.placed[axis] is not None for path in (old, new)):
        return False
    places = np.array([side[0] for side in sides])
    return bool(np.isnan(places).all() or (places == places[0]).all())


def same_settings(old: Held, new: Held, contract: Contract) -> bool:
    """Whether two settings are the same in all that may not change."""
    may = contract.facets
    return (
        Facet.SPINDLE in may or _same_speed(old.speed, new.speed, contract.speed_within)
    ) and all(
        getattr(old, name) == getattr(new, name)
        for facet, names, _ in _SETTINGS
        if _holds(facet, contract)
        for name in names
    )


def _holds(facet: Facet, contract: Contract) -> bool:
    """Whether the settings of a facet may not change. Where places are said from another zero, it
    is certain which one that is."""
    told = facet is Facet.WORK_ZERO and bool(contract.renumbers)
    return told or facet not in contract.facets


def _same_speed(old: float | None, new: float | None, within: float) -> bool:
    if old is None or new is None:
        return old is new
    return abs(old - new) <= SAME + within


def _speed_changes(old: Path, new: Path, within: float) -> Bools | None:
    """Where the speed of the spindle differs; None where it is one and the same throughout."""
    if len({held.speed for path in (old, new) for held in path.settings}) < 2:
        return None
    was, now = (
        np.array([np.nan if held.speed is None else held.speed for held in path.settings])[
            path.which
        ]
        for path in (old, new)
    )
    other: Bools = ~((np.abs(was - now) <= SAME + within) | (np.isnan(was) & np.isnan(now)))
    return other


def _same_place(old: Floats | None, new: Floats | None, limit: float) -> Bools | np.bool_:
    """Where both stand at one place in machine coordinates."""
    if old is None or new is None:
        return np.False_
    same: Bools = np.abs(old - new) <= limit
    return same


def _other_increments(old: Path, new: Path, axis: int, limit: float) -> Bools:
    """Where an increment from an unknown place is another one."""
    assert old.by is not None
    was = old.by[axis]
    now = np.full(len(was), np.nan) if new.by is None else new.by[axis]
    other: Bools = np.isnan(old.ends[axis]) & ~np.isnan(was) & ~(np.abs(was - now) <= limit)
    return other


def _said(old: Floats, new: Floats, at: int) -> str:
    was, now = (
        "unknown"
        if np.isnan(value)
        else "out of place"
        if np.isinf(value)
        else number_text(float(value), 6)
        if abs(value) < _LARGE
        else f"{value:g}"
        for value in (old[at], new[at])
    )
    return f"was {was}, is {now}"


def _setting_changes(old: Path, new: Path, name: str) -> Bools | None:
    """Where a setting differs; None where it is one and the same throughout."""
    values: dict[object, int] = {}
    tables = [
        np.array([values.setdefault(getattr(s, name), len(values)) for s in path.settings], int)
        for path in (old, new)
    ]
    if len(values) < 2 or not len(old):
        return None
    changes: Bools = tables[0][old.which] != tables[1][new.which]
    return changes


def _distinct(numbers: npt.NDArray[np.int64]) -> list[int]:
    """Numbers from 0 on, each once."""
    if int(numbers.max(initial=0)) > 8 * len(numbers):
        distinct = np.unique(numbers)
    else:
        distinct = np.flatnonzero(np.bincount(numbers))
    return [int(number) for number in distinct]


def _known(path: Path, axis: int, rows: npt.NDArray[np.int64]) -> bool:
    """Whether an axis has a known place about some moves (ascending)."""
    about = slice(int(rows[0]), int(rows[-1]) + 1)
    return not all(np.isnan(side[axis][about]).all() for side in (path.starts, path.ends))


def _differ(old: Floats, new: Floats, limit: Floats | float = SAME) -> Bools:
    """Where a known number changed; what was unknown before may be known now."""
    with np.errstate(invalid="ignore"):
        bad: Bools = ~(np.abs(old - new) <= limit) & ~np.isnan(old)
    return bad
