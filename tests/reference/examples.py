"""The worked examples of NISTIR 6556 as a table that any interpreter can be run over.

`section` names the place in the report; "derived" says that the report gives the input and that
the number was worked out from its rules, by hand or with the formula of the field.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from reference.records import Options, Start

Numbers = tuple[float, ...]

_INCH = 25.4

_REST, _USUAL = Start(), Options()


@dataclass(frozen=True, slots=True)
class Expected:
    """One expected move, in the units of the example.

    kind: rapid, feed, cw, ccw, probe. end: program X Y Z. centre: in the plane's two axes.
    turn: degrees. flat: arc length in the plane; along: length along a helix.
    """

    kind: str
    end: Numbers
    centre: tuple[float, float] | None = None
    radius: float | None = None
    turn: float | None = None
    flat: float | None = None
    along: float | None = None


@dataclass(frozen=True, slots=True)
class Example:
    """Lines to run from `start`, and what must come of it.

    scale: millimetres in one unit of the expected lengths. tolerance: of lengths in those units
    and of degrees, as coarse as the figures printed. moves and events: all of them, in order
    (events as kind and data, with `path`, `speed` and `tool-select` left out unless
    `all_events`). parameters: final ones. reads: final program X Y Z.
    machine: final machine X Y Z. error: kind, line.
    """

    name: str
    section: str
    lines: tuple[str, ...]
    start: Start = _REST
    options: Options = _USUAL
    scale: float = 1.0
    tolerance: float = 1e-9
    moves: tuple[Expected, ...] = ()
    events: tuple[tuple[str, object], ...] = ()
    all_events: bool = False
    parameters: Mapping[int, float] = field(default_factory=dict)
    reads: Numbers | None = None
    machine: Numbers | None = None
    error: tuple[str, int] | None = None


@dataclass(frozen=True, slots=True)
class Value:
    """An expression, the value printed for it, and how closely it is printed."""

    text: str
    value: float
    section: str
    tolerance: float = 1e-9
    parameters: Mapping[int, float] = field(default_factory=dict)


def _at(*position: float, feed: float = 100.0, units: int = 21) -> Start:
    scale = _INCH if units == 20 else 1.0
    point = [p * scale for p in position] + [0.0] * (6 - len(position))
    return Start(position=tuple(point), feed=feed, units=units)


VALUES: tuple[Value, ...] = (
    Value("[1 + 2]", 3, "C.2"),
    Value("[1 - 2]", -1, "C.2"),
    Value("[1 --3]", 4, "C.2"),
    Value("[2/5]", 0.40, "C.2"),
    Value("[3.0 * 5]", 15, "C.2"),
    Value("[0 OR 0]", 0, "C.2"),
    Value("[0 OR 1]", 1, "C.2"),
    Value("[2 or 2]", 1, "C.2"),
    Value("[0 AND 0]", 0, "C.2"),
    Value("[0 AND 1]", 0, "C.2"),
    Value("[2 and 2]", 1, "C.2"),
    Value("[0 XOR 0]", 0, "C.2"),
    Value("[0 XOR 1]", 1, "C.2"),
    Value("[2 xor 2]", 0, "C.2"),
    Value("[15 MOD 4.0]", 3, "C.2"),
    Value("[1 + 2 * 3 - 4 / 5]", 6.2, "C.2"),
    Value("[2 ** 3.0]", 8.0, "C.2"),
    Value("sin[30]", 0.5, "C.2"),
    Value("cos[0.0]", 1.0, "C.2"),
    Value("tan[60.0]", 1.7321, "C.2", 1e-4),
    Value("sqrt[3]", 1.7321, "C.2", 1e-4),
    Value("atan[1.7321]/[1.0]", 60.0, "C.2", 1e-3),
    Value("asin[1.0]", 90.0, "C.2"),
    Value("acos[0.707107]", 45.0000, "C.2", 1e-4),
    Value("abs[20.0]", 20, "C.2"),
    Value("abs[-1.23]", 1.23, "C.2"),
    Value("exp[2.3026]", 10.000149, "C.2 (10 printed; the rest derived)", 1e-6),
    Value("ln[10.0]", 2.3026, "C.2", 1e-4),
    Value("sqrt[3**2 + 4**2]", 5.0, "C.2"),
    Value("round[-0.499]", 0, "C.2"),
    Value("round[-0.5001]", -1, "C.2"),
    Value("round[2.444]", 2, "C.2"),
    Value("round[9.975]", 10, "C.2"),
    Value("fix[-0.499]", -1, "C.2"),
    Value("fix[-0.5001]", -1, "C.2"),
    Value("fix[2.444]", 2, "C.2"),
    Value("fix[9.975]", 9, "C.2"),
    Value("fup[-0.499]", 0, "C.2"),
    Value("fup[-0.5001]", 0, "C.2"),
    Value("fup[2.444]", 3, "C.2"),
    Value("fup[9.975]", 10, "C.2"),
    Value("FIX[2.8]", 2, "3.3.2.4"),
    Value("FIX[-2.8]", -3, "3.3.2.4"),
    Value("FUP[2.8]", 3, "3.3.2.4"),
    Value("FUP[-2.8]", -2, "3.3.2.4"),
    Value("[2.0 / 3 * 1.5 - 5.5 / 11.0]", 0.5, "3.3.2.3"),
    Value("[6-[4*3/2]]", 0, "table 10"),
    Value("asin[0.5]", 30, "table 10"),
    Value("[1+acos[0]-[#3**[4.0/2]]]", 87, "3.3.2.3, value derived", parameters={3: 2}),
    Value("+0. 12 34", 0.1234, "3.3"),
    Value("[2**3**2]", 64, "3.3.2.3, value derived: left to right"),
    # The value is derived, with an arc tangent that looks at the quadrant.
    Value(
        "[2 + asin[1/2.1+-0.345] / [atan[fix[4.4] * 2.1 * sqrt[16.8]] /[-18]]**2]",
        2.000545,
        "C.2 n0460, value derived",
        1e-6,
    ),
)

PARAMETERS: tuple[Example, ...] = (
    Example(
        "a setting on the line of its use comes too late for it",
        "3.3.3",
        ("#3=15", "#3=6 G1 x#3"),
        start=_at(0, 0, 0),
        moves=(Expected("feed", (15, 0, 0)),),
        parameters={3: 6},
    ),
    Example("the last of two settings wins", "3.3.6", ("#3=15 #3=6",), parameters={3: 6}),
    Example("and so it does the other way", "3.3.6", ("#3=6 #3=15",), parameters={3: 15}),
    Example(
        "a parameter may name a parameter",
        "C.2",
        ("#1=2.0", "##1 = 0.375", "g1 x #2"),
        start=_at(0, 0, 0),
        moves=(Expected("feed", (0.375, 0, 0)),),
        parameters={1: 2, 2: 0.375},
    ),
    Example(
        "settings before and after the word that reads them",
        "C.2",
        ("#3=7.0", "g1 #3=5.0 x #3", "x #3 #3=1.1"),
        start=_at(0, 0, 0),
        moves=(Expected("feed", (7, 0, 0)), Expected("feed", (5, 0, 0))),
        parameters={3: 1.1},
    ),
    Example(
        "a setting beside an expression acts after it",
        "C.2",
        ("g1 x [2 ** 3.0] #1=2.0",),
        start=_at(0, 0, 0),
        moves=(Expected("feed", (8, 0, 0)),),
        parameters={1: 2},
    ),
    Example(
        "spaces inside numbers and words",
        "3.3",
        ("g0x +0. 12 34y 7",),
        moves=(Expected("rapid", (0.1234, 7, 0)),),
    ),
)

OFFSETS: tuple[Example, ...] = (
    Example(
        "axis offset at 4 that reads 7",
        "3.5.18",
        ("G92 x7",),
        start=_at(4, 0, 0),
        parameters={5211: -3},
        reads=(7, 0, 0),
        machine=(4, 0, 0),
    ),
    Example(
        "a second axis offset adds to the first",
        "3.5.18",
        ("G92 x7", "G92 x9"),
        start=_at(4, 0, 0),
        parameters={5211: -5},
        reads=(9, 0, 0),
        machine=(4, 0, 0),
    ),
    Example(
        "origin of system 1 set for two axes",
        "3.5.5",
        ("G10 L2 P1 x3.5 y17.2",),
        start=_at(10, 20, 30),
        parameters={5221: 3.5, 5222: 17.2, 5223: 0},
        reads=(6.5, 2.8, 30),
        machine=(10, 20, 30),
    ),
)

ARCS: tuple[Example, ...] = (
    Example(
        "centre form helix",
        "3.5.3.2, turn and length derived",
        ("G17 G2 x10 y16 i3 j4 z9",),
        start=_at(7, 7, 0),
        tolerance=1e-4,
        moves=(Expected("cw", (10, 16, 9), (10, 11), 5, 143.1301, 12.4905),),
    ),
    Example(
        "radius form",
        "3.5.3.1",
        ("G17 G2 x10 y15 r20 z5",),
        moves=(Expected("cw", (10, 15, 5), radius=20),),
        start=_at(0, 0, 5),
    ),
    Example(
        "radius form helix with an expression",
        "table 10; turn and lengths derived",
        ("g2 x[6-[4*3/2]] r 7.01 z0.5",),
        start=_at(3, 1, 0),
        tolerance=1e-4,
        moves=(Expected("cw", (0, 1, 0.5), (1.5, 7.8476), 7.01, 24.7114, 3.0234, 3.0645),),
    ),
    Example(
        "three quarters counterclockwise",
        "C.1, numbers derived",
        ("g3 x13.5 y0 i-2.5",),
        start=_at(16, 2.5, 0),
        tolerance=1e-4,
        moves=(Expected("ccw", (13.5, 0, 0), (13.5, 2.5), 2.5, 270, 11.7810),),
    ),
    Example(
        "full circle",
        "C.1, length derived",
        ("g2 x32.5 j2.5",),
        start=_at(32.5, 0, 0),
        tolerance=1e-4,
        moves=(Expected("cw", (32.5, 0, 0), (32.5, 2.5), 2.5, 360, 15.7080),),
    ),
    Example(
        "radius form with one axis word",
        "C.1, numbers derived",
        ("g2 x69 r4",),
        start=_at(64, 4, 0),
        tolerance=1e-4,
        moves=(Expected("cw", (69, 4, 0), (66.5, 0.8775), 4, 77.3644, 5.4011),),
    ),
    Example(
        "half circle with X left out",
        "C.1, numbers derived",
        ("g2 j2.5 y5",),
        start=_at(79.5, 0, 0),
        moves=(Expected("cw", (79.5, 5, 0), (79.5, 2.5), 2.5, 180),),
    ),
    Example(
        "programmed contour, first corner",
        "table 12, numbers derived",
        ("G2 X-2.6 Y-0.2 J1",),
        start=_at(-2, -2, 0),
        tolerance=1e-4,
        moves=(Expected("cw", (-2.6, -0.2, 0), (-2, -1), 1, 143.1301),),
    ),
    Example(
        "programmed contour, second corner",
        "table 12, numbers derived",
        ("G2 X2 Y3 I0.6 J-0.8",),
        start=_at(1.4, 2.8, 0),
        tolerance=1e-4,
        moves=(Expected("cw", (2, 3, 0), (2, 2), 1, 36.8699),),
    ),
    Example(
        "tool path contour, first corner",
        "table 13, numbers derived",
        ("G2 X-2.9 Y0.2 J1.5",),
        start=_at(-2, -2.5, 0),
        tolerance=1e-4,
        moves=(Expected("cw", (-2.9, 0.2, 0), (-2, -1), 1.5, 143.1301),),
    ),
    Example(
        "tool path contour, second corner",
        "table 13, numbers derived",
        ("G2 X2 Y3.5 I0.9 J-1.2",),
        start=_at(1.1, 3.2, 0),
        tolerance=1e-4,
        moves=(Expected("cw", (2, 3.5, 0), (2, 2), 1.5, 36.8699),),
    ),
    Example(
        "XZ-plane: clockwise from Z to X looks counterclockwise on paper",
        "derived from 4.3.6.1",
        ("G18 G2 X0 Z10 I-10",),
        start=_at(10, 0, 0),
        moves=(Expected("cw", (0, 0, 10), (0, 0), 10, 90),),
    ),
    Example(
        "XZ-plane: the other sense takes the long way",
        "derived from 4.3.6.1",
        ("G18 G3 X0 Z10 I-10",),
        start=_at(10, 0, 0),
        moves=(Expected("ccw", (0, 0, 10), (0, 0), 10, 270),),
    ),
    Example(
        "YZ-plane quarter",
        "derived from 4.3.6.1",
        ("G19 G3 Y0 Z10 J-10",),
        start=_at(0, 10, 0),
        moves=(Expected("ccw", (0, 0, 10), (0, 0), 10, 90),),
    ),
    Example(
        "radii that differ by 0.0018 mm are allowed",
        "3.5.3.2",
        ("G2 X10 Y0 I5.0009",),
        start=_at(0, 0, 0),
        moves=(Expected("cw", (10, 0, 0), (5.0009, 0), 5.0009),),
    ),
    Example(
        "radii that differ by 0.0022 mm are not",
        "3.5.3.2",
        ("G2 X10 Y0 I5.0011",),
        start=_at(0, 0, 0),
        error=("arc-radius-mismatch", 0),
    ),
    Example(
        "0.00018 inch is allowed, though it is more than 0.002 mm",
        "3.5.3.2",
        ("G20 G2 X1 Y0 I0.50009",),
        start=_at(0, 0, 0),
        scale=_INCH,
        moves=(Expected("cw", (1, 0, 0), (0.50009, 0), 0.50009),),
    ),
    Example(
        "0.00022 inch is not",
        "3.5.3.2",
        ("G20 G2 X1 Y0 I0.50011",),
        start=_at(0, 0, 0),
        error=("arc-radius-mismatch", 0),
    ),
)


def _hole(x: float, y: float, r: float, z: float, clear: float) -> tuple[Expected, ...]:
    return (
        Expected("rapid", (x, y, r)),
        Expected("feed", (x, y, z)),
        Expected("rapid", (x, y, clear)),
    )


def _pecks(x: float, y: float, r: float, depths: Numbers, back: float) -> tuple[Expected, ...]:
    moves: list[Expected] = []
    for above, depth in zip((r, *depths), depths, strict=False):
        if above != r:
            moves.append(Expected("rapid", (x, y, min(above + back, r))))
        moves.append(Expected("feed", (x, y, depth)))
        moves.append(Expected("rapid", (x, y, r)))
    return tuple(moves)


CYCLES: tuple[Example, ...] = (
    Example(
        "example 1",
        "3.5.16.2",
        ("G90 G81 G98 X4 Y5 Z1.5 R2.8",),
        start=_at(1, 2, 3),
        moves=(
            Expected("rapid", (4, 5, 3)),
            Expected("rapid", (4, 5, 2.8)),
            Expected("feed", (4, 5, 1.5)),
            Expected("rapid", (4, 5, 3)),
        ),
    ),
    Example(
        "example 1 back to R",
        "3.5.16.2 and 3.5.20, derived",
        ("G90 G81 G99 X4 Y5 Z1.5 R2.8",),
        start=_at(1, 2, 3),
        moves=(
            Expected("rapid", (4, 5, 3)),
            Expected("rapid", (4, 5, 2.8)),
            Expected("feed", (4, 5, 1.5)),
            Expected("rapid", (4, 5, 2.8)),
        ),
    ),
    Example(
        "example 2",
        "3.5.16.2",
        ("G91 G81 G98 X4 Y5 Z-0.6 R1.8 L3",),
        start=_at(1, 2, 3),
        moves=(
            Expected("rapid", (1, 2, 4.8)),
            *_hole(5, 7, 4.8, 4.2, 4.8),
            *_hole(9, 12, 4.8, 4.2, 4.8),
            *_hole(13, 17, 4.8, 4.2, 4.8),
        ),
    ),
    Example(
        "sticky depth, a row of three, a new R",
        "C.3, moves derived",
        ("g90 g81 x3 y4 r0.2 z-1.1", "x1 y0 r0 g91 l3", "y-2 r0.1"),
        start=_at(0, 0, 0, feed=20, units=20),
        scale=_INCH,
        moves=(
            Expected("rapid", (0, 0, 0.2)),
            *_hole(3, 4, 0.2, -1.1, 0.2),
            *_hole(4, 4, 0.2, -0.9, 0.2),
            *_hole(5, 4, 0.2, -0.9, 0.2),
            *_hole(6, 4, 0.2, -0.9, 0.2),
            Expected("rapid", (6, 4, 0.3)),
            *_hole(6, 2, 0.3, -0.8, 0.3),
        ),
    ),
    Example(
        "seven pecks",
        "C.3, depths derived; the 0.010 inch left above the bottom is from memory",
        ("g83 g90 x5 y6 r0.2 z-1.1 q0.21",),
        start=_at(0, 0, 0, feed=20, units=20),
        scale=_INCH,
        moves=(
            Expected("rapid", (0, 0, 0.2)),
            Expected("rapid", (5, 6, 0.2)),
            *_pecks(5, 6, 0.2, (-0.01, -0.22, -0.43, -0.64, -0.85, -1.06, -1.1), 0.01),
        ),
    ),
    Example(
        "dwell and R are reused",
        "C.3, moves derived",
        ("g90 g82 x1 y1 z-1 r0.2 p0.6", "x2 z-3.0"),
        start=_at(0, 0, 0, feed=20, units=20),
        scale=_INCH,
        moves=(
            Expected("rapid", (0, 0, 0.2)),
            *_hole(1, 1, 0.2, -1, 0.2),
            *_hole(2, 1, 0.2, -3, 0.2),
        ),
        events=(("dwell", 0.6), ("dwell", 0.6)),
    ),
    Example(
        "back bore",
        "C.3 and 3.5.16.8, moves derived",
        ("m3 s500", "g87 x9 y10 r0.2 z-1.1 i0.231 j-0 k-3"),
        start=_at(0, 0, 0, feed=20, units=20),
        scale=_INCH,
        moves=(
            Expected("rapid", (0, 0, 0.2)),
            Expected("rapid", (9, 10, 0.2)),
            Expected("rapid", (9.231, 10, 0.2)),
            Expected("rapid", (9.231, 10, -1.1)),
            Expected("rapid", (9, 10, -1.1)),
            Expected("feed", (9, 10, -3)),
            Expected("feed", (9, 10, -1.1)),
            Expected("rapid", (9.231, 10, -1.1)),
            Expected("rapid", (9.231, 10, 0.2)),
            Expected("rapid", (9, 10, 0.2)),
        ),
        events=(
            ("spindle", "cw"),
            ("spindle", "off"),
            ("orient", None),
            ("spindle", "cw"),
            ("spindle", "off"),
            ("orient", None),
            ("spindle", "cw"),
        ),
    ),
    Example(
        "XZ-plane: the depth is Y",
        "C.3, moves derived",
        ("g18 g90", "g81 z3 x4 r0.2 y-1.1"),
        start=_at(0, 0, 0, feed=20, units=20),
        scale=_INCH,
        moves=(
            Expected("rapid", (0, 0.2, 0)),
            Expected("rapid", (4, 0.2, 3)),
            Expected("feed", (4, -1.1, 3)),
            Expected("rapid", (4, 0.2, 3)),
        ),
    ),
    Example(
        "YZ-plane: the depth is X",
        "C.3, moves derived",
        ("g19 g90", "g81 y3 z4 r0.2 x-1.1"),
        start=_at(0, 0, 0, feed=20, units=20),
        scale=_INCH,
        moves=(
            Expected("rapid", (0.2, 0, 0)),
            Expected("rapid", (0.2, 3, 4)),
            Expected("feed", (-1.1, 3, 4)),
            Expected("rapid", (0.2, 3, 4)),
        ),
    ),
    Example(
        "right tap",
        "3.5.16.5",
        ("m3", "g84 x1 y1 z-1 r2"),
        start=_at(0, 0, 5),
        moves=(
            Expected("rapid", (1, 1, 5)),
            Expected("rapid", (1, 1, 2)),
            Expected("feed", (1, 1, -1)),
            Expected("feed", (1, 1, 5)),
        ),
        events=(
            ("spindle", "cw"),
            ("synch", True),
            ("spindle", "off"),
            ("spindle", "ccw"),
            ("synch", False),
            ("spindle", "off"),
            ("spindle", "cw"),
        ),
    ),
    Example(
        "bore that feeds out",
        "3.5.16.6",
        ("g85 x1 y1 z-1 r2",),
        start=_at(0, 0, 2),
        moves=(
            Expected("rapid", (1, 1, 2)),
            Expected("feed", (1, 1, -1)),
            Expected("feed", (1, 1, 2)),
        ),
    ),
    Example(
        "bore that stops before it comes out",
        "3.5.16.7",
        ("m4", "g86 x1 y1 z-1 r2 p1.5"),
        start=_at(0, 0, 2),
        moves=_hole(1, 1, 2, -1, 2),
        events=(("spindle", "ccw"), ("dwell", 1.5), ("spindle", "off"), ("spindle", "ccw")),
    ),
    Example(
        "bore that is taken out by hand",
        "3.5.16.9",
        ("m3", "g88 x1 y1 z-1 r2 p1"),
        start=_at(0, 0, 2),
        moves=(Expected("rapid", (1, 1, 2)), Expected("feed", (1, 1, -1))),
        events=(
            ("spindle", "cw"),
            ("dwell", 1),
            ("spindle", "off"),
            ("stop", None),
            ("spindle", "cw"),
        ),
    ),
    Example(
        "bore that dwells and feeds out",
        "3.5.16.10",
        ("g89 x1 y1 z-1 r2 p1",),
        start=_at(0, 0, 2),
        moves=(
            Expected("rapid", (1, 1, 2)),
            Expected("feed", (1, 1, -1)),
            Expected("feed", (1, 1, 2)),
        ),
        events=(("dwell", 1),),
    ),
)

RUNS: tuple[Example, ...] = (
    Example(
        "the sample run up to its end of program",
        "table 10",
        (
            "g1 x3 y1 f20.0",
            "g2 x[6-[4*3/2]] r 7.01 z0.5",
            "(that was a helical arc)",
            "t2",
            "m6 g43 h2",
            "m2",
        ),
        options=Options(lengths={2: 1.0}),
        tolerance=1e-4,
        moves=(
            Expected("feed", (3, 1, 0)),
            Expected("cw", (0, 1, 0.5), (1.5, 7.8476), 7.01, 24.7114, 3.0234, 3.0645),
        ),
        events=(("tool-change", 2), ("end", "M2")),
        reads=(0, 1, -0.5),
        machine=(0, 1, 0.5),
    ),
    Example(
        "the sample run after it: a misspelt function",
        "table 10",
        ("g1 x asim[0.5]",),
        start=_at(0, 1, -0.5, feed=20),
        error=("unknown-operation", 0),
    ),
    Example(
        "the sample run after it: two drilled holes",
        "table 10",
        ("g1 x asin[0.5]", "g91 g81 x3 y2 z-0.8 r1.5 l2"),
        start=_at(0, 1, -0.5, feed=20),
        moves=(
            Expected("feed", (30, 1, -0.5)),
            Expected("rapid", (30, 1, 1)),
            *_hole(33, 3, 1, 0.2, 1),
            *_hole(36, 5, 1, 0.2, 1),
        ),
        events=(("path", "G61"), ("path", "G64")),
        all_events=True,
    ),
    Example(
        "all on one line: the spindle starts after the tool change has stopped it",
        "C.1 by table 8",
        ("t1 m6 m3 f20 s4000",),
        events=(
            ("speed", 4000.0),
            ("tool-select", 1),
            ("tool-change", 1),
            ("spindle", "cw"),
        ),
        all_events=True,
    ),
    Example(
        "dwell before the move, stop after it",
        "table 8",
        ("m0 g4 p2 g0 x1",),
        moves=(Expected("rapid", (1, 0, 0)),),
        events=(("dwell", 2.0), ("stop", None)),
    ),
    Example(
        "home through a point",
        "3.5.8",
        ("g28 x1 y2",),
        start=Start(position=(5, 5, 5, 0, 0, 0), parameters={5161: 10, 5162: 20, 5163: 30}),
        moves=(Expected("rapid", (1, 2, 5)), Expected("rapid", (10, 20, 30))),
    ),
    Example(
        "home by one move",
        "3.5.8",
        ("g30",),
        start=Start(position=(5, 5, 5, 0, 0, 0), parameters={5181: 10, 5182: 20, 5183: 30}),
        moves=(Expected("rapid", (10, 20, 30)),),
    ),
    Example(
        "absolute coordinates for one line",
        "3.5.12",
        ("g10 l2 p1 x10 y10", "g0 x0 y0", "g53 g0 x1", "x2"),
        moves=(
            Expected("rapid", (0, 0, 0)),
            Expected("rapid", (-9, 0, 0)),
            Expected("rapid", (2, 0, 0)),
        ),
        machine=(12, 10, 0),
    ),
    Example(
        "a probe leaves the point in parameters, and is modal",
        "3.5.9.1 and table 4",
        ("g38.2 z-5 f50", "x3"),
        moves=(Expected("probe", (0, 0, -5)), Expected("probe", (3, 0, -5))),
        parameters={5061: 3, 5062: 0, 5063: -5},
    ),
)

EXAMPLES: tuple[Example, ...] = PARAMETERS + OFFSETS + ARCS + CYCLES + RUNS
