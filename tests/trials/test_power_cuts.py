"""The trial of power cuts in small: FAT12, some hundred states."""

from __future__ import annotations

import random
import subprocess
from itertools import pairwise
from pathlib import Path

import pytest
from trials import power_cuts
from trials.fat import SECTOR, Card
from trials.power_cuts import DRIVER, OWN, Handover, Moment, Tally
from trials.tools import found, needed_tools

BEFORE = {"LID.NC": b"G1 X1\n" * 300, "HEADRACE.JSON": b"{}", "HR000001.HRT": b"G1 X2\n" * 400}


@pytest.fixture(autouse=True)
def _tools() -> None:
    needed_tools(*power_cuts.TOOLS, "fsck.fat")


def test_no_power_cut_breaks_a_promise() -> None:
    tallies = power_cuts.trial(180, kinds=(12,), repaired=60, workers=1)
    assert power_cuts.faults(tallies) == []
    assert set(tallies["exchange"].states) == {"old", "in between", "new"}
    assert set(tallies["aside"].states) >= {"old", "in between", "new", "missing for now"}
    assert set(tallies[DRIVER].states) >= {"old", "in between", "new", "empty for now"}
    assert tallies["exchange"].repairs["in order"] > 10


def test_the_trial_sees_promises_broken() -> None:
    broken = Tally(broken=["wrong bytes"])
    for way in (*OWN, "in-place", "over-name"):
        tallies = dict.fromkeys(OWN, Tally())
        tallies |= dict.fromkeys(("in-place", "over-name"), broken)
        assert power_cuts.faults(tallies) == []
        tallies[way] = broken if way in OWN else Tally()
        assert len(power_cuts.faults(tallies)) == 1
    lost = dict.fromkeys(OWN, Tally()) | {"in-place": broken, "over-name": broken}
    lost["exchange"] = Tally(repairs=power_cuts.Counter({"not in order": 1}))
    assert len(power_cuts.faults(lost)) == 1


@pytest.mark.parametrize("change", ["bit", "stranger", "missing", "list"])
def test_the_trial_sees_a_card_that_is_not_right(change: str, tmp_path: Path) -> None:
    hive = power_cuts.workshop(tmp_path / "hive")
    card = power_cuts.held(hive.card)
    run = Handover("exchange", card, card, ())
    assert power_cuts.judged(run, hive.card, 0) == "new"
    name = {"bit": "LID.NC", "stranger": "NOTES.TXT", "missing": "LID.NC", "list": "HEADRACE.JSON"}
    path = hive.card / name[change]
    if change == "missing":
        path.unlink()
    else:
        path.write_bytes(card[path.name][:-1])
    told = {
        "bit": "wrong bytes",
        "stranger": "stranger harmed",
        "missing": "file missing",
        "list": "list harmed",
    }
    assert power_cuts.judged(run, hive.card, 0) == told[change]


def image(folder: Path, kind: int) -> Card:
    card = Card.new(folder / "card.img", kind)
    for name, data in BEFORE.items():
        card.write(name, data)
    return card


def read_out(card: Card, folder: Path) -> dict[str, bytes]:
    folder.mkdir()
    card.read_out(folder)
    return power_cuts.held(folder)


@pytest.mark.parametrize("kind", power_cuts.KINDS)
@pytest.mark.parametrize("other", ["HR000001.HRT", "HEADRACE.JSON"])
def test_names_that_change_places_on_an_image(kind: int, other: str, tmp_path: Path) -> None:
    """Also a name that is longer than eight and three. Outside reference: fsck.fat finds nothing
    amiss, and mtools reads what the names now lead to."""
    card = image(tmp_path, kind)
    assert len(list(card.exchange("LID.NC", other))) == 2
    assert read_out(card, tmp_path / "out") == {
        **BEFORE,
        "LID.NC": BEFORE[other],
        other: BEFORE["LID.NC"],
    }
    fsck = found("fsck.fat")
    assert fsck is not None
    assert subprocess.run([fsck, "-n", card.image], capture_output=True).returncode == 0


def test_a_name_given_in_an_entry_of_its_own(tmp_path: Path) -> None:
    card = image(tmp_path, 16)
    seen = []
    for number, _ in enumerate(card.move("HR000001.HRT", "FLOOR.NC")):
        there = read_out(card, tmp_path / f"out{number}")
        seen.append((there.get("HR000001.HRT"), there["FLOOR.NC"]))
    data = BEFORE["HR000001.HRT"]
    assert seen == [(data, b""), (None, b""), (None, data)]
    fsck = found("fsck.fat")
    assert fsck is not None
    assert subprocess.run([fsck, "-n", card.image], capture_output=True).returncode == 0


def test_a_file_that_cannot_be_read_keeps_no_other_back(tmp_path: Path) -> None:
    """As where the table was written and the folder was not: the first cluster counts as free."""
    card = image(tmp_path, 12)
    whole = bytearray(card.image.read_bytes())
    first = int.from_bytes(whole[card.entry("LID.NC") + 26 :][:2], "little")
    at = SECTOR + first * 3 // 2  # FAT12: three bytes hold two entries; the table is in sector 1
    whole[at : at + 2] = bytes(2)
    card.image.write_bytes(whole)
    there = read_out(card, tmp_path / "out")
    assert there["HR000001.HRT"] == BEFORE["HR000001.HRT"]
    assert there.get("LID.NC") != BEFORE["LID.NC"]


def test_states_are_drawn_once_each_and_all_where_there_are_few() -> None:
    few = Moment("few", {1: b"sure"}, {2: (b"a", b"b", b"c"), 3: (b"d", b"e")})
    drawn = list(few.drawn(10, random.Random(1)))
    assert len(drawn) == len({tuple(sorted(state.items())) for state in drawn}) == few.states == 6
    assert all(state[1] == b"sure" for state in drawn)
    many = Moment("many", {}, dict.fromkeys(range(20), (b"a", b"b")))
    drawn = list(many.drawn(50, random.Random(1)))
    assert len({tuple(sorted(state.items())) for state in drawn}) == 50
    assert power_cuts.shared_out(59, [many, few, many]) == [27, 6, 26]


def test_what_was_taken_down_is_what_was_done(tmp_path: Path) -> None:
    """A run done again by what was asked gives the same card; and each file is synced before it
    gets a name that a machine lists."""
    hive = power_cuts.workshop(tmp_path / "hive")
    run = power_cuts.handed_over(hive, tmp_path, exchange=True)
    there = dict(run.before)
    for asked in run.asked:
        if asked.what == "write":
            there[asked.name] = asked.data
        elif asked.what == "name":
            there[asked.other] = there.pop(asked.name)
        elif asked.what == "exchange":
            there[asked.name], there[asked.other] = there[asked.other], there[asked.name]
        elif asked.what == "remove":
            del there[asked.name]
    assert there == run.behind
    assert "exchange" in {asked.what for asked in run.asked}
    for before, asked in pairwise(run.asked):
        if before.what == "write":
            assert (asked.what, asked.name) == ("sync", before.name)
