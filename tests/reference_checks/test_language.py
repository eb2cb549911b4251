"""Rules of NISTIR 6556 that its worked examples do not reach; each carries its section."""

from __future__ import annotations

import itertools
import math
import random

import pytest
from reference import Event, Options, Start, run
from reference.grammar import read_line


def test_any_order_of_items_means_the_same() -> None:
    """Section 3.3.6: this line has 120 orders and one meaning."""
    items = ["g40", "g1", "#3=15", "(foo)", "#4=-7.0"]
    start = Start(feed=50)

    ends = set()
    for order in itertools.permutations(items):
        result = run([" ".join(order) + " x[1+1]", "x#3 y#4"], start=start)
        assert result.error is None
        ends.add(tuple(move.end for move in result.moves))

    assert ends == {((2, 0, 0, 0, 0, 0), (15, -7, 0, 0, 0, 0))}


def test_case_and_spacing_mean_nothing() -> None:
    """Section 3.3."""
    plain = run(["G1 X-12.5 F100 S500 M3"])
    odd = run(["\tg 01 x - 1 2 . 5 0 m3\tF 1 00.S5 00"])

    assert odd.moves == plain.moves
    assert odd.moves[0].end[0] == -12.5


def test_flat_sums_agree_with_python() -> None:
    """Python gives `+ - * /` the same two levels, left to right (section 3.3.2.3)."""
    rng = random.Random(6556)
    for _ in range(300):
        terms = [f"{rng.uniform(0.1, 9):.3f}" for _ in range(rng.randint(2, 8))]
        text = terms[0] + "".join(rng.choice("+-*/") + term for term in terms[1:])

        found = read_line(f"x[{text}]", {}).words[0].value

        assert found == pytest.approx(eval(text), rel=1e-12)


def test_logic_shares_the_level_of_addition() -> None:
    """Section 3.3.2.3: `1 + 0 and 0` is `(1 + 0) and 0`, and `2 or 0 * 5` is `2 or (0 * 5)`."""
    assert read_line("x[1 + 0 and 0]", {}).words[0].value == 0
    assert read_line("x[0 and 0 + 1]", {}).words[0].value == 1
    assert read_line("x[2 or 0 * 5]", {}).words[0].value == 1


def test_remainder_is_never_negative() -> None:
    """The report gives no sign for negative numbers (3.3.2.3); this one is from memory."""
    assert read_line("x[-7 mod 3]", {}).words[0].value == 2
    assert read_line("x[7 mod -3]", {}).words[0].value == 1
    assert read_line("x[-7 mod -3]", {}).words[0].value == 2


def test_hash_binds_before_operators() -> None:
    """Section 3.3.2.2."""
    parameters = {1: 7.0, 3: 40.0, 40: 5.0}

    assert read_line("x[#1+2]", parameters).words[0].value == 9
    assert read_line("x#[1+2]", parameters).words[0].value == 40
    assert read_line("x##3", parameters).words[0].value == 5


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("(MSG, turn it)", " turn it"),
        ("( m s G ,turn it)", "turn it"),
        ("(MSG turn it)", None),
        ("(MSG,first) g0 x1 (second)", None),
        ("(first) g0 x1 (msg,second)", "second"),
        ("(msg,kept) ; an aside", "kept"),
        ("; (msg,never shown)", None),
    ],
)
def test_last_comment_may_be_a_message(text: str, message: str | None) -> None:
    """Sections 3.3.4 and 3.3.5. That `;` hides no message is common practice."""
    assert read_line(text, {}).message == message


def test_block_delete_follows_the_switch() -> None:
    """Section 2.2.2: neither words nor settings of a deleted line act."""
    lines = ["/ N10 G0 X1 #1=5", "G0 Y[2+#1]"]

    off = run(lines)
    on = run(lines, options=Options(block_delete=True))

    assert [move.end[:2] for move in off.moves] == [(1, 0), (1, 7)]
    assert [move.end[:2] for move in on.moves] == [(0, 2)]


def test_nothing_is_read_after_the_end() -> None:
    """Sections 3.1 and 5.1.3."""
    for lines in (["M2", "$$$"], ["m30", "G0 X1"], [" % ", "G0 X1", "%", "$$$"]):
        result = run(lines, options=Options(require_end=True))

        assert result.error is None
        assert result.ending == {"M2": "M2", "m30": "M30"}.get(lines[0], "%")


def test_end_of_program_resets() -> None:
    """Section 3.6.1, with what it leaves alone by saying nothing (and table 10 for lengths)."""
    result = run(
        [
            "G20 G18 G91 G55 G99 G61 G43 H1 M3 M7 M49 S900 T4 F20",
            "G10 L2 P2 X1",
            "G92 X3",
            "G93 M2 G0 X1",
        ],
        options=Options(lengths={1: 10.0}),
    )

    state = result.final
    assert result.error is None
    assert (state.system, state.plane, state.distance, state.feed_mode) == (1, 17, 90, 94)
    assert (state.motion, state.spindle, state.mist, state.overrides) == ("G1", "off", False, True)
    assert state.axis_offsets == (0,) * 6
    assert (state.units, state.retract, state.path, state.length) == (20, 99, "G61", 10.0)
    assert (state.speed, state.selected, state.feed) == (900, 4, 20)
    assert state.parameters[5220] == 1
    assert state.parameters[5211] == pytest.approx(-4)
    assert state.origins[2][0] == pytest.approx(25.4)
    assert len(result.moves) == 1


def test_axis_offsets_off_and_on_again() -> None:
    """Section 3.5.18: G92.2 keeps the parameters, G92.3 uses them, G92.1 clears them."""
    lines = ["G92 X10", "G92.2", "G0 X0", "G92.3", "X0", "G92.1", "X0", "G92.3", "X0"]

    result = run(["G0 X2", *lines])

    assert [move.machine_end[0] for move in result.moves] == [2, 0, -8, 0, 0]


def test_axis_offset_holds_in_every_system_and_adds_to_its_origin() -> None:
    """Sections 3.2.2 and 3.5.18."""
    result = run(
        ["G10 L2 P1 X100", "G10 L2 P2 X200", "G92 X-95 (5 on from -100)", "G0 X0", "G55 X0"]
    )

    assert [move.machine_end[0] for move in result.moves] == [95, 195]


def test_origin_moves_nothing_but_the_reading() -> None:
    """Section 3.5.5; `L20` by common practice; both take positions in G91 too."""
    result = run(
        ["G0 X50 Z5", "G91", "G92 X40", "G10 L20 P1 X7 Z0", "G10 L2 P2 Y3"],
        options=Options(level_twenty=True),
    )

    assert len(result.moves) == 1
    assert result.final.program[:3] == (7, 0, 0)
    assert result.final.origins[1] == (33, 0, 5, 0, 0, 0)
    assert result.final.origins[2] == (0, 3, 0, 0, 0, 0)


def test_units_rescale_places_but_not_the_number_of_the_feed() -> None:
    """Section 3.5.7: an old F number counts in the new units; 4.3.3.3: origins stay put."""
    result = run(["G10 L2 P1 X25.4", "G1 X0 F10", "G20 X1", "G21 X0"])

    assert [move.machine_end[0] for move in result.moves] == pytest.approx([25.4, 50.8, 25.4])
    assert [move.feed for move in result.moves] == pytest.approx([10, 254, 10])


def test_feed_number_for_rotary_axes_is_degrees() -> None:
    """Section 2.1.2.5."""
    result = run(["G20 G1 A30 B40 F100", "X1 A0"])

    assert [(move.feed, move.feed_unit) for move in result.moves] == [
        (100, "deg/min"),
        (2540, "mm/min"),
    ]


def test_inverse_time_number_is_for_its_line() -> None:
    """Section 3.5.19; the number is times a minute and has no length in it."""
    result = run(["G20 F10", "G93 G1 X1 F2", "G0 X0", "G94 G1 X1"])

    assert [(move.feed, move.feed_unit) for move in result.moves] == [
        (2, "1/min"),
        (None, None),
        (254, "mm/min"),
    ]


def test_offset_code_suspends_an_inherited_motion_for_its_line() -> None:
    """Section 3.4."""
    result = run(["G0 X1", "G92 X5", "X6"])

    assert [move.machine_end[0] for move in result.moves] == [1, 2]


def test_motion_and_events_keep_their_order() -> None:
    """Table 8: dwell before the move; the stop after it."""
    result = run(["G0 X1", "M0 M3 M8 G4 P2 X2 S100"])

    assert result.events == (
        Event(1, "speed", 100, 1),
        Event(1, "spindle", "cw", 1),
        Event(1, "coolant", "flood", 1),
        Event(1, "dwell", 2, 1),
        Event(1, "stop", None, 2),
    )
    assert result.moves[1].spindle == "cw"
    assert result.moves[1].flood


@pytest.mark.parametrize("sense", ["G2", "G3"])
@pytest.mark.parametrize(("plane", "words"), [(17, "XY"), (18, "ZX"), (19, "YZ")])
@pytest.mark.parametrize("radius", [7.5, -7.5])
def test_radius_form_against_geometry(sense: str, plane: int, words: str, radius: float) -> None:
    """Section 3.5.3.1: walk the turn from the start about the centre, and the end is met."""
    for n in range(24):
        angle = math.radians(15 * n)
        end = (9 * math.cos(angle), 9 * math.sin(angle))
        text = f"G{plane} {sense} {words[0]}{end[0]:.9f} {words[1]}{end[1]:.9f} R{radius} F10"

        (move,) = run([text]).moves

        assert move.centre is not None
        signed = -move.turn if sense == "G2" else move.turn
        arm = complex(0, 0) - complex(*move.centre)
        met = complex(*move.centre) + arm * complex(math.cos(signed), math.sin(signed))
        assert abs(arm) == pytest.approx(7.5)
        assert (met.real, met.imag) == pytest.approx(end, abs=1e-7)
        assert (move.turn <= math.pi) == (radius > 0)


def test_radius_a_little_short_is_a_half_circle() -> None:
    """From memory: a chord may be longer than the diameter by rounding."""
    (move,) = run(["G2 X10 R4.9985 F10"]).moves

    assert move.turn == pytest.approx(math.pi)
    assert move.centre == pytest.approx((5, 0))


def test_absolute_centres() -> None:
    """Common practice; both offsets must then be written, since 0 is a place like any other."""
    options = Options(centre_codes=True)

    result = run(["G90.1 G0 X10 Y10", "G3 X20 Y10 I15 J10 F100", "G91.1 X10 I-5"], options=options)

    assert [move.centre for move in result.moves[1:]] == [(15, 10), (15, 10)]
    fault = run(["G90.1 G3 X20 I10 F100"], options=options).error
    assert fault is not None
    assert fault.kind == "arc-no-centre"


@pytest.mark.parametrize("code", ["G2", "G3"])
def test_full_circle_survives_the_rounding_of_offsets(code: str) -> None:
    """In doubles, 0.3 + 0.7 + 0.1 - (0.7 + 0.1) is not 0.3; written again, the point is."""
    lines = ["G10 L2 P1 Y0.1", "G92 Y-0.8 (0.7 on)", "G0 Y0.3"]
    before = run(lines).final.program[1]

    result = run([*lines, f"{code} Y0.3 I-5 F10"])

    assert before != 0.3
    assert before == pytest.approx(0.3, abs=1e-12)
    assert result.moves[-1].turn == pytest.approx(math.tau)


def test_absolute_coordinates_are_in_the_units_in_force() -> None:
    """Section 3.5.12."""
    result = run(["G92 X5", "G20 G53 G0 X2"])

    assert result.moves[-1].machine_end[0] == pytest.approx(50.8)
    assert result.moves[-1].end[0] == pytest.approx(55.8)


def test_clear_level_is_taken_anew_on_each_line() -> None:
    """The report leaves this open (3.5.20): the level held before the line, if above R."""
    result = run(["G0 Z10", "G99 G81 X1 Z-1 R2 F10", "G98 X2"])

    assert result.moves[-1].end[2] == 2


def test_back_bore_cuts_up_to_a_place_or_by_an_increment() -> None:
    """Section 3.5.16.8: K is a position in G90 and counts from Z in G91."""
    for text, depths in (
        ("G90 G87 X1 Y1 Z-4 R1 I2 J0 K-2", [-2, -4]),
        ("G91 G87 X1 Y1 Z-4 R0 I2 J0 K3", [0, -3]),
    ):
        result = run(["G0 Z1", "M3 F50", text])

        assert [move.end[2] for move in result.moves if move.kind == "feed"] == depths


def test_probed_point_reads_as_program_coordinates() -> None:
    """Section 3.5.9.1: what a probe found can be used as program coordinates (sample T6)."""
    result = run(["G10 L2 P1 X5", "G20 G0 X0", "G38.2 X1 F5", "G0 X[#5061/2]"])

    assert result.moves[-1].end[0] == pytest.approx(12.7)
