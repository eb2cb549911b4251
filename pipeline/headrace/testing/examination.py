"""A transform put through every check, on many jobs; and the first fault of each kind."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from itertools import islice
from random import Random
from typing import Any

from headrace.job import Job
from headrace.plugins import Transform
from headrace.testing.advice import ADVICE
from headrace.testing.case import Case
from headrace.testing.checks import CHECKS, Judge, Trial
from headrace.testing.elsewhere import digest, made_elsewhere
from headrace.testing.job_files import job_files
from headrace.testing.offered import OFFERED, looks_at
from headrace.testing.shops import Shop
from headrace.testing.subject import Subject
from headrace.testing.values import draws, values

_THOROUGH = 4
"""One in so many jobs is read in both ways."""
_MANY = 100
"""From so many jobs on some are tried in other processes too."""
_MINDED = 150
"""So many jobs are looked at for what an option changes."""


@dataclass(frozen=True)
class Failure:
    """A check that failed: what was wrong, and on which case, where it takes a job to see it."""

    check: str
    what: str
    case: Case | None = None


@dataclass
class Examination:
    """All checks on all cases. `faults` holds the first fault of each check by its name, `judged`
    the checks that came to their turn, `unseen` tells by check what could not be seen; `taken`
    counts the jobs that the step took, `refused` those
    that it refused, by its words."""

    subject: Subject
    shops: tuple[Shop, ...]
    fixed: Mapping[str, Any] = field(default_factory=dict)
    count: int = 1000
    seed: int = 0
    faults: dict[str, Failure] = field(default_factory=dict)
    judged: set[str] = field(default_factory=set)
    unseen: dict[str, str] = field(default_factory=dict)
    taken: int = 0
    refused: Counter[str] = field(default_factory=Counter)

    def run(self) -> Examination:
        """Go through everything once."""
        for offered in OFFERED:
            self.judged.add(name_of(offered))
            for what in offered(self.subject.transform):
                self._note(Failure(name_of(offered), what))
        if not self.faults.keys() & {"describes-its-options", "refuses-wrong-options"}:
            for number, case in enumerate(self.cases()):
                self._try(case, thorough=not number % _THOROUGH)
            self.judged |= set(ADVICE)
            self._require_some()
            self._require_same_elsewhere()
            self._require_minded()
        return self

    def cases(self) -> Iterator[Case]:
        """The jobs with options, on one machine after the other."""
        options = draws(self.subject.transform, self.fixed, Random(self.seed))
        for number, (said, data) in enumerate(job_files(self.count, self.seed)):
            shop = self.shops[number % len(self.shops)]
            # a job is split in two where the step splits it: one part or the other
            yield Case(said, data, shop, next(options), number % 2)

    def fault_of(self, case: Case, check: Judge) -> str | None:
        """What a check finds wrong with a case; None where nothing is."""
        job = self.subject.ready(case)
        return None if job is None else next(check(Trial(self.subject, case, job)), None)

    def _try(self, case: Case, *, thorough: bool) -> None:
        job = self.subject.ready(case)
        if job is None:
            self.refused["a step ahead of it refused"] += 1
            return
        trial = Trial(self.subject, case, job, thorough)
        if trial.made.job is not None:
            self.taken += 1
        elif trial.made.refused is not None:
            self.refused[trial.made.refused.message] += 1
        for check in CHECKS:
            name = name_of(check)
            if name not in self.faults and (what := next(check(trial), None)) is not None:
                self._note(Failure(name, what, case))

    def _require_some(self) -> None:
        """A step that takes no job at all has been tried on nothing."""
        if not self.taken and not self.faults:
            said, count = self.refused.most_common(1)[0] if self.refused else ("", 0)
            what = f"it took none of {self.count} jobs, so nothing was tried; {count} times: {said}"
            self._note(Failure("takes-some-jobs", what))

    def _require_same_elsewhere(self) -> None:
        """One in twenty jobs again, in processes that put sets in another order."""
        name = "gives-the-same-again"
        cases = list(islice(self.cases(), self.count // 20)) if not self.subject.ahead else []
        if name in self.faults or self.count < _MANY:
            return
        here = [digest(self.subject.made_quickly(case.job(), case)) for case in cases]
        elsewhere = list(made_elsewhere(self.subject.transform, cases))
        if cases and not elsewhere:
            self.unseen[name] = "the same in this process; another one cannot load the step's file"
        for there in elsewhere:
            for case, one, other in zip(cases, here, there, strict=True):
                if one != other:
                    what = "another process, in which sets have another order, gave something else"
                    self._note(Failure(name, what, case))
                    return

    def _require_minded(self) -> None:
        """Each option makes a difference to some job. Where none is seen, the step may still use
        it, on other machines: that is noted, and no fault unless its code never looks at it."""
        transform, random = self.subject.transform, Random(self.seed)
        waiting = {
            name: tried
            for name, option in transform.options.items()
            if name not in self.fixed and len(tried := values(option, random)[:4]) > 1
        }
        silent = next(draws(transform, self.fixed, random))
        for number, case in enumerate(islice(self.cases(), _MINDED)):
            case = replace(case, options=silent) if number % 2 else case
            job = self.subject.ready(case) if waiting else None
            if job is not None:
                waiting = {
                    name: tried
                    for name, tried in waiting.items()
                    if not self._minds(job, case, tried, name)
                }
        for name, tried in waiting.items():
            what = f"with `{name}` as any of {tried}, every job came out the same"
            if looks_at(transform, name):
                self.unseen.setdefault("minds-its-options", what)
            else:
                self._note(Failure("minds-its-options", what))

    def _minds(self, job: Job, case: Case, tried: list[Any], name: str) -> bool:
        """Whether an option makes a difference to a job, the others being as the case has them."""
        results = set()
        for value in tried:
            options = {**case.options, name: value}
            made = self.subject.made_quickly(job, replace(case, options=options))
            contract = "" if made.job is None else self.subject.transform.contract(job, options)
            results.add(f"{made.key!r} {contract}")
        return len(results) > 1

    def _note(self, fault: Failure) -> None:
        self.faults.setdefault(fault.check, fault)


def name_of(check: Any) -> str:
    """The name of a check as people see it, such as `keeps-its-contract`."""
    return str(check.__name__).replace("_", "-")


def judge_of(name: str) -> Judge | None:
    """The check of a name, where it looks at jobs."""
    return next((check for check in CHECKS if name_of(check) == name), None)


def checks_of(transform: Transform) -> tuple[str, ...]:
    """The names of the checks that a transform is put through, in order."""
    without = set()
    if not transform.idempotent:
        without.add("finds-nothing-to-do-again")
    if not transform.options:
        without |= {"describes-its-options", "refuses-wrong-options", "minds-its-options"}
    return tuple(name for name in ADVICE if name not in without)
