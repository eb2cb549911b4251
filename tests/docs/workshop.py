"""A workshop in which the pages' commands are carried out, one page after the other: a copy of the
gallery, an empty card, and a home with what CAM wrote today."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

from docs.pages import TREE, Block

JOB = TREE / "recipes" / "jobs" / "lid.nc"


@dataclass(frozen=True, slots=True)
class Workshop:
    """A folder as the working one, and a home beside it."""

    folder: Path
    home: Path

    @classmethod
    def of(cls, root: Path) -> Workshop:
        shop = cls(root / "shop", root / "home")
        shutil.copytree(TREE / "recipes", shop.folder / "recipes")
        (shop.folder / "card").mkdir()
        (shop.home / "cam" / "today").mkdir(parents=True)
        shutil.copy(JOB, shop.home / "cam" / "today")
        return shop

    def put(self, block: Block) -> None:
        """Write a block that is a file."""
        assert block.file is not None
        path = self.folder / block.file
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(block.text, "utf-8")

    def run(self, command: str) -> tuple[int, list[str]]:
        """The exit code and what is printed, standard output and standard error as they come."""
        environment = {
            **os.environ,
            "HOME": str(self.home),
            "PATH": f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}",
            "HEADRACE_STATE": str(self.home / "state"),
            "COLUMNS": "100",
            "NO_COLOR": "1",
            "GIT_CONFIG_GLOBAL": os.devnull,
        }
        environment.pop("HEADRACE_PYTHON", None)
        done = subprocess.run(
            ["bash", "-euc", command],
            cwd=self.folder,
            env=environment,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            timeout=300,
            check=False,
        )
        return done.returncode, done.stdout.decode("utf-8").splitlines()


def agree(said: tuple[str, ...], printed: list[str]) -> str:
    """What differs between the lines that a page shows and those that were printed; nothing where
    they agree. A line `...` stands for any lines, and `...` at the end of one for its rest."""
    pattern = "".join(_pattern(line) for line in said)
    if re.fullmatch(pattern, "".join(f"{line}\n" for line in printed)):
        return ""
    return "\n".join(["the page shows:", *said, "", "printed was:", *printed])


def _pattern(line: str) -> str:
    if line == "...":
        return r"(?:[^\n]*\n)*?"
    if line.endswith("..."):
        return re.escape(line.removesuffix("...")) + r"[^\n]*\n"
    return re.escape(line) + r"\n"
