"""One language server for all tests of a worker, over a copy of the gallery."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from editor.server import Server

RECIPES = Path(__file__).parents[2] / "recipes"


@pytest.fixture(scope="session")
def gallery(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The gallery somewhere else, so that its schemas are found by their relative paths."""
    folder = tmp_path_factory.mktemp("editor") / "recipes"
    left_out = shutil.ignore_patterns("kept", "jobs", "__pycache__")
    return Path(shutil.copytree(RECIPES, folder, ignore=left_out))


@pytest.fixture(scope="session")
def server(gallery: Path) -> Iterator[Server]:
    running = Server.start(gallery)
    yield running
    running.stop()
