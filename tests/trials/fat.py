"""Images of FAT cards, and what changes on them sector by sector.

Files are written, named, deleted and read by mtools. What mtools cannot do, names that change
places, is done here on the directory entries: FAT32 File System Specification 1.03 (Microsoft,
2000), "FAT Directory Structure" and "FAT Long Directory Entries".
"""

from __future__ import annotations

import os
import subprocess
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from trials.tools import found

SECTOR = 512
SIZES = {12: 1 << 20, 16: 4 << 20, 32: 34 << 20}
"""Bytes of an image whose clusters of one sector are as many as that kind of FAT has."""

_ENVIRONMENT = {**os.environ, "MTOOLS_SKIP_CHECK": "1", "MTOOLSRC": os.devnull}
_ENTRY = 32
_LONG = 0x0F
_DELETED, _END = 0xE5, 0x00


@dataclass(frozen=True)
class Card:
    """An image in a file, of a card whose root folder holds the jobs."""

    image: Path
    kind: int

    @classmethod
    def new(cls, image: Path, kind: int) -> Card:
        """An empty card of FAT12, FAT16 or FAT32."""
        with image.open("wb") as file:
            file.truncate(SIZES[kind])
        mkfs = found("mkfs.vfat")
        assert mkfs is not None
        command = [
            mkfs,
            "-F",
            str(kind),
            "-s",
            "1",
            "-S",
            str(SECTOR),
            "-i",
            "0BEE0BEE",
            str(image),
        ]
        subprocess.run(command, check=True, capture_output=True)
        return cls(image, kind)

    def write(self, name: str, data: bytes) -> None:
        """A file, in the place of one of that name where there is one."""
        self._tool("mcopy", "-o", "-i", self.image, "-", f"::{name}", stdin=data)

    def rename(self, old: str, new: str) -> None:
        self._tool("mren", "-i", self.image, f"::{old}", f"::{new}")

    def remove(self, name: str) -> None:
        self._tool("mdel", "-i", self.image, f"::{name}")

    def exchange(self, one: str, other: str) -> Iterator[None]:
        """Let two names lead each to what the other led to: all behind the names of their entries
        changes places, in one entry after the other."""
        places = [self.entry(name) + 11 for name in (one, other)]
        rests = [self._at(place, _ENTRY - 11) for place in places]
        for place, rest in zip(places, reversed(rests), strict=True):
            self._put(place, rest)
            yield

    def move(self, old: str, new: str) -> Iterator[None]:
        """Give a file another short name by an entry of its own, which leads nowhere at first:
        then the old entry goes, and the new one is filled in."""
        place, free = self.entry(old), self._free_entry()
        entry = self._at(place, _ENTRY)
        stem, _, extension = new.partition(".")
        name = f"{stem:<8}{extension:<3}".encode("ascii")
        assert len(name) == 11, f"no short name: {new}"
        empty = bytearray(name + entry[11:])
        empty[20:22] = empty[26:28] = bytes(2)  # the first cluster, in two halves
        empty[28:32] = bytes(4)  # the length
        for at, data in ((free, empty), (place, bytes([_DELETED])), (free, name + entry[11:])):
            self._put(at, bytes(data))
            yield

    def read_out(self, folder: Path) -> None:
        """Copy all files into a folder, as far as they can be read."""
        names = [name for _, name in self._entries()]
        while names:
            paths = [f"::{name}" for name in names]
            if self._tool("mcopy", "-n", "-i", self.image, *paths, folder, check=False):
                return
            # mcopy ends at a file that it cannot read: go on with the first that is not there
            rest = [name for name in names if not (folder / name).exists()]
            names = rest if rest != names else rest[1:]

    def entry(self, name: str) -> int:
        """Where the entry of a file begins, in bytes from the start of the image."""
        for place, found_name in self._entries():
            if found_name == name:
                return place
        raise FileNotFoundError(name)

    def folder_sectors(self) -> set[int]:
        """The sectors that hold the names of files."""
        return set(self._root())

    def sectors(self) -> np.ndarray:
        """The whole image, a row a sector."""
        return np.fromfile(self.image, np.uint8).reshape(-1, SECTOR)

    def _at(self, place: int, length: int) -> bytes:
        with self.image.open("rb") as file:
            file.seek(place)
            return file.read(length)

    def _put(self, place: int, data: bytes) -> None:
        with self.image.open("r+b") as file:
            file.seek(place)
            file.write(data)

    def _free_entry(self) -> int:
        """Where the first entry begins that no file has."""
        for sector in self._root():
            for place in range(sector * SECTOR, (sector + 1) * SECTOR, _ENTRY):
                if self._at(place, 1)[0] in (_DELETED, _END):
                    return place
        raise AssertionError("the folder is full")

    def _entries(self) -> Iterator[tuple[int, str]]:
        long: list[bytes] = []
        for sector in self._root():
            data = self._at(sector * SECTOR, SECTOR)
            for at in range(0, SECTOR, _ENTRY):
                place, entry = sector * SECTOR + at, data[at : at + _ENTRY]
                if entry[0] in (_DELETED, _END):
                    long = []
                elif entry[11] == _LONG:
                    long.insert(0, entry[1:11] + entry[14:26] + entry[28:32])
                else:
                    stem, extension = entry[:8].decode().rstrip(), entry[8:11].decode().rstrip()
                    short = f"{stem}.{extension}" if extension else stem
                    name = b"".join(long).decode("utf-16-le").split("\0")[0] if long else short
                    long = []
                    yield place, name

    def _root(self) -> list[int]:
        """The sectors of the root folder, in their order."""
        with self.image.open("rb") as file:
            boot = file.read(SECTOR)

            def number(place: int, length: int = 2) -> int:
                return int.from_bytes(boot[place : place + length], "little")

            reserved, fats = number(14), boot[16]
            if self.kind != 32:
                first = reserved + fats * number(22)
                return list(range(first, first + number(17) * _ENTRY // SECTOR))
            first = reserved + fats * number(36, 4)
            cluster, clusters = number(44, 4), []
            while 2 <= cluster < 0x0FFFFFF8:
                clusters.append(first + cluster - 2)
                file.seek(reserved * SECTOR + 4 * cluster)
                cluster = int.from_bytes(file.read(4), "little") & 0x0FFFFFFF
            return clusters

    def _tool(
        self, name: str, *args: str | Path, stdin: bytes | None = None, check: bool = True
    ) -> bool:
        """Whether a tool of mtools did what was asked. CalledProcessError with `check`."""
        ran = subprocess.run(
            [name, *map(str, args)],
            input=stdin,
            stdin=subprocess.DEVNULL if stdin is None else None,
            capture_output=True,
            check=check,
            env=_ENVIRONMENT,
            timeout=60,
        )
        return ran.returncode == 0
