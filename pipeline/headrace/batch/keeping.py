"""Keeping outcomes: held in a folder under version control, and compared with those made now."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from enum import StrEnum
from pathlib import Path

from headrace.batch.kept import LIST_NAME, Kept, KeptFile
from headrace.batch.outcomes import Made
from headrace.card.writing import (
    Content,
    content_of,
    in_plain_words,
    leftovers,
    stage,
    staged_path,
    sync_folder,
)
from headrace.errors import CardError
from headrace.findings import Finding

ATTRIBUTES_NAME = ".gitattributes"
_ATTRIBUTES = b"# Outcomes are compared byte for byte.\n* -text\n"


class Standing(StrEnum):
    """How an outcome as it is made now stands to the one that was kept."""

    SAME = "the same"
    CHANGED = "changed"
    NEW = "new"
    GONE = "no longer made"


@dataclass(frozen=True, slots=True)
class Compared:
    """Outcomes made now, beside those that were kept (None: nothing was).

    `findings` are what is not as it was kept, where that was asked.
    """

    folder: Path
    before: Kept | None
    made: Made
    findings: tuple[Finding, ...] = ()

    @property
    def now(self) -> Kept:
        return self.made.kept

    @property
    def exit_code(self) -> int:
        """1 where something is not as it was kept."""
        return int(bool(self.findings))

    @property
    def altered(self) -> int:
        """How many kept files are not as they were written."""
        return sum(finding.name == "kept-file-altered" for finding in self.findings)

    def standings(self) -> dict[str, Standing]:
        """Every outcome by its name, in run order, and behind them those that are gone."""
        found = {file.name: self._standing(file) for file in self.now.files}
        if self.before is not None:
            for file in self.before.files:
                found.setdefault(file.name, Standing.GONE)
        return found

    def changed(self) -> dict[str, Standing]:
        """Those that are not the same."""
        how = self.standings()
        return {name: standing for name, standing in how.items() if standing is not Standing.SAME}

    def _standing(self, file: KeptFile) -> Standing:
        known = None if self.before is None else self.before.get(file.name)
        if known is None:
            return Standing.NEW
        return Standing.SAME if file.same_as(known) else Standing.CHANGED


@dataclass(frozen=True, slots=True)
class Turn:
    """One folder and what came of it: `compared` is None where an error ended it."""

    folder: Path
    compared: Compared | None
    findings: tuple[Finding, ...]
    exit_code: int


def compare(folder: Path, before: Kept, made: Made) -> Compared:
    """What is kept in a folder, beside what is made now; nothing is written. CardError."""
    compared = Compared(folder, before, made)
    with in_plain_words(f"{folder} cannot be read"):
        found = [*_disorder(folder, before), *_attributes_fault(folder)]
    if other := compared.changed():
        what = f"not the same as is kept in {folder}: {', '.join(other)}"
        found.append(Finding.of("kept-otherwise", what))
    return replace(compared, findings=tuple(found))


def keep(folder: Path, before: Kept | None, made: Made) -> Compared:
    """Write outcomes and their list to a folder, which is made where there is none.

    Files of outcomes that are no longer made are taken away. Raises CardError, and has changed
    nothing, where something is in the way that headrace did not write, or that was changed since.
    """
    contents = {file.name: made.data_of(file.name) for file in made.kept.files}
    files = {name: data for name, data in contents.items() if data is not None}
    with in_plain_words(f"{folder} cannot be written"):
        faults = [*_other_recipe(folder, before, made.kept), *_in_the_way(folder, before, files)]
        if faults := faults or [*_attributes_fault(folder, missing=False)]:
            raise CardError(findings=faults)
        folder.mkdir(parents=True, exist_ok=True)
        if not os.path.lexists(folder / ATTRIBUTES_NAME):
            files = {ATTRIBUTES_NAME: _ATTRIBUTES, **files}
        gone = [] if before is None else [file.name for file in before.files if not file.refused]
        _renewed(folder, files, [name for name in gone if name not in files], made.kept)
    return Compared(folder, before, made)


def _renewed(folder: Path, files: Mapping[str, bytes], gone: Iterable[str], kept: Kept) -> None:
    """Each file whole or as it was, the list last. OSError or CardError."""
    changed = {
        name: data
        for name, data in {**files, LIST_NAME: kept.to_bytes()}.items()
        if _content(folder / name) != Content.of(data)
    }
    try:
        staged = {}
        for number, (name, data) in enumerate(changed.items(), 1):
            staged[name] = staged_path(folder, number)
            stage(staged[name], [data], Content.of(data))
        listed = staged.pop(LIST_NAME, None)
        for name, path in staged.items():
            path.replace(folder / name)
        for name in gone:
            (folder / name).unlink(missing_ok=True)
        sync_folder(folder)
        if listed is not None:
            listed.replace(folder / LIST_NAME)
            sync_folder(folder)
    finally:
        with suppress(OSError):
            for path in leftovers(folder):
                path.unlink()


def _disorder(folder: Path, kept: Kept) -> Iterator[Finding]:
    """Kept files that are not as they were written."""
    for file in kept.files:
        found = _content(folder / file.name)
        if found == file.content:
            continue
        if found is None:
            what = f"{folder / file.name} is gone"
        elif file.content is None:
            what = f"{folder / file.name} stands there, and the job was refused when it was kept"
        else:
            what = f"{folder / file.name} is not as it was kept"
        yield Finding.of("kept-file-altered", what)


def _other_recipe(folder: Path, before: Kept | None, now: Kept) -> Iterator[Finding]:
    if before is not None and before.recipe != now.recipe:
        what = f"{folder} keeps what {before.recipe} makes, not {now.recipe}"
        yield Finding.of("kept-of-another", what)


def _in_the_way(folder: Path, before: Kept | None, files: Mapping[str, bytes]) -> Iterator[Finding]:
    """What keeping would overwrite or take away that is not headrace's own."""
    if before is None:
        if os.path.lexists(folder) and (not folder.is_dir() or _others(folder, files)):
            what = f"{folder} is there already, and holds other things than kept outcomes"
            yield Finding.of("kept-foreign-file", what)
        return
    known = {file.name: file.content for file in before.files}
    for name in {**known, **files}:
        path = folder / name
        if not os.path.lexists(path):
            continue
        found = _content(path)
        if found is None or found not in (known.get(name), _content_of(files.get(name))):
            kind = "kept-file-altered" if known.get(name) else "kept-foreign-file"
            said = "is not as it was kept" if known.get(name) else "was not written by headrace"
            yield Finding.of(kind, f"{path} {said}")


def _others(folder: Path, files: Mapping[str, bytes]) -> bool:
    """Whether a folder without a list holds more than an earlier run, which was cut short, left of
    these files."""
    own = {**files, ATTRIBUTES_NAME: _ATTRIBUTES}
    unfinished = {path.name for path in leftovers(folder)}
    return any(
        path.name not in own or _content(path) != Content.of(own[path.name])
        for path in folder.iterdir()
        if path.name not in unfinished
    )


def _attributes_fault(folder: Path, missing: bool = True) -> Iterator[Finding]:
    """Whether version control might change line ends of the outcomes."""
    path = folder / ATTRIBUTES_NAME
    if not os.path.lexists(path):
        if missing:
            yield Finding.of("kept-attributes", f"{path} is gone")
    elif not path.is_file() or not any(map(_is_untouched, path.read_bytes().splitlines())):
        yield Finding.of("kept-attributes", f"{path} has no line `* -text`")


def _is_untouched(line: bytes) -> bool:
    """Whether a line of such a file says that all files are left as they are."""
    pattern, *attributes = line.split() or [b""]
    return pattern == b"*" and not {b"-text", b"binary"}.isdisjoint(attributes)


def _content(path: Path) -> Content | None:
    """What a plain file holds; None where there is none. OSError."""
    return content_of(path) if path.is_file() and not path.is_symlink() else None


def _content_of(data: bytes | None) -> Content | None:
    return None if data is None else Content.of(data)
