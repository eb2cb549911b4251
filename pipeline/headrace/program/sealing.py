"""Arrays that programs, traces and proofs share: nobody may write to them."""

from __future__ import annotations

from typing import Any

import numpy.typing as npt


def seal(*arrays: npt.NDArray[Any] | None) -> None:
    """Make arrays read-only. What a step changed in place would be changed for the proof too."""
    for array in arrays:
        if array is not None:
            array.flags.writeable = False
