"""Batches on a real Dask cluster, by the command: same card, and every failure in words."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from pipeline.batch.cluster import Cluster, running
from workshop import LID, REFUSED, Workshop, set_up

import headrace

PATIENCE = 30.0
"""Seconds to wait for what must happen."""
LONG = "G21 G90\nG0 X0 Y0\nF600\n" + "G1 X1\nG1 X0\n" * 5_000 + "M30\n"


@pytest.fixture(scope="module")
def cluster() -> Iterator[Cluster]:
    with running(workers=2) as cluster:
        yield cluster


def prepare(hive: Workshop, cluster: Cluster, *more: str) -> subprocess.CompletedProcess[bytes]:
    return hive.run(
        "prepare", hive.recipe, "jobs", "--card", "card", "--cluster", cluster.address, *more
    )


def begun(hive: Workshop, cluster: Cluster) -> subprocess.Popen[bytes]:
    """The command at work, as soon as it has staged its first file."""
    process = subprocess.Popen(
        [sys.executable, "-m", "headrace", "prepare", str(hive.recipe), "jobs", "--card", "card",
         "--cluster", cluster.address],
        cwd=hive.root, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
    )  # fmt: skip
    until = time.monotonic() + PATIENCE
    while not list(hive.card.glob("*.HRT")):
        if process.poll() is not None or time.monotonic() > until:
            process.kill()
            pytest.fail(f"nothing was staged: {process.communicate()[1].decode()}")
        time.sleep(0.005)
    return process


def test_the_card_is_the_same_as_without_a_cluster_and_refused_jobs_are_told(
    tmp_path: Path, cluster: Cluster
) -> None:
    hive = set_up(tmp_path, card_files=True)
    for number in range(9):
        hive.job(f"n{number}.nc", LID + f"(no {number})\n")
    hive.job("torn.nc", REFUSED)
    cards = []
    for options in (["--jobs", "1"], ["--jobs", "2"], ["--cluster", cluster.address]):
        for path in hive.card.iterdir():
            path.unlink()
        done = hive.run("prepare", hive.recipe, "jobs", "--card", "card", *options)
        assert done.returncode == 1, done.stderr
        assert b"torn.nc  refused" in done.stdout
        cards.append(hive.on_card())

    assert len(cards[0]) == 11
    assert cards[0] == cards[1] == cards[2]


def test_a_worker_that_is_killed_midway_costs_nothing(tmp_path: Path) -> None:
    hive = set_up(tmp_path, ["heading"])
    for number in range(12):
        hive.job(f"n{number:02}.nc", LONG)
    with running(workers=2) as cluster:
        process = begun(hive, cluster)
        cluster.workers[0].kill()
        _, said = process.communicate(timeout=2 * PATIENCE)
    assert process.returncode == 0, said
    assert len(hive.on_card()) == 13


def test_a_job_that_ends_its_worker_is_told_and_all_others_are_written(tmp_path: Path) -> None:
    hive = set_up(tmp_path, ["heading"])
    steps = hive.recipe.parent / "hive_steps.py"
    killing = "    import os\n    if b'BEES' in job.program.to_bytes(): os.kill(os.getpid(), 9)\n"
    steps.write_text(
        steps.read_text().replace("    yield before(0,", killing + "    yield before(0,")
    )
    for name in ("a.nc", "c.nc", "d.nc"):
        hive.job(name)
    hive.job("b.nc", "(BEES)\n" + LID)
    with running(3, {"DASK_DISTRIBUTED__SCHEDULER__ALLOWED_FAILURES": "0"}) as cluster:
        done = prepare(hive, cluster)
    assert done.returncode == 70, done.stderr
    assert b"worker-lost" in done.stderr
    assert b"b.nc did not come back from its worker: KilledWorker" in done.stderr
    assert set(hive.on_card()) == {"A.NC", "C.NC", "D.NC", "HEADRACE.JSON"}


@pytest.mark.parametrize("gone", ["workers", "scheduler"])
def test_when_nobody_is_left_the_run_ends_in_words_and_writes_nothing(
    tmp_path: Path, gone: str
) -> None:
    hive = set_up(tmp_path, ["heading"])
    for number in range(12):
        hive.job(f"n{number:02}.nc", LONG)
    with running(workers=1) as cluster:
        process = begun(hive, cluster)
        ended = cluster.workers if gone == "workers" else [cluster.scheduler]
        for each in ended:
            each.kill()
        _, said = process.communicate(timeout=2 * PATIENCE)
    assert process.returncode == 2, said
    assert b"HRC067 workers-gone" in said
    assert b"Traceback" not in said
    assert hive.on_card() == {}


def test_workers_with_another_headrace_prepare_nothing(tmp_path: Path) -> None:
    """One letter in a comment is enough: nobody can tell from afar what a difference does."""
    hive = set_up(tmp_path / "hive", ["heading"])
    hive.job("a.nc")
    roots = [Path(headrace.__file__).parents[1], Path(headrace.__file__).parents[2] / "plugins"]
    for root in roots:
        shutil.copytree(root, tmp_path / root.name, ignore=shutil.ignore_patterns("__pycache__"))
    path = tmp_path / "pipeline" / "headrace" / "run.py"
    path.write_text(path.read_text() + "# mended\n")
    places = os.pathsep.join(str(tmp_path / root.name) for root in roots)
    with running(1, {"PYTHONPATH": places}) as cluster:
        done = prepare(hive, cluster)
    assert done.returncode == 2, done.stderr
    assert b"HRC068 worker-unlike" in done.stderr
    version = headrace.__version__.encode()
    assert b"its headrace " + version + b" has other code" in done.stderr
    assert hive.on_card() == {}


def test_a_cluster_without_workers_is_told(tmp_path: Path) -> None:
    hive = set_up(tmp_path, ["heading"])
    hive.job("a.nc")
    with running(workers=0) as cluster:
        done = prepare(hive, cluster)
    assert done.returncode == 2, done.stderr
    assert b"has no workers  [HRC067 workers-gone]" in done.stderr
    assert hive.on_card() == {}


def test_jobs_counts_processes_of_this_machine_only(tmp_path: Path) -> None:
    hive = set_up(tmp_path)
    hive.job("a.nc")
    done = prepare(hive, Cluster("tcp://127.0.0.1:9", None, []), "--jobs", "2")  # type: ignore[arg-type]
    assert done.returncode == 2
    assert b"--jobs counts processes here" in done.stderr
