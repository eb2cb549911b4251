"""Files of this run that took the place of files which came from elsewhere."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from headrace.batch.outdated import FEW
from headrace.card.delivery import Fate
from headrace.card.manifest import Entry, Manifest
from headrace.findings import Finding
from headrace.findings.text import few


def displaced(listed: Manifest, files: Iterable[tuple[Entry, Fate]]) -> Iterator[Finding]:
    """Warnings for files that replaced one of a like job in another folder, or of another recipe.
    `listed` is the card's list as it was before the run."""
    found: dict[str, list[str]] = {}
    for entry, fate in files:
        before = listed.get(entry.name)
        if fate is Fate.REPLACED and before is not None:
            for how in _elsewhere(before, entry):
                found.setdefault(how, []).append(entry.name)
    for how, names in found.items():
        what = f"{few(names, FEW)} took the place of {'one' if len(names) == 1 else 'those'} {how}"
        yield Finding.of("card-file-displaced", what)


def _elsewhere(before: Entry, entry: Entry) -> Iterator[str]:
    if before.folder != entry.folder and before.source_content != entry.source_content:
        yield f"made from another {entry.job}: of the folder {before.folder}, not {entry.folder}"
    if before.recipe != entry.recipe:
        yield f"made by {before.recipe}, not {entry.recipe}"
