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
}  # fmt: skip


@pytest.mark.parametrize("case", HOSTILE.values(), ids=HOSTILE.keys())
def test_hostile_yaml_is_refused_at_once(
    case: tuple[bytes, str | None, int | None, int | None],
) -> None:
    data, name, line, column = case

    began = time.perf_counter()
    with pytest.raises(RecipeError) as caught:
        parse_document(data, Path("hive.yaml"))
    took = time.perf_counter() - began

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
    began = time.perf_counter()
    parse_document(f"a: {value}".encode(), Path("hive.yaml"))
    took = time.perf_counter() - began

    assert took < 0.8


def test_recipe_full_of_faults_is_refused_at_once(workshop: Workshop) -> None:
    options = "".join(f"      option-{number}: {number}\n" for number in range(2000))
    steps = "".join(f"  - {{spindel-{number}: {{}}}}\n" for number in range(450))
    workshop.write(
        "recipe.yaml",
        RECIPE.replace("      text: EXTRACTION ON\n", options).replace("  - park\n", steps),
    )

    began = time.perf_counter()
    found = check_recipe(workshop.recipe, workshop.registry)
    took = time.perf_counter() - began

    assert found
    assert took < 1.0
