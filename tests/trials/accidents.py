"""Accidents of every kind, one after the other, to cards that `headrace prepare` writes.

    python tests/trials/accidents.py

Chance draws what happens: jobs and recipe change, all jobs or some are prepared, runs are killed
amid their calls to the operating system, and somebody deletes, edits, empties, renames, swaps and
copies files on the card, puts files of other programs there, takes the list or unlisted files off,
lays an older copy of the card over it, or puts in another card. Half of the cards let names change
places, the others do not.

The jobs lie in two folders that have files of the same names; now and then one is such that it is
refused. Calls to the operating system are counted as Python makes them, and the run is killed, or
the call fails (EIO, ENOSPC), at one of them. What one job comes to by one recipe is worked out
once.

What must be on the card is told by a model of its own, which knows what each job comes to by the
recipe (a line above the job) and takes digests by itself. It prints one line of JSON with what
happened, and fails where a promise is broken:

- a run that says all is well leaves each of its jobs whole under the name that it tells, and a list
  in which every name, source and digest is right but for files that it warns of;
- no run changes or takes away what headrace did not write, or any file that it was not to write;
- a file that takes the place of one from another folder is told;
- a killed run leaves old files and new ones, and the next one tidies up;
- `verify` says ready where every file is as the list says, and nowhere else;
- a card that is refused can be used again, once a person has done what was said;
- what is not prepared again is told as if it were, and the list is the same.
"""

from __future__ import annotations

import contextlib
import errno
import json
import os
import random
import re
import shutil
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field, replace
from functools import partial
from hashlib import sha256
from multiprocessing import get_context
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT / "tests")]

from workshop import LID, REFUSED, Workshop, set_up  # noqa: E402
from workshop.handing import CALLS, counted, killed_at, no_flags  # noqa: E402

from headrace import run  # noqa: E402
from headrace.batch.engines.serial import Serial  # noqa: E402
from headrace.batch.folder import prepare_folder  # noqa: E402
from headrace.batch.prepared import Written  # noqa: E402
from headrace.batch.sources import collect_jobs  # noqa: E402
from headrace.card import exchange  # noqa: E402
from headrace.card.verification import verify_card  # noqa: E402
from headrace.cli.shared import planned  # noqa: E402
from headrace.errors import CardError  # noqa: E402
from headrace.findings import Finding, Severity  # noqa: E402

SECONDS = 45.0
LIST = "HEADRACE.JSON"
FOLDERS = ("jobs", "more jobs")
STEMS = ("floor", "frame", "lid", "roof", "super-frame-a", "super-frame-b")
"""The last two share their first eight letters, so their names on the card depend on each other."""
HEADINGS = ("LIDS", "RIMS")
CARD_FILE = b"(HIVE PART)\n"
"""What the recipe's own card file comes to."""
FOREIGN = b"of another program\n"
ALL_NAMES = (
    "FIRST.NC", "FLOOR.NC", "FRAME.NC", "LID.NC", "ROOF.NC", "SUPER-FR.NC", "SUPER-_2.NC",
    LIST, *(f"HR_{stem}.HRT" for stem in ("LIST", "NEXT", "LAST")),
    *(f"HR{number:06}.HRT" for number in range(8)), *(f"HR_{number:05}.HRT" for number in range(8)),
)  # fmt: skip
VERSIONS = 5
REFUSED_VERSION = 4
TAKE_OFF = (
    "card-foreign-file",
    "card-changed-file",
    "card-name-taken",
    "card-list-faulty",
    "card-needs-repair",
)
"""Refusals that say to take a file off the card: the one of which they tell, or another by name."""
_ROUNDS = 12
"""So often a person does what a refusal says before the card must be fit again."""
_UNLISTED = re.compile(r"HR[0-9_][0-9A-Z]{4,5}\.HRT")
Files = dict[str, bytes]


@dataclass(frozen=True)
class Job:
    """A job: the folder in which it lies, and its name without extension."""

    folder: str
    stem: str

    @property
    def name(self) -> str:
        return f"{self.stem}.nc"


NO_JOB = Job("", "")
"""What the recipe's own card file is made from."""


@dataclass(frozen=True)
class Ran:
    """How a run ended: its exit code, its files, and all that it found."""

    code: int
    files: tuple[Written, ...]
    findings: tuple[Finding, ...]

    def named(self, *names: str) -> list[Finding]:
        return [finding for finding in self.findings if finding.name in names]


class Calls:
    """Calls to the operating system, counted; something may be done before one of them, which is
    told its number, and for a change of names how many of these there were, as less than nothing.
    """

    def __init__(self) -> None:
        self.count = self.names = 0
        self.most = 100
        self.act: Callable[[int], None] | None = None

    def made(self, name: str) -> None:
        self.count += 1
        self.names += name in ("rename", "renamed")
        if self.act is not None:
            self.act(-self.names if name in ("rename", "renamed") else 0)
            self.act(self.count)

    @contextlib.contextmanager
    def run(self, act: Callable[[int], None] | None = None) -> Iterator[None]:
        self.count, self.names, self.act = 0, 0, act
        try:
            yield
        finally:
            self.act = None
            self.most = max(self.most if act else 0, self.count)


def _made(calls: Calls, name: str, _number: int) -> None:
    calls.made(name)


@contextlib.contextmanager
def counting(plain: bool) -> Iterator[Calls]:
    """Count the calls of this process; where names cannot change places, if they are `plain`."""
    calls = Calls()
    originals = [(owner, name, getattr(owner, name)) for name, owner in CALLS.items()]
    if plain:
        exchange.renamed = no_flags
    for name in CALLS:
        setattr(*counted(name, partial(_made, calls, name)))
    try:
        yield calls
    finally:
        for owner, name, original in originals:
            setattr(owner, name, original)


@dataclass
class State:
    """What is known of a card: runs cut short that nothing has tidied up after, by the names that
    they were giving; files that stood there behind the last run that was not, and that nobody has
    taken off since; and those that somebody has meddled with, or whose list or unlisted files."""

    pending: list[dict[str, Job]] = field(default_factory=list)
    standing: set[str] = field(default_factory=set)
    meddled: set[str] = field(default_factory=set)

    def meddle(self, before: Files, after: Files) -> None:
        """Somebody has done something to the card."""
        changed = {name for name in before.keys() | after.keys()
                   if before.get(name) != after.get(name)}  # fmt: skip
        self.meddled |= changed
        self.standing -= changed
        if any(name == LIST or _UNLISTED.fullmatch(name) for name in changed):
            self.meddled |= set(ALL_NAMES)
            self.standing.clear()

    def settled(self, names: set[str], after: Files) -> None:
        """A run is done that says of these names that all is well."""
        self.pending.clear()
        self.meddled -= names
        self.standing = {*(_listed(after) or ())} & after.keys() - self.meddled


@dataclass
class Bench:
    """A workshop with two cards, of which one is in, and what may be known of them."""

    workshop: Workshop
    plans: dict[str, Any]
    """By their headings, each with its transforms."""
    chance: random.Random
    calls: Calls
    plain: bool
    counts: Counter[str] = field(default_factory=Counter)
    broken: list[str] = field(default_factory=list)
    log: list[str] = field(default_factory=list)
    made: dict[Job, set[bytes]] = field(default_factory=dict)
    """What each job has come to at any time."""
    versions: dict[Job, int] = field(default_factory=dict)
    heading: str = HEADINGS[0]
    state: State = field(default_factory=State)
    other_state: State = field(default_factory=State)
    copies: list[tuple[Files, list[dict[str, Job]]]] = field(default_factory=list)
    """Older copies of the cards, with the runs cut short that these hold."""

    def __post_init__(self) -> None:
        self.other = self.workshop.root / "other card"
        for card in (self.card, self.other):
            shutil.rmtree(card, ignore_errors=True)
            card.mkdir()
        self.made[NO_JOB] = {CARD_FILE}
        for folder in FOLDERS:
            (self.workshop.root / folder).mkdir(exist_ok=True)
            for stem in STEMS:
                self.change(Job(folder, stem))

    @property
    def card(self) -> Path:
        return self.workshop.card

    def there(self) -> Files:
        return self.workshop.on_card()

    def lay(self, files: Files) -> None:
        for path in self.card.iterdir():
            path.unlink()
        for name, data in files.items():
            (self.card / name).write_bytes(data)

    def path(self, job: Job) -> Path:
        return self.workshop.root / job.folder / job.name

    def change(self, job: Job) -> None:
        """Another version of a job; now and then the same as that of another one of its folder."""
        self.versions[job] = self.chance.randrange(VERSIONS)
        self.path(job).write_bytes(self.source(job))
        self.note()

    def note(self) -> None:
        for job in self.versions:
            outcomes = self.made.setdefault(job, set())
            if (outcome := self.outcome(job)) is not None:
                outcomes.add(outcome)

    def source(self, job: Job) -> bytes:
        version = self.versions[job]
        if version == REFUSED_VERSION:
            return REFUSED.encode()
        return LID.replace("X40", f"X{10 * (1 + FOLDERS.index(job.folder)) + version}").encode()

    def outcome(self, job: Job) -> bytes | None:
        """What a job comes to; None where it is refused."""
        if job == NO_JOB:
            return CARD_FILE
        if self.versions[job] == REFUSED_VERSION:
            return None
        return f"({self.heading})\n".encode() + self.source(job)

    def ours(self, data: bytes) -> bool:
        return any(data in outcomes for outcomes in self.made.values())

    def fault(self, said: str) -> None:
        self.broken.append(f"{said}; behind {' | '.join(self.log[-14:])}")

    def run(self, jobs: Sequence[Job], afresh: bool = False) -> Ran:
        """`headrace prepare`, in this process."""
        plan, registry = self.plans[self.heading]
        files, _ = collect_jobs([self.path(job) for job in jobs])
        try:
            prepared = prepare_folder(
                plan, registry, files, self.card, engine=Serial(), afresh=afresh
            )
        except CardError as error:
            return Ran(error.exit_code, (), tuple(error.findings))
        findings = [
            *prepared.findings,
            *(f for file in prepared.files for f in file.record.findings),
        ]
        return Ran(prepared.exit_code, prepared.files, tuple(findings))


# what a person does


def _some(bench: Bench, *but: str) -> str | None:
    """A file on the card."""
    names = [name for name in bench.there() if name not in but]
    return bench.chance.choice(names) if names else None


def delete(bench: Bench) -> str:
    name = _some(bench)
    if name is not None:
        (bench.card / name).unlink()
    return f"delete {name}"


def edit(bench: Bench) -> str:
    """Other bytes; often as many, or with the file's time as it was."""
    name = _some(bench)
    if name is None:
        return "edit nothing"
    path = bench.card / name
    data, times = bytearray(path.read_bytes()), path.stat()
    way = bench.chance.choice(("flip", "cut", "add", "empty"))
    if way == "flip" and data:
        data[bench.chance.randrange(len(data))] ^= 1 << bench.chance.randrange(7)
    elif way == "add":
        data += b"(seen)\n"
    else:
        del data[0 if way == "empty" else len(data) // 2 :]
    path.write_bytes(data)
    if bench.chance.random() < 0.5:
        os.utime(path, ns=(times.st_atime_ns, times.st_mtime_ns))
    return f"{way} {name}"


def rename(bench: Bench) -> str:
    name = _some(bench)
    if name is None:
        return "rename nothing"
    new = bench.chance.choice(("OTHER.NC", "LID.NC", "ROOF.NC", "KEEP.TXT"))
    (bench.card / name).rename(bench.card / new)
    return f"rename {name} to {new}"


def swap(bench: Bench) -> str:
    one, other = _some(bench, LIST), _some(bench, LIST)
    if one is None or other is None:
        return "swap nothing"
    files = bench.there()
    (bench.card / one).write_bytes(files[other])
    (bench.card / other).write_bytes(files[one])
    return f"swap {one} and {other}"


def copy(bench: Bench) -> str:
    """A copy of a file, often over another one."""
    one, other = _some(bench), _some(bench, LIST)
    if one is None or other is None:
        return "copy nothing"
    other = bench.chance.choice((other, other, "COPY.NC"))
    (bench.card / other).write_bytes((bench.card / one).read_bytes())
    return f"copy {one} to {other}"


def stranger(bench: Bench) -> str:
    name = bench.chance.choice(("NOTES.TXT", "OLD.NC", "LID.NC", "FRAME.NC", "FIRST.NC"))
    (bench.card / name).write_bytes(FOREIGN)
    return f"another program's {name}"


def without_list(bench: Bench) -> str:
    (bench.card / LIST).unlink(missing_ok=True)
    return "delete the list"


def without_unlisted(bench: Bench) -> str:
    for path in bench.card.glob("*.HRT"):
        path.unlink()
    return "delete all unlisted files"


def remember(bench: Bench) -> str:
    bench.copies.append((bench.there(), list(bench.state.pending)))
    return f"copy {len(bench.copies)} of the card"


def restore(bench: Bench) -> str:
    """An older copy of the card in its place, or laid over it."""
    if not bench.copies:
        return "restore nothing"
    number = bench.chance.randrange(len(bench.copies))
    over = bench.chance.random() < 0.5
    files, pending = bench.copies[number]
    bench.lay({**(bench.there() if over else {}), **files})
    bench.state.pending += pending
    return f"restore copy {number + 1} {'over' if over else 'instead of'} what is there"


def other_card(bench: Bench) -> str:
    aside = bench.workshop.root / "aside"
    bench.card.rename(aside)
    bench.other.rename(bench.card)
    aside.rename(bench.other)
    bench.state, bench.other_state = bench.other_state, bench.state
    return "the other card"


def change_job(bench: Bench) -> str:
    job = bench.chance.choice(list(bench.versions))
    bench.change(job)
    return f"change {job.folder}/{job.stem} to {bench.versions[job]}"


def change_recipe(bench: Bench) -> str:
    bench.heading = bench.chance.choice(HEADINGS)
    bench.note()
    return f"change the recipe to {bench.heading}"


# what headrace does


def _drawn(bench: Bench) -> list[Job]:
    folder = bench.chance.choices(FOLDERS, (15, 1))[0]
    count = len(STEMS) if bench.chance.random() < 0.4 else bench.chance.randrange(1, 4)
    return [Job(folder, stem) for stem in sorted(bench.chance.sample(STEMS, count))]


def _words(jobs: Sequence[Job]) -> str:
    return f"{jobs[0].folder}/{' '.join(job.stem for job in jobs)}"


def prepare(bench: Bench) -> None:
    """A run that nothing disturbs; again, when a person has done what it says."""
    jobs, afresh = _drawn(bench), bench.chance.random() < 0.2
    bench.log.append(f"prepare {_words(jobs)}{' afresh' if afresh else ''}")
    patient = bench.chance.random() < 0.7
    for _ in range(_ROUNDS):
        before = bench.there()
        with bench.calls.run():
            ran = bench.run(jobs, afresh)
        bench.counts["prepared" if ran.code < 2 else "refused by the card"] += 1
        look(bench, jobs, before, ran)
        if ran.code < 2:
            names = {file.naming.name for file in ran.files if file.naming and file.fate}
            bench.state.settled(names, bench.there())
            _told_again(bench, jobs, ran)
            return
        if not patient:
            return
        if not _obeyed(bench, ran):
            bench.fault(f"nothing that helps is said: {ran}")
            return
    bench.fault(f"the card is not fit again: {ran}")


def prepare_and_kill(bench: Bench) -> None:
    """A run that is killed, often at a change of names."""
    point = bench.chance.randrange(1, bench.calls.most + 2)
    if bench.chance.random() < 0.4:
        point = -bench.chance.randrange(1, 6)
    jobs, before = _drawn(bench), bench.there()
    bench.log.append(f"kill at {point} prepare {_words(jobs)}")
    child = os.fork()
    if child == 0:
        with bench.calls.run(killed_at(point)):
            os._exit(bench.run(jobs).code)
    code = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    bench.counts["killed" if code < 0 else "not killed"] += 1
    bench.state.pending.append(_names(jobs))
    _nothing_else_touched(bench, jobs, before, cut_short=True)


def prepare_and_fail(bench: Bench) -> None:
    """A run that meets a call that fails, or all calls from there on."""
    point = bench.chance.randrange(1, bench.calls.most + 2)
    for_ever = bench.chance.random() < 0.5
    fault = bench.chance.choice((errno.EIO, errno.ENOSPC))
    failed = 0

    def act(number: int) -> None:
        nonlocal failed
        if number == point or (for_ever and number > point):
            failed += 1
            raise OSError(fault, os.strerror(fault))

    jobs, before = _drawn(bench), bench.there()
    bench.log.append(f"{errno.errorcode[fault]} at {point} prepare {_words(jobs)}")
    with bench.calls.run(act):
        ran = bench.run(jobs)
    bench.counts["failed" if failed else "not failed"] += 1
    bench.state.pending.append(_names(jobs))
    _nothing_else_touched(bench, jobs, before, cut_short=True)
    if ran.code < 2:
        _all_there(bench, jobs, ran)


def verify(bench: Bench) -> None:
    """`verify` says ready where the list is right, and only there."""
    bench.log.append("verify")
    files = bench.there()
    verified = verify_card(bench.card)
    listed = _listed(files)
    right = bool(listed) and all(
        name in files and sha256(files[name]).hexdigest() == entry["sha256"]
        for name, entry in (listed or {}).items()
    )
    left = any(_UNLISTED.fullmatch(name) for name in files)
    if verified.ready is not (right and not left):
        bench.fault(f"ready: {verified.ready}, right: {right}, left: {left}: {verified.findings}")
    if bench.there() != files:
        bench.fault("verify has written")
    bench.counts["ready" if verified.ready else "not ready"] += 1


def _names(jobs: Sequence[Job]) -> dict[str, Job]:
    """The names of jobs on the card, by the rules of its reader: eight letters, and a number for
    the second of two that share them; and the card file."""
    names = {"FIRST.NC": NO_JOB}
    for job in sorted(jobs, key=lambda job: job.name):
        name = f"{job.stem.upper()[:8]}.NC"
        names[name if name not in names else f"{job.stem.upper()[:6]}_2.NC"] = job
    return names


def _listed(files: Files) -> dict[str, Any] | None:
    """The list by the names in it; None where it is none, or not as it was written: its second line
    has the digest of all others."""
    lines = files.get(LIST, b"").splitlines(keepends=True)
    try:
        data = json.loads(b"".join(lines))
        whole = sha256(b"".join(lines[:1] + lines[2:])).hexdigest()
        if lines[1] != f'"digest": "{whole}",\n'.encode():
            return None
        return {entry["name"]: entry for entry in data["files"]}
    except (ValueError, LookupError, TypeError):
        return None


def _nothing_else_touched(
    bench: Bench, jobs: Sequence[Job], before: Files, cut_short: bool = False
) -> None:
    """Files that have changed were headrace's own, and made from the job that has the name now or
    had it in a run cut short, or from that of another folder; and they are whole. Where names
    cannot change places, a run that was cut short itself may have left a name without its file."""
    after, now_named = bench.there(), _names(jobs)
    for name in before.keys() | after.keys():
        was, now = before.get(name), after.get(name)
        if was == now or name == LIST or _UNLISTED.fullmatch(name):
            continue
        meant = [names[name] for names in (now_named, *bench.state.pending) if name in names]
        old = set().union(*(bench.made[like] for job in meant for like in _alike(job)))
        if was is not None and was not in old and not (was == b"" and bench.state.pending):
            bench.fault(f"{name}, which was not the run's, was {was!r} and is {now!r}")
        elif now is None and was and not (bench.plain and cut_short and name in now_named):
            bench.fault(f"{name} is gone")
        elif now is not None and not meant:
            bench.fault(f"{name} was none of the run's and has changed")
        elif now is not None and now not in old:
            bench.fault(f"{name} is neither old nor new: {now!r}")


def _alike(job: Job) -> list[Job]:
    """The jobs of that name in all folders."""
    return [job] if job == NO_JOB else [Job(folder, job.stem) for folder in FOLDERS]


def look(bench: Bench, jobs: Sequence[Job], before: Files, ran: Ran) -> None:
    """Whether a run has kept its promises."""
    after = bench.there()
    _nothing_else_touched(bench, jobs, before)
    if ran.code not in (0, 1, 5):
        bench.fault(f"exit code {ran.code}: {ran}")
    left = [name for name in after if _UNLISTED.fullmatch(name)]
    if left and not ran.named("card-needs-repair", "card-list-faulty"):
        bench.fault(f"left: {left}")
    if ran.code < 2:
        _all_there(bench, jobs, ran)
        _the_list(bench, jobs, before, ran)
        _displaced_are_told(bench, jobs, before, ran)
        if any(file.fate is not None for file in ran.files) and (
            lost := bench.state.standing - after.keys()
        ):
            bench.fault(f"lost: {lost}")


def _displaced_are_told(bench: Bench, jobs: Sequence[Job], before: Files, ran: Ran) -> None:
    """A file that took the place of one from the job of another folder is told."""
    after = bench.there()
    told = " ".join(finding.what for finding in ran.named("card-file-displaced"))
    for name, job in _names(jobs).items():
        was = before.get(name)
        others = set().union(*(bench.made[like] for like in _alike(job) if like != job))
        if was in others and was != after.get(name) and name not in told:
            bench.fault(f"{name} took the place of one from another folder, and nobody says so")


def _all_there(bench: Bench, jobs: Sequence[Job], ran: Ran) -> None:
    """Each job of a run that says all is well is on the card, but for those that are refused."""
    after, names = bench.there(), _names(jobs)
    if [file.naming.name for file in ran.files if file.naming is not None] != list(names):
        bench.fault(f"other files than {list(names)}: {ran.files}")
    for file, (name, job) in zip(ran.files, names.items(), strict=True):
        outcome = bench.outcome(job)
        if (file.fate is None) is not (outcome is None):
            bench.fault(f"{name} is {file.fate}, and its job comes to {outcome!r}")
        elif outcome is not None and after.get(name) != outcome:
            bench.fault(f"{name} is said to be {file.fate} and is not")


def _the_list(bench: Bench, jobs: Sequence[Job], before: Files, ran: Ran) -> None:
    after, names = bench.there(), _names(jobs)
    listed = _listed(after)
    if listed is None:
        if any(bench.outcome(job) is not None for job in names.values()):
            bench.fault("no list")
        return
    warned = " ".join(f.what for f in ran.findings if f.severity is Severity.WARN)
    for name, entry in listed.items():
        source = entry["source"] or {"folder": "", "name": ".nc"}
        job = Job(source["folder"], source["name"].removesuffix(".nc"))
        if entry["sha256"] not in {sha256(data).hexdigest() for data in bench.made[job]}:
            bench.fault(f"the list tells of a {name} that {job} has never come to")
        if name in names and names[name] != job and bench.outcome(names[name]) is not None:
            bench.fault(f"the list has {name} from {job}")
        if name in names and bench.outcome(names[name]) is None and name not in warned:
            bench.fault(f"{name} is older than its job, and nothing is said")
        if name not in after:
            if any(bench.outcome(job) is not None for job in names.values()):
                bench.fault(f"the list has {name}, which is not there")
        elif sha256(after[name]).hexdigest() != entry["sha256"] and name not in warned:
            bench.fault(f"{name} is not as listed, and nothing is said")
    for name in (_listed(before) or {}).keys() - listed.keys():
        if name in after:
            bench.fault(f"{name} stands there and has left the list")
    for name, job in names.items():
        if name not in listed and bench.outcome(job) is not None:
            bench.fault(f"{name} is not listed")


def _told_again(bench: Bench, jobs: Sequence[Job], ran: Ran) -> None:
    """The same again, from memory and afresh, says the same and writes nothing."""
    if bench.chance.random() > 0.3:
        return
    card = bench.there()
    for afresh in (False, True):
        again = bench.run(jobs, afresh)
        if list(map(_lasting, again.files)) != list(map(_lasting, ran.files)):
            bench.fault(f"told otherwise: {ran.files} {again.files}")
        if bench.there() != card:
            bench.fault("another card where all was prepared already")
    bench.counts["told again"] += 1


def _lasting(file: Written) -> object:
    return file.naming, replace(file.record, staged=None)


def _obeyed(bench: Bench, ran: Ran) -> bool:
    """Do what the refusals say; whether that was anything."""
    done = False
    for finding in ran.named(*TAKE_OFF):
        bench.counts[finding.name] += 1
        about = finding.what.split()[0]
        if finding.name != "card-name-taken" and about not in bench.state.meddled:
            bench.fault(f"nobody has meddled with {about}: {finding.what}")
        said = re.search(r"take (\S+[.]\S+) off the card", finding.remedy)
        path = bench.card / (said[1] if said else finding.what.split()[0])
        if path.exists():
            before = bench.there()
            path.unlink()
            bench.state.meddle(before, bench.there())
            bench.log.append(f"take {path.name} off ({finding.name})")
            done = True
    return done


ACCIDENTS: tuple[tuple[int, Callable[[Bench], str | None]], ...] = (
    (14, prepare), (14, prepare_and_kill), (8, prepare_and_fail), (5, verify), (8, change_job),
    (6, change_recipe), (5, delete), (6, edit), (2, rename), (2, swap), (2, copy), (1, stranger),
    (1, without_list), (1, without_unlisted), (1, remember), (1, restore), (1, other_card),
)  # fmt: skip


def life(bench: Bench, accidents: int) -> None:
    """So many things happen to a card, until a promise is broken."""
    weights, things = zip(*ACCIDENTS, strict=True)
    for thing in (*bench.chance.choices(things, weights, k=accidents), prepare, verify):
        before = bench.there()
        if said := thing(bench):
            bench.log.append(said)
            if thing is not other_card:
                bench.state.meddle(before, bench.there())
        bench.counts[thing.__name__] += 1
        if bench.broken:
            return


def lives(
    seed: int, seconds: float, accidents: int = 60, most: int | None = None
) -> tuple[Counter[str], list[str]]:
    """Cards one after the other, until the time is up: what happened, and what was broken."""
    counts: Counter[str] = Counter()
    broken: list[str] = []
    begun = time.monotonic()
    number = 0
    with shop() as (workshop, plans):
        while time.monotonic() - begun < seconds and (most is None or number < most):
            chance = random.Random(f"{seed}/{number}")
            plain = chance.random() < 0.5
            with counting(plain) as calls:
                one = Bench(workshop, plans, chance, calls, plain)
                life(one, accidents)
            counts += one.counts
            counts["cards"] += 1
            broken += [f"card {seed}/{number}: {said}" for said in one.broken]
            number += 1
    return counts, broken


@contextlib.contextmanager
def shop() -> Iterator[tuple[Workshop, dict[str, Any]]]:
    """A workshop in memory, where that can be had, and the plans of its recipe."""
    memory = Path("/dev/shm")
    place = str(memory) if memory.is_dir() and os.access(memory, os.W_OK) else None
    folder = Path(tempfile.mkdtemp(dir=place)).resolve()
    original = run.prepare_job
    run.prepare_job = _once(original)
    try:
        steps = (f"heading: {{text: {HEADINGS[0]}}}",)
        workshop = set_up(folder / "workshop", steps, card_files=True)
        recipe = workshop.recipe.read_text()
        plans = {}
        for heading in HEADINGS:
            workshop.recipe.write_text(recipe.replace(HEADINGS[0], heading))
            plans[heading] = planned(workshop.recipe, ())[:2]
        yield workshop, plans
    finally:
        run.prepare_job = original
        shutil.rmtree(folder)


def _once(original: Callable[..., Any]) -> Callable[..., Any]:
    """`prepare_job` that works each outcome out once."""
    known: dict[object, Any] = {}

    def outcome(name: str, data: bytes, plan: Any, registry: Any, part: int | None = None) -> Any:
        key = name, data, id(plan), part
        if key not in known:
            known[key] = original(name, data, plan, registry, part)
        return known[key]

    return outcome


def main() -> int:
    counts: Counter[str] = Counter()
    broken: list[str] = []
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
        for happened, faults in pool.map(lives, (0, 1), (SECONDS, SECONDS)):
            counts += happened
            broken += faults
    print(json.dumps({**dict(sorted(counts.items())), "broken": len(broken), "faults": broken[:8]}))
    return 1 if broken else 0


if __name__ == "__main__":
    sys.exit(main())
