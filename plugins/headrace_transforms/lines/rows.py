"""Lines that a step adds before or behind a line, each with what it asks."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from headrace import Edit, after, before


@dataclass(slots=True)
class Rows:
    """Lines to add before or behind a line, each with what it asks."""

    rows: list[tuple[str, str | None]] = field(default_factory=list)

    def add(self, *texts: str, asks: str | None = None) -> None:
        """Lines; what is asked is confirmed behind the last."""
        self.rows.extend((text, None) for text in texts[:-1])
        self.rows.extend((text, asks) for text in texts[-1:])


def inserted(line: int, rows: Rows, *, after_line: bool) -> Iterator[Edit]:
    """The edits that add the rows at a line."""
    insert = after if after_line else before
    for text, asks in rows.rows:
        yield insert(line, text, asks=asks)
