"""The trial of single changes in small: each 37th bit, and all else."""

from __future__ import annotations

from pathlib import Path

import pytest
from trials import bit_flips

from headrace.card.checked import State
from headrace.card.verification import verify_card


def test_every_change_is_found_and_named() -> None:
    tally = bit_flips.Tally()
    with bit_flips.a_card() as card:
        bit_flips.bits(card, tally, every=37)
        bit_flips.cuts(card, tally)
        bit_flips.sectors(card, tally)
        bit_flips.files(card, tally)
    assert (tally.missed, tally.misnamed) == ([], [])
    assert tally.made["bit-of-job"] == -(-8 * 4096 // 37)
    assert tally.made["sectors-swapped"] == 8 * 7 // 2 + 16 * 15 // 2


@pytest.mark.parametrize("blind", ["missed", "misnamed"])
def test_the_trial_sees_a_look_that_is_blind(blind: str, tmp_path: Path) -> None:
    """A whole card judged as if a bit had turned, and a cut one as if it were a missing one."""
    bit_flips.hand_over(tmp_path, bit_flips.FILES)
    tally = bit_flips.Tally()
    if blind == "misnamed":
        (tmp_path / "LID.NC").write_bytes(b"")
    tally.judge("bit", "0", verify_card(tmp_path), {"LID.NC": State.MISSING})
    assert (len(tally.missed), len(tally.misnamed)) == ((1, 0) if blind == "missed" else (0, 1))
    assert not tally.kept
