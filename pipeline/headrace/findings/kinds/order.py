"""Kinds of findings on what comes in a wrong order on the machine: HRM050 to HRM069."""

from headrace.findings.kinds.kind import Kind

KINDS: tuple[Kind, ...] = ()
