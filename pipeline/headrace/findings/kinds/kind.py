"""What is the same for every finding of one kind."""

from __future__ import annotations

from dataclasses import dataclass

from headrace.findings.finding import Severity

REFUSE, WARN, NOTE = Severity.REFUSE, Severity.WARN, Severity.NOTE


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of finding: id, name, usual severity, why it matters, what to do."""

    id: str
    name: str
    severity: Severity
    why: str
    remedy: str
