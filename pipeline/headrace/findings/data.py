"""Findings as plain data, for JSON."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from headrace.findings.finding import Finding, Place, Severity


def finding_data(finding: Finding) -> dict[str, Any]:
    """All that a finding says; `place` is None where it has none."""
    return {
        "id": finding.id,
        "name": finding.name,
        "severity": str(finding.severity),
        "what": finding.what,
        "place": None if finding.place is None else asdict(finding.place),
        "why": finding.why,
        "remedy": finding.remedy,
        "lowered": finding.lowered,
    }


def finding_of(data: dict[str, Any]) -> Finding:
    """The finding of such data. Raises KeyError, TypeError or ValueError for other data."""
    place = data["place"]
    return Finding(
        name=data["name"],
        severity=Severity(data["severity"]),
        what=data["what"],
        place=None if place is None else Place(**place),
        why=data["why"],
        remedy=data["remedy"],
        lowered=data["lowered"],
    )
