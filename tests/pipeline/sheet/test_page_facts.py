"""Every fact is on the page, and what is not known is said."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields, is_dataclass, replace
from enum import Enum
from functools import reduce
from typing import Any

import pytest
from workshop.markup import Element, parsed
from workshop.sheets import BARE, NOTHING, SHEET

from headrace.findings import Finding
from headrace.machine.span import Span
from headrace.picture.drawing import Drawing
from headrace.sheet.cautions import ABOVE, CAUTIONS, FIRST, UNSEEN
from headrace.sheet.facts import SheetFacts, ToolUse
from headrace.sheet.page import page

ONE = replace(NOTHING, files=(BARE,))
FULL = page(SHEET)


@pytest.fixture(scope="module")
def tree() -> Element:
    return parsed(FULL)


ON_PAPER = {"width", "height", "scale"}
"""Of a drawing: its picture has them, and its title the scale."""


def leaves(value: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[tuple[Any, ...], Any]]:
    """All values in facts, and the way to each."""
    if is_dataclass(value):
        for each in fields(value):
            if not (isinstance(value, Drawing) and each.name in ON_PAPER):
                yield from leaves(getattr(value, each.name), (*path, each.name))
    elif isinstance(value, tuple):
        for index, part in enumerate(value):
            yield from leaves(part, (*path, index))
    elif value is not None and not isinstance(value, Enum):
        yield path, value


def put(facts: Any, path: tuple[Any, ...], value: Any) -> Any:
    """The same facts with another value at one place."""
    if not path:
        return value
    first, *rest = path
    if isinstance(first, int):
        return (*facts[:first], put(facts[first], tuple(rest), value), *facts[first + 1 :])
    return replace(facts, **{first: put(getattr(facts, first), tuple(rest), value)})


def get(facts: Any, path: tuple[Any, ...]) -> Any:
    return reduce(
        lambda value, step: value[step] if isinstance(step, int) else getattr(value, step),
        path,
        facts,
    )


ALL = [
    (path, value) for path, value in leaves(SHEET) if path[:2] not in {("files", 1), ("files", 2)}
]
"""Every value of the sheet, of its first file for all files."""


def test_the_made_up_sheet_holds_every_kind_of_fact() -> None:
    """Where a field is None or empty in all of it, the next test would pass it over."""
    seen: set[tuple[str, str]] = set()

    def walk(value: Any) -> None:
        if is_dataclass(value):
            for each in fields(value):
                inner = getattr(value, each.name)
                if inner is not None and inner != ():
                    seen.add((type(value).__name__, each.name))
                walk(inner)
        elif isinstance(value, tuple):
            for part in value:
                walk(part)

    walk(SHEET)
    kinds = {type(get(SHEET, path[:-1])) for path, _ in ALL if is_dataclass(get(SHEET, path[:-1]))}
    for kind in kinds:
        for each in fields(kind):
            assert (kind.__name__, each.name) in seen


@pytest.mark.parametrize(("path", "value"), ALL, ids=[".".join(map(str, p)) for p, _ in ALL])
def test_every_fact_is_on_the_page(path: tuple[Any, ...], value: Any) -> None:
    """Another value makes another page, and a text stands there for all to read."""
    hidden = path[-1] in {"svg", "view", "track", "sha256"}
    if isinstance(value, bool):
        other: Any = not value
    elif path[-1] == "length":
        other = value - 1
    elif isinstance(value, (int, float)):
        other = value + 3600
    elif path[-1] == "name" and isinstance(get(SHEET, path[:-1]), Finding):
        other = "bad-number" if value != "bad-number" else "card-busy"
    elif path[-1] == "excerpt":
        other = "Quincunx"
    elif path[-1] == "sha256":
        other = "fedcba9876543210" * 4
    else:
        other = "Quincunx"
    changed = page(put(SHEET, path, other))

    assert changed != FULL
    if isinstance(other, str) and not hidden:
        assert other in parsed(changed).one("body").read


def test_what_is_not_known_is_said(tree: Element) -> None:
    text = parsed(page(ONE)).one("main").read

    for said in (
        "It cuts with none.",
        "Nowhere: it runs through to its end.",
        "Deepest cut nothing is cut",
        "Sheet is thick not described",
        "Under the deepest cut nothing is cut",
        "There is no job to compare it with.",
        "Accelerations or corners are not described",
        "Made by the recipe, without a job",
    ):
        assert said in text
    assert "None" not in text.replace("Nowhere", "")
    assert "nan" not in text.lower()
    assert "nothing: count the pauses" in tree.read
    assert "Nothing is described: find out what it waits for." in tree.read


def test_what_is_not_described_of_a_bit_is_said_in_one_line() -> None:
    """In a bit's table stands what is described; with nothing missing there is no such line."""
    file = SHEET.files[0]
    bit = file.tools[0]

    def shown(tool: ToolUse) -> str:
        return parsed(page(replace(SHEET, files=(replace(file, tools=(tool,)),)))).one("main").read

    full = replace(
        bit,
        diameter=6.0,
        stick_out=Span(28, 32),
        dial="3",
        plunge=400.0,
        chip_limits=Span(0.02, 0.05),
        teeth=2,
        fastest=24000.0,
        flute=22.0,
    )
    bare = replace(full, dial=None, chip_limits=None, teeth=None)

    assert "Not described: dial, chip allowed, teeth." in shown(bare)
    assert "Teeth" not in shown(bare)
    assert "Not described:" not in shown(full)
    assert "Chip allowed 0.02 to 0.05 mm" in shown(full)


def test_why_there_is_no_slider_is_said() -> None:
    file = SHEET.files[0]
    without = parsed(page(replace(SHEET, files=(replace(file, track=None),)))).one("main").read
    still = parsed(page(replace(SHEET, files=(replace(file, track=None, moves=0),)))).one("main")
    along = parsed(page(replace(SHEET, files=(replace(file, track="AQ=="),)))).one("main").read

    assert "No slider goes along this file: it has more pauses" in without
    assert "No slider goes along this file: nothing in it moves." in still.read
    assert "No slider" not in along


def test_what_stands_in_a_drawing_is_left_out_of_its_printed_caption() -> None:
    """Only whole sentences at the end of the caption, and only such as the drawing shows."""
    svg = "<svg><desc>Cut.</desc><text>Lengths in mm. Bits are</text><text>flat.</text></svg>"
    text = "Cut. Lengths in mm. It is 3 high. Lengths in mm. Bits are flat."
    drawing = Drawing("top", "T", text, 5.0, 10.0, 10.0, svg)
    file = replace(SHEET.files[0], drawings=(drawing,))
    tree = parsed(page(replace(SHEET, bedding=None, files=(file,))))
    twice = [each for each in tree.all("span") if each.attributes.get("class") == "rs-twice"]

    assert [each.read for each in twice] == ["Lengths in mm. Bits are flat."]
    assert text in next(tree.all("figcaption")).read


def test_nothing_is_cut_only_where_every_move_is_known() -> None:
    unsure = replace(BARE, times=replace(BARE.times, unknown=1))
    text = parsed(page(replace(NOTHING, files=(unsure,)))).one("main").read

    assert "Deepest cut not known" in text
    assert "nothing is cut" not in text


def test_a_sheet_of_nothing() -> None:
    text = parsed(page(NOTHING)).one("main").read

    assert "No file is fit for the card." in text
    assert "The description says nothing to check." in text


def test_the_hash_can_be_compared_by_eye(tree: Element) -> None:
    codes = [each for each in tree.all("code") if each.attributes.get("class") == "rs-hash"]
    groups = [part.text for part in codes[0].all("span")]

    assert "".join(groups) == SHEET.files[0].content.sha256
    assert {len(group) for group in groups} == {8}


def test_the_display_is_shown_line_by_line(tree: Element) -> None:
    shown = [each for each in tree.all("pre") if each.attributes["class"] == "rs-display"]

    assert [part for part in shown[1].inside if isinstance(part, str)] == ["ROUTER 17000", "DIAL 3"]


def test_warnings_stand_before_pictures_and_notes_behind(tree: Element) -> None:
    text = tree.read

    assert text.index("Warning: the card holds") < text.index("Before you start")
    assert text.index("Warning: the chip is thin") < text.index("Where it cuts")
    assert text.index("Note: a rapid passes") > text.index("What was proved")
    assert "Why: it rubs and burns Do: feed faster HRM113 chips-too-thin" in text
    assert "lid.nc.nc, line 21, column 5: G1 X10 F100 (RIM)" in text
    assert next(tree.all("mark")).text == "10 F"


def test_many_files_are_counted_in_the_head() -> None:
    files = tuple(replace(BARE, name=f"P{number}.NC") for number in range(1, 10))
    head = parsed(page(replace(NOTHING, files=files))).one("header").read

    assert "Files P1.NC, P2.NC, P3.NC, P4.NC, P5.NC, P6.NC and 3 more" in head


def test_a_try_without_a_bit_is_kept_from_files_that_touch_off() -> None:
    """Without a bit nothing closes the circuit, and a probe goes on down (common practice)."""
    tries = [said for group in CAUTIONS for said in group.said if "without a bit" in said]
    assert tries
    assert all("touch off" in said and "Never" in said for said in tries)


def test_cautions_are_all_there(tree: Element) -> None:
    text = tree.read

    said = [FIRST, ABOVE, UNSEEN, *(each for group in CAUTIONS for each in group.said)]
    assert all(each in text for each in said)
    assert "come first" in ABOVE
    for claim in ("guarantee", "certified", "risk-free", "ensures", "is safe", "makes safe"):
        assert claim not in text.lower()


def sums() -> SheetFacts:
    times = replace(SHEET.files[0].times, low=600.0, high=900.0)
    known = replace(SHEET.files[0], times=times)
    return replace(SHEET, files=(known, known))


def test_times_of_all_files() -> None:
    """Two of 10 to 15 min are 20 to 30 min; where one has no band there is none."""
    known = sums()
    unknown = replace(
        known, files=(known.files[0], replace(BARE, times=replace(BARE.times, naive=58.0)))
    )

    text = parsed(page(known)).read
    assert "All 2 files 6 20 to 30 min" in text
    assert "Files LID.NC, LID.NC Time 20 to 30 min, and yours at 6 pauses" in text
    assert "All 2 files 3 no less than 12 min 00 s" in parsed(page(unknown)).read, "662 s + 58 s"
