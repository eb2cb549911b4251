"""Arcs in chords, against the equation of a circle."""

from __future__ import annotations

import numpy as np
import pytest
from pipeline.picture.drawn import job

from headrace.picture import way
from headrace.picture.way import CUT, way_of
from headrace.rehearsal.space.stretches import stretches

WAVES = "G0 X50 Y100\nG1 Z-1 F300\n" + "".join(
    f"G{2 + at % 2} X{100 + 50 * at} I25 J0 F900\n" for at in range(8)
)
"""Half circles of 25 in a row, from X50 to X450."""


@pytest.mark.parametrize(("many", "most"), [(9, 0.005), (8, 1e-4 * 350)])
def test_chords_of_many_arcs_are_longer(
    many: int, most: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(way, "_MANY", many)
    drawn = way_of(list(stretches(job(WAVES))))
    cuts = np.flatnonzero((drawn.kind[1:] == CUT) & (drawn.z[1:] < 0) & (drawn.z[:-1] < 0))
    middle_x = (drawn.x[cuts] + drawn.x[cuts + 1]) / 2
    middle_y = (drawn.y[cuts] + drawn.y[cuts + 1]) / 2
    centre = 75 + 50 * np.floor((middle_x - 50) / 50)
    # the middle of a chord is as far inside as the chord strays at the most
    strays = 25 - np.hypot(middle_x - centre, middle_y - 100)

    assert strays.min() > 0
    assert most / 2 < strays.max() <= most + 1e-9
    assert drawn.area is not None
    assert drawn.area[1][0] == pytest.approx(450 + (drawn.legs[-1].width or 0) / 2)
