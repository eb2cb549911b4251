"""What is taken for granted of the jobs that come for a machine."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Assumed:
    """What a recipe takes for granted of its jobs, None where it says nothing: the `units` of
    those that state none (`mm`, `inch`), what `dwell` counts (`seconds`, `milliseconds`), how
    `centres` of arcs count (`increments`, `absolute`), what S counts in `speeds` (`rev/min`, or
    what the `machine` has), and what becomes of `optional_lines` (`run`, `leave-out`)."""

    units: str | None = None
    dwell: str | None = None
    centres: str | None = None
    speeds: str | None = None
    optional_lines: str | None = None

    @classmethod
    def of(cls, data: Mapping[str, str]) -> Assumed:
        """From a mapping that the recipe schema has accepted."""
        return cls(**{name.replace("-", "_"): value for name, value in data.items()})
