"""A Dask cluster for the tests, in processes of its own, as it is started by hand."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

PATIENCE = 60.0
"""Seconds for scheduler and workers to be there."""


@dataclass(frozen=True)
class Cluster:
    """Where its scheduler is, and the processes."""

    address: str
    scheduler: subprocess.Popen[bytes]
    workers: list[subprocess.Popen[bytes]]


@contextmanager
def running(workers: int, environment: dict[str, str] | None = None) -> Iterator[Cluster]:
    """A scheduler and workers of one thread each, on this machine."""
    if find_spec("distributed") is None:
        said = "the package distributed is not installed: pip install 'headrace[cluster]'"
        required = os.environ.get("HEADRACE_TOOLS") == "required"  # as trials/tools.py has it
        pytest.fail(said) if required else pytest.skip(said)
    with ExitStack() as held:
        folder = Path(held.enter_context(TemporaryDirectory()))

        def started(name: str, *options: str) -> subprocess.Popen[bytes]:
            log = held.enter_context((folder / "log").open("ab"))
            process = subprocess.Popen(
                [sys.executable, "-m", f"distributed.cli.{name}", "--no-dashboard", *options],
                cwd=folder, env={**os.environ, **(environment or {})}, stdout=log, stderr=log,
            )  # fmt: skip
            held.callback(process.wait, PATIENCE)
            held.callback(process.kill)
            return process

        file = folder / "scheduler.json"
        head = started("dask_scheduler", "--port", "0", "--host", "127.0.0.1",
                       "--scheduler-file", str(file))  # fmt: skip
        options = ["--scheduler-file", str(file), "--nthreads", "1", "--no-nanny"]
        options += ["--local-directory", str(folder)]
        crew = [started("dask_worker", *options) for _ in range(workers)]
        address = _address(folder, workers)
        yield Cluster(address, head, crew)


def _address(folder: Path, workers: int) -> str:
    """The scheduler's address, as soon as all workers have registered with it."""
    until = time.monotonic() + PATIENCE
    log = folder / "log"
    while time.monotonic() < until:
        if log.read_text().count("Registered to:") >= workers:
            with suppress(FileNotFoundError, json.JSONDecodeError):  # it is written in place
                return str(json.loads((folder / "scheduler.json").read_text())["address"])
        time.sleep(0.05)
    pytest.fail(f"the cluster did not start within {PATIENCE:.0f} s:\n{log.read_text()}")
