"""Something to begin with, before it is written anywhere."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Beginning:
    """Files by their names, what makes use of all others last; those of `may_stay` are left out
    where there is one already. `told` is what is to be known, `following` what to do next, line by
    line."""

    files: Mapping[str, bytes]
    told: tuple[str, ...]
    following: tuple[str, ...]
    may_stay: tuple[str, ...] = ()
