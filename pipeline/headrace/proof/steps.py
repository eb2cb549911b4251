"""The proof of one step: what it did not declare to change must have come out equal.

Two programs are compared by their effect. Moves are matched by the identity of their lines: lines
that the step added may move the machine only if the contract says so, and the moves of all other
lines must be the same, one for one. Programs share what a step did not touch, and what is shared
is equal without looking.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from headrace.findings import Finding
from headrace.language import Block
from headrace.language.modal import AXES
from headrace.plugins.contract import Contract, Facet
from headrace.program import Cause
from headrace.proof.additions import addition_breach
from headrace.proof.comparison import Brought, Comparison, same_lines, same_settings
from headrace.proof.events import event_breaches
from headrace.proof.path import Path, own_moves
from headrace.proof.pauses import pause_breaches
from headrace.proof.texts import text_breaches
from headrace.proof.version import Breach, Version
from headrace.proof.wraps import unrolled_place

_LARGE = 256
"""Blocks from this size on are looked up in the other version before they are compared."""
_LONG = 1 << 15
"""From so many moves on they are compared piece by piece."""


@dataclass(frozen=True, slots=True)
class StepProof:
    """How a step stood to its contract: moves compared, the largest deviation of the path (mm),
    and the first breach of each kind."""

    contract: Contract
    moves: int
    deviation: float
    breaches: tuple[Breach, ...]


def prove_step(before: Version, after: Version, contract: Contract) -> StepProof:
    """Compare a program with what a step made of it."""
    if before.program is after.program and before.trace is after.trace:
        return StepProof(contract, len(before.trace), 0.0, ())
    facets = contract.facets
    if contract.affine is not None or contract.within or contract.renumbers or contract.wraps:
        facets = facets | {Facet.SPELLING}
    moves = _Moves(before, after, contract)
    breach = moves.breach()
    found = [] if breach is None else [breach]
    found += event_breaches(before, after, facets)
    found += pause_breaches(before, after, facets)
    found += text_breaches(before.program, after.program, facets)
    compared = moves.comparison
    return StepProof(contract, compared.moves, compared.strayed, tuple(found))


def breach_findings(proof: StepProof, cause: Cause) -> list[Finding]:
    """What a step changed against its contract, for people."""
    return [
        Finding.of(
            "contract-broken",
            f"step `{cause.step}` changed {breach}, and its contract says: {proof.contract}",
            breach.place,
            remedy=f"see step {cause.number} at {cause.place}" if cause.place else None,
        )
        for breach in proof.breaches
    ]


class _Moves:
    """The moves of two versions, compared."""

    def __init__(self, before: Version, after: Version, contract: Contract) -> None:
        self.before = before
        self.after = after
        self.contract = contract
        self.new = before.program.next_id if contract.adds_motion else None
        moves_on = contract.adds_motion or Facet.WORK_ZERO in contract.facets
        self.comparison = Comparison(
            contract,
            was=before.place,
            now=after.place,
            own=before.own,
            brought=Brought(_begins(before), unrolled_place(_begins(after), contract.wraps))
            if moves_on
            else None,
            own_now=after.own,
        )

    def breach(self) -> Breach | None:
        """The first move that is not as it was."""
        old, new = self.before.trace.blocks, self.after.trace.blocks
        at_old = at_new = 0
        for old_to, new_to in [*_shared(old, new), (len(old), len(new))]:
            breach = self._of_blocks(old[at_old:old_to], new[at_new:new_to])
            if breach is None and old_to < len(old) and new_to < len(new):
                breach = self._of_shared(old[old_to], new[new_to])
            if breach is not None:
                return breach
            at_old, at_new = old_to + 1, new_to + 1
        return None if self.new is None else addition_breach(self.after, self.new)

    def _of_shared(self, old: Block, new: Block) -> Breach | None:
        """Two blocks from the same lines: only what the state brought in can differ."""
        alike = _alike(old.kind, new.kind) and _alike(old.feed, new.feed)
        alike = alike and all(_alike(a, b) for a, b in zip(old.ends, new.ends, strict=True))
        alike = alike and all(
            a == b or a != a for a, b in zip(old.start, new.start, strict=True)
        )  # what was unknown before may be known now
        contract = self.contract
        plain = contract.affine is None and not contract.renumbers and old.arcs is new.arcs
        plain = plain and not contract.wraps and not contract.trails
        if alike and plain and same_settings(old.setting, new.setting, contract):
            if self.comparison.brought is not None:
                self.comparison.brought.passed()
            self.comparison.moves += len(old)
            return None
        return self._of_blocks([old], [new])

    def _of_blocks(self, old: Sequence[Block], new: Sequence[Block]) -> Breach | None:
        """The first difference between some moves and those in their place."""
        if not old and not new:
            return None
        if sum(map(len, old)) >= _LONG:
            old, new = self._left(old, new)
            if not old and not new:
                return None
        return self.comparison.of(self._path(self.before, old), self._path(self.after, new))

    def _left(
        self, old: Sequence[Block], new: Sequence[Block]
    ) -> tuple[Sequence[Block], Sequence[Block]]:
        """What is left of two rows of blocks where their first moves are of the same lines and say
        the same; taken piece by piece, so that nothing is copied and all of it is near at hand."""
        left, right = list(old), list(new)
        while left and right:
            size = min(len(left[0]), len(right[0]))
            was = self._path(self.before, [left[0].part(0, size)])
            now = self._path(self.after, [right[0].part(0, size)])
            before = self.comparison.noted()
            if not same_lines(was, now) or self.comparison.of(was, now) is not None:
                self.comparison.back_to(before)
                break
            for row in (left, right):
                block = row.pop(0)
                if len(block) > size:
                    row.insert(0, block.part(size, len(block)))
        return left, right

    def _path(self, version: Version, blocks: Sequence[Block]) -> Path:
        """The moves of some blocks; of those after the step, but for the ones that it added."""
        new = self.new if version is self.after else None
        return own_moves(version.program, Path.of(blocks), new)


def _shared(old: Sequence[Block], new: Sequence[Block]) -> list[tuple[int, int]]:
    """Large blocks that both sides have from the same lines of the same text, in one order."""
    known = {id(block.rel): at for at, block in enumerate(old) if len(block) >= _LARGE}
    pairs = [(known[id(block.rel)], at) for at, block in enumerate(new) if id(block.rel) in known]
    ordered = all(a[0] < b[0] for a, b in pairwise(pairs))
    return pairs if ordered else []


def _begins(version: Version) -> tuple[float, ...]:
    """Where the first move of the job's own begins."""
    for block in version.trace.blocks:
        rows = np.flatnonzero(version.own(block.line))
        if len(rows):
            return tuple(float(block.starts(axis)[rows[0]]) for axis in range(len(AXES)))
    return (float("nan"),) * len(AXES)


def _alike(old: npt.NDArray[np.generic], new: npt.NDArray[np.generic]) -> bool:
    """Whether two columns are one and the same, or one constant."""
    if old is new:
        return True
    if old.strides == (0,) and new.strides == (0,):
        return bool(old[0] == new[0] or old[0] != old[0])
    return False
