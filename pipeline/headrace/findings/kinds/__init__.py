"""Kinds of findings, one module an area."""
