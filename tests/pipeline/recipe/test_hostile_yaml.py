"""Files that are made to exhaust a reader: each is refused at once, with a place."""

from __future__ import annotations

import time
from pathlib import Path

import pytest
from pipeline.recipe.workshop import RECIPE, Workshop

from headrace.errors import RecipeError
from headrace.recipe import check_recipe
from headrace.recipe.document import parse_document

BOMB = b"a: &a [x, x, x, x, x, x, x, x, x]\n" + b"".join(
    b"%c: &%c [%s]\n" % (new, new, b", ".join([b"*%c" % old] * 9))
    for old, new in zip(b"abcdefgh", b"bcdefghi", strict=True)
)
HOSTILE = {
    "an alias bomb": (BOMB, "recipe-alias", 1, 4),
    "an alias to its own list": (b"a: &a [*a]", "recipe-alias", 1, 4),
    "20,000 brackets": (b"[" * 20_000, "recipe-too-deep", 1, None),
    "20,000 brackets that are closed": (b"[" * 20_000 + b"]" * 20_000, "recipe-too-deep", 1, None),
    "20,000 braces with keys": (b"{a: " * 20_000, "recipe-too-deep", 1, 129),
    "20,000 dashes": (b"- " * 20_000 + b"1", "recipe-too-deep", 1, 65),
    "20,000 question marks": (b"? " * 20_000 + b"1", "recipe-key", 1, 3),
    "1,300 steps of indentation": (
        b"".join(b" " * depth + b"a:\n" for depth in range(1300)), "recipe-too-deep", 33, 33),
    "a value of 10 MB": (b"a: " + b"x" * 10_000_000, "recipe-too-large", 1, 1),
    "a number of 900,000 digits": (b"a: " + b"9" * 900_000, "recipe-number", 1, 4),
    "100,000 keys": (
        b"".join(b"k%d: 1\n" % n for n in range(100_000)), "recipe-too-large", None, None),
    "100,000 items": (b"[" + b"1, " * 100_000 + b"1]", "recipe-too-large", 1, None),
    "100,000 times the same key": (b"a: 1\n" * 100_000, "recipe-duplicate-key", 2, 1),
    "100,000 documents": (b"--- 1\n" * 100_000, "recipe-documents", 2, 1),
    "a tag that builds an object": (b"!!python/object/apply:os.getcwd []", "recipe-tag", 1, 1),
    "a merge of a bomb": (b"a: {<<: [{b: 1}]}", "recipe-merge-key", 1, 5),
    "zero bytes": (b"\0" * 900_000, "recipe-character", 1, 1),
    "nothing but comments": (b"#" * 900_000, "recipe-empty", 1, 1),
    "nothing but line ends": (b"\n" * 900_000, "recipe-empty", 1, 1),
    "900,000 opening quotes": (b"'" * 900_001, "recipe-syntax", 1, 1),
    "900,000 ampersands": (b"&" * 900_000, "recipe-syntax", 1, None),
    "900,000 exclamation marks": (b"!" * 900_000, "recipe-tag", 1, None),
    "900,000 percent signs": (b"%" * 900_000, "recipe-syntax", 1, None),
    "900,000 colons": (b": " * 450_000, None, 1, None),
    "10 MB of keys": (b"key: value\n" * 1_000_000, "recipe-too-large", 1, 1),
    "text that runs right to left": ("a: 1\nb: x\u202ey".encode(), "recipe-character", 2, 5),
    "an isolate that is never ended": ("a: \u2066x".encode(), "recipe-character", 1, 4),
    "an escape that turns text round": (b'a: "\\u202ex"', "recipe-character", 1, 4),
    "an escape that moves a cursor": (b'a: "\\x1b[2J"', "recipe-character", 1, 4),
    "half a character by escape": (b'a: "\\ud800"', None, 1, None),
    "a byte order mark in the middle": (b"a: 1\n\xef\xbb\xbfb: 2", "recipe-character", 2, 1),
    "two byte order marks": (b"\xef\xbb\xbf" * 2 + b"a: 1", "recipe-character", 1, 1),
    "a byte order mark and nothing": (b"\xef\xbb\xbf", "recipe-empty", 1, 1),
    "two-byte characters": ("a: 1".encode("utf-16"), "recipe-encoding", 1, 1),
    "a separator of lines": ("a: 1\u2028b: 2".encode(), "recipe-character", 1, 5),
    "a NUL in a value": (b"a: 1\nb: x\0y", "recipe-character", 2, 5),
    "a number of 5,000 digits": (b"a: " + b"9" * 5000, "recipe-number", 1, 4),
    "a number beyond all doubles": (b"a: 1e400", "recipe-ambiguous", 1, 4),
    "not a number": (b"a: .nan", "recipe-ambiguous", 1, 4),
    "an endless number": (b"a: -.inf", "recipe-ambiguous", 1, 4),
    "time of day or sixties": (b"a: 1:30", "recipe-ambiguous", 1, 4),
    "octal or decimal": (b"a: 012", "recipe-ambiguous", 1, 4),
    "a key that is a truth": (b"no: 1", "recipe-key", 1, 1),
    "an anchor that nobody uses": (b"a: &b 1", "recipe-alias", 1, 4),
    "an anchor on a key": (b"&a b: 1", "recipe-alias", 1, None),
    "a tag on a key": (b"!a b: 1", "recipe-tag", 1, None),
    "a merge of an alias": (b"a: &a {x: 1}\nb: {<<: *a}", "recipe-alias", 1, 4),
    "a directive": (b"%TAG ! tag:hive,2000:\n---\na: 1", "recipe-tag", 1, 1),
    "another version": (b"%YAML 9.9\n---\na: 1", None, 1, 1),
    "a document that is ended": (b"a: 1\n...\nb: 2", "recipe-syntax", 3, None),
    "the same key in brackets": (b"a: {b: 1, b: 2}", "recipe-duplicate-key", 1, 11),
    "the same key, quoted": (b"a: 1\n'a': 2", "recipe-duplicate-key", 2, 1),
    "400,000 blanks before a tab": (b"a:\n" + b" " * 400_000 + b"\tb: 1", None, 2, None),
    "a block of 300,000 lines": (b"a: |\n" + b" x\n" * 300_000 + b"b", None, None, None),
}  # fmt: skip


@pytest.mark.parametrize("case", HOSTILE.values(), ids=HOSTILE.keys())
def test_hostile_yaml_is_refused_at_once(
    case: tuple[bytes, str | None, int | None, int | None],
) -> None:
    data, name, line, column = case

    began = time.process_time()
    with pytest.raises(RecipeError) as caught:
        parse_document(data, Path("hive.yaml"))
    took = time.process_time() - began

    (found,) = caught.value.findings
    assert name in (None, found.name)
    assert found.place is not None
    assert line in (None, found.place.line)
    assert column in (None, found.place.column)
    assert took < 0.8


@pytest.mark.parametrize(
    "value",
    ["1_" * 200_000 + "x", "1" + ":1" * 200_000 + "z", "1" + "e" * 400_000, "-" + "." * 400_000,
     "2026-01-01 " + " " * 400_000 + "x", "0b" + "_" * 400_000 + "g"],
    ids=["underscores", "colons", "exponents", "points", "a date", "a binary number"],
)  # fmt: skip
def test_reading_of_long_values_takes_linear_time(value: str) -> None:
    began = time.process_time()
    parse_document(f"a: {value}".encode(), Path("hive.yaml"))
    took = time.process_time() - began

    assert took < 0.8


def test_recipe_full_of_faults_is_refused_at_once(workshop: Workshop) -> None:
    options = "".join(f"      option-{number}: {number}\n" for number in range(2000))
    steps = "".join(f"  - {{spindel-{number}: {{}}}}\n" for number in range(450))
    workshop.write(
        "recipe.yaml",
        RECIPE.replace("      text: EXTRACTION ON\n", options).replace("  - park\n", steps),
    )

    began = time.process_time()
    found = check_recipe(workshop.recipe, workshop.registry)
    took = time.process_time() - began

    assert found
    assert took < 1.0
