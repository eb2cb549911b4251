"""Asking whoever sits at the terminal whether a Python file may run, when it is to run first."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from headrace.cli.asked import Asked

if TYPE_CHECKING:
    from headrace.findings import Place
    from headrace.plugins.python_file import PythonFile
    from headrace.plugins.registry import Registry

QUESTION = "Run it, now and from now on, as long as not a byte of it changes?"
_LONGEST = 200


def known_registry() -> Registry:
    """The transforms of all installed plugins; before a Python file runs that the user has not
    trusted, the user is asked, where somebody can answer."""
    from headrace.plugins.registry import load_registry
    from headrace.plugins.trust import by_policy

    return load_registry(_ask if may_ask() else by_policy)


def ask_ahead(recipe: Path, overrides: Sequence[str]) -> None:
    """Ask now what a recipe would have asked: there is nobody to answer later."""
    from headrace.recipe import check_recipe

    if may_ask():
        check_recipe(recipe, known_registry(), overrides)


def may_ask() -> bool:
    """Whether a person reads standard error and answers by standard input."""
    context = click.get_current_context(silent=True)
    asked = None if context is None else context.find_object(Asked)
    return (asked is None or asked.text) and sys.stdin.isatty() and sys.stderr.isatty()


def shown(file: PythonFile) -> Iterator[str]:
    """What one should know of a Python file before it runs."""
    yield f"{file.path}  {len(file.code)} bytes"
    yield f"SHA-256 {file.sha256}"
    told = file.summary
    yield f"it says of itself: {told[:_LONGEST]}" if told else "it says nothing of itself"


def warned() -> Iterator[str]:
    """What it means to run one."""
    yield "It is code. It runs with your own rights: it can read, change, delete and send"
    yield "whatever you can. Read it first, or have it from somebody you trust."


def _ask(file: PythonFile, place: Place | None) -> None:
    """A gate. Raises PluginError where the answer is no, or there is nothing to ask."""
    from headrace.cli.talking import talk
    from headrace.plugins.trust import needs_trust, untrusted
    from headrace.plugins.trusted import Entry, TrustedList

    if not needs_trust(file, place):
        return
    talk(f"{place or 'The recipe'} names a Python file that you have not trusted as it is now:")
    for line in shown(file):
        talk(f"    {line}")
    for line in warned():
        talk(line)
    if not click.confirm(QUESTION, err=True):
        raise untrusted(file, place)
    TrustedList.of_user().add([Entry(file.sha256, str(file.path.resolve()))])
