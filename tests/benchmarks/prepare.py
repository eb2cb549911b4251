"""How quick is it? Ratios, side by side, medians of one run.

    python tests/benchmarks/prepare.py
    python tests/benchmarks/prepare.py --lines 10000 --jobs 4 --repeat 1     # a short look

On generated reliefs it compares
(a) preparing one file with a whole recipe: read, interpret, ten steps, each with its contract
    proved, the whole proved, rehearsal, write to a card folder, sync, read back, manifest;
(b) a plain loop in pure Python that takes the same file apart with a regular expression, and
    (b') the same loop at its tersest;
(c) `sed` inserting one line.

Nothing here is a test: speed is shown, not asserted.
"""

from __future__ import annotations

import argparse
import os
import re
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from importlib.util import module_from_spec, spec_from_file_location
from pathlib import Path
from shutil import rmtree

ROOT = Path(__file__).parents[2]
RECIPE = ROOT / "recipes" / "bench-lids.yaml"
WORD = re.compile(r"([A-Za-z])\s*([-+]?(?:[0-9]+\.?[0-9]*|\.[0-9]+))")


def write_relief(path: Path, lines: int) -> None:
    """A job of about so many lines, as the demo's generator makes it."""
    spec = spec_from_file_location("hive_relief", ROOT / "recipes" / "jobs" / "hive_relief.py")
    assert spec is not None
    assert spec.loader is not None
    module = module_from_spec(spec)
    spec.loader.exec_module(module)
    with path.open("w", encoding="ascii", newline="\n") as file:
        file.writelines(
            line if line.endswith("\n") else line + "\n" for line in module.relief(lines)
        )


def prepare(
    paths: list[Path], card: Path, workers: int | None = None, recipe: Path = RECIPE
) -> None:
    """The whole of `headrace prepare`, without the start of Python."""
    from headrace.batch import collect_jobs, prepare_folder
    from headrace.batch.engines import Processes
    from headrace.plugins.registry import load_registry
    from headrace.recipe import load_plan

    rmtree(card, ignore_errors=True)
    card.mkdir()
    registry = load_registry()
    plan = load_plan(recipe, registry)
    jobs = collect_jobs(paths)[0]
    engine = None if workers is None else Processes(workers)
    prepared = prepare_folder(plan, registry, jobs, card, engine=engine)
    assert prepared.exit_code == 0, prepared


def tokenise(path: Path) -> int:
    """The loop that one would write first, after "Writing a Tokenizer" in the documentation of
    Python's re module: match by match, a letter and a number each."""
    count = 0
    with path.open(encoding="ascii") as file:
        for line in file:
            words = []
            for match in WORD.finditer(line):
                words.append((match.group(1), float(match.group(2))))
            count += len(words)
    return count


def tokenise_tersely(path: Path) -> int:
    """The same as briefly as it can be put, and quicker."""
    count = 0
    with path.open(encoding="ascii") as file:
        for line in file:
            for _letter, number in WORD.findall(line):
                float(number)
                count += 1
    return count


def insert_by_sed(path: Path, out: Path) -> None:
    with out.open("wb") as file:
        subprocess.run(["sed", "2i (BEESWAX)", str(path)], stdout=file, check=True)


def write_rims(path: Path, arcs: int) -> None:
    """Rows of scallops: quarter circles of radius 2, each row from one side to the other."""
    lines = ["(SCALLOPED RIMS)", "G21 G90 G94 G17", "M3 S17000", "G0 Z30", "G0 X40 Y10", "G0 Z2",
             "G1 Z-1.5 F300", "F900"]  # fmt: skip
    x, y = 40.0, 10.0
    for number in range(arcs):
        row, at = divmod(number, 200)
        way, code = (2.0, "G2") if row % 2 == 0 else (-2.0, "G3")
        i, j, up = (way, 0.0, 2.0) if at % 2 == 0 else (0.0, -2.0, -2.0)
        x, y = x + way, y + up
        lines.append(f"{code} X{x:.4f} Y{y:.4f} I{i:.4f} J{j:.4f}")
        if at == 199:
            y += 0.2
            lines.append(f"G1 Y{y:.4f}")
    path.write_text("\n".join([*lines, "G0 Z30", "M5", "M30", ""]), "ascii")


def seconds(work: Callable[[], object]) -> float:
    begun = time.perf_counter()
    work()
    return time.perf_counter() - begun


def peak_memory(path: Path, card: Path) -> float:
    """Megabytes that the `headrace prepare` command takes at most, Python included."""
    rmtree(card, ignore_errors=True)
    card.mkdir()
    code = (
        "import resource, subprocess, sys;"
        "subprocess.run(sys.argv[1:], check=True, capture_output=True);"
        "print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)"
    )
    command = [
        sys.executable,
        "-m",
        "headrace",
        "prepare",
        str(RECIPE),
        str(path),
        "--card",
        str(card),
    ]
    found = subprocess.run([sys.executable, "-c", code, *command], check=True, capture_output=True)
    return int(found.stdout) * (1 if sys.platform == "darwin" else 1024) / 1e6


def files_table(sizes: list[int], repeat: int, folder: Path) -> None:
    heads = ("lines", "MB", "(a) prepare", "(b) loop", "(b') terse", "(c) sed", "(b)/(a)",
             "(b')/(a)", "(a)/(c)", "peak MB", "x file")  # fmt: skip
    print("  ".join(f"{head:>11}" for head in heads))
    for lines in sizes:
        path = folder / f"relief{lines}.nc"
        write_relief(path, lines)
        works: dict[str, Callable[[], object]] = {
            "a": lambda path=path: prepare([path], folder / "card"),
            "b": lambda path=path: tokenise(path),
            "t": lambda path=path: tokenise_tersely(path),
            "c": lambda path=path: insert_by_sed(path, folder / "sed.nc"),
        }
        works["a"]()  # warm: imports, file cache
        times: dict[str, list[float]] = {name: [] for name in works}
        for _ in range(repeat):
            for name, work in works.items():
                times[name].append(seconds(work))
        a, b, t, c = (statistics.median(found) for found in times.values())
        size = path.stat().st_size / 1e6
        peak = peak_memory(path, folder / "card")
        row = (f"{lines}", f"{size:.2f}", f"{a:.3f} s", f"{b:.3f} s", f"{t:.3f} s", f"{c:.3f} s",
               f"{b / a:.2f}", f"{t / a:.2f}", f"{a / c:.1f}", f"{peak:.0f}",
               f"{peak / size:.1f}")  # fmt: skip
        print("  ".join(f"{cell:>11}" for cell in row), flush=True)


def knowing_table(sizes: list[int], repeat: int, folder: Path) -> None:
    """What it costs to know: the proofs of all steps, the proof of the whole, and the rehearsal,
    against reading the file and following it once."""
    from headrace import run, way
    from headrace.job import Job
    from headrace.plugins.registry import load_registry
    from headrace.recipe import load_plan

    print("\nwhat it costs to know (within (a), one worker)")
    heads = ("lines", "reading", "steps proved", "whole proved", "rehearsal", "knowing/reading")
    print("  ".join(f"{head:>15}" for head in heads))
    registry = load_registry()
    plan = load_plan(RECIPE, registry)
    names = ("prove_step", "prove_run", "rehearse")
    real = {name: getattr(way, name) for name in names}
    for lines in sizes:
        path = folder / f"relief{lines}.nc"
        data = path.read_bytes()
        spent: dict[str, list[float]] = {name: [] for name in ("reading", *names)}
        for _ in range(repeat):
            once = dict.fromkeys(spent, 0.0)
            once["reading"] = seconds(lambda data=data: read_and_follow(Job, plan, data))

            def timed(name: str, once: dict[str, float] = once) -> Callable[..., object]:
                def work(*given: object, **named: object) -> object:
                    begun = time.perf_counter()
                    found = real[name](*given, **named)
                    found = list(found) if name == "rehearse" else found
                    once[name] += time.perf_counter() - begun
                    return found

                return work

            for name in names:
                setattr(way, name, timed(name))
            try:
                run.prepare_job(path.name, data, plan, registry)
            finally:
                for name in names:
                    setattr(way, name, real[name])
            for name, found in once.items():
                spent[name].append(found)
        reading, steps, whole, rehearsal = (statistics.median(found) for found in spent.values())
        ratio = (steps + whole + rehearsal) / reading
        cells = (f"{lines}", *(f"{found:.3f} s" for found in (reading, steps, whole, rehearsal)),
                 f"{ratio:.2f}")  # fmt: skip
        print("  ".join(f"{cell:>15}" for cell in cells), flush=True)


def recipe_with(path: Path, old: str, new: str) -> Path:
    """The recipe of the benchmark with something else in its text, as a file of its own."""
    text = RECIPE.read_text("utf-8").replace(old, new)
    for name in ("machines/", "setups/"):
        text = text.replace(f": {name}", f": {RECIPE.parent / name}/")
    path.write_text(text, "utf-8")
    return path


def arcs_table(arcs: int, repeat: int, folder: Path) -> None:
    """Arcs cut into chords, proofs and all, against preparing as many lines as that makes."""
    job = folder / "rims.nc"
    step = "  - arcs-to-lines: {which: all}\n"
    recipe = recipe_with(folder / "arcs.yaml", "  - park\n", f"{step}  - park\n")
    write_rims(job, arcs)
    card = folder / "card"
    prepare([job], card, recipe=recipe)
    lines = sum(file.read_bytes().count(b"\n") for file in card.glob("*.NC"))
    plain = folder / f"relief{lines}.nc"
    write_relief(plain, lines)
    times = [
        statistics.median(seconds(work) for _ in range(repeat))
        for work in (lambda: prepare([job], card, recipe=recipe), lambda: prepare([plain], card))
    ]
    print(f"\narcs: {arcs} arcs become {lines} lines in {times[0]:.2f} s, as many plain lines take"
          f" {times[1]:.2f} s: {times[0] / times[1]:.2f} times")  # fmt: skip


def in_inches(source: Path, path: Path) -> None:
    """The same job in inches, of four places."""
    word = re.compile(r"([XYZF])([0-9.-]+)")
    with source.open(encoding="ascii") as file, path.open("w", encoding="ascii") as out:
        for line in file:
            if not line.startswith("("):
                line = word.sub(lambda m: f"{m[1]}{float(m[2]) / 25.4:.4f}", line)
            out.write(line.replace("G21", "G20"))


def numbers_table(sizes: list[int], repeat: int, folder: Path) -> None:
    """Every number of a job in another unit and rounded, its rapids at F: proofs and all, against
    preparing the same job in mm as it is."""
    steps = "steps:\n  - units: {to: mm, places: 3}\n  - decimals: {places: 3}\n  - rapid-feed\n"
    recipe = recipe_with(folder / "numbers.yaml", "steps:\n", steps)
    print("\nevery number written anew (units, decimals, rapid-feed), against the job as it is")
    print("  ".join(f"{head:>11}" for head in ("lines", "anew", "as it is", "times")))
    for lines in sizes:
        plain, job = folder / f"relief{lines}.nc", folder / f"inches{lines}.nc"
        in_inches(plain, job)
        works = (
            lambda job=job: prepare([job], folder / "card", recipe=recipe),
            lambda plain=plain: prepare([plain], folder / "card"),
        )
        works[0]()
        anew, as_is = (statistics.median(seconds(work) for _ in range(repeat)) for work in works)
        row = (f"{lines}", f"{anew:.3f} s", f"{as_is:.3f} s", f"{anew / as_is:.2f}")
        print("  ".join(f"{cell:>11}" for cell in row), flush=True)


def read_and_follow(job: type, plan: object, data: bytes) -> None:
    """Read a file and work out what it does, and nothing else."""
    from headrace.intake import start_state
    from headrace.language import Dialect
    from headrace.program import Program

    program = Program.read(data, "job.nc")
    machine, setup = plan.machine, plan.setup  # type: ignore[attr-defined]
    dialect = Dialect.of(machine)
    _ = job(program, machine, setup, dialect, start_state(machine, setup, dialect)).trace  # type: ignore


def growth_table(repeat: int, folder: Path) -> None:
    print("\ngrowth of (a) with the length of the file")
    before = None
    for lines in (250_000, 500_000, 1_000_000):
        path = folder / f"relief{lines}.nc"
        if not path.exists():
            write_relief(path, lines)
        found = statistics.median(
            seconds(lambda path=path: prepare([path], folder / "card")) for _ in range(repeat)
        )
        note = "" if before is None else f"  {found / before:.2f} times the half"
        print(f"{lines:>9} {found:>9.3f} s{note}", flush=True)
        before = found


def folder_row(jobs: int, lines: int, repeat: int, folder: Path) -> None:
    source = folder / "jobs"
    source.mkdir()
    for number in range(jobs):
        write_relief(source / f"job{number:03}.nc", lines)
    times = {
        workers: statistics.median(
            seconds(lambda workers=workers: prepare([source], folder / "card", workers))
            for _ in range(repeat)
        )
        for workers in (1, 2)
    }
    print(f"\n{jobs} jobs of {lines} lines: one worker {times[1]:.2f} s, two {times[2]:.2f} s:"
          f" {times[1] / times[2]:.2f} times as fast")  # fmt: skip


def start_row(repeat: int) -> None:
    headrace = Path(sys.executable).with_name("headrace")
    quiet = subprocess.DEVNULL

    def median(command: list[str]) -> float:
        return statistics.median(
            seconds(lambda: subprocess.run(command, check=True, stdout=quiet))
            for _ in range(max(3, repeat * 4))
        )

    click = median([sys.executable, "-c", "import click"])
    shown = median([str(headrace), "--help"])
    print(f"\n`headrace --help` {shown * 1000:.0f} ms, `import click` {click * 1000:.0f} ms:"
          f" {shown / click:.2f} times")  # fmt: skip


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--lines", type=int, nargs="+", default=[10_000, 100_000, 1_000_000])
    parser.add_argument("--jobs", type=int, default=50)
    parser.add_argument("--job-lines", type=int, default=100_000)
    parser.add_argument("--repeat", type=int, default=5)
    wanted = parser.parse_args()
    print(f"Python {sys.version.split()[0]}, {os.cpu_count()} cores, {RECIPE.relative_to(ROOT)}\n")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        files_table(wanted.lines, wanted.repeat, folder)
        knowing_table(wanted.lines, wanted.repeat, folder)
        if max(wanted.lines) >= 1_000_000:
            growth_table(wanted.repeat, folder)
        numbers_table(wanted.lines, wanted.repeat, folder)
        arcs_table(min(200_000, max(wanted.lines)), min(3, wanted.repeat), folder)
        job_lines = min(wanted.job_lines, max(wanted.lines))
        folder_row(wanted.jobs, job_lines, min(3, wanted.repeat), folder)
    start_row(wanted.repeat)


if __name__ == "__main__":
    main()
