"""Watching shown: how soon a saved job is on the card, and that after a storm of changes the card
holds what the last state gives.

    python tests/trials/watching.py

It prints one line of JSON: the time from the end of a save until the new card file and until the
answer (milliseconds, median and worst), for a job of 1 MB alone and beside 200 other jobs; and what
was done in each storm. It fails where a storm ends with another card than `prepare` gives.
"""

from __future__ import annotations

import json
import queue
import random
import signal
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT / "tests")]

from benchmarks.prepare import write_relief  # noqa: E402
from workshop import LID, REFUSED, Workshop, set_up  # noqa: E402

DEMO = ROOT / "recipes" / "bench-lids.yaml"
LIMIT = 60.0
"""Seconds after which something that must happen is said not to happen."""
MEGABYTE_LINES = 38_500
OTHER_LINES = 1500
NAMES = ("lid", "floor", "frame", "rim", "stand", "feeder")


class Watched:
    """A `headrace watch` in a process of its own, and the lines that it prints."""

    def __init__(self, recipe: Path, jobs: Path, card: Path) -> None:
        command = [sys.executable, "-m", "headrace", "watch", "--json"]
        self.process = subprocess.Popen(
            [*command, str(recipe), str(jobs), "--card", str(card)],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        self._answers: queue.Queue[tuple[float, dict[str, Any]]] = queue.Queue()
        self._said: list[str] = []
        self._readers = [
            threading.Thread(target=self._read, daemon=True),
            threading.Thread(target=self._hear, daemon=True),
        ]
        for reader in self._readers:
            reader.start()

    def _read(self) -> None:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self._answers.put((time.perf_counter(), json.loads(line)))

    def _hear(self) -> None:
        assert self.process.stderr is not None
        self._said.extend(self.process.stderr)

    def answer_to(self, name: str) -> float:
        """When the next answer came that tells of this job."""
        while True:
            at, answer = self.answer()
            if any(file["name"] == name for file in answer.get("files", ())):
                return at

    def answer(self) -> tuple[float, dict[str, Any]]:
        """The next answer, and when it came."""
        try:
            return self._answers.get(timeout=LIMIT)
        except queue.Empty:
            what = f"no answer in {LIMIT:g} s: {''.join(self._said)}"
            raise SystemExit(what) from None

    def end(self) -> tuple[int, float]:
        """Interrupt it: the exit code, and how long it took (s)."""
        begun = time.perf_counter()
        self.process.send_signal(signal.SIGINT)
        code = self.process.wait(LIMIT)
        return code, time.perf_counter() - begun

    def close(self) -> None:
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait()
        for reader in self._readers:
            reader.join(LIMIT)
        for stream in (self.process.stdout, self.process.stderr):
            assert stream is not None
            stream.close()


@contextmanager
def watched(recipe: Path, jobs: Path, card: Path) -> Iterator[Watched]:
    watch = Watched(recipe, jobs, card)
    try:
        yield watch
    finally:
        watch.close()


# --- how soon ---------------------------------------------------------------------------------


def answers(folder: Path, others: int, saves: int, lines: int = MEGABYTE_LINES) -> dict[str, Any]:
    """Save one job again and again, beside so many others that stay as they are."""
    jobs, card = folder / "jobs", folder / "card"
    jobs.mkdir(parents=True)
    card.mkdir()
    relief = jobs / "relief.nc"
    write_relief(relief, lines)
    data = relief.read_bytes()
    write_relief(folder / "other.nc", OTHER_LINES)
    other = (folder / "other.nc").read_bytes()
    for number in range(others):
        (jobs / f"o{number}.nc").write_bytes(b"(%d)\n" % number + other)
    on_card, answered = [], []
    with watched(DEMO, jobs, card) as watch:
        watch.answer_to("relief.nc")
        made = card / "RELIEF.NC"
        for number in range(saves):
            time.sleep(0.2)
            before = made.stat().st_ino
            relief.write_bytes(data.replace(b"G21", b"(SAVED %d)\nG21" % number, 1))
            begun = time.perf_counter()
            placed = threading.Thread(target=_placed, args=(made, before, begun, on_card))
            placed.start()
            answered.append(watch.answer_to("relief.nc") - begun)
            placed.join()
        code, took = watch.end()
    if code != 130 or len(on_card) != saves:
        raise SystemExit(f"exit code {code}, {len(on_card)} of {saves} saves on the card")
    return {
        "bytes": len(data),
        "others": others,
        "saves": saves,
        "on_card_ms": _figures(on_card),
        "answer_ms": _figures(answered),
        "ctrl_c_ms": round(took * 1000),
    }


def _placed(path: Path, before: int, begun: float, into: list[float]) -> None:
    """Note when a new file stands there."""
    while time.perf_counter() < begun + LIMIT:
        try:
            if path.stat().st_ino != before:
                into.append(time.perf_counter() - begun)
                return
        except FileNotFoundError:
            pass
        time.sleep(0.002)


def _figures(times: list[float]) -> dict[str, int]:
    return {
        "median": round(statistics.median(times) * 1000),
        "worst": round(max(times) * 1000),
    }


# --- a storm ----------------------------------------------------------------------------------


class Storm:
    """Random changes of a workshop: what editors, CAM and people do, and then some."""

    def __init__(self, hive: Workshop, lot: int) -> None:
        self.hive = hive
        self.chance = random.Random(lot)
        self.done: Counter[str] = Counter()
        self._sound = {path: path.read_bytes() for path in hive.recipe.parent.glob("*.*")}
        self._count = 0

    def act(self) -> None:
        """One change."""
        acts = (self.write, self.write, self.replace, self.delete, self.make_again, self.rename,
                self.swap, self.half, self.recipe, self.step, self.break_recipe, self.refused,
                self.folder_away, self.card_away)  # fmt: skip
        act = self.chance.choice(acts)
        act()
        self.done[act.__name__] += 1

    def _text(self) -> bytes:
        self._count += 1
        return LID.replace("X40", f"X{self._count % 97 + 1}").encode() + b"(%d)\n" % self._count

    def _job(self) -> Path:
        return self.hive.jobs / f"{self.chance.choice(NAMES)}.nc"

    def write(self) -> None:
        self._job().write_bytes(self._text())

    def replace(self) -> None:
        """As editors do."""
        aside = self.hive.jobs / ".aside"
        aside.write_bytes(self._text())
        aside.replace(self._job())

    def delete(self) -> None:
        self._job().unlink(missing_ok=True)

    def make_again(self) -> None:
        job = self._job()
        job.unlink(missing_ok=True)
        time.sleep(self.chance.choice((0, 0.03, 0.2)))
        job.write_bytes(self._text())

    def rename(self) -> None:
        job = self._job()
        if job.exists():
            job.replace(self._job())

    def swap(self) -> None:
        one, other, aside = self._job(), self._job(), self.hive.jobs / ".aside"
        if one != other and one.exists() and other.exists():
            one.replace(aside)
            other.replace(one)
            aside.replace(other)

    def half(self) -> None:
        """Written in pieces, with pauses."""
        text = self._text()
        with self._job().open("wb", buffering=0) as file:
            for begin in range(0, len(text), 40):
                file.write(text[begin : begin + 40])
                time.sleep(self.chance.choice((0, 0.01, 0.08)))

    def recipe(self) -> None:
        text = self._sound[self.hive.recipe]
        self.hive.recipe.write_bytes(text.replace(b"LIDS", b"LOT %d" % self.chance.randrange(4)))

    def step(self) -> None:
        """A Python file of the same length, often within the same second."""
        path = self.hive.recipe.parent / "hive_steps.py"
        mark = self.chance.choice((b"N", b"S"))
        path.write_bytes(self._sound[path].replace(b'"({text})"', b'"(' + mark + b' {text})"'))

    def break_recipe(self) -> None:
        self.hive.recipe.write_bytes(self._sound[self.hive.recipe].replace(b"steps:", b"steps: ["))
        time.sleep(self.chance.choice((0, 0.2)))
        self.hive.recipe.write_bytes(self._sound[self.hive.recipe])

    def refused(self) -> None:
        self._job().write_text(REFUSED)

    def folder_away(self) -> None:
        away = self.hive.root / "away"
        self.hive.jobs.replace(away)
        time.sleep(self.chance.choice((0, 0.2)))
        away.replace(self.hive.jobs)

    def card_away(self) -> None:
        away = self.hive.root / "pulled"
        self.hive.card.replace(away)
        time.sleep(self.chance.choice((0, 0.2)))
        away.replace(self.hive.card)


def storm(root: Path, lot: int, seconds: float) -> dict[str, Any]:
    """Changes for so long, and then the card against that of a fresh `prepare`."""
    hive = set_up(root)
    changes = Storm(hive, lot)
    changes.write()
    with watched(hive.recipe, hive.jobs, hive.card) as watch:
        watch.answer()
        until = time.monotonic() + seconds
        while time.monotonic() < until and watch.process.poll() is None:
            changes.act()
            time.sleep(changes.chance.choice((0, 0, 0.005, 0.05, 0.3)))
        begun = time.monotonic()
        while (differs := difference(hive)) and time.monotonic() < begun + LIMIT:
            if watch.process.poll() is not None:
                break
            time.sleep(0.1)
        settled = time.monotonic() - begun
        code, _ = watch.end()
    return {
        "lot": lot,
        "changes": sum(changes.done.values()),
        "settled_ms": round(settled * 1000),
        "exit_code": code,
        "differs": differs,
        "kinds": dict(sorted(changes.done.items())),
    }


def difference(hive: Workshop) -> str:
    """How the card differs from what a fresh run gives; nothing where it does not."""
    with tempfile.TemporaryDirectory() as folder:
        fresh = Path(folder)
        run_afresh(hive, fresh)
        wanted, found = _listed(fresh), _listed(hive.card)
        for name, entry in wanted.items():
            if found.get(name) != entry:
                return f"{name} is listed as {found.get(name)}, not as {entry}"
        for path in fresh.glob("*.NC"):
            there = hive.card / path.name
            if not there.is_file() or there.read_bytes() != path.read_bytes():
                return f"{path.name} is otherwise"
    left = [path.name for path in hive.card.iterdir() if path.suffix == ".HRT"]
    return f"left over: {', '.join(left)}" if left else ""


def run_afresh(hive: Workshop, card: Path) -> None:
    """`prepare` to an empty card, in this process."""
    from headrace.batch import collect_jobs, prepare_folder
    from headrace.batch.engines.kit import with_python_files
    from headrace.plugins.registry import load_registry
    from headrace.recipe import load_plan

    installed = load_registry()
    plan = load_plan(hive.recipe, installed)
    jobs = collect_jobs([hive.jobs])[0]
    prepare_folder(plan, with_python_files(installed, plan), jobs, card)


def _listed(card: Path) -> dict[str, Any]:
    """What the list of a card tells of each file, and the run order."""
    try:
        data = json.loads((card / "HEADRACE.JSON").read_bytes())
    except FileNotFoundError:
        return {}
    made_by = {key: {**origin, "headrace": None} for key, origin in data["made-by"].items()}
    files = {item["name"]: {**item, "made-by": made_by[item["made-by"]]} for item in data["files"]}
    return {**files, "run order": data["run-order"]}


def main() -> int:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        alone = answers(folder / "alone", 0, 20)
        beside = answers(folder / "beside", 200, 20)
        with ThreadPoolExecutor(3) as pool:
            lots = [pool.submit(storm, folder / f"storm{lot}", lot, 12.0) for lot in (1, 2, 3)]
            storms = [lot.result() for lot in lots]
    print(json.dumps({"alone": alone, "beside": beside, "storms": storms}))
    broken = [each for each in storms if each["differs"] or each["exit_code"] != 130]
    return 1 if broken else 0


if __name__ == "__main__":
    sys.exit(main())
