"""`lower`: warnings that a recipe tells as notes, with a reason. Never what refuses."""

from __future__ import annotations

import json
import pickle
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pipeline.recipe.workshop import RECIPE, Workshop
from workshop import LID, set_up
from workshop import Workshop as Hive
from workshop.command import run

from headrace.card.manifest import read_manifest, sealed
from headrace.findings import CATALOGUE, Finding, Place, Severity, render
from headrace.recipe import Lowering, load_plan, lowered

RECIPES = Path(__file__).parents[3] / "recipes"
REASON = "park ends the program"
OPEN = LID.replace("M30\n", "")
"""A job without an end word, which is a warning (RS274/NGC 3.6.1 wants M2 or M30)."""

REFUSING = sorted(name for name, kind in CATALOGUE.items() if kind.severity is Severity.REFUSE)


def lowering(*items: str) -> str:
    return f"{RECIPE}lower:\n" + "".join(f"  - {item}\n" for item in items)


def found(workshop: Workshop, *items: str) -> list[Finding]:
    workshop.write("recipe.yaml", lowering(*items))
    return workshop.check()


# --- what may be written ----------------------------------------------------------------------


@pytest.mark.parametrize("finding", ["no-end", "HRJ009"])
def test_name_and_id_are_one(workshop: Workshop, finding: str) -> None:
    assert found(workshop, f"{{finding: {finding}, because: {REASON}}}") == []

    plan = load_plan(workshop.recipe, workshop.registry)

    assert [(lowering.name, lowering.because) for lowering in plan.lowerings] == [
        ("no-end", REASON)
    ]
    assert plan.lowerings[0].place.line == len(RECIPE.splitlines()) + 2
    assert pickle.loads(pickle.dumps(plan)) == plan


@pytest.mark.parametrize(
    ("items", "name", "line", "column", "words"),
    [
        (["{finding: no-ends, because: it is so}"], "recipe-unknown-finding", 1, 15, "`no-end`"),
        (["{finding: hrj009, because: it is so}"], "recipe-unknown-finding", 1, 15, "`HRJ009`"),
        (["{finding: HRJ999, because: it is so}"], "recipe-unknown-finding", 1, 15, "HRJ"),
        (["{finding: clamp-struck, because: it is so}"], "recipe-lowers-refusal", 1, 15, "mend"),
        (["{finding: HRM042, because: it is so}"], "recipe-lowers-refusal", 1, 15, "HRM042"),
        (
            ["{finding: no-end, because: it is so}", "{finding: HRJ009, because: it is not so}"],
            "recipe-lowered-twice", 2, 15, "the first is in",
        ),
        (["{finding: no-end}"], "recipe-missing-key", 1, 5, "`because`"),
        (["{because: it is so}"], "recipe-missing-key", 1, 5, "`finding`"),
        (['{finding: no-end, because: ""}'], "recipe-not-accepted", 1, 32, "three words"),
        (['{finding: no-end, because: "    "}'], "recipe-not-accepted", 1, 32, "three words"),
        (["{finding: no-end, because: fine}"], "recipe-not-accepted", 1, 32, "three words"),
        (["{finding: no-end, because: is fine}"], "recipe-not-accepted", 1, 32, "three words"),
        (["{finding: no-end, because: 12}"], "recipe-wrong-type", 1, 32, "text"),
        (["{finding: no-end, becuase: it is so}"], "recipe-unknown-key", 1, 23, "`because`"),
        (["no-end"], "recipe-wrong-type", 1, 5, "a mapping"),
    ],
)  # fmt: skip
def test_a_slip_is_one_finding_at_its_place(
    workshop: Workshop, items: list[str], name: str, line: int, column: int, words: str
) -> None:
    (finding,) = found(workshop, *items)

    assert finding.place is not None
    assert (finding.name, finding.place.column) == (name, column)
    assert finding.place.line == len(RECIPE.splitlines()) + 1 + line
    assert words in f"{finding.what} {finding.remedy}"


def test_three_words_are_a_reason(workshop: Workshop) -> None:
    assert found(workshop, "{finding: no-end, because: it is so}") == []


@pytest.mark.parametrize("name", REFUSING)
def test_no_kind_that_refuses_can_be_lowered(workshop: Workshop, name: str) -> None:
    (finding,) = found(workshop, f"{{finding: {name}, because: nobody will ever notice}}")

    assert finding.name == "recipe-lowers-refusal"


def test_every_kind_that_warns_can_be_lowered(workshop: Workshop) -> None:
    warns = [name for name, kind in CATALOGUE.items() if kind.severity is Severity.WARN]
    names = [name for name in warns if name != "cannot-tell"]

    assert len(names) > 10
    assert found(workshop, *(f"{{finding: {name}, because: {REASON}}}" for name in names)) == []


def test_an_open_question_is_closed_by_its_field_alone(workshop: Workshop) -> None:
    (finding,) = found(workshop, f"{{finding: cannot-tell, because: {REASON}}}")

    assert finding.name == "recipe-lowers-refusal"
    assert "fill in the field" in finding.remedy


def test_what_is_lowered_stands_in_a_file_and_not_on_a_command_line(workshop: Workshop) -> None:
    (finding,) = workshop.check("lower.no-end=it is so")

    assert finding.name == "recipe-override"


# --- parents ----------------------------------------------------------------------------------


def test_a_child_inherits_the_list_or_replaces_it(workshop: Workshop) -> None:
    """As with every list: two recipes that each lower something never add up unseen."""
    workshop.write("parent.yaml", lowering(f"{{finding: no-end, because: {REASON}}}"))
    child = "format: headrace-recipe/2\nname: Child\nextends: parent.yaml\n"

    workshop.write("recipe.yaml", child)
    (inherited,) = load_plan(workshop.recipe, workshop.registry).lowerings
    workshop.write("recipe.yaml", f"{child}lower: [{{finding: HRJ012, because: both are meant}}]\n")
    (own,) = load_plan(workshop.recipe, workshop.registry).lowerings
    workshop.write("recipe.yaml", f"{child}lower: []\n")
    none = load_plan(workshop.recipe, workshop.registry).lowerings

    assert (inherited.name, Path(inherited.place.file).name) == ("no-end", "parent.yaml")
    assert (own.name, Path(own.place.file).name) == ("units-changed", "recipe.yaml")
    assert none == ()


# --- what becomes of a finding ----------------------------------------------------------------

findings = st.builds(
    lambda name, severity: Finding.of(name, "what it is", severity=severity),
    st.sampled_from(sorted(CATALOGUE)),
    st.sampled_from(Severity),
)
lowerings = st.builds(
    lambda name: Lowering(name, REASON, Place("recipe.yaml", 1)), st.sampled_from(sorted(CATALOGUE))
)


@given(st.lists(findings), st.lists(lowerings))
def test_only_what_warns_at_that_moment_is_lowered(
    given: list[Finding], named: list[Lowering]
) -> None:
    """Whatever a recipe named, nothing is lost and nothing that refuses weighs less."""
    names = {lowering.name for lowering in named}
    got = list(lowered(given, named))

    assert len(got) == len(given)
    for before, after in zip(given, got, strict=True):
        if before.severity is Severity.WARN and before.name in names:
            assert after == replace(before, severity=Severity.NOTE, lowered=REASON)
        else:
            assert after is before


def test_a_lowered_finding_tells_the_reason_with_everything_else() -> None:
    finding = Finding.of("no-end", "no M2 or M30", Place("lid.nc", 9, 1, 2, "M5"))
    (note,) = lowered([finding], [Lowering("no-end", REASON, Place("recipe.yaml", 1))])

    before, after = render(finding).splitlines(), render(note).splitlines()
    assert after[0] == before[0].replace("warn:", "note:")
    assert after[1:] == [*before[1:], f"   but: lowered by the recipe: {REASON}"]


# --- jobs -------------------------------------------------------------------------------------


@pytest.fixture
def hive(tmp_path: Path) -> Hive:
    hive = set_up(tmp_path / "hive")
    hive.job("lid.nc", OPEN)
    return hive


def lower(hive: Hive, *items: str) -> None:
    with hive.recipe.open("a") as file:
        file.write("lower:\n" + "".join(f"  - {item}\n" for item in items))


def test_a_warning_becomes_a_note_wherever_it_is_told(hive: Hive) -> None:
    lower(hive, f"{{finding: no-end, because: {REASON}}}")
    for args in (
        ["check", hive.recipe, hive.jobs],
        ["check", hive.recipe, hive.jobs, "--jobs", "2"],
        ["plan", hive.recipe, hive.jobs],
        ["prepare", hive.recipe, hive.jobs, "--card", hive.card],
    ):
        result = run(*args)
        assert result.exit_code == 0
        assert "note: no M2 or M30  [HRJ009 no-end]" in result.stderr
        assert f"   but: lowered by the recipe: {REASON}\n" in result.stderr
        assert "1 warning" not in result.stdout


def test_the_list_on_the_card_keeps_the_reason(hive: Hive) -> None:
    run("prepare", hive.recipe, hive.jobs, "--card", hive.card)
    before = json.loads(hive.on_card()["HEADRACE.JSON"])["files"][0]
    lower(hive, f"{{finding: HRJ009, because: {REASON}}}", "{finding: HRJ012, because: it is so}")
    run("prepare", hive.recipe, hive.jobs, "--card", hive.card)
    after = json.loads(hive.on_card()["HEADRACE.JSON"])["files"][0]

    def told(file: dict[str, Any]) -> dict[str, Any]:
        (finding,) = (each for each in file["findings"] if each["name"] == "no-end")
        return finding

    assert (told(before)["severity"], told(before)["lowered"]) == ("warn", "")
    assert told(after) == {**told(before), "severity": "note", "lowered": REASON}
    entry = read_manifest(hive.card / "HEADRACE.JSON").get("LID.NC")
    assert entry is not None
    assert entry.lowered == (("no-end", REASON),)


@pytest.mark.parametrize("lowered", [7, None, ["it is so"]])
def test_a_list_that_cannot_be_so_stops_the_run(hive: Hive, lowered: object) -> None:
    run("prepare", hive.recipe, hive.jobs, "--card", hive.card)
    data = json.loads(hive.on_card()["HEADRACE.JSON"])
    data["files"][0]["findings"][0]["lowered"] = lowered
    (hive.card / "HEADRACE.JSON").write_bytes(sealed(data))

    result = run("prepare", hive.recipe, hive.jobs, "--card", hive.card)

    assert result.exit_code == 5
    assert "card-list-faulty]" in result.stderr


def test_what_refuses_a_job_still_does_beside_it(hive: Hive) -> None:
    lower(hive, f"{{finding: no-end, because: {REASON}}}")
    hive.job("lid.nc", OPEN.replace("X40", "X4.0.0"))
    result = run("prepare", hive.recipe, hive.jobs, "--card", hive.card)

    assert result.exit_code == 1
    assert "note: no M2 or M30" in result.stderr
    assert hive.on_card() == {}


def test_warnings_about_the_card_can_be_lowered_too(hive: Hive) -> None:
    run("prepare", hive.recipe, hive.jobs, "--card", hive.card)
    lower(hive, "{finding: card-older-file, because: the operator knows about it}")
    hive.job("lid.nc", OPEN.replace("X40", "X4.0.0"))
    stderr = run("prepare", hive.recipe, hive.jobs, "--card", hive.card).stderr

    assert "note: LID.NC on the card is older" in stderr
    assert "lowered by the recipe: the operator knows about it" in stderr
