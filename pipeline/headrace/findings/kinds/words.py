"""Kinds of findings on words that hardly mean here what they say: HRM090 to HRM109."""

from headrace.findings.kinds.kind import Kind

KINDS: tuple[Kind, ...] = ()
