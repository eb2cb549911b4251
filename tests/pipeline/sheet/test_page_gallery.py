"""Pages of the gallery's own jobs, made by all that makes pages."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest
from workshop.markup import dangling, outside, parsed

from headrace.batch.engines.kit import with_python_files
from headrace.plugins.registry import load_registry
from headrace.recipe import load_plan
from headrace.run import prepare_job
from headrace.sheet.facts import Refused, SheetFacts
from headrace.sheet.files import file_facts
from headrace.sheet.page import page
from headrace.sheet.whole import sheet_facts

RECIPES = Path(__file__).parents[3] / "recipes"


def facts_of(recipe: str, jobs: list[str]) -> SheetFacts:
    registry = load_registry()
    plan = load_plan(RECIPES / recipe, registry)
    registry = with_python_files(registry, plan)
    files, refused = [], []
    for number, job in enumerate(jobs, start=1):
        source = (RECIPES / "jobs" / job).read_bytes()
        outcome = prepare_job(job, source, plan, registry)
        if outcome.result is None:
            refused.append(Refused(job, outcome.findings))
            continue
        facts = file_facts(outcome, plan, f"f{number}", name=job.upper(), title=job, source=job)
        assert facts.content.sha256 == hashlib.sha256(outcome.result.to_bytes()).hexdigest()
        files.append(facts)
    return sheet_facts(plan, files, refused, ())


@pytest.mark.parametrize(
    ("recipe", "jobs"),
    [
        ("bench-lids.yaml", ["lid.nc", "handhold.nc", "feeder-board.nc"]),
        ("speed-feeder-changes.yaml", ["feeder-board.nc"]),
        ("speed-excluder.yaml", ["queen-excluder.nc"]),
        ("bench-windows.yaml", ["window.ngc"]),
    ],
)
def test_pages_of_the_gallery(recipe: str, jobs: list[str]) -> None:
    facts = facts_of(recipe, jobs)
    made = page(facts)
    tree = parsed(made)
    text = tree.one("body").read

    assert facts.files
    assert len(made) <= 400_000
    assert outside(tree) == []
    assert dangling(tree) == []
    assert page(facts_of(recipe, jobs)) == made
    for file in facts.files:
        assert file.name in text
        for pause in file.pauses:
            assert f"{pause.number} line {pause.line}" in text
            for line in (*pause.shown, *pause.needs):
                assert " ".join(line.split()) in text
        for said in (*file.does, *file.modes):
            assert said in text
        for finding in file.findings:
            assert finding.what in text
            assert finding.id in text
        assert file.content.sha256 in "".join(text.split())
    for job in facts.refused:
        assert job.name in text
        for finding in job.findings:
            assert finding.what in text
            assert finding.remedy in text
