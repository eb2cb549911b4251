"""A line with some of its stretches spelt anew."""

from __future__ import annotations

from collections.abc import Mapping

from headrace import Line

Span = tuple[int, int]
"""Columns from and to."""


def respelt(line: Line, spelling: Mapping[Span, str]) -> str:
    """The text of a line with other texts in some places; with "" a place and the blanks before it
    go. A comment amid a place stays, behind what is new there."""
    text = line.text
    for (start, end), new in sorted(spelling.items(), reverse=True):
        amid = "".join(
            text[comment.start : comment.end]
            for comment in line.comments
            if start <= comment.start < end
        )
        head, tail = text[:start], text[end:]
        if not new:
            head = head.rstrip(" \t")
            tail = tail if head else tail.lstrip(" \t")
        text = head + new + amid + tail
    return text
