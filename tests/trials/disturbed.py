"""Runs of `headrace prepare` that strace disturbs at one call to the operating system.

Everything is loaded in one process; each run is a child of it that stops itself first, so that
strace counts calls from there on. The card, as the run finds it, holds a file of an earlier run, a
file whose job has changed since, one whose job has not, and a stranger's; the recipe's own card
file is missing.
"""

from __future__ import annotations

import contextlib
import io
import os
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT / "tests")]

from workshop import LID, Workshop, set_up  # noqa: E402

from headrace.card import exchange  # noqa: E402
from headrace.card.manifest import read_manifest  # noqa: E402
from headrace.cli.group import headrace  # noqa: E402
from headrace.errors import CardError  # noqa: E402

STRANGER = {"NOTES.TXT": b"of another program\n", "OLD.TAP": b"G1 X1 F100\n"}
LIST = "HEADRACE.JSON"
EXIT_CODES = frozenset((0, 1, 2, 3, 4, 5, 70, 130, 141))
"""What the table of the README allows."""
_LIMIT = 30.0
"""Seconds after which something that must happen is said not to happen."""
_CALL = re.compile(r"(\w+)\((.*)\)\s+= (-?\w+)")


@dataclass(frozen=True)
class Call:
    """A call of the undisturbed run: its name, the number of its kind, what it gave, and whether
    it has to do with the card."""

    name: str
    number: int
    gave: str
    of_card: bool

    def __str__(self) -> str:
        return f"{self.name} {self.number}"


@dataclass(frozen=True)
class Ended:
    """How a run ended: its exit code (negative: the signal) and what it said."""

    code: int
    said: str


class Scene:
    """The workshop and its card, as often as it takes."""

    def __init__(self, root: Path) -> None:
        self.root = root
        steps = ("heading: {text: LIDS}", "capitals")
        self.workshop: Workshop = set_up(root / "workshop", steps, card_files=True)
        self.card = self.workshop.card
        frame = self.workshop.job("frame.nc", LID.replace("X40", "X60"))
        lid = self.workshop.job("lid.nc", LID.replace("X40", "X30"))
        floor = self.workshop.job("floor.nc", LID.replace("X40", "X70"))
        self.jobs = [frame, lid]
        ended = self.run([*self.jobs, floor])
        assert ended.code == 0, ended.said
        (self.card / "FIRST.NC").unlink()
        for name, data in STRANGER.items():
            (self.card / name).write_bytes(data)
        self.workshop.job("lid.nc", LID)
        self.repaired: set[frozenset[tuple[str, bytes]]] = set()
        self.before = self.on_card()
        ended = self.run(self.jobs)
        assert ended.code == 0, ended.said
        self.after = self.on_card()

    def on_card(self) -> dict[str, bytes]:
        return self.workshop.on_card()

    def lay(self) -> None:
        """The card as the run finds it."""
        for path in self.card.iterdir():
            path.unlink()
        for name, data in self.before.items():
            (self.card / name).write_bytes(data)

    def arguments(self, jobs: Sequence[Path]) -> list[str]:
        made = [str(self.workshop.recipe), *map(str, jobs), "--card", str(self.card)]
        return ["prepare", *made, "--jobs", "1"]

    def run(self, jobs: Sequence[Path] | None = None) -> Ended:
        """Run in this process, undisturbed."""
        said = io.StringIO()
        with contextlib.redirect_stdout(said), contextlib.redirect_stderr(said):
            try:
                headrace.main(self.arguments(self.jobs if jobs is None else jobs))
            except SystemExit as end:
                return Ended(int(end.code or 0), said.getvalue())
        raise AssertionError("the command came back")

    def disturbed(self, *options: str, log: Path | None = None) -> Ended:
        """Run in a child that strace disturbs as its options say."""
        said = self.root / "said"
        child = os.fork()
        if child == 0:
            self._begin(said)
        os.waitpid(child, os.WUNTRACED)
        strace = subprocess.Popen(
            ["strace", "-qqq", "-y", "-s", "0", "-o", log or os.devnull, *options, "-p", str(child)]
        )
        _until_traced(child)
        os.kill(child, signal.SIGCONT)
        _, status = os.waitpid(child, 0)
        strace.wait(_LIMIT)
        return Ended(os.waitstatus_to_exitcode(status), said.read_text(errors="replace"))

    def _begin(self, said: Path) -> None:
        """In the child: stop, and go on when told to."""
        descriptor = os.open(said, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
        os.dup2(descriptor, 1)
        os.dup2(descriptor, 2)
        sys.stdout, sys.stderr = os.fdopen(1, "w"), os.fdopen(2, "w", buffering=1)
        code = 99
        try:
            os.kill(os.getpid(), signal.SIGSTOP)
            headrace.main(self.arguments(self.jobs))
        except SystemExit as end:
            code = int(end.code or 0)
        finally:
            os._exit(code)

    def calls(self, *options: str) -> list[Call]:
        """All calls of a run that is not disturbed else, from the first on the card."""
        log = self.root / "calls"
        self.lay()
        assert self.disturbed(*options, log=log).code == 0
        counts: dict[str, int] = {}
        found: list[Call] = []
        for line in log.read_text(errors="replace").splitlines():
            told = _CALL.match(line)
            if told is None or told[1] == "exit_group":
                continue
            name, arguments, gave = told.groups()
            counts[name] = counts.get(name, 0) + 1
            of_card = str(self.card) in arguments
            if found or of_card:
                found.append(Call(name, counts[name], gave, of_card))
        return found

    def faults(self, missing_allowed: Sequence[str] = ()) -> list[str]:
        """What is wrong with the card behind a run that was disturbed; nothing where each file is
        an old one or a new one. `missing_allowed` may lack, one of them."""
        there = self.on_card()
        wrong = [
            f"{name} is neither the old file nor the new one"
            for name, data in there.items()
            if not name.endswith(".HRT")
            and name != LIST
            and data not in (self.before.get(name), self.after.get(name))
        ]
        missing = self.before.keys() - there.keys()
        if len(missing) > bool(missing_allowed) or not missing <= set(missing_allowed):
            wrong.append(f"missing: {', '.join(sorted(missing))}")
        try:
            listed = read_manifest(self.card / LIST)
        except CardError as error:
            return [*wrong, str(error)]
        for entry in listed.entries:
            size, digest = entry.content.size, entry.content.sha256
            both = [data for data in (self.before, self.after) if entry.name in data]
            if not any(_is(data[entry.name], size, digest) for data in both):
                wrong.append(f"the list tells of another {entry.name} than was ever there")
        return wrong

    def not_repaired(self) -> list[str]:
        """What is wrong behind the next run, which nothing disturbs. A card that has been seen in
        this state before is not tried again."""
        state = frozenset(self.on_card().items())
        if state in self.repaired:
            return []
        self.repaired.add(state)
        ended = self.run()
        there = self.on_card()
        wrong = [] if ended.code == 0 else [f"the next run ends with {ended.code}: {ended.said}"]
        if there != self.after:
            names = sorted(
                name
                for name in there.keys() | self.after.keys()
                if there.get(name) != self.after.get(name)
            )
            wrong.append(f"not as an undisturbed run leaves it: {', '.join(names)}")
        return wrong


def _is(data: bytes, size: int, digest: str) -> bool:
    from hashlib import sha256

    return len(data) == size and sha256(data).hexdigest() == digest


def _until_traced(child: int) -> None:
    """Wait until strace holds a stopped process (proc(5): TracerPid, state `t`)."""
    end = time.monotonic() + _LIMIT
    status = Path(f"/proc/{child}/status")
    while time.monotonic() < end:
        told = status.read_text()
        if "TracerPid:\t0\n" not in told and "State:\tt" in told:
            return
        time.sleep(0.0005)
    raise TimeoutError("strace did not take hold of the run")


@contextlib.contextmanager
def scene() -> Iterator[Scene]:
    """A scene in memory where that can be had."""
    memory = Path("/dev/shm")
    place = str(memory) if memory.is_dir() and os.access(memory, os.W_OK) else None
    folder = Path(tempfile.mkdtemp(dir=place)).resolve()
    try:
        yield Scene(folder)
    finally:
        shutil.rmtree(folder)


@contextlib.contextmanager
def without_exchange() -> Iterator[None]:
    """As on a file system where names cannot change places, in this process and its children."""
    original = exchange.renamed
    exchange.renamed = lambda _one, _other, _flag: False
    try:
        yield
    finally:
        exchange.renamed = original
