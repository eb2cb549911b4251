"""The jobs of the kit: sound, small, always the same, and of every kind that exports have.

The kinds are common practice; how lines end and begin is checked with Python's own `splitlines`
and `re`, what the words do with the reference interpreter, which was written from RS274/NGC alone.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace

import pytest
from reference import Options, Start
from reference import run as reference_run

from headrace.testing.awkward import awkward_jobs
from headrace.testing.case import Case
from headrace.testing.job_files import job_files
from headrace.testing.shops import SHOPS, shops

COUNT = 400
FILES = list(job_files(COUNT))
ODD = len(list(awkward_jobs()))
EXPORTS = [data for said, data in FILES if said.startswith("export")]

KINDS: dict[str, Callable[[bytes], object]] = {
    "CR LF": lambda data: b"\r\n" in data,
    "CR alone": lambda data: b"\r" in data and b"\n" not in data,
    "a byte-order mark": lambda data: data.startswith(b"\xef\xbb\xbf"),
    "no blanks between words": lambda data: re.search(rb"^G1X[^ ]+Y", data, re.M),
    "small letters": lambda data: re.search(rb"^g1 ?x", data, re.M),
    "no header": lambda data: not re.search(rb"(?i)g ?2[01]\b", data),
    "a % frame": lambda data: re.search(rb"\A(?:\xef\xbb\xbf)?%", data),
    "comments in parentheses": lambda data: re.search(rb"\([^)]*\)", data),
    "comments from a semicolon": lambda data: b";" in data,
    "line numbers": lambda data: re.search(rb"(?i)^n\d", data, re.M),
    "motion words left out": lambda data: re.search(rb"^[XY]", data, re.M),
    "no end word": lambda data: not re.search(rb"(?i)m ?(30|2)\b", data),
    "inches": lambda data: re.search(rb"(?i)g20", data),
    "arcs by centre": lambda data: re.search(rb"(?i)g[23][^(;\r\n]*i", data),
    "arcs by radius": lambda data: re.search(rb"(?i)g[23][^(;\r\n]*r", data),
    "drilling": lambda data: re.search(rb"(?i)g8[123]", data),
    "dwells": lambda data: re.search(rb"(?i)g4 *p", data),
    "a spindle word": lambda data: re.search(rb"(?i)m3", data),
    "a tool change": lambda data: re.search(rb"(?i)t2 *m6", data),
    "increments": lambda data: re.search(rb"(?i)g91", data),
    "another work offset": lambda data: re.search(rb"(?i)g55", data),
    "optional lines": lambda data: re.search(rb"^/", data, re.M),
    "pauses": lambda data: re.search(rb"(?i)\bm0", data),
    "no line end at the end": lambda data: not data.endswith((b"\n", b"\r")),
}


@pytest.mark.parametrize("kind", KINDS)
def test_exports_are_of_every_kind(kind: str) -> None:
    found = [data for data in EXPORTS if KINDS[kind](data.replace(b"\r\n", b"\n\r\n"))]

    assert found
    assert len(found) < len(EXPORTS)


def test_exports_are_small() -> None:
    lengths = [len(data.splitlines()) for data in EXPORTS]

    assert max(lengths) <= 70
    assert sum(lengths) / len(lengths) > 10


def test_no_two_are_alike() -> None:
    assert len({data for _, data in FILES}) == COUNT
    assert len({said for said, _ in FILES}) == COUNT


def test_the_same_seed_gives_the_same_jobs() -> None:
    assert list(job_files(120)) == FILES[:120]
    assert [data for _, data in job_files(120, 7)] != [data for _, data in FILES[:120]]


def test_odd_jobs_come_all() -> None:
    assert {data for _, data in awkward_jobs()} <= {data for _, data in FILES}
    assert len(FILES) == len(EXPORTS) + ODD


@pytest.mark.parametrize("name", SHOPS)
def test_a_run_would_take_every_job(name: str) -> None:
    (shop,) = shops([name])
    at = SHOPS.index(name)
    unsound = [
        said for said, data in FILES[at :: len(SHOPS)] if not Case(said, data, shop).is_sound()
    ]

    assert unsound == []


def test_read_in_bulk_they_mean_the_same() -> None:
    (shop,) = shops(["speed"])
    for said, data in FILES[:120]:
        case = Case(said, data, shop)
        one, other = case.job(), case.job(in_bulk=True)
        assert len(one.program) == len(other.program), said
        assert len(one.trace) == len(other.trace), said
        assert repr(one.trace.end) == repr(other.trace.end), said


def test_exports_run_by_the_standard() -> None:
    """By the reference interpreter; comments from a semicolon are not in RS274/NGC."""
    ran = 0
    for data in EXPORTS[:60]:
        lines = data.decode("utf-8-sig").splitlines()
        if ";" in data.decode() or not re.search(rb"(?i)g2[01]", data):
            continue
        done = reference_run(lines, start=Start(), options=Options())
        assert done.error is None, (done.error, lines)
        ran += bool(done.moves)

    assert ran > 20


def test_machines_of_the_kit_differ() -> None:
    machines = [shop.plan.machine for shop in shops(SHOPS)]

    for read in (
        lambda machine: machine.line_end,
        lambda machine: machine.pause.text,
        lambda machine: machine.spindle.control,
        lambda machine: bool(machine.cycles is None),
    ):
        assert len({read(machine) for machine in machines}) > 1


def test_an_empty_file_stands_alone() -> None:
    case = Case("nothing", b"", shops(["relay"])[0])

    assert case.job().stand_alone
    assert not replace(case, data=b"G21\nG0 X1\nM30\n").job().stand_alone
