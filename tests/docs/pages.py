"""The pages of documentation, and the blocks in them.

Four kinds of blocks are looked at. `sh` holds command lines. `text` that begins with `$ ` holds a
command line and what it prints; `...` on a line by itself stands for any lines, and at the end of a
line for the rest of it. A block of any kind behind `<!-- file: NAME -->` is a file that later
commands find, and one behind `<!-- NAME -->` has a name.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

TREE = Path(__file__).parents[2]
GENERATED = (
    "plugins/REFERENCE.md",
    "recipes/REFERENCE.md",
    "pipeline/headrace/findings/REFERENCE.md",
)
"""Written by `references.py`."""
WRITTEN = (
    "README.md",
    "DEVELOPERS.md",
    "recipes/README.md",
    "recipes/OPERATING.md",
    "recipes/WRITING.md",
    "plugins/WRITING.md",
)
"""Written by people."""

_BLOCK = re.compile(
    r"^(?:<!-- (?P<marker>[^\n]*?) -->\n)?^```(?P<language>\w*)\n(?P<text>.*?)^```$", re.M | re.S
)


@dataclass(frozen=True, slots=True)
class Block:
    """A fenced block: where it stands (line, from 1), its language, its marker, its text."""

    page: str
    line: int
    language: str
    marker: str
    text: str

    @property
    def file(self) -> str | None:
        """The name of the file that it is."""
        return self.marker.removeprefix("file: ") if self.marker.startswith("file: ") else None

    @property
    def transcript(self) -> bool:
        """Whether it shows what a command prints."""
        return self.language == "text" and self.text.startswith("$ ")


@dataclass(frozen=True, slots=True)
class Shown:
    """A command line, and the lines that it is said to print (None: that is not said)."""

    where: str
    command: str
    printed: tuple[str, ...] | None


def text_of(page: str) -> str:
    return (TREE / page).read_text("utf-8")


def blocks_of(page: str) -> list[Block]:
    text = text_of(page)
    return [
        Block(
            page,
            text.count("\n", 0, found.start("text")) + 1,
            found["language"],
            found["marker"] or "",
            found["text"],
        )
        for found in _BLOCK.finditer(text)
    ]


def shown(block: Block) -> Iterator[Shown]:
    """The command lines of a block; comments are left out."""
    if block.transcript:
        yield from _printed(block)
    elif block.language == "sh":
        for number, line in enumerate(block.text.splitlines(), block.line):
            if command := re.sub(r"(^|\s+)#.*", "", line).strip():
                yield Shown(f"{block.page}:{number}", command, None)


def _printed(block: Block) -> Iterator[Shown]:
    lines = block.text.splitlines()
    starts = [at for at, line in enumerate(lines) if line.startswith("$ ")]
    for start, stop in zip(starts, [*starts[1:], len(lines)], strict=True):
        yield Shown(
            f"{block.page}:{block.line + start}", lines[start][2:], tuple(lines[start + 1 : stop])
        )
