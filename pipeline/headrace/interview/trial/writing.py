"""Test files written to a card folder: each whole or not at all, and never over a file that is not
known to be one of these, as it was written."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

from headrace.card.delivery import Fate
from headrace.card.folder import held
from headrace.card.paper import need_free, put
from headrace.errors import CardError
from headrace.findings import Finding, Place
from headrace.interview.draft import Draft
from headrace.interview.question import at
from headrace.interview.questions import question_of
from headrace.interview.trial.file import TrialFile
from headrace.interview.trial.files import FILES
from headrace.interview.trial.sheet import NAME, sheet
from headrace.recipe.wording import any_of

_NAMED = re.compile(rb"(T[0-9]{2}[A-Z]{3,5}|FILES FOR A MACHINE)(?: [G-V]{8})?")
"""The name in the first comment, with the seal behind it."""
_AS_LETTERS = bytes.maketrans(b"0123456789abcdef", b"GHIJKLMNOPQRSTUV")


@dataclass(frozen=True, slots=True)
class Written:
    """What came of it: names on the card with their fates, the list's own path, and the stems of
    files that were not written, each with why."""

    files: tuple[tuple[str, str], ...]
    sheet: Path
    left_out: tuple[tuple[str, str], ...]


def write_tests(draft: Draft, card: Path) -> Written:
    """Write every test file that the answers so far allow, and the list of them.

    Raises RecipeError where not even one can be written yet, CardError where the folder is not
    there or a name is taken.
    """
    left_out = dict(_left_out(draft))
    ready = [file for file in FILES if file.stem not in left_out]
    if not ready:
        raise _none_yet(draft)
    extension = str(draft.value(at("card.extension")) or "NC").upper()[:3]
    named = [(f"{file.stem}.{extension}", file) for file in ready]
    contents = {name: sealed(file.content(draft)) for name, file in named}
    contents[NAME] = sealed(sheet(draft, named, left_out.items()))
    if not card.is_dir():
        what = f"there is no folder {card}"
        raise CardError(findings=[Finding.of("card-missing", what)])
    with held(card):
        for name in contents:
            need_free(card / name, _in_the_way)
        fates = {name: put(card / name, data, _in_the_way) for name, data in contents.items()}
    files = tuple((name, _FATES[fate]) for name, fate in fates.items())
    return Written(files, card / NAME, tuple(left_out.items()))


_FATES = {Fate.WRITTEN: "written", Fate.REPLACED: "replaced", Fate.UNCHANGED: "unchanged"}


def why_not(draft: Draft, file: TrialFile) -> str | None:
    """Why a file cannot be written for the machine of a draft; None where it can."""
    if (unfit := file.unfit(draft)) is not None:
        return unfit
    lacking = []
    for name in file.needs:
        question = question_of(name)
        assert question is not None
        if draft.answer(question) is None and draft.standing(question) != "needless":
            lacking.append(name)
    return f"answer {any_of(lacking).replace(' or ', ' and ')} first" if lacking else None


def _left_out(draft: Draft) -> Iterator[tuple[str, str]]:
    for file in FILES:
        if (why := why_not(draft, file)) is not None:
            yield file.stem, why


def _none_yet(draft: Draft) -> CardError:
    what = f"{draft.path} tells too little for any test file"
    remedy = f"run `headrace describe {draft.path}` and answer comments and pause-word"
    place = Place(str(draft.path), 1)
    return CardError(findings=[Finding.of("no-test-file-yet", what, place, remedy=remedy)])


def sealed(data: bytes) -> bytes:
    """A file that tells by itself whether anybody has changed it since: behind its name, in its
    first comment, stand the first digits of the SHA-256 of all the rest, written as letters, which
    no machine can take for a word. Without comments there is no such place, and the file is never
    replaced."""
    mark = sha256(data).hexdigest()[:8].encode().translate(_AS_LETTERS)
    return _NAMED.sub(lambda found: found[1] + b" " + mark, data, count=1)


def is_sealed(data: bytes) -> bool:
    """Whether bytes are as `sealed` made them."""
    found = _NAMED.search(data)
    return found is not None and sealed(_NAMED.sub(rb"\1", data, count=1)) == data


def _in_the_way(path: Path) -> Iterator[Finding]:
    """What keeps a file that is there from being replaced."""
    if path.is_symlink() or not path.is_file():
        yield Finding.of("card-not-a-file", f"{path} is no plain file")
    elif not is_sealed(path.read_bytes()):
        what = f"{path} is no test file as headrace writes it"
        yield Finding.of("test-file-kept", what, Place(str(path), 1))
