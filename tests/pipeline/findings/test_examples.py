"""Every kind of finding has an example, and the examples do what they say: each is run as its
reader would run it. `python tests/pipeline/findings/test_examples.py` writes anew what headrace
says to them, which `headrace explain` shows."""

from __future__ import annotations

import json
import os
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from pathlib import Path

import pytest
from click.testing import CliRunner
from pipeline.findings import situations
from pipeline.findings.trial import Ran, Trial
from syrupy.assertion import SnapshotAssertion

import headrace
from headrace.cli.group import headrace as command
from headrace.findings import CATALOGUE, Severity
from headrace.findings.catalogue import Kind
from headrace.findings.example import Example, example_of, said
from headrace.report.explain_text import AREAS

FOLDER = Path(str(headrace.__file__)).parent / "findings" / "examples"
BASES = sorted(path.name for path in (FOLDER / "bases").iterdir())
KINDS = [kind for kind in CATALOGUE.values() if (FOLDER / f"{kind.name}.yaml").exists()]
"""Those that have an example."""

MOST_NAMES = 3
"""So many kinds of findings a failing example may give, so that its own is not buried."""

SECOND = frozenset(
    (
        "more-findings",
        "recipe-more-findings",
        "card-unfinished",
        "card-unconfirmed",
        "card-file-unready",
    )
)
"""Kinds that only ever follow another refusal."""

BESIDE_A_REFUSAL = frozenset(("card-older-file", "sheet-not-written"))
"""Kinds that do not refuse, but tell what a refusal means for card and run sheet."""

HALF_DONE = frozenset(("card-unfinished", "card-unconfirmed"))
"""Kinds that say that something was written."""

PLACED = frozenset(("card-file-unready",))
"""Kinds on cards, run sheets and pictures that show a place in a file: no other has one."""

UNPLACED = frozenset(("more-findings",))
"""Kinds of all other areas that show none."""


@contextmanager
def trial_of(example: Example, patch: pytest.MonkeyPatch) -> Iterator[Trial]:
    """The failing workshop of an example."""
    with tempfile.TemporaryDirectory() as folder:
        trial = Trial(Path(folder).resolve() / "hives", example, patch)
        trial.lay(example.failing)
        yield trial


def failed(trial: Trial) -> Ran:
    """The failing example run; its situation is over then."""
    name = trial.example.situation
    with getattr(situations, name)(trial) if name else nullcontext():
        return trial.run(trial.example.runs[0])


def mended(trial: Trial) -> Ran:
    """The mended example run, in the same folder."""
    example = trial.example
    for name in example.failing.keys() - example.mended.keys():
        (trial.folder / name).unlink(missing_ok=True)
    trial.lay(example.mended)
    return trial.run(example.runs[1])


def has_place(kind: Kind) -> bool:
    of_files = kind.id.startswith(("HRC", "HRS02", "HRS03"))
    return kind.name in PLACED if of_files else kind.name not in UNPLACED


def page(name: str) -> list[str]:
    result = CliRunner().invoke(command, ["explain", name])
    assert result.exit_code == 0, result.output
    assert result.stderr == ""
    return result.stdout.splitlines()


def test_every_kind_has_an_example_and_every_example_a_kind() -> None:
    files = {path.stem for path in FOLDER.glob("*.yaml")}
    strange = sorted(files - set(CATALOGUE))
    missing = sorted(set(CATALOGUE) - files)
    told = json.loads((FOLDER / "said.json").read_text("utf-8"))

    assert not strange, f"examples of no kind: {', '.join(strange)}"
    assert not missing, f"{len(missing)} kinds without an example: {', '.join(missing)}"
    assert set(told) == files, "run this file to write said.json anew"


@pytest.mark.parametrize("base", BASES)
def test_base_is_sound(base: str, monkeypatch: pytest.MonkeyPatch) -> None:
    files = {path.name: path.read_bytes() for path in (FOLDER / "bases" / base).iterdir()}
    runs = ("prepare recipe.yaml job.nc --card card",) * 2
    with trial_of(Example("", base, runs, files, files, files), monkeypatch) as trial:
        ran = failed(trial)

    assert ran.findings == ()
    assert (ran.exit_code, ran.card_touched) == (0, True)


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
def test_example(kind: Kind, monkeypatch: pytest.MonkeyPatch) -> None:
    name, example = kind.name, example_of(kind.name)
    with trial_of(example, monkeypatch) as trial:
        bad = failed(trial)
        told = [trial.said(finding) for finding in bad.of(name)]
        good = mended(trial)

    assert bad.of(name), bad.output
    finding = bad.of(name)[0]
    assert (finding.id, finding.severity) == (kind.id, kind.severity)
    assert finding.what
    assert finding.why
    assert finding.remedy
    assert example.meaning.endswith(".")
    assert (finding.place is not None) == has_place(kind)
    assert len({finding.name for finding in bad.findings}) <= MOST_NAMES, bad.output
    refusals = [other.name for other in bad.findings if other.severity is Severity.REFUSE]
    if kind.severity is Severity.REFUSE:
        assert (refusals[0] == name) == (name not in SECOND), bad.output
        assert bad.exit_code != 0
        assert bad.card_touched == (name in HALF_DONE)
    else:
        assert bool(refusals) == (name in BESIDE_A_REFUSAL), bad.output
        assert bool(bad.exit_code) == (name in BESIDE_A_REFUSAL)
    assert good.of(name) == [], good.output
    assert good.exit_code == 0, good.output
    assert list(said(name)) == told[0], "run this file to write said.json anew"


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
def test_page(kind: Kind) -> None:
    lines = page(kind.name)
    text = " ".join(" ".join(lines).split())

    assert lines[0] == f"{kind.id} {kind.name}"
    for part in (example_of(kind.name).meaning, kind.why, kind.remedy):
        assert " ".join(part.split()) in text
    assert [line for line in lines if len(line) > 100] == []
    marked = [line for line in lines if line.startswith("  >")]
    example = example_of(kind.name)
    assert marked or example.situation or example.runs[0] != example.runs[1]
    assert page(kind.id.lower()) == lines


@pytest.mark.parametrize("name", ["recipe-tab", "bad-number", "card-foreign-file"])
def test_page_as_it_stands(name: str, snapshot: SnapshotAssertion) -> None:
    assert "\n".join(page(name)) == snapshot


def test_the_list_has_every_kind_in_its_area() -> None:
    result = CliRunner().invoke(command, ["explain"])
    lines = result.stdout.splitlines()

    assert result.exit_code == 0
    assert [line for line in lines if len(line) > 80] == []
    area = ""
    listed = []
    for line in lines:
        if line.endswith(":"):
            area = line[:-1]
        elif line.startswith("  "):
            at, severity, name = line.split()
            assert (at, severity) == (CATALOGUE[name].id, CATALOGUE[name].severity)
            assert AREAS[at[2]] == area
            listed.append(name)
    assert sorted(listed) == sorted(CATALOGUE)


def test_no_workshops_where_no_file_can_show_it(tmp_path: Path) -> None:
    result = CliRunner().invoke(command, ["explain", "card-full", "--to", str(tmp_path / "new")])

    assert (result.exit_code, result.stdout) == (2, "")
    assert "no file can show this finding" in result.stderr
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("name", ["recipe-extends-cycle", "contract-broken", "passed-over"])
def test_workshops_to_try(name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What is written goes as `explain` says, in both folders; and never over a folder."""
    monkeypatch.chdir(tmp_path)
    wrote = CliRunner().invoke(command, ["explain", name, "--to", "tried"])
    runs = dict(line.split(": headrace ") for line in wrote.stdout.splitlines())
    codes = {}
    for folder, run in runs.items():
        monkeypatch.chdir(tmp_path / folder)
        result = CliRunner().invoke(command, run.split())
        codes[Path(folder).name] = (result.exit_code, name in result.output)
    monkeypatch.chdir(tmp_path)
    again = CliRunner().invoke(command, ["explain", name, "--to", "tried"])

    code = {"recipe-extends-cycle": 3, "contract-broken": 1, "passed-over": 0}[name]
    assert codes == {"failing": (code, True), "mended": (0, False)}
    assert again.exit_code == 2
    assert "tried is there already: name a new folder" in again.stderr


@pytest.mark.parametrize(
    ("wanted", "near"),
    [
        ("bad-nummer", "HRL004 bad-number"),
        ("hrp03", "HRP003 contract-broken"),
        ("zzz", "`headrace explain` for all"),
    ],
)
def test_a_name_that_is_none(wanted: str, near: str) -> None:
    result = CliRunner().invoke(command, ["explain", wanted])

    assert (result.exit_code, result.stdout) == (2, "")
    assert f"there is no finding '{wanted}'" in result.stderr
    assert near in result.stderr


def write_anew() -> None:
    """What headrace says to every failing example, into said.json; those that say nothing of
    their kind are printed."""
    os.environ["HEADRACE_PYTHON"] = "any"  # as in all tests
    told = {}
    for kind in sorted(KINDS, key=lambda kind: kind.name):
        with (
            pytest.MonkeyPatch.context() as patch,
            trial_of(example_of(kind.name), patch) as trial,
        ):
            ran = failed(trial)
            if found := ran.of(kind.name):
                told[kind.name] = trial.said(found[0])
            else:
                print(f"{kind.name}: {ran.output}", file=sys.stderr)
    text = json.dumps(told, indent=1, ensure_ascii=False)
    (FOLDER / "said.json").write_text(f"{text}\n", "utf-8")


if __name__ == "__main__":
    write_anew()
