"""Run sheets of whole batches: of what is on the card, whoever prepared it, and of nothing else.

Outside references: hashlib for what the page says that files hold, `sys.modules` for what a run
without a page loads, and stat(2) for files that must not be touched.
"""

from __future__ import annotations

import errno
import hashlib
import json
import multiprocessing
import os
import pickle
import re
import subprocess
import sys
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path
from typing import Any

import pytest
from workshop import LID, REFUSED, Workshop, set_up

from headrace.batch import JobFile, Prepared, collect_jobs, prepare_folder
from headrace.batch.card_sheet import sheet_of_card
from headrace.batch.engines import Borrowed, Engine, Processes, Serial
from headrace.card import paper
from headrace.card.delivery import Fate
from headrace.card.folder import held
from headrace.card.run_sheet import Mark, read_mark
from headrace.cli.shared import planned
from headrace.errors import CardError
from headrace.sheet import files as facts_of_files

HOLE = LID.replace("hive lid", "a hole").replace("X40", "X60")


@pytest.fixture
def hive(tmp_path: Path) -> Workshop:
    made = set_up(tmp_path / "hive", card_files=True)
    made.job("lid.nc")
    made.job("hole.nc", HOLE)
    return made


def given(hive: Workshop, *overrides: str) -> tuple[Any, Any, tuple[JobFile, ...]]:
    plan, registry, _ = planned(hive.recipe, overrides)
    return plan, registry, collect_jobs([hive.jobs])[0]


def run(hive: Workshop, sheet: Path | None = None, engine: Engine | None = None) -> Prepared:
    plan, registry, jobs = given(hive)
    engine = engine or Serial()
    return prepare_folder(plan, registry, jobs, hive.card, engine=engine, sheet=sheet)


def sheet(hive: Workshop, target: Path, *overrides: str) -> Prepared:
    plan, registry, jobs = given(hive, *overrides)
    return sheet_of_card(plan, registry, jobs, hive.card, target, engine=Serial())


def mark(path: Path) -> Mark:
    found = read_mark(path)
    assert found is not None
    assert found.whole
    return found


def names(prepared: Prepared) -> list[str]:
    return [finding.name for finding in prepared.findings]


def touched(hive: Workshop) -> dict[str, tuple[int, int, int]]:
    stats = {path.name: path.stat() for path in hive.card.iterdir()}
    return {name: (s.st_ino, s.st_mtime_ns, s.st_size) for name, s in stats.items()}


# --- with the run -----------------------------------------------------------------------------


def test_the_page_tells_of_what_is_on_the_card(hive: Workshop) -> None:
    target = hive.root / "lids.html"
    prepared = run(hive, target)
    on_card = {n: data for n, data in hive.on_card().items() if n != "HEADRACE.JSON"}

    assert prepared.exit_code == 0
    assert prepared.paper is not None
    assert (prepared.paper.path, prepared.paper.fate) == (target, Fate.WRITTEN)
    assert list(mark(target).files) == ["FIRST.NC", "HOLE.NC", "LID.NC"], "in run order"
    assert {name: held.sha256 for name, held in mark(target).files.items()} == {
        name: hashlib.sha256(data).hexdigest() for name, data in on_card.items()
    }
    text = re.sub(r"<wbr>|</?span[^>]*>|\s", "", target.read_text("utf-8"))
    for name, data in on_card.items():
        assert name in text
        assert hashlib.sha256(data).hexdigest() in text


def test_nothing_is_gathered_and_nothing_loaded_without_a_page(hive: Workshop) -> None:
    script = (
        "import sys; from headrace.cli import main\n"
        "try:\n main()\nexcept SystemExit: pass\n"
        "print(*sorted(m for m in sys.modules if m.startswith(('headrace.sheet', 'jinja2',"
        " 'headrace.picture', 'headrace.timing'))))"
    )
    done = subprocess.run(
        [sys.executable, "-c", script, "prepare", "recipes/plain.yaml", "jobs", "--card", "card"],
        cwd=hive.root, capture_output=True, text=True, check=True, timeout=120,
    )  # fmt: skip
    assert done.stdout.splitlines()[-1] == ""
    assert {file.record.facts for file in run(hive).files} == {None}


def test_unchanged_files_are_gone_through_and_left_alone(hive: Workshop) -> None:
    run(hive)
    before = touched(hive)
    prepared = run(hive, hive.root / "lids.html")

    assert {file.fate for file in prepared.files} == {Fate.UNCHANGED}
    assert all(file.record.facts is not None for file in prepared.files)
    assert touched(hive) == before
    assert {file.fate for file in run(hive).files} == {Fate.UNCHANGED}
    assert touched(hive) == before, "and the list is the same"


@contextmanager
def threads() -> Iterator[Engine]:
    with ThreadPoolExecutor(2) as pool:
        yield Borrowed(pool, 3)


@contextmanager
def processes() -> Iterator[Engine]:
    yield Processes(2)


@contextmanager
def foreign_processes() -> Iterator[Engine]:
    with ProcessPoolExecutor(2, multiprocessing.get_context("spawn")) as pool:
        yield Borrowed(pool, 3)


@pytest.mark.parametrize("opened", [threads, processes, foreign_processes])
def test_every_engine_gives_the_same_page(
    hive: Workshop, opened: Callable[[], AbstractContextManager[Engine]]
) -> None:
    target = hive.root / "lids.html"
    run(hive, target)
    page = target.read_bytes()
    target.unlink()
    with opened() as engine:
        again = run(hive, target, engine)
    assert target.read_bytes() == page
    assert {file.fate for file in again.files} == {Fate.UNCHANGED}


def test_facts_are_small_and_plain(hive: Workshop) -> None:
    """They go between processes."""
    for file in run(hive, hive.root / "lids.html").files:
        packed = pickle.dumps(file.record.facts)
        assert len(packed) < 200_000
        assert pickle.loads(packed) == file.record.facts


def test_refused_jobs_are_on_the_page_with_their_reasons(hive: Workshop) -> None:
    hive.job("bad.nc", REFUSED)
    target = hive.root / "lids.html"
    prepared = run(hive, target)

    assert prepared.exit_code == 1
    assert "BAD.NC" not in mark(target).files
    text = target.read_text("utf-8")
    assert "bad.nc" in text
    assert "Q has no number" in text


def test_where_nothing_is_fit_there_is_no_page(hive: Workshop) -> None:
    hive.recipe.write_text(hive.recipe.read_text().partition("card-files:")[0] + "steps: [sting]\n")
    for job in ("lid.nc", "hole.nc"):
        hive.job(job, REFUSED)
    target = hive.root / "lids.html"
    prepared = run(hive, target)

    assert (prepared.exit_code, prepared.paper) == (1, None)
    assert names(prepared) == ["sheet-not-written"]
    assert not target.exists()


def test_an_older_page_is_named_where_nothing_is_fit(hive: Workshop) -> None:
    target = hive.root / "lids.html"
    run(hive, target)
    page = target.read_bytes()
    hive.recipe.write_text(hive.recipe.read_text().partition("card-files:")[0] + "steps: [sting]\n")
    for job in ("lid.nc", "hole.nc"):
        hive.job(job, REFUSED)
    told = [f.what for f in run(hive, target).findings if f.name == "sheet-not-written"]
    assert told[0].endswith(f"{target} is an older one")
    assert target.read_bytes() == page


def test_files_beside_the_run_are_told_of(hive: Workshop) -> None:
    run(hive)
    (hive.jobs / "hole.nc").unlink()
    (hive.card / "OTHER.NC").write_bytes(b"(by hand)\n")
    (hive.card / "NOTES.TXT").write_bytes(b"not listed by the machine\n")
    prepared = run(hive, hive.root / "lids.html")
    told = [f.what for f in prepared.findings if f.name == "sheet-lacks-files"]

    assert told == ["on the card, and not on the run sheet: HOLE.NC, OTHER.NC"]
    assert told[0] in (hive.root / "lids.html").read_text("utf-8")


@pytest.mark.parametrize("place", ["lids.html", "card/LIDS.HTM"])
def test_a_page_that_cannot_be_written_is_told_before_any_work(hive: Workshop, place: str) -> None:
    target = hive.root / place
    target.write_bytes(b"of another program")
    before = touched(hive)
    with pytest.raises(CardError) as refused:
        run(hive, target)
    assert [finding.name for finding in refused.value.findings] == ["sheet-not-ours"]
    assert touched(hive) == before
    assert target.read_bytes() == b"of another program"


def test_a_page_cannot_have_the_name_of_a_file_of_the_run(tmp_path: Path) -> None:
    made = set_up(tmp_path / "hive", extension="HTM")
    made.job("lid.nc")
    with pytest.raises(CardError) as refused:
        run(made, made.card / "LID.HTM")
    assert [finding.name for finding in refused.value.findings] == ["sheet-name-unfit"]


def test_a_fault_in_telling_keeps_the_page_back_and_not_the_files(
    hive: Workshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    def stumbling(*_args: Any, **_more: Any) -> None:
        raise LookupError("no pencil")

    monkeypatch.setattr(facts_of_files, "file_facts", stumbling)
    prepared = run(hive, hive.root / "lids.html")

    assert prepared.exit_code == 70
    assert [file.fate for file in prepared.files] == [Fate.WRITTEN] * 3
    assert set(names(prepared)) == {"sheet-untold"}
    assert not (hive.root / "lids.html").exists()
    assert all("no pencil" in file.record.details for file in prepared.files)


def test_so_does_a_fault_in_the_page_itself(
    hive: Workshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    def stumbling(*_args: Any) -> bytes:
        raise LookupError("no paper")

    monkeypatch.setattr("headrace.sheet.page.page", stumbling)
    prepared = run(hive, hive.root / "lids.html")
    assert (prepared.exit_code, names(prepared)) == (70, ["sheet-untold"])
    assert [file.fate for file in prepared.files] == [Fate.WRITTEN] * 3
    assert "no paper" in prepared.details


def test_a_disk_that_fills_up_behind_the_card_is_told_beside_the_files(
    hive: Workshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_args: Any) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(paper, "stage", full)
    prepared = run(hive, hive.root / "lids.html")
    assert (prepared.exit_code, names(prepared)) == (5, ["card-full"])
    assert [file.fate for file in prepared.files] == [Fate.WRITTEN] * 3


# --- on the card itself -----------------------------------------------------------------------


def test_a_page_on_the_card_does_not_disturb_it(hive: Workshop) -> None:
    page = hive.card / "SHEET.HTM"
    run(hive, page)
    assert names(run(hive)) == []
    assert names(run(hive, page)) == []
    listed = json.loads((hive.card / "HEADRACE.JSON").read_bytes())
    assert [file["name"] for file in listed["files"]] == ["FIRST.NC", "HOLE.NC", "LID.NC"]


def test_a_page_that_the_card_has_outlived_is_told(hive: Workshop) -> None:
    page = hive.card / "SHEET.HTM"
    run(hive, page)
    hive.job("lid.nc", LID.replace("X40", "X50"))
    prepared = run(hive)
    assert [f.what for f in prepared.findings if f.name == "sheet-outdated"] == [
        "SHEET.HTM on the card is not of LID.NC as it is now"
    ]
    assert names(run(hive)) == ["sheet-outdated"], "and again, until something is done"
    assert names(run(hive, page)) == []
    assert names(run(hive)) == []


def test_a_job_that_is_new_since_is_told(hive: Workshop) -> None:
    page = hive.card / "SHEET.HTM"
    run(hive, page)
    hive.job("rim.nc", LID.replace("hive lid", "a rim"))
    assert [f.what for f in run(hive).findings] == ["SHEET.HTM on the card does not tell of RIM.NC"]


# --- of a card that was prepared before -------------------------------------------------------


def test_it_is_the_page_of_the_run_that_prepared_it(hive: Workshop) -> None:
    run(hive, hive.root / "one.html")
    before = touched(hive)
    prepared = sheet(hive, hive.root / "other.html")

    assert (prepared.exit_code, names(prepared)) == (0, [])
    assert touched(hive) == before
    assert (hive.root / "other.html").read_bytes() == (hive.root / "one.html").read_bytes()


def _changed(hive: Workshop) -> None:
    (hive.card / "LID.NC").write_bytes((hive.card / "LID.NC").read_bytes().replace(b"40", b"41"))


def _missing(hive: Workshop) -> None:
    (hive.card / "LID.NC").unlink()


def _unlisted(hive: Workshop) -> None:
    hive.job("rim.nc")


def _exported_again(hive: Workshop) -> None:
    hive.job("lid.nc", LID.replace("X40", "X50"))


def _no_list(hive: Workshop) -> None:
    (hive.card / "HEADRACE.JSON").unlink()


def _cut_short(hive: Workshop) -> None:
    (hive.card / "HR000001.HRT").write_bytes(b"(half)")


def _swapped(hive: Workshop) -> None:
    one, other = hive.card / "LID.NC", hive.card / "HOLE.NC"
    held_by_one = one.read_bytes()
    one.write_bytes(other.read_bytes())
    other.write_bytes(held_by_one)


def _gone(hive: Workshop) -> None:
    hive.card.rename(hive.root / "away")


@pytest.mark.parametrize(
    ("harm", "kind"),
    [
        (_changed, "card-file-damaged"),
        (_missing, "card-file-missing"),
        (_unlisted, "sheet-file-unlisted"),
        (_exported_again, "sheet-file-differs"),
        (_no_list, "card-list-missing"),
        (_cut_short, "card-run-cut-short"),
        (_swapped, "card-files-mixed-up"),
        (_gone, "card-missing"),
    ],
)
def test_of_another_card_there_is_no_page(
    hive: Workshop, harm: Callable[[Workshop], None], kind: str
) -> None:
    run(hive, hive.root / "lids.html")
    page = (hive.root / "lids.html").read_bytes()
    harm(hive)
    before = {path: path.read_bytes() for path in hive.root.rglob("*") if path.is_file()}
    for target in (hive.root / "new.html", hive.root / "lids.html"):
        with pytest.raises(CardError) as refused:
            sheet(hive, target)
        assert kind in [finding.name for finding in refused.value.findings]
    after = {path: path.read_bytes() for path in hive.root.rglob("*") if path.is_file()}
    assert after == before
    assert (hive.root / "lids.html").read_bytes() == page


def test_other_values_make_another_file(hive: Workshop) -> None:
    run(hive)
    assert sheet(hive, hive.root / "one.html", "name=Roofs").exit_code == 0, "that changes no file"
    recipe = hive.recipe.read_text().replace("LIDS", "ROOFS")
    hive.recipe.write_text(recipe)
    with pytest.raises(CardError) as refused:
        sheet(hive, hive.root / "two.html")
    assert {finding.name for finding in refused.value.findings} == {"sheet-file-differs"}


def test_what_the_card_still_has_of_a_refused_job_is_told(hive: Workshop) -> None:
    run(hive)
    hive.job("lid.nc", REFUSED)
    target = hive.root / "lids.html"
    prepared = sheet(hive, target)

    assert prepared.exit_code == 1
    assert set(names(prepared)) == {"card-older-file", "sheet-lacks-files"}
    assert list(mark(target).files) == ["FIRST.NC", "HOLE.NC"]
    assert "LID.NC on the card is older than lid.nc" in target.read_text("utf-8")


def test_it_may_lie_on_the_card_and_replaces_an_outdated_one(hive: Workshop) -> None:
    page = hive.card / "SHEET.HTM"
    run(hive, page)
    hive.job("lid.nc", LID.replace("X40", "X50"))
    run(hive)
    prepared = sheet(hive, page)
    assert names(prepared) == []
    assert prepared.paper is not None
    assert prepared.paper.fate is Fate.REPLACED
    assert (
        mark(page).files["LID.NC"].sha256
        == hashlib.sha256((hive.card / "LID.NC").read_bytes()).hexdigest()
    )


def test_no_page_while_somebody_writes_to_the_card(hive: Workshop) -> None:
    pytest.importorskip("fcntl")
    run(hive)
    with held(hive.card), pytest.raises(CardError) as busy:
        sheet(hive, hive.root / "lids.html")
    assert [finding.name for finding in busy.value.findings] == ["card-busy"]
    assert not (hive.root / "lids.html").exists()
