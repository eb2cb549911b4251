"""Interrupted runs, by real signals to real processes at several moments: they end at once, no
process is left, the card is as it was."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from pipeline.batch.cluster import Cluster, running
from workshop import Workshop, set_up

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="looks at processes in /proc")

PATIENCE = 30.0
"""Seconds to wait for what must happen."""
LONG = "G21 G90\nG0 X0 Y0\nF600\n" + "G1 X1\nG1 X0\n" * 10_000 + "M30\n"


@pytest.fixture(scope="module")
def cluster() -> Iterator[Cluster]:
    with running(workers=2) as cluster:
        yield cluster


def prepared_hive(root: Path) -> Workshop:
    """Sixteen jobs; the first three are on the card already, as they were before they changed."""
    hive = set_up(root, ["heading"])
    for number in range(3):
        hive.job(f"n{number:02}.nc")
    assert hive.run("prepare", hive.recipe, "jobs", "--card", "card").returncode == 0
    for number in range(16):
        hive.job(f"n{number:02}.nc", LONG)
    return hive


@contextmanager
def begun(hive: Workshop, *options: str) -> Iterator[subprocess.Popen[bytes]]:
    """The command at work, in a session of its own."""
    command = [sys.executable, "-m", "headrace", "prepare", str(hive.recipe), "jobs", "--card"]
    with subprocess.Popen(
        [*command, "card", *options], cwd=hive.root, start_new_session=True,
        stdout=subprocess.PIPE, stderr=subprocess.PIPE,
    ) as process:  # fmt: skip
        try:
            yield process
        finally:
            if process.poll() is None:
                process.kill()


def wait_until(
    there: Callable[[], bool], what: str, process: subprocess.Popen[bytes] | None = None
) -> None:
    """Wait; `process`, where it is given, has not ended by then."""
    until = time.monotonic() + PATIENCE
    while not there():
        if process is not None and process.poll() is not None:
            _, said = process.communicate()
            pytest.fail(f"the command ended before this: {what}\n{said.decode()}")
        if time.monotonic() > until:
            pytest.fail(f"{what} did not happen within {PATIENCE:.0f} s")
        time.sleep(0.005)


def staged(hive: Workshop) -> int:
    return len(list(hive.card.glob("HR0*.HRT")))


def of_session(session: int) -> list[int]:
    """The processes of a session that have not ended (proc(5): the sixth field of stat)."""
    found = []
    for path in Path("/proc").glob("[0-9]*/stat"):
        try:
            fields = path.read_text().rpartition(")")[2].split()
        except OSError:
            continue
        if int(fields[3]) == session and fields[0] != "Z":
            found.append(int(path.parent.name))
    return found


MOMENTS: dict[str, Callable[[Workshop, int], bool]] = {
    "processes begin": lambda _hive, pid: len(of_session(pid)) > 1,
    "the first file is staged": lambda hive, _pid: staged(hive) > 0,
    "half of them are": lambda hive, _pid: staged(hive) >= 8,
}


@pytest.mark.parametrize(
    ("engine", "moment", "number"),
    [
        ("one", "the first file is staged", signal.SIGINT),
        ("two", "processes begin", signal.SIGINT),
        ("two", "the first file is staged", signal.SIGINT),
        ("two", "half of them are", signal.SIGTERM),
        ("cluster", "the first file is staged", signal.SIGINT),
        ("cluster", "half of them are", signal.SIGTERM),
    ],
)
def test_an_interrupted_run_leaves_the_card_as_it_was_and_nobody_at_work(
    tmp_path: Path, request: pytest.FixtureRequest, engine: str, moment: str, number: int
) -> None:
    hive = prepared_hive(tmp_path / "hive")
    before = hive.on_card()
    options = {"one": ["--jobs", "1"], "two": ["--jobs", "2"]}.get(engine)
    if options is None:
        options = ["--cluster", request.getfixturevalue("cluster").address]
    with begun(hive, *options) as process:
        wait_until(lambda: MOMENTS[moment](hive, process.pid), moment, process)
        if number == signal.SIGINT:
            os.killpg(process.pid, number)  # as a terminal does
        else:
            process.send_signal(number)
        _, said = process.communicate(timeout=PATIENCE)

    # Python ends by the signal itself where that came within `exec`, as when a dataclass is made
    # (Py_RunMain); a shell tells 128 and the number in both cases
    assert process.returncode in (128 + number, -number), said
    assert b"Traceback" not in said
    assert said.strip().endswith(b"nothing unfinished is left behind")
    wait_until(lambda: not of_session(process.pid), "the end of all processes")
    assert hive.on_card() == before


def test_what_a_cluster_still_does_after_an_interruption_does_not_reach_the_card(
    tmp_path: Path, cluster: Cluster
) -> None:
    """Its workers cannot be ended from here: they go on with what they have begun."""
    hive = prepared_hive(tmp_path / "hive")
    before = hive.on_card()
    with begun(hive, "--cluster", cluster.address) as process:
        wait_until(lambda: staged(hive) > 0, "the first file", process)
        process.send_signal(signal.SIGINT)
        process.communicate(timeout=PATIENCE)
    assert process.returncode == 130
    # the next run waits its turn behind what is left, and finds everything as it was
    assert hive.on_card() == before
    done = hive.run("prepare", hive.recipe, "jobs", "--card", "card", "--cluster", cluster.address)
    assert done.returncode == 0, done.stderr
    assert len(hive.on_card()) == 17
    assert b"card-leftover" not in done.stderr


IN_THE_MIDDLE = """
import multiprocessing
from concurrent.futures import ProcessPoolExecutor

from headrace.batch.engines.processes import _end

if __name__ == "__main__":
    pool = ProcessPoolExecutor(1, multiprocessing.get_context("forkserver"))
    pool.submit(bytes, 100_000_000)
    while not pool._result_queue._reader.poll(0):
        pass  # until the first part of it is there
    _end(pool)
"""


def test_a_record_that_is_half_sent_holds_up_no_end(tmp_path: Path) -> None:
    """A pipe holds 64 KiB (pipe(7)), so a process ended then has sent a part of it only."""
    script = tmp_path / "middle.py"
    script.write_text(IN_THE_MIDDLE, "utf-8")

    done = subprocess.run([sys.executable, str(script)], timeout=PATIENCE, check=False)

    assert done.returncode == 0
