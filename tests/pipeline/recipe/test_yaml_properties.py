"""Reading against PyYAML's own reader and writer, on generated values."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import yaml
from hypothesis import example, given
from hypothesis import strategies as st

from headrace.errors import RecipeError
from headrace.findings import Finding
from headrace.recipe.document import parse_document
from headrace.recipe.node import plain
from headrace.recipe.scalar import Doubt, read_plain

HERE = Path("hive.yaml")


def read(text: str | bytes) -> tuple[Any, Finding | None]:
    """What is read, or the one finding that says why nothing is."""
    data = text.encode() if isinstance(text, str) else text
    try:
        return plain(parse_document(data, HERE).root), None
    except RecipeError as error:
        blank = [finding for finding in error.findings if finding.name == "recipe-no-value"]
        (finding,) = blank[:1] or error.findings  # blanks are told all at once, all else alone
        return None, finding


DOUBTS = ("recipe-ambiguous", "recipe-key", "recipe-alias", "recipe-several-lines")
VISIBLE = st.text(st.characters(codec="utf-8", exclude_categories=("C", "Zl", "Zp")), max_size=30)
SCALARS = (
    st.none()
    | st.booleans()
    | st.integers(-(10**15) + 1, 10**15 - 1)
    | st.decimals(-10_000, 10_000, places=3).map(float)
    | VISIBLE
)
VALUES = st.recursive(
    SCALARS,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(VISIBLE, inner, max_size=4),
    max_leaves=20,
)


@given(
    st.dictionaries(VISIBLE, VALUES, min_size=1, max_size=6), st.sampled_from([True, False, None])
)
@example({"y": ["n", "no", "1:30", "012", "1e3", "~", "", "=", "<<"]}, None)
@example({"a": -0.0, "b": 1e-05}, None)
def test_what_pyyaml_writes_is_read_back_equal_or_refused(
    data: dict[str, Any], flow: bool | None
) -> None:
    """Outside reference: PyYAML's safe_dump and safe_load."""
    text = yaml.safe_dump(data, default_flow_style=flow, allow_unicode=True, sort_keys=False)
    value, refusal = read(text)

    if refusal is None:
        assert value == yaml.safe_load(text) == data
    else:
        # The writer leaves `-.5`, `1e3` and the like without quotes, repeats values as aliases, and
        # folds long texts.
        assert refusal.name in DOUBTS, text


@given(st.dictionaries(VISIBLE, VALUES, min_size=1, max_size=4), st.sampled_from([None, 2]))
def test_json_is_always_read_as_json(data: dict[str, Any], indent: int | None) -> None:
    """Outside reference: Python's json. All its text is in quotes, so nothing is doubtful."""
    text = json.dumps(data, ensure_ascii=False, indent=indent)

    assert read(text) == (json.loads(text), None)


PIECES = st.sampled_from(
    ["0", "1", "9", "12", "_", ".", ":", "-", "+", "e", "E", "x", "o", "b", "inf", "nan", "NaN",
     "true", "True", "null", "Null", "~", "=", "yes", "no", "on", "Off", "y", "N", "f", "T", " "]
)  # fmt: skip


@given(st.lists(PIECES, min_size=1, max_size=6).map("".join).map(str.strip).filter(bool))
@example("0.")
@example("-.5")
@example("190:20:30.15")
@example("2001-12-14t21:59:43.10-05:00")
@example("0b")
@example("1._")
def test_plain_scalars_that_are_accepted_mean_the_same_to_pyyaml(text: str) -> None:
    """Outside reference: PyYAML's resolver and constructor, which follow YAML 1.1.

    It is not asked what YAML 1.1 would make of single letters, which PyYAML reads as text.
    """
    value = read_plain(text)
    if isinstance(value, Doubt):
        return
    tag = yaml.SafeLoader("").resolve(yaml.ScalarNode, text, (True, False))  # type: ignore[no-untyped-call]
    node = yaml.ScalarNode(tag, text)
    theirs = yaml.SafeLoader("").construct_object(node)

    assert value == theirs
    assert type(value) is type(theirs)


@given(st.from_regex(r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?", fullmatch=True))
def test_plain_scalars_that_yaml_1_2_reads_as_numbers_are_never_text(text: str) -> None:
    """YAML 1.2.2, 10.3.2, core schema, the pattern for floating point numbers (from memory)."""
    value = read_plain(text)

    assert not isinstance(value, str)
    if not isinstance(value, Doubt):
        assert value == float(text)


@given(st.binary(max_size=200))
def test_any_bytes_are_read_or_refused(data: bytes) -> None:
    value, refusal = read(data)

    assert refusal is None or (value is None and refusal.place is not None)


@given(
    st.lists(
        st.sampled_from(
            [
                *("a", "b: ", "- ", "[", "]", "{", "}", ", ", "\n", "  ", "\t", "'", '"', "\\"),
                *("#", "&x ", "*x", "!", "|", ">", "%", "@", "? ", ": ", "---\n", "...\n"),
                *("<<: ", "1", "no", "é", "🐝"),
            ]
        ),
        max_size=25,
    ).map("".join)
)  # fmt: skip
def test_any_mixture_of_signs_is_read_as_pyyaml_does_or_refused(text: str) -> None:
    """Outside reference: PyYAML's loader on the same C reader."""
    value, refusal = read(text)

    if refusal is None:
        assert value == yaml.load(text, Loader=yaml.CSafeLoader)
    else:
        assert refusal.place is not None
        assert 1 <= refusal.place.line <= text.count("\n") + 1
        assert "while " not in refusal.what
