"""The one step: what a job uses and its machine lacks, and nothing else."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from plugins.shop import DEMO, FILES, MACHINES, REGISTRY, job, taken, text, through

from headrace import Dialect, Job, JobRefused
from headrace.machine import Assumed
from headrace.way import Way

POOR: dict[str, Any] = {
    "arcs": {"forms": []},
    "cycles": [],
    "units": ["mm"],
    "distances": ["absolute"],
    "decimals": 3,
    "decimal-point": "required",
    "rapid-feed": "word",
    "optional-lines": "refused",
    "parameters": False,
    "subprograms": False,
    "work-zero/systems": [],
    "work-zero/word": "G92",
    "dwell": "milliseconds",
}
"""A controller that reads next to nothing: straight lines in millimetres, with points."""


def steps_of(job: Job, **options: Any) -> tuple[Job, list[str]]:
    """The job behind `adapt`, and the steps that this took."""
    way = Way(job, REGISTRY, [])
    way.take(taken("adapt", options), 0)
    return way.job, [report.name for report in way.reports]


@pytest.mark.parametrize("name", MACHINES)
@pytest.mark.parametrize("path", [*FILES, *DEMO], ids=lambda path: path.name)
def test_a_job_that_needs_nothing_stays_as_it_is(path: Path, name: str) -> None:
    """A machine that has all that the standard has: byte for byte, and no step at all."""
    everything = {
        "parameters": True,
        "subprograms": True,
        "line/length": 4096,
        "optional-lines": "switch",
        "decimals": None,
        "arcs": None,
        "cycles": None,
        "units": None,
        "work-zero/systems": ["G54", "G55", "G56", "G57", "G58", "G59", "G59.1", "G59.2", "G59.3"],
    }
    source = job(path.read_bytes(), name, changes=everything, assume="mm")

    done, steps = steps_of(source)

    assert steps == []
    assert done.program is source.program


@pytest.mark.parametrize("path", [*FILES, *DEMO], ids=lambda path: path.name)
def test_a_poor_machine(path: Path) -> None:
    """Every readable job is refused with help, or comes out in what the machine reads; a second
    time there is nothing left to do."""
    source = job(path.read_bytes(), "bench", changes=POOR, assume="mm")
    try:
        done, _ = steps_of(source)
    except JobRefused as error:
        if not all(finding.why and finding.remedy for finding in error.findings):
            pytest.fail(f"a refusal without help: {error}")
        return

    again, steps = steps_of(done)

    assert steps == []
    assert again.program.to_bytes() == done.program.to_bytes()
    assert not any(block.arcs is not None and len(block.arcs.rows) for block in done.trace.blocks)
    codes = set(done.program.codes()[1].tolist())
    assert not codes & {2.0, 3.0, 20.0, 54.0, 81.0, 83.0, 91.0}


def test_what_was_done_is_told_in_order() -> None:
    lines = (
        "G20 G90 G94 G17\nM3 S17000\nG4 P2\nG0 X1 Y1 Z.2\nG1 Z-.1 F20\nG2 X2 Y2 J1\nG0 Z.2\nM30\n"
    )

    done, steps = steps_of(job(lines, "bench", changes={**POOR, "dwell": "seconds"}))

    assert steps == ["units", "arcs-to-lines", "rapid-feed", "decimals"]
    assert text(done)[0] == "G21 G90 G94 G17"


def test_steps_may_be_left_to_the_recipe() -> None:
    lines = (
        "G20 G90 G94 G17\nM3 S17000\nG0 X1. Y1. Z.5\nG1 Z-.1 F20.\nG2 X2. Y2. J1.\nG0 Z.2\nM30\n"
    )
    without = {"arcs": {"forms": []}, "units": ["mm"], "decimals": None}
    source = job(lines, "bench", changes=without)

    _, steps = steps_of(source, leave=["units"])

    assert steps == ["arcs-to-lines"]


def test_the_tolerance_is_that_of_the_chords() -> None:
    lines = "G21 G90 G94 G17\nM3 S17000\nG0 X0 Y0 Z5\nG1 Z-1 F300\nG2 X50 Y0 I25\nG0 Z5\nM30\n"
    source = job(lines, "bench", changes={"arcs": {"forms": []}})

    fine, coarse = (len(through(source, ("adapt", {"tolerance": t})).trace) for t in (0.005, 0.2))

    assert fine > 5 * coarse


def test_dwells_count_what_the_machine_counts() -> None:
    source = job("G21 G90 G94\nM3 S17000\nG4 P2\nG0 Z5\nG1 Z-1 F300\nM30\n", "bench")
    assert source.dialect.dwell_unit == 0.001
    dialect = Dialect.of(source.machine).as_jobs_have_it(Assumed(dwell="seconds"))
    assumed = source.with_program(source.program, dialect)

    done, steps = steps_of(assumed)

    assert steps == ["dwell-unit"]
    assert "G4 P2000" in text(done)
    assert done.dialect.dwell_unit == 0.001
