"""Findings of an outcome, looked up by their names."""

from __future__ import annotations

from headrace.findings import Finding, Severity
from headrace.outcome import Outcome


def found(outcome: Outcome, name: str) -> Finding | None:
    """The one finding of a kind; what cannot be told may be told of several fields."""
    every = [finding for finding in outcome.findings if finding.name == name]
    assert len(every) <= 1 or name == "cannot-tell", every
    return every[0] if every else None


def fires(outcome: Outcome, name: str, severity: Severity, line: int | None = None) -> Finding:
    """The one finding of a kind, with its weight and its line."""
    finding = found(outcome, name)
    assert finding is not None, [(f.name, f.what) for f in outcome.findings]
    assert finding.severity is severity
    assert finding.place is not None
    assert line is None or finding.place.line == line
    return finding


def line_of(finding: Finding | None) -> int:
    """The line that a finding stands at."""
    assert finding is not None
    assert finding.place is not None
    return finding.place.line
