"""A short run of hostile cases, and every input that once broke something."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from hostility.harness import Hive, Tally, Verdict, crasher_cases, crashers

CASES = 120
"""As many as take a few seconds; `fuzz.py` goes on for as long as one likes."""


@pytest.fixture(scope="module")
def hive(tmp_path_factory: pytest.TempPathFactory) -> Hive:
    return Hive(tmp_path_factory.mktemp("hive"))


def told(tally: Tally) -> str:
    return "\n".join(f"{kind}: {case}\n{what}" for case, kind, what in tally.shown)


def test_hostile_cases(hive: Hive) -> None:
    tally = Tally()
    for seed in range(CASES):
        case = hive.case(seed)
        tally.add(case, hive.judged(case))

    assert tally.cases == CASES
    assert not tally.faults, told(tally)


def test_cases_are_of_every_kind_and_can_be_made_again(hive: Hive) -> None:
    cases = [hive.case(seed) for seed in range(300)]

    assert {case.way for case in cases} == {"job", "plan-only", "prepare", "plan", "check"}
    assert cases[100:110] == [hive.case(seed) for seed in range(100, 110)]
    new = [name for case in cases for name in case.files]
    for part in ("jobs/hostile.nc", "machines/", "setups/", "shared/"):
        assert any(name.startswith(part) for name in new), part


@pytest.mark.parametrize("folder", crashers(), ids=lambda folder: folder.name)
def test_what_once_broke_something(hive: Hive, folder: Path) -> None:
    tally = Tally()
    for case in crasher_cases(folder):
        tally.add(case, hive.judged(case))

    assert tally.cases
    assert not tally.faults, told(tally)


def test_the_harness_sees_faults(hive: Hive, monkeypatch: pytest.MonkeyPatch) -> None:
    """A fault of headrace, planted: seen past the command and through it."""

    def fall(*_: object) -> None:
        raise ZeroDivisionError("planted")

    cases = [case for case in map(hive.case, range(200)) if case.way in ("job", "check")]
    jobs = [case for case in cases if case.job in case.files]
    monkeypatch.setattr("headrace.run.Program.read", fall)

    for way in ("job", "check"):
        case = next(case for case in jobs if case.way == way)
        verdict: Verdict = hive.judged(case)
        assert [kind for kind, _ in verdict.faults] == ["uncaught"], verdict


def test_names_with_control_characters_are_told_without(hive: Hive) -> None:
    """A file's name may hold the bytes that move a terminal's cursor."""
    name = hive.folder / "jobs" / "lid\x1b[2J\x07.nc"
    name.write_bytes(b"G21\nX\n")
    wanted = [
        ["check", str(hive.folder / "bench-lids.yaml"), str(name)],
        ["check", str(hive.folder / "no\x1b[2Jsuch.yaml")],
        ["check", str(hive.folder / "bench-lids.yaml"), "no\x1b[2Jsuch.nc"],
        ["check", str(hive.folder / "bench-lids.yaml"), "--set", "a\x1b[2J=1"],
        ["transforms", "no\x1b[2Jsuch"],
        ["no\x1b[2Jsuch"],
        ["check", "--no\x1b[2Jsuch"],
    ]
    for args in wanted:
        command = [sys.executable, "-c", "from headrace.cli import main; main()", *args]
        run = subprocess.run(command, capture_output=True, check=False, env=os.environ)
        assert run.returncode in (1, 2, 3), args
        assert b"\x1b" not in run.stdout + run.stderr, args
        assert run.stderr, args
    name.unlink()


def test_fuzzing_from_the_command_line() -> None:
    script = Path(__file__).with_name("fuzz.py")
    command = [sys.executable, str(script), "--seconds", "1", "--jobs", "1", "--seed", "7"]
    run = subprocess.run(command, capture_output=True, text=True, check=False, timeout=100)

    assert run.returncode == 0, run.stdout + run.stderr
    assert '"uncaught": 0' in run.stdout
    assert run.stdout.count("\n") == 1
