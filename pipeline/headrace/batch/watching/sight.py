"""How everything stands that a run follows from: looked at, not read."""

from __future__ import annotations

import os
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from headrace.batch.sources import JobFile, collect_jobs
from headrace.card.seen import Sign, sign_of
from headrace.findings import Finding


@dataclass(frozen=True, slots=True)
class Given:
    """What a watch is given: a recipe, values instead of its own (`--set`), jobs, a card folder.

    `folders` are those of the `jobs` that were folders when the watch began, and are taken for
    such from then on, there or not.
    """

    recipe: Path
    overrides: tuple[str, ...]
    jobs: tuple[Path, ...]
    card: Path
    folders: frozenset[Path]

    @classmethod
    def of(
        cls, recipe: Path, jobs: Iterable[Path], card: Path, overrides: Iterable[str] = ()
    ) -> Given:
        jobs = tuple(jobs)
        folders = frozenset(path for path in jobs if path.is_dir())
        return cls(recipe, tuple(overrides), jobs, card, folders)


@dataclass(frozen=True, slots=True)
class Sight:
    """How things stand: the jobs, what was passed over or is missing, and the signs of all jobs,
    of all files of the recipe, and of the card folder."""

    jobs: tuple[JobFile, ...]
    findings: tuple[Finding, ...]
    signs: Mapping[Path, Sign]
    recipe: Mapping[Path, Sign]
    card: Sign

    def changed(self, other: Sight) -> set[Path]:
        """The files that stand otherwise in `other`, are only there, or only here."""
        return {*_differing(self.signs, other.signs), *_differing(self.recipe, other.recipe)}

    def but(self, signs: Mapping[Path, Sign]) -> Sight:
        """The same with other signs for some of the jobs."""
        known = {path: sign for path, sign in signs.items() if path in self.signs}
        return replace(self, signs={**self.signs, **known})


def look(given: Given, recipe: Collection[Path]) -> Sight:
    """How things stand, `recipe` being the files of the recipe.

    Hidden files in folders are not told of: they come and go while editors have a job open.
    """
    out = {path: "is not there" for path in given.folders if not path.is_dir()}
    while True:
        try:
            jobs, passed = collect_jobs([path for path in given.jobs if path not in out])
            break
        except OSError as error:
            at = Path(error.filename)
            folder = next(path for path in given.folders - out.keys() if path in (at, at.parent))
            out[folder] = f"cannot be listed: {error.strerror}"
    gone = [
        Finding.of("job-folder-gone", f"the folder {path} {why}")
        for path, why in sorted(out.items())
    ]
    hidden = tuple(str(path / ".x")[:-1] for path in given.folders)
    return Sight(
        jobs=jobs,
        findings=(*gone, *(each for each in passed if not each.what.startswith(hidden))),
        signs=signs_of(job.path for job in jobs),
        recipe=signs_of(recipe),
        card=card_sign(given.card),
    )


def signs_of(paths: Iterable[Path]) -> dict[Path, Sign]:
    """The signs of some files."""
    return {path: sign_of(path) for path in paths}


def card_sign(card: Path) -> Sign:
    """Which folder stands there, whatever it holds; None where there is none."""
    sign = sign_of(card)
    return (*sign[:2], os.path.ismount(card)) if sign is not None and card.is_dir() else None


def contents_sign(folder: Path) -> frozenset[tuple[str, Sign]] | None:
    """What a folder holds; None where that cannot be told."""
    try:
        return frozenset((entry.name, sign_of(Path(entry))) for entry in os.scandir(folder))
    except OSError:
        return None


def places_of(given: Given, sight: Sight) -> frozenset[Path]:
    """The folders in which something must happen before anything of a sight changes: those of all
    files and of what links lead to, and where such a folder is gone the next one above it."""
    files = {*sight.signs, *sight.recipe, *given.jobs, given.card}
    folders = {path.parent for path in files} | given.folders
    folders |= {path.resolve().parent for path in files if path.is_symlink()}
    found = set()
    for folder in folders:
        try:
            place = folder.resolve()
        except (OSError, RuntimeError):  # links that go round
            continue
        while not place.is_dir() and place != place.parent:
            place = place.parent
        found.add(place)
    return frozenset(found)


def _differing(one: Mapping[Path, Sign], other: Mapping[Path, Sign]) -> set[Path]:
    return {
        path
        for path in one.keys() | other.keys()
        if path not in one or path not in other or one[path] != other[path]
    }
