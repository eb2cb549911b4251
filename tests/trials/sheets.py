"""Run sheets shown to tell what is on the card: of every recipe of the gallery, and of jobs that
are generated.

    python tests/trials/sheets.py
    python tests/trials/sheets.py --jobs 200

Each recipe prepares its jobs to a card, with a run sheet, in circumstances that differ: hash seed
of Python, time zone, locale, number of workers, folder. Then the card is read by a few lines of
this folder alone, and held against the page: every file is there with its SHA-256 (hashlib), every
line with M0 or M1 is among its pauses with the text that stands for the display, every refused job
is named; the page's elements are nested, its ids are one of a kind, its drawings are XML, and its
bytes are the same in all circumstances. Of the facts behind it: times are finite, no plan is
quicker than every move at its full feed, and the band holds the plan. It prints one line of JSON,
and fails where a promise was not kept.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import math
import os
import random
import re
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from xml.etree import ElementTree

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT / "tests")]

from benchmarks.prepare import write_relief, write_rims  # noqa: E402
from trials.leaves import Tree, pause_lines, squeezed, text_of, with_class  # noqa: E402
from trials.sameness import circumstances  # noqa: E402
from workshop.gallery import planned  # noqa: E402

from headrace.machine import Pause  # noqa: E402
from headrace.run import prepare_job  # noqa: E402
from headrace.timing.clock import clock_of  # noqa: E402
from headrace.timing.times import times_of  # noqa: E402

RECIPES = ROOT / "recipes"
GENERATED = "bench-lids"
"""The recipe that the generated jobs go through."""
EXTENSIONS = (".nc", ".ngc", ".tap")
LARGEST = 500_000
"""Bytes of a page, for each of its files."""
DRAWN = 400_000
"""Bytes of a file's drawings."""
_SPOKEN = ("PLATE AWAY", "LAY IN THE LID", "IS THE BEE BRUSH OFF?", "<b>WAX</b> & 'RIMS'", "",
           "A TEXT THAT IS MUCH TOO LONG FOR ANY DISPLAY OF THE SHOP", "{{ lid }}")  # fmt: skip

Row = Mapping[str, str]


@dataclass
class Seen:
    """What was looked at, and what was broken."""

    sheets: int = 0
    files: int = 0
    pauses: int = 0
    refused: int = 0
    times: int = 0
    largest: int = 0
    broken: list[str] = field(default_factory=list)


def gallery() -> list[tuple[str, tuple[str, ...]]]:
    """Every recipe with the jobs that its heading names; one that names none takes any."""
    every = sorted(path.name for path in (RECIPES / "jobs").iterdir() if path.suffix in EXTENSIONS)
    found = []
    for path in sorted(RECIPES.glob("*.yaml")):
        heading = path.read_text("utf-8").split("format:")[0]
        names = dict.fromkeys(re.findall(r"jobs/([a-z-]+\.[a-z]+)", heading))
        found.append((path.stem, tuple(names or every)))
    return found


def write_job(path: Path, number: int) -> None:
    """A job of its own for each number: straight and curved cuts, dwells, and pauses with texts."""
    dice = random.Random(number)
    lines = ["(HIVE PART)", "G21 G90 G94 G17", "M3 S17000", "G0 Z20"]
    for _ in range(dice.randint(1, 5)):
        x, y = dice.randint(40, 500), dice.randint(40, 420)
        lines += [f"G0 X{x} Y{y}", "G0 Z2", f"G1 Z-{dice.randint(1, 60) / 10} F300"]
        for _ in range(dice.randint(1, 12)):
            x += dice.randint(-30, 30)
            y += dice.randint(-30, 30)
            lines.append(f"G1 X{x} Y{y} F{dice.choice((600, 900, 1500))}")
        radius = dice.randint(2, 15)
        lines += [f"G{dice.choice((2, 3))} X{x + 2 * radius} Y{y} I{radius} J0", "G0 Z20"]
        if dice.random() < 0.6:
            lines += [f"({dice.choice(_SPOKEN)})", dice.choice(("M0", "M1", "M00", "N7 M0"))]
        if dice.random() < 0.3:
            lines.append("G4 P500")
    path.write_bytes(dice.choice(("\n", "\r\n")).join([*lines, "M5", "M30", ""]).encode())


def generated(folder: Path, count: int, lines: int) -> tuple[str, ...]:
    """So many jobs, and besides them a relief of so many lines, rims, and a job that no machine
    would take."""
    folder.mkdir(parents=True)
    for number in range(count):
        write_job(folder / f"part{number:03}.nc", number)
    write_relief(folder / "relief.nc", lines)
    write_rims(folder / "rims.nc", 400)
    (folder / "broken & <b>.nc").write_text("G21 G90\nG1 X1..5 F100\nM30\n", "ascii")
    return tuple(sorted(path.name for path in folder.iterdir()))


def made(row: Row, folder: Path, recipe: str, jobs: Sequence[Path]) -> tuple[Path, Path, int]:
    """The run sheet and the card of a recipe in these circumstances, and the exit code."""
    card, sheet = folder / recipe / "card", folder / recipe / "sheet.html"
    card.mkdir(parents=True)
    command = [sys.executable, "-m", "headrace", "prepare", RECIPES / f"{recipe}.yaml", *jobs,
               "--card", card, "--sheet", sheet, "--jobs", row["workers"], "--quiet"]  # fmt: skip
    environment = {
        **os.environ,
        "PYTHONHASHSEED": row["hash seed"],
        "TZ": row["zone"],
        "LC_ALL": row["locale"],
        "LANG": row["locale"],
    }
    done = subprocess.run(command, env=environment, capture_output=True, text=True, check=False)
    if done.returncode not in (0, 1) or not sheet.exists():
        raise RuntimeError(f"{recipe} ended with {done.returncode}: {done.stderr}")
    return sheet, card, done.returncode


def judged(seen: Seen, what: str, sheet: bytes, card: Path, jobs: Sequence[Path]) -> None:
    """Hold the page of a recipe against the card beside it."""
    display = planned(what)[0].machine.pause

    def broken(said: str) -> None:
        seen.broken.append(f"{what}: {said}")

    seen.sheets += 1
    text = sheet.decode("utf-8")
    try:
        root = Tree(text).root
    except ValueError as error:
        broken(str(error))
        return
    counts = Counter(element.get("id") for element in root.iter() if element.get("id"))
    if twice := [name for name, count in counts.items() if count > 1]:
        broken(f"ids are there twice: {twice[:3]}")
    for drawing in re.findall(r"<svg\b.*?</svg>", text, re.DOTALL):
        try:
            ElementTree.fromstring(drawing)
        except ElementTree.ParseError as error:
            broken(f"a drawing is no XML: {error}")
    sections = {
        text_of(next(section.iter("bdi"))): section for section in with_class(root, "hr-file")
    }
    on_card = {path.name: path.read_bytes() for path in card.iterdir() if path.suffix != ".JSON"}
    if sections.keys() != on_card.keys():
        broken(f"the page has {sorted(sections)}, the card {sorted(on_card)}")
    if len(text) > LARGEST * max(1, len(on_card)):
        broken(f"{len(text)} bytes")
    seen.largest = max(seen.largest, len(text))
    for name in sections.keys() & on_card.keys():
        seen.files += 1
        _judge_file(seen, f"{what}: {name}", sections[name], on_card[name], display)
    listed = {entry["source"]["part"]["job"] if entry["source"]["part"] else entry["source"]["name"]
              for entry in _entries(card) if entry["source"]}  # fmt: skip
    for job in jobs:
        if job.name not in listed:
            seen.refused += 1
            refused = " ".join(text_of(one) for one in root.iter("section")
                               if one.get("aria-labelledby") == "refused")  # fmt: skip
            if job.name not in refused:
                broken(f"{job.name} is neither on the card nor among the refused")


def _entries(card: Path) -> list[dict[str, object]]:
    found: list[dict[str, object]] = json.loads((card / "HEADRACE.JSON").read_bytes())["files"]
    return found


def _judge_file(
    seen: Seen, what: str, section: ElementTree.Element, data: bytes, display: Pause
) -> None:
    drawn = sum(len(ElementTree.tostring(one)) for one in section.iter("svg"))
    if drawn > DRAWN:
        seen.broken.append(f"{what}: its drawings are {drawn} bytes")
    told = [squeezed(text_of(one)) for one in with_class(section, "rs-hash")]
    if told != [hashlib.sha256(data).hexdigest()]:
        seen.broken.append(f"{what}: the hash is {told}")
    shown: dict[int, list[str]] = {}
    for table in with_class(section, "rs-pauses"):
        for line in table.iter("tr"):
            if found := re.search(r"line (\d+)", text_of(line)):
                shown[int(found[1])] = [text_of(one) for one in with_class(line, "rs-display")]
    wanted = pause_lines(data)
    seen.pauses += len(wanted)
    if shown.keys() != wanted.keys():
        seen.broken.append(f"{what}: pauses in lines {sorted(shown)}, not {sorted(wanted)}")
    for number in shown.keys() & wanted.keys():
        near = wanted[number].get(display.text, [])
        texts = [squeezed(text[: display.width]) for text in near if text.strip()]
        if [squeezed(text) for text in shown[number]] != texts[-1:]:
            seen.broken.append(f"{what}: line {number} shows {shown[number]!r}, not {near}")


def timed(seen: Seen, recipe: str, paths: Sequence[Path]) -> None:
    """The times of a recipe's jobs, as facts."""
    plan, registry = planned(recipe)
    for path in paths:
        job = prepare_job(path.name, path.read_bytes(), plan, registry, 0).job
        if job is None:
            continue
        seen.times += 1
        clock = clock_of(job)
        found = times_of(job, clock)
        sums = [found.naive, found.planned, *(tool.seconds for tool in found.tools)]
        what = f"{recipe}: {path.name}: {found}"
        if not all(math.isfinite(value) and value >= 0 for value in sums):
            seen.broken.append(f"{what} is not finite")
        if found.planned < found.naive * (1 - 1e-9):
            seen.broken.append(f"{what} is quicker than at full feed")
        low, high = found.low or 0.0, math.inf if found.high is None else found.high
        if not low <= found.planned <= high or found.high == math.inf:
            seen.broken.append(f"{what} is not in its band")
        if len(clock.done) != len(job.trace) or (clock.done[1:] < clock.done[:-1]).any():
            seen.broken.append(f"{what}: time runs back")


def rows(count: int) -> list[Row]:
    """So many circumstances; every value has its turn."""
    values = {name: some for name, some in circumstances().items() if name not in ("ends", "paths")}
    return [{name: some[at % len(some)] for name, some in values.items()} for at in range(count)]


def tried(jobs: int, runs: int, recipes: Sequence[str] | None = None, lines: int = 3000) -> Seen:
    """The whole trial: so many generated jobs, a relief of so many lines, so many circumstances."""
    seen = Seen()
    with tempfile.TemporaryDirectory() as name, ThreadPoolExecutor(2) as together:
        folder = Path(name).resolve()
        works = {
            recipe: [RECIPES / "jobs" / job for job in names]
            for recipe, names in gallery()
            if recipes is None or recipe in recipes
        }
        own = folder / "jobs"
        parts = [own / job for job in generated(own, jobs, lines)]
        works[GENERATED] = works.get(GENERATED, []) + parts
        sheets: dict[str, list[bytes]] = {}
        for number, row in enumerate(rows(runs)):
            place = folder / str(number) / row["folder"]
            done = {
                recipe: together.submit(made, row, place, recipe, paths)
                for recipe, paths in works.items()
            }
            for recipe, work in done.items():
                sheet, card, _ = work.result()
                sheets.setdefault(recipe, []).append(sheet.read_bytes())
                if number == 0:
                    judged(seen, recipe, sheets[recipe][0], card, works[recipe])
        for recipe, pages in sheets.items():
            if any(page != pages[0] for page in pages):
                seen.broken.append(f"{recipe}: the page is not the same in all circumstances")
        for recipe, paths in works.items():
            timed(seen, recipe, paths)
    return seen


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--jobs", type=int, default=40, help="generated jobs")
    parser.add_argument("--runs", type=int, default=3, help="circumstances")
    parser.add_argument("--lines", type=int, default=1_000_000, help="lines of the longest job")
    wanted = parser.parse_args()
    begun = time.perf_counter()
    seen = tried(wanted.jobs, wanted.runs, lines=wanted.lines)
    told = {
        "sheets": seen.sheets,
        "circumstances": wanted.runs,
        "files": seen.files,
        "pauses": seen.pauses,
        "refused": seen.refused,
        "times": seen.times,
        "largest-kb": round(seen.largest / 1000),
        "broken": len(seen.broken),
        "seconds": round(time.perf_counter() - begun, 1),
    }
    print(json.dumps(told))
    for what in seen.broken[:10]:
        print(what, file=sys.stderr)
    return 1 if seen.broken or not seen.pauses else 0


if __name__ == "__main__":
    sys.exit(main())
