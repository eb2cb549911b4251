"""Jobs in parts: no card holds a part of one job beside a part of another, or less than the whole
of one, also where the file of the job changes amid the run."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest
from workshop import Workshop, set_up

from headrace.batch import collect_jobs, prepare_folder
from headrace.batch.engines import Engine, Serial
from headrace.batch.engines.engine import Told
from headrace.batch.prepared import Prepared
from headrace.batch.record import Record, Task
from headrace.batch.watching.caution import Caution, Refusals
from headrace.cli.shared import planned
from headrace.errors import CardError

HEAD = "G21 G17 G90 G94\nT1 M6\nM3 S18000\nG0 Z30\nG0 X10 Y10\nG0 Z2\nG1 Z-3 F300\nG1 X50 F900\n"
CHANGE = "G0 Z30\nM5\nT2 M6\nM3 S18000\nG0 X80 Y40\nG0 Z2\nG1 Z-3 F300\nG1 X90\n"
END = "G0 Z30\nM5\nM30\n"
JOBS = [HEAD + END, HEAD + CHANGE + END, HEAD + CHANGE + CHANGE.replace("T2", "T1") + END]
"""A job for one bit, for two, and for three in turn."""
OTHER_TWO = JOBS[1].replace("X90", "X95")


class Overtaken(Serial):
    """An engine before whose task of this number a job is saved anew, once."""

    def __init__(self, path: Path, text: str, number: int = 0) -> None:
        self.path, self.text, self.number = path, text, number

    def run(self, tasks: Sequence[Task], plan: Any, registry: Any, told: Told) -> list[Record]:
        records = []
        for number, task in enumerate(tasks):
            if number == self.number:
                self.path.write_text(self.text)
                self.number = -1
            records += super().run([task], plan, registry, told)
        return records


@pytest.fixture
def trays(tmp_path: Path) -> Workshop:
    """A recipe that splits its jobs."""
    hive = set_up(tmp_path / "trays", ["split-tools"])
    one = "tool: {stick-out: 30, diameter: 6, flute: 20}"
    bits = [f"{{number: {number}, stick-out: 30, diameter: 6}}" for number in (1, 2)]
    hive.recipe.write_text(hive.recipe.read_text().replace(one, f"tools: [{', '.join(bits)}]"))
    return hive


def run(hive: Workshop, engine: Engine) -> Prepared:
    plan, registry, _ = planned(hive.recipe, ())
    jobs, _ = collect_jobs([hive.jobs])
    return prepare_folder(plan, registry, jobs, hive.card, engine=engine)


@pytest.mark.parametrize(
    ("before", "behind", "number"),
    [
        (JOBS[0], JOBS[1], 0),
        (JOBS[1], JOBS[0], 0),
        (JOBS[1], JOBS[2], 0),
        (JOBS[2], JOBS[1], 0),
        (JOBS[1], OTHER_TWO, 0),
        (JOBS[1], OTHER_TWO, 1),
    ],
    ids=["one, then two", "two, then one", "two, then three", "three, then two", "two others",
         "two others from the second on"],
)  # fmt: skip
def test_a_job_that_is_saved_anew_amid_a_run_is_refused_and_then_prepared(
    trays: Workshop, before: str, behind: str, number: int
) -> None:
    path = trays.job("tray.nc", before)
    first = run(trays, Overtaken(path, behind, number))
    assert first.exit_code == 1
    assert {f.what for file in first.files for f in file.record.findings} >= {
        "tray.nc was changed while it was prepared"
    }
    assert all(file.fate is None for file in first.files)
    assert trays.on_card() == {}
    second = run(trays, Serial())
    assert second.exit_code == 0
    whole = {name: data for name, data in trays.on_card().items() if name.endswith(".NC")}
    assert len(whole) == 1 + behind.count("M6") - 1
    assert sum(data.count(b"G1 X") for data in whole.values()) == behind.count("G1 X")


def test_other_jobs_are_written_all_the_same(trays: Workshop) -> None:
    trays.job("lid.nc", JOBS[0])
    path = trays.job("tray.nc", JOBS[1])
    found = run(trays, Overtaken(path, OTHER_TWO))
    assert found.exit_code == 1
    assert sorted(trays.on_card()) == ["HEADRACE.JSON", "LID.NC"]


def test_a_job_that_is_remembered_is_overtaken_too(trays: Workshop) -> None:
    """How many parts it has was told by the list, when it still was as it had been."""
    path = trays.job("tray.nc", JOBS[1])
    run(trays, Serial())
    before = trays.on_card()
    (trays.card / "TRAY-2.NC").unlink()
    found = run(trays, Overtaken(path, JOBS[2]))
    assert found.exit_code == 1
    assert trays.on_card()["TRAY-1.NC"] == before["TRAY-1.NC"]
    assert "TRAY-2.NC" not in trays.on_card()


def test_a_watch_takes_such_a_job_for_one_that_is_being_written(trays: Workshop) -> None:
    """So it looks at it again: nobody has to touch it first."""
    path, refusals = trays.job("tray.nc", JOBS[1]), Refusals()
    caution = Caution(Overtaken(path, JOBS[2]), (), refusals)
    found = run(trays, caution)
    assert found.exit_code == 1
    assert caution.unread == {path}
    assert trays.on_card() == {}
    assert run(trays, Caution(Serial(), (), refusals)).exit_code == 0
    assert sorted(trays.on_card()) == ["HEADRACE.JSON", "TRAY-1.NC", "TRAY-2.NC", "TRAY-3.NC"]


def test_a_job_that_is_called_like_a_part_does_not_take_its_file(trays: Workshop) -> None:
    trays.job("tray.nc", JOBS[1])
    run(trays, Serial())
    before = trays.on_card()
    trays.job("tray-1.nc", JOBS[0])
    with pytest.raises(CardError) as caught:
        run(trays, Serial())
    assert [(finding.name, finding.what) for finding in caught.value.findings] == [
        (
            "card-name-taken",
            "TRAY-1.NC on the card was made from tray-1.nc (a part of tray.nc), not tray-1.nc",
        )
    ]
    assert trays.on_card() == before
