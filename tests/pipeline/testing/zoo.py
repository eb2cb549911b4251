"""Transforms with one fault each, and a sound one: what the kit must find, and must let pass."""

# ruff: noqa: ARG001, ARG005

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace as changed
from typing import Any

from headrace import (
    Edit,
    Facet,
    Finding,
    Job,
    JobRefused,
    Transform,
    before,
    delete,
    number_text,
    replace,
    rewrite,
    transform,
)
from headrace import after as behind

SECONDS: Mapping[str, Any] = {
    "type": "number",
    "description": "How long the machine waits; s.",
    "minimum": 0,
    "maximum": 30,
    "default": 2,
}


def waiting(job: Job, seconds: float) -> str:
    """A dwell in what the machine counts."""
    unit = 1000 if job.machine.dwell_unit == "milliseconds" else 1
    return f"G4 P{number_text(seconds * unit)}"


@transform("settle", changes=[Facet.DWELL], options={"seconds": SECONDS})
def settle(job: Job, *, seconds: float) -> Iterator[Edit]:
    """Let the spindle come to its speed before the job goes on."""
    for line in job.program.lines_with("M", 3, 4).tolist():
        yield behind(line, waiting(job, seconds))


def _of(name: str, function: Callable[..., Any], **more: Any) -> Transform:
    function.__doc__ = function.__doc__ or "Do something that is wrong in one way."
    return transform(name, **{"changes": [Facet.COMMENTS], **more})(function)


def _undeclared(job: Job, *, seconds: float) -> Iterator[Edit]:
    return iter(settle.given(job, {"seconds": seconds}))


_COUNTED: list[int] = []


def _counting(job: Job) -> Iterator[Edit]:
    _COUNTED.append(1)
    yield before(0, f"(RUN {len(_COUNTED)})")


def _meddling(job: Job) -> Iterator[Edit]:
    job.start.units = "inch"
    yield from ()


def _first_line(job: Job) -> Iterator[Edit]:
    yield before(job.program[0].index, "(LID)")


def _line_feeds(job: Job) -> Iterator[Edit]:
    for line in job.program:
        assert b"\r" not in line.raw
    yield before(0, "(LID)")


def _deaf(job: Job, *, seconds: float) -> Iterator[Edit]:
    yield before(0, "(LID)")


def _at_odds(job: Job, *, text: str = "BOARD") -> Iterator[Edit]:
    yield before(0, f"({text})")


def _again(job: Job) -> Iterator[Edit]:
    yield before(0, "(LID)")


def _columns(job: Job) -> Iterator[Edit]:
    words = sum(len(chunk.letter) for p in job.program.pieces for chunk in p.text.chunks)
    yield before(0, f"({words} WORDS)")


def _curt(job: Job) -> Iterator[Edit]:
    if len(job.program) > 12:
        raise JobRefused("too long")
    yield before(0, "(LID)")


def _helpless(job: Job) -> Iterator[Edit]:
    if len(job.program) > 12:
        what = "the job has more lines than the display"
        raise JobRefused(findings=[changed(Finding.of("no-cut", what), remedy=" ")])
    yield before(0, "(LID)")


def _semicolons(job: Job) -> Iterator[Edit]:
    yield before(0, "; LID")


def _rubbish(job: Job) -> Iterator[Edit]:
    yield before(job.landmarks.start, "BEES IN FLIGHT")


def _own_ends(job: Job) -> Iterator[Edit]:
    yield before(0, "(LID)\r\n")


def _run_together(job: Job) -> Iterator[Edit]:
    if len(job.program) > 1 and re.fullmatch(r"\([A-Z ]+\)", job.program[0].text):
        yield rewrite(0, 1, b"(LID)")


def _never(job: Job) -> Iterator[Edit]:
    raise JobRefused(findings=[Finding.of("no-cut", "the job does not fit")])
    yield


def _mute(job: Job) -> Iterator[Edit]:
    """Lids"""
    yield before(0, "(LID)")


def _all_pauses(job: Job) -> Iterator[Edit]:
    for line in job.program:
        if line.has("M", 0, 1):
            yield delete(line.index)


def _twice_replaced(job: Job) -> Iterator[Edit]:
    for line in job.program:
        if line.has("S"):
            yield replace(line.index, line.text)
            yield replace(line.index, line.text)


def _option(**schema: Any) -> dict[str, Any]:
    return {"text": {"description": "What the machine shows; text.", **schema}}


SECONDS_ONLY = {"seconds": SECONDS}
ZOO: Mapping[str, tuple[Transform, str]] = {
    made.name: (made, check)
    for made, check in (
        (_of("undeclared", _undeclared, options=SECONDS_ONLY), "keeps-its-contract"),
        (_of("takes-pauses", _all_pauses), "keeps-its-contract"),
        (_of("counting", _counting), "gives-the-same-again"),
        (_of("meddling", _meddling), "leaves-the-job-alone"),
        (_of("first-line", _first_line), "never-fails"),
        (_of("line-feeds", _line_feeds), "never-fails"),
        (_of("twice-replaced", _twice_replaced, changes=[Facet.SPELLING]), "never-fails"),
        (_of("deaf", _deaf, options=SECONDS_ONLY), "minds-its-options"),
        (
            _of("at-odds", _at_odds, options=_option(type="string", default="LID")),
            "describes-its-options",
        ),
        (
            _of("beyond", lambda job, *, text: [], options=_option(enum=["A", "B"], default="C")),
            "describes-its-options",
        ),
        (
            _of("misspelt", lambda job, *, text: [], options=_option(type="string", maxlength=9)),
            "describes-its-options",
        ),
        (
            _of("silent", lambda job, *, text: [], options={"text": {"enum": ["A"]}}),
            "describes-its-options",
        ),
        (
            _of("any-value", lambda job, *, text: [], options=_option(default="LID")),
            "refuses-wrong-options",
        ),
        (_of("again", _again, idempotent=True), "finds-nothing-to-do-again"),
        (_of("columns", _columns), "reads-both-ways-alike"),
        (_of("curt", _curt), "refuses-with-help"),
        (_of("helpless", _helpless), "refuses-with-help"),
        (_of("semicolons", _semicolons), "writes-known-words"),
        (_of("rubbish", _rubbish), "writes-known-words"),
        (_of("own-ends", _own_ends), "keeps-line-ends"),
        (_of("run-together", _run_together), "comes-out-readable"),
        (_of("never", _never), "takes-some-jobs"),
        (_of("mute", _mute), "is-described"),
    )
}
"""Each faulty transform by its name, with the check that must find it."""


@transform("no-spindle-words", changes=[Facet.SPINDLE])
def plain(job: Job) -> Iterator[Edit]:
    """Take lines that only switch the spindle out, one by one."""
    for line in job.program:
        if len(line.words) == 1 and line.has("M", 3, 5) and not line.scan.number:
            yield delete(line.index)


@transform("no-spindle-words-quick", changes=[Facet.SPINDLE])
def quick(job: Job) -> Iterator[Edit]:
    """Take lines that only switch the spindle out, found in bulk."""
    for index in job.program.lines_with("M", 3, 5).tolist():
        line = job.program[index]
        if len(line.words) == 1 and not line.scan.number:
            yield delete(index)


@transform("no-spindle-words-wrong", changes=[Facet.SPINDLE])
def wrong(job: Job) -> Iterator[Edit]:
    """Take lines that only switch the spindle out, as most CAM programs write them."""
    for line in job.program:
        if re.fullmatch(r"M0?[35]", line.text):
            yield delete(line.index)
