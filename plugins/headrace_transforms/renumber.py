"""Line numbers."""

from __future__ import annotations

import re
from collections.abc import Iterator

import numpy as np

from headrace import Edit, Facet, Job, rewrite, transform
from headrace_transforms.lines.text_lines import BOM, lines_of, stretch, words_of
from headrace_transforms.paths.reach import end_of
from headrace_transforms.telling.refusing import place_of, refusal

HIGHEST = 99_999
"""Line numbers have five digits at most (RS274/NGC 3.3.1)."""

_COMMENT = rb"(?:[ \t]++|\((?:[^()\r\n]++|\([^()\r\n]*+\))*+\))*+"
_OPTIONAL = re.compile(rb"\A" + _COMMENT + rb"/")
_NUMBER = re.compile(
    rb"((?:\A(?:\xef\xbb\xbf)?|(?<=[\r\n]))" + _COMMENT + rb"/?" + _COMMENT + rb")"
    rb"[Nn][ \t]*+[0-9][0-9 \t]*+"
)


@transform(
    "renumber",
    changes=[Facet.LINE_NUMBERS, Facet.COMMENTS],
    options={
        "from": {
            "type": "integer",
            "description": "The first line number, without unit.",
            "minimum": 0,
            "maximum": HIGHEST,
            "default": 10,
        },
        "step": {
            "type": "integer",
            "description": "From one number to the next, without unit.",
            "minimum": 1,
            "maximum": 1000,
            "default": 10,
        },
        "remove": {
            "type": "boolean",
            "description": "Whether line numbers are only taken out; true or false.",
            "default": False,
        },
    },
    idempotent=True,
)
def renumber(job: Job, *, from_: int, step: int, remove: bool) -> Iterator[Edit]:
    """Number the lines anew, or take the numbers out.

    Only lines with words get a number: a comment that the machine shows stays as it is. What
    stands behind the program end is left alone.

        N7 G21        ->        N10 G21
        G0 X0                   N20 G0 X0
    """
    _require_allowed(job, remove)
    end = end_of(job)
    if remove and not len(job.program.lines_with("N")):
        return
    data = stretch(job.program, 0, end)
    new = _NUMBER.sub(rb"\1", data)
    if not remove:
        new = b"".join(_numbered(job, lines_of(new), from_, step))
    if new != data:
        # a number alone behind the last line end: without it there is no line
        lost = end > 0 and len(lines_of(new)) < end
        yield rewrite(0, end, new, np.arange(end - 1) if lost else None)


def _require_allowed(job: Job, remove: bool) -> None:
    wanted = job.machine.line_numbers
    if wanted == ("required" if remove else "refused"):
        what = "takes line numbers out" if remove else "numbers the lines"
        raise refusal(
            "line-numbers-contradict", f"renumber {what}; on this machine they are {wanted}"
        )


def _numbered(job: Job, lines: list[bytes], first: int, step: int) -> Iterator[bytes]:
    """The lines, those with words numbered; JobRefused where the numbers run out."""
    number = first
    for index, line in enumerate(lines):
        words = words_of(line)
        if not words or words.startswith(b"%"):
            yield line
            continue
        if number > HIGHEST:
            raise _run_out(lines, first)
        yield _with_number(job, index, line, number)
        number += step


def _with_number(job: Job, index: int, line: bytes, number: int) -> bytes:
    mark = BOM if line.startswith(BOM) else b""
    body = line.removeprefix(BOM)
    optional = _OPTIONAL.match(body)
    lead = optional[0].lstrip(b" \t") if optional else b""
    body = body[optional.end() if optional else 0 :].lstrip(b" \t")
    text = b"%s%sN%d %s" % (mark, lead, number, body)
    if len(text.rstrip(b"\r\n")) > job.machine.line_length >= len(line.rstrip(b"\r\n")):
        what = f"this line has no room for the number N{number}"
        raise refusal("line-no-room", what, place=place_of(job.program, job.program[index]))
    return text


def _run_out(lines: list[bytes], first: int) -> Exception:
    count = sum(1 for line in lines if words_of(line) and not words_of(line).startswith(b"%"))
    most = (HIGHEST - first) // max(count - 1, 1)
    remedy = f"give a `step` of at most {most}" if most else "take them out with `remove: true`"
    return refusal(
        "line-numbers-run-out",
        f"{count} lines want a number, and the highest is {HIGHEST}",
        remedy=remedy,
    )
