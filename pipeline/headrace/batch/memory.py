"""What earlier runs made, as a card's list tells: the records of jobs that need not be prepared
again.

A job comes out the same where nothing has changed from which its file follows: the job itself, and
its origin. So its record of then holds, findings and all, as long as the card has that file.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path

from headrace.batch.origin import Origins
from headrace.batch.parts import Counted
from headrace.batch.record import Record, remembered
from headrace.batch.sources import JobFile
from headrace.card.manifest import Entry, Manifest
from headrace.card.origin import Origin
from headrace.card.writing import Content


@dataclass(frozen=True)
class Memory:
    """A card's list, and what files follow from now."""

    listed: Manifest
    origins: Origins
    _read: dict[Path, Content] = field(default_factory=dict)

    def parts_of(self, job: JobFile) -> Counted | None:
        """How many parts a job has; None where that is not known."""
        for entry in self._by_job.get(job.name, ()):
            if self.origins.jobs.holds_for(entry.origin) and self._made_from(entry, job.path):
                return 1 if entry.piece is None else entry.piece.count, entry.source_content
        return None

    def of_job(self, job: JobFile, name: str, standing: Content | None) -> Record | None:
        """The record of a job that needs no preparing. `name` is that on the card, `standing` what
        the card has there."""
        entry = self._still(name, standing, self.origins.jobs)
        if entry is None or (entry.source, entry.piece) != (job.name, job.piece):
            return None
        return remembered(job.name, entry) if self._made_from(entry, job.path) else None

    def of_card_file(self, own: str, name: str, standing: Content | None) -> Record | None:
        """The same of a card file that the recipe calls `own`."""
        entry = self._still(name, standing, self.origins.card_files[own])
        return None if entry is None or entry.source is not None else remembered(own, entry)

    @cached_property
    def _by_job(self) -> dict[str, list[Entry]]:
        found = defaultdict(list)
        for entry in self.listed.entries:
            if entry.job is not None:
                found[entry.job].append(entry)
        return dict(found)

    def _still(self, name: str, standing: Content | None, origin: Origin) -> Entry | None:
        """The entry of a file that is as it was written, and would be made in the same way."""
        entry = self.listed.get(name)
        if entry is None or entry.name != name or entry.content != standing:
            return None
        return entry if origin.holds_for(entry.origin) else None

    def _made_from(self, entry: Entry, path: Path) -> bool:
        """Whether a job file still holds what an entry was made from."""
        then = entry.source_content
        try:
            if then is None or not path.is_file() or path.stat().st_size != then.size:
                return False
            if path not in self._read:
                self._read[path] = Content.of(path.read_bytes())
        except OSError:
            return False
        return self._read[path] == then
