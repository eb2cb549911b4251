"""One slip in a sound file is one finding, at the line and column where the slip is.

Each case replaces a piece of a sound file. `¦` in the new piece marks where the finding must
point; it is taken out before the file is written.
"""

from __future__ import annotations

from dataclasses import dataclass

import pytest
from pipeline.recipe.workshop import MACHINE, RECIPE, SETUP, Workshop

from headrace.findings import render

MARK = "¦"
TEXTS = {"machine": MACHINE, "setup": SETUP, "recipe": RECIPE}


@dataclass(frozen=True)
class Slip:
    """What is replaced by what, the finding's name, and words that it must use."""

    says: str
    file: str
    old: str
    new: str
    name: str
    words: tuple[str, ...] = ()


def slips(*rows: tuple[str, ...]) -> list[Slip]:
    return [Slip(row[0], row[1], row[2], row[3], row[4], row[5:]) for row in rows]


SLIPS = slips(
    # --- keys ---------------------------------------------------------------------------------
    ("an unknown key of a recipe", "recipe", "assume:", "¦asume:", "recipe-unknown-key",
     "`asume`", "did you mean `assume`?"),
    ("an unknown key far from any", "recipe", "assume: {units: mm}", "¦qqqq: 1",
     "recipe-unknown-key", "known here: `format`, `name`"),
    ("an underscore for a hyphen", "recipe", "card-files:", "¦card_files:", "recipe-unknown-key",
     "did you mean `card-files`?"),
    ("an unknown key of a card file", "recipe", "title:", "¦titel:", "recipe-unknown-key",
     "item 1 of `card-files`", "did you mean `title`?"),
    ("an unknown key of assume", "recipe", "{units: mm}", "{¦unit: mm}", "recipe-unknown-key",
     "did you mean `units`?"),
    ("an unknown key of a machine", "machine", "bed: 108", "¦bet: 108", "recipe-unknown-key",
     "did you mean `bed`?"),
    ("an axis too many", "machine", "  z: {", "  ¦a: {travel: [0, 1], home-end: low,"
     " homed-number: 0, rapid: 1, feed: 1}\n  z: {", "recipe-unknown-key", "`x`, `y`, `z`"),
    ("a misspelt key that is required is not missing too", "machine", "    travel:",
     "    ¦travle:", "recipe-unknown-key", "`axes.x` has no key `travle`", "`travel`"),
    ("a capital in a key", "machine", "dwell: ", "¦Dwell: ", "recipe-unknown-key",
     "did you mean `dwell`?"),
    ("an unknown key in a mapping in braces", "machine", "numbers: shown", "¦number: shown",
     "recipe-unknown-key", "did you mean `numbers`?"),
    ("an output that is no M code", "machine", "M8: extraction", "¦m8: extraction",
     "recipe-unknown-key", "an M code in capitals"),
    ("an unknown key of a set-up", "setup", "safe-height:", "¦save-height:", "recipe-unknown-key",
     "did you mean `safe-height`?"),
    ("an unknown key of a clamp", "setup", "{name: right,", "{name: right, ¦hight: 3,",
     "recipe-unknown-key", "item 2 of `clamps`"),
    ("an unknown part of a thickness", "setup", "least: 17.6, most",
     "least: 17.6, ¦median: 18, most",
     "recipe-unknown-key", "`sheet.thickness` has no key"),
    ("an unknown option of a step", "recipe", "{speed: 17000,", "{¦sped: 17000,",
     "recipe-unknown-key", "the step `spindle`", "did you mean `speed`?"),
    ("an unknown option of a pattern's mapping", "recipe", "speed: 17000",
     "marks: {3: 1, ¦ten: 2}".replace("3:", '"3":'), "recipe-unknown-key", "`ten`"),
    # --- what is missing ----------------------------------------------------------------------
    ("a recipe without a name", "recipe", "format: headrace-recipe/2\nname: Lids\n",
     "¦format: headrace-recipe/2\n", "recipe-missing-key", "the file lacks `name`"),
    ("a recipe without a machine", "recipe", "format: headrace-recipe/2\nname: Lids\n"
     "description: Home, touch off, cut, park.\nmachine: machine.yaml\n",
     "¦format: headrace-recipe/2\nname: Lids\n", "recipe-missing-key", "add `machine`"),
    ("a card file without a name", "recipe", "  - name: SETUP\n    title:", "  - ¦title:",
     "recipe-missing-key", "item 1 of `card-files` lacks `name`"),
    ("an axis without a feed", "machine", "  x:\n    travel: [0, 620]\n    home-end: low\n"
     "    homed-number: 0\n    rapid: 4000\n    feed: 3000\n", "  ¦x:\n    travel: [0, 620]\n"
     "    home-end: low\n    homed-number: 0\n    rapid: 4000\n", "recipe-missing-key",
     "`axes.x` lacks `feed`", "mm/min"),
    ("an axis in braces without a rapid", "machine", "  y: {travel: [0, 560], home-end: low,"
     " homed-number: 0, rapid: 4000,", "  ¦y: {travel: [0, 560], home-end: low, homed-number: 0,",
     "recipe-missing-key", "`axes.y` lacks `rapid`"),
    ("a probe without its slow feed", "machine", "probe:\n  quick: 120\n  slow: 30\n",
     "¦probe:\n  quick: 120\n", "recipe-missing-key", "`probe` lacks `slow`"),
    ("a machine without a dwell unit", "machine", "format: headrace-machine/1\n", "¦@",
     "recipe-missing-key", "the file lacks `dwell`"),
    ("a thickness without its most", "setup", "thickness: {least: 17.6, most: 18.1}",
     "¦thickness: {least: 17.6}", "recipe-missing-key", "`sheet.thickness` lacks `most`"),
    ("a clamp without a top", "setup", "  - {name: right, from: [560, 230], to: [600, 270],"
     " top: 20}", "  - ¦{name: right, from: [560, 230], to: [600, 270]}", "recipe-missing-key",
     "item 2 of `clamps` lacks `top`"),
    ("a step without a required option", "recipe", "  - pause:\n      text: EXTRACTION ON",
     "  - ¦pause: {codes: [M7]}", "recipe-missing-key", "the step `pause` lacks `text`"),
    ("a bare step that needs an option", "recipe", "  - pause:\n      text: EXTRACTION ON",
     "  - ¦pause", "recipe-missing-key", "the step `pause` lacks `text`"),
    ("homing by a word that is not given", "machine", "homing:\n  by: word\n  word: G28",
     "¦homing:\n  by: word", "recipe-missing-key", "`homing` lacks `word`"),
    ("a recipe that does nothing", "recipe", RECIPE,
     "¦format: headrace-recipe/2\nname: Lids\nmachine: machine.yaml\n", "recipe-missing-key",
     "neither `steps` nor `card-files`"),
    # --- the sort of a value ------------------------------------------------------------------
    ("text for a number", "machine", "bed: 108", "bed: ¦high", "recipe-wrong-type",
     "`bed` must be a number; this is text: `high`"),
    ("a decimal comma", "setup", "12.02", "¦12,02", "recipe-wrong-type", "12.02"),
    ("a unit behind a number", "setup", "12.02", "¦12.02 mm", "recipe-wrong-type",
     "write the number alone, with a point: 12.02"),
    ("a number in quotes", "setup", "12.02", '¦"12.02"', "recipe-wrong-type", "12.02"),
    ("a number for text", "recipe", "title: Home", "title: ¦12", "recipe-wrong-type",
     'put it in quotes: "12"'),
    ("a truth value for text", "recipe", "title: Home", "title: ¦true", "recipe-wrong-type",
     "must be text; this is true or false: `true`"),
    ("null for text", "recipe", "title: Home", "title: ¦null", "recipe-wrong-type",
     "must be text; this is null"),
    ("text for a list", "setup", "corner: [20, 20]", "corner: ¦here", "recipe-wrong-type",
     "must be a list"),
    ("a list for a mapping", "machine", "probe:\n  quick: 120\n  slow: 30", "probe:\n  ¦- 120",
     "recipe-wrong-type", "must be a mapping; this is a list"),
    ("a mapping for a list", "recipe", "steps: [home]", "steps: ¦{home: {}}", "recipe-wrong-type",
     "must be a list; this is a mapping"),
    ("text for a truth value", "machine", "bed: 108", "percent: ¦maybe", "recipe-wrong-type",
     "must be true or false"),
    ("a number for a truth value", "machine", "bed: 108", "percent: ¦1", "recipe-wrong-type",
     "must be true or false; this is a number: `1`"),
    ("a fraction for a whole number", "machine", "width: 20", "width: ¦20.0", "recipe-wrong-type",
     "must be a whole number; this is a number: `20.0`"),
    ("text for a thickness", "setup", "{least: 17.6, most: 18.1}", "¦thick", "recipe-wrong-type",
     "a number, a list or a mapping"),
    ("a truth value for a whole number", "machine", "width: 20", "width: ¦true",
     "recipe-wrong-type", "must be a whole number; this is true or false: `true`"),
    ("text inside a pair", "setup", "corner: [20, 20]", "corner: [20, ¦left]", "recipe-wrong-type",
     "item 2 of `sheet.corner` must be a number"),
    ("a step that is a number", "recipe", "  - park", "  - ¦7", "recipe-wrong-type",
     "item 4 of `steps` must be text or a mapping"),
    ("options that are text", "recipe", "spindle: {speed: 17000, missing: start}",
     "spindle: ¦fast", "recipe-wrong-type", "must be a mapping; this is text: `fast`"),
    ("options that are a list", "recipe", "spindle: {speed: 17000, missing: start}",
     "spindle: ¦[speed]", "recipe-wrong-type", "must be a mapping; this is a list"),
    ("a machine that is no path", "recipe", "machine: machine.yaml", "machine: ¦[machine.yaml]",
     "recipe-wrong-type", "`machine` must be text; this is a list"),
    ("a set-up that is a number", "recipe", "setup: setup.yaml", "setup: ¦7",
     "recipe-wrong-type", "text or a mapping"),
    ("an option of another sort", "recipe", "speed: 17000", "speed: ¦fast", "recipe-wrong-type",
     "`speed` of the step `spindle` must be a whole number", "the speed; rev/min"),
    ("an option that fits no alternative", "recipe", "speed: 17000", "wait: ¦[1]",
     "recipe-wrong-type", "a number, `none` or a mapping"),
    # --- accepted values ----------------------------------------------------------------------
    ("a value near an accepted one", "machine", "dwell: milliseconds", "dwell: ¦milisecond",
     "recipe-not-accepted", "did you mean `milliseconds`?", "accepted: `seconds`, `milliseconds`"),
    ("a value far from any", "machine", "comments: both", "comments: ¦xyz", "recipe-not-accepted",
     "accepted: `parentheses`, `semicolon`, `both`, `none`"),
    ("a home end in capitals", "machine", "    home-end: low", "    home-end: ¦LOW",
     "recipe-not-accepted", "did you mean `low`?"),
    ("a number where a word is accepted", "machine", "control: by-hand", "control: ¦1",
     "recipe-not-accepted", "`by-hand`, `relay`, `speed`"),
    ("an axis that there is not", "machine", "[x, y]", "[x, ¦w]", "recipe-not-accepted",
     "item 2 of item 2 of `homing.order`"),
    ("an unknown unit", "recipe", "units: mm", "units: ¦cm", "recipe-not-accepted",
     "accepted: `mm`, `inch`"),
    ("a homing word that is no G code", "machine", "word: G28", "word: ¦HOME",
     "recipe-not-accepted", "such as `G28`"),
    ("an extension with a point", "machine", "extension: NC", "extension: ¦.NC",
     "recipe-not-accepted", "such as `NC`"),
    ("a card file's name with a blank", "recipe", "- name: SETUP", '- name: ¦SET UP',
     "recipe-not-accepted", "such as `SETUP`"),
    ("an option outside its list", "recipe", "missing: start", "missing: ¦begin",
     "recipe-not-accepted", "accepted: `refuse`, `start`"),
    ("an option not written as it must be", "recipe", "text: EXTRACTION ON", "text: ¦quiet",
     "recipe-not-accepted", "such as `READY?`"),
    ("an item not written as it must be", "recipe", "text: EXTRACTION ON",
     "text: READY\n      codes: [¦G7]", "recipe-not-accepted", "looks like `^M`"),
    # --- bounds -------------------------------------------------------------------------------
    ("a feed of nothing", "machine", "  slow: 30", "  slow: ¦0", "recipe-out-of-bounds",
     "`probe.slow` is `0`; it must be more than 0"),
    ("a negative time", "machine", "run-up: 2", "run-up: ¦-2", "recipe-out-of-bounds",
     "at least 0"),
    ("a number too large", "setup", "12.02", "¦1202", "recipe-out-of-bounds", "at most 100"),
    ("a thickness of nothing", "setup", "{least: 17.6, most: 18.1}", "¦0", "recipe-out-of-bounds",
     "more than 0"),
    ("three numbers for a pair", "setup", "corner: [20, 20]", "corner: ¦[20, 20, 5]",
     "recipe-out-of-bounds", "has 3; it must have at most 2 items"),
    ("one number for a pair", "machine", "    travel: [0, 620]", "    travel: ¦[620]",
     "recipe-out-of-bounds", "has 1; it must have at least 2 items"),
    ("no step at all", "recipe", "steps: [home]", "steps: ¦[]", "recipe-out-of-bounds",
     "at least 1 item"),
    ("two names in one step", "recipe", "spindle: {speed: 17000, missing: start}",
     "¦spindle: {speed: 17000}\n    park: {}", "recipe-out-of-bounds", "at most 1 key"),
    ("a step without a name", "recipe", "  - park", "  - ¦{}", "recipe-out-of-bounds",
     "at least 1 key"),
    ("an empty name", "recipe", "name: Lids", 'name: ¦""', "recipe-out-of-bounds",
     "at least 1 character"),
    ("a name too long", "recipe", "name: Lids", f"name: ¦{'L' * 81}", "recipe-out-of-bounds",
     "has 81; it must have at most 80 characters"),
    ("an option below its bound", "recipe", "17000", "¦900", "recipe-out-of-bounds",
     "at least 1000"),
    ("an option above its bound", "recipe", "17000", "¦40000", "recipe-out-of-bounds",
     "less than 40000"),
    ("an option between its steps", "recipe", "17000", "¦17050", "recipe-out-of-bounds",
     "a multiple of 100"),
    ("a bound inside an alternative", "recipe", "speed: 17000", "wait: ¦-1",
     "recipe-out-of-bounds", "at least 0"),
    ("a key missing inside an alternative", "recipe", "speed: 17000", "¦wait: {}",
     "recipe-missing-key", "`wait` of the step `spindle` lacks `least`"),
    ("an empty machine path", "recipe", "machine: machine.yaml", 'machine: ¦""',
     "recipe-out-of-bounds", "at least 1 character"),
    # --- other rules of schemas ---------------------------------------------------------------
    ("an item that stands twice", "machine", "[x, y]", "[x, ¦x]", "recipe-bad-value",
     "for the second time"),
    ("an option that may not stand", "recipe", "speed: 17000", "never: ¦{x: 1}", "recipe-bad-value",
     "`1` may not stand in `never`"),
    ("an option that fits two ways", "recipe", "speed: 17000", "exact: ¦4", "recipe-wrong-type",
     "is not as it must be: `4`"),
    ("an option that fits none of two ways", "recipe", "speed: 17000", "exact: ¦c",
     "recipe-wrong-type", "a number, a whole number, `a` or `b`"),
    ("an option that is forbidden", "recipe", "speed: 17000", "odd: ¦4", "recipe-bad-value",
     "is not as it must be: `4`"),
    ("an option nearest to one of many ways", "recipe", "speed: 17000", "¦either: {}",
     "recipe-missing-key", "lacks `c`"),
    ("an option with ways that cannot be told", "recipe", "speed: 17000", "odder: ¦4",
     "recipe-wrong-type", "must be something else or `7`"),
    # --- contradictions -----------------------------------------------------------------------
    ("a travel the wrong way round", "machine", "    travel: [0, 620]", "    ¦travel: [620, 0]",
     "recipe-contradiction", "`axes.x.travel` goes from 620 to 0"),
    ("a travel of no length", "machine", "y: {travel: [0, 560]", "y: {¦travel: [560, 560]",
     "recipe-contradiction"),
    ("a homed number outside the travel", "machine", "    homed-number: 0", "    homed-number: ¦-9",
     "recipe-contradiction", "far outside the travel of 0 to 620"),
    ("a homed number at the other end", "machine", "    homed-number: 0", "    homed-number: ¦620",
     "recipe-contradiction", "`home-end: low`"),
    ("a parking place outside the travel", "machine", "park: {x: 0, y: 550,",
     "park: {x: 0, y: ¦561,",
     "recipe-contradiction", "outside the travel of 0 to 560"),
    ("a spindle range the wrong way round", "machine", "range: [10000, 30000]",
     "¦range: [30000, 10000]", "recipe-contradiction", "from 30000 to 10000"),
    ("a slow touch that is quicker", "machine", "  slow: 30", "  slow: ¦130",
     "recipe-contradiction", "more than `probe.quick`, 120"),
    ("a homing word where a person homes", "machine", "  by: word\n  word: G28",
     "  by: by-hand\n  ¦word: G28", "recipe-contradiction"),
    ("an axis that is homed twice", "machine", "order: [[z], [x, y]]",
     "¦order: [[z], [x, y], [z]]", "recipe-contradiction", "name x, y and z once each"),
    ("an axis that is never homed", "machine", "order: [[z], [x, y]]", "¦order: [[z], [x]]",
     "recipe-contradiction"),
    ("a long extension of short names", "machine", "extension: NC", "extension: ¦GCODE",
     "recipe-contradiction", "three characters"),
    ("a long stem of short names", "machine", "extension: NC", "extension: NC, length: ¦9",
     "recipe-contradiction", "eight characters"),
    ("a point amid short names", "machine", "extension: NC", "extension: NC, characters: ¦'_.'",
     "recipe-contradiction", "one point only"),
    ("a mark that no name may have", "machine", "extension: NC", "extension: NC, characters: ¦'~'",
     "recipe-not-accepted"),
    ("a stem of no length", "machine", "extension: NC", "extension: NC, length: ¦2",
     "recipe-out-of-bounds"),
    ("capitals of another kind", "machine", "extension: NC", "extension: NC, case: ¦mixed",
     "recipe-not-accepted"),
    ("an off word of no output", "machine", "outputs: {M8: extraction}",
     "outputs: {M8: extraction}\noutputs-off: {¦M64: M65}", "recipe-contradiction",
     "none of the `outputs`"),
    ("an off word that does something else", "machine", "outputs: {M8: extraction}",
     "outputs: {M8: extraction}\noutputs-off: {M8: ¦M5}", "recipe-contradiction",
     "M5 would switch M8 off"),
    ("speeds that fall", "machine", "  control: by-hand",
     "  control: speed\n  ¦numbers: [[0, 0], [9, 24000], [8, 30000]]", "recipe-contradiction",
     "from [9, 24000] to [8, 30000]"),
    ("numbers for speeds that no S sets", "machine", "  control: by-hand",
     "  control: by-hand\n  ¦numbers: [[0, 0], [9, 24000]]", "recipe-contradiction",
     "S sets nothing"),
    ("a least above the most", "setup", "least: 17.6, most: 18.1", "least: 18.6, most: ¦18.1",
     "recipe-contradiction", "18.6 as the least and 18.1 as the most"),
    ("a pair above itself", "setup", "[28, 32]", "[32, ¦28]", "recipe-contradiction"),
    ("a clamp the wrong way round", "setup", "to: [20, 270]", "¦to: [20, 130]",
     "recipe-contradiction", "item 1 of `clamps`", "along Y: 230 to 130"),
    ("a safe height below a clamp", "setup", "safe-height: 25", "safe-height: ¦19",
     "recipe-contradiction", "the clamp `left` is 20 high"),
    ("a flute that goes into the collet", "setup", "stick-out: [28, 32]",
     "stick-out: [28, 32]\n  flute: ¦29", "recipe-contradiction", "stands out only 28"),
    # --- steps and card files -----------------------------------------------------------------
    ("a step that nobody offers", "recipe", "  - park", "  - ¦prak", "recipe-unknown-step",
     "did you mean `park`?", "known are: `home`, `park`, `pause`, `spindle`"),
    ("a step with options that nobody offers", "recipe", "spindle: {", "¦grind: {",
     "recipe-unknown-step", "there is no transform `grind`"),
    ("a step of a card file that nobody offers", "recipe", "steps: [home]", "steps: [¦hoem]",
     "recipe-unknown-step", "did you mean `home`?"),
    ("two card files of one name", "recipe", "- name: TOUCH\n    after: SETUP",
     "- name: ¦SETUP", "recipe-card-file", "two card files are called `SETUP`"),
    ("two card files that differ in case", "recipe", "- name: TOUCH\n    after: SETUP",
     "- name: ¦Setup", "recipe-card-file", "`SETUP` and `Setup` are one name on a card"),
    ("a card file after none", "recipe", "after: SETUP", "after: ¦SETUPS", "recipe-card-file",
     "did you mean `SETUP`?"),
    ("a card file after itself", "recipe", "after: SETUP", "after: ¦TOUCH", "recipe-card-file",
     "`TOUCH` after `TOUCH`"),
    ("card files in a circle", "recipe", "title: Home", "after: ¦TOUCH", "recipe-card-file",
     "`SETUP` after `TOUCH` after `SETUP`"),
    # --- files --------------------------------------------------------------------------------
    ("a machine file that is not there", "recipe", "machine: machine.yaml",
     "machine: ¦machina.yaml", "recipe-missing", "did you mean `machine.yaml`?"),
    ("a set-up file that is not there", "recipe", "setup: setup.yaml", "setup: ¦setups/lids.yaml",
     "recipe-missing", "there is no file"),
    ("a folder for a file", "recipe", "setup: setup.yaml", "setup: ¦.", "recipe-unreadable"),
    ("a parent that is not there", "recipe", "assume:", "extends: ¦base.yaml\nassume:",
     "recipe-missing"),
    ("a parent that is a list", "recipe", "assume:", "extends: ¦[a.yaml]\nassume:",
     "recipe-wrong-type", "the path of one recipe"),
    ("a parent that is itself", "recipe", "assume:", "extends: ¦recipe.yaml\nassume:",
     "recipe-extends-cycle"),
    ("a set-up where a machine belongs", "machine", "format: headrace-machine/1",
     "format: ¦headrace-setup/1", "recipe-format", "this file is a set-up"),
    ("a format of another version", "setup", "headrace-setup/1", "¦headrace-setup/2",
     "recipe-format-newer", "known here is `headrace-setup/1`"),
    ("a format of no version", "setup", "headrace-setup/1", "¦headrace-setup/one",
     "recipe-format", "reads `headrace-setup/1`"),
    ("a key of an older format", "recipe", "assume:", "¦plugins: [own.py]\nassume:",
     "recipe-unknown-key", "in headrace-recipe/2 `plugins` is called `python`"),
    ("a format that says nothing", "recipe", "headrace-recipe/2", "¦recipe", "recipe-format",
     "this must be a recipe", "write `format: headrace-recipe/2`"),
    ("no format", "setup", "format: headrace-setup/1\nname", "¦name", "recipe-format",
     "`format` is missing"),
    ("a misspelt format", "machine", "format:", "¦formt:", "recipe-format", "`formt`"),
    ("a format that is a list", "machine", "format: headrace-machine/1", "format: ¦[1]",
     "recipe-format"),
    ("a file that is a list", "setup", SETUP, "¦- 1\n", "recipe-wrong-type", "this is a list"),
    ("a file that is one value", "setup", SETUP, "¦lids\n", "recipe-wrong-type", "this is text"),
    ("a plugin above the recipe", "recipe", "assume:", "python: [¦../own.py]\nassume:",
     "recipe-plugin-path", "beside or below"),
    ("a plugin by its whole path", "recipe", "assume:", "python: [¦/opt/own.py]\nassume:",
     "recipe-plugin-path"),
    ("a plugin that is not there", "recipe", "assume:", "python:\n  - ¦own.py\nassume:",
     "recipe-missing", "there is no Python file"),
    ("a plugin that is not Python", "recipe", "assume:", "python: [¦own.txt]\nassume:",
     "recipe-not-accepted"),
)  # fmt: skip


def marked(text: str) -> tuple[str, int, int]:
    """The text without its mark, and the line and column of the mark, from 1."""
    before, _, after = text.partition(MARK)
    return before + after, before.count("\n") + 1, len(before.rpartition("\n")[2]) + 1


@pytest.mark.parametrize("slip", SLIPS, ids=lambda slip: slip.says)
def test_slip_is_one_finding_at_its_place(slip: Slip, workshop: Workshop) -> None:
    if slip.new == "¦@":
        text = "¦" + MACHINE.replace("dwell: milliseconds\n", "")
    else:
        assert TEXTS[slip.file].count(slip.old) == 1
        text = TEXTS[slip.file].replace(slip.old, slip.new)
    text, line, column = marked(text)
    path = workshop.write(f"{slip.file}.yaml", text)

    found = workshop.check()

    assert [finding.name for finding in found] == [slip.name]
    place = found[0].place
    assert place is not None
    assert (place.file, place.line, place.column) == (str(path), line, column)
    assert place.excerpt == text.splitlines()[line - 1]
    shown = render(found[0])
    for words in slip.words:
        assert words in shown
    assert "not valid under any" not in shown


def test_sayings_of_slips_are_unique() -> None:
    assert len({slip.says for slip in SLIPS}) == len(SLIPS)


def test_least_and_most_may_be_equal(workshop: Workshop) -> None:
    workshop.write("setup.yaml", SETUP.replace("[28, 32]", "[28, 28]"))

    assert workshop.check() == []


def test_long_names_may_have_a_long_extension(workshop: Workshop) -> None:
    text = MACHINE.replace("names: short, extension: NC", "names: long, extension: GCODE")
    workshop.write("machine.yaml", text)

    assert workshop.check() == []


@pytest.mark.parametrize("home_end", ["low", "high"])
def test_homed_number_in_the_middle_fits_both_ends(home_end: str, workshop: Workshop) -> None:
    old = "    home-end: low\n    homed-number: 0"
    new = f"    home-end: {home_end}\n    homed-number: 310"
    workshop.write("machine.yaml", MACHINE.replace(old, new))

    assert workshop.check() == []


@pytest.mark.parametrize(("homed", "sound"), [("-4", True), ("-4.1", False), ("3", True)])
def test_homed_number_may_be_a_back_off_and_a_margin_away(
    homed: str, sound: bool, workshop: Workshop
) -> None:
    new = f"    homed-number: {homed}\n    back-off: 3"
    workshop.write("machine.yaml", MACHINE.replace("    homed-number: 0", new))

    assert (workshop.check() == []) is sound


def test_sound_files_have_no_findings(workshop: Workshop) -> None:
    assert workshop.check() == []


def test_slips_in_all_files_are_told_together_in_order(workshop: Workshop) -> None:
    workshop.write("recipe.yaml", RECIPE.replace("  - park", "  - prak"))
    workshop.write("machine.yaml", MACHINE.replace("bed: 108", "bed: high"))
    workshop.write("setup.yaml", SETUP.replace("top: 20}", "top: -1}").replace("12.02", "0"))

    found = workshop.check()

    assert [(f.name, f.place.line if f.place else 0) for f in found] == [
        ("recipe-wrong-type", 12),
        ("recipe-out-of-bounds", 8),
        ("recipe-out-of-bounds", 18),
        ("recipe-unknown-step", 12),
    ]


def test_many_slips_are_counted_and_quick(workshop: Workshop) -> None:
    keys = "".join(f"key-{number}: 1\n" for number in range(3000))
    workshop.write("setup.yaml", SETUP + keys)

    found = workshop.check()

    assert len(found) == 21
    assert found[-1].name == "recipe-more-findings"
    assert "2980 more" in found[-1].what
    assert found[-1].place is not None
    assert found[-1].place.line == SETUP.count("\n") + 21


def test_many_unknown_steps_are_counted(workshop: Workshop) -> None:
    steps = "".join(f"  - step-{number}\n" for number in range(400))
    workshop.write("recipe.yaml", RECIPE.replace("  - park\n", steps))

    found = workshop.check()

    assert [f.name for f in found] == ["recipe-unknown-step"] * 20 + ["recipe-more-findings"]
