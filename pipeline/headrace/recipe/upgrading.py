"""Files of older formats in the newest one: what has to change is changed, and not a byte more."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import accumulate
from pathlib import Path

from headrace.errors import RecipeError
from headrace.findings import Finding, Place
from headrace.recipe.composition import check_format
from headrace.recipe.document import parse_document
from headrace.recipe.formats import kind_stated, newest, number_of, texts, upgraded
from headrace.recipe.node import Table, plain
from headrace.recipe.older import older_formats
from headrace.recipe.schema import schema
from headrace.recipe.source_text import read_bytes
from headrace.recipe.validation import Subject, schema_findings
from headrace.whole_file import Change, FileKept, exchange

_LINE = re.compile(r"[^\r\n]*(?:\r\n|\r|\n|$)")
_QUOTES = ('"', "'")


@dataclass(frozen=True, slots=True)
class Upgraded:
    """A file as it is and as it is in the newest format, the same where it is that already.

    `stated` and `newest` are the two formats.
    """

    path: Path
    stated: str
    newest: str
    before: bytes
    after: bytes

    @property
    def changes(self) -> bool:
        return self.before != self.after

    @property
    def is_recipe(self) -> bool:
        return self.newest == newest("recipe")


def upgrade_files(paths: Iterable[Path]) -> tuple[list[Upgraded], list[Finding]]:
    """Files in their newest formats, each once; and recipes of older formats that they extend, and
    that are not among them.

    Raises RecipeError with all that is at fault in any of them.
    """
    files: dict[Path, Upgraded] = {}
    found: list[Finding] = []
    older: list[Finding] = []
    for path in paths:
        try:
            files.setdefault(path.resolve(), upgraded_file(path))
            older += older_formats(path) if files[path.resolve()].is_recipe else ()
        except RecipeError as error:
            found.extend(error.findings)
    if found:
        raise RecipeError(findings=list(dict.fromkeys(found)))
    parents = {each.place.file: each for each in older if each.place is not None}
    others = [each for file, each in parents.items() if Path(file).resolve() not in files]
    return list(files.values()), others


def written(files: Iterable[Upgraded]) -> None:
    """Write the files that change, all of them or none. Raises RecipeError."""
    changes = {file.path: Change(file.before, file.after) for file in files if file.changes}
    try:
        exchange(changes)
    except FileKept as kept:
        place = Place(str(kept.path), 1)
        finding = Finding.of("recipe-file-kept", str(kept), place)
        raise RecipeError(findings=[finding]) from kept


def upgraded_file(path: Path) -> Upgraded:
    """A recipe, machine or set-up file in its newest format.

    Raises RecipeError where it is at fault as it stands, or cannot be changed with certainty.
    """
    data = read_bytes(path)
    root = parse_document(data, path).root
    kind = kind_stated(root) or "recipe"
    checked = check_format(root, kind, path)
    after = data
    if rewritten := texts(checked, kind):
        found = schema_findings(Subject(checked), schema(f"{kind}-{number_of(checked, kind)}"))
        if found:
            raise RecipeError(findings=found)
        after = _rewritten(data, rewritten)
        _need_the_same(after, upgraded(checked, kind), path, rewritten)
    return Upgraded(path, str(plain(checked)["format"]), newest(kind), data, after)


def _rewritten(data: bytes, rewritten: Mapping[Place, str]) -> bytes:
    """The bytes with other texts at some places; what was in quotes is again."""
    text = data.decode("utf-8")
    mark = "\ufeff" if text.startswith("\ufeff") else ""
    text = text.removeprefix(mark)
    starts = [0, *accumulate(len(line) for line in _LINE.findall(text))]
    for place in sorted(rewritten, key=lambda place: (-place.line, -place.column)):
        start = starts[place.line - 1] + place.column - 1
        old = text[start : start + place.length]
        quote = old[0] if old[:1] in _QUOTES and old[-1:] == old[:1] else ""
        text = f"{text[:start]}{quote}{rewritten[place]}{quote}{text[start + len(old) :]}"
    return (mark + text).encode("utf-8")


def _need_the_same(data: bytes, wanted: Table, path: Path, rewritten: Mapping[Place, str]) -> None:
    """Raise RecipeError where bytes do not say what they are to say, in this very order."""
    try:
        said = parse_document(data, path).root
    except RecipeError:
        said = None
    if said is not None and json.dumps(plain(said)) == json.dumps(plain(wanted)):
        return
    found = [
        Finding.of("recipe-upgrade-unplaced", f"`{text}` cannot be put here", place,
                   remedy=f"write `{text}` there by hand, on one line")
        for place, text in rewritten.items()
    ]  # fmt: skip
    raise RecipeError(findings=found)
