"""The kit finds planted faults, each by the check for it, and passes what is sound."""

from __future__ import annotations

from pathlib import Path

import pytest
from pipeline.testing.zoo import ZOO, plain, quick, settle, wrong

from headrace import Edit, Facet, Job, PluginError, before, transform
from headrace.testing import alike, conforms, transforms_of
from headrace.testing.advice import ADVICE
from headrace.testing.conformance import examined

JOBS = 24
"""Some of the odd ones: what is planted here shows on nearly every job."""


def test_a_sound_transform_passes() -> None:
    examination = examined(settle, jobs=JOBS)

    assert examination.faults == {}
    assert examination.taken == JOBS
    conforms(settle, jobs=20, machines=["hand"], options={"seconds": 3})


@pytest.mark.parametrize("name", ZOO)
def test_a_fault_is_found_by_the_check_for_it(name: str) -> None:
    faulty, check = ZOO[name]
    with pytest.raises(AssertionError) as caught:
        conforms(faulty, jobs=JOBS)
    said = str(caught.value)

    assert said.startswith(f"{name}: {check} failed\n")
    assert f"{name} at zoo.py:" in said
    assert said.endswith(ADVICE[check])


def test_every_check_has_found_something() -> None:
    assert {check for _, check in ZOO.values()} == set(ADVICE)


def test_the_job_that_shows_it_is_short() -> None:
    """One line is all that the fault takes: a job whose lines do not end in LF alone."""
    with pytest.raises(AssertionError) as caught:
        conforms(ZOO["line-feeds"][0], jobs=JOBS)
    said = str(caught.value)
    shown = [line for line in said.splitlines() if line.startswith("      b'")]

    assert len(shown) == 1
    assert "\\r" in shown[0]
    assert "AssertionError" in said
    assert "zoo.py:" in said
    assert "1 line, shortened from: " in said


def test_options_that_do_not_matter_are_left_out() -> None:
    with pytest.raises(AssertionError, match=r"options    \{\}\n"):
        conforms(ZOO["undeclared"][0], jobs=JOBS, seed=3)


def test_the_same_seed_says_the_same() -> None:
    said = set()
    for _ in range(2):
        with pytest.raises(AssertionError) as caught:
            conforms(ZOO["takes-pauses"][0], jobs=JOBS)
        said.add(str(caught.value))

    assert len(said) == 1


def test_options_that_it_does_not_have() -> None:
    for options in ({"minutes": 1}, {"seconds": 99}):
        with pytest.raises(ValueError, match="takes no option"):
            conforms(settle, options=options, jobs=1)


def test_two_that_do_the_same() -> None:
    alike(plain, quick, jobs=120)


def test_two_that_do_not() -> None:
    with pytest.raises(AssertionError) as caught:
        alike(plain, wrong, jobs=120)

    assert str(caught.value).startswith(
        "no-spindle-words-wrong: does not do the same as no-spindle-words\n"
    )
    assert "1 line, shortened from" in str(caught.value)


IN_A_SET = '''
from headrace import Facet, before, transform


@transform("in-a-set", changes=[Facet.COMMENTS])
def in_a_set(job):
    """Put the names of all parts first."""
    yield before(0, f"({' '.join({'LID', 'BOARD', 'FRAME', 'REST', 'BLOCK'})})")
'''


def test_the_order_of_a_set_is_no_order(tmp_path: Path) -> None:
    """Strings hash otherwise in each process: Python reference, `object.__hash__`."""
    path = tmp_path / "in_a_set.py"
    path.write_text(IN_A_SET)
    (made,) = transforms_of(path)
    with pytest.raises(AssertionError, match="gives-the-same-again failed") as caught:
        conforms(made, jobs=100)

    assert "another process" in str(caught.value)
    path.write_text(IN_A_SET.replace("join({", "join(sorted({").replace("'})}", "'}))}"))
    (made,) = transforms_of(path)
    examination = examined(made, jobs=100)
    assert examination.faults == {}
    assert examination.unseen == {}


def test_no_file_runs_where_none_may(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "stung.py"
    path.write_text("raise RuntimeError('stung')")
    monkeypatch.setenv("HEADRACE_PYTHON", "off")

    with pytest.raises(PluginError) as caught:
        transforms_of(path)
    assert [finding.name for finding in caught.value.findings] == ["python-off"]


def test_what_could_not_be_seen_is_told() -> None:
    """An option that matters to other jobs only, and a step that lives in this process alone."""

    def marking(job: Job, *, deep: bool) -> list[Edit]:
        """Mark jobs that are deeper than any."""
        return [before(0, "(DEEP)")] if deep and len(job.program) > 9999 else []

    schema = {"type": "boolean", "description": "Whether; true or false.", "default": True}
    made = transform("marking", changes=[Facet.COMMENTS], options={"deep": schema})(marking)
    examination = examined(made, jobs=100)

    assert examination.faults == {}
    assert set(examination.unseen) == {"minds-its-options", "gives-the-same-again"}
    with pytest.warns(UserWarning, match="marking: minds-its-options was not seen: with `deep`"):
        conforms(made, jobs=20)
