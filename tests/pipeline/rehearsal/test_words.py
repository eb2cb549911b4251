"""Words that hardly mean on a machine what they say: what is told, and what is not.

Each kind has a case that gives it and the nearest one that does not. Sections are those of
RS274/NGC (NISTIR 6556); what is marked so is common practice.
"""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st
from pipeline.rehearsal.outcomes import line_of

from headrace.cli.group import headrace as command
from headrace.findings import Finding
from headrace.plugins.registry import load_registry
from headrace.program import Program
from headrace.recipe import load_plan
from headrace.rehearsal.words.centres import moved_centre
from headrace.run import prepare_job

MACHINES = Path(__file__).parents[3] / "recipes" / "machines"
BENCH, RELAY, SPEED = "bench-hand-switched", "shop-relay", "shop-speed-controlled"
REGISTRY = load_registry()

HEAD = "G21 G90 G17 G94\nM3 S18000\nG4 P3\nG0 Z5\nX2 Y3\nG1 Z-2.5 F60\nX40 F120\nG0 Z5\n"
END = "M5\nM30\n"
CUT = "G0 X6 Y4\nG1 Z-2.5 F60\nX9\nG0 Z5\n"


@pytest.fixture
def told(tmp_path: Path):  # type: ignore[no-untyped-def]
    """What is told of a file that no step changes, on a machine of the gallery."""

    def run(
        text: str, machine: str = RELAY, changes: dict[str, str] | None = None, setup: str = ""
    ) -> dict[str, Finding]:
        description = (MACHINES / f"{machine}.yaml").read_text("utf-8")
        for old, new in (changes or {}).items():
            assert description.count(old) == 1, old
            description = description.replace(old, new)
        (tmp_path / "machine.yaml").write_text(description, "utf-8")
        (tmp_path / "setup.yaml").write_text(f"format: headrace-setup/1\n{setup}", "utf-8")
        (tmp_path / "recipe.yaml").write_text(
            "format: headrace-recipe/2\nname: As it is\nmachine: machine.yaml\n"
            "setup: setup.yaml\nsteps: [{strip: {blank-lines: false}}]\n",
            "utf-8",
        )
        plan = load_plan(tmp_path / "recipe.yaml", REGISTRY)
        outcome = prepare_job("job.nc", text.encode(), plan, REGISTRY)
        found: dict[str, Finding] = {}
        for finding in outcome.findings:
            found.setdefault(finding.name, finding)
        return found

    return run


# fmt: off
CASES = [
    # modes: 3.6.1 names those that the end puts back; a stopped program leaves them as they are
    ("modes-not-stated", "G21\nG0 Z5\nG90 G94 G17\nG1 X1 F100\nM30\n", 2, "warn"),
    ("modes-not-stated", "G21 G90\nG0 Z5\nG1 X1 F100\nM30\n", 2, "note"),
    ("modes-not-stated", "G21 G90 G94\nG0 X0 Y0 Z5\nG2 X2 Y0 I1 F100\nM30\n", 2, "warn"),
    ("mode-left-on", HEAD + "G91\nG0 Z5\n" + END, 9, "warn"),
    ("mode-left-on", HEAD + "G93\nG1 X9 F2\nG0 Z5\n" + END, 9, "warn"),
    ("mode-left-on", HEAD + "G81 X5 Y5 Z-2 R2 F100\nX7\n" + END, 9, "warn"),
    ("incremental-left-on", HEAD + "G91 G0 Z2\n" + CUT + END, 9, "refuse"),
    ("incremental-left-on",
     HEAD + "G91 G0 Z20\nX30 Y3\nG90\n" + END, 10, "warn"),
    # 3.5.8: by way of the programmed point
    ("home-dives", HEAD + "G30 Z0\n" + END, 9, "refuse"),
    ("home-dives", HEAD + "G91 G30 Z-0.1\nG90\n" + END, 9, "refuse"),
    ("home-by-way", HEAD + "G30 X0\n" + END, 9, "warn"),
    # 3.5.12: G53 for one line
    ("machine-move-not-lasting", HEAD + "G53 G0 Z-5\nX-400 Y-300\n" + END, 10, "warn"),
    # 3.5.16: each line with an axis of the plane is another hole
    ("cycle-left-on", HEAD + "G81 X5 Y5 Z-2 R2 F100\nX7\nX0 Y0\n" + END, 11, "refuse"),
    ("cycle-left-on", HEAD + "G81 X5 Y5 Z-2 R2 F100\nX7\nX0 Y0\nG80\n" + END, 11, "warn"),
    ("cycle-left-on", HEAD + "G81 X5 Y5 Z-2 R2 F100\nM5\nX50 Y60\nG80\n" + END, 11, "refuse"),
    # 3.5.3.2: centres count from the start of the arc
    ("centres-absolute",
     HEAD + "G0 X30 Y20\nG1 Z-1 F60\nG2 X20 Y10 I20 J20 F100\nX10 Y20 I20 J20\nG0 Z5\n" + END,
     11, "refuse"),
    ("centres-doubtful",
     HEAD + "G0 X225 Y120\nG1 Z-1 F60\nG2 X225 Y120 I220 J120 F100\nG0 Z5\n" + END, 11, "warn"),
    ("centre-wanders", HEAD + "G0 X0 Y0\nG1 Z-1 F60\nG2 X40 R20.001 F100\nG0 Z5\n" + END,
     11, "warn"),
    ("centre-wanders", HEAD + "G0 X0 Y0\nG1 Z-1 F60\nG2 X0.1 R-20.002 F100\nG0 Z5\n" + END,
     11, "warn"),
    ("knob-dead", HEAD + "M49\n" + CUT + "M48\n" + END, 9, "note"),       # 3.6.5
    ("optional-lines", HEAD + "/G0 X5\n/X6\n" + END, 9, "warn"),           # 3.3.2
    ("stop-behind-move", HEAD + "G0 X5 M0\n" + END, 9, "warn"),            # table 8
    ("stop-not-described", HEAD + "M60\n" + END, 9, "warn"),
    ("comment-unread", HEAD + "; lid\n" + END, 9, "refuse"),
    ("message-lost", HEAD + "(MSG,CLIP ON) G4 P1 (clip)\n" + END, 9, "note"),   # 3.3.5
    ("message-lost", HEAD + "M0 (TURN THE LID OVER, GOOD FACE DOWN)\n" + END, 9, "note"),
    ("output-not-described", HEAD + "M7\n" + END, 9, "note"),
    ("frame-differs", "%\n" + HEAD + END + "%\n", 1, "warn"),
    ("frame-differs", HEAD + "M5\nM2\n", 10, "note"),
    # common practice: numbers without a point count a thousandth of a millimetre
    ("increments-likely",
     "G21 G90 G94 G17\nG0 Z5000\nX20000 Y30000\nG1 Z-2000 F600\nX40000\nG0 Z5000\nM30\n",
     2, "refuse"),
    ("word-unknown-here", HEAD + "G10 L2 P1 X0\n" + END, 9, "refuse"),
]
NEAREST = [
    ("modes-not-stated", "G21 G90 G94\nG0 Z5\nG1 X1 F100\nM30\n"),
    ("modes-not-stated", "G21 G90 G94 G17 G0 Z5\nX0 Y0\nG2 X2 Y0 I1 F100\nM30\n"),
    ("mode-left-on", HEAD + "G91\nG0 Z5\nG90\n" + END),
    ("mode-left-on", HEAD + "G91\nG0 Z5\nG90\n" + END + "G91\n"),
    ("mode-left-on", HEAD + "G93\nG1 X9 F2\nG94\nG0 Z5\n" + END),
    ("mode-left-on", HEAD + "G81 X5 Y5 Z-2 R2 F100\nX7\nG0 Z5\n" + END),
    ("incremental-left-on", HEAD + "G91 G0 Z2\nG90\n" + CUT + END),
    ("incremental-left-on", HEAD + "G91 G0 Z2\n" + END),
    ("incremental-left-on",
     "G21 G90 G17 G94\nM3 S18000\nG0 X0 Y0 Z5\nG91\nG1 Z-6 F60\nX9\nG0 Z6\n" + END),
    ("incremental-left-on", HEAD + "G91 G0 Z20\nX-30 Y0\nG90\n" + END),
    ("home-dives", HEAD + "G30 Z5\n" + END),
    ("home-dives", HEAD + "G91 G30 Z0\nG90\n" + END),
    ("home-by-way", HEAD + "G91 G30 X0 Y0 Z0\nG90\n" + END),
    ("home-by-way", HEAD + "G30\n" + END),
    ("home-by-way", HEAD + "G28 Z0\n" + END),                   # homes this machine
    ("machine-move-not-lasting", HEAD + "G53 G0 Z-5\nG53 X-400 Y-300\n" + END),
    ("machine-move-not-lasting", HEAD + "G53 G0 Z-5\nX45 Y8\n" + END),
    ("cycle-left-on", HEAD + "G81 X5 Y5 Z-2 R2 F100\nX7\nG80\nG0 X0 Y0\n" + END),
    ("cycle-left-on", HEAD + "G81 X0 Y0 Z-2 R2 F100\nX7\nG80\n" + END),
    ("cycle-left-on", HEAD + "G81 X5 Y5 Z-2 R2 F100\nM5\nM3\nG81 X50 Y60 Z-2 R2\nG80\n" + END),
    ("centres-absolute",
     HEAD + "G0 X30 Y20\nG1 Z-1 F60\nG2 X20 Y10 I-10 J0 F100\nX10 Y20 I0 J10\nG0 Z5\n" + END),
    # one arc that neither reading closes: not a matter of the reading
    ("centres-absolute",
     HEAD + "G0 X30 Y20\nG1 Z-1 F60\nG2 X20 Y10 I20 J20 F100\nX10 Y20 I21 J20\nG0 Z5\n" + END),
    ("centres-doubtful",
     HEAD + "G0 X225 Y120\nG1 Z-1 F60\nG2 X225 Y120 I-5 J0 F100\nG0 Z5\n" + END),
    ("centre-wanders", HEAD + "G0 X0 Y0\nG1 Z-1 F60\nG2 X40 R20 F100\nG0 Z5\n" + END),
    ("centre-wanders", HEAD + "G0 X0 Y0\nG1 Z-1 F60\nG2 X20 Y20 R20.001 F100\nG0 Z5\n" + END),
    ("centre-wanders", HEAD + "G0 X0 Y0\nG1 Z-1 F60\nG2 X40 I20 F100\nG0 Z5\n" + END),
    ("knob-dead", HEAD + "M48\n" + END),
    ("optional-lines", HEAD + "(a/b)\nG0 X6\n/(only text)\n" + END),
    ("stop-behind-move", HEAD + "G0 X5\nM0\n" + END),
    ("stop-not-described", HEAD + "M0\n" + END),
    ("comment-unread", HEAD + "(lid; good face down)\n" + END),
    ("message-lost", HEAD + "(clip) G4 P1 (MSG,CLIP ON)\n" + END),
    ("message-lost", HEAD + "M0 (TURN THE LID, GOOD FACE DOWNWARD)\n" + END),
    ("output-not-described", HEAD + "M8\n" + END),
    ("frame-differs", HEAD + END),
    ("increments-likely",
     "G21 G90 G94 G17\nG0 Z5\nX200 Y300\nG1 Z-2 F600\nX400\nG0 Z5\nM30\n"),
    ("increments-likely",
     "G21 G90 G94 G17\nG0 Z5000.\nX20000 Y30000\nG1 Z-2000 F600\nX40000\nG0 Z5000\nM30\n"),
    # places before and behind G92 count from two zeros: together they span more than the travel
    ("increments-likely",
     "G21 G90 G94 G17\nG28\nG53 G0 X-780 Y-580\nG92 X0 Y0\nG0 X60 Y60\nM30\n"),
]
# fmt: on


@pytest.mark.parametrize(("name", "text", "line", "severity"), CASES)
def test_is_told(told, name: str, text: str, line: int, severity: str) -> None:  # type: ignore[no-untyped-def]
    found = told(text)

    assert name in found, list(found.values())
    assert (line_of(found[name]), found[name].severity) == (line, severity)
    assert found[name].why
    assert found[name].remedy


@pytest.mark.parametrize(("name", "text"), NEAREST)
def test_is_not_told(told, name: str, text: str) -> None:  # type: ignore[no-untyped-def]
    assert name not in told(text)


def test_a_machine_move_that_a_step_adds_is_not_taken_for_a_slip() -> None:
    """The head goes to its parking place by G53, behind a G53 of the job's own."""
    plan = load_plan(MACHINES.parent / "speed-floor-boards.yaml", REGISTRY)
    outcome = prepare_job("job.nc", (HEAD + "G53 G0 Z-5\n" + END).encode(), plan, REGISTRY)

    assert outcome.result is not None
    assert b"G53 G0 X650" in b"".join(outcome.result.parts())
    assert "machine-move-not-lasting" not in [finding.name for finding in outcome.findings]


def test_a_file_that_states_its_modes_gives_none_of_these(told) -> None:  # type: ignore[no-untyped-def]
    """Whatever other checks say of a file without a touch, its words are in order."""
    names = {case[0] for case in CASES}

    assert not names & set(told(HEAD + CUT + END))


def test_modes_that_a_machine_describes(told) -> None:  # type: ignore[no-untyped-def]
    changes = {"end: M30": "end: M30\nmodes: [G40, G64 P0.1]"}

    found = told(HEAD + END, changes=changes)
    assert found["modes-not-stated"].what == "the first move comes before G40 G64 P0.1 are stated"
    assert "modes-not-stated" not in told("G40 G64\n" + HEAD + END, changes=changes)


def test_a_machine_with_offsets_is_told_which_one(told) -> None:  # type: ignore[no-untyped-def]
    found = told("%\n" + HEAD + END + "%\n", SPEED)

    assert found["modes-not-stated"].remedy.startswith("write `G54` on the first line")
    assert "modes-not-stated" not in told("%\nG54\n" + HEAD + END + "%\n", SPEED)


def test_another_system_than_the_first(told) -> None:  # type: ignore[no-untyped-def]
    second = told("%\nG55\n" + HEAD + END + "%\n", SPEED)
    set_here = told("%\nG10 L2 P2 X9 Y9\nG55\n" + HEAD + END + "%\n", SPEED)

    assert line_of(second["system-unset"]) == 6
    assert "system-unset" not in set_here
    assert "system-unset" not in told("%\nG54\n" + HEAD + END + "%\n", SPEED)


@pytest.mark.parametrize(
    ("machine", "dwell", "seconds", "other"),
    [
        (BENCH, "3", "0.003", "3"),
        (BENCH, "29.9", "0.0299", "29.9"),
        (BENCH, "100", None, None),
        (RELAY, "100", "100", "0.1"),
        (RELAY, "99", None, None),
        (RELAY, "30", None, None),
        (RELAY, "0.1", None, None),
    ],
)
def test_a_dwell_of_the_other_unit(told, machine, dwell, seconds, other) -> None:  # type: ignore[no-untyped-def]
    """3.5.4 counts seconds, other controls milliseconds; dwells of 0.1 s to 30 s are meant (both
    common practice)."""
    found = told(HEAD.replace("P3", "P1000" if machine == BENCH else "P3") + f"G4 P{dwell}\n" + END,
                 machine)  # fmt: skip

    assert ("dwell-implausible" in found) is (seconds is not None)
    if seconds is not None:
        what = f"this machine would wait {seconds} s; in the other unit it were {other} s"
        assert found["dwell-implausible"].what == what


@pytest.mark.parametrize("kept", ["true", "false"])
def test_job_that_moves_its_zero_says_how_long(told, kept: str) -> None:  # type: ignore[no-untyped-def]
    changes = {"kept-after-end: false": f"kept-after-end: {kept}"}

    what = told(HEAD + "G92 X0\n" + END, changes=changes)["job-moves-zero"].what
    span = "for the files behind it too" if kept == "true" else "up to its end"
    assert what.startswith(f"the job itself moves the work zero, {span}: X by ")


@pytest.mark.parametrize(
    ("kept", "name"),
    [
        ("kept-after-end: true", None),
        ("kept-after-end: false", "zero-not-kept"),
        ("", "cannot-tell"),
    ],
)
def test_a_set_up_file_for_the_next_one(tmp_path: Path, kept: str, name: str | None) -> None:
    """Looked at alone: G92 ends with the program (3.6.1), or outlives it (common practice)."""
    machine = (MACHINES / f"{RELAY}.yaml").read_text("utf-8")
    (tmp_path / "machine.yaml").write_text(machine.replace("kept-after-end: false", kept), "utf-8")
    (tmp_path / "set.nc").write_text("G21 G90\nG28\nG53 G0 X-780 Y-580\nG92 X0 Y0\nM30\n", "utf-8")
    cut = tmp_path / "cut.nc"
    cut.write_text("G21 G90\nG28\nG53 G0 X-780 Y-580\nG92 X0 Y0\nG1 X1 F99\nM30\n", "utf-8")

    def shown(file: str) -> str:
        ran = CliRunner().invoke(command, ["check", "--machine", f"{tmp_path}/machine.yaml", file])
        return ran.output

    about = "whether the next file starts" if name == "cannot-tell" else "zero-not-kept"
    assert (about in shown(f"{tmp_path}/set.nc")) is (name is not None)
    assert about not in shown(str(cut))


@pytest.mark.parametrize(
    ("comment", "told_of"),
    [
        ("(T1 D=6.35 CR=0)", "6.35"),
        ("(TOOL DIA 3.175)", "3.175"),
        ("(6.35 MM END MILL)", "6.35"),
        ("(T1 D=6.0)", None),
        ("(6 mm compression bit)", None),
        ("(T2 D=3.175)", None),
        ("(ONE POCKET - 9 MM DEEP)", None),
        ("(LID D50)", None),
    ],
)
def test_bit_of_the_comments(told, comment: str, told_of: str | None) -> None:  # type: ignore[no-untyped-def]
    found = told(f"{comment}\nT1 M6\n" + HEAD + END, setup="tool: {diameter: 6}\n")

    if told_of is None:
        assert "tool-differs" not in found
    else:
        assert found["tool-differs"].what.startswith(f"the file speaks of a bit of {told_of} mm")
    assert "tool-differs" not in told(f"{comment}\nT1 M6\n" + HEAD + END)


def test_line_numbers_where_the_machine_refuses_them(told) -> None:  # type: ignore[no-untyped-def]
    changes = {"numbers: optional": "numbers: refused"}

    found = told(HEAD + "N5 G0 X3\n" + END, changes=changes)
    assert line_of(found["word-unknown-here"]) == 9
    assert "word-unknown-here" not in told(HEAD + "G0 X3\n" + END, changes=changes)


def test_older_words_for_units_are_told_once(told) -> None:  # type: ignore[no-untyped-def]
    """ISO 6983 lists G70 and G71; RS274/NGC has G20 and G21 in their place (3.5.7)."""
    found = told(HEAD.replace("G21", "G71") + END)

    assert list(found) == ["unknown-g"]
    assert "G21 (mm) does so here" in found["unknown-g"].what


def test_a_file_without_unit_tells_its_size(told) -> None:  # type: ignore[no-untyped-def]
    text = "G90 G17 G94\nG0 X1 Y2 Z5\nG1 Z-1 F60\nX49.03 Y26.02\nG0 Z5\nM30\n"
    found = told(text, changes={"power-up-units: mm": "#"})

    assert found["units-not-stated"].what.endswith("its numbers go over 48.03 by 24.02")


def test_many_arcs_read_the_wrong_way_are_one_finding(told) -> None:  # type: ignore[no-untyped-def]
    """3.5.3.2; a circle of eight arcs round X20 Y20, written with its centre as a place."""
    places = [20 + 20j + 10 * np.exp(1j * np.pi / 4 * at) for at in range(9)]
    arcs = "".join(f"G3 X{p.real:.4f} Y{p.imag:.4f} I20 J20 F100\n" for p in places[1:])
    relative = "".join(
        f"G3 X{q.real:.4f} Y{q.imag:.4f} I{20 - p.real:.4f} J{20 - p.imag:.4f} F100\n"
        for p, q in pairwise(places)
    )
    lead = HEAD + "G0 X30 Y20\nG1 Z-1 F60\n"

    assert list(told(lead + arcs + "G0 Z5\n" + END)) == ["centres-absolute"]
    stated = told(lead + "G90.1\n" + arcs + "G91.1\nG0 Z5\n" + END)
    for found in (told(lead + relative + "G0 Z5\n" + END), stated):
        assert not {"centres-absolute", "centres-doubtful", "more-findings"} & set(found)


def test_how_far_a_rounding_moves_a_centre() -> None:
    """Elementary geometry: with the chord 2 r a radius that is e too long puts the centre
    sqrt((r + e)**2 - r**2) off the middle; for r = 10 and e = 0.0005 that is 0.1 mm."""
    moved = moved_centre(np.array([10.0]), np.array([20.0]), 0.0005)

    assert moved[0] == pytest.approx(0.1000012, abs=1e-6)
    quarter = moved_centre(np.array([10.0]), np.array([10.0 * np.sqrt(2)]), 0.0005)
    assert quarter[0] < 0.001


@given(
    radius=st.floats(1, 500),
    turn=st.floats(0.2, 6.2).filter(lambda turn: abs(turn - np.pi) > 0.02),
)
def test_moved_centre_is_that_of_the_moved_numbers(radius: float, turn: float) -> None:
    """Against the centre found anew from numbers that are a little off."""
    error = 1e-6
    chord = 2 * radius * np.sin(turn / 2)

    def height(r: float) -> float:
        return float(np.sqrt(max(r * r - chord * chord / 4, 0.0)))

    anew = max(abs(height(radius + e) - height(radius)) for e in (error, -error))
    moved = float(moved_centre(np.array([radius]), np.array([chord]), error)[0])
    assert moved == pytest.approx(max(anew, radius * error / chord), rel=1e-3)


@given(st.lists(st.sampled_from(
    ["G0 X1", "G1 X2 F9", "X3", "G90", "g 91 y2", "G4 P1", "(G53)", "G59.1", "G[50+4] X1", "G3"]
), max_size=400))  # fmt: skip
def test_codes_are_the_g_words_of_the_lines(rows: list[str]) -> None:
    """Against a walk over all lines, small texts (scanned) and larger ones (in columns) alike."""
    text = "\n".join([*rows, *["X1.5 Y2.5"] * 600])
    program = Program.read(text.encode())
    walked = [
        (line.index, float("nan") if word.value is None else float(word.value))
        for line in program
        for word in line.words
        if word.letter == "G" and (word.value is None or not 0 <= word.value <= 3)
    ]

    lines, numbers = program.codes()
    assert lines.tolist() == [line for line, _ in walked]
    assert np.array_equal(numbers, np.array([n for _, n in walked], float), equal_nan=True)
    for letter in "GXYFP":
        held = [line.index for line in program if line.has(letter)]
        assert program.lines_with(letter).tolist() == held
