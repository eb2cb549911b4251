"""What a run that was cut short left: brought in order by the next one, before it does anything.

The list that such a run meant to write was there before its first file got a name, so it tells
which files have theirs already, and which name lacks its file.
"""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence
from contextlib import suppress
from pathlib import Path

from headrace import __version__
from headrace.card.exchange import give
from headrace.card.manifest import INTENDED_NAME, LIST_NAME, Manifest, read_manifest
from headrace.card.placing import LAST_NAME, NEXT_NAME, make_last, put_list
from headrace.card.writing import Content, content_of, leftovers
from headrace.errors import CardError
from headrace.findings import Finding


def settle(folder: Path) -> None:
    """Give back names that lack their files, and bring the list up to date with files that have
    got theirs.

    Raises OSError or CardError, the latter also where two names may lead to one piece of the card:
    then nothing is touched.
    """
    try:
        intended = read_manifest(folder / INTENDED_NAME)
    except CardError:
        return  # cut short while it was written: no file has got its name yet
    if not intended.entries:
        return
    empty = _empty(folder, intended)
    name, last = folder / LIST_NAME, folder / LAST_NAME
    between = last.is_file() and (name in empty or not os.path.lexists(name))
    if between:
        listed = read_manifest(last)
    else:
        listed = Manifest() if name in empty else read_manifest(name)
    waiting = _waiting(folder)
    standing = _contents(folder, (listed, intended), empty)
    _look_for_shared_space(folder, listed, intended, standing, waiting)
    for path in empty:
        path.unlink()
    if between:
        give(last, name)
        make_last(folder, [name])
    _give_back(folder, listed, intended, standing, waiting)
    placed = [entry for entry in intended.entries if standing.get(entry.name) == entry.content]
    make_last(folder, [name, *(folder / entry.name for entry in placed)])  # it may have been killed
    if all(listed.get(entry.name) == entry for entry in placed):
        return
    put_list(folder, listed.with_entries(placed, listed.order).to_bytes(__version__))


def _empty(folder: Path, intended: Manifest) -> set[Path]:
    """Empty files under names that the run was giving to whole ones, the list's too. OSError.

    A power cut amid a rename may leave a new directory entry that does not tell yet where its file
    begins; it has no space that could be freed with it.
    """
    names = {entry.name.casefold() for entry in intended.entries if entry.content.size}
    names.add(LIST_NAME.casefold())
    return {
        path
        for path in folder.iterdir()
        if path.name.casefold() in names
        and path.is_file()
        and not path.is_symlink()
        and path.stat().st_size == 0
    }


def _waiting(folder: Path) -> dict[Path, Content]:
    """Unlisted files of the run: those that wait for their names, and those that were replaced."""
    lists = (INTENDED_NAME, NEXT_NAME, LAST_NAME)
    return {path: content_of(path) for path in leftovers(folder) if path.name.upper() not in lists}


def _contents(
    folder: Path, lists: Sequence[Manifest], but: Collection[Path]
) -> dict[str, Content | None]:
    """What stands under the names of the lists; None where something does that is no plain file.
    Capitals are those of the lists. OSError."""
    paths = sorted(set(folder.iterdir()).difference(but), reverse=True)
    there = {path.name.casefold(): path for path in paths}
    names = {entry.name for manifest in lists for entry in manifest.entries}
    found: dict[str, Content | None] = {}
    for name in names:
        path = there.get(name.casefold())
        if path is not None:
            plain = path.is_file() and not path.is_symlink()
            found[name] = content_of(path) if plain else None
    return found


def _give_back(
    folder: Path,
    listed: Manifest,
    intended: Manifest,
    standing: dict[str, Content | None],
    waiting: dict[Path, Content],
) -> None:
    """A file that was being replaced lacks its name where names cannot change places: the new
    bytes get it, or where these are not whole the old ones. OSError."""
    given = []
    for entry in intended.entries:
        before = listed.get(entry.name)
        if before is None or before.content == entry.content or entry.name in standing:
            continue
        for content in (entry.content, before.content):
            path = next((path for path, held in waiting.items() if held == content), None)
            if path is not None:
                give(path, folder / entry.name)
                del waiting[path]
                standing[entry.name] = content
                given.append(folder / entry.name)
                break
    if given:
        make_last(folder, given)


def _look_for_shared_space(
    folder: Path,
    listed: Manifest,
    intended: Manifest,
    standing: Mapping[str, Content | None],
    waiting: Mapping[Path, Content],
) -> None:
    """Raise CardError where the same bytes are there once too often.

    A power cut amid a change of names may leave one of two directory entries written, so that both
    lead to the same space; whoever takes one of these files away frees the space of the other.
    """
    lists = (listed, intended, *_put_aside(folder))
    wanted = {(entry.name, entry.content) for manifest in lists for entry in manifest.entries}
    owed = Counter(content for _, content in wanted)
    for path, content in waiting.items():
        alike = sorted(
            name
            for name, held in standing.items()
            if held == content and (name, content) in wanted  # not what somebody copied there
        )
        others = sum(held == content for held in waiting.values())
        if content in owed and len(alike) + others > owed[content]:
            raise CardError(findings=[_shared(path.name, alike)])
    for name in (NEXT_NAME, LAST_NAME):
        path, current = folder / name, folder / LIST_NAME
        if path.is_file() and current.is_file() and content_of(path) == content_of(current):
            raise CardError(findings=[_shared(name, [LIST_NAME])])


def _put_aside(folder: Path) -> Iterator[Manifest]:
    """The list that was, where the new one has its name already, as long as any file waits."""
    for name in (NEXT_NAME, LAST_NAME):
        with suppress(CardError):
            yield read_manifest(folder / name)


def _shared(name: str, others: Sequence[str]) -> Finding:
    what = f"{name} and {', '.join(others)} may lead to one and the same space of the card"
    remedy = "copy the files off the card and let your system check and mend it (fsck, chkdsk);"
    remedy += f" then take {name} off the card and run again"
    return Finding.of("card-needs-repair", what, remedy=remedy)
