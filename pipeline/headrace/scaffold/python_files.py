"""A transform to begin with: one file beside a recipe, or a distribution that can be installed."""

from __future__ import annotations

import shlex
from pathlib import Path

from headrace import __version__
from headrace.scaffold.beginning import Beginning
from headrace.scaffold.template import filled

_IGNORED = b"""\
.venv/
build/
dist/
__pycache__/
.pytest_cache/
.mypy_cache/
.ruff_cache/
"""


def transform_files(folder: Path, name: str, module: str) -> Beginning:
    """A transform of this name, to lie beside a recipe, and its tests beside it."""
    test = f"test_{module}.py"
    return Beginning(
        files={
            test: filled("test_transform.py.txt", name=name, module=module).encode(),
            f"{module}.py": _transform(name, module),
        },
        told=(),
        following=(
            f"say in a recipe of {folder}:",
            "  python:",
            f"    - {module}.py",
            "  steps:",
            f"    - {name}",
            "it is code, and runs once you trust it: headrace trust RECIPE",
            f"its tests: python -m pytest {shlex.quote(str(folder / test))}",
        ),
    )


def package_folder(root: Path, name: str, module: str) -> Beginning:
    """A distribution of this name, with one transform, its tests, and no license."""
    source = f"src/{module}"
    names = {"name": name, "module": module}
    return Beginning(
        files={
            ".gitignore": _IGNORED,
            "README.md": filled("package-README.md", name=name).encode(),
            f"{source}/py.typed": b"",
            f"{source}/steps.py": _transform(name, module),
            f"{source}/__init__.py": filled("package-init.py.txt", **names).encode(),
            f"tests/test_{module}.py": filled("package-test.py.txt", module=module).encode(),
            "pyproject.toml": filled(
                "package-pyproject.toml", **names, version=__version__
            ).encode(),
        },
        told=("there is no license: choose one, put its text into LICENSE, and name it in"
              " pyproject.toml",),
        following=(
            f"install it: python -m pip install -e {shlex.quote(str(root))}",
            f"then any recipe may name it: headrace transforms {name}",
        ),
    )  # fmt: skip


def _transform(name: str, module: str) -> bytes:
    return filled("transform.py.txt", name=name, module=module).encode()
