"""Stating the modes that a program relies on."""

from __future__ import annotations

from collections.abc import Iterator

from headrace import Edit, Facet, Job, before, transform
from headrace_transforms.telling.refusing import place_of, refusal

_USUAL = ("G40", "G49", "G80")
"""No compensation, no length offset, no cycle (RS274/NGC 3.5.10, 3.5.11, 3.5.15)."""


@transform(
    "safe-start",
    changes=[Facet.WORK_ZERO, Facet.CORNERS, Facet.SPELLING, Facet.COMMENTS],
    options={
        "units": {
            "description": "The units that the added lines state: those of the job, mm or inch.",
            "enum": ["job", "mm", "inch"],
            "default": "job",
        }
    },
)
def safe_start(job: Job, *, units: str) -> Iterator[Edit]:
    """State units, plane, modes and work offset system before anything moves.

    So that nothing hangs on what the program before left behind. The units are those of the job;
    a file without a job has mm. Where the machine describes `modes`, these words take the place
    of G40 G49 G80; one without cycles is not told to end one.

        G0 X0 Y0      ->        G21 G17 G90 G94 G40 G49 G80
                                G54
                                G0 X0 Y0
    """
    machine = job.machine
    word = {"mm": "G21", "inch": "G20"}[_units(job, units)]
    modes = machine.modes or [word for word in _USUAL if word != "G80" or machine.cycles != ()]
    words = dict.fromkeys((word, "G17", "G90", "G94", *modes))
    yield before(job.landmarks.start, *_rows(list(words), machine.line_length))
    if machine.work_zero.systems:
        yield before(job.landmarks.start, machine.work_zero.systems[0])


def _units(job: Job, wanted: str) -> str:
    """The units to state; JobRefused where they are not known, or contradict the job."""
    if job.stand_alone:
        return "mm" if wanted == "job" else wanted
    end = job.landmarks.end
    stated = [int(line) for line in job.program.lines_with("G", 20, 21) if line < end]
    own = job.dialect.units
    place = None
    if stated:
        line = job.program[stated[0]]
        own = "inch" if line.has("G", 20) else "mm"
        place = place_of(job.program, line)
    if own is None:
        raise refusal("units-unknown", "safe-start cannot tell the job's units")
    if wanted not in ("job", own):
        raise refusal("units-contradict", f"safe-start states {wanted}, the job {own}", place=place)
    return own


def _rows(words: list[str], length: int) -> Iterator[str]:
    """The words in as few lines as the machine's line length allows."""
    row = ""
    for word in words:
        if row and len(row) + 1 + len(word) > length:
            yield row
            row = ""
        row = f"{row} {word}".lstrip()
    if row:
        yield row
