"""Does a transform keep what it promises? The doors to the kit."""

from __future__ import annotations

import json
import warnings
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from headrace.counting import count_text
from headrace.plugins import Transform
from headrace.testing.advice import ADVICE
from headrace.testing.case import Case
from headrace.testing.examination import Examination, Failure, judge_of
from headrace.testing.shops import SHOPS, Named, shops
from headrace.testing.shortening import shortened
from headrace.testing.subject import Ahead, Subject, code_of
from headrace.testing.values import fits


def conforms(
    transform: Transform,
    *,
    options: Mapping[str, Any] | None = None,
    ahead: Ahead = (),
    jobs: int = 1000,
    machines: Sequence[Named] = SHOPS,
    seed: int = 0,
) -> None:
    """Try a transform on odd and made-up jobs, with options as their schemas allow them.

    `options` are those that stay as they are; all others take many values. `ahead` are steps that
    go before it, each a transform or a name, with its options behind it where it has some.
    `machines` are names of `SHOPS` or machine files, or pairs of a machine file and a set-up file.
    The same `seed` gives the same jobs. An option that none of these jobs and machines gives reason
    to look at is no fault: give it a machine that does. A warning tells of it, and of every other
    check for which there was nothing to see.

    Raises AssertionError for the first check that fails, with the shortest job found that shows it.
    """
    examination = examined(transform, options, ahead, jobs, machines, seed)
    for name in ADVICE:
        if name in examination.faults:
            raise AssertionError(report(examination, examination.faults[name]))
    for name, what in examination.unseen.items():
        warnings.warn(f"{transform.name}: {name} was not seen: {what}", stacklevel=2)


def alike(
    one: Transform,
    other: Transform,
    *,
    options: Mapping[str, Any] | None = None,
    jobs: int = 1000,
    machines: Sequence[Named] = SHOPS,
    seed: int = 0,
) -> None:
    """Two transforms do the same: a plain one that goes line by line, and a quick one.

    Both get every job with the options of `one`, and must give the same bytes or both refuse.
    Raises AssertionError for the first job on which they differ, made shorter.
    """
    examination = Examination(Subject.of(one), shops(machines), options or {}, jobs, seed)
    first, second = examination.subject, Subject.of(other)

    def differ(case: Case) -> str | None:
        job = case.job(in_bulk=True)
        was, now = first.made_quickly(job, case), second.made_quickly(job, case)
        if was.failed is None and now.failed is None:
            both_refuse = was.refused is not None and now.refused is not None
            if both_refuse or was.key == now.key:
                return None
        return f"`{one.name}` gave {was}, and `{other.name}` {now}"

    for case in examination.cases():
        if differ(case):
            heading = f"{other.name}: does not do the same as {one.name}"
            told = _lines_of(*shortened(case, differ), "make both give the same bytes for this job")
            raise AssertionError("\n".join([heading, *told]))


def examined(
    transform: Transform,
    options: Mapping[str, Any] | None = None,
    ahead: Ahead = (),
    jobs: int = 1000,
    machines: Sequence[Named] = SHOPS,
    seed: int = 0,
) -> Examination:
    """Everything that `conforms` tries, gone through once.

    Raises ValueError for `options` that the transform does not have or does not take.
    """
    for name, value in (options or {}).items():
        if name not in transform.options or not fits(value, transform.options[name]):
            raise ValueError(f"`{transform.name}` takes no option {name}: {value!r}")
    subject = Subject.of(transform, ahead)
    return Examination(subject, shops(machines), options or {}, jobs, seed).run()


def report(examination: Examination, fault: Failure) -> str:
    """What failed, on which job, and what to do: the job is made as short as it goes."""
    transform = examination.subject.transform
    code = code_of(transform)
    heading = [
        f"{transform.name}: {fault.check} failed",
        f"  transform  {transform.name} at {Path(code.co_filename).name}:{code.co_firstlineno}",
    ]
    judge = judge_of(fault.check)
    if fault.case is None or judge is None:
        return "\n".join(
            [*heading, f"  wrong      {fault.what}", f"  to do      {ADVICE[fault.check]}"]
        )
    check = judge
    kept = {*transform.required, *examination.fixed}
    spare = [name for name in transform.options if name not in kept]
    case, what = shortened(fault.case, lambda case: examination.fault_of(case, check), spare)
    return "\n".join([*heading, *_lines_of(case, what or fault.what, ADVICE[fault.check])])


def _lines_of(case: Case, what: str, advice: str) -> Iterator[str]:
    yield f"  options    {json.dumps(dict(case.options), ensure_ascii=False)}"
    yield f"  machine    {case.shop.name}"
    lines = case.data.splitlines(keepends=True)
    yield f"  job        {count_text(len(lines), 'line')}, shortened from: {case.said}"
    for line in lines:
        yield f"      {line!r}"
    yield f"  wrong      {what}"
    yield f"  to do      {advice}"
