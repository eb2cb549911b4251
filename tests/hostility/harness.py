"""One hostile case through the real thing, and what must hold whatever the input is.

Nothing is uncaught (a finding `internal-fault`, or a bundled step that fails, counts as that); the
exit code is one of README's table; it takes no second; nothing lies on the card after a refusal;
no control character reaches the terminal.
"""

from __future__ import annotations

import os
import shutil
import time
import traceback
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from random import Random

from click.testing import CliRunner
from hostility.mutators import mutated_job, mutated_yaml

from headrace.batch.engines.kit import with_python_files
from headrace.batch.record import recorded
from headrace.cli.group import headrace
from headrace.cli.talking import printable
from headrace.errors import HeadraceError
from headrace.findings import render
from headrace.outcome import Outcome
from headrace.plugins.registry import Registry, load_registry
from headrace.recipe import Plan, load_plan
from headrace.run import prepare_card_file, prepare_job

os.environ.setdefault("HEADRACE_PYTHON", "any")

REPOSITORY = Path(__file__).parents[2]
GALLERY = REPOSITORY / "recipes"
JOBS = REPOSITORY / "tests" / "jobs"
CRASHERS = Path(__file__).with_name("crashers")

RECIPES = {
    "bench-lids.yaml": "jobs/lid.nc",
    "bench-setup-cards.yaml": "jobs/handhold.nc",
    "relay-frames.yaml": "jobs/frame-side.nc",
    "swarm-warning.yaml": "jobs/frame-side.nc",
    "speed-floor-boards.yaml": "jobs/floor-board.tap",
    "speed-window.yaml": "jobs/window.ngc",
    "speed-excluder.yaml": "jobs/queen-excluder.nc",
    "clean-text.yaml": "jobs/lid.nc",
}
"""The gallery, each recipe with a job that goes through."""

EXIT_CODES = frozenset((0, 1, 2, 3, 4, 5))
"""Of README's table, without 70 (a fault of headrace itself) and 130 (interrupted)."""

LONGEST = 1.0
"""Seconds of processor time that a case of an ordinary size may take."""


@dataclass(frozen=True, slots=True)
class Case:
    """Files that take the place of the gallery's, a recipe, a job, and how they are run: by a
    sub-command, or as `job` or `plan` without the command line. The seed makes it again."""

    seed: int
    way: str
    recipe: str
    job: str
    files: dict[str, bytes]

    def __str__(self) -> str:
        return (
            f"seed {self.seed}: {self.way} {self.recipe} {self.job}, new: {', '.join(self.files)}"
        )


@dataclass(slots=True)
class Verdict:
    """What was wrong with a case, by kind; seconds of processor time."""

    seconds: float
    faults: list[tuple[str, str]] = field(default_factory=list)

    def add(self, kind: str, what: str) -> None:
        self.faults.append((kind, what))


def _job_seeds() -> dict[str, bytes]:
    """All jobs of the repository, by a name that is unique."""
    found = [path for path in sorted(JOBS.rglob("*")) if path.is_file() and path.suffix != ".md"]
    found += sorted(GALLERY / job for job in {*RECIPES.values(), "jobs/feeder-board.nc"})
    return {str(path.relative_to(REPOSITORY)): path.read_bytes() for path in found}


class Hive:
    """A copy of the gallery in a folder of its own, whose files cases replace for a while."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.card = folder / "card"
        shutil.copytree(
            GALLERY,
            folder,
            dirs_exist_ok=True,
            ignore=shutil.ignore_patterns("__pycache__", "*.md"),
        )
        (folder / "jobs" / "hive_relief.py").unlink()  # no case is to run it as a plugin
        self.card.mkdir()
        self.yaml = {
            str(path.relative_to(folder)): path.read_bytes()
            for path in sorted(folder.rglob("*.yaml"))
        }
        self.jobs = _job_seeds()
        self.registry = load_registry()

    @cached_property
    def plans(self) -> dict[str, tuple[Plan, Registry]]:
        """The gallery's plans, each with what its steps come from."""
        plans = {recipe: load_plan(self.folder / recipe, self.registry) for recipe in RECIPES}
        return {
            recipe: (plan, with_python_files(self.registry, plan)) for recipe, plan in plans.items()
        }

    # --- cases --------------------------------------------------------------------------------

    def case(self, seed: int) -> Case:
        """The case of a seed: always the same for the same repository."""
        random = Random(seed)
        recipe = random.choice(list(RECIPES))
        if random.random() < 0.5:
            name, other = random.choice(list(self.jobs)), random.choice(list(self.jobs))
            if random.random() < 0.4:
                name = f"recipes/{RECIPES[recipe]}"  # one that the recipe is made for
            new = mutated_job(random, self.jobs[name], self.jobs[other])
            way = random.choices(("job", "prepare", "plan", "check"), (30, 2, 1, 1))[0]
            return Case(seed, way, recipe, "jobs/hostile.nc", {"jobs/hostile.nc": new})
        name = random.choice([recipe, recipe, *self._read_by(recipe)])
        other = random.choice(list(self.yaml))
        new = mutated_yaml(random, self.yaml[name], self.yaml[other])
        way = random.choices(("plan-only", "prepare", "plan", "check"), (30, 2, 1, 1))[0]
        return Case(seed, way, recipe, RECIPES[recipe], {name: new})

    def _read_by(self, recipe: str) -> list[str]:
        """The other YAML files that a recipe of the gallery reads."""
        sources = self.plans[recipe][0].sources
        return [str(path.resolve().relative_to(self.folder.resolve())) for path in sources[1:]]

    @contextmanager
    def _with(self, files: dict[str, bytes]) -> Iterator[None]:
        for name, data in files.items():
            path = self.folder / name
            path.parent.mkdir(exist_ok=True)
            path.write_bytes(data)
        try:
            yield
        finally:
            for name in files:
                if name in self.yaml:
                    (self.folder / name).write_bytes(self.yaml[name])
                else:
                    (self.folder / name).unlink(missing_ok=True)
                    original = GALLERY / name
                    if original.is_file():
                        shutil.copyfile(original, self.folder / name)

    # --- running ------------------------------------------------------------------------------

    def judged(self, case: Case) -> Verdict:
        """Run a case; what it did that it must not do."""
        verdict = Verdict(0)
        with self._with(case.files):
            began = time.process_time()
            try:
                if case.way == "job":
                    plan, registry = self.plans[case.recipe]
                    self._job(plan, registry, case.files[case.job], verdict)
                elif case.way == "plan-only":
                    self._plan(case, verdict)
                else:
                    self._command(case, verdict)
            except Exception:
                verdict.add("uncaught", traceback.format_exc())
            verdict.seconds = time.process_time() - began
        if verdict.seconds > LONGEST:
            verdict.add("slow", f"{verdict.seconds:.2f} s")
        return verdict

    def _job(self, plan: Plan, registry: Registry, data: bytes, verdict: Verdict) -> None:
        self._told(prepare_job("hostile.nc", data, plan, registry), verdict)

    def _told(self, outcome: Outcome, verdict: Verdict) -> None:
        """What is done with an outcome: its record is made and its findings are written."""
        record = recorded(outcome, None, None, None)
        if record.exit_code not in EXIT_CODES:
            verdict.add("exit code", str(record.exit_code))
        if outcome.refused and not record.findings:
            verdict.add("uncaught", "refused without a finding")
        for finding in record.findings:
            _check_text(printable(render(finding)), verdict)

    def _plan(self, case: Case, verdict: Verdict) -> None:
        """Recipe, machine and set-up read; where they are sound, a job goes through as well, of
        some cases, since that takes ten times as long."""
        try:
            plan = load_plan(self.folder / case.recipe, self.registry)
            registry = with_python_files(self.registry, plan)
        except HeadraceError as error:
            if error.exit_code not in (3, 4):
                verdict.add("exit code", f"{error.exit_code}: {error}")
            if not error.findings or any(not finding.what for finding in error.findings):
                verdict.add("uncaught", f"refused without a word: {error!r}")
            for finding in error.findings:
                _check_text(printable(render(finding)), verdict)
            return
        if case.seed % 4:
            return
        finished: dict[str, Outcome] = {}
        for card_file in plan.card_files:
            finished[card_file.name] = prepare_card_file(card_file, plan, registry, finished)
            self._told(finished[card_file.name], verdict)
        self._job(plan, registry, (self.folder / case.job).read_bytes(), verdict)

    def _command(self, case: Case, verdict: Verdict) -> None:
        args = [case.way, str(self.folder / case.recipe), str(self.folder / case.job)]
        if case.way == "prepare":
            args += ["--card", str(self.card)]
        result = CliRunner(env={"HEADRACE_DEBUG": "1"}).invoke(headrace, args, prog_name="headrace")
        out, err = result.stdout, result.stderr
        if result.exception is not None and not isinstance(result.exception, SystemExit):
            verdict.add("uncaught", repr(result.exception))
        if result.exit_code not in EXIT_CODES:
            kind = "uncaught" if result.exit_code == 70 else "exit code"
            verdict.add(kind, f"{result.exit_code}: {err[-3000:]}")
        elif "internal-fault" in err or ("HRP" in err and not self._has_plugins(case)):
            verdict.add("uncaught", err[-3000:])
        _check_text(err, verdict)
        if case.way != "plan":  # its output is the exact text of the jobs, for `patch`
            _check_text(out, verdict)
        standing = sorted(path.name for path in self.card.iterdir())
        if case.way == "prepare" and result.exit_code in (2, 3, 4) and standing:
            verdict.add("left behind", f"{standing} after exit code {result.exit_code}")
        self._check_card(result.exit_code, standing, out, verdict)
        for path in self.card.iterdir():
            path.unlink()

    def _check_card(self, code: int, standing: list[str], out: str, verdict: Verdict) -> None:
        """Of a refused job there is nothing, and no unfinished file at all."""
        jobs = [name for name in standing if not name.startswith(("HR_", "HEADRACE"))]
        told = sum(" -> " in line or "written" in line for line in out.splitlines())
        if any(name.upper().startswith("HR0") for name in standing):
            verdict.add("left behind", f"{standing}")
        if len(jobs) > max(told, 0) and code == 1:
            verdict.add("left behind", f"{standing}, told: {out!r}")

    def _has_plugins(self, case: Case) -> bool:
        return case.recipe == "swarm-warning.yaml" or any(
            b"plugins" in d or b"python" in d for d in case.files.values()
        )


def _check_text(text: str, verdict: Verdict) -> None:
    bad = {c for c in text if c != "\n" and not c.isprintable()}
    if bad:
        verdict.add("control character", f"{sorted(bad)!r} in {text[:400]!r}")


@dataclass(slots=True)
class Tally:
    """Counts over many cases, and the first cases of each kind of fault."""

    cases: int = 0
    slowest: float = 0.0
    faults: Counter[str] = field(default_factory=Counter)
    shown: list[tuple[Case, str, str]] = field(default_factory=list)

    def add(self, case: Case, verdict: Verdict) -> None:
        self.cases += 1
        self.slowest = max(self.slowest, verdict.seconds)
        for kind, what in verdict.faults:
            self.faults[kind] += 1
            if self.faults[kind] <= 20:
                self.shown.append((case, kind, what))


def crashers() -> list[Path]:
    """Folders with the files that once broke something, each with the gallery's paths."""
    return sorted(path for path in CRASHERS.iterdir() if path.is_dir())


def crasher_cases(folder: Path) -> Iterator[Case]:
    """A crasher by every recipe, through the command and past it."""
    files = {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }
    own = next((name for name in files if name.startswith("jobs/")), None)
    for recipe, job in RECIPES.items():
        if own is not None or recipe in files or set(files) - set(RECIPES):
            yield Case(0, "prepare", recipe, own or job, files)


__all__ = ["Case", "Hive", "Tally", "Verdict", "crasher_cases", "crashers"]
