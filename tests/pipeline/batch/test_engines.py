"""Engines: whichever carries a batch out, records and card are the same."""

from __future__ import annotations

import multiprocessing
import os
import threading
from collections import Counter
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, Future, ProcessPoolExecutor, ThreadPoolExecutor
from contextlib import closing, contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from workshop import LID, REFUSED, Workshop, set_up

from headrace.batch import Prepared, Record, collect_jobs, examine_jobs, prepare_folder
from headrace.batch.engines import Borrowed, Engine, Processes, Serial, chosen
from headrace.batch.engines.kit import worker_registry
from headrace.batch.engines.window import windowed
from headrace.errors import EngineError, HeadraceError, PluginError
from headrace.plugins.registry import load_registry
from headrace.recipe import load_plan

PATIENCE = 30.0
"""Seconds to wait for what must happen."""


@contextmanager
def serial() -> Iterator[Engine]:
    yield Serial()


@contextmanager
def processes() -> Iterator[Engine]:
    yield Processes(2)


@contextmanager
def threads() -> Iterator[Engine]:
    with ThreadPoolExecutor(2) as pool:
        yield Borrowed(pool, 3)


@contextmanager
def foreign_processes() -> Iterator[Engine]:
    with ProcessPoolExecutor(2, multiprocessing.get_context("spawn")) as pool:
        yield Borrowed(pool, 3)


ENGINES = [serial, processes, threads, foreign_processes]
Opened = Callable[[], Any]


def run(hive: Workshop, engine: Engine, told: Callable[[Record], None]) -> Prepared:
    plan = load_plan(hive.recipe, load_registry())
    files, _ = collect_jobs([hive.jobs])
    return prepare_folder(plan, worker_registry(plan), files, hive.card, engine=engine, told=told)


def hive_of(root: Path, *steps: str) -> Workshop:
    """Six jobs of different lengths; one is refused, and one fails a step that stings."""
    hive = set_up(root, steps or ("heading: {text: LIDS}", "capitals", "no-blanks", "sting"))
    for number, name in enumerate(("floor", "frame", "lid", "rim")):
        hive.job(f"{name}.nc", LID + f"(no {number})\n" * number)
    hive.job("torn.nc", REFUSED)
    hive.job("wild.nc", "(BEES)\n" + LID)
    return hive


# --- the same with each -----------------------------------------------------------------------


@pytest.mark.parametrize("opened", ENGINES)
def test_every_engine_gives_the_same_card_and_the_same_records(
    tmp_path: Path, opened: Opened
) -> None:
    hive = hive_of(tmp_path / "hive")
    told: list[Record] = []
    expected = run(hive, Serial(), lambda _record: None)
    card = hive.on_card()
    for path in hive.card.iterdir():
        path.unlink()
    with opened() as engine:
        found = run(hive, engine, told.append)

    assert hive.on_card() == card
    assert set(hive.on_card()) == {
        "FLOOR.NC", "FRAME.NC", "LID.NC", "RIM.NC", "HEADRACE.JSON"
    }  # fmt: skip
    codes = [(file.record.name, file.record.exit_code) for file in found.files]
    assert codes[-2:] == [("torn.nc", 1), ("wild.nc", 4)]
    for one, same in zip(found.files, expected.files, strict=True):
        assert replace(one.record, details="", staged=None) == replace(
            same.record, details="", staged=None
        )
    assert Counter(record.name for record in told) == Counter(name for name, _ in codes)


@pytest.mark.parametrize("opened", ENGINES)
def test_every_engine_examines_without_a_card(tmp_path: Path, opened: Opened) -> None:
    hive = hive_of(tmp_path / "hive")
    plan = load_plan(hive.recipe, load_registry())
    files, _ = collect_jobs([hive.jobs])
    with opened() as engine:
        found = examine_jobs(plan, worker_registry(plan), files, engine=engine)

    assert [file.record.exit_code for file in found.files] == [0, 0, 0, 0, 1, 4]
    assert hive.on_card() == {}


@pytest.mark.parametrize(
    ("opened", "error"),
    [(processes, PluginError), (threads, EngineError), (foreign_processes, EngineError)],
)
def test_a_worker_whose_python_file_is_another_stops_the_run(
    tmp_path: Path, opened: Opened, error: type[HeadraceError]
) -> None:
    hive = hive_of(tmp_path / "hive")
    plan = load_plan(hive.recipe, load_registry())
    registry = worker_registry(plan)
    steps = hive.recipe.parent / "hive_steps.py"
    steps.write_text(steps.read_text().replace("text.upper()", "text.lower()"))
    files, _ = collect_jobs([hive.jobs])
    with opened() as engine, pytest.raises(error) as caught:
        prepare_folder(plan, registry, files, hive.card, engine=engine)

    (finding,) = caught.value.findings
    assert (finding.id, finding.name) == ("HRC068", "worker-unlike")
    assert "hive_steps.py" in finding.what
    assert hive.on_card() == {}
    steps.unlink()
    with opened() as engine, pytest.raises(error, match=r"hive_steps\.py"):
        prepare_folder(plan, registry, files, hive.card, engine=engine)


def test_size_chooses_the_engine() -> None:
    assert isinstance(chosen([1000] * 10), Serial)
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()
    for sizes in ([20_000_000, 1], [300] * 1000):
        engine = chosen(sizes)
        assert isinstance(engine, Processes)
        assert engine.workers == cores


# --- processes of its own ---------------------------------------------------------------------


def test_of_many_jobs_those_that_end_their_process_are_found_and_all_others_prepared(
    tmp_path: Path,
) -> None:
    hive = set_up(tmp_path / "hive", ["heading"])
    steps = hive.recipe.parent / "hive_steps.py"
    killing = "    import os\n    if b'BEES' in job.program.to_bytes(): os.kill(os.getpid(), 9)\n"
    steps.write_text(
        steps.read_text().replace("    yield before(0,", killing + "    yield before(0,")
    )
    for number in range(30):
        hive.job(f"n{number:02}.nc", ("(BEES)\n" if number in (3, 20) else "") + LID)
    told: list[str] = []
    found = run(hive, Processes(2), lambda record: told.append(record.name))

    lost = [file.record for file in found.files if file.record.exit_code]
    assert [(record.name, record.findings[0].name) for record in lost] == [
        ("n03.nc", "worker-lost"),
        ("n20.nc", "worker-lost"),
    ]
    assert len(hive.on_card()) == 29
    assert sorted(told) == [file.record.name for file in found.files]


def test_what_records_have_in_common_is_held_once(tmp_path: Path) -> None:
    hive = set_up(tmp_path / "hive")
    for number in range(8):
        hive.job(f"n{number}.nc", LID + f"(no {number})\n")
    found = run(hive, Processes(2), lambda _record: None)

    first, *others = [file.record for file in found.files]
    assert len(first.steps) == 3
    assert first.proof is not None
    for record in others:
        assert record.steps is first.steps
        assert record.proof is not None
        assert record.proof.contract is first.proof.contract
        assert record.content != first.content


# --- an executor that somebody else runs ------------------------------------------------------


class Meddling(ThreadPoolExecutor):
    """Something happens between the submission of a task and its work."""

    def __init__(self, meddle: Callable[[], object], spoil: bool = False) -> None:
        super().__init__(1)
        self._meddle = meddle
        self._spoil = spoil

    def submit(self, fn: Any, /, *args: Any, **kwargs: Any) -> Future[Any]:
        self._meddle()
        future = super().submit(fn, *args, **kwargs)
        if not self._spoil:
            return future
        record, data = future.result()
        spoiled: Future[Any] = Future()
        spoiled.set_result((record, data.replace(b"G1", b"G0")))
        return spoiled


def one_job(root: Path) -> tuple[Workshop, Path]:
    hive = set_up(root)
    return hive, hive.job("lid.nc")


def names_found(prepared: Prepared) -> list[str]:
    return [finding.name for file in prepared.files for finding in file.record.findings]


def test_a_job_that_is_another_one_for_its_worker_is_refused(tmp_path: Path) -> None:
    hive, job = one_job(tmp_path / "a")
    with Meddling(lambda: job.write_text(LID.replace("X40", "X400"))) as pool:
        found = run(hive, Borrowed(pool, 1), lambda _record: None)
    assert (names_found(found), found.exit_code) == (["job-seen-otherwise"], 1)
    assert hive.on_card() == {}

    hive, job = one_job(tmp_path / "b")
    with Meddling(job.unlink) as pool:
        found = run(hive, Borrowed(pool, 1), lambda _record: None)
    assert (names_found(found), found.exit_code) == (["job-seen-otherwise"], 1)
    assert hive.on_card() == {}


def test_what_comes_back_otherwise_than_it_was_sent_is_not_written(tmp_path: Path) -> None:
    hive, _ = one_job(tmp_path)
    with Meddling(lambda: None, spoil=True) as pool:
        found = run(hive, Borrowed(pool, 1), lambda _record: None)
    assert (names_found(found), found.exit_code) == (["worker-lost"], 70)
    assert hive.on_card() == {}


def _ended() -> None:
    os._exit(9)


def test_an_executor_that_is_broken_or_shut_down_ends_the_run_in_words(tmp_path: Path) -> None:
    hive, _ = one_job(tmp_path / "hive")
    shut: Executor = ThreadPoolExecutor(1)
    shut.shutdown()
    with ProcessPoolExecutor(1, multiprocessing.get_context("spawn")) as broken:
        broken.submit(_ended).exception(PATIENCE)
        for executor in (shut, broken):
            with pytest.raises(EngineError) as caught:
                run(hive, Borrowed(executor, 2), lambda _record: None)
            assert [finding.name for finding in caught.value.findings] == ["workers-gone"]
            assert caught.value.exit_code == 2
            assert hive.on_card() == {}


# --- a few at a time --------------------------------------------------------------------------


@pytest.mark.parametrize("ahead", [1, 3, 200])
def test_no_more_are_under_way_than_allowed(ahead: int) -> None:
    waiting = 0
    most = 0
    begun: list[int] = []
    with ThreadPoolExecutor(4) as pool:

        def submit(number: int) -> Future[int]:
            nonlocal waiting, most
            waiting += 1
            most = max(most, waiting)
            begun.append(number)
            return pool.submit(lambda: number * number)

        results = {}
        for number, future in windowed(submit, range(100), ahead):
            waiting -= 1
            results[number] = future.result()

    assert results == {number: number * number for number in range(100)}
    assert begun == list(range(100))
    assert most == min(ahead, 100)


def test_what_is_under_way_when_nobody_wants_it_any_more_is_cancelled() -> None:
    gate = threading.Event()
    futures: list[Future[bool]] = []
    with ThreadPoolExecutor(1) as pool:

        def submit(number: int) -> Future[bool]:
            futures.append(pool.submit(lambda: number == 0 or gate.wait(PATIENCE)))
            return futures[-1]

        with closing(windowed(submit, range(50), 8)) as under_way:
            assert next(under_way)[0] == 0
        gate.set()

    assert len(futures) == 8
    assert sum(future.cancelled() for future in futures) >= 6


def test_where_nothing_comes_somebody_looks() -> None:
    never: Future[None] = Future()

    def look() -> None:
        raise EngineError("nobody is there")

    with pytest.raises(EngineError, match="nobody is there"):
        next(windowed(lambda _number: never, [0], 1, look))
    assert never.cancelled()
