"""Batches: each job by itself, the same bytes whatever the circumstances, nothing left behind."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from itertools import chain, repeat
from pathlib import Path

import pytest
from workshop import LID, REFUSED, Workshop, set_up

import headrace.run
from headrace.batch import JobFile, Prepared, Record, collect_jobs, examine_jobs, prepare_folder
from headrace.batch.engines import Processes
from headrace.batch.engines.kit import worker_registry
from headrace.batch.inspection import inspected
from headrace.card.delivery import Fate
from headrace.card.manifest import read_manifest
from headrace.card.room import Room
from headrace.errors import CardError
from headrace.plugins.registry import load_registry
from headrace.recipe import load_plan

LONG_JOB = "G21 G90\nG0 X0 Y0\nF600\n" + "G1 X1\nG1 X0\n" * 100_000 + "M30\n"


@pytest.fixture
def hive(tmp_path: Path) -> Workshop:
    return set_up(tmp_path / "hive")


def prepared(hive: Workshop, *jobs: Path, workers: int = 1) -> Prepared:
    plan = load_plan(hive.recipe, load_registry())
    files, _ = collect_jobs(jobs or [hive.jobs])
    return prepare_folder(plan, worker_registry(plan), files, hive.card, engine=Processes(workers))


def codes(run: Prepared) -> dict[str, int]:
    return {file.record.name: file.record.exit_code for file in run.files}


# --- which files are jobs ---------------------------------------------------------------------


def test_of_a_folder_the_files_with_a_usual_extension_are_taken_and_all_others_told(
    hive: Workshop,
) -> None:
    for name in ("b.nc", "A.NGC", "c.tap", "d.gcode", "e.cnc", "notes.txt", ".f.nc", "noext"):
        hive.job(name)
    (hive.jobs / "folder.nc").mkdir()
    os.mkfifo(hive.jobs / "pipe.nc")
    files, passed = collect_jobs([hive.jobs])
    assert [file.name for file in files] == ["A.NGC", "b.nc", "c.tap", "d.gcode", "e.cnc"]
    told = " ".join(finding.what for finding in passed)
    assert len(passed) == 5
    for name in ("notes.txt", ".f.nc", "noext", "folder.nc", "pipe.nc"):
        assert name in told


def test_a_file_given_by_name_is_taken_whatever_it_is_called(hive: Workshop) -> None:
    path = hive.job("lid.txt")
    assert collect_jobs([path])[0] == (JobFile("lid.txt", path),)


def test_a_file_given_twice_is_one_job(hive: Workshop) -> None:
    path = hive.job("lid.nc")
    assert (
        len(collect_jobs([path, hive.jobs, hive.root / "card" / ".." / "jobs" / "lid.nc"])[0]) == 1
    )


@pytest.mark.skipif(sys.platform != "linux", reason="file names are bytes there")
def test_a_name_is_one_line_and_no_other_file_has_it(hive: Workshop) -> None:
    names = [
        b"a\nb.nc",
        b"a\\nb.nc",
        b"a\\u{a}b.nc",
        b"\xc2\x85.nc",
        b"\x85.nc",
        b"\\x85.nc",
        b"\x1b[1m.nc",
    ]
    for name in names:
        (Path(os.fsdecode(os.fsencode(hive.jobs) + b"/" + name))).write_text(LID)
    files, _ = collect_jobs([hive.jobs])
    assert len({file.name for file in files}) == len(names)
    assert all(file.name.isprintable() for file in files)
    assert "a\\u{a}b.nc" in {file.name for file in files}


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="needs named pipes")
def test_looking_at_a_job_that_is_no_file_tells_what_preparing_it_does(hive: Workshop) -> None:
    os.mkfifo(hive.jobs / "pipe.nc")
    files, _ = collect_jobs([hive.jobs / "pipe.nc"])
    plan = load_plan(hive.recipe, load_registry())
    looked = list(inspected(plan, worker_registry(plan), files))[-1]
    done = prepared(hive, hive.jobs / "pipe.nc").files[-1].record
    assert [finding.name for finding in looked.findings] == ["job-unreadable"]
    assert (looked.findings, looked.exit_code) == (done.findings, done.exit_code)


def test_equal_names_are_told_apart_by_their_folders(hive: Workshop) -> None:
    for folder in ("a", "b"):
        (hive.jobs / folder).mkdir()
        hive.job(f"{folder}/lid.nc")
    hive.job("floor.nc")
    files, _ = collect_jobs([hive.jobs, hive.jobs / "b", hive.jobs / "a"])
    assert [file.name for file in files] == ["a/lid.nc", "b/lid.nc", "floor.nc"]


# --- one bad job never stops the others -------------------------------------------------------


@pytest.mark.parametrize("workers", [1, 2])
def test_a_refused_job_does_not_keep_the_others_back(hive: Workshop, workers: int) -> None:
    for name in ("a.nc", "c.nc"):
        hive.job(name)
    hive.job("b.nc", REFUSED)
    run = prepared(hive, workers=workers)
    assert codes(run) == {"a.nc": 0, "b.nc": 1, "c.nc": 0}
    assert run.exit_code == 1
    assert set(hive.on_card()) == {"A.NC", "C.NC", "HEADRACE.JSON"}


@pytest.mark.parametrize("workers", [1, 2])
def test_a_step_that_fails_on_one_job_does_not_keep_the_others_back(
    tmp_path: Path, workers: int
) -> None:
    hive = set_up(tmp_path / "hive", ["sting"])
    hive.job("a.nc")
    hive.job("b.nc", "(BEES)\n" + LID)
    run = prepared(hive, workers=workers)
    assert codes(run) == {"a.nc": 0, "b.nc": 4}
    assert "ZeroDivisionError: stung" in run.files[1].record.findings[0].what
    assert set(hive.on_card()) == {"A.NC", "HEADRACE.JSON"}


def test_a_fault_of_headrace_itself_is_the_finding_of_its_job(
    hive: Workshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    hive.job("a.nc")
    hive.job("b.nc")
    original = headrace.run.prepare_job

    def faulty(name: str, *args: object) -> object:
        if name == "a.nc":
            raise IndexError("nowhere")
        return original(name, *args)  # type: ignore[arg-type]

    monkeypatch.setattr(headrace.run, "prepare_job", faulty)
    run = prepared(hive)
    assert codes(run) == {"a.nc": 70, "b.nc": 0}
    record = run.files[0].record
    assert [finding.name for finding in record.findings] == ["internal-fault"]
    assert "IndexError: nowhere" in record.findings[0].what
    assert "faulty" in record.details
    assert set(hive.on_card()) == {"B.NC", "HEADRACE.JSON"}


def test_a_process_that_is_ended_from_outside_costs_its_own_job_only(tmp_path: Path) -> None:
    hive = set_up(tmp_path / "hive", ["heading"])
    steps = hive.recipe.parent / "hive_steps.py"
    killing = "    import os\n    if b'BEES' in job.program.to_bytes(): os.kill(os.getpid(), 9)\n"
    steps.write_text(
        steps.read_text().replace("    yield before(0,", killing + "    yield before(0,")
    )
    for name in ("a.nc", "c.nc", "d.nc"):
        hive.job(name)
    hive.job("b.nc", "(BEES)\n" + LID)
    run = prepared(hive, workers=2)
    assert codes(run) == {"a.nc": 0, "b.nc": 70, "c.nc": 0, "d.nc": 0}
    assert [finding.name for finding in run.files[1].record.findings] == ["worker-lost"]
    assert set(hive.on_card()) == {"A.NC", "C.NC", "D.NC", "HEADRACE.JSON"}


def stung_card_files(root: Path) -> Workshop:
    """The first card file fails, the second goes on from it, the third stands for itself."""
    hive = set_up(root)
    text = "card-files:\n" + "".join(
        f"  - {{name: {name}, {after}steps: [{steps}]}}\n"
        for name, after, steps in (
            ("FIRST", "", "heading: {text: BEES}, sting"),
            ("SECOND", "after: FIRST, ", "heading"),
            ("THIRD", "", "heading"),
        )
    )
    hive.recipe.write_text(hive.recipe.read_text() + text)
    return hive


def test_a_card_file_that_goes_on_from_one_that_failed_is_refused(tmp_path: Path) -> None:
    hive = stung_card_files(tmp_path / "hive")
    hive.job("lid.nc")
    run = prepared(hive)
    assert codes(run) == {"FIRST": 4, "SECOND": 1, "THIRD": 0, "lid.nc": 0}
    assert [f.name for f in run.files[1].record.findings] == ["card-file-unready"]
    assert set(hive.on_card()) == {"THIRD.NC", "LID.NC", "HEADRACE.JSON"}
    done = hive.run("plan", hive.recipe)
    assert done.returncode == 4
    assert b"SECOND goes on from FIRST" in done.stderr
    assert done.stdout.count(b"+++ ") == 1


def test_what_can_never_be_written_is_told_before_any_work(
    hive: Workshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("a.nc", "b.nc", "c.nc"):
        hive.job(name)
    (hive.card / "A.NC").mkdir()
    (hive.card / "c.nc").symlink_to(hive.jobs / "c.nc")
    monkeypatch.setattr(headrace.run, "prepare_job", None)
    with pytest.raises(CardError) as caught:
        prepared(hive)
    assert [finding.name for finding in caught.value.findings] == ["card-not-a-file"] * 2
    assert (hive.jobs / "c.nc").read_text() == LID


def test_a_plan_can_be_looked_at_when_a_job_has_gone(hive: Workshop) -> None:
    path = hive.job("a.nc")
    files, _ = collect_jobs([path])
    path.unlink()
    plan = load_plan(hive.recipe, load_registry())
    (seen,) = inspected(plan, worker_registry(plan), files)
    assert (seen.exit_code, seen.outcome) == (1, None)
    assert [finding.name for finding in seen.findings] == ["job-unreadable"]


def test_a_job_that_has_gone_is_refused(hive: Workshop) -> None:
    hive.job("a.nc")
    path = hive.job("b.nc")
    plan = load_plan(hive.recipe, load_registry())
    files, _ = collect_jobs([hive.jobs])
    path.unlink()
    run = examine_jobs(plan, worker_registry(plan), files)
    assert codes(run) == {"a.nc": 0, "b.nc": 1}
    assert [finding.name for finding in run.files[1].record.findings] == ["job-unreadable"]


def test_a_full_card_stops_the_run_before_any_file_has_its_name(
    hive: Workshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    room = chain([Room(1000, 512)] * 2, repeat(Room(1, 512)))
    monkeypatch.setattr(Room, "of", lambda _path: next(room))
    for name in ("a.nc", "b.nc", "c.nc"):
        hive.job(name)
    with pytest.raises(CardError) as caught:
        prepared(hive)
    assert {finding.name for finding in caught.value.findings} == {"card-full"}
    assert hive.on_card() == {}


# --- what is written --------------------------------------------------------------------------


def test_the_list_tells_what_each_file_was_made_of(tmp_path: Path) -> None:
    hive = set_up(tmp_path / "hive", card_files=True)
    source = hive.job("entrance reducer.nc")
    run = prepared(hive)
    assert [file.fate for file in run.files] == [Fate.WRITTEN, Fate.WRITTEN]
    listed = read_manifest(hive.card / "HEADRACE.JSON")
    assert listed.order == ("FIRST.NC", "ENTRANCE.NC")
    first, job = listed.get("FIRST.NC"), listed.get("ENTRANCE.NC")
    assert first is not None
    assert job is not None
    assert (first.source, first.title) == (None, "Before anything else")
    assert (job.source, job.recipe, job.folder) == (source.name, "plain.yaml", "jobs")
    assert [(step.name, step.added, step.touched) for step in job.steps] == [
        ("heading", 1, 0),
        ("capitals", 0, 1),
        ("no-blanks", 0, 1),
    ]
    assert (job.lines, job.moves) == (10, 4)
    assert job.source_content is not None
    assert job.source_content.size == source.stat().st_size


def test_a_job_of_the_same_name_from_another_folder_is_told(hive: Workshop) -> None:
    for folder, length in (("shallow", "X40"), ("deep", "X50")):
        (hive.root / folder).mkdir()
        (hive.root / folder / "lid.nc").write_text(LID.replace("X40", length))
    prepared(hive, hive.root / "shallow" / "lid.nc")
    run = prepared(hive, hive.root / "deep" / "lid.nc")
    assert run.files[0].fate is Fate.REPLACED
    assert [(f.name, f.what) for f in run.findings] == [
        (
            "card-file-displaced",
            "LID.NC took the place of one made from another lid.nc: of the folder shallow,"
            " not deep",
        )
    ]
    assert prepared(hive, hive.root / "deep" / "lid.nc").findings == ()


def test_a_file_that_another_recipe_made_is_told(hive: Workshop) -> None:
    jobs = [hive.job(f"n{number:02}.nc") for number in range(25)]
    prepared(hive, *jobs)
    other = hive.recipe.rename(hive.recipe.with_name("other.yaml"))
    other.write_text(other.read_text().replace("LIDS", "ROOFS"))
    plan = load_plan(other, load_registry())
    told = prepare_folder(plan, worker_registry(plan), collect_jobs(jobs)[0], hive.card).findings
    assert [finding.name for finding in told] == ["card-file-displaced"]
    assert told[0].what.startswith("N00.NC, N01.NC, ")
    assert "and 5 more took the place of those made by " in told[0].what
    assert told[0].what.endswith(", not other.yaml")


def test_a_job_that_has_moved_as_it_is_remains_that_job(hive: Workshop) -> None:
    (hive.root / "new").mkdir()
    job = hive.job("lid.nc")
    prepared(hive, job)
    hive.recipe.write_text(hive.recipe.read_text().replace("LIDS", "ROOFS"))
    moved = job.rename(hive.root / "new" / "lid.nc")
    assert prepared(hive, moved).files[0].fate is Fate.REPLACED
    moved.write_text(LID.replace("X40", "X50"))
    assert prepared(hive, moved).files[0].fate is Fate.REPLACED


def test_sources_are_never_touched(hive: Workshop) -> None:
    for name in ("a.nc", "b.nc"):
        hive.job(name).chmod(0o444)
    hive.job("c.nc", REFUSED)
    before = {
        path: (path.read_bytes(), path.stat().st_mtime_ns, path.stat().st_ino)
        for path in hive.root.rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }
    prepared(hive)
    for path, (data, changed, node) in before.items():
        now = path.stat()
        assert (path.read_bytes(), now.st_mtime_ns, now.st_ino) == (data, changed, node)


def test_a_refused_job_whose_older_file_is_on_the_card_is_told(hive: Workshop) -> None:
    path = hive.job("a.nc")
    prepared(hive)
    before = hive.on_card()
    path.write_text(REFUSED)
    run = prepared(hive)
    assert [finding.name for finding in run.findings] == ["card-older-file"]
    assert hive.on_card() == before


def test_a_job_that_one_recipe_refuses_and_another_has_made_is_told_of_both(
    hive: Workshop,
) -> None:
    hive.job("a.nc")
    prepared(hive)
    recipe = hive.recipe.with_name("creeping.yaml")
    recipe.write_text(hive.recipe.read_text().replace("- capitals", "- creep"))
    creeping = load_plan(recipe, load_registry())
    files, _ = collect_jobs([hive.jobs])
    registry = worker_registry(creeping)
    run = prepare_folder(creeping, registry, files, hive.card, engine=Processes(1))
    assert [finding.what for finding in run.findings] == [
        "A.NC on the card was made by plain.yaml; by creeping.yaml a.nc was refused"
    ]


def test_an_unchanged_job_is_not_written_again_and_a_changed_one_is(hive: Workshop) -> None:
    hive.job("a.nc")
    path = hive.job("b.nc")
    prepared(hive)
    path.write_text(LID.replace("X40", "X50"))
    run = prepared(hive)
    assert [file.fate for file in run.files] == [Fate.UNCHANGED, Fate.REPLACED]
    assert b"X50" in hive.on_card()["B.NC"]


@pytest.mark.parametrize(
    ("environment", "options"),
    [
        ({"PYTHONHASHSEED": "1", "TZ": "Asia/Kathmandu", "LC_ALL": "C"}, ["--jobs", "1"]),
        ({"PYTHONHASHSEED": "2", "TZ": "America/St_Johns", "LC_ALL": "C.UTF-8"}, ["--jobs", "2"]),
        ({"PYTHONHASHSEED": "3", "LC_ALL": "tr_TR.UTF-8", "PYTHONUTF8": "0"}, []),
    ],
)
def test_the_same_input_gives_the_same_bytes(
    tmp_path: Path, environment: dict[str, str], options: list[str]
) -> None:
    cards = []
    for name, around, more in (("one", {}, []), ("two", environment, options)):
        hive = set_up(tmp_path / name, card_files=True)
        for job in ("lid.nc", "Lid.tap", "façade.nc", "frame side.nc"):
            hive.job(job, LID + f"({job})\n")
        done = hive.run("prepare", hive.recipe, "jobs", "--card", "card", *more, environment=around)
        assert done.returncode == 0, done.stderr
        cards.append(hive.on_card())
    assert cards[0] == cards[1]
    assert str(tmp_path).encode() not in cards[0]["HEADRACE.JSON"]


def test_records_are_told_as_they_come(hive: Workshop) -> None:
    for name in ("a.nc", "b.nc"):
        hive.job(name)
    plan = load_plan(hive.recipe, load_registry())
    files, _ = collect_jobs([hive.jobs])
    told: list[Record] = []
    run = examine_jobs(plan, worker_registry(plan), files, told=told.append)
    assert told == [file.record for file in run.files]


# --- interrupted ------------------------------------------------------------------------------


@pytest.mark.skipif(sys.platform == "win32", reason="needs signals")
@pytest.mark.parametrize("workers", ["1", "2"])
def test_an_interrupted_run_leaves_nothing_behind(tmp_path: Path, workers: str) -> None:
    hive = set_up(tmp_path / "hive", ["heading"])
    for number in range(30):
        hive.job(f"{number}.nc", LONG_JOB)
    with subprocess.Popen(
        [sys.executable, "-m", "headrace", "prepare", hive.recipe, hive.jobs, "--card", hive.card,
         "--jobs", workers],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, start_new_session=True,
    ) as process:  # fmt: skip
        until = time.monotonic() + 60
        while not list(hive.card.glob("*.HRT")) and time.monotonic() < until:
            time.sleep(0.01)
        assert list(hive.card.glob("*.HRT"))
        os.killpg(process.pid, signal.SIGINT)
        began = time.monotonic()
        _, said = process.communicate(timeout=30)
    assert process.returncode == 130, said
    assert time.monotonic() - began < 10
    assert hive.on_card() == {}
    assert b"Traceback" not in said


@pytest.mark.skipif(sys.platform == "win32", reason="needs signals")
def test_when_the_parent_is_killed_its_processes_end_and_the_next_run_tidies_up(
    tmp_path: Path,
) -> None:
    hive = set_up(tmp_path / "hive", ["heading"])
    for number in range(30):
        hive.job(f"{number}.nc", LONG_JOB)
    with subprocess.Popen(
        [sys.executable, "-m", "headrace", "prepare", hive.recipe, hive.jobs, "--card", hive.card,
         "--jobs", "2"],
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True,
    ) as process:  # fmt: skip
        until = time.monotonic() + 60
        while len(list(hive.card.glob("*.HRT"))) < 2 and time.monotonic() < until:
            time.sleep(0.01)
        process.kill()
    until = time.monotonic() + 30
    while _in_session(process.pid) and time.monotonic() < until:
        time.sleep(0.05)
    assert not _in_session(process.pid)
    assert {path.suffix for path in hive.card.iterdir()} <= {".HRT"}
    for path in hive.jobs.iterdir():
        path.unlink()
    hive.job("lid.nc")
    run = prepared(hive)
    assert {finding.name for finding in run.findings} == {"card-leftover"}
    assert set(hive.on_card()) == {"LID.NC", "HEADRACE.JSON"}


def _in_session(leader: int) -> bool:
    """Whether any process of the session is left."""
    try:
        os.killpg(leader, 0)
    except ProcessLookupError:
        return False
    return True
