"""Answers for programs: one JSON document, whatever happens, and the exit code in it.

Outside references: the library jsonschema (drafts of JSON Schema), RFC 8259 (JSON texts), and
hashlib. What exit codes mean is the table of `headrace.cli`.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from importlib import import_module
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator
from recipes.test_gallery import GALLERY
from workshop import LID, REFUSED, Workshop, set_up
from workshop.command import run

import headrace.cli
from headrace.batch.keeping import Standing
from headrace.card.checked import State
from headrace.card.delivery import Fate
from headrace.cli.group import SUMMARIES
from headrace.findings import CATALOGUE, Severity
from headrace.plugins.registry import load_registry
from headrace.report.schema import COMMANDS, NAMES, output_schema

Args = list[Any]
RECIPES = Path(__file__).parents[3] / "recipes"


@pytest.fixture
def hive(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Workshop:
    made = set_up(tmp_path / "hive")
    monkeypatch.setenv("HEADRACE_STATE", str(tmp_path / "state"))
    monkeypatch.chdir(made.root)
    made.job("lid.nc")
    return made


def document(*args: object) -> dict[str, Any]:
    """The one document that a command line prints with --json."""
    result = run(*args, "--json")
    found = json.loads(result.stdout)
    assert found["exit-code"] == result.exit_code
    return dict(found)


# --- every command ----------------------------------------------------------------------------


def test_every_command_has_a_schema_of_its_own() -> None:
    assert set(COMMANDS) == SUMMARIES.keys()


@pytest.mark.parametrize("name", sorted(SUMMARIES))
def test_every_command_takes_the_option(name: str) -> None:
    sub = import_module(f"headrace.cli.{name}").command
    assert "--json" in {option for parameter in sub.params for option in parameter.opts}


LIDS = [str(RECIPES / "bench-lids.yaml"), str(RECIPES / "jobs" / "lid.nc")]

ANSWERS: dict[str, Args] = {
    "prepare": ["prepare", "recipes/plain.yaml", "jobs", "--card", "card"],
    "check": ["check", "recipes/plain.yaml", "jobs"],
    "check of a recipe": ["check", "recipes/plain.yaml"],
    "check alone": ["check", "--machine", "recipes/machine.yaml", "jobs"],
    "plan": ["plan", "recipes/plain.yaml", "jobs"],
    "transforms": ["transforms"],
    "transforms of a name": ["transforms", "touch-off"],
    "explain": ["explain"],
    "explain of a name": ["explain", "bad-number"],
    "explain of an id": ["explain", "HRC001"],
    "completion": ["completion", "fish"],
    "describe": ["describe", "recipes/machine.yaml", "--list"],
    "verify": ["verify", "card"],
    "keep": ["keep", "recipes/plain.yaml", "jobs", "--in", "kept"],
    "new": ["new", "recipe", "kept-combs", "--machine", "recipes/machine.yaml"],
    "recheck": ["recheck", "recipes/machine.yaml"],
    "schema": ["schema", "--to", "schemas"],
    "origin": ["origin", "recipes/plain.yaml"],
    "timed": ["timed", *LIDS, "11:40", "--check"],
    "trust": ["trust", "--list"],
    "upgrade": ["upgrade", "recipes/plain.yaml", "recipes/machine.yaml"],
    "sheet": ["sheet", "recipes/plain.yaml", "jobs", "--card", "card", "--to", "sheet.html"],
    "show": ["show", "jobs/lid.nc"],
    "show by a recipe": ["show", "jobs/lid.nc", "--recipe", "recipes/plain.yaml"],
    "show on a machine": ["show", "jobs/lid.nc", "--machine", "recipes/machine.yaml"],
    "picture": ["picture", "jobs/lid.nc", "--to", "lid.svg"],
}
NEED_A_CARD = ("verify", "sheet")


@pytest.mark.parametrize("name", ANSWERS)
def test_each_answers_with_one_document(
    hive: Workshop, name: str, printed: list[dict[str, Any]]
) -> None:
    """Its schema is held against it by the fixture."""
    if name in NEED_A_CARD:
        assert run(*ANSWERS["prepare"]).exit_code == 0
    hive.job("notes.txt", "no job")
    told = document(*ANSWERS[name])
    assert told["format"] == f"headrace-{ANSWERS[name][0]}/1"
    assert printed == [told]


def test_answers_leave_no_command_out() -> None:
    """`watch` goes on until it is stopped, and has tests of its own."""
    assert {args[0] for args in ANSWERS.values()} == set(COMMANDS) - {"watch"}


@pytest.mark.parametrize("name", ANSWERS)
def test_what_is_said_to_people_is_the_same(hive: Workshop, name: str) -> None:
    if name in NEED_A_CARD:
        run(*ANSWERS["prepare"])
    hive.job("bad.nc", REFUSED)
    args = [word.replace("kept", "kept-too") for word in ANSWERS[name]]
    spoken = run(*ANSWERS[name])
    for path in hive.card.iterdir() if name == "prepare" else ():
        path.unlink()
    quiet = run(*args, "--json")
    assert quiet.exit_code == spoken.exit_code
    assert quiet.stderr.replace("kept-too", "kept") == spoken.stderr


EACH = """
import json, sys
from click.testing import CliRunner
from headrace.cli.group import headrace
for args in json.loads(sys.argv[1]):
    print(CliRunner().invoke(headrace, [*args, "--json"]).stdout)
"""


def test_the_same_runs_give_the_same_documents(hive: Workshop) -> None:
    """Also where hashes of texts come out otherwise (PYTHONHASHSEED), and the clock."""
    for name in ("prepare", "keep", "new", "schema", "sheet", "picture"):
        run(*ANSWERS[name])
    lines = [["keep", "--check", "kept"] if name == "keep" else ANSWERS[name] for name in ANSWERS]
    texts = [
        subprocess.run(
            [sys.executable, "-c", EACH, json.dumps(lines)],
            env={**os.environ, "PYTHONHASHSEED": salt, "TZ": zone},
            capture_output=True, check=True, timeout=120,
        ).stdout
        for salt, zone in (("1", "UTC"), ("2", "Pacific/Auckland"))
    ]  # fmt: skip
    assert texts[0].count(b'"format": "headrace-') >= len(lines)
    assert texts[0] == texts[1]
    assert str(hive.root).encode() not in texts[0]


def test_the_schema_command_prints_a_schema_with_or_without_it() -> None:
    assert run("schema", "prepare", "--json").stdout == run("schema", "prepare").stdout


# --- what is in them --------------------------------------------------------------------------


def test_a_prepared_file_is_told_whole(hive: Workshop) -> None:
    hive.job("bad.nc", REFUSED)
    told = document(*ANSWERS["prepare"])
    refused, written = told["files"]
    data = hive.on_card()["LID.NC"]

    assert (told["recipe"], told["card"]) == ("recipes/plain.yaml", "card")
    assert told["machine"] == "Bench machine"
    assert (refused["name"], refused["fate"], refused["exit-code"]) == ("bad.nc", "refused", 1)
    assert [finding["name"] for finding in refused["findings"]] == ["word-without-value"]
    assert refused["findings"][0]["place"] == {
        "file": "bad.nc", "line": 2, "column": 12, "length": 1, "excerpt": "G1 X1 F100 Q",
    }  # fmt: skip
    assert refused["content"] is refused["proof"] is None
    assert (written["card-name"], written["fate"]) == ("LID.NC", "written")
    assert written["content"] == {"sha256": hashlib.sha256(data).hexdigest(), "size": len(data)}
    assert written["source"] == {
        "sha256": hashlib.sha256(LID.encode()).hexdigest(),
        "size": len(LID),
    }
    assert written["lines"] == data.count(b"\n") == 10
    assert [(step["name"], step["added"], step["touched"]) for step in written["steps"]] == [
        ("heading", 1, 0),
        ("capitals", 0, 1),
        ("no-blanks", 0, 1),
    ]
    assert written["proof"]["moves"] == written["moves"] == 4
    assert written["proof"]["deviation"] == 0


def test_fates_are_told_apart(hive: Workshop) -> None:
    assert [file["fate"] for file in document(*ANSWERS["prepare"])["files"]] == ["written"]
    assert [file["fate"] for file in document(*ANSWERS["prepare"])["files"]] == ["unchanged"]
    hive.job("lid.nc", LID.replace("X40", "X50"))
    assert [file["fate"] for file in document(*ANSWERS["prepare"])["files"]] == ["replaced"]
    assert [file["fate"] for file in document(*ANSWERS["check"])["files"]] == ["fit"]


def test_a_plan_holds_the_difference_and_who_made_it(hive: Workshop) -> None:
    told = document(*ANSWERS["plan"])["files"][0]
    text = run(*ANSWERS["plan"]).stdout
    places = {
        name: number
        for number, line in enumerate(hive.recipe.read_text().splitlines(), 1)
        for name in ("heading", "capitals", "no-blanks")
        if line.startswith(f"  - {name}")
    }

    assert told["difference"] == {"text": text, "encoding": "utf-8"}
    rows = [
        (row["sign"], row["line"], row["text"], row["step"], row["recipe-line"])
        for row in told["changes"]
    ]
    assert rows == [
        ("-", 1, "(hive lid)", "capitals", places["capitals"]),
        ("+", 1, "(LIDS)", "heading", places["heading"]),
        ("+", 2, "(HIVE LID)", "capitals", places["capitals"]),
        ("-", 4, "", "no-blanks", places["no-blanks"]),
    ]
    assert {row["recipe-file"] for row in told["changes"]} == {"recipes/plain.yaml"}


def test_a_difference_that_is_no_utf_8_keeps_its_bytes(hive: Workshop) -> None:
    data = LID.replace("hive", "abeille \xe9").encode("latin-1")
    hive.job("lid.nc", data)
    told = document(*ANSWERS["plan"])["files"][0]["difference"]
    spoken = hive.run(*ANSWERS["plan"]).stdout

    assert told["encoding"] == "iso-8859-1"
    assert told["text"].encode(told["encoding"]) == spoken
    assert b"\xe9" in spoken


def test_all_transforms_with_their_options() -> None:
    told = {each["name"]: each for each in document("transforms")["transforms"]}
    for name, transform in load_registry().transforms.items():
        Draft202012Validator.check_schema(told[name]["options"])
        assert told[name]["options"]["properties"].keys() == transform.options.keys()
        assert set(told[name]["may-change"]) == set(transform.may_change)


def test_all_kinds_of_findings() -> None:
    told = document("explain")["kinds"]
    assert [kind["id"] for kind in told] == sorted(kind.id for kind in CATALOGUE.values())


def test_an_example_names_its_files() -> None:
    example = document("explain", "bad-number")["example"]
    failing = {file["name"]: file["text"] for file in example["failing"]["files"]}
    assert failing
    assert example["said"]
    assert failing != {file["name"]: file["text"] for file in example["mended"]["files"]}


def test_every_example_is_told(printed: list[dict[str, Any]]) -> None:
    """Also those that no file can show, which have words instead."""
    for name in CATALOGUE:
        document("explain", name)
    assert [told["kinds"][0]["name"] for told in printed] == list(CATALOGUE)
    for told in printed:
        failing, mended = told["example"]["failing"], told["example"]["mended"]
        assert failing["run"].startswith("headrace ")
        assert failing != mended


def test_where_an_example_was_laid(hive: Workshop) -> None:
    told = document("explain", "bad-number", "--to", "try")
    assert [line.split(":")[0] for line in told["written"]] == ["try/failing", "try/mended"]
    assert (hive.root / "try" / "failing").is_dir()


@pytest.mark.skipif(os.name == "nt", reason="names are no bytes there")
def test_a_name_that_is_no_text_is_shown_by_escapes(hive: Workshop) -> None:
    """RFC 8259, 8.2: halves of characters are what programs stumble over."""
    job = hive.root / "jobs" / os.fsdecode(b"li\xff.nc")
    job.write_text(LID)
    done = hive.run("check", "recipes/plain.yaml", "jobs", "--json")
    assert done.stdout.isascii()
    assert b"\\udc" not in done.stdout
    assert "li\\xff.nc" in {file["name"] for file in json.loads(done.stdout)["files"]}


# --- every exit code, with and without --------------------------------------------------------


def _nothing(_hive: Workshop, _patch: pytest.MonkeyPatch) -> Args:
    return ANSWERS["check"]


def _refused(hive: Workshop, _patch: pytest.MonkeyPatch) -> Args:
    hive.job("bad.nc", REFUSED)
    return ANSWERS["check"]


def _misused(_hive: Workshop, _patch: pytest.MonkeyPatch) -> Args:
    return ["check", "nowhere.yaml"]


def _recipe(hive: Workshop, _patch: pytest.MonkeyPatch) -> Args:
    hive.recipe.write_text(hive.recipe.read_text().replace("capitals", "capitol"))
    return ANSWERS["prepare"]


def _plugin(hive: Workshop, _patch: pytest.MonkeyPatch) -> Args:
    (hive.recipe.parent / "hive_steps.py").write_text("1 / 0\n")
    return ANSWERS["prepare"]


def _card(hive: Workshop, _patch: pytest.MonkeyPatch) -> Args:
    (hive.card / "LID.NC").write_bytes(b"of another program")
    return ANSWERS["prepare"]


def _fault(_hive: Workshop, patch: pytest.MonkeyPatch) -> Args:
    def faulty(*_args: Any, **_more: Any) -> None:
        raise LookupError("nobody home")

    patch.setattr("headrace.recipe.check_recipe", faulty)
    return ANSWERS["check"]


def _interrupted(_hive: Workshop, patch: pytest.MonkeyPatch) -> Args:
    def interrupted(*_args: Any, **_more: Any) -> None:
        raise KeyboardInterrupt

    patch.setattr("headrace.run.prepare_job", interrupted)
    return ANSWERS["prepare"]


CODES: dict[int, Callable[[Workshop, pytest.MonkeyPatch], Args]] = {
    0: _nothing,
    1: _refused,
    2: _misused,
    3: _recipe,
    4: _plugin,
    5: _card,
    70: _fault,
    130: _interrupted,
}


def table() -> set[int]:
    """The exit codes that are promised."""
    text = str(headrace.cli.__doc__).partition("Exit codes:")[2].partition("(")[0]
    return {int(code) for code in re.findall(r"\b(\d+) ", text)}


def test_the_table_is_what_schemas_and_tests_know() -> None:
    schema = output_schema("error")["$defs"]["exit-code"]
    assert set(schema["enum"]) == table()
    assert {int(code) for code in re.findall(r"\b(\d+) ", schema["description"])} == table()
    assert table() == {*CODES, 143}, "143 is reached by a signal"


@pytest.mark.parametrize("code", CODES)
def test_each_exit_code_is_reached_with_and_without_a_document(
    hive: Workshop, monkeypatch: pytest.MonkeyPatch, code: int, printed: list[dict[str, Any]]
) -> None:
    args = CODES[code](hive, monkeypatch)
    spoken = run(*args)
    told = run(*args, "--json")

    assert (spoken.exit_code, told.exit_code) == (code, code)
    assert told.stderr == spoken.stderr
    assert printed == [json.loads(told.stdout)]
    assert printed[0]["exit-code"] == code
    assert "findings" in printed[0]
    if code >= 2:
        assert spoken.stdout == ""
        assert printed[0]["format"] == "headrace-error/1"
        assert printed[0]["command"] == args[0]
        assert printed[0]["error"] in told.stderr


@pytest.mark.parametrize(
    "args", [[], ["prepares"], ["--nonsense"], ["-h", "--nonsense"], ["prepares", "check"]]
)
def test_misuse_of_no_command_is_told_too(args: Args) -> None:
    told = document(*args)
    assert (told["exit-code"], told["command"]) == (2, None)
    assert told["error"]


def test_an_option_behind_two_dashes_is_none() -> None:
    result = run("check", "nowhere.yaml", "--", "--json")
    assert (result.exit_code, result.stdout) == (2, "")


@pytest.mark.parametrize(
    "args", [["explain", "no-such"], ["transforms", "no-such"], ["schema", "no-such"]]
)
def test_a_name_that_is_none_is_told(args: Args) -> None:
    told = document(*args)
    assert told["exit-code"] == 2
    assert "no-such" in told["error"]


@pytest.mark.skipif(sys.platform == "win32", reason="signals are others there")
@pytest.mark.parametrize(("number", "code"), [(signal.SIGINT, 130), (signal.SIGTERM, 143)])
def test_a_signal_ends_with_a_document(hive: Workshop, number: signal.Signals, code: int) -> None:
    """As shells count processes that a signal has ended: 128 and its number."""
    steps = hive.recipe.parent / "hive_steps.py"
    begun = hive.root / "begun"
    # in short pieces: a signal that comes just before a long one would be heeded behind it
    wait = f"open({str(begun)!r}, 'w').close(); import time; [time.sleep(0.01) for _ in 'x' * 3000]"
    steps.write_text(
        steps.read_text().replace("    yield before(0,", f"    {wait}\n    yield before(0,")
    )
    args = [sys.executable, "-m", "headrace", *ANSWERS["prepare"], "--json"]
    with subprocess.Popen(
        args, cwd=hive.root, stdout=subprocess.PIPE, stderr=subprocess.PIPE
    ) as process:
        deadline = time.monotonic() + 30
        while not begun.exists():
            assert process.poll() is None, "it ended before it began"
            assert time.monotonic() < deadline, "it did not begin within 30 s"
            time.sleep(0.02)
        process.send_signal(number)
        stdout, stderr = process.communicate(timeout=30)
    assert process.returncode == code, stderr
    told = json.loads(stdout)
    assert (told["format"], told["exit-code"]) == ("headrace-error/1", code)
    assert told["error"].encode() in stderr
    assert hive.on_card() == {}


@pytest.mark.skipif(sys.platform == "win32", reason="signals are others there")
def test_a_watch_prints_a_document_a_line(
    hive: Workshop, judge: Callable[[str], list[str]]
) -> None:
    pytest.importorskip("watchfiles")
    args = ["watch", "recipes/plain.yaml", "jobs", "--card", "card", "--json"]
    with subprocess.Popen(
        [sys.executable, "-m", "headrace", *args],
        cwd=hive.root, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True,
    ) as process:  # fmt: skip
        assert process.stdout is not None
        first = process.stdout.readline()
        process.send_signal(signal.SIGINT)
        rest, _ = process.communicate(timeout=30)
    lines = [first, *rest.splitlines()]
    told = [json.loads(line) for line in lines]

    assert [fault for line in lines for fault in judge(line)] == []
    assert process.returncode == told[-1]["exit-code"] == 130
    assert {each["format"] for each in told[:-1]} == {"headrace-watch/1"}
    assert told[0]["files"][0]["fate"] == "written"


@pytest.mark.parametrize("recipe", sorted(GALLERY))
def test_the_gallery_answers(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, recipe: str, printed: list[dict[str, Any]]
) -> None:
    """Split jobs, card files without a job, steps that other steps ask for, warnings."""
    shutil.copytree(RECIPES, tmp_path / "recipes")
    (tmp_path / "card").mkdir()
    monkeypatch.chdir(tmp_path)
    jobs = dict.fromkeys(f"recipes/jobs/{job.partition(',')[0]}" for job in GALLERY[recipe])
    for args in (
        ["plan", f"recipes/{recipe}.yaml", *jobs],
        ["prepare", f"recipes/{recipe}.yaml", *jobs, "--card", "card"],
        ["verify", "card"],
    ):
        assert document(*args)["exit-code"] == 0
    planned, prepared, verified = printed
    named = [file["card-name"] for file in planned["files"]]
    assert named == [file["card-name"] for file in prepared["files"]]
    assert sorted(named) == sorted(file["name"] for file in verified["files"])
    assert verified["ready"]
    for plan, file in zip(planned["files"], prepared["files"], strict=True):
        assert (plan["steps"], plan["proof"]) == (file["steps"], file["proof"])
        assert plan["findings"] == file["findings"]
        assert all(row["step"] and row["recipe-line"] for row in plan["changes"])


# --- the schemas ------------------------------------------------------------------------------


def parts(node: Any, way: str = "") -> Iterator[tuple[str, dict[str, Any]]]:
    """Every schema inside a schema, with the way to it."""
    if isinstance(node, dict):
        if "type" in node or "$ref" in node or "enum" in node or "const" in node or "anyOf" in node:
            yield way, node
        for key, inner in node.items():
            if key in ("properties", "$defs"):
                for name, part in inner.items():
                    yield from parts(part, f"{way}/{key}/{name}")
            elif key in ("items", "additionalProperties"):
                yield from parts(inner, f"{way}/{key}")
            elif key == "anyOf":
                for number, part in enumerate(inner):
                    yield from parts(part, f"{way}/{key}/{number}")


@pytest.mark.parametrize("name", NAMES)
def test_schemas_are_schemas_and_stand_alone(name: str) -> None:
    schema = json.loads(run("schema", name).stdout)
    Draft202012Validator.check_schema(schema)
    assert schema["$schema"] == Draft202012Validator.META_SCHEMA["$id"]
    assert schema == output_schema(name)
    for way in re.findall(r'"\$ref": "([^"]*)"', json.dumps(schema)):
        assert way.removeprefix("#/$defs/") in schema["$defs"]


@pytest.mark.parametrize("name", NAMES)
def test_every_part_explains_itself_and_is_closed(name: str) -> None:
    for way, part in parts(output_schema(name)):
        if "$ref" not in part or way.split("/")[-2] == "properties":
            assert part.get("description"), way
        if part.get("type") == "object" and "properties" in part:
            assert part["additionalProperties"] is False, way
            assert set(part["required"]) == part["properties"].keys(), way


def test_every_state_has_its_word_in_the_schemas() -> None:
    def words(name: str, *way: str) -> set[str]:
        part = output_schema(name)
        for key in way:
            part = part["items"] if key == "*" else part[key]
        return set(part["enum"])

    fates = words("prepare", "$defs", "file", "properties", "fate")
    states = words("verify", "properties", "files", "*", "properties", "state")
    outcomes = ("properties", "folders", "*", "properties", "outcomes", "*", "properties")
    unfit = {"refused", "stopped-by-plugin", "not-written", "stopped-by-fault"}

    assert fates == {*map(str, Fate), "fit", *unfit}
    assert states == {str(state).replace(" ", "-") for state in State}
    assert words("keep", *outcomes, "standing") == {*map(str, Standing)}
    assert words("explain", "$defs", "finding", "properties", "severity") == {*map(str, Severity)}


def test_the_lists_that_are_written_are_as_their_schemas_say(hive: Workshop) -> None:
    hive.job("bad.nc", REFUSED)
    for name in ("prepare", "keep", "sheet", "picture"):
        run(*ANSWERS[name])
    for name, path in (("card-list", "card/HEADRACE.JSON"), ("kept-list", "kept/KEPT.json")):
        data = json.loads((hive.root / path).read_bytes())
        assert list(Draft202012Validator(output_schema(name)).iter_errors(data)) == []
        assert data["files"]
