"""Files on a card that earlier runs made, and that do not follow what was given now. They are
named, never deleted."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

from headrace.batch.sources import JobFile, name_of
from headrace.card.folder import CardFolder
from headrace.card.manifest import Entry
from headrace.card.names import Naming
from headrace.card.origin import Origin
from headrace.findings import Finding
from headrace.findings.text import few

if TYPE_CHECKING:
    from headrace.plugins.registry import Registry

FEW = 20
"""So many files are named; of the others it is said how many there are."""


class JobSight:
    """What can be seen of jobs, and of the folders in which they lie or that were given whole."""

    def __init__(self, jobs: Iterable[JobFile], folders: Iterable[Path] = ()) -> None:
        self.jobs: dict[str | None, JobFile] = {}
        for job in jobs:
            self.jobs.setdefault(job.whole or job.name, job)
        self._seen: dict[str, dict[Path, frozenset[str]]] = {}
        parents = [job.path.parent for job in self.jobs.values()]
        for folder in dict.fromkeys((*parents, *folders)):
            with suppress(OSError):  # what cannot be seen lacks nothing
                names = frozenset(name_of(path) for path in folder.iterdir())
                self._seen.setdefault(name_of(folder.resolve()), {})[folder] = names

    def lacks(self, entry: Entry) -> bool:
        """Whether the job of an entry lay in a folder that is seen now, and is no longer there."""
        folders = self._seen.get(entry.folder or "", {})
        name = (entry.job or "").rsplit("/", 1)[-1]
        return bool(folders) and not any(name in names for names in folders.values())


def outdated(
    folder: CardFolder,
    origin: Origin,
    registry: Registry,
    sight: JobSight,
    namings: Sequence[Naming],
) -> Iterator[Finding]:
    """What to tell of files that stand on the card and are none of this run's `namings`: earlier
    files of its jobs, files of jobs that are gone, and files from before a change. `origin` is
    what all jobs follow from now."""
    now = {naming.name.casefold() for naming in namings}
    splitting = {name for name, made in registry.transforms.items() if made.gives == "parts"}
    changed: dict[tuple[str, ...], list[Entry]] = {}
    for entry in folder.listed.entries:
        name = entry.name.casefold()
        if name in now or name not in folder.standing:
            continue
        own = origin.made_by_recipe(entry.origin)
        split = bool(entry.steps) and entry.steps[0].name in splitting
        if entry.job in sight.jobs and (own or split):
            yield _other_name(entry, sight.jobs[entry.job])
        elif own and entry.source is None:
            what = f"{entry.name} on the card was a card file of {entry.recipe}"
            what += ", which no longer makes it"
            yield Finding.of("card-job-gone", what)
        elif own and sight.lacks(entry):
            what = f"{entry.name} on the card was made from {entry.source}"
            what += f", which is no longer in the folder {entry.folder}"
            yield Finding.of("card-job-gone", what)
        elif own and (what_changed := origin.changed_since(entry.origin)):
            changed.setdefault(what_changed, []).append(entry)
    for what_changed, entries in changed.items():
        yield _from_before(what_changed, entries)


def _other_name(entry: Entry, job: JobFile) -> Finding:
    whole = entry.job
    if entry.piece is None and job.piece is None:
        what = f"{entry.name} on the card is from {whole}, which has another name there now"
    else:
        what = f"{entry.name} on the card is from an earlier {whole}, which now has other parts"
    return Finding.of("card-older-file", what, remedy="take the file off the card")


def _from_before(changed: Sequence[str], entries: Sequence[Entry]) -> Finding:
    *most, last = changed
    things = f"{', '.join(most)} and {last}" if most else last
    since = f"from before a change of {things}"
    named = [f"{entry.name} ({entry.source})" for entry in entries]
    if len(named) == 1:
        what = f"{named[0]} on the card is {since}"
    else:
        what = f"{len(named)} files on the card are {since}: {few(named, FEW)}"
    return Finding.of("card-file-outdated", what)


def older_than_refused(naming: Naming, known: Entry, recipe: str) -> Finding:
    """The card still holds, under this name, what an earlier run made of a job that `recipe`
    refuses now."""
    what = f"{naming.name} on the card is older than {naming.source}, which was refused"
    if known.recipe != recipe:
        what = f"{naming.name} on the card was made by {known.recipe}"
        what += f"; by {recipe} {naming.source} was refused"
    return Finding.of("card-older-file", what)
