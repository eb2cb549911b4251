"""Plugins as strangers write them: distributions on the path, and files beside a recipe."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest


@dataclass(frozen=True)
class Shelf:
    """A folder on the path with distributions, each a module and its metadata."""

    folder: Path

    def put(
        self, name: str, source: str, *, version: str = "1.0", value: str | None = None
    ) -> None:
        """A distribution `name` whose entry point is the module of that name, or `value`.

        Source: PyPA specifications, "Recording installed projects" (METADATA) and "Entry points".
        """
        module = name.replace("-", "_")
        (self.folder / f"{module}.py").write_text(source)
        info = self.folder / f"{module}-{version}.dist-info"
        info.mkdir()
        (info / "METADATA").write_text(f"Metadata-Version: 2.1\nName: {name}\nVersion: {version}\n")
        (info / "entry_points.txt").write_text(f"[headrace]\nsteps = {value or module}\n")


@pytest.fixture
def shelf(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Shelf]:
    folder = tmp_path / "shelf"
    folder.mkdir()
    known = set(sys.modules)
    monkeypatch.syspath_prepend(str(folder))
    yield Shelf(folder)
    for name in set(sys.modules) - known:
        file = getattr(sys.modules[name], "__file__", None) or ""
        if file.startswith(str(tmp_path)):
            del sys.modules[name]
