"""One work offset system for the whole job: RS274/NGC 3.2.2 and 3.5.13, and where the reference
interpreter has the machine go."""

from __future__ import annotations

import random
import re
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pipeline.language.comparing import state_of
from plugins.alike import require_known, sound, unframed
from plugins.shop import job, machine, refused, setup, text, through
from reference import Interpreter, Options, ReferenceError_, Start, run
from reference.programs import random_program

from headrace import Facet, Job, JobRefused, Program, Renumbering, replace
from headrace.language import Dialect
from headrace.plugins import Contract
from headrace.program import Cause
from headrace.proof import Version, prove_step
from headrace_transforms.work_offset import needs_work_offset

OFFSETS = {"G55": [200, 0, 0.5], "G56": [0, -150.25, 0], "G59.3": [12.7, 25.4, -2.54]}
PARAMETERS = {5241: 200.0, 5243: 0.5, 5262: -150.25, 5381: 12.7, 5382: 25.4, 5383: -2.54}
"""Parameters of the origins of the second, third and ninth system (table 2)."""
START = ["G21 G90 G17", "M3 S18000"]


def shop_job(*lines: str, name: str = "relay", offsets: dict[str, Any] | None = None) -> Job:
    source = "\n".join([*START, *lines, "M30", ""])
    changes = {"offsets": OFFSETS if offsets is None else offsets}
    return job(source, name, setup_changes=changes, assume="mm")


def written(*lines: str, name: str = "speed", **options: Any) -> list[str]:
    """What becomes of some lines, those before and behind them left out."""
    done = through(shop_job(*lines, name=name), ("work-offset", options))
    return text(done)[len(START) : -1]


def known_job(lines: list[str]) -> Job:
    """A job from a known start, on a machine whose G55 and further are known."""
    described = machine("speed", {"spindle/reverse": True})
    set_up = setup("speed", {"offsets": OFFSETS})
    program = Program.read("".join(line + "\n" for line in lines).encode(), "job.nc")
    start = state_of(Start(parameters=PARAMETERS))
    return Job(program, described, set_up, Dialect(), start)


def require_same_way(before: Job, after: Job) -> None:
    """In machine coordinates, by the reference interpreter: every move with every setting."""
    start = Start(parameters=PARAMETERS)
    options = Options(centre_codes=True)
    was, now = (
        run([line.text for line in each.program], start=start, options=options)
        for each in (before, after)
    )
    assert was.error is None
    assert now.error is None, now.error
    assert len(was.moves) == len(now.moves)
    for first, second in zip(was.moves, now.moves, strict=True):
        assert (first.kind, first.feed, first.tool) == (second.kind, second.feed, second.tool)
        np.testing.assert_allclose(
            (*first.machine_end, first.turn), (*second.machine_end, second.turn), atol=1e-6
        )


# --- other numbers ----------------------------------------------------------------------------


def test_places_are_said_from_the_first_zero() -> None:
    """3.2.2: a place in machine coordinates is its number plus the origin of the system."""
    assert written("G54 G0 X10 Y10 Z5", "G55", "X10", "Z6", "G1 Z-1.25 F300", "G56 G0 Y0.25") == [
        "G54 G0 X10 Y10 Z5", "G54", "X210", "Z6.5", "G1 Z-0.75 F300", "G54 G0 Y-150",
    ]  # fmt: skip


def test_a_machine_without_systems_is_not_told_of_any() -> None:
    found = written("G54 G0 X10 Y10 Z5", "N5 g55 (SECOND)", "G56", "G55 M8", "X1", name="relay")
    assert found == ["G0 X10 Y10 Z5", "N5 (SECOND)", "M8", "X201"]


def test_what_is_no_place_stays() -> None:
    lines = ["G54 G0 X10 Y10 Z5", "G55 G53 G0 Z-5", "G91 G1 X5 F100", "G90 G28 Z5", "G4 P2"]
    found = written(*lines, name="speed")
    assert found == ["G54 G0 X10 Y10 Z5", "G54 G53 G0 Z-5", "G91 G1 X5 F100", "G90 G28 Z5", "G4 P2"]


def test_arcs_by_offsets_radius_and_places() -> None:
    """3.5.3: I J K count from the start; with G90.1 (common practice) from zero."""
    found = written(
        "G55 G0 X10 Y10 Z5", "G2 X20 I5 J0 F100", "G3 X10 R5", "G90.1 G2 X20 I15 J10", "G91.1"
    )
    assert found == [
        "G54 G0 X210 Y10 Z5.5", "G2 X220 I5 J0 F100", "G3 X210 R5", "G90.1 G2 X220 I215 J10",
        "G91.1",
    ]  # fmt: skip


def test_cycles() -> None:
    """3.5.16: R and the depth are places along the axis across, X or Y may stick."""
    found = written("G55 G0 X1 Y1 Z5", "G81 X2 Z-3 R2 F100", "X3", "G80", "G18 G82 Z4 Y-3 R2 P1")
    assert found == [
        "G54 G0 X201 Y1 Z5.5", "G81 X202 Z-2.5 R2.5 F100", "X203", "G80", "G18 G82 Z4.5 Y-3 R2 P1",
    ]  # fmt: skip


def test_inches() -> None:
    """25.4 mm are exactly an inch; what is not said exactly strays by less than a millionth."""
    found = written("G20 G59.3 G0 X1 Y2.5 Z.5", "G55 X1")
    assert found == ["G20 G54 G0 X1.5 Y3.5 Z0.4", "G54 X8.87401575"]


def test_another_target() -> None:
    assert written("G0 X1 Y1 Z5", "G54 X2", "G55 X3", to="G55") == [
        "G0 X-199 Y1 Z4.5 G55", "G55 X-198", "G55 X3",
    ]  # fmt: skip
    there = through(shop_job("G56 G0 X1.5 Y-2 Z5", "G1 X3 F100", name="speed"), "work-offset")
    back = through(there, ("work-offset", {"to": "G56"}))
    assert text(back)[2] == "G56 G0 X1.5 Y-2 Z5"


def test_nothing_to_do() -> None:
    source = shop_job("G54 G0 X1 Y1 Z5", "G1 X2 F100", name="speed")
    assert through(source, "work-offset").program is source.program
    assert needs_work_offset(source) is None
    assert needs_work_offset(shop_job("G54 G0 X1", name="relay")) == {}
    assert needs_work_offset(shop_job("G0 X1", name="relay")) is None


def test_selecting_alone_needs_no_zero() -> None:
    found = written("G54 G0 X1 Y1 Z5", "G57", "G54", "X2")
    assert found == ["G54 G0 X1 Y1 Z5", "G54", "G54", "X2"]


@pytest.mark.parametrize(
    ("lines", "name", "said"),
    [
        (["G54 G0 X1", "G57 X1"], "not-described", "setup.offsets.G57"),
        (["G54 G0 X1", "G92 X0", "G55 X1"], "zero-moved-by-job", "moves a zero"),
        (["G54 G0 X1", "G55", "G92 X0", "G54", "G0 X1"], "zero-moved-by-job", "moves a zero"),
        (["G54 G0 X1", "G10 L2 P2 X5", "G55 X1"], "zero-moved-by-job", "moves a zero"),
        (["G0 X1", "G55 X[1+1]"], "numbers-not-plain", "worked out"),
        (["G0 X1", "/G55", "X1"], "switch-decides", "not certain"),
        (["G0 X1", "G55 X1", "M98 P7", "M30", "O7", "X2", "M99"], "numbers-not-plain", "called"),
    ],
    ids=["offset", "shift", "shift-elsewhere", "origin", "expression", "optional", "call"],
)
def test_refusals(lines: list[str], name: str, said: str) -> None:
    finding = refused(shop_job(*lines, name="speed"), "work-offset")
    assert finding.name == name
    assert said in finding.what


def test_a_cycle_does_not_go_on_in_another_system() -> None:
    """3.5.16: R and Z stick, and would be other places there."""
    cycle = ["G54 G0 X1 Y1 Z5", "G81 X1 Z-2 R1 F9", "G55 X2"]
    finding = refused(known_job([*START, *cycle, "G80", "M30"]), "work-offset")
    assert (finding.name, finding.place.line) == ("cycle-in-force", 5)
    again = [*cycle[:2], "G55 X2 R1 Z-2"]
    source = known_job([*START, *again, "G80", "M30"])
    require_same_way(source, through(source, "work-offset"))


_FOREIGN = re.compile(r"[#\[/]|G(?:10|28|30|38|92)", re.IGNORECASE)
"""What is refused in such a job, with its blanks taken out."""
_UNIT = re.compile(r"G0*2[01](?![0-9])", re.IGNORECASE)


def random_job(rng: random.Random) -> list[str]:
    """A program of the whole language with selections in it, all places known."""
    generated = unframed(random_program(rng, 40))
    plain = [line for line in generated if not _FOREIGN.search(re.sub(r"[ \t]", "", line))]
    # what a cycle's numbers are behind a change of units the report leaves open
    units = [line for line in plain if _UNIT.search(re.sub(r"[ \t]", "", line))]
    plain = [line for line in plain if line not in units[1:]]
    reading = Interpreter(Start(parameters=PARAMETERS), Options())
    found: list[str] = []
    for line in ["G54 G0 X0 Y0 Z0 A0 B0 C0", *plain]:
        selection = rng.choice(("G54", "G55", "g56 (PART)", "N7 G59.3 G17"))
        for part in (selection, line) if rng.random() < 0.3 else (line,):
            try:
                reading.execute(len(found), part)
            except ReferenceError_:
                continue
            found.append(part)
        if reading.ending:
            break
    return found


REFUSALS = {
    "cycle-in-force", "numbers-not-plain", "switch-decides", "zero-moved-by-job", "not-described",
    "numbers-unknown", "number-too-large",
}  # fmt: skip


@settings(deadline=None, max_examples=120)
@given(st.integers(0, 2**32 - 1), st.sampled_from(["numbers", "shift"]))
def test_generated_programs(seed: int, by: str) -> None:
    """The machine goes the same way, or the step refuses."""
    source = known_job(random_job(random.Random(seed)))
    if not sound(source):
        return
    try:
        done = through(source, ("work-offset", {"by": by}))
    except JobRefused as error:
        require_known(error, *REFUSALS)
        return
    require_same_way(source, done)
    assert {block.setting.system for block in done.trace.blocks} <= {1}


def test_many_lines() -> None:
    """NumPy adds up whole numbers."""
    rng = np.random.default_rng(5)
    places = rng.integers(-90_000, 90_000, (50_000, 3))
    lines = [f"X{x / 1000:.3f} Y{y / 1000:.3f} Z{z / 1000:.3f}" for x, y, z in places.tolist()]
    found = text(through(shop_job("G55 G1 F100", *lines, name="speed"), "work-offset"))[3:-1]
    numbers = [[float(word[1:]) for word in line.split()] for line in found]
    shift = np.array([200_000, 0, 500])
    np.testing.assert_array_equal(np.rint(np.array(numbers) * 1000), places + shift)


# --- the proof --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("at", "text_"),
    [(2, "X209.9"), (1, "G55"), (3, "Z6")],
    ids=["another place", "still in the other system", "not moved"],
)
def test_the_proof_sees(at: int, text_: str) -> None:
    source = known_job(["G54 G1 X10 Y10 Z5 F100", "G55", "X10", "Z6", "M30"])
    rows = ["G54 G1 X10 Y10 Z5 F100", "G54", "X210", "Z6.5", "M30"]
    contract = Contract(
        frozenset((Facet.WORK_ZERO, Facet.SPELLING)),
        renumbers=(Renumbering(2, 1, (200.0, 0.0, 0.5)),),
    )
    for given_, sees in ((rows, False), ([*rows[:at], text_, *rows[at + 1 :]], True)):
        edits = [replace(line, row) for line, row in enumerate(given_)]
        done = source.with_program(source.program.edited(edits, Cause("try", 1)))
        proof = prove_step(
            Version(source.program, source.trace), Version(done.program, done.trace), contract
        )
        assert bool(proof.breaches) == sees


# --- a shift ----------------------------------------------------------------------------------


def test_a_shift_makes_the_place_read_the_numbers_of_the_system() -> None:
    """3.5.18: G92 makes the current point have the numbers given; 3.5.13 round and back."""
    lines = ["G54 G0 X10 Y10 Z5", "N9 G55 (SECOND)", "X10", "Z6", "G54 G0 X0"]
    assert written(*lines, name="relay", by="shift") == [
        "G0 X10 Y10 Z5", "N9 G92 X-190 Z4.5", "(SECOND)", "X10", "Z6", "G92 X210 Z6.5", "G0 X0",
    ]  # fmt: skip


def test_there_and_back_the_numbers_are_the_same() -> None:
    lines = ["G54 G0 X10 Y10 Z5", "G56", "X7", "G54", "X11"]
    found = written(*lines, name="speed", by="shift")
    assert found == ["G54 G0 X10 Y10 Z5", "G92 Y160.25", "G54", "X7", "G92 Y10", "G54", "X11"]


def test_an_unknown_place_cannot_be_shifted() -> None:
    finding = refused(
        shop_job("G54 G0 Y10 Z5", "G55 X1", name="relay"), ("work-offset", {"by": "shift"})
    )
    assert finding.name == "numbers-unknown"
    assert finding.place.line == 4
    assert "X" in finding.remedy


def test_a_kept_shift_is_taken_back_at_the_end() -> None:
    """Where the controller keeps G92 behind the end (bench) the next file would be off."""
    found = written("G0 X10 Y10 Z5", "G55 X10 Z5", name="bench", by="shift")
    assert found == ["G0 X10 Y10 Z5", "G92 X-190 Z4.5", "X10 Z5", "G92 X210 Z5.5"]
