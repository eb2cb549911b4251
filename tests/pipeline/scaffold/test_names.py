"""Names of transforms. Outside references: Python's own `keyword` and `ast`, its list of standard
modules, and PEP 8 (module names are short, lower-case, with underscores)."""

from __future__ import annotations

import ast
import keyword
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from headrace.plugins.registry import load_registry
from headrace.scaffold.names import module_name

WORDS = st.text("abcdefghijklmnopqrstuvwxyz0123456789-", min_size=1, max_size=34)


@given(WORDS)
def test_a_name_that_is_taken_can_be_imported(name: str) -> None:
    """Whatever passes is a module that Python can import, and is the name again."""
    try:
        module = module_name(name, ())
    except ValueError:
        return
    tree = ast.parse(f"import {module}\nfrom {module} import {module}\n")
    assert len(tree.body) == 2
    assert module.replace("_", "-") == name
    assert module.islower()
    assert len(module) <= 30


@pytest.mark.parametrize("word", [*keyword.kwlist, *keyword.softkwlist])
def test_no_word_of_python_s_own(word: str) -> None:
    with pytest.raises(ValueError, match=r"Python's own|is no name"):
        module_name(word, ())


def test_no_module_of_python_s_own() -> None:
    """One of them beside a recipe would be found instead of it."""
    public = [name for name in sys.stdlib_module_names if name.isalnum() and name.islower()]
    passed = []
    for name in public:
        try:
            passed.append(module_name(name, ()))
        except ValueError:
            continue
    # those that another system has are not here
    assert not [name for name in passed if name in sys.modules]
    assert len(passed) < len(public) / 20


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("Chips", "is no name"),
        ("chip_watch", "is no name"),
        ("chip watch", "is no name"),
        ("chip--watch", "is no name"),
        ("-chip", "is no name"),
        ("chip-", "is no name"),
        ("2chips", "is no name"),
        ("späne", "is no name"),
        ("../chips", "is no name"),
        ("", "is no name"),
        ("c" * 31, "is no name"),
        ("test-chips", "taken for tests"),
        ("chips-test", "taken for tests"),
        ("conftest", "taken for tests"),
        ("aux", "device"),
        ("com1", "device"),
        ("numpy", "hide the other"),
        ("headrace", "hide the other"),
    ],
)
def test_names_that_would_not_do(name: str, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        module_name(name, ())


def test_no_name_of_an_installed_transform() -> None:
    known = load_registry().transforms
    assert known
    for name in known:
        with pytest.raises(ValueError, match="is a transform"):
            module_name(name, known)
