"""The workshop as fixtures."""

from __future__ import annotations

from pathlib import Path

import pytest
from pipeline.recipe.workshop import (
    MACHINE,
    RECIPE,
    SETUP,
    Registry,
    Workshop,
    home,
    park,
    pause,
    spindle,
)


@pytest.fixture
def registry() -> Registry:
    return Registry({t.name: t for t in (home, park, spindle, pause)})


@pytest.fixture
def workshop(tmp_path: Path, registry: Registry) -> Workshop:
    workshop = Workshop(tmp_path, registry)
    for name, text in (("machine", MACHINE), ("setup", SETUP), ("recipe", RECIPE)):
        workshop.write(f"{name}.yaml", text)
    return workshop
