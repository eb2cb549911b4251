"""Terms of a contract besides facets and the path: rounded feeds and speeds, rapids by the corner,
places said from another zero, and programs that are read in two dialects.

The right rewriting passes both proofs, and one that is a little beyond the term does not.
"""

from __future__ import annotations

import pytest

from headrace import Dialect, Facet, replace
from headrace.language import State, interpret
from headrace.plugins import Contract, Renumbering
from headrace.proof import Version, prove_run, prove_step
from headrace.proof.second.follower import Dialect as SecondDialect
from headrace.way import second_dialect

from .trial import CAUSE, line_for_line, passes, program

JOB = [
    "G21 G90 G17 G94",
    "M3 S18000",
    "G0 X0 Y0 Z5",
    "G1 Z-2 F600",
    "G1 X40",
    "G0 Z5",
    "G0 X60 Y20",
    "G0 X80 Y30 Z1",
    "G1 Z-2",
    "G0 X90 Y40 Z5",
    "M30",
]
SPELT = frozenset({Facet.SPELLING})


def with_line(at: int, *texts: str) -> list[str | tuple[str, ...]]:
    return [*JOB[:at], texts, *JOB[at + 1 :]]


@pytest.mark.parametrize("feed", ["600.004", "599.995"])
def test_a_feed_may_be_rounded_by_so_much(feed: str) -> None:
    new = with_line(3, f"G1 Z-2 F{feed}")

    assert passes(line_for_line(JOB, new, Contract(SPELT, feed_within=0.005)))
    assert not passes(line_for_line(JOB, new, Contract(SPELT, feed_within=0.003)))
    assert not passes(line_for_line(JOB, new, Contract(SPELT)))


def test_a_speed_may_be_rounded_by_so_much() -> None:
    new = with_line(1, "M3 S18020")

    assert passes(line_for_line(JOB, new, Contract(SPELT, speed_within=20)))
    assert not passes(line_for_line(JOB, new, Contract(SPELT, speed_within=19)))


def test_a_speed_that_is_stated_only_once_is_none_that_was_rounded() -> None:
    new = with_line(1, "M3")

    assert not passes(line_for_line(JOB, new, Contract(SPELT, speed_within=1e6)))


CORNERS = Contract(SPELT, detours=True)


@pytest.mark.parametrize(
    ("at", "texts"),
    [(7, ("G0 X80 Y30", "Z1")), (9, ("G0 Z5", "X90 Y40")), (9, ("G0 X90 Y40 Z5",))],
)
def test_a_rapid_may_go_by_the_corner(at: int, texts: tuple[str, ...]) -> None:
    new = with_line(at, *texts)

    assert passes(line_for_line(JOB, new, CORNERS))
    if len(texts) > 1:
        assert not passes(line_for_line(JOB, new, Contract(SPELT)))


@pytest.mark.parametrize(
    ("at", "texts"),
    [
        (7, ("G0 Z1", "X80 Y30")),  # down first, and then through the sheet
        (9, ("G0 X90 Y40", "Z5")),  # across first, and up only then
        (7, ("G0 X80", "Y30 Z1")),
        (7, ("G0 X80 Y30 Z0.5", "Z1")),
        (7, ("G0 X80 Y30", "Z1.1")),
        (7, ("G0 X80 Y30", "Z2", "Z1")),
        (7, ("G1 X80 Y30 F600", "G0 Z1")),
        (7, ("G0 X80.1 Y30", "X80 Z1")),
    ],
)
def test_no_other_way_round_a_corner(at: int, texts: tuple[str, ...]) -> None:
    assert not passes(line_for_line(JOB, with_line(at, *texts), CORNERS))


def test_two_rapids_are_not_made_one() -> None:
    old = [*JOB[:7], "G0 X80 Y30", "G0 Z1", *JOB[8:]]

    assert not passes(line_for_line(old, [*old[:7], "", "G0 X80 Y30 Z1", *old[9:]], CORNERS))


OTHER = [
    "G21 G90 G17 G94",
    "G54 G0 X0 Y0 Z5",
    "G1 Z-2 F600",
    "G0 Z5",
    "G55 G0 X10 Y10 Z5",
    "G1 Z-2",
    "G2 X20 Y20 I10 J0",
    "G90.1",
    "G2 X10 Y10 I10 J20",
    "G91.1",
    "G54 G0 X0 Y0 Z5",
    "M30",
]
MOVED = [
    "G21 G90 G17 G94",
    "G54 G0 X0 Y0 Z5",
    "G1 Z-2 F600",
    "G0 Z5",
    "G0 X210 Y-40 Z6",
    "G1 Z-1",
    "G2 X220 Y-30 I10 J0",
    "G90.1",
    "G2 X210 Y-40 I210 J-30",
    "G91.1",
    "G54 G0 X0 Y0 Z5",
    "M30",
]
SHIFT = (200.0, -50.0, 1.0)


def origins(lines: list[str], new: list[str], contract: Contract) -> bool:
    """Whether both proofs pass, where the zero of G55 lies from that of G54 by SHIFT."""
    start = State.at_zero()
    start.origins[1] = [*SHIFT, 0.0, 0.0, 0.0]
    old = program(lines)
    rewritten = old.edited([replace(at, text) for at, text in enumerate(new)], CAUSE)
    versions = [Version(each, interpret(each, start=start)) for each in (old, rewritten)]
    step = prove_step(*versions, contract)
    run = prove_run(old, [rewritten], contract, False, SecondDialect({}))
    return passes((step, run))


def moved(shift: tuple[float, float, float] = SHIFT, into: int = 1) -> Contract:
    facets = SPELT | {Facet.WORK_ZERO}
    return Contract(facets, renumbers=(Renumbering(2, into, shift),))


def test_places_may_be_said_from_another_zero() -> None:
    assert origins(OTHER, MOVED, moved())


@pytest.mark.parametrize(
    ("at", "text"),
    [
        (5, "G1 Z-2"),
        (4, "G0 X210 Y-39.9 Z6"),
        (6, "G2 X220 Y-30 I9 J0"),
        (8, "G2 X210 Y-40 I210 J-29"),
    ],
)
def test_a_place_that_is_not_moved_with_its_zero(at: int, text: str) -> None:
    assert not origins(OTHER, [*MOVED[:at], text, *MOVED[at + 1 :]], moved())


def test_a_shift_that_is_not_declared() -> None:
    assert not origins(OTHER, MOVED, moved((200.0, -50.0, 0.0)))
    assert not origins(OTHER, MOVED, Contract(SPELT | {Facet.WORK_ZERO}))


def test_two_renumberings_are_one() -> None:
    there = Contract(renumbers=(Renumbering(2, 1, (10, 0, 0)),))
    on = Contract(renumbers=(Renumbering(1, 3, (0, 5, 0)),))

    both = there.then(on).renumbers

    assert both == (Renumbering(1, 3, (0, 5, 0)), Renumbering(2, 3, (10, 5, 0)))


def test_tolerances_add_up() -> None:
    both = Contract(feed_within=0.1, speed_within=2).then(Contract(feed_within=0.2, detours=True))

    assert both.feed_within == pytest.approx(0.3)
    assert both.speed_within == 2
    assert both.detours


def in_dialects(
    old: list[str], new: list[str], job: Dialect, machine: Dialect, contract: Contract
) -> bool:
    """Whether both proofs pass, the job read in one dialect and the result in another."""
    source = program(old)
    result = source.edited([replace(at, text) for at, text in enumerate(new)], CAUSE)
    versions = []
    for each, dialect in ((source, job), (result, machine)):
        start = State.at_zero()
        start.absolute_centres = dialect.absolute_centres
        versions.append(Version(each, interpret(each, dialect, start)))
    step = prove_step(*versions, contract)
    seconds = [second_dialect(dialect) for dialect in (job, machine)]
    run = prove_run(source, [result], contract, False, *seconds)
    return passes((step, run))


PLAIN = Dialect()


def test_a_speed_in_the_numbers_of_the_machine() -> None:
    scaled = Dialect(speeds=((0, 0), (255, 25500)))
    new = [*JOB[:1], "M3 S180", *JOB[2:]]

    assert in_dialects(JOB, new, PLAIN, scaled, Contract(SPELT))
    assert not in_dialects(JOB, [*JOB[:1], "M3 S181", *JOB[2:]], PLAIN, scaled, Contract(SPELT))
    assert not in_dialects(JOB, JOB, PLAIN, scaled, Contract(SPELT))


@pytest.mark.parametrize("many", [1, 80])
def test_centres_as_places(many: int) -> None:
    turns = [
        ("G2 X60 Y20 I0 J20", "G2 X60 Y20 I40 J20"),
        ("G3 X40 Y0 I-20 J0", "G3 X40 Y0 I40 J20"),
    ] * many
    old, new = ([*JOB[:5], *(turn[side] for turn in turns), *JOB[5:]] for side in (0, 1))
    places = Dialect(absolute_centres=True)

    assert in_dialects(old, new, PLAIN, places, Contract(SPELT))
    assert not in_dialects(old, old, PLAIN, places, Contract(SPELT))


@pytest.mark.parametrize("many", [1, 80])
def test_the_feed_of_a_helix_along_what_is_seen_of_it(many: int) -> None:
    """With a helix that rises by 3/4 of its arc's length its path is 5/4 as long (elementary)."""
    rise = 0.75 * 3.141592653589793 * 10
    turns = [(f"G2 X40 Y20 Z{rise:.9f} J10 F1000", f"G2 X40 Y20 Z{rise:.9f} J10 F800")]
    turns += [("G2 X40 Y0 Z0 J-10 F1000", "G2 X40 Y0 Z0 J-10 F800")]
    old, new = (
        [*JOB[:4], "G1 X40 Z0", *(t[side] for t in turns * many), *JOB[5:]] for side in (0, 1)
    )
    old, new = ([*lines[:-4], "G1 Z-2 F600", *lines[-3:]] for lines in (old, new))
    seen = Dialect(projected_feed=True)

    assert in_dialects(old, new, PLAIN, seen, Contract(SPELT, feed_within=0.01))
    assert not in_dialects(old, old, PLAIN, seen, Contract(SPELT, feed_within=0.01))


def test_lines_that_a_switch_leaves_out() -> None:
    old = [*JOB[:5], "/G1 X45", *JOB[5:]]
    left_out = Dialect(block_delete=True)
    contract = Contract(SPELT | {Facet.OPTIONAL})

    assert in_dialects(old, [*JOB[:5], "", *JOB[5:]], left_out, PLAIN, contract)
    assert not in_dialects(old, [*JOB[:5], "", *JOB[5:]], PLAIN, PLAIN, contract)


def test_an_axis_that_nobody_knows_does_not_turn() -> None:
    """In inches degrees a minute are not lengths (RS274/NGC 2.1.2.5); B is unknown throughout."""
    old = ["G20 G90 G17 G94", "G0 X0 Y0 Z0 A0", "G91", "G1 Z0 A0 F1.2", "M30"]
    new = [*old[:2], ("G0 X0 A0", "G91"), *old[3:]]

    step, run = line_for_line(old, new, Contract(SPELT))

    assert run.breach is None or "feed" not in run.breach.what
    assert not any("feed" in breach.what for breach in step.breaches)
