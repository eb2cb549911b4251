"""Run sheets of the gallery's recipes, as the command makes them, for the tests of this folder.

The odd ones: `hostile` has jobs whose names and comments would be markup, script or a turn of
direction anywhere else, `refused` a job that the recipe refuses.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from click.testing import CliRunner

from headrace.cli.group import headrace

RECIPES = Path(__file__).parents[2] / "recipes"

STING = '<img src="http:&#47;&#47;bees.example" onerror="window.stung=1">'
"""Markup that would ask for something, and script that would run; as a file name can hold it."""

_RELIEF = (
    "(HONEYCOMB)\nG21 G90 G94 G17\n{said}\nG0 Z5\nG0 X60 Y60\nG1 Z-2 F300\nX90 F900\nG0 Z5\nM30\n"
)

HOSTILE = {
    f"{STING}.nc": f"({STING})\n(<SCRIPT>window.stung=1</SCRIPT>)",
    "a\u202egnp.nc": "(RIGHT TO LEFT \u202e AND BACK)\n(\u0007 BELL)",
    f"{'w' * 240}.nc": f"({'honeycomb' * 30})",
    "]]>'\"&amp;{{ 7*7 }}.nc": "(]]> ' \" &amp; {{ 7*7 }} {% raw %})",
}
"""Jobs by their names, each with the comments that it begins with."""


@dataclass(frozen=True)
class Paper:
    """A run sheet on disk, the card beside it, and what the command said."""

    sheet: Path
    card: Path
    exit_code: int
    said: str


def _hostile(folder: Path) -> list[Path]:
    paths = []
    for name, said in HOSTILE.items():
        paths.append(folder / name)
        paths[-1].write_text(_RELIEF.format(said=said), "utf-8")
    return paths


def _demo(*names: str) -> Callable[[Path], list[Path]]:
    return lambda _folder: [RECIPES / "jobs" / name for name in names]


MADE = {
    "lids": ("bench-lids", _demo("lid.nc", "handhold.nc")),
    "changes": ("speed-feeder-changes", _demo("feeder-board.nc")),
    "parts": ("speed-feeder-boards", _demo("feeder-board.nc")),
    "setup": ("bench-setup-cards", _demo("lid.nc")),
    "windows": ("bench-windows", _demo("window.ngc")),
    "excluder": ("speed-excluder", _demo("queen-excluder.nc")),
    "refused": ("bench-lids", _demo("lid.nc", "feeder-board.nc")),
    "hostile": ("bench-lids", _hostile),
}
"""Each run sheet by its name here: the recipe, and the jobs, some of them written for it."""


@dataclass
class Papers:
    """Run sheets, each made once, when it is first asked for."""

    folder: Path
    made: dict[str, Paper] = field(default_factory=dict)

    def __getitem__(self, name: str) -> Paper:
        if name not in self.made:
            self.made[name] = self._make(name)
        return self.made[name]

    def _make(self, name: str) -> Paper:
        recipe, jobs = MADE[name]
        folder = self.folder / name
        card = folder / "card"
        card.mkdir(parents=True, exist_ok=True)
        (folder / "jobs").mkdir(exist_ok=True)
        sheet = folder / "sheet.html"
        paths = [str(path) for path in jobs(folder / "jobs")]
        command = ["prepare", str(RECIPES / f"{recipe}.yaml"), *paths]
        done = CliRunner().invoke(
            headrace, [*command, "--card", str(card), "--sheet", str(sheet), "--jobs", "1"]
        )
        assert sheet.exists(), done.output
        return Paper(sheet, card, done.exit_code, done.output)
