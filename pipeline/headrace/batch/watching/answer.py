"""What there is to say after a change."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

from headrace.batch.prepared import Prepared, Written
from headrace.card.delivery import Fate
from headrace.errors import HeadraceError
from headrace.findings import Finding

_UNTIL = {
    "recipe": "nothing is written until the recipe is mended",
    "card": "nothing is written until the card is fit for it",
}


@dataclass(frozen=True, slots=True)
class Answer:
    """What came of a change: the files and findings of which there is something new to say.

    `jobs` counts the jobs that are watched. `wanting` is what must be mended before anything is
    written: `recipe` or `card`, nothing where all is well; `exit_code` is that of `prepare`.
    """

    prepared: Prepared
    jobs: int
    exit_code: int = 0
    wanting: str = ""

    @property
    def state(self) -> str:
        """How things stand, in one line."""
        count = str(self.jobs or "no")
        watched = f"watching {count} job{'' if self.jobs == 1 else 's'}"
        return f"{watched}; {_UNTIL[self.wanting]}" if self.wanting else watched


class Said:
    """What was said last of each file, and of the whole."""

    def __init__(self) -> None:
        self._files: dict[str, object] = {}
        self._findings: frozenset[Finding] = frozenset()
        self._error: tuple[Finding, ...] = ()

    def of_run(
        self, prepared: Prepared, findings: Sequence[Finding], changed: Collection[str]
    ) -> Prepared:
        """What is new in a run and in `findings` beside it; of the files that `changed` all is."""
        files = [file for file in prepared.files if self._new(file, changed)]
        self._files = {file.record.name: _kept(file) for file in prepared.files}
        self._error = ()
        return Prepared(tuple(files), self._unsaid((*findings, *prepared.findings)))

    def of_error(
        self, error: HeadraceError, findings: Sequence[Finding], afresh: bool
    ) -> Prepared | None:
        """What is new in an error and in `findings` beside it: all of it if `afresh`; None where
        nothing is."""
        known, self._error = self._error, error.findings
        unsaid = tuple(finding for finding in findings if finding not in self._findings)
        self._findings |= frozenset(findings)
        if not afresh and known == error.findings and not unsaid:
            return None
        return Prepared((), (*unsaid, *error.findings))

    def _new(self, file: Written, changed: Collection[str]) -> bool:
        name = file.record.name
        if name in changed or file.fate not in (None, Fate.UNCHANGED):
            return True
        return name not in self._files or self._files[name] != _kept(file)

    def _unsaid(self, findings: Iterable[Finding]) -> tuple[Finding, ...]:
        now = tuple(dict.fromkeys(findings))
        unsaid = tuple(finding for finding in now if finding not in self._findings)
        self._findings = frozenset(now)
        return unsaid


def _kept(file: Written) -> object:
    record = file.record
    name = file.naming.name if file.naming else None
    return (record.exit_code, record.findings, record.content, name)
