"""Taking out what only takes room."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from headrace import Edit, Facet, Job, Program, rewrite, transform
from headrace_transforms.lines.text_lines import BOM, lines_of, stretch, without_blanks
from headrace_transforms.paths.reach import end_of


@transform(
    "strip",
    changes=[Facet.COMMENTS],
    options={
        "blank-lines": {
            "type": "boolean",
            "description": "Whether blank lines go; true or false.",
            "default": True,
        },
        "spaces": {
            "type": "boolean",
            "description": "Whether blanks outside comments go; true or false.",
            "default": False,
        },
        "line-ends": {
            "description": "Whether line ends become those of the machine, or stay.",
            "enum": ["machine", "keep"],
            "default": "machine",
        },
    },
    idempotent=True,
)
def strip(job: Job, *, blank_lines: bool, spaces: bool, line_ends: str) -> Iterator[Edit]:
    """Take out blank lines and blanks, and write the machine's line ends.

    Blanks mean nothing outside comments (RS274/NGC 3.3). What stands behind the program end is
    left alone, but for its line ends. A byte-order mark always goes.

        G1  X10 Y20 (side)    ->        G1X10Y20(side)

        M30                             M30
    """
    program = job.program
    if not blank_lines and not spaces and _settled(program, line_ends, job.machine.line_end):
        return
    end = end_of(job)
    before_end, behind = stretch(program, 0, end), stretch(program, end, len(program))
    kept = None
    lines = lines_of(before_end)
    full = np.ones(len(lines), bool)
    if blank_lines:
        full[:] = [line.strip(b" \t\r\n") not in (b"", BOM) for line in lines]
    elif lines and not lines[-1].strip(b" \t"):
        full[-1] = False  # blanks behind the last line end: without them there is no line
    if not full.all():
        rest = np.arange(end, len(program))
        kept = np.concatenate([np.flatnonzero(full), rest]).astype(np.int64)
        before_end = b"".join(line for line, keep in zip(lines, full, strict=True) if keep)
    if spaces:
        before_end = without_blanks(before_end)
    data = (before_end + behind).replace(BOM, b"")
    if line_ends == "machine":
        data = _with_line_ends(data, job.machine.line_end.encode())
    if kept is not None or data != stretch(program, 0, len(program)):
        yield rewrite(0, len(program), data, kept)


def _settled(program: Program, line_ends: str, line_end: str) -> bool:
    """Whether there is surely nothing to do but for blanks: long jobs are mostly so."""
    last = program[len(program) - 1].raw if len(program) else b"\n"
    if not last.strip(b" \t") or last.strip(b" \t") == BOM:
        return False
    return all(
        BOM not in piece.text.data
        and (line_ends == "keep" or _ends_with(piece.text.data, line_end))
        for piece in program.pieces
    )


def _ends_with(data: bytes, line_end: str) -> bool:
    """Whether every line has this end, but perhaps the last, which has none."""
    if line_end == "\n":
        return b"\r" not in data
    pairs = data.count(b"\r\n")
    return data.count(b"\n") == data.count(b"\r") == pairs


def _with_line_ends(data: bytes, line_end: bytes) -> bytes:
    """Every line with one and the same line end, the last one too."""
    if b"\r" in data:
        data = data.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    if data and not data.endswith(b"\n"):
        data += b"\n"
    return data if line_end == b"\n" else data.replace(b"\n", line_end)
