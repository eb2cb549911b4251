"""Lines that a switch at the panel may leave out: those that begin with a slash."""

from __future__ import annotations

import re

import numpy as np
import numpy.typing as npt

from headrace import Job, Program

Longs = npt.NDArray[np.int64]

_SLASH = re.compile(rb"(?:^|(?<=[\r\n]))(?:\xef\xbb\xbf)?(?:[ \t]++|\([^()\r\n]*+\))*+/")


def slashed(program: Program) -> Longs:
    """The lines that begin with a slash, ascending."""
    found = [np.zeros(0, np.int64)]
    for first, piece in program.numbered_pieces():
        if b"/" in piece.text.data:
            places = [match.start() for match in _SLASH.finditer(piece.text.data)]
            lines = np.unique(np.searchsorted(piece.text.starts, places, "right") - 1)
            lines = lines[(lines >= piece.start) & (lines < piece.stop)] - piece.start + first
            found.append(lines.astype(np.int64))
    every = np.concatenate(found)
    return np.array([line for line in every.tolist() if program[line].scan.block_delete], np.int64)


def undecided(job: Job) -> Longs:
    """The lines of which nothing says whether they run, ascending."""
    return np.zeros(0, np.int64) if job.dialect.optional_settled else slashed(job.program)


def left_out(job: Job) -> Longs:
    """The lines that do not run, ascending."""
    return slashed(job.program) if job.dialect.block_delete else np.zeros(0, np.int64)
