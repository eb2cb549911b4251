"""Room on the card, counted as its file system gives it: in whole clusters."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from headrace.errors import CardError
from headrace.findings import Finding

LISTS = 2
"""Files that a run which writes anything writes beside its own: the intended list and the list."""

_ASSUMED = 1 << 15
"""Bytes of a cluster where the system does not tell."""


@dataclass(frozen=True, slots=True)
class Room:
    """Free clusters, and the bytes of one."""

    free: int
    cluster: int

    @classmethod
    def of(cls, folder: Path) -> Room:
        """The room that the file system of a folder has left. OSError."""
        if not hasattr(os, "statvfs"):
            return cls(shutil.disk_usage(folder).free // _ASSUMED, _ASSUMED)
        told = os.statvfs(folder)
        return cls(told.f_bavail, told.f_frsize or _ASSUMED)

    def clusters(self, sizes: Iterable[int]) -> int:
        """How many clusters files of these sizes (bytes) take."""
        return sum(-(-size // self.cluster) for size in sizes)

    def need(self, sizes: Iterable[int], folder: Path) -> None:
        """Raise CardError where files of these sizes cannot all be written; one cluster is kept
        for the directory, which may have to grow."""
        needed = self.clusters(sizes) + 1
        if needed > self.free:
            what = (
                f"{needed * self.cluster} bytes are needed and {self.free * self.cluster} are free"
                f" in {folder}"
            )
            raise CardError(findings=[Finding.of("card-full", what)])
