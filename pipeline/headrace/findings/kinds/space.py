"""Kinds of findings on where a job goes on the machine: HRM070 to HRM089."""

from headrace.findings.kinds.kind import Kind

KINDS: tuple[Kind, ...] = ()
