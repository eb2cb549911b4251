"""`headrace watch` as a process: what it says, and how it ends. Ctrl-C is SIGINT (POSIX.1-2017,
11.1.9 "Special Characters", INTR), and 128 + 2 is the exit code of a program that it ended (POSIX
shell, 2.8.2)."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

import jsonschema
import pytest
from click.testing import CliRunner
from workshop import LID, REFUSED, Workshop, set_up

from headrace.cli.group import headrace as command
from headrace.report.schema import output_schema

pytest.importorskip("watchfiles")

LIMIT = 30.0
SLOW = """\
from time import sleep
from headrace import transform

@transform("slow")
def slow(job):
    \"\"\"Take long.\"\"\"
    for _ in range(3000):
        sleep(0.01)
    return ()
"""


class Running:
    """The command in a process of its own; what it has said so far."""

    def __init__(self, process: subprocess.Popen[str]) -> None:
        self.process = process
        self.out: list[str] = []
        self.err: list[str] = []
        self._readers = [
            threading.Thread(target=lambda: self.out.extend(process.stdout or ())),
            threading.Thread(target=lambda: self.err.extend(process.stderr or ())),
        ]
        for reader in self._readers:
            reader.start()

    def until(self, what: str, true: Callable[[], bool]) -> None:
        end = time.monotonic() + LIMIT
        while not true():
            said = f"it did not happen: {what}; {self.out} {self.err}"
            assert time.monotonic() < end, said
            assert self.process.poll() is None, said
            time.sleep(0.02)

    def says(self, line: str, count: int = 1) -> None:
        """Wait until a line is said on either stream so many times."""
        self.until(line, lambda: [*self.out, *self.err].count(f"{line}\n") >= count)

    def end(self, sign: int = signal.SIGINT) -> int:
        self.process.send_signal(sign)
        code = self.process.wait(LIMIT)
        for reader in self._readers:
            reader.join(LIMIT)
        return code

    def close(self) -> None:
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait()
        for reader in self._readers:
            reader.join(LIMIT)
        for stream in (self.process.stdout, self.process.stderr):
            assert stream is not None
            stream.close()


@contextmanager
def running(hive: Workshop, *args: str, env: Mapping[str, str] | None = None) -> Iterator[Running]:
    process = subprocess.Popen(
        [sys.executable, "-m", "headrace", "watch", *args],
        cwd=hive.root,
        env={**os.environ, **(env or {})},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    watch = Running(process)
    try:
        yield watch
    finally:
        watch.close()


@pytest.fixture
def hive(tmp_path: Path) -> Workshop:
    return set_up(tmp_path / "hive")


WATCH = ("recipes/plain.yaml", "jobs", "--card", "card")


def test_it_says_what_changes_and_ends_by_ctrl_c(hive: Workshop) -> None:
    hive.job("lid.nc")
    with running(hive, *WATCH) as watch:
        watch.says("watching 1 job")
        assert watch.out[0] == "lid.nc -> LID.NC  written: 10 lines (1 added), 4 moves\n"
        hive.job("rim.nc", REFUSED)
        watch.says("watching 2 jobs")
        assert "rim.nc  refused: 1 finding\n" in watch.out
        assert "Q has no number" in "".join(watch.err)
        hive.job("rim.nc", LID)
        watch.says("watching 2 jobs", 2)
        assert "rim.nc -> RIM.NC  written: 10 lines (1 added), 4 moves\n" in watch.out
        assert watch.end() == 130
    assert sum(line.startswith("lid.nc") for line in watch.out) == 1
    assert "Traceback" not in "".join(watch.err)
    assert set(hive.on_card()) == {"HEADRACE.JSON", "LID.NC", "RIM.NC"}


def test_the_system_ends_it_as_well(hive: Workshop) -> None:
    """SIGTERM, 128 + 15."""
    hive.job("lid.nc")
    with running(hive, *WATCH) as watch:
        watch.says("watching 1 job")
        assert watch.end(signal.SIGTERM) == 143
    assert "Traceback" not in "".join(watch.err)


def test_ctrl_c_while_a_job_is_prepared_leaves_the_card_as_it_was(hive: Workshop) -> None:
    hive.job("lid.nc")
    with running(hive, *WATCH) as watch:
        watch.says("watching 1 job")
        before = hive.on_card()
        (hive.recipe.parent / "slow.py").write_text(SLOW)
        recipe = hive.recipe.read_text().replace("steps:", "steps:\n  - slow")
        hive.recipe.write_text(recipe.replace("[hive_steps.py]", "[hive_steps.py, slow.py]"))
        time.sleep(1)  # it is at it, most likely; what is asserted holds anyway
        assert watch.end() == 130
    assert hive.on_card() == before


def test_quietly_it_says_only_what_is_wrong(hive: Workshop) -> None:
    hive.job("lid.nc")
    with running(hive, *WATCH, "--quiet") as watch:
        watch.until("it is written", lambda: (hive.card / "LID.NC").exists())
        hive.job("rim.nc", REFUSED)
        watch.until("it is refused", lambda: "Q has no number" in "".join(watch.err))
        assert watch.end() == 130
    assert watch.out == []
    assert "watching" not in "".join(watch.err)


def test_a_document_a_line(hive: Workshop) -> None:
    hive.job("lid.nc")
    with running(hive, *WATCH, "--json") as watch:
        watch.until("the first", lambda: len(watch.out) == 1)
        hive.recipe.write_text(hive.recipe.read_text().replace("capitals", "capitol"))
        watch.until("the second", lambda: len(watch.out) == 2)
        hive.recipe.write_text(hive.recipe.read_text().replace("capitol", "capitals"))
        watch.until("the third", lambda: len(watch.out) == 3)
        hive.job("lid.nc", LID.replace("X40", "X50"))
        watch.until("the fourth", lambda: len(watch.out) == 4)
        assert watch.end() == 130
    *answers, last = [json.loads(line) for line in watch.out]
    for answer in answers:
        jsonschema.Draft202012Validator(output_schema("watch")).validate(answer)
    jsonschema.Draft202012Validator(output_schema("error")).validate(last)
    told = [
        (answer["exit-code"], answer["wanting"], [file["fate"] for file in answer["files"]])
        for answer in answers
    ]
    assert told == [
        (0, None, ["written"]),
        (3, "recipe", []),
        (0, None, []),
        (0, None, ["replaced"]),
    ]
    assert {answer["watched"] for answer in answers} == {1}
    assert (last["exit-code"], last["command"]) == (130, "watch")


def test_values_of_the_day_hold_all_the_time(hive: Workshop) -> None:
    hive.job("lid.nc")
    with running(hive, *WATCH, "--set", "steps.heading.text=SUMMER") as watch:
        watch.says("watching 1 job")
        assert hive.on_card()["LID.NC"].startswith(b"(SUMMER)\n")
        hive.recipe.write_text(hive.recipe.read_text().replace("- capitals", "- no-blanks", 1))
        watch.says("watching 1 job", 2)
        assert hive.on_card()["LID.NC"].startswith(b"(SUMMER)\n(hive lid)\n")
        assert watch.end() == 130


def test_without_the_library_it_says_what_to_install(
    hive: Workshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "watchfiles", None)
    monkeypatch.setattr("importlib.util.find_spec", lambda _name: None)
    job = hive.job("lid.nc")
    args = ["watch", str(hive.recipe), str(job), "--card", str(hive.card)]
    result = CliRunner().invoke(command, args)
    assert result.exit_code == 2
    assert "pip install 'headrace[watch]'" in result.stderr
    assert hive.on_card() == {}


def test_a_value_that_no_file_can_mend_is_told_at_once(hive: Workshop) -> None:
    args = ["watch", str(hive.recipe), str(hive.job("lid.nc")), "--card", str(hive.card)]
    result = CliRunner().invoke(command, [*args, "--set", "setup.sheet=["])
    assert (result.exit_code, result.stdout) == (3, "")
    assert hive.on_card() == {}


def test_a_name_that_is_mistyped_is_told_at_once(hive: Workshop) -> None:
    job = hive.job("lid.nc")
    for args in (
        [hive.recipe, hive.jobs / "lit.nc", "--card", hive.card],
        [hive.root / "plane.yaml", job, "--card", hive.card],
        [hive.recipe, job],
        [hive.recipe, "--card", hive.card],
    ):
        result = CliRunner().invoke(command, ["watch", *map(str, args)])
        assert result.exit_code == 2, args
        assert result.stdout == ""
