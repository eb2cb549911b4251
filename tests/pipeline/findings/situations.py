"""What no file can show, brought about: each function holds a situation while its `with` lasts,
and mends it at the end."""

from __future__ import annotations

import errno
import os
import shutil
from collections import namedtuple
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from pipeline.findings.trial import Trial

import headrace.run

PREPARE = "prepare recipe.yaml {} --card card"
LID = b"(LID)\nG21 G90 G94 G17\nM3 S18000\nG0 Z30\nG0 X150 Y100\nG1 Z-4.5 F300\nG0 Z30\nM5\nM30\n"
USAGE = namedtuple("USAGE", "total used free")


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
def a_folder_of_that_name(trial: Trial) -> Iterator[None]:
    folder = trial.card / "JOB.NC"
    folder.mkdir()
    yield
    folder.rmdir()


@contextmanager
def full(trial: Trial) -> Iterator[None]:
    with _instead(trial, shutil, "disk_usage", lambda _, _path: USAGE(1 << 20, 1 << 20, 1000)):
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

    with _instead(trial, os, "replace", act):
        yield


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

    with _instead(trial, headrace.run, "prove_step", act):
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
    recipe.write_text(text.replace("steps:", "plugins: [steps.py]\nsteps:\n  - end"))
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
