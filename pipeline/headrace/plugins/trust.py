"""Whether a Python file that a recipe names may run: trust on first use, by what it holds.

Installed plugins are not asked about: whoever installed them has decided that.
"""

from __future__ import annotations

import os
import shlex
from collections.abc import Callable, Collection
from enum import StrEnum
from pathlib import Path
from typing import TypeAlias

from headrace.errors import PluginError
from headrace.findings import Finding, Place
from headrace.plugins.python_file import PythonFile
from headrace.plugins.trusted import TrustedList

VARIABLE = "HEADRACE_PYTHON"

Gate: TypeAlias = Callable[[PythonFile, Place | None], None]
"""Lets a file, named at a place of a recipe, pass; else raises PluginError. Nothing of the file has
run before, and what runs behind it are the bytes that it was shown."""


class Policy(StrEnum):
    """Which Python files run."""

    OFF = "off"
    """None at all."""
    TRUSTED = "trusted"
    """Those of which the user trusts every byte."""
    ANY = "any"
    """All: for machines that get nothing but what is under one's own version control."""


def policy() -> Policy:
    """What `HEADRACE_PYTHON` says; `trusted` where it is not set. Raises ValueError for others."""
    said = os.environ.get(VARIABLE) or Policy.TRUSTED
    if said not in [*Policy]:
        raise ValueError(f"{VARIABLE} is {said!r}; it can be {', '.join(Policy)}")
    return Policy(said)


def by_policy(file: PythonFile, place: Place | None) -> None:
    """The usual gate. Raises PluginError where the file may not run, or nothing tells whether."""
    if needs_trust(file, place):
        raise untrusted(file, place)


def needs_trust(file: PythonFile, place: Place | None) -> bool:
    """Whether the user has yet to say that this file may run. Raises PluginError where none may."""
    current = policy()
    if current is Policy.OFF:
        raise switched_off(file.path, place)
    return current is Policy.TRUSTED and not TrustedList.of_user().holds(file.sha256)


def only(digests: Collection[str]) -> Gate:
    """The gate of a worker: the very bytes that run where the work comes from, and no others."""

    def gate(file: PythonFile, place: Place | None) -> None:
        if policy() is Policy.OFF:
            raise switched_off(file.path, place)
        if file.sha256 not in digests:
            what = f"{file.path} holds other bytes than where the work comes from"
            raise PluginError(findings=[Finding.of("python-untrusted", what, place)])

    return gate


def untrusted(file: PythonFile, place: Place | None) -> PluginError:
    """The refusal of a file that nobody has trusted."""
    what = f"you have not trusted the Python file {file.path} as it is now"
    remedy = None
    if place is not None:
        command = f"headrace trust {shlex.quote(place.file)}"
        remedy = f"read the file; to let exactly these bytes run from now on: `{command}`"
    return PluginError(findings=[Finding.of("python-untrusted", what, place, remedy=remedy)])


def switched_off(path: Path, place: Place | None = None) -> PluginError:
    """The refusal of any file, where none may run."""
    what = f"the Python file {path} may not run: {VARIABLE} is {Policy.OFF}, or --no-python"
    return PluginError(findings=[Finding.of("python-off", what, place)])
