"""A job is made again when something has changed from which its file follows, and only then."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from workshop import LID, REFUSED, Workshop, set_up

import headrace
import headrace.run
from headrace.batch import Prepared, collect_jobs, prepare_folder
from headrace.batch.engines import Serial
from headrace.batch.engines.kit import with_python_files
from headrace.batch.inspection import inspected
from headrace.card.delivery import Fate
from headrace.card.manifest import read_manifest
from headrace.errors import CardError
from headrace.plugins.registry import load_registry
from headrace.recipe import load_plan

CARD_FILES = """\
card-files:
  - {name: FIRST, steps: [heading: {text: FIRST}]}
  - {name: SECOND, after: FIRST, steps: [heading: {text: SECOND}]}
  - {name: ALONE, steps: [no-blanks]}
"""
JOBS = {"a.nc", "b.nc", "c.nc"}
ALL = {*JOBS, "FIRST", "SECOND", "ALONE"}

Change = Callable[[Workshop], object]


@pytest.fixture
def made(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """What was prepared, by its name."""
    names: list[str] = []
    job, card_file = headrace.run.prepare_job, headrace.run.prepare_card_file

    def prepare_job(name: str, *rest: Any) -> Any:
        names.append(name)
        return job(name, *rest)

    def prepare_card_file(file: Any, *rest: Any) -> Any:
        names.append(file.name)
        return card_file(file, *rest)

    monkeypatch.setattr(headrace.run, "prepare_job", prepare_job)
    monkeypatch.setattr(headrace.run, "prepare_card_file", prepare_card_file)
    return names


@pytest.fixture
def hive(tmp_path: Path) -> Workshop:
    return workshop(tmp_path / "hive")


def workshop(root: Path) -> Workshop:
    hive = set_up(root, ["heading: {text: LIDS}", "capitals", "no-blanks"])
    hive.recipe.write_text(hive.recipe.read_text() + CARD_FILES)
    for name in sorted(JOBS):
        hive.job(name, LID.replace("hive lid", f"hive lid {name}"))
    return hive


def run(
    hive: Workshop, *jobs: Path, overrides: tuple[str, ...] = (), afresh: bool = False
) -> Prepared:
    installed = load_registry()
    plan = load_plan(hive.recipe, installed, overrides)
    files, _ = collect_jobs(jobs or [hive.jobs])
    registry = with_python_files(installed, plan)
    return prepare_folder(plan, registry, files, hive.card, engine=Serial(), afresh=afresh)


def standing(hive: Workshop) -> dict[str, tuple[int, int, bytes]]:
    """All that a look at the card tells, the folder's own time of change too."""
    found = {}
    for path in (hive.card, *hive.card.iterdir()):
        stat = path.stat()
        data = path.read_bytes() if path.is_file() else b""
        found[path.name] = (stat.st_ino, stat.st_mtime_ns, data)
    return found


def written(path: Path, old: str, new: str) -> None:
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new))


def recipe(old: str, new: str) -> Change:
    return lambda hive: written(hive.recipe, old, new)


def machine(old: str, new: str) -> Change:
    return lambda hive: written(hive.recipe.parent / "machine.yaml", old, new)


def plugin(old: str, new: str) -> Change:
    return lambda hive: written(hive.recipe.parent / "hive_steps.py", old, new)


CHANGES: dict[str, tuple[Change, set[str]]] = {
    "nothing": (lambda _hive: None, set()),
    "a byte of a job": (lambda hive: written(hive.jobs / "b.nc", "X40", "X41"), {"b.nc"}),
    "a job that is new": (lambda hive: hive.job("d.nc"), {"d.nc"}),
    "a job written again": (lambda hive: written(hive.jobs / "b.nc", "X40", "X40"), set()),
    "an option": (recipe("text: LIDS", "text: LID"), JOBS),
    "a step less": (recipe("  - capitals\n", ""), JOBS),
    "steps in another order": (recipe("  - capitals\n  - no-blanks", "  - no-blanks\n  - capitals"),
                               JOBS),
    "what is taken for granted": (recipe("{units: mm}", "{units: mm, dwell: seconds}"), ALL),
    "a lowered warning": (
        recipe("assume:", "lower: [{finding: no-end, because: it is fine here}]\nassume:"), ALL),
    "the second card file": (recipe("text: SECOND", "text: NEXT"), {"FIRST", "SECOND"}),
    "the first card file": (recipe("text: FIRST", "text: BEFORE"), {"FIRST", "SECOND"}),
    "a card file by itself": (recipe("ALONE, steps: [no-blanks]", "ALONE, steps: [capitals]"),
                              {"ALONE"}),
    "the machine": (machine("bed: 120", "bed: 121"), ALL),
    "a number written otherwise": (machine("bed: 120", "bed: 120.0"), ALL),
    "the set-up": (recipe("thickness: 18", "thickness: 18.2"), ALL),
    "the plugin": (plugin("HIVE PART", "PART OF A HIVE"), ALL),
    "a comment of the recipe": (recipe("steps:\n", "steps: # in order\n\n"), set()),
    "a comment of the machine": (machine("bed: 120", "bed: 120  # ply"), set()),
    "line ends of the machine": (machine("\n", "\r\n"), set()),
    "what the recipe is called": (recipe("name: Plain text", "name: Text"), set()),
    "a file taken off the card": (lambda hive: (hive.card / "C.NC").unlink(), {"c.nc"}),
    "the list taken off the card": (lambda hive: (hive.card / "HEADRACE.JSON").unlink(), ALL),
}  # fmt: skip


@pytest.mark.parametrize(("change", "again"), CHANGES.values(), ids=CHANGES)
def test_just_what_follows_from_a_change_is_made_again(
    hive: Workshop, made: list[str], change: Change, again: set[str]
) -> None:
    run(hive)
    assert set(made) == ALL
    made.clear()
    change(hive)
    found = run(hive)
    assert sorted(made) == sorted(again)
    assert found.exit_code == 0
    card = hive.on_card()
    run(hive, afresh=True)
    assert hive.on_card() == card, "it is not what a run afresh gives"


@pytest.mark.parametrize("version", ["0.1.1", "1.0"])
def test_all_is_made_again_by_another_version(
    hive: Workshop, made: list[str], monkeypatch: pytest.MonkeyPatch, version: str
) -> None:
    run(hive)
    made.clear()
    monkeypatch.setattr(headrace, "__version__", version)
    run(hive)
    assert set(made) == ALL
    listed = read_manifest(hive.card / "HEADRACE.JSON")
    assert {entry.origin.headrace.version for entry in listed.entries} == {version}


@pytest.mark.parametrize(
    ("override", "again"),
    [
        ("setup.sheet.thickness=19", ALL),
        ("machine.axes.x.feed=1900", ALL),
        ("steps.heading.text=BEES", JOBS),
        ("assume.units=mm", set()),
        ("machine.bed=120", set()),
    ],
)
def test_an_override_counts_as_if_it_were_written(
    hive: Workshop, made: list[str], override: str, again: set[str]
) -> None:
    run(hive)
    made.clear()
    run(hive, overrides=(override,))
    assert set(made) == again
    made.clear()
    run(hive, overrides=(override,))
    assert made == []


def test_a_plugin_counts_by_its_bytes_even_where_size_and_times_are_the_same(
    hive: Workshop,
) -> None:
    """Python itself goes by size and time and would run what it compiled before."""
    steps = hive.recipe.parent / "hive_steps.py"
    stat = steps.stat()
    run(hive)
    written(steps, 'f"({text})"', 'f"( {text})"')
    written(steps, "Put a comment first.", "Put a comment firs.")
    os.utime(steps, ns=(stat.st_atime_ns, stat.st_mtime_ns))
    assert (steps.stat().st_size, steps.stat().st_mtime_ns) == (stat.st_size, stat.st_mtime_ns)
    run(hive)
    assert hive.on_card()["A.NC"].startswith(b"( LIDS)")
    assert not list(hive.recipe.parent.rglob("*.pyc"))


@pytest.mark.parametrize("as_package", [False, True])
def test_a_python_file_that_imports_files_beside_it_is_never_taken_for_the_same(
    hive: Workshop, made: list[str], monkeypatch: pytest.MonkeyPatch, as_package: bool
) -> None:
    """What those hold, and which of their states this process has, nobody can tell."""
    folder = hive.recipe.parent
    name = f"hive_words_{as_package}".lower()
    words = folder / name / "__init__.py" if as_package else folder / f"{name}.py"
    words.parent.mkdir(exist_ok=True)
    words.write_text("TEXT = 'NOON'\n")
    monkeypatch.syspath_prepend(str(folder))
    monkeypatch.delitem(sys.modules, name, raising=False)
    plugin('f"({text})"', 'f"({text} {TEXT})"')(hive)
    plugin("from headrace", f"from {name} import TEXT\nfrom headrace")(hive)
    run(hive)
    assert hive.on_card()["A.NC"].startswith(b"(LIDS NOON)")
    words.write_text("TEXT = 'NIGHT'\n")
    monkeypatch.delitem(sys.modules, name)
    made.clear()
    found = run(hive)
    assert set(made) == ALL
    assert hive.on_card()["A.NC"].startswith(b"(LIDS NIGHT)")
    assert run(hive, hive.jobs / "a.nc").findings == found.findings, "no change is claimed"


def test_all_is_made_again_where_it_is_wanted(hive: Workshop, made: list[str]) -> None:
    run(hive)
    before = standing(hive)
    made.clear()
    found = run(hive, afresh=True)
    assert set(made) == ALL
    assert {file.fate for file in found.files} == {Fate.UNCHANGED}
    assert standing(hive) == before


def test_a_job_that_was_refused_is_looked_at_each_time(hive: Workshop, made: list[str]) -> None:
    hive.job("b.nc", REFUSED)
    assert run(hive).exit_code == 1
    made.clear()
    assert run(hive).exit_code == 1
    assert made == ["b.nc"]


def test_a_recipe_and_jobs_that_move_are_the_same(
    hive: Workshop, made: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    run(hive)
    made.clear()
    moved = Workshop(hive.root.rename(tmp_path / "elsewhere"))
    before = standing(moved)
    monkeypatch.chdir(moved.root)
    run(Workshop(Path()), Path("jobs"))
    assert made == []
    assert standing(moved) == before


def test_another_job_beside_it_changes_nothing_of_a_job(hive: Workshop, made: list[str]) -> None:
    """Not even where both are called the same and get their folder before their names."""
    run(hive, hive.jobs / "a.nc")
    (hive.jobs / "more").mkdir()
    hive.job("more/d.nc")
    made.clear()
    run(hive, hive.jobs / "a.nc", hive.jobs / "more")
    assert made == ["d.nc"]


@settings(max_examples=12, deadline=None, suppress_health_check=list(HealthCheck))
@given(job=st.sampled_from(sorted(JOBS)), data=st.data())
def test_any_byte_of_a_job_counts_for_that_job_alone(
    tmp_path_factory: pytest.TempPathFactory, job: str, data: st.DataObject
) -> None:
    hive = workshop(tmp_path_factory.mktemp("bytes") / "hive")
    run(hive)
    path = hive.jobs / job
    text = bytearray(path.read_bytes())
    at = data.draw(st.integers(0, len(text) - 1))
    text[at] ^= 1 << data.draw(st.integers(0, 7))
    path.write_bytes(text)
    names: list[str] = []
    with pytest.MonkeyPatch.context() as patch:
        original = headrace.run.prepare_job
        patch.setattr(
            headrace.run,
            "prepare_job",
            lambda name, *rest: (names.append(name), original(name, *rest))[1],
        )
        run(hive)
    assert names == [job]


@pytest.mark.parametrize("workers", ["1", "2"])
def test_the_command_prepares_what_is_new_and_all_if_asked(tmp_path: Path, workers: str) -> None:
    """A step that keeps a book of the jobs that it saw, in whatever process."""
    hive = set_up(tmp_path / "hive", ["heading"])
    book = hive.recipe.parent / "book"
    note = f"    with open({str(book)!r}, 'a') as book: book.write(job.program.name + ' ')\n"
    steps = hive.recipe.parent / "hive_steps.py"
    written(steps, "    yield before(0,", note + "    yield before(0,")
    for name in ("a.nc", "b.nc"):
        hive.job(name)

    def booked(*options: str) -> list[str]:
        book.write_text("")
        args = ["prepare", hive.recipe, hive.jobs, "--card", hive.card, "--jobs", workers]
        done = hive.run(*args, *options)
        assert done.returncode == 0, done.stderr
        return sorted(book.read_text().split())

    assert booked() == ["a.nc", "b.nc"]
    assert booked() == []
    written(hive.jobs / "a.nc", "X40", "X41")
    assert booked() == ["a.nc"]
    assert booked("--afresh") == ["a.nc", "b.nc"]
    assert booked("--set", "setup.sheet.thickness=18.4") == ["a.nc", "b.nc"]


# --- what is said ------------------------------------------------------------------------------


def test_the_same_is_said_as_on_the_first_run(tmp_path: Path) -> None:
    """Warnings too: the job has no end."""
    hive = set_up(tmp_path / "hive", card_files=True)
    hive.job("lid.nc", LID.replace("M30\n", ""))
    hive.job("floor.nc")
    hive.job("bad.nc", REFUSED)
    args = ["prepare", hive.recipe, hive.jobs, "--card", hive.card]
    first, second = hive.run(*args), hive.run(*args)
    assert (first.returncode, second.returncode) == (1, 1)
    assert b"HRJ009 no-end" in first.stderr
    assert first.stdout.replace(b"  written: ", b"  unchanged: ") == second.stdout
    said, again = first.stderr.splitlines(), second.stderr.splitlines()
    assert said[:-1] == again[:-1]
    assert (said[-1], again[-1]) == (
        b"3 written, 1 refused; exit code 1",
        b"0 written, 3 unchanged, 1 refused; exit code 1",
    )


def test_records_from_the_list_are_those_of_the_run_that_made_them(hive: Workshop) -> None:
    hive.job("d.nc", LID.replace("M30\n", ""))
    first = [replace(file.record, staged=None) for file in run(hive).files]
    assert [file.record for file in run(hive).files] == first
    assert [record.warnings for record in first] == [0, 0, 0, 0, 0, 0, 1]


def test_no_finding_of_a_job_that_is_fit_tells_of_another_file() -> None:
    """Else it would hang on more than its job and its origin: the demo's jobs by its recipes."""
    recipes = Path(__file__).parents[3] / "recipes"
    installed = load_registry()
    seen = 0
    for path in sorted(recipes.glob("*.yaml")):
        plan = load_plan(path, installed)
        files, _ = collect_jobs([recipes / "jobs"])
        for each in inspected(plan, with_python_files(installed, plan), files):
            if each.outcome is None or each.outcome.refused:
                continue
            for finding in each.findings:
                assert finding.place is None or finding.place.file == each.outcome.source.name
                assert str(recipes.parent) not in finding.what + finding.why + finding.remedy
                seen += 1
    assert seen > 5


# --- nothing is written ------------------------------------------------------------------------


def test_nothing_at_all_is_written_where_nothing_has_changed(hive: Workshop) -> None:
    run(hive)
    before = standing(hive)
    found = run(hive)
    assert {file.fate for file in found.files} == {Fate.UNCHANGED}
    assert standing(hive) == before


def test_a_run_of_one_of_many_writes_that_one_and_the_list(hive: Workshop) -> None:
    run(hive)
    before = standing(hive)
    written(hive.jobs / "b.nc", "X40", "X41")
    run(hive)
    after = standing(hive)
    changed = {name for name in before if before[name] != after[name]}
    assert changed == {"card", "B.NC", "HEADRACE.JSON"}


def test_a_card_that_cannot_be_written_does_where_nothing_has_changed(
    hive: Workshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    run(hive)
    opened: list[object] = []
    original = os.open

    def watched(path: Any, flags: int, *rest: Any, **more: Any) -> int:
        if flags & (os.O_WRONLY | os.O_RDWR | os.O_CREAT):
            opened.append(path)
        return original(path, flags, *rest, **more)

    monkeypatch.setattr(os, "open", watched)
    run(hive)
    assert opened == []


@pytest.mark.parametrize("data", [None, b"mended by hand"], ids=["taken away", "changed"])
def test_an_unchanged_file_that_somebody_meddles_with_meanwhile_stops_the_run(
    hive: Workshop, monkeypatch: pytest.MonkeyPatch, data: bytes | None
) -> None:
    run(hive)
    before = hive.on_card()
    written(hive.jobs / "b.nc", "X40", "X41")
    original = headrace.run.prepare_job

    def prepare_job(*given: Any) -> Any:
        (hive.card / "A.NC").unlink()
        if data is not None:
            (hive.card / "A.NC").write_bytes(data)
        return original(*given)

    monkeypatch.setattr(headrace.run, "prepare_job", prepare_job)
    with pytest.raises(CardError):
        run(hive)
    after = hive.on_card()
    assert after.pop("A.NC", None) == data
    assert after == {name: held for name, held in before.items() if name != "A.NC"}


# --- jobs in parts -----------------------------------------------------------------------------

TWO_BITS = (
    "G21 G17 G90 G94\nT1 M6\nM3 S18000\nG0 Z30\n"
    "G0 X10 Y10\nG0 Z2\nG1 Z-3 F300\nG1 X50 F900\nG0 Z30\nM5\nT2 M6\n"
    "M3 S18000\nG0 X80 Y40\nG0 Z2\nG1 Z-3 F300\nG1 X90\nG0 Z30\nM5\nM30\n"
)


@pytest.fixture
def trays(tmp_path: Path) -> Workshop:
    """A recipe that splits its jobs, and a job with two bits."""
    hive = set_up(tmp_path / "trays", ["split-tools", "heading"])
    old = "tool: {stick-out: 30, diameter: 6, flute: 20}"
    new = (
        "tools: [{number: 1, stick-out: 30, diameter: 6}, {number: 2, stick-out: 30, diameter: 3}]"
    )
    written(hive.recipe, old, new)
    hive.job("tray.nc", TWO_BITS)
    hive.job("lid.nc")
    return hive


def test_all_parts_of_a_job_are_made_again_or_none(
    trays: Workshop, made: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    first = run(trays)
    assert [file.record.name for file in first.files] == ["lid.nc", "tray-1.nc", "tray-2.nc"]
    before = standing(trays)
    made.clear()
    monkeypatch.setattr(headrace.run, "count_parts", None)  # nor are they counted again
    second = run(trays)
    assert made == []
    assert [file.record.name for file in second.files] == ["lid.nc", "tray-1.nc", "tray-2.nc"]
    assert standing(trays) == before
    (trays.card / "TRAY-2.NC").unlink()
    third = run(trays)
    assert made == ["tray.nc", "tray.nc"]
    assert [file.fate for file in third.files] == [Fate.UNCHANGED, Fate.UNCHANGED, Fate.WRITTEN]


def test_a_job_is_read_once_to_see_that_its_parts_are_unchanged(
    trays: Workshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    run(trays)
    read: list[str] = []
    original = Path.read_bytes

    def read_bytes(path: Path) -> bytes:
        read.append(path.name)
        return original(path)

    monkeypatch.setattr(Path, "read_bytes", read_bytes)
    run(trays)
    assert [read.count(name) for name in ("lid.nc", "tray.nc")] == [1, 1]


# --- what is left of earlier runs --------------------------------------------------------------


def told(found: Prepared) -> list[tuple[str, str]]:
    return [(finding.name, finding.what) for finding in found.findings]


def test_the_file_of_a_job_that_is_gone_is_named_and_stays(hive: Workshop) -> None:
    run(hive)
    (hive.jobs / "b.nc").unlink()
    before = hive.on_card()["B.NC"]
    what = "B.NC on the card was made from b.nc, which is no longer in the folder jobs"
    for _ in range(2):
        assert told(run(hive)) == [("card-job-gone", what)]
    assert told(run(hive, hive.jobs / "a.nc")) == [("card-job-gone", what)]
    assert hive.on_card()["B.NC"] == before
    (hive.card / "B.NC").unlink()
    assert [name for name, _ in told(run(hive))] == ["card-file-gone"]
    assert told(run(hive)) == []


def test_the_last_job_of_a_folder_is_missed_too(hive: Workshop) -> None:
    run(hive, hive.jobs / "a.nc")
    for path in hive.jobs.iterdir():
        path.unlink()
    installed = load_registry()
    plan = load_plan(hive.recipe, installed)
    registry = with_python_files(installed, plan)
    found = prepare_folder(plan, registry, [], hive.card, engine=Serial(), folders=[hive.jobs])
    what = "A.NC on the card was made from a.nc, which is no longer in the folder jobs"
    assert told(found) == [("card-job-gone", what)]
    assert told(prepare_folder(plan, registry, [], hive.card, engine=Serial())) == []


def test_jobs_of_other_folders_and_files_of_other_recipes_are_none_of_this_run(
    hive: Workshop,
) -> None:
    run(hive)
    (hive.jobs / "b.nc").unlink()
    frames = hive.root / "frames"
    frames.mkdir()
    (frames / "side.nc").write_text(LID)
    assert told(run(hive, frames)) == []
    hive.recipe.rename(hive.recipe.with_name("first.yaml"))
    hive.recipe.write_text(hive.recipe.with_name("first.yaml").read_text())
    written(hive.recipe, "name: Plain text", "name: Other text")
    assert told(run(hive)) == []


def test_files_from_before_a_change_are_named_with_what_changed(hive: Workshop) -> None:
    run(hive)
    written(hive.recipe, "text: LIDS", "text: LID")
    written(hive.recipe.parent / "machine.yaml", "bed: 120", "bed: 121")
    what = "2 files on the card are from before a change of the recipe and the machine: "
    assert told(run(hive, hive.jobs / "b.nc")) == [
        ("card-file-outdated", what + "A.NC (a.nc), C.NC (c.nc)")
    ]
    written(hive.recipe.parent / "hive_steps.py", "HIVE PART", "PART OF A HIVE")
    what = "C.NC (c.nc) on the card is from before a change of "
    what += "the recipe, the machine and the plugin hive_steps.py"
    found = told(run(hive, hive.jobs / "b.nc", hive.jobs / "a.nc"))
    assert found == [("card-file-outdated", what)]
    assert told(run(hive)) == []


def test_a_card_file_that_the_recipe_no_longer_has_is_named(hive: Workshop) -> None:
    run(hive)
    written(hive.recipe, "  - {name: ALONE, steps: [no-blanks]}\n", "")
    what = "ALONE.NC on the card was a card file of plain.yaml, which no longer makes it"
    assert told(run(hive)) == [("card-job-gone", what)]


def test_a_job_that_gets_another_name_on_the_card_is_named(hive: Workshop) -> None:
    run(hive)
    written(hive.recipe.parent / "machine.yaml", "extension: NC", "extension: TAP")
    found = told(run(hive, hive.jobs / "a.nc"))
    assert ("card-older-file",
            "A.NC on the card is from a.nc, which has another name there now") in found  # fmt: skip


def test_of_very_many_files_from_before_a_change_some_are_named(hive: Workshop) -> None:
    for number in range(30):
        hive.job(f"{number:02}.nc")
    run(hive)
    written(hive.recipe, "text: LIDS", "text: LID")
    ((name, what),) = told(run(hive, hive.jobs / "a.nc"))
    assert name == "card-file-outdated"
    assert what.startswith(
        "32 files on the card are from before a change of the recipe: 00.NC (00."
    )
    assert what.endswith("19.NC (19.nc) and 12 more")
