"""All test files, in the order in which they are run."""

from __future__ import annotations

from headrace.interview.trial import moving, still, touching
from headrace.interview.trial.file import TrialFile

FILES: tuple[TrialFile, ...] = tuple(
    sorted((*still.FILES, *moving.FILES, *touching.FILES), key=lambda file: file.stem)
)
