"""Edits: what a transform gives. Lines count from 0 in the program that the step was given."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

import numpy as np
import numpy.typing as npt

from headrace.findings import Place


class Action(Enum):
    """What an edit does at its line."""

    BEFORE = "before"
    AFTER = "after"
    REPLACE = "replace"
    DELETE = "delete"
    REWRITE = "rewrite"


@dataclass(frozen=True, slots=True, eq=False)
class Stretch:
    """New bytes for the lines up to `stop`: one line of `data` for each line of `kept` (ascending
    indices in the program, an index once for each line that it becomes), or for every line where
    that is None."""

    stop: int
    data: bytes
    kept: npt.NDArray[np.int64] | None


@dataclass(frozen=True, slots=True)
class Edit:
    """One edit. `texts` are lines without line ends.

    `asks` names what the operator confirms by going on after these lines (such as `clip-on`), so
    that later steps and checks know it. `stretch` is what a REWRITE puts in place of many lines.
    """

    line: int
    action: Action
    texts: tuple[str, ...] = ()
    asks: str | None = None
    stretch: Stretch | None = None


@dataclass(frozen=True, slots=True)
class Cause:
    """Why a line is as it is: the step, its number in the recipe, and its place there."""

    step: str
    number: int
    place: Place | None = None


def before(line: int, *texts: str, asks: str | None = None) -> Edit:
    """Insert lines before `line`; the length of the program means at its end."""
    return Edit(line, Action.BEFORE, texts, asks)


def after(line: int, *texts: str, asks: str | None = None) -> Edit:
    """Insert lines behind `line`."""
    return Edit(line, Action.AFTER, texts, asks)


def replace(line: int, *texts: str, asks: str | None = None) -> Edit:
    """Put one or more lines in the place of `line`; they stay part of the job."""
    return Edit(line, Action.REPLACE, texts, asks)


def delete(line: int) -> Edit:
    """Take `line` out."""
    return Edit(line, Action.DELETE)


def rewrite(start: int, stop: int, data: bytes, kept: npt.NDArray[np.int64] | None = None) -> Edit:
    """Put `data`, lines with their line ends, in the place of the lines `start` to `stop`.

    One for one: each line stays what it is, only its text is new. With `kept` (ascending indices
    from `start` to `stop`) the lines that are not named are taken out, and a line that is named
    several times becomes as many. For whole programs, where an edit for each line would be slow.
    """
    return Edit(start, Action.REWRITE, stretch=Stretch(stop, data, kept))
