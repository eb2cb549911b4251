"""The facts of a file as a whole: what goes over to the page, and between processes."""

from __future__ import annotations

import hashlib
import pickle
from dataclasses import fields

import pytest
from pipeline.sheet.gathered import JOBS, alone, every, files, gallery

from headrace.card.writing import Content
from headrace.sheet.files import file_facts


def test_every_file_is_told_as_it_is_written() -> None:
    for _, outcome, facts in every():
        assert outcome.result is not None
        data = outcome.result.to_bytes()

        assert facts.content.sha256 == hashlib.sha256(data).hexdigest()
        assert facts.content.size == len(data)
        assert facts.lines == len(data.splitlines())
        assert facts.findings == outcome.findings
        assert (facts.proof is None) == (facts.source is None)  # a file of the recipe's own
        assert [drawing.view for drawing in facts.drawings] == ["top", "side"]


def test_facts_go_between_processes() -> None:
    for _, _, facts in every():
        assert pickle.loads(pickle.dumps(facts)) == facts


def test_the_same_outcome_gives_the_same_facts() -> None:
    for recipe in ("bench-lids", "speed-feeder-changes"):
        plan, pairs = gallery(recipe)
        for outcome, facts in pairs:
            again = file_facts(
                outcome, plan, "f", name=facts.name, title=facts.title, source=facts.source
            )
            assert again == facts


def test_a_content_that_is_known_is_not_worked_out_again() -> None:
    plan, pairs = gallery("bench-lids")
    known = Content("0" * 64, 7)
    facts = file_facts(pairs[0][0], plan, "f", name="A", title="B", source=None, content=known)

    assert facts.content is known
    assert (facts.name, facts.title, facts.source) == ("A", "B", None)
    assert not any("heading" in text for text in facts.modes)  # that of a job is told of jobs only


@pytest.mark.parametrize("recipe", JOBS)
def test_no_number_is_unknown_and_told_all_the_same(recipe: str) -> None:
    """NaN would stand for a place that is not known: that is None here."""
    for facts in files(recipe):
        for part in (facts.depth, facts.times, *facts.reaches, *facts.tools, *facts.pauses):
            assert "nan" not in repr(part)
        assert "nan" not in " ".join((*facts.does, *facts.modes)).split()


def test_what_a_file_switches_on() -> None:
    facts = alone("G21 G90 G94 G17\nM7\nM8\nM7\nG0 Z30\nM9\nM30\n")

    assert facts.switches == ("vacuum table", "extraction")


def test_an_empty_set_up_and_a_file_of_nearly_nothing() -> None:
    facts = alone("G21\nG4 P1\nM30\n")

    assert facts.does == ("Waits 1 s.", "Ends.")
    assert facts.tools == ()
    assert all(getattr(facts.depth, field.name) is None for field in fields(facts.depth)[:3])
    assert [reach.moves for reach in facts.reaches] == [None, None, None]
