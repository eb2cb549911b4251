"""Errors that headrace raises on purpose.

HeadraceError            exit 70   the root; bare only for faults of headrace itself
├── RecipeError          exit 3    a recipe, machine or set-up file must be mended
├── PluginError          exit 4    a plugin must be mended
├── JobRefused           exit 1    a job (or what came of it) is not fit to be written
├── EngineError          exit 2    the workers that were asked for cannot do it
└── CardError            exit 5    the card folder could not be read or written

Each error is data first: it carries the findings that explain it, and text is made last.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, ClassVar

if TYPE_CHECKING:
    from headrace.findings import Finding


class HeadraceError(Exception):
    """The root of the tree.

    `findings` say what, where, why and what to do; the message is the first of them.
    """

    exit_code: ClassVar[int] = 70

    def __init__(self, message: str | None = None, findings: Iterable[Finding] = ()) -> None:
        self.findings: tuple[Finding, ...] = tuple(findings)
        if message is None:
            message = self.findings[0].what if self.findings else type(self).__name__
        super().__init__(message)
        self.message = message

    def __reduce__(self) -> tuple[object, ...]:
        """Keep the findings when the error crosses to another process."""
        return (type(self), (self.message, self.findings))


class RecipeError(HeadraceError):
    """A recipe, machine or set-up file is at fault."""

    exit_code = 3


class PluginError(HeadraceError):
    """A plugin cannot be loaded, or offers something that cannot be used."""

    exit_code = 4


class JobRefused(HeadraceError):
    """The job is not fit to be prepared; nothing is written for it."""

    exit_code = 1


class EngineError(HeadraceError):
    """The workers that the command line asked for are not there, or would do it otherwise."""

    exit_code = 2


class CardError(HeadraceError):
    """The card folder cannot be read or written as asked."""

    exit_code = 5
