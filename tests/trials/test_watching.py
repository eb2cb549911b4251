"""The trial of watching in small: what it promises is asserted, how soon it comes is not."""

from __future__ import annotations

from pathlib import Path

import pytest
from trials.watching import answers, difference, run_afresh, storm
from workshop import LID, set_up

pytest.importorskip("watchfiles")


def test_every_save_is_answered_and_put_on_the_card(tmp_path: Path) -> None:
    shown = answers(tmp_path, others=5, saves=3, lines=2000)
    assert shown["saves"] == 3


def test_after_a_storm_the_card_is_as_if_nothing_had_happened(tmp_path: Path) -> None:
    shown = storm(tmp_path / "hive", lot=11, seconds=3)
    assert shown["changes"] > 10
    assert (shown["differs"], shown["exit_code"]) == ("", 130)


def test_a_card_that_lags_behind_is_seen(tmp_path: Path) -> None:
    hive = set_up(tmp_path / "hive")
    hive.job("lid.nc")
    assert "LID.NC is listed as None" in difference(hive)
    run_afresh(hive, hive.card)
    assert difference(hive) == ""
    hive.job("lid.nc", LID.replace("X40", "X50"))
    assert "LID.NC is listed as" in difference(hive)
    run_afresh(hive, hive.card)
    (hive.card / "HR000001.HRT").write_bytes(b"")
    assert difference(hive) == "left over: HR000001.HRT"
