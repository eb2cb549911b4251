"""Progress: a line that moves on a terminal, hardly anything elsewhere."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from workshop import Workshop, set_up

from headrace.batch import Record
from headrace.cli import progress as module
from headrace.cli.progress import Pace, progress

RECORD = Record("lid.nc", 0, ())


# --- what it says -----------------------------------------------------------------------------


def test_a_rate_is_told_as_soon_as_there_is_one() -> None:
    pace = Pace(1000, "preparing", 0.0)
    assert pace.line(1, 0.2) == "preparing: 1 of 1000 jobs"
    assert pace.line(20, 2.0) == "preparing: 20 of 1000 jobs, 10 jobs/s, about 2 min left"


def test_the_rate_is_that_of_the_last_while() -> None:
    """Ten jobs a second follow on one that took a minute."""
    pace = Pace(701, "preparing", 0.0)
    pace.line(1, 60.0)
    for tenth in range(1, 301):
        said = pace.line(1 + tenth, 60.0 + tenth / 10)
    assert said == "preparing: 301 of 701 jobs, 10 jobs/s, about 40 s left"


@pytest.mark.parametrize(
    ("left", "said"),
    [
        (5, "a few seconds left"),
        (12, "about 10 s left"),
        (54, "about 50 s left"),
        (58, "about 1 min left"),
        (200, "about 3 min left"),
        (3600 * 2 + 600, "about 2 h 10 min left"),
    ],
)
def test_the_time_left_is_no_finer_than_it_can_be_known(left: int, said: str) -> None:
    pace = Pace(10 + left, "preparing", 0.0)
    assert pace.line(10, 10.0).endswith(f", {said}")


def test_more_jobs_than_were_meant_are_no_nonsense() -> None:
    """A job that is split counts as often as it has parts."""
    pace = Pace(2, "preparing", 0.0)
    assert pace.line(5, 5.0) == "preparing: 5 of 5 jobs, 1 jobs/s, a few seconds left"


def test_what_is_no_terminal_gets_a_line_each_half_minute(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    now = 0.0
    monkeypatch.setattr(module.time, "monotonic", lambda: now)
    with progress(1000, "preparing", quiet=False) as told:
        for _ in range(700):
            now += 0.1
            told(RECORD)
    lines = capsys.readouterr().err.splitlines()
    assert [line.split(",")[0] for line in lines] == [
        "preparing: 300 of 1000 jobs",
        "preparing: 600 of 1000 jobs",
    ]
    with progress(1000, "preparing", quiet=True) as told:
        for _ in range(700):
            now += 0.1
            told(RECORD)
    assert capsys.readouterr().err == ""


# --- the command ------------------------------------------------------------------------------


@pytest.fixture
def hive(tmp_path: Path) -> Workshop:
    hive = set_up(tmp_path)
    for number in range(12):
        hive.job(f"n{number:02}.nc")
    return hive


def on_a_terminal(hive: Workshop, *options: str, **environment: str) -> str:
    """What the command writes to a terminal that is its standard error."""
    pty = pytest.importorskip("pty", reason="there are no pseudo terminals on this system")
    ours, theirs = pty.openpty()
    own = {"TERM": "xterm", "NO_COLOR": "", **environment}
    with subprocess.Popen(
        [sys.executable, "-m", "headrace", "prepare", str(hive.recipe), "jobs",
         "--card", "card", *options],
        cwd=hive.root, stdout=subprocess.DEVNULL, stderr=theirs, env={**os.environ, **own},
    ) as process:  # fmt: skip
        os.close(theirs)
        said = b""
        try:
            while part := os.read(ours, 1 << 16):
                said += part
        except OSError:  # Linux tells so that the other end is closed
            pass
        os.close(ours)
    assert process.returncode == 0, said
    return said.decode()


def screen(said: str) -> list[str]:
    """What stands on the screen in the end: what is written over is gone."""
    lines = []
    for line in said.replace("\r\n", "\n").split("\n"):
        cells: list[str] = []
        for part in line.split("\r"):
            cells[: len(part)] = part
        lines.append("".join(cells).rstrip())
    return lines


@pytest.mark.parametrize("workers", ["1", "2"])
def test_on_a_terminal_one_line_moves_and_is_gone_in_the_end(hive: Workshop, workers: str) -> None:
    said = on_a_terminal(hive, "--jobs", workers)
    assert "\rpreparing: 1 of 12 jobs" in said
    assert "preparing" not in "\n".join(screen(said))
    assert screen(said)[0].startswith("12 written")


@pytest.mark.parametrize(
    ("options", "environment"),
    [
        (["--quiet"], {}),
        ([], {"NO_COLOR": "1"}),
        ([], {"TERM": "dumb"}),
    ],
)
def test_nothing_moves_where_nothing_is_to(
    hive: Workshop, options: list[str], environment: dict[str, str]
) -> None:
    said = on_a_terminal(hive, *options, **environment)
    assert "preparing" not in said
    assert "\r" not in said.replace("\r\n", "\n")


def test_a_pipe_gets_no_progress_of_a_short_run(hive: Workshop) -> None:
    done = hive.run("prepare", hive.recipe, "jobs", "--card", "card")
    assert (done.returncode, b"preparing" in done.stderr, b"\r" in done.stderr) == (0, False, False)
