"""Names that a transform, its file and its package can have."""

from __future__ import annotations

import re
from collections.abc import Container
from importlib.util import find_spec
from keyword import iskeyword, issoftkeyword

_SHAPE = re.compile(r"[a-z](?:[a-z0-9]|-(?=[a-z0-9]))*")
_LONGEST = 30
_DEVICES = re.compile(r"con|prn|aux|nul|(com|lpt)[0-9]")


def module_name(name: str, taken: Container[str]) -> str:
    """The Python module of a transform of this name; `taken` are the transforms that there are.

    Raises ValueError, with what to do, for a name that would not do.

    >>> module_name("hive-marks", ())
    'hive_marks'
    """
    if not _SHAPE.fullmatch(name) or len(name) > _LONGEST:
        raise ValueError(
            f"{name!r} is no name for a transform: write lower-case words of a-z and 0-9 with"
            f" dashes between them, {_LONGEST} characters at the most, such as chip-break"
        )
    if name in taken:
        raise ValueError(
            f"there is a transform {name!r} already, and a recipe would not know which one is"
            " meant: choose another name"
        )
    module = name.replace("-", "_")
    if iskeyword(module) or issoftkeyword(module):
        raise ValueError(f"{module!r} is a word of Python's own: add another word, {name}-step")
    if module == "conftest" or module.startswith("test_") or module.endswith("_test"):
        raise ValueError(f"{module}.py would be taken for tests: choose another name")
    if _DEVICES.fullmatch(module):
        raise ValueError(f"{module}.py names a device on some systems: add another word")
    if find_spec(module) is not None:
        raise ValueError(
            f"there is a Python module {module!r} already, and one of them would hide the other:"
            f" add another word, such as {name}-step"
        )
    return module
