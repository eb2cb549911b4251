"""The second public door: what authors of transforms may use to try them."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

import headrace.testing
from headrace.testing import plugin
from headrace.testing.advice import ADVICE
from headrace.testing.checks import CHECKS
from headrace.testing.examination import name_of
from headrace.testing.offered import OFFERED

HEAVY = {"numpy", "yaml", "jsonschema", "pluggy", "click", "pytest", "headrace.run"}


def test_names_are_there() -> None:
    names = headrace.testing.__all__

    assert dir(headrace.testing) == sorted(names)
    for name in names:
        assert getattr(headrace.testing, name) is not None
        assert name == "SHOPS" or getattr(headrace.testing, name).__doc__


def test_other_names_are_not_public() -> None:
    with pytest.raises(AttributeError, match=r"headrace\.testing has no public name 'Examination'"):
        headrace.testing.Examination  # noqa: B018


def test_the_door_costs_next_to_nothing() -> None:
    code = f"import sys, headrace.testing; print({HEAVY!r} & set(sys.modules))"
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60
    )

    assert done.stdout.strip() == "set()"


def test_the_plugin_of_pytest_loads_pytest_alone() -> None:
    tree = ast.parse(Path(str(plugin.__file__)).read_text("utf-8"))
    loaded = [
        node.module if isinstance(node, ast.ImportFrom) else node.names[0].name
        for node in tree.body
        if isinstance(node, (ast.Import, ast.ImportFrom))
    ]

    assert {str(name).split(".")[0] for name in loaded} <= {*sys.stdlib_module_names, "pytest"}


def test_every_check_says_what_to_do() -> None:
    judged = {name_of(check) for check in (*OFFERED, *CHECKS)}

    assert judged < set(ADVICE)
    assert set(ADVICE) - judged == {"minds-its-options", "takes-some-jobs"}
    assert all(check.__doc__ for check in (*OFFERED, *CHECKS))
