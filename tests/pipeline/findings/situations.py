"""What no file can show, brought about: each function holds a situation while its `with` lasts,
and mends it at the end."""

from __future__ import annotations

import errno
import os
import shutil
import sys
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, ThreadPoolExecutor
from contextlib import contextmanager, nullcontext
from dataclasses import replace
from itertools import count
from pathlib import Path
from typing import Any

import pytest
from pipeline.findings.trial import Trial

import headrace.run
import headrace.way
from headrace.batch.engines import Borrowed, borrowed, cluster, kit
from headrace.batch.watching import Bell, unrest
from headrace.card import exchange, placing
from headrace.card.manifest import INTENDED_NAME, LIST_NAME
from headrace.card.room import Room
from headrace.sheet import files

PREPARE = "prepare recipe.yaml {} --card card"
LID = b"(LID)\nG21 G90 G94 G17\nM3 S18000\nG0 Z30\nG0 X150 Y100\nG1 Z-4.5 F300\nG0 Z30\nM5\nM30\n"


def prepared(trial: Trial, job: str) -> Path:
    """A job that an earlier run has prepared: its file on the card."""
    if not (trial.folder / job).exists():
        (trial.folder / job).write_bytes(LID)
    assert trial.run(PREPARE.format(job)).exit_code == 0
    return trial.card / f"{Path(job).stem.upper()}.NC"


@contextmanager
def _instead(trial: Trial, owner: Any, name: str, act: Callable[..., Any]) -> Iterator[None]:
    """`act`, which gets what stood there as its first argument, stands for a function."""
    original = getattr(owner, name)
    with trial.patch.context() as patch:
        patch.setattr(owner, name, lambda *args, **kwargs: act(original, *args, **kwargs))
        yield


@contextmanager
def a_relief_for_a_set_up(trial: Trial) -> Iterator[None]:
    (trial.folder / "setup.yaml").write_bytes(b"X10.000 Y10.000 Z-0.500\n" * 84_000)
    yield


@contextmanager
def another_run(trial: Trial) -> Iterator[None]:
    fcntl = pytest.importorskip("fcntl")
    descriptor = os.open(trial.card, os.O_RDONLY)
    fcntl.flock(descriptor, fcntl.LOCK_EX)
    yield
    os.close(descriptor)


@contextmanager
def changed_on_the_card(trial: Trial) -> Iterator[None]:
    file = prepared(trial, "job.nc")
    file.write_bytes(file.read_bytes().replace(b"F900", b"F700"))
    job = trial.folder / "job.nc"
    job.write_bytes(job.read_bytes().replace(b"X200", b"X220"))
    yield
    file.unlink()


@contextmanager
def name_of_another_job(trial: Trial) -> Iterator[None]:
    file = prepared(trial, "job.tap")
    yield
    file.unlink()


@contextmanager
def same_name_elsewhere(trial: Trial) -> Iterator[None]:
    job, other = trial.folder / "job.nc", trial.folder / "last-week"
    data = job.read_bytes()
    other.mkdir()
    (other / "job.nc").write_bytes(data.replace(b"X200", b"X190"))
    prepared(trial, "last-week/job.nc")
    yield
    prepared(trial, "job.nc")


@contextmanager
def a_folder_of_that_name(trial: Trial) -> Iterator[None]:
    folder = trial.card / "JOB.NC"
    folder.mkdir()
    yield
    folder.rmdir()


@contextmanager
def full(trial: Trial) -> Iterator[None]:
    with _instead(trial, Room, "of", lambda _, _path: Room(1, 512)):
        yield


@contextmanager
def locked(trial: Trial) -> Iterator[None]:
    def act(original: Any, path: Any, flags: int, *args: Any, **kwargs: Any) -> Any:
        if flags & os.O_CREAT and Path(path).parent == trial.card:
            raise OSError(errno.EROFS, os.strerror(errno.EROFS))
        return original(path, flags, *args, **kwargs)

    with _instead(trial, os, "open", act):
        yield


@contextmanager
def a_full_disk_of_the_workshop(trial: Trial) -> Iterator[None]:
    def act(_original: Any, _descriptor: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with _instead(trial, os, "fsync", act):
        yield


@contextmanager
def forgetful(trial: Trial) -> Iterator[None]:
    def act(original: Any, descriptor: int, data: bytes) -> Any:
        return original(descriptor, bytes(data).replace(b"G1 ", b"G0 "))

    with _instead(trial, os, "write", act):
        yield


@contextmanager
def refused_since(trial: Trial) -> Iterator[None]:
    prepared(trial, "job.nc")
    job = trial.folder / "job.nc"
    job.write_bytes(job.read_bytes().replace(b"F300", b"F3OO"))
    yield


@contextmanager
def pulled_out(trial: Trial) -> Iterator[None]:
    calls = []

    def act(original: Any, *args: Any, **kwargs: Any) -> Any:
        calls.append(args)
        if len(calls) == 2:
            raise OSError(errno.ENODEV, os.strerror(errno.ENODEV))
        return original(*args, **kwargs)

    with _instead(trial, exchange, "renamed", act):
        yield


@contextmanager
def unconfirmed(trial: Trial) -> Iterator[None]:
    def act(_original: Any, _folder: Path) -> Any:
        raise OSError(errno.EIO, os.strerror(errno.EIO))

    with _instead(trial, placing, "sync_folder", act):
        yield


@contextmanager
def power_cut_amid_names(trial: Trial) -> Iterator[None]:
    """Both directory entries lead to the new file; the list is the old one still."""
    file = prepared(trial, "job.nc")
    listed, unlisted = trial.card / LIST_NAME, trial.card / INTENDED_NAME
    before = listed.read_bytes()
    job = trial.folder / "job.nc"
    job.write_bytes(job.read_bytes().replace(b"X200", b"X220"))
    prepared(trial, "job.nc")
    listed.replace(unlisted)
    listed.write_bytes(before)
    shared = Path(shutil.copy(file, trial.card / "HR000001.HRT"))
    yield
    shared.unlink()


@contextmanager
def forbidden(trial: Trial) -> Iterator[None]:
    def act(original: Any, path: Path) -> Any:
        if path.name == "job.nc":
            raise OSError(errno.EACCES, os.strerror(errno.EACCES))
        return original(path)

    with _instead(trial, Path, "read_bytes", act):
        yield


@contextmanager
def a_slip_of_ours(trial: Trial) -> Iterator[None]:
    def act(_original: Any, *_args: Any) -> Any:
        raise IndexError("list index out of range")

    with _instead(trial, headrace.run, "prepare_job", act):
        yield


@contextmanager
def a_blind_look(trial: Trial) -> Iterator[None]:
    """The proof behind each step finds nothing, so that only that of the whole run is left."""

    def act(original: Any, *args: Any) -> Any:
        return replace(original(*args), breaches=())

    with _instead(trial, headrace.way, "prove_step", act):
        yield


@contextmanager
def killed(trial: Trial) -> Iterator[None]:
    """A step of the recipe ends the process, where it prepares job.nc, as the system would."""
    recipe = trial.folder / "recipe.yaml"
    text = recipe.read_text()
    steps = trial.folder / "steps.py"
    steps.write_text(
        "import os\n"
        "from headrace import transform\n"
        '@transform("end")\n'
        "def end(job):\n"
        '    """End the process."""\n'
        '    if job.program.name == "job.nc":\n'
        "        os.kill(os.getpid(), 9)\n"
        "    return ()\n"
    )
    recipe.write_text(text.replace("steps:", "python: [steps.py]\nsteps:\n  - end"))
    yield
    recipe.write_text(text)


@contextmanager
def another_file_altered(trial: Trial) -> Iterator[None]:
    file = prepared(trial, "lid.nc")
    file.write_bytes(file.read_bytes() + b"(LOOK)\n")
    yield
    file.unlink()


@contextmanager
def another_file_gone(trial: Trial) -> Iterator[None]:
    prepared(trial, "lid.nc").unlink()
    yield


@contextmanager
def a_bit_turned(trial: Trial) -> Iterator[None]:
    file = prepared(trial, "job.nc")
    file.write_bytes(file.read_bytes().replace(b"F900", b"F910", 1))
    yield
    file.unlink()
    prepared(trial, "job.nc")


@contextmanager
def two_swapped(trial: Trial) -> Iterator[None]:
    files = [prepared(trial, "job.nc"), prepared(trial, "lid.nc")]
    held = [file.read_bytes() for file in files]
    for file, data in zip(files, reversed(held), strict=True):
        file.write_bytes(data)
    yield
    for file, data in zip(files, held, strict=True):
        file.write_bytes(data)


@contextmanager
def renamed_on_the_card(trial: Trial) -> Iterator[None]:
    file = prepared(trial, "job.nc")
    other = file.rename(file.with_name("SLOT2.NC"))
    yield
    other.rename(file)


@contextmanager
def taken_off_the_card(trial: Trial) -> Iterator[None]:
    prepared(trial, "job.nc").unlink()
    yield
    prepared(trial, "job.nc")


@contextmanager
def unreadable_on_the_card(trial: Trial) -> Iterator[None]:
    file = prepared(trial, "job.nc")

    def act(original: Any, path: Any, *args: Any, **kwargs: Any) -> Any:
        if Path(path) == file:
            raise OSError(errno.EIO, os.strerror(errno.EIO))
        return original(path, *args, **kwargs)

    with _instead(trial, os, "open", act):
        yield


@contextmanager
def other_capitals(trial: Trial) -> Iterator[None]:
    file = prepared(trial, "job.nc")
    other = file.rename(file.with_name("job.nc"))
    yield
    other.rename(file)


@contextmanager
def copied_on_the_card(trial: Trial) -> Iterator[None]:
    file = prepared(trial, "job.nc")
    copy = Path(shutil.copy(file, file.with_name("JOB2.NC")))
    yield
    copy.unlink()


@contextmanager
def a_note_on_the_card(trial: Trial) -> Iterator[None]:
    prepared(trial, "job.nc")
    note = trial.card / "NOTES.TXT"
    note.write_text("for the hives by the lime trees\n")
    yield
    note.unlink()


@contextmanager
def a_run_cut_short(trial: Trial) -> Iterator[None]:
    prepared(trial, "job.nc")
    (trial.card / "HR000001.HRT").write_bytes(b"(ENTRANCE SLOT)\nG21 G9")
    yield
    prepared(trial, "job.nc")


@contextmanager
def a_list_of_last_week(trial: Trial) -> Iterator[None]:
    prepared(trial, "lid.nc")
    folder = trial.folder / "prepared"
    folder.mkdir()
    assert trial.run("prepare recipe.yaml job.nc --card prepared").exit_code == 0
    shutil.copy(folder / "JOB.NC", trial.card)
    yield
    shutil.copy(folder / "HEADRACE.JSON", trial.card)


@contextmanager
def a_job_taken_away(trial: Trial) -> Iterator[None]:
    file = prepared(trial, "board.nc")
    (trial.folder / "board.nc").unlink()
    yield
    file.unlink()


@contextmanager
def only_one_again(trial: Trial) -> Iterator[None]:
    prepared(trial, "lid.nc")
    prepared(trial, "job.nc")
    machine = trial.folder / "machine.yaml"
    text = machine.read_text("utf-8")
    machine.write_text(text.replace("feed: 5000", "feed: 4500"), "utf-8")
    assert machine.read_text("utf-8") != text
    yield
    machine.write_text(text, "utf-8")
    prepared(trial, "lid.nc")


def _kept(trial: Trial, recipe: str = "recipe.yaml") -> Path:
    """What a recipe makes of job.nc, kept in a folder."""
    assert trial.run(f"keep {recipe} job.nc --in kept").exit_code == 0
    return trial.folder / "kept"


@contextmanager
def kept_file_edited(trial: Trial) -> Iterator[None]:
    file = _kept(trial) / "JOB.NC"
    data = file.read_bytes()
    file.write_bytes(data.replace(b"F900", b"F700"))
    yield
    file.write_bytes(data)


@contextmanager
def job_changed_since_kept(trial: Trial) -> Iterator[None]:
    folder = _kept(trial)
    job = trial.folder / "job.nc"
    data = job.read_bytes()
    job.write_bytes(data.replace(b"F900", b"F850"))
    yield
    job.write_bytes(data)
    assert trial.run(f"keep {folder.name}").exit_code == 0


@contextmanager
def kept_of_another_recipe(trial: Trial) -> Iterator[None]:
    shutil.copy(trial.folder / "recipe.yaml", trial.folder / "lids.yaml")
    folder = _kept(trial, "lids.yaml")
    yield
    shutil.rmtree(folder)


@contextmanager
def attributes_gone(trial: Trial) -> Iterator[None]:
    file = _kept(trial) / ".gitattributes"
    data = file.read_bytes()
    file.unlink()
    yield
    file.write_bytes(data)


@contextmanager
def _watched(trial: Trial, act: Callable[[int], None]) -> Iterator[pytest.MonkeyPatch]:
    """A watch that ends after some rounds; in each `act` is done first, told its number."""
    pytest.importorskip("watchfiles")
    rounds = count(1)

    def wait(original: Any, bell: Bell) -> frozenset[str] | None:
        number = next(rounds)
        if number > 6:
            bell.stop()
        else:
            act(number)
        news: frozenset[str] | None = original(bell)
        return news

    with _instead(trial, Bell, "wait", wait), trial.patch.context() as patch:
        yield patch


@contextmanager
def written_all_the_time(trial: Trial) -> Iterator[None]:
    job = trial.folder / "job.nc"

    def write(number: int) -> None:
        with job.open("ab") as file:
            file.write(b"(%d)\n" % number)

    with _watched(trial, write) as patch:
        patch.setattr(unrest, "PATIENCE", 0.0)
        yield


@contextmanager
def kept_open(trial: Trial) -> Iterator[None]:
    def write(number: int) -> None:
        if number == 1:
            file.write(b"(KEPT OPEN)\n")

    with (trial.folder / "job.nc").open("ab", buffering=0) as file, _watched(trial, write) as patch:
        patch.setattr(unrest, "HELD", 0.0)
        patch.setattr(unrest, "is_held", lambda path: path.name == "job.nc")
        yield


@contextmanager
def no_news(trial: Trial) -> Iterator[None]:
    def refused(*_args: Any, **_kwargs: Any) -> Iterator[Any]:
        raise RuntimeError("OS file watch limit reached")

    with _watched(trial, lambda _number: None) as patch:
        patch.setattr("watchfiles.watch", refused)
        yield


@contextmanager
def folder_away(trial: Trial) -> Iterator[None]:
    jobs, away = trial.folder / "jobs", trial.folder / "away"

    def pull(number: int) -> None:
        if number == 1:
            jobs.rename(away)

    with _watched(trial, pull):
        yield
    away.rename(jobs)


@contextmanager
def nobody_answers(trial: Trial) -> Iterator[None]:
    def act(_original: Any, *_args: Any) -> Any:
        raise ConnectionRefusedError(errno.ECONNREFUSED, os.strerror(errno.ECONNREFUSED))

    with _instead(trial, cluster.socket, "create_connection", act):
        yield


@contextmanager
def without_the_client(trial: Trial) -> Iterator[None]:
    with trial.patch.context() as patch:
        patch.setattr(cluster, "_knock", lambda _address: None)
        patch.setitem(sys.modules, "distributed", None)
        yield


@contextmanager
def _on_threads(trial: Trial, pool: Executor) -> Iterator[None]:
    """Threads of this process stand for the workers of a cluster."""

    def act(_original: Any, _address: str) -> Any:
        return nullcontext(Borrowed(pool, 1))

    with pool, _instead(trial, cluster, "engine_on", act):
        yield


@contextmanager
def no_workers_left(trial: Trial) -> Iterator[None]:
    pool = ThreadPoolExecutor(1)
    pool.shutdown()
    with _on_threads(trial, pool):
        yield


@contextmanager
def another_headrace_there(trial: Trial) -> Iterator[None]:
    kit.unpacked.cache_clear()  # a worker that has nothing yet
    calls = []

    def act(original: Any) -> Any:
        calls.append(None)
        own = original()
        return own if len(calls) == 1 else replace(own, version="0.0.9", sha256="0" * 64)

    with (
        _on_threads(trial, ThreadPoolExecutor(1)),
        _instead(trial, kit, "whole_code", act),
        _instead(trial, kit, "gethostname", lambda _original: "shed"),
    ):
        yield


@contextmanager
def another_job_there(trial: Trial) -> Iterator[None]:
    job = trial.folder / "job.nc"
    before = job.read_bytes()

    def act(original: Any, *args: Any) -> Any:
        job.write_bytes(before.replace(b"X200", b"X190"))
        return original(*args)

    with (
        _on_threads(trial, ThreadPoolExecutor(1)),
        _instead(trial, borrowed, "run_with", act),
    ):
        yield
    job.write_bytes(before)


# --- run sheets and pictures ------------------------------------------------------------------

SHEET = "prepare recipe.yaml job.nc --card card --sheet {}"


@contextmanager
def a_note_in_the_run_sheet(trial: Trial) -> Iterator[None]:
    assert trial.run(SHEET.format("floors.html")).exit_code == 0
    page = trial.folder / "floors.html"
    with page.open("a") as file:
        file.write("<p>The left clamp is loose.</p>\n")
    yield
    page.unlink()


@contextmanager
def prepared_without_the_sheet(trial: Trial) -> Iterator[None]:
    assert trial.run(SHEET.format("card/SHEET.HTM")).exit_code == 0
    job = trial.folder / "job.nc"
    job.write_bytes(job.read_bytes().replace(b"F900", b"F800"))
    prepared(trial, "job.nc")
    yield
    assert trial.run(SHEET.format("card/SHEET.HTM")).exit_code == 0


@contextmanager
def exported_since(trial: Trial) -> Iterator[None]:
    prepared(trial, "job.nc")
    job = trial.folder / "job.nc"
    job.write_bytes(job.read_bytes().replace(b"F900", b"F800"))
    yield


@contextmanager
def prepared_alone(trial: Trial) -> Iterator[None]:
    prepared(trial, "job.nc")
    (trial.folder / "slot.nc").write_bytes(LID)
    yield


@contextmanager
def prepared_with_another(trial: Trial) -> Iterator[None]:
    (trial.folder / "slot.nc").write_bytes(LID)
    assert trial.run("prepare recipe.yaml job.nc slot.nc --card card").exit_code == 0
    yield


@contextmanager
def a_fault_in_telling(trial: Trial) -> Iterator[None]:
    def stumbling(_original: Any, *_args: Any, **_more: Any) -> None:
        raise LookupError("no pencil")

    prepared(trial, "job.nc")
    with _instead(trial, files, "file_facts", stumbling):
        yield


@contextmanager
def no_font_here(trial: Trial) -> Iterator[None]:
    library = pytest.importorskip("resvg_py")

    def blind(original: Any, *args: Any, **more: Any) -> Any:
        return original(*args, **{**more, "skip_system_fonts": True})

    with _instead(trial, library, "svg_to_bytes", blind):
        yield


# --- what runs, and what does not ---------------------------------------------------------------


def _by_trust(trial: Trial) -> Path:
    """From now on Python files run only if they are trusted; the list of those."""
    trial.patch.delenv("HEADRACE_PYTHON", raising=False)
    trial.patch.setenv("HEADRACE_STATE", str(trial.folder / "state"))
    return trial.folder / "state" / "trusted"


@contextmanager
def nobody_has_read_it(trial: Trial) -> Iterator[None]:
    _by_trust(trial)
    yield
    assert trial.run("trust --yes recipe.yaml").exit_code == 0


@contextmanager
def a_list_that_was_edited(trial: Trial) -> Iterator[None]:
    known = _by_trust(trial)
    assert trial.run("trust --yes recipe.yaml").exit_code == 0
    known.write_text(known.read_text() + "all that lies in /hives\n")
    yield
    known.unlink()
    assert trial.run("trust --yes recipe.yaml").exit_code == 0
