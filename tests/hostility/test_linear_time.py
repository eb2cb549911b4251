"""No input makes a reader slow out of all proportion to its size."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hostility.scaling import (
    READERS,
    YAML_READERS,
    Reader,
    pattern_reader,
    patterns,
    seconds,
    worst_doubling,
)
from hostility.shapes import JOB_SHAPES, MANY_LINES, YAML_SHAPES

try:
    from re import _parser as sre_parser  # type: ignore[attr-defined]
except ImportError:
    import sre_parse as sre_parser

ROOTS = [Path(__file__).parents[2] / name for name in ("pipeline", "plugins")]
SMALL, LARGE = 1 << 11, 1 << 14
QUADRATIC = 3.0
"""A doubling of the size takes twice the time when time is linear and four times when quadratic."""


def assert_linear(reader: Reader, shape: str, small: bytes, large: bytes) -> None:
    """What seems to grow too fast is measured again, more often, before it is called so."""
    sizes = (len(small), len(large))
    for times in (1, 3, 8):
        spent = [seconds(reader, small, times), seconds(reader, large, times)]
        worst = worst_doubling(sizes, spent)
        if worst < QUADRATIC:
            return
    pytest.fail(f"{shape}: {worst:.2f} times for a doubling, {spent} s for {sizes} bytes")


@pytest.mark.parametrize("name", READERS)
def test_readers_of_jobs(name: str) -> None:
    """Steps look at one line after the other: one long line tells nothing that the patterns and
    the grammar do not."""
    shapes = MANY_LINES if name.startswith(("the step", "a job")) else list(JOB_SHAPES)
    large = LARGE // 2 if name.startswith("a job") else LARGE
    for shape in shapes:
        make = JOB_SHAPES[shape]
        assert_linear(READERS[name], shape, make(SMALL), make(large))


@pytest.mark.parametrize("name", YAML_READERS)
def test_readers_of_recipes(name: str) -> None:
    for shape, make in YAML_SHAPES.items():
        assert_linear(YAML_READERS[name], shape, make(SMALL), make(LARGE))


def test_patterns() -> None:
    found = list(patterns())
    assert len(found) > 20
    for module, pattern in found:
        for shape, make in JOB_SHAPES.items():
            reader = pattern_reader(module, pattern)
            assert_linear(reader, f"{module} {shape}", make(SMALL), make(LARGE))


# --- what the source may not hold -------------------------------------------------------------


def written_patterns() -> Iterator[tuple[str, str]]:
    """Every text of the source that is handed to a function of `re`, with its place."""
    for root in ROOTS:
        for path in sorted(root.rglob("*.py")):
            for node in ast.walk(ast.parse(path.read_text("utf-8"))):
                if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute)):
                    continue
                owner = node.func.value
                if not (isinstance(owner, ast.Name) and owner.id == "re" and node.args):
                    continue
                if isinstance(node.args[0], ast.Constant):
                    text = node.args[0].value
                    spelt = text.decode("latin-1") if isinstance(text, bytes) else text
                    yield f"{path.name}:{node.lineno}", spelt


def nested(parsed: Any, inside: bool = False) -> bool:
    """Whether an endless repeat holds another that can give characters back.

    Such a pair can share the same characters between them in many ways, and a text that fits
    nearly is tried in all of them. Possessive repeats and atomic groups give nothing back.
    """
    for operation, value in parsed:
        name = str(operation)
        if name in ("MAX_REPEAT", "MIN_REPEAT", "POSSESSIVE_REPEAT"):
            _, most, body = value
            endless = most is sre_parser.MAXREPEAT
            gives_back = name != "POSSESSIVE_REPEAT"
            if inside and endless and gives_back:
                return True
            if nested(body, (inside or endless) if gives_back else endless):
                return True
        elif name == "ATOMIC_GROUP":
            if nested(value, False):
                return True
        elif name == "SUBPATTERN":
            if nested(value[-1], inside):
                return True
        elif name == "BRANCH":
            if any(nested(branch, inside) for branch in value[1]):
                return True
        elif name in ("ASSERT", "ASSERT_NOT") and nested(value[1], inside):
            return True
    return False


@pytest.mark.parametrize(
    ("pattern", "is_nested"),
    [
        ("(a+)+$", True), ("(?:a|b*)*", True), ("(?:(?:a{2,})?x)+", True), ("(?=(?:a*b)*)", True),
        ("(?:a++b)*+", False), ("(?:a?b)+", False), ("(?:a{0,3}b)*", False), ("a*b*", False),
        ("(?:(?>a*)b)*", False), ("(?:a*b)*+", True),
    ],
)  # fmt: skip
def test_nested_repeats_are_seen(pattern: str, is_nested: bool) -> None:
    assert nested(sre_parser.parse(pattern)) is is_nested


def test_no_pattern_has_nested_repeats() -> None:
    written = dict(written_patterns())
    held = {f"{module}: {p.pattern!r}": p.pattern for module, p in patterns()}
    assert len(written) > 20
    assert len(held) > 20
    for place, pattern in (written | held).items():
        text = pattern.decode("latin-1") if isinstance(pattern, bytes) else pattern
        re.compile(text)
        assert not nested(sre_parser.parse(text)), place
