"""Facts of a run sheet, made up: a full one, and one of hardly anything."""

from __future__ import annotations

from dataclasses import replace

from headrace.card.entry import Content, Proved
from headrace.findings import Finding, Place, Severity
from headrace.machine.span import Span
from headrace.picture.drawing import Drawing
from headrace.sheet.facts import (
    Check,
    Depth,
    FileFacts,
    Pause,
    Reach,
    Refused,
    SheetFacts,
    ToolUse,
)
from headrace.timing.times import Times, ToolTime

NO_TIME = Times(0, 0, 0, 0, 0, 0, None, None, False, 0, 0, ())

BARE = FileFacts(
    name="BARE.NC",
    title="bare.nc",
    source=None,
    does=(),
    modes=(),
    lines=1,
    moves=0,
    content=Content("0" * 64, 4),
    pauses=(),
    tools=(),
    reaches=(),
    depth=Depth(None, None, None, None, None),
    times=NO_TIME,
    proof=None,
    findings=(),
    drawings=(),
    track=None,
)
"""As little as a file can have."""

NOTHING = SheetFacts(
    title="Nothing",
    recipe="none.yaml",
    machine="A machine",
    setup="A set-up",
    made_by="headrace 0.1.0",
    checks=(),
    bedding=None,
    files=(),
    refused=(),
    findings=(),
)
"""A sheet without a file."""


def drawing(view: str, prefix: str) -> Drawing:
    """A box with a name, 180 mm by 60 mm on paper."""
    svg = (
        '<svg xmlns="http://www.w3.org/2000/svg" class="hr-drawing" role="img"'
        f' aria-labelledby="{prefix}-t {prefix}-d" width="180mm" height="60mm"'
        f' viewBox="0 0 180 60"><title id="{prefix}-t">{view}</title>'
        f'<desc id="{prefix}-d">a box</desc>'
        '<g class="hr-plane" transform="matrix(.2 0 0 -.2 10 50)">'
        '<path d="M0 0H580V200H0Z" fill="none" stroke="currentColor"/></g></svg>'
    )
    return Drawing(view, f"The {view} view", f"A box seen in the {view} view.", 5, 180, 60, svg)


def tool(number: int | None) -> ToolUse:
    """A bit with all that can be told of one."""
    return ToolUse(
        number=number,
        kind="up-cut spiral",
        diameter=6.1,
        stick_out=Span(31.5, 32.5),
        flute=22.2,
        teeth=2,
        fastest=24001,
        speeds=(17001.0, 18002.0),
        dial="3 and a half",
        feeds=Span(1201, 1802),
        plunges=Span(303, 404),
        chip=Span(0.0353, 0.0529),
        chip_limits=Span(0.0254, 0.0765),
        cut=12345.6,
        deepest=Span(17.61, 18.31),
        seconds=611,
        first_line=47,
        ramps=Span(505, 606),
        plunge=707,
    )


Pair = tuple[float, float]


def reach(
    axis: str, cuts: Pair, moves: Pair, stock: Pair, machine: Pair, travel: Pair, spare: float
) -> Reach:
    """How far a file goes along an axis, all of it known."""
    return Reach(axis, *(Span.of(pair) for pair in (cuts, moves, stock, machine, travel)), spare)


def full(name: str, prefix: str) -> FileFacts:
    """A file of which everything is known."""
    return FileFacts(
        name=name,
        title="Lid of the hive, outside",
        source=f"{name.lower()}.nc",
        does=("Homes Z, then X and Y.", "Touches the plate twice.", "Cuts with tool 1, 4 passes."),
        modes=("Numbers are millimetres.", "Z0 is the top of the sheet."),
        lines=412,
        moves=371,
        content=Content("0123456789abcdef" * 4, 8191),
        pauses=(
            Pause(
                1,
                19,
                ("PLATE ON, CLIP ON",),
                ("The plate lies flat at X50 Y50.", "The clip is on the bit."),
                "clip-on",
                False,
                14.2,
            ),
            Pause(2, 31, (), (), None, True, None),
            Pause(
                3,
                40,
                ("ROUTER 17000", "DIAL 3"),
                ("The router runs at 17000 rev/min.",),
                "spindle-on",
                False,
                75.4,
            ),
        ),
        tools=(tool(1), tool(None)),
        reaches=(
            reach("X", (20.5, 559.5), (-15.25, 560.25), (0, 580), (5, 580.75), (0, 620), 4.75),
            reach("Y", (21.5, 479.5), (-16.25, 480.25), (0, 500), (3.75, 550), (0, 560), 3.75),
            reach("Z", (-18.3, 0), (-18.3, 45.125), (-18.1, 0), (-84.2, 0), (-85, 0), 0.8),
        ),
        depth=Depth(Span(17.8, 18.3), Span(17.6, 18.1), Span(-0.7, 0.3), 2.05, 15.4),
        times=Times(
            naive=662,
            cutting=611.5,
            rapids=88.2,
            probing=21.4,
            homing=9.7,
            waiting=4.1,
            low=620,
            high=945,
            calibrated=True,
            pauses=3,
            tool_changes=1,
            tools=(ToolTime(1, 611.5), ToolTime(2, 99)),
            unknown=7,
        ),
        proof=Proved(364, 23, 11, 0.008191, "same cut path; may change comments"),
        findings=(
            Finding(
                "plunge-at-contour-feed",
                Severity.NOTE,
                "a rapid passes near a clamp",
                why="it was so",
                remedy="look there",
                lowered="the clamp is low",
            ),
            Finding(
                "chips-too-thin",
                Severity.WARN,
                "the chip is thin",
                Place(f"{name.lower()}.nc", 21, 5, 4, "G1 X10 F100 (RIM)"),
                why="it rubs and burns",
                remedy="feed faster",
            ),
        ),
        drawings=(drawing("top", f"{prefix}t"), drawing("side", f"{prefix}s")),
        track="AQIDBA==",
        switches=("extraction", "vacuum"),
    )


SHEET = SheetFacts(
    title="Lids on the bench machine",
    recipe="recipes/bench-lids.yaml",
    machine="Bench machine, router switched by hand",
    setup="Lids from 18 mm plywood",
    made_by="headrace 0.1.0",
    checks=(
        Check(
            "Sheet",
            "Measure its thickness at several places.",
            (("Thickness", "17.6 to 18.1 mm"), ("Size", "580 by 500 mm")),
        ),
        Check("Extraction", "It runs, and its bag is empty."),
    ),
    bedding=drawing("bedding", "b"),
    files=(full("LID.NC", "f1"), full("HANDHOLD.NC", "f2"), replace(BARE, name="BARE2.NC")),
    refused=(
        Refused(
            "roof.nc",
            (
                Finding(
                    "bad-number",
                    Severity.REFUSE,
                    "`X1..2` is no number",
                    Place("roof.nc", 3, 4, 5, "G1 X1..2"),
                    why="what was meant would be a guess",
                    remedy="export it again",
                ),
            ),
        ),
    ),
    findings=(
        Finding(
            "card-older-file",
            Severity.WARN,
            "the card holds files of an earlier run",
            why="one may be run by mistake",
            remedy="take them off",
        ),
        Finding("card-stranger", Severity.NOTE, "two files had to be called otherwise"),
    ),
)
"""A sheet with two full files, one bare one and one that was refused."""
