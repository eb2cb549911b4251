"""A draft written to its file: whole or not at all, and never over what somebody else wrote."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from headrace.errors import RecipeError
from headrace.findings import Finding, Place
from headrace.interview.draft import Draft
from headrace.timing.exchanging import exchange


def keep(draft: Draft) -> Draft:
    """The draft as it stands in its file now. Raises RecipeError, with the file as it was, where it
    cannot be written or holds something else by now."""
    data = draft.text.encode("utf-8")
    if draft.before is None:
        _begin(draft.path, data)
    elif data != draft.before:
        exchange(draft.path, draft.before, data)
    return replace(draft, before=data)


def _begin(path: Path, data: bytes) -> None:
    """A new file, which gets its name when it is whole."""
    from headrace.card.paper import put
    from headrace.errors import CardError

    try:
        put(path, data, lambda taken: [_kept(taken, "something of that name is there by now")])
    except CardError as error:
        raise RecipeError(findings=[_kept(path, error.message)]) from error


def _kept(path: Path, why: str) -> Finding:
    what = f"{path} cannot be written: {why}"
    return Finding.of("machine-file-kept", what, Place(str(path), 1))
