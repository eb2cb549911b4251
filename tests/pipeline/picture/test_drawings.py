"""Whole drawings: what they say, that nothing lies over anything else, and that they are true.

Read back with the standard library's XML parser, and measured with Shapely against the moves that
the interpreter tells of. Check values are sums on paper from the demo's files.
"""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from pipeline.picture.drawn import (
    BENCH,
    DEMOS,
    RECIPES,
    SVG,
    areas,
    dashes,
    job,
    lines_and_points,
    prepared,
    tree,
    used,
)
from shapely import Polygon, unary_union

from headrace.job import Job
from headrace.machine import Setup
from headrace.picture.bedding import bedding
from headrace.picture.cuts import MOST, WITHIN
from headrace.picture.drawing import Drawing
from headrace.picture.job import job_drawings
from headrace.picture.lettering import box_of
from headrace.picture.standalone import standalone


@cache
def demo(recipe: str, name: str) -> tuple[Drawing, ...]:
    made = prepared(recipe, name)
    found = bedding(made.machine, made.setup, "b")
    assert found is not None
    return (*job_drawings(made, "f"), found)


HOLES = "".join(
    f"G0 X{x} Y{y}\nG0 Z2\nG1 Z-6 F300\nG2 X{x} I-4 J0\nG0 Z10\n"
    for y in range(30, 500, 80)
    for x in range(34, 500, 50)
)
SHAPES = {
    "nothing": "",
    "only a rapid": "G0 X100 Y50\nG0 X200\n",
    "a hole of 3": "G0 X101.5 Y100\nG0 Z2\nG1 Z-18.3 F300\nG2 X101.5 I-1.5 J0\nG0 Z10\n",
    "off the sheet": "G0 X-700 Y-300\nG1 Z-3 F100\nX900 F900\nY800\nG0 Z5\n",
    "sixty holes": HOLES,
    "arcs in all planes": (
        "G0 X100 Y100\nG1 Z-2 F200\nG18 G2 X160 Z-2 I30 K0\nG19 G3 Y160 Z-2 J30 K0\n"
        "G17 G2 X220 Y100 I0 J-60\nG0 Z10\n"
    ),
    "inches": "G20\nG0 X2 Y2\nG1 Z-0.25 F10\nX10\nY8\nG0 Z1\n",
    "unknown place": "G91\nG0 X5\nG1 Z-3 F100\nX20\nG90\nG0 Z10\n",
}


def drawings() -> list[tuple[str, tuple[Drawing, ...]]]:
    made = [(f"{recipe}-{name}", demo(recipe, name)) for recipe, name in DEMOS]
    return made + [(name, job_drawings(job(text), "s")) for name, text in SHAPES.items()]


ALL = pytest.mark.parametrize(("name", "made"), drawings(), ids=lambda value: value[:24]
                              if isinstance(value, str) else "")  # fmt: skip


def boxes(drawing: Drawing) -> list[tuple[str, tuple[float, float, float, float]]]:
    """The labels, and the boxes that they take."""
    found = []
    for text in tree(drawing).iter(f"{SVG}text"):
        x, y = float(text.attrib["x"]), float(text.attrib["y"])
        told = text.text or ""
        box = box_of(told, x, y, text.get("text-anchor", "start"), "transform" in text.attrib)
        found.append((told, (box.left, box.top, box.right, box.bottom)))
    return found


@ALL
def test_no_label_lies_over_another(name: str, made: tuple[Drawing, ...]) -> None:
    for drawing in made:
        for (one, a), (other, b) in combinations(boxes(drawing), 2):
            apart = a[0] >= b[2] or b[0] >= a[2] or a[1] >= b[3] or b[1] >= a[3]
            assert apart, (name, drawing.view, one, other)


@ALL
def test_all_labels_are_on_the_paper(name: str, made: tuple[Drawing, ...]) -> None:
    for drawing in made:
        for told, (left, top, right, bottom) in boxes(drawing):
            assert left >= 0, (name, told)
            assert top >= 0, (name, told)
            assert right <= drawing.width, (name, told)
            assert bottom <= drawing.height, (name, told)


@ALL
def test_drawings_fit_and_are_well_made(name: str, made: tuple[Drawing, ...]) -> None:
    most = {"top": 150, "side": 60, "bedding": 130}
    for drawing in made:
        root = tree(drawing)
        assert drawing.width <= 180, name
        assert drawing.height <= most[drawing.view] + 1e-9, name
        assert root.attrib["width"] == f"{drawing.width:.2f}mm"
        assert root.attrib["height"] == f"{drawing.height:.2f}mm"
        assert root.attrib["viewBox"] == f"0 0 {drawing.width:.2f} {drawing.height:.2f}"
        assert root.attrib["role"] == "img"
        ids = [element.attrib["id"] for element in root.iter() if "id" in element.attrib]
        assert len(ids) == len(set(ids))
        names = set(re.findall(r'(?:href="|url\()#([^")]+)', drawing.svg))
        names |= set(root.attrib["aria-labelledby"].split())
        assert names <= set(ids)
        texts = {element.get("id"): element.text for element in root.iter()}
        title, text = (texts[label] for label in root.attrib["aria-labelledby"].split())
        assert title == drawing.title
        assert text == drawing.text
        assert not re.search(r'style="|<style|<script|http(?!://www.w3.org)|nan|inf\b', drawing.svg)


@ALL
def test_every_kind_of_line_has_a_look_of_its_own(name: str, made: tuple[Drawing, ...]) -> None:
    """In grey print too: dashes tell those apart that one colour more would."""
    for drawing in made[:1]:
        lines = {look for look in dashes(drawing) if look[0] in ("hr-line", "hr-rapid")}
        rapid = {told for kind, told in lines if kind == "hr-rapid"}
        cuts = {told for kind, told in lines if kind == "hr-line"}
        assert not rapid & cuts, name


@ALL
def test_same_job_same_bytes(name: str, made: tuple[Drawing, ...]) -> None:
    if name in SHAPES:
        assert job_drawings(job(SHAPES[name]), "s") == made


# --- true to the job --------------------------------------------------------------------------


def cut_lines(made: Job) -> shapely.Geometry:
    """The cuts below the sheet's top, from the corner: straight ones, in the trace's numbers."""
    x, y, z = (made.trace.ends(axis) for axis in range(3))
    begun = [made.trace.starts(axis) for axis in range(3)]
    rows = (made.trace.kind == 1) & (np.fmin(z, begun[2]) < 0) & ~np.isnan(begun[0] + begun[1])
    return lines_and_points([
        [(begun[0][at], begun[1][at]), (x[at], y[at])] for at in np.flatnonzero(rows).tolist()
    ])  # fmt: skip


place = st.tuples(st.integers(20, 500), st.integers(20, 450), st.sampled_from([-2, -5, -9, -18.3]))


@given(st.lists(place, min_size=2, max_size=30))
def test_lines_are_where_the_bit_goes(places: list[tuple[int, int, float]]) -> None:
    text = "G0 X100 Y100\nG1 Z-1 F300\n" + "".join(f"X{x} Y{y} Z{z}\n" for x, y, z in places)
    made = job(text)
    top, _ = job_drawings(made, "p")
    lines = [line for use in used(top) if use.classes == ("hr-line",) for line in use.lines]
    most = (WITHIN + 0.02) * top.scale

    apart = shapely.hausdorff_distance(lines_and_points(lines), cut_lines(made), densify=0.1)
    assert apart <= most + 1e-6


@given(st.lists(place, min_size=2, max_size=12))
def test_bands_are_as_wide_as_the_bit(places: list[tuple[int, int, float]]) -> None:
    text = "G0 X100 Y100\nG1 Z-1 F300\n" + "".join(f"X{x} Y{y} Z{z}\n" for x, y, z in places)
    made = job(text)
    top, _ = job_drawings(made, "p")
    bands = [use for use in used(top) if re.match(r"hr-d\d", use.classes[0])]
    assert {use.width for use in bands} == {6.0}
    drawn = unary_union([lines_and_points(use.lines).buffer(use.width / 2) for use in bands])
    most = (WITHIN + 0.02) * top.scale
    true = cut_lines(made).buffer(3.0)

    assert true.difference(drawn.buffer(most)).area < 1e-6
    assert drawn.difference(true.buffer(most)).area < 1e-6


def relief(rows: int, across: int) -> str:
    """A raster with waves, 400 by 300, down to 4."""
    lines = ["G0 X50 Y50\nG1 Z-1 F600\n"]
    for row in range(rows):
        y = 50 + 300 * row / (rows - 1)
        for number in range(across):
            x = 50 + 400 * (number if row % 2 == 0 else across - 1 - number) / (across - 1)
            z = -2.2 - 1.8 * np.sin(x / 9) * np.cos(y / 11)
            lines.append(f"X{x:.3f} Y{y:.3f} Z{z:.3f}\n")
    return "".join(lines)


@pytest.fixture(scope="module")
def waves() -> tuple[Job, Drawing, Drawing]:
    made = job(relief(260, 200))
    assert len(made.trace) > 4 * MOST
    return made, *job_drawings(made, "w")


def test_a_relief_is_small_and_drawn_by_depth(waves: tuple[Job, Drawing, Drawing]) -> None:
    _, top, side = waves

    assert len(top.svg.encode()) + len(side.svg.encode()) < 400_000
    assert "their area is drawn" in top.text
    assert {"hr-reach", "hr-f1", "hr-f2", "hr-f3", "hr-f4"} >= set(areas(top)) > {"hr-reach"}


def test_no_cut_of_a_relief_is_missed(waves: tuple[Job, Drawing, Drawing]) -> None:
    made, top, _ = waves
    loops = [Polygon(line) for line in areas(top)["hr-reach"] if len(line) > 3]
    drawn = unary_union([loop.buffer(0) for loop in loops])
    edge = 0.4 * top.scale  # two cells
    true = shapely.box(50, 50, 450, 350).buffer(3.0)

    assert true.difference(drawn.buffer(edge)).area < 1e-6
    assert drawn.difference(true.buffer(edge)).area < 1e-6
    assert cut_lines(made).within(drawn.buffer(edge))


def test_a_relief_is_shaded_by_the_depth_of_the_tip(waves: tuple[Job, Drawing, Drawing]) -> None:
    """Where it is deeper by half a mm than a step's edge, that step or a deeper one covers it."""
    made, top, _ = waves
    x, y, z = (made.trace.ends(axis) for axis in range(3))
    found = areas(top)
    for step in (1, 2, 3):
        area = [Polygon(line) for line in found[f"hr-f{step + 1}"] if len(line) > 3]
        holes = unary_union([loop.buffer(0) for loop in area if loop.exterior.is_ccw is False])
        solid = unary_union([loop.buffer(0) for loop in area if loop.exterior.is_ccw])
        drawn = solid.difference(holes)
        deep = np.flatnonzero(z < -step - 0.5)[::50]
        assert len(deep) > 20
        away = shapely.distance(drawn, shapely.points(x[deep], y[deep]))
        assert away.max() <= 0.4 * top.scale


# --- what they say ----------------------------------------------------------------------------


def test_the_lid_says_how_it_lies_on_its_sheet() -> None:
    top, side, _ = demo("bench-lids", "lid.nc")
    told = {text for text, _ in boxes(top)}

    # lid.nc: the middle goes from X32 Y32 to X544 Y468, the bit is 6 wide, the sheet 580 by 500
    assert {"29", "518", "33", "442", "580", "500", "X0 Y0", "100 mm"} <= told
    assert top.scale == 5
    assert "1:5" in top.title
    assert "It goes into the sheet at 5 places" in top.text
    beside = "29 mm at the left, 33 mm at the right, 29 mm at the front, 29 mm at the back"
    assert f"Beside them are left {beside}." in top.text
    told = {text for text, _ in boxes(side)}
    assert {"18.3", "17.6–18.1", "safe height, 25", "clamps, 8", "deepest cut, −18.3",
            "heights × 2.5"} <= told  # fmt: skip


@given(st.integers(100, 400), st.integers(100, 400), st.integers(1, 80))
def test_extents_of_circles_are_exact(x: int, y: int, radius: int) -> None:
    """A chord would fall short by thousandths: what an operator measures is the whole circle."""
    begun = f"X{x + radius * 0.6:.4f} Y{y + radius * 0.8:.4f}"
    text = f"G0 {begun}\nG1 Z-3 F300\nG3 {begun} I{-radius * 0.6:.4f} J{-radius * 0.8:.4f}\nG0 Z9\n"
    top, _ = job_drawings(job(text), "s")
    low, high = (f"X{x + far:g} Y{y + far:g}" for far in (-radius - 3, radius + 3))

    assert f"from {low} to {high} from" in top.text


def test_extents_of_arcs_are_exact() -> None:
    top, *_ = demo("bench-lids", "handhold.nc")

    # half circles of 12 about X240 and X340, and 3 for half the bit
    assert "130" in {told for told, _ in boxes(top)}
    assert "They go off" not in top.text


def test_heights_are_true_where_the_sheet_is_thick_enough_to_be_seen() -> None:
    setup = {"sheet": {"thickness": 40, "size": [180, 120], "corner": [20, 20]},
             "tool": {"diameter": 6, "stick-out": 60}, "clamps": []}  # fmt: skip
    _, side = job_drawings(job("G0 X50 Y50\nG1 Z-10 F300\nX90\nG0 Z10\n", setup), "s")

    assert "heights true" in {text for text, _ in boxes(side)}
    assert "times as large" not in side.text


def test_what_is_not_described_is_said_and_not_drawn() -> None:
    made = job("G0 X50 Y50\nG1 Z-3 F300\nX90\nG0 Z10\n", {})
    top, side = job_drawings(made, "s")

    for told in ("sheet's size is not described", "Clamps are not described",
                 "Where the sheet lies on the machine is not described",
                 "to the middle of a bit whose width is not described"):  # fmt: skip
        assert told in top.text
    assert "thickness is not described" in side.text
    assert "through" not in top.svg
    assert bedding(made.machine, made.setup, "b") is None


def test_moves_from_an_unknown_place_are_counted() -> None:
    top, _ = job_drawings(job("G0 X50 Y50\nG1 Z-3 F300\nX90\nG0 Z10\n"), "s")

    # G0 Z5 where it stands, and G0 X50 Y50 from there
    assert "Not drawn: 2 moves whose place on the sheet is not known." in top.text


def test_a_zero_that_is_moved_has_marks_of_its_own() -> None:
    text = "G0 X100 Y100\nG1 Z-3 F300\nX150\nG0 Z5\nG92 X50 Y50\nG0 X0 Y0\nG1 Z-3\nX20\nG0 Z5\n"
    top, _ = job_drawings(job(text), "s")

    assert sum("X0 Y0" in told for told, _ in boxes(top)) == 2
    # the second lies where X150 Y100 was called X50 Y50
    assert "from X97 Y47 to" in top.text


def test_a_cut_through_a_thin_sheet_alone_is_named_so() -> None:
    cut = "G0 X50 Y50\nG1 Z{} F300\nX90\nG0 Z10\n"

    def key(depth: float) -> set[str]:
        return {told for told, _ in boxes(job_drawings(job(cut.format(depth)), "s")[0])}

    # the sheet is 17.6 to 18.1
    assert not {told for told in key(-17.5) if "through" in told}
    assert "through a thin" in key(-17.8)
    assert "through" in key(-18.1)
    both = cut.format(-17.8) + cut.format(-18.1).replace("Y50", "Y90")
    told = {told for told, _ in boxes(job_drawings(job(both), "s")[0])}
    # what goes through a thin sheet alone is not drawn as what goes through every one
    assert {"through"} == {text for text in told if "through" in text}
    assert told & {"to 17.8 deep", "to 18.1 deep"}


def test_how_rapids_go_is_not_guessed() -> None:
    told = {
        rapids: job_drawings(replace(made, machine=replace(made.machine, rapids=rapids)), "s")[
            0
        ].text
        for made in (job("G0 X50 Y50\nG0 X90\nG1 Z-3 F300\n"),)
        for rapids in ("straight", "each-axis", None)
    }

    assert "Rapids" not in told["straight"]
    assert "each axis goes at its own speed" in told["each-axis"]
    assert "how they go is not described" in told[None]


def test_the_text_says_from_where_its_numbers_count() -> None:
    """recipes/setups/lids-18.yaml: the lid's middle goes from X32 to X544, its bit is 6 wide; its
    clamps stand 8 over a sheet that is 18 thick, and are 26 high themselves."""
    top, side, bed = demo("bench-lids", "lid.nc")

    assert "from X29 Y29 to X547 Y471 from the sheet's corner" in top.text
    assert "to the edges of the cuts: half of the bit is in them" in top.text
    assert "tell where its middle goes" in top.text
    assert "The clamp left stands 8 mm above the top of the sheet." in side.text
    assert "8 mm higher than the sheet's top" in bed.text
    assert "at X50 Y50 from the sheet's corner" in bed.text
    for plan in (top, bed):
        assert "Heights of clamps count from the sheet's top." in plan.text


def test_ends_of_travel_outside_the_picture_count_from_the_sheet() -> None:
    """The corner lies at X150 Y200 of a travel from 0 to 1300 and from 0 to 2500."""
    top, *_ = demo("speed-feeder-changes", "feeder-board.nc")

    assert (
        "outside the picture, from the sheet's corner: X −150 and 1150, Y −200 and 2300" in top.text
    )


def test_a_job_from_the_bed_is_drawn_in_the_thickest_sheet() -> None:
    setup = {"sheet": {"thickness": {"least": 11.5, "most": 12}, "size": [180, 120], "zero": "bed"},
             "tool": {"diameter": 6}, "clamps": []}  # fmt: skip
    cut = "G0 Z20\nG0 X50 Y50\nG1 Z{} F300\nX90\nG0 Z20\n"
    top, side = job_drawings(job(cut.format(4), setup), "s")

    # Z4 is 7.5 to 8 below the top of a sheet of 11.5 to 12
    assert "to 8 deep" in {told for told, _ in boxes(top)}
    assert "The deepest cut is 8 mm below" in side.text
    assert "may lie 0.5 mm higher" in side.text
    top, _ = job_drawings(job(cut.format(-0.2), setup), "s")
    assert "through" in {told for told, _ in boxes(top)}


def test_clamps_show_the_room_for_what_comes_down_beside_them() -> None:
    clamp = {"name": "left", "from": [-20, 40], "to": [10, 60], "top": 20}
    setup = {"sheet": {"thickness": 18, "size": [200, 120], "corner": [20, 20]},
             "tool": {"diameter": 6, "stick-out": 30}, "clamps": [clamp]}  # fmt: skip
    cut = "G0 Z25\nG0 X50 Y50\nG1 Z{} F300\nX90\nG0 Z25\n"

    def rooms(depth: int) -> list[str]:
        return [told for told, _ in boxes(job_drawings(job(cut.format(depth), setup), "s")[0])
                if "bit, " in told or "collet nut" in told]  # fmt: skip

    # the nut, 22 wide, is 30 over the tip: it comes below a clamp of 20 from 10 deep on
    assert rooms(-9) == ["bit, 3"]
    assert rooms(-11) == ["collet nut, 11"]


def test_a_bit_of_unknown_width_has_no_band() -> None:
    setup = {"sheet": {"thickness": 18, "size": [200, 120]}, "clamps": []}
    top, _ = job_drawings(job("G0 X50 Y50\nG1 Z-3 F300\nX90\nG0 Z5\n", setup), "s")

    assert not re.search(r'class="hr-d\d', top.svg)
    # from the middle of the bit
    assert "from X50 Y50 to X90 Y50" in top.text


def test_hostile_names_are_only_names() -> None:
    clamp = {"name": '</svg><script>alert("1")</script>\x00‮', "from": [0, 0], "to": [20, 20],
             "top": 8}  # fmt: skip
    setup = {"sheet": {"size": [200, 100], "corner": [0, 0]}, "clamps": [clamp]}
    made = job("G0 X50 Y50\nG1 Z-3 F300\nX90\nG0 Z10\n", setup)
    found = bedding(made.machine, made.setup, "b")
    assert found is not None

    for drawing in (*job_drawings(made, "s"), found):
        assert not list(tree(drawing).iter(f"{SVG}script"))
        assert not list(tree(drawing).iter("script"))
        assert "\x00" not in drawing.svg
        assert "‮" not in drawing.svg


def test_a_file_of_its_own_is_whole(tmp_path: Path) -> None:
    resvg = pytest.importorskip("resvg_py")
    for drawing in demo("bench-lids", "lid.nc"):
        data = standalone(drawing)
        (tmp_path / "drawing.svg").write_bytes(data)
        picture = bytes(resvg.svg_to_bytes(svg_string=data.decode(), dpi=96))
        assert picture.startswith(b"\x89PNG")
        assert data.count(b"<style>") == 1


SETUPS = sorted((RECIPES / "setups").glob("*"))


@pytest.mark.parametrize(
    "setup", [path.stem for path in SETUPS if "\nsheet:" in path.read_text("utf-8")]
)
def test_the_clamp_map_says_where_everything_lies(setup: str) -> None:
    import yaml

    data = yaml.safe_load((RECIPES / "setups" / f"{setup}.yaml").read_text("utf-8"))
    found = bedding(BENCH.machine, Setup.of(data), "b")
    assert found is not None
    told = {text for text, _ in boxes(found)}
    texts = " ".join(told)

    for clamp in data["clamps"]:
        assert f"{clamp['name']}, {clamp['top']} high" in told
        ends = zip(clamp["from"], clamp["to"], "XY", strict=True)
        for low, high, letter in ends:
            assert f"{letter} {low} to {high}".replace("-", "−") in texts
    x, y = data["plate"]["at"]
    assert f"plate, X{x} Y{y}" in told
    assert {f"{length:g}" for length in data["sheet"]["size"]} <= told
