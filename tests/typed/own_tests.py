# pyright: strict
"""Tests that an author of transforms writes."""

from __future__ import annotations

from typed.steps import settle

from headrace.testing import SHOPS, Bench, Tried, alike, conforms, job_files, transforms_of


def test_it_waits() -> None:
    tried: Tried = Bench().run("G21\nM3 S9000\nG0 X1\nM2\n", [settle, {"seconds": 2}])
    assert not tried.refused
    assert "G4 P2" in tried.text


def test_it_keeps_its_promises() -> None:
    conforms(settle, jobs=20, machines=SHOPS[:1])
    alike(settle, settle, jobs=20)
    names: list[str] = [name for name, _ in job_files(3)]
    assert names
    assert transforms_of("headrace_transforms")
