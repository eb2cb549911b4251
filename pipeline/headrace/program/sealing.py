"""What programs, traces and proofs share: nobody may write to it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy.typing as npt


def seal(*arrays: npt.NDArray[Any] | None) -> None:
    """Make arrays read-only. What a step changed in place would be changed for the proof too."""
    for array in arrays:
        if array is not None:
            array.flags.writeable = False


def attributes(shared: object) -> dict[str, object]:
    """What the attributes of something are now, to be held against later."""
    return dict(vars(shared))


def has_kept(shared: object, before: Mapping[str, object]) -> bool:
    """Whether each attribute is the very thing that it was; new ones do not count, for what is
    worked out once is kept so."""
    now = vars(shared)
    return all(now.get(name) is value for name, value in before.items())
