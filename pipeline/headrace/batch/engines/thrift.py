"""Records that come from other processes, with what many of them have in common held once.

Jobs of one recipe take the same steps and earn the same words, so what is kept of thousands of them
is hardly more than their names.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TypeVar

from headrace.batch.record import Record
from headrace.findings import Finding

T = TypeVar("T")


class Thrift:
    """Gives records that share their equal parts."""

    def __init__(self) -> None:
        self._known: dict[object, object] = {}

    def of(self, record: Record) -> Record:
        """An equal record."""
        proof = record.proof
        if proof is not None:
            proof = replace(proof, contract=self._same(proof.contract))
        return replace(
            record,
            steps=self._same(tuple(map(self._same, record.steps))),
            findings=tuple(map(self._finding, record.findings)),
            proof=proof,
        )

    def _finding(self, finding: Finding) -> Finding:
        same = self._same
        return replace(
            finding,
            name=same(finding.name),
            severity=same(finding.severity),
            what=same(finding.what),
            why=same(finding.why),
            remedy=same(finding.remedy),
            lowered=same(finding.lowered),
        )

    def _same(self, part: T) -> T:
        return self._known.setdefault(part, part)  # type: ignore[return-value]
