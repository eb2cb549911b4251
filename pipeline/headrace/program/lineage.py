"""Where the lines of a text come from: the job's own line, and the step that wrote them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt

from headrace.program.edits import Cause
from headrace.program.sealing import seal

Ints = npt.NDArray[np.int32]


@dataclass(frozen=True, slots=True, eq=False)
class Lineage:
    """For each line of one text (n lines): its identity, and its cause.

    `ids` (n) stay with a line through all steps, also when its text is replaced: the job's own
    lines have their index in the job, added lines the numbers behind those. None means the job's
    own lines, in order. `which` (n) indexes `causes`; None means that no step wrote any of them.
    `asks` maps lines to what the operator confirms there.
    """

    ids: Ints | None = None
    causes: tuple[Cause | None, ...] = (None,)
    which: Ints | None = None
    asks: Mapping[int, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        seal(self.ids, self.which)

    def ids_of(self, start: int, stop: int) -> Ints:
        """The identities of a run of lines (stop - start)."""
        if self.ids is None:
            return np.arange(start, stop, dtype=np.int32)
        return self.ids[start:stop]

    def ids_at(self, lines: npt.NDArray[np.integer[Any]]) -> Ints:
        """The identities of some lines of the text (n)."""
        return lines.astype(np.int32) if self.ids is None else self.ids[lines]

    def cause(self, line: int) -> Cause | None:
        """The last step that wrote the line, or None as CAM wrote it."""
        return None if self.which is None else self.causes[int(self.which[line])]
