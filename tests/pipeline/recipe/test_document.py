"""Reading YAML: what is accepted, what is refused, and where."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
import yaml

from headrace.errors import RecipeError
from headrace.findings import Finding
from headrace.recipe.document import (
    MOST_BLANKS,
    MOST_VALUES,
    Document,
    parse_document,
    read_document,
)
from headrace.recipe.node import find, key_place_at, place_at, plain
from headrace.recipe.source_text import MOST_BYTES

HERE = Path("hive.yaml")


def read(text: str) -> Document:
    return parse_document(text.encode(), HERE)


def refusal(text: str | bytes) -> Finding:
    data = text if isinstance(text, bytes) else text.encode()
    with pytest.raises(RecipeError) as caught:
        parse_document(data, HERE)
    assert len(caught.value.findings) == 1
    return caught.value.findings[0]


ACCEPTED = [
    ("keys that some readers take for truth values", "x: 1\ny: 2\nn: 3", {"x": 1, "y": 2, "n": 3}),
    ("an axis letter as a value", "[[z], [x, y]]", [["z"], ["x", "y"]]),
    ("the three words", "[true, false, null]", [True, False, None]),
    ("numbers in every accepted form", "[0, -5, +5, 0.5, .5, 5., -0.25]",
     [0, -5, 5, 0.5, 0.5, 5.0, -0.25]),
    ("a minus zero that loses its sign", "[-0.0, -0]", [0.0, 0]),
    ("doubtful words in quotes", "['no', \"1:30\", '012', '1e3', '']",
     ["no", "1:30", "012", "1e3", ""]),
    ("text that begins like a number", "[12mm, 1/2, 3.1.4, M8, 9 birch, G38.2, 1:99, 2026-03]",
     ["12mm", "1/2", "3.1.4", "M8", "9 birch", "G38.2", "1:99", "2026-03"]),
    ("words that hold doubtful words", "[nobody, one, offcut, yes!, nulls, Trueman]",
     ["nobody", "one", "offcut", "yes!", "nulls", "Trueman"]),
    ("text over several lines", "a: |\n  no\n  \t012\nb: >\n  one\n  two\nc: 'one\n  two'",
     {"a": "no\n\t012\n", "b": "one two\n", "c": "one two"}),
    ("a tab that separates", "a:\t1\t# note", {"a": 1}),
    ("an end of the document", "a: 1\n...\n", {"a": 1}),
    ("a start of the document", "---\na: 1\n", {"a": 1}),
    ("line ends of every system", "a: 1\r\nb: 2\rc: 3\n", {"a": 1, "b": 2, "c": 3}),
    ("a key written out in full", "? a\n: b", {"a": "b"}),
    ("letters of any language", "Bienenkästen: Beuten 🐝", {"Bienenkästen": "Beuten 🐝"}),
    ("fifteen digits", "a: 0.12345678901234", {"a": 0.12345678901234}),
    ("empty collections", "{a: {}, b: []}", {"a": {}, "b": []}),
    ("a merge sign that is quoted", '"<<": 1', {"<<": 1}),
]  # fmt: skip


@pytest.mark.parametrize(("text", "value"), [row[1:] for row in ACCEPTED],
                         ids=[row[0] for row in ACCEPTED])  # fmt: skip
def test_accepted_text_has_one_meaning(text: str, value: object) -> None:
    got = plain(read(text).root)

    assert got == value
    assert repr(got) == repr(value)


REFUSED = [
    # Values that YAML 1.1 and YAML 1.2 read differently.
    *((f"the word {word}", f"a: {word}", "recipe-ambiguous", 1, 4)
      for word in ("no", "No", "NO", "yes", "Yes", "YES", "on", "On", "ON", "off", "Off", "OFF",
                   "True", "TRUE", "False", "FALSE", "~", "Null", "NULL")),
    ("a number to the base of sixty", "a: 1:30", "recipe-ambiguous", 1, 4),
    ("a number to the base of sixty with a fraction", "a: -1:30.5", "recipe-ambiguous", 1, 4),
    ("a leading zero", "a: 012", "recipe-ambiguous", 1, 4),
    ("a leading zero before a nine", "a: 09", "recipe-ambiguous", 1, 4),
    ("a leading zero before a point", "a: 00.5", "recipe-ambiguous", 1, 4),
    ("an octal number", "a: 0o17", "recipe-ambiguous", 1, 4),
    ("a hexadecimal number", "a: 0x1F", "recipe-ambiguous", 1, 4),
    ("a binary number", "a: 0b101", "recipe-ambiguous", 1, 4),
    ("an exponent", "a: 1e3", "recipe-ambiguous", 1, 4),
    ("an exponent with sign and fraction", "a: -1.5E+3", "recipe-ambiguous", 1, 4),
    ("a minus before a bare point", "a: -.5", "recipe-ambiguous", 1, 4),
        ("digits in groups", "a: 1_000", "recipe-ambiguous", 1, 4),
    ("a fraction in groups", "a: .1_0", "recipe-ambiguous", 1, 4),
    ("infinity", "a: .inf", "recipe-ambiguous", 1, 4),
    ("minus infinity", "a: -.INF", "recipe-ambiguous", 1, 4),
    ("no number", "a: .nan", "recipe-ambiguous", 1, 4),
    ("a date", "a: 2026-03-01", "recipe-ambiguous", 1, 4),
    ("a date with a time", "a: 2026-03-01 12:00:00", "recipe-ambiguous", 1, 4),
    ("a lone equals sign", "a: =", "recipe-ambiguous", 1, 4),
    ("a doubtful word in a list", "- 1\n- [2, no]", "recipe-ambiguous", 2, 7),
    ("a number of too many digits", "a: 1234567890123456", "recipe-number", 1, 4),
    # Keys.
    ("a key that is a number", "a: 1\n12: 2", "recipe-key", 2, 1),
    ("a key that is a truth value", "true: 2", "recipe-key", 1, 1),
    ("a key that is doubtful", "no: 2", "recipe-key", 1, 1),
    ("a key that is a list", "[a]: 2", "recipe-key", 1, 1),
    ("a key that is a mapping", "? {a: 1}\n: 2", "recipe-key", 1, 3),
    ("a key that is not there", "?\n: 2", "recipe-key", 1, 2),
        ("a key that is not there on its line", "a: 1\n: 2", "recipe-syntax", 2, 1),
    ("a line swallowed by the text above", "- text: ON\n    - park", "recipe-several-lines", 2, 5),
    ("a key that stands twice", "a: 1\nb: 2\na: 3", "recipe-duplicate-key", 3, 1),
    ("a key that stands twice in braces", "k: {a: 1, b: 2, 'a': 3}", "recipe-duplicate-key", 1, 17),
    ("a merge key", "a: 1\n<<: {b: 2}", "recipe-merge-key", 2, 1),
    # What makes values depend on others, or changes how they are read.
    ("an anchor", "a: &one 1", "recipe-alias", 1, 4),
    ("an anchor on a mapping", "a: &one\n  b: 1", "recipe-alias", 1, 4),
    ("an anchor on a key", "&one a: 1", "recipe-alias", 1, 1),
    ("an alias", "a: 1\nb: *one", "recipe-alias", 2, 4),
    ("a tag", "a: !!str 1", "recipe-tag", 1, 4),
    ("a tag of one's own", "a: !wood oak", "recipe-tag", 1, 4),
    ("a tag on a list", "a: !!set [1]", "recipe-tag", 1, 4),
    ("a lone exclamation mark", "a: ! 1", "recipe-tag", 1, 4),
    ("a version directive", "%YAML 1.2\n---\na: 1", "recipe-tag", 1, 1),
    ("a tag directive", "%TAG !b! tag:bees,2026:\n---\na: 1", "recipe-tag", 1, 1),
    ("an unknown directive", "%BEES\n---\na: 1", "recipe-syntax", 1, 6),
    # Shape.
    ("nothing", "", "recipe-empty", 1, 1),
    ("nothing but blanks", "  \n\n", "recipe-empty", 1, 1),
    ("nothing but a comment", "# oak\n", "recipe-empty", 1, 1),
    ("an empty document", "---\n...\n", "recipe-empty", 2, 1),
    ("a second document", "a: 1\n---\nb: 2", "recipe-documents", 2, 1),
    ("a key without a value", "a:\nb: 1", "recipe-no-value", 1, 1),
    ("a key without a value at the end", "b: 1\nsteps:\n", "recipe-no-value", 2, 1),
    ("an item without a value", "- 1\n-\n- 2", "recipe-no-value", 2, 2),
    ("a key without a value in braces", "a: {b, c: 1}", "recipe-no-value", 1, 5),
    ("thirty-three levels", "[" * 33 + "]" * 33, "recipe-too-deep", 1, 33),
    # Indentation and syntax.
    ("a tab before a key", "a:\n\tb: 1", "recipe-tab", 2, 1),
    ("a tab after blanks", "a:\n  b:\n  \t- 1", "recipe-tab", 3, 3),
    ("a tab in brackets", "a: [\n\t1]", "recipe-tab", 2, 1),
    ("two colons on a line", "a: b: c", "recipe-syntax", 1, 5),
    ("a line indented too far", "a: 1\n\n  b: 2", "recipe-several-lines", 3, 3),
    ("a line indented too little", "a:\n   b: 1\n  c: 2", "recipe-syntax", 3, 3),
    ("a list and a mapping mixed", "- a\nb: 1", "recipe-syntax", 2, 1),
    ("a list on the line of its key", "a: - 1", "recipe-syntax", 1, 4),
    ("a colon without a blank", "a:1\nb: 2", "recipe-several-lines", 2, 1),
    ("a colon too many behind quotes", "a: 'b': c", "recipe-syntax", 1, 7),
    ("a bracket that is never closed", "b: 1\na: [1,\n  2\n", "recipe-syntax", 2, 4),
    ("a bracket closed by a brace", "a: [1, 2}", "recipe-syntax", 1, 9),
    ("a brace that is never closed", "a: {b: 1\n", "recipe-syntax", 1, 4),
    ("a closing brace alone", "a: }", "recipe-syntax", 1, 4),
    ("a quote that is never closed", "a: 'one\nb: two\n", "recipe-syntax", 1, 4),
    ("a double quote that is never closed", 'a: "one', "recipe-syntax", 1, 4),
    ("text behind a closing quote", "a: 'one' two", "recipe-syntax", 1, 10),
    ("an escape that there is not", 'a: "C:\\wax"', "recipe-syntax", 1, 7),
        ("an escape by mistake", 'a: "C:\\bees"', "recipe-character", 1, 4),
    ("an escape to half a character", 'a: "\\ud800"', "recipe-syntax", 1, 7),
    ("an escape beyond all characters", 'a: "\\U00110000"', "recipe-syntax", 1, 7),
    ("a value that begins with an at sign", "a: @home", "recipe-syntax", 1, 4),
    ("a value that begins with a backtick", "a: `home`", "recipe-syntax", 1, 4),
    ("a value that begins with a percent sign", "a: %", "recipe-syntax", 1, 4),
    ("text behind the whole", "[1] oak", "recipe-syntax", 1, 5),
    ("a tag that is never closed", "a: !<oak", "recipe-syntax", 1, 9),
    ("a lone asterisk", "a: * b", "recipe-syntax", 1, 5),
    ("text behind a block sign", "a: >oak\n  b", "recipe-syntax", 1, 5),
    # Characters.
    ("a zero byte", "a: 1\nb: \x00", "recipe-character", 2, 4),
    ("an escaped zero byte", 'a: "b\\0"', "recipe-character", 1, 4),
    ("an escaped control character in a key", '"a\\e": 1', "recipe-character", 1, 1),
    ("a bell", "# \x07", "recipe-character", 1, 3),
    ("a mark that turns text round", "a: 1 # \u202e 2", "recipe-character", 1, 8),
    ("an isolate that turns text round", "a: \u2067b", "recipe-character", 1, 4),
    ("a blank without width", "a\u200b: 1", "recipe-character", 1, 2),
    ("a line separator", "a: 1\u2028b: 2", "recipe-character", 1, 5),
    ("a next-line character", "a: 1\x85b: 2", "recipe-character", 1, 5),
    ("a byte order mark inside", "a: \ufeff1", "recipe-character", 1, 4),
    ("a byte order mark twice", "\ufeff\ufeffa: 1", "recipe-character", 1, 1),
    ("a character that is none", "a: \uffff", "recipe-character", 1, 4),
    ("a doubtful word after wide letters", "k: {Völker 🐝: no}", "recipe-ambiguous", 1, 15),
]  # fmt: skip


def refusals(text: str) -> list[Finding]:
    with pytest.raises(RecipeError) as caught:
        parse_document(text.encode(), HERE)
    return list(caught.value.findings)


FORM = """\
sheet:
  thickness:  # by callipers
  size: [1, 2]
clamps:
  - {name: oak, top: }
  -
tool:
"""


def test_what_is_blank_is_told_all_at_once() -> None:
    """A form that waits to be filled in; PyYAML says which of its values are blank."""
    events = list(yaml.parse(FORM))
    blank = [event.start_mark.line + 1 for event in events if getattr(event, "value", 1) == ""]
    found = refusals(FORM)

    assert [f.place.line for f in found if f.place] == blank
    assert {f.name for f in found} == {"recipe-no-value"}
    assert [f.what for f in found] == [
        "`sheet.thickness` has no value",
        "`clamps.top` has no value",
        "an item of the list is empty",
        "`tool` has no value",
    ]


def test_any_other_fault_is_told_alone() -> None:
    """It may be what makes a value look blank."""
    assert [f.name for f in refusals("a:\nb: [1\n")] == ["recipe-syntax"]
    assert [f.name for f in refusals("a:\nb: no\nc:\n")] == ["recipe-ambiguous"]


def test_a_file_full_of_blanks_is_told_of_in_part() -> None:
    text = "".join(f"key{number}:\n" for number in range(1000))

    assert len(refusals(text)) == MOST_BLANKS


@pytest.mark.parametrize(("text", "name", "line", "column"), [row[1:] for row in REFUSED],
                         ids=[row[0] for row in REFUSED])  # fmt: skip
def test_refused_text_has_a_place(text: str, name: str, line: int, column: int) -> None:
    found = refusal(text)

    assert found.name == name
    assert found.place is not None
    assert (found.place.line, found.place.column) == (line, column)
    assert found.place.file == "hive.yaml"
    assert found.why
    assert found.remedy
    assert "while parsing" not in found.what
    assert "while scanning" not in found.what


@pytest.mark.parametrize(
    ("data", "line", "column"),
    [
        (b"a: 1\nb: \xe9t\xe9", 2, 4),
        (b"\xef\xbb\xbfa: \xff", 1, 4),
        ("ä: ".encode() + b"\xc3", 1, 4),
        ("a: 1\n".encode("utf-16"), 1, 1),
    ],
    ids=["a letter of one byte", "after a byte order mark", "half a letter", "two-byte letters"],
)
def test_bytes_that_are_no_utf8_have_a_place(data: bytes, line: int, column: int) -> None:
    found = refusal(data)

    assert found.name == "recipe-encoding"
    assert found.place is not None
    assert (found.place.line, found.place.column) == (line, column)


def test_byte_order_mark_does_not_move_columns() -> None:
    assert plain(read("\ufeffa: 1").root) == {"a": 1}
    found = refusal("\ufeffa: no")
    assert found.place is not None
    assert found.place.column == 4


def test_every_value_and_key_has_its_place() -> None:
    root = read("axes:\n  x:\n    travel: [0, -12.5]\n  - ".removesuffix("  - ")).root

    travel = place_at(root, ("axes", "x", "travel", 1))
    assert (travel.line, travel.column, travel.length) == (3, 17, 5)
    assert travel.excerpt == "    travel: [0, -12.5]"
    key = key_place_at(root, ("axes", "x"))
    assert (key.line, key.column, key.length) == (2, 3, 1)
    assert key_place_at(root, ("axes", "x", "travel", 0)).column == 14
    assert key_place_at(root, ()).line == 1


def test_place_of_what_is_not_there_is_the_nearest_above() -> None:
    root = read("axes:\n  x: [1]").root

    assert place_at(root, ("axes", "x", 7)) == place_at(root, ("axes", "x"))
    assert place_at(root, ("axes", "y", "travel")) == place_at(root, ("axes",))
    assert key_place_at(root, ("axes", "y")) == place_at(root, ("axes",))


def test_positions_in_lists_count_from_the_front_only() -> None:
    root = read("[1, 2]").root

    assert find(root, (1,)) is not None
    assert find(root, (-1,)) is None
    assert find(root, (2,)) is None
    assert find(root, ("a",)) is None


def test_largest_file_is_accepted() -> None:
    data = b"a: 1\n#" + b"-" * (MOST_BYTES - 6)

    assert len(data) == MOST_BYTES
    assert plain(parse_document(data, HERE).root) == {"a": 1}
    assert refusal(data + b"-").name == "recipe-too-large"


def test_most_values_are_accepted_and_the_next_has_a_place() -> None:
    text = "- 1\n" * (MOST_VALUES - 1)

    assert len(plain(read(text).root)) == MOST_VALUES - 1
    found = refusal(text + "- 1\n")
    assert found.name == "recipe-too-large"
    assert str(found.place) == f"hive.yaml:{MOST_VALUES}:3"


def test_value_over_several_lines_is_marked_to_the_end_of_its_first() -> None:
    place = place_at(read("a: 'one\n  two'").root, ("a",))

    assert (place.line, place.column, place.length) == (1, 4, 4)


def test_first_place_of_a_key_that_stands_twice_is_told() -> None:
    assert "the first is in line 1" in refusal("a: 1\nb: 2\na: 3").what


def test_values_that_are_refused_say_what_to_write() -> None:
    assert "write `false`" in refusal("a: no").remedy
    assert "write `true`" in refusal("a: Yes").remedy
    assert "write `null`" in refusal("a: ~").remedy
    assert "quotes" in refusal("a: 1:30").remedy
    assert "further" in refusal("steps:\n  - spindle:\n    speed: 1").remedy


def test_lines_of_the_document_are_kept() -> None:
    assert read("a: 1\r\n# two\nb: 2").lines == ("a: 1", "# two", "b: 2")


def test_reader_without_its_fast_part_gives_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    """PyYAML comes with a reader in C or without it; both must give the same values and places."""
    texts = [text for _, text, _ in ACCEPTED if "\t" not in text]
    with_c = [read(text) for text in texts]
    monkeypatch.delattr(yaml, "CSafeLoader", raising=False)

    assert [read(text) for text in texts] == with_c
    for _, text, name, _, _ in REFUSED:
        if name not in ("recipe-syntax", "recipe-tab"):
            assert refusal(text).name == name, text


@pytest.mark.parametrize(
    "row", [row for row in REFUSED if row[2] in ("recipe-syntax", "recipe-tab")],
    ids=lambda row: row[0],
)  # fmt: skip
def test_reader_without_its_fast_part_refuses_bad_syntax_too(
    row: tuple[str, str, str, int, int], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Places may differ by a little, as the two readers give up at different characters."""
    monkeypatch.delattr(yaml, "CSafeLoader", raising=False)
    found = refusal(row[1])

    assert found.name in ("recipe-syntax", "recipe-tab", "recipe-tag", "recipe-character")
    assert found.place is not None
    assert "while parsing" not in found.what


def test_file_is_read_from_disk(tmp_path: Path) -> None:
    path = tmp_path / "hive.yaml"
    path.write_bytes(b"a: 1\n")

    document = read_document(path)

    assert document.path == path
    assert plain(document.root) == {"a": 1}


@pytest.mark.parametrize(
    ("make", "name"),
    [
        (lambda _: None, "recipe-missing"),
        (lambda path: path.mkdir(), "recipe-unreadable"),
        (lambda path: os.mkfifo(path), "recipe-unreadable"),
        (lambda path: path.symlink_to("/dev/zero"), "recipe-unreadable"),
        (lambda path: path.symlink_to(path), "recipe-unreadable"),
        (lambda path: path.write_bytes(b"a" * 1_000_001), "recipe-too-large"),
    ],
    ids=["absent", "a folder", "a pipe", "an endless device", "a link to itself", "too large"],
)
def test_what_is_no_ordinary_file_is_refused(make: object, name: str, tmp_path: Path) -> None:
    path = tmp_path / "hive.yaml"
    make(path)  # type: ignore[operator]

    with pytest.raises(RecipeError) as caught:
        read_document(path)

    assert [finding.name for finding in caught.value.findings] == [name]
    assert str(path) in caught.value.message


def test_impossible_file_name_is_refused() -> None:
    with pytest.raises(RecipeError) as caught:
        read_document(Path("hive\0.yaml"))

    assert caught.value.findings[0].name == "recipe-unreadable"
