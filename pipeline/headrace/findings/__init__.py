"""What headrace found: data first, text last."""

from headrace.findings.catalogue import CATALOGUE, Kind
from headrace.findings.finding import Finding, Place, Severity
from headrace.findings.text import render

__all__ = ["CATALOGUE", "Finding", "Kind", "Place", "Severity", "render"]
