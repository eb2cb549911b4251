"""Many jobs at a small size; `python tests/trials/thousand_jobs.py` does it at length."""

from __future__ import annotations

import sys

import pytest
from trials.thousand_jobs import Sample, judged, tried


@pytest.mark.skipif(sys.platform != "linux", reason="reads memory from /proc")
def test_memory_stays_flat_over_many_jobs() -> None:
    seen = tried(small=60, large=[200_000])
    assert seen["broken"] == []
    assert seen["jobs"] == 61


def test_memory_that_grows_is_seen() -> None:
    steady = [Sample(done, 50_000_000, (40_000_000, 40_000_000)) for done in range(1, 101)]
    assert set(judged(steady, 100, 2)["growth"].values()) == {0.0}
    leaking = [
        Sample(done, 50_000_000 + 600_000 * done, (40_000_000, 40_000_000))
        for done in range(1, 101)
    ]
    growth = judged(leaking, 100, 2)["growth"]
    assert growth["parent_alike"] > 0.2
    assert growth["worker_alike"] == 0.0
