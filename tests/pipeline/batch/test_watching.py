"""Watching: whatever changes is prepared, the last state is what ends on the card, and nothing else
is done. Each wait has a generous limit and says what did not happen. What happens to files is what
editors, CAM and people do (common practice): they write over a file, put another in its place, take
it away and make it again, and write it bit by bit."""

from __future__ import annotations

import errno
import os
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from workshop import LID, REFUSED, Workshop, set_up

from headrace.batch.engines import Serial
from headrace.batch.record import Record, Task
from headrace.batch.watching import Answer, Bell, Given, Watch, slot, unrest
from headrace.batch.watching.sight import look, places_of
from headrace.batch.watching.slot import Slot
from headrace.card.folder import card_folder
from headrace.card.seen import sign_of
from headrace.errors import CardError
from headrace.findings import Finding
from headrace.plugins.python_file import PythonFile
from headrace.plugins.registry import load_registry
from headrace.plugins.trusted import Entry, TrustedList
from headrace.recipe import load_plan
from headrace.recipe.named_files import named_files

pytest.importorskip("watchfiles")

LIMIT = 30.0


class Watching:
    """A watch in a thread of its own, and its answers."""

    def __init__(self, hive: Workshop, *jobs: Path, engine: Any = None, bell: Bell | None = None):
        given = Given.of(hive.recipe, jobs or [hive.jobs], hive.card)
        self.watch = Watch(given, load_registry(), engine=engine, bell=bell)
        self.answers: list[Answer] = []
        self.error: BaseException | None = None
        self._seen = 0
        self._news = threading.Condition()
        self._thread = threading.Thread(target=self._run)

    def _run(self) -> None:
        try:
            for answer in self.watch.answers():
                with self._news:
                    self.answers.append(answer)
                    self._news.notify()
        except BaseException as error:
            self.error = error

    def until(self, what: str, true: Callable[[Answer], bool] = lambda _: True) -> Answer:
        """The next answer of which something is true."""
        end = time.monotonic() + LIMIT
        with self._news:
            while True:
                for answer in self.answers[self._seen :]:
                    self._seen += 1
                    if true(answer):
                        return answer
                if time.monotonic() > end or self.error is not None:
                    said = [(fates(answer), answer.prepared.findings) for answer in self.answers]
                    raise AssertionError(f"no answer that says: {what}; {self.error!r}; {said}")
                self._news.wait(0.05)

    def __enter__(self) -> Watching:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.watch.bell.stop()
        self._thread.join(LIMIT)
        assert not self._thread.is_alive(), "the watch does not end"
        if self.error is not None:
            raise self.error


@pytest.fixture
def hive(tmp_path: Path) -> Workshop:
    return set_up(tmp_path / "hive")


def fates(answer: Answer) -> dict[str, str]:
    """What became of the files that an answer tells of."""
    return {
        file.record.name: str(file.fate) if file.fate else str(file.record.exit_code)
        for file in answer.prepared.files
    }


def names(answer: Answer) -> set[str]:
    """The kinds of all findings of an answer."""
    found = list(answer.prepared.findings)
    for file in answer.prepared.files:
        found += file.record.findings
    return {finding.name for finding in found}


def tells(**wanted: str) -> Callable[[Answer], bool]:
    """Whether an answer tells just this of just these jobs; `lid="written"` means lid.nc."""
    return lambda answer: fates(answer) == {f"{name}.nc": fate for name, fate in wanted.items()}


def wait_for(what: str, true: Callable[[], bool]) -> None:
    end = time.monotonic() + LIMIT
    while not true():
        assert time.monotonic() < end, f"it did not happen: {what}"
        time.sleep(0.02)


def lot(number: int) -> str:
    """A lid of a lot, so that the files of two lots differ."""
    return LID.replace("hive lid", f"lid of lot {number}")


def holds(hive: Workshop, name: str, text: str) -> Callable[[], bool]:
    """Whether a file on the card has this text."""
    path = hive.card / name
    return lambda: path.is_file() and text.encode() in path.read_bytes()


def lots(hive: Workshop) -> dict[str, str]:
    """Which lot each file on the card is of."""
    found = {}
    for name, data in hive.on_card().items():
        if name.endswith(".NC"):
            found[name] = data.decode().split("LOT ")[1].split(")")[0]
    return found


# --- jobs -------------------------------------------------------------------------------------


def test_at_first_all_is_prepared_then_what_changes(hive: Workshop) -> None:
    lid, _ = hive.job("lid.nc", lot(1)), hive.job("floor.nc", lot(1))
    with Watching(hive) as watching:
        first = watching.until("both are written")
        assert fates(first) == {"floor.nc": "written", "lid.nc": "written"}
        assert (first.state, first.exit_code) == ("watching 2 jobs", 0)
        floor = sign_of(hive.card / "FLOOR.NC")
        lid.write_text(lot(2))
        watching.until("the lid is replaced", tells(lid="replaced"))
        assert lots(hive) == {"FLOOR.NC": "1", "LID.NC": "2"}
        hive.job("rim.nc", lot(3))
        more = watching.until("the new one is written", tells(rim="written"))
        assert more.state == "watching 3 jobs"
    assert sign_of(hive.card / "FLOOR.NC") == floor
    assert not list(hive.card.glob("*.HRT"))


def test_a_save_that_changes_nothing_is_told_and_writes_nothing(hive: Workshop) -> None:
    lid = hive.job("lid.nc")
    with Watching(hive) as watching:
        watching.until("it is written", tells(lid="written"))
        before = {path: sign_of(path) for path in hive.card.iterdir()}
        lid.write_text(LID)
        watching.until("it is unchanged", tells(lid="unchanged"))
        assert {path: sign_of(path) for path in hive.card.iterdir()} == before


def test_an_editor_puts_another_file_in_its_place(hive: Workshop) -> None:
    lid = hive.job("lid.nc", lot(1))
    with Watching(hive, lid) as watching:
        watching.until("it is written", tells(lid="written"))
        for number in (2, 3):
            hive.job("lid.nc~", lot(number)).replace(lid)
            watching.until("it is replaced", tells(lid="replaced"))
            assert lots(hive) == {"LID.NC": str(number)}


def test_a_job_goes_and_comes_back(hive: Workshop) -> None:
    lid = hive.job("lid.nc", lot(1))
    with Watching(hive, lid) as watching:
        watching.until("it is written", tells(lid="written"))
        lid.unlink()
        gone = watching.until("it cannot be read", tells(lid="1"))
        assert {"job-unreadable", "card-older-file"} <= names(gone)
        assert lots(hive) == {"LID.NC": "1"}
        lid.write_text(lot(2))
        watching.until("it is replaced", tells(lid="replaced"))
    assert lots(hive) == {"LID.NC": "2"}


def test_what_the_card_has_of_a_job_that_went_is_named_and_stays(hive: Workshop) -> None:
    lid, _ = hive.job("lid.nc", lot(1)), hive.job("rim.nc", lot(1))
    with Watching(hive) as watching:
        watching.until("both are written")
        lid.rename(hive.jobs / "cover.nc")
        renamed = watching.until("it has another name", tells(cover="written"))
        said = " ".join(finding.what for finding in renamed.prepared.findings)
        assert "LID.NC" in said
        assert "lid.nc" in said
    assert lots(hive) == {"COVER.NC": "1", "LID.NC": "1", "RIM.NC": "1"}


def test_the_last_job_of_a_folder_goes(hive: Workshop) -> None:
    lid = hive.job("lid.nc", lot(1))
    with Watching(hive) as watching:
        watching.until("it is written")
        lid.unlink()
        gone = watching.until("it is gone", lambda answer: "card-job-gone" in names(answer))
        assert (fates(gone), gone.state) == ({}, "watching no jobs")
    assert lots(hive) == {"LID.NC": "1"}


def test_two_jobs_swap_their_names(hive: Workshop) -> None:
    lid, rim = hive.job("lid.nc", lot(1)), hive.job("rim.nc", lot(2))
    with Watching(hive) as watching:
        watching.until("both are written")
        aside = hive.jobs / "aside"
        lid.rename(aside)
        rim.rename(lid)
        aside.rename(rim)
        wait_for("both are swapped", lambda: lots(hive) == {"LID.NC": "2", "RIM.NC": "1"})


def test_of_a_hundred_quick_saves_the_last_counts(hive: Workshop) -> None:
    lid = hive.job("lid.nc", lot(0))
    with Watching(hive) as watching:
        watching.until("it is written")
        for number in range(1, 101):
            lid.write_text(lot(number))
        wait_for("the last is on the card", lambda: lots(hive) == {"LID.NC": "100"})
        hive.job("rim.nc", lot(1))
        watching.until("it goes on", lambda answer: "rim.nc" in fates(answer))
    assert lots(hive)["LID.NC"] == "100"


def test_a_job_that_is_written_bit_by_bit_is_never_taken_half(hive: Workshop) -> None:
    """Every state of the card's file is a whole lot. On Linux also where the pauses are longer
    than a moment, as the program holds the file open (fcntl(2), "Leases")."""
    pause = 0.15 if unrest_is_told(hive) else 0.02
    lid = hive.job("lid.nc", lot(0))
    seen: set[bytes] = set()
    with Watching(hive) as watching:
        watching.until("it is written")
        for number in (1, 2):
            text = lot(number)
            with lid.open("w", buffering=1) as file:
                for line in text.splitlines(keepends=True)[:8]:
                    file.write(line)
                    time.sleep(pause)
                    seen.add((hive.card / "LID.NC").read_bytes())
                file.write("".join(text.splitlines(keepends=True)[8:]))
            wait_for("it is on the card", lambda lot=number: lots(hive) == {"LID.NC": str(lot)})
            seen.add((hive.card / "LID.NC").read_bytes())
    assert all(data.rstrip().endswith(b"M30") for data in seen)
    assert len(seen) == 3


def unrest_is_told(hive: Workshop) -> bool:
    path = hive.job("probe.txt", "")
    with path.open("w"):
        held = unrest.is_held(path)
    path.unlink()
    return held


def test_a_file_that_is_open_for_writing_is_known(hive: Workshop) -> None:
    if not unrest_is_told(hive):
        pytest.skip("this system does not tell who writes a file")
    lid = hive.job("lid.nc")
    assert not unrest.is_held(lid)
    with lid.open("a"):
        assert unrest.is_held(lid)
    with lid.open("r"):
        assert not unrest.is_held(lid)
    os.mkfifo(hive.jobs / "pipe")
    assert not unrest.is_held(hive.jobs / "pipe")
    assert not unrest.is_held(hive.jobs / "nothing")


def test_unrest_by_a_clock_of_its_own(monkeypatch: pytest.MonkeyPatch) -> None:
    lid, held = Path("lid.nc"), True
    monkeypatch.setattr(unrest, "is_held", lambda _path: held)
    seen = unrest.Unrest()
    states = {}
    for now, changed in ((0.0, {lid}), (0.5, set()), (1.5, set()), (2.5, set()), (2.6, {lid})):
        seen.see(changed, now)
        states[now] = (lid in seen.moving, lid in seen.lasting, lid in seen.held)
    held = False
    seen.see(set(), 2.7)
    assert states == {
        0.0: (True, False, False),  # it changes
        0.5: (True, False, False),  # it rests, but is held open
        1.5: (True, True, False),  # for longer than a save takes
        2.5: (False, False, True),  # so long that it is taken as it is
        2.6: (True, False, False),  # another change
    }
    assert not seen.moving | seen.lasting | seen.held


def test_a_job_that_a_program_keeps_open_is_taken_in_the_end(
    hive: Workshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    if not unrest_is_told(hive):
        pytest.skip("this system does not tell who writes a file")
    monkeypatch.setattr(unrest, "HELD", 0.4)
    lid = hive.job("lid.nc", lot(1))
    with Watching(hive) as watching:
        watching.until("it is written")
        with lid.open("w") as file:
            file.write(lot(2))
            file.flush()
            answer = watching.until("it is taken", tells(lid="replaced"))
            assert "job-held-open" in names(answer)
        assert lots(hive) == {"LID.NC": "2"}


def test_a_job_that_is_written_for_long_keeps_no_other_waiting(hive: Workshop) -> None:
    lid, rim = hive.job("lid.nc", lot(1)), hive.job("rim.nc", lot(1))
    done = threading.Event()

    def write() -> None:
        number = 0
        while not done.wait(0.01):
            number += 1
            lid.write_text(lot(number))

    with Watching(hive) as watching:
        watching.until("both are written")
        writer = threading.Thread(target=write)
        writer.start()
        try:
            told = watching.until("it is told", lambda answer: "job-being-written" in names(answer))
            assert told.exit_code == 1
            rim.write_text(lot(2))
            other = watching.until("the other is replaced", lambda a: "rim.nc" in fates(a))
            assert fates(other) == {"rim.nc": "replaced"}, "what was told already is told again"
        finally:
            done.set()
            writer.join(LIMIT)
        watching.until("it is at rest", tells(lid="replaced"))
    assert holds(hive, "LID.NC", lid.read_text().splitlines()[0].strip("()").upper())()


class Meanwhile:
    """An engine, in whose middle something happens once."""

    def __init__(self, happens: Callable[[], object]) -> None:
        self._happens: Callable[[], object] | None = happens
        self.tasks: list[list[str]] = []

    def run(self, tasks: Sequence[Task], plan: Any, registry: Any, told: Any) -> list[Record]:
        self.tasks.append([task.name for task in tasks])
        records = Serial().run(tasks, plan, registry, told)
        if self._happens is not None:
            self._happens()
            self._happens = None
        return records


def test_a_job_that_is_saved_while_it_is_prepared_is_prepared_again(hive: Workshop) -> None:
    lid = hive.job("lid.nc", lot(1))
    engine = Meanwhile(lambda: lid.write_text(lot(2)))
    with Watching(hive, engine=engine) as watching:
        first = watching.until("the later one is written")
        assert fates(first) == {"lid.nc": "written"}
        assert lots(hive) == {"LID.NC": "2"}, "what was read first is on the card"


def test_a_refused_job_is_refused_once(hive: Workshop) -> None:
    lid, rim = hive.job("lid.nc", REFUSED), hive.job("rim.nc", lot(1))
    engine = Meanwhile(lambda: None)
    with Watching(hive, engine=engine) as watching:
        first = watching.until("one is refused")
        assert (fates(first), first.exit_code) == ({"lid.nc": "1", "rim.nc": "written"}, 1)
        rim.write_text(lot(2))
        second = watching.until("the other is replaced", tells(rim="replaced"))
        assert second.exit_code == 1
        assert engine.tasks == [["lid.nc", "rim.nc"], ["rim.nc"]]
        lid.write_text(REFUSED + "(STILL)\n")
        watching.until("it is refused again", tells(lid="1"))
        lid.write_text(lot(3))
        assert watching.until("it is mended", tells(lid="written")).exit_code == 0


# --- folders ----------------------------------------------------------------------------------


def test_a_folder_goes_and_comes_back(hive: Workshop) -> None:
    hive.job("lid.nc", lot(1))
    with Watching(hive) as watching:
        watching.until("it is written")
        hive.jobs.rename(hive.root / "away")
        gone = watching.until("the folder is gone", lambda a: "job-folder-gone" in names(a))
        assert gone.state == "watching no jobs"
        hive.jobs.mkdir()
        hive.job("lid.nc", lot(2))
        watching.until("it is taken up", lambda answer: fates(answer) == {"lid.nc": "replaced"})
        hive.job("lid.nc", lot(3))
        watching.until("the new folder is watched", tells(lid="replaced"))
    assert lots(hive) == {"LID.NC": "3"}


def test_a_folder_that_cannot_be_listed(hive: Workshop, monkeypatch: pytest.MonkeyPatch) -> None:
    """The other one is looked at all the same."""
    rim, locked = hive.job("rim.nc"), hive.root / "locked"
    locked.mkdir()
    original = Path.iterdir

    def iterdir(path: Path) -> Iterator[Path]:
        if path == locked:
            raise PermissionError(errno.EACCES, "Permission denied", str(path))
        return original(path)

    monkeypatch.setattr(Path, "iterdir", iterdir)
    given = Given.of(hive.recipe, [locked, hive.jobs], hive.card)
    sight = look(given, [])
    assert [job.path for job in sight.jobs] == [rim]
    assert [finding.what for finding in sight.findings] == [
        f"the folder {locked} cannot be listed: Permission denied"
    ]


def test_an_empty_folder_waits_for_jobs(hive: Workshop) -> None:
    with Watching(hive) as watching:
        assert watching.until("nothing is there").state == "watching no jobs"
        hive.job("lid.nc")
        watching.until("it is written", tells(lid="written"))


def test_a_link_to_a_folder_and_a_link_to_a_job(hive: Workshop) -> None:
    (hive.root / "stick").mkdir()
    (hive.root / "drawer").mkdir()
    for number, name in enumerate(("stick", "drawer"), 1):
        (hive.root / name / "lid.nc").write_text(lot(number))
    folder, rim = hive.root / "today", hive.jobs / "rim.nc"
    folder.symlink_to("stick")
    (hive.root / "store.nc").write_text(lot(5))
    rim.symlink_to(hive.root / "store.nc")
    with Watching(hive, folder, rim) as watching:
        watching.until("both are written")
        assert lots(hive) == {"LID.NC": "1", "STORE.NC": "5"}
        (hive.root / "stick" / "lid.nc").write_text(lot(7))
        watching.until("behind the folder's link", tells(lid="replaced"))
        (hive.root / "store.nc").write_text(lot(8))
        watching.until("behind the job's link", tells(store="replaced"))
        folder.unlink()
        folder.symlink_to("drawer")
        watching.until("another job of that name", lambda a: "card-file-displaced" in names(a))
        wait_for("another folder", lambda: lots(hive) == {"LID.NC": "2", "STORE.NC": "8"})


def test_where_news_come_from(hive: Workshop) -> None:
    lid = hive.job("lid.nc")
    given = Given.of(hive.recipe, [lid, hive.jobs], hive.card)
    sight = look(given, named_files(hive.recipe))
    assert places_of(given, sight) == {hive.jobs, hive.recipe.parent, hive.root}
    hive.jobs.rename(hive.root / "away")
    gone = look(given, named_files(hive.recipe))
    assert places_of(given, gone) == {hive.recipe.parent, hive.root}


# --- the recipe -------------------------------------------------------------------------------


def test_a_recipe_that_changes_makes_all_anew(hive: Workshop) -> None:
    hive.job("lid.nc"), hive.job("rim.nc")
    with Watching(hive) as watching:
        watching.until("both are written")
        hive.recipe.write_text(hive.recipe.read_text().replace("LIDS", "LATE LIDS"))
        watching.until("both are replaced", tells(lid="replaced", rim="replaced"))
        assert holds(hive, "RIM.NC", "(LATE LIDS)")()
        hive.recipe.write_text(hive.recipe.read_text() + "# a remark\n")
        assert watching.until("nothing follows from a remark").prepared.files == ()


def test_a_recipe_that_is_broken_for_a_while(hive: Workshop) -> None:
    sound = hive.recipe.read_text()
    lid = hive.job("lid.nc", lot(1))
    with Watching(hive) as watching:
        watching.until("it is written")
        hive.recipe.write_text(sound.replace("capitals", "capitol"))
        broken = watching.until("it is broken", lambda a: "recipe-unknown-step" in names(a))
        assert (broken.wanting, broken.exit_code, fates(broken)) == ("recipe", 3, {})
        lid.write_text(lot(2))
        told = watching.until("nothing is written")
        assert (told.wanting, told.prepared.files) == ("recipe", ())
        assert "nothing is written" in told.state
        assert lots(hive) == {"LID.NC": "1"}
        hive.recipe.write_text(sound)
        watching.until("it is mended", tells(lid="replaced"))
    assert lots(hive) == {"LID.NC": "2"}


def test_a_recipe_that_is_broken_at_first(hive: Workshop) -> None:
    hive.job("lid.nc")
    sound = hive.recipe.read_text()
    hive.recipe.write_text("name: [")
    with Watching(hive) as watching:
        assert watching.until("it is broken").exit_code == 3
        hive.recipe.write_text(sound)
        watching.until("it is mended", tells(lid="written"))


def test_a_machine_file_that_a_parent_names(hive: Workshop) -> None:
    """The recipe is extended by another one, which is watched; the machine is missing at first."""
    hive.job("lid.nc")
    child, away = hive.recipe.parent / "today.yaml", hive.recipe.parent / "away"
    child.write_text("format: headrace-recipe/2\nextends: plain.yaml\nname: Today\n")
    machine = hive.recipe.parent / "machine.yaml"
    machine.rename(away)
    given = Given.of(child, [hive.jobs], hive.card)
    watching = Watching(hive)
    watching.watch = Watch(given, load_registry())
    with watching:
        broken = watching.until("there is no machine")
        assert names(broken) == {"recipe-missing"}
        away.rename(machine)
        watching.until("it is there", tells(lid="written"))
        machine.write_text(machine.read_text().replace("extension: NC", "extension: TAP"))
        watching.until("another extension", tells(lid="written"))
        assert (hive.card / "LID.TAP").is_file()
        parent = hive.recipe
        parent.write_text(parent.read_text().replace("LIDS", "LATE"))
        watching.until("the parent changed", tells(lid="replaced"))


def test_the_files_of_a_recipe_are_those_that_its_plan_read(hive: Workshop) -> None:
    child = hive.recipe.parent / "today.yaml"
    child.write_text("format: headrace-recipe/2\nextends: plain.yaml\nname: Today\n")
    for recipe in (hive.recipe, child):
        plan = load_plan(recipe, load_registry())
        assert named_files(recipe) == {*plan.sources, *plan.python_files}
    hive.recipe.write_text("name: [")
    assert named_files(child) == {child, child.parent / "plain.yaml"}
    hive.recipe.write_text("extends: today.yaml")
    assert named_files(child) == {child, child.parent / "plain.yaml"}


def test_a_step_that_changes_within_a_second_at_the_same_length(hive: Workshop) -> None:
    """Python takes compiled code for fresh when second and length are the same (PEP 3147 and
    importlib: "source mtime and size")."""
    hive.job("lid.nc")
    steps = hive.recipe.parent / "hive_steps.py"
    sound = steps.read_text()
    with Watching(hive) as watching:
        watching.until("it is written")
        for word in ("NEW", "OLD", "WAX"):
            steps.write_text(sound.replace("({text})", f"({word} {{text}})"))
            watching.until("it is replaced", tells(lid="replaced"))
            assert holds(hive, "LID.NC", f"({word} LIDS)")()
        steps.write_text("1 / 0\n")
        assert watching.until("the plugin is at fault").exit_code == 4
        steps.write_text(sound)
        watching.until("it is mended", tells(lid="replaced"))
    assert not (hive.recipe.parent / "__pycache__").exists()


# --- the card ---------------------------------------------------------------------------------


def test_a_card_goes_and_comes_back(hive: Workshop) -> None:
    lid = hive.job("lid.nc", lot(1))
    with Watching(hive) as watching:
        watching.until("it is written")
        hive.card.rename(hive.root / "pocket")
        out = watching.until("it is out", lambda answer: "card-missing" in names(answer))
        assert (out.wanting, out.exit_code) == ("card", 5)
        lid.write_text(lot(2))
        assert watching.until("nothing is written").wanting == "card"
        (hive.root / "pocket").rename(hive.card)
        watching.until("it is back", tells(lid="replaced"))
    assert lots(hive) == {"LID.NC": "2"}
    assert not (hive.root / "pocket").exists()


def test_another_card(hive: Workshop) -> None:
    hive.job("lid.nc")
    with Watching(hive) as watching:
        watching.until("it is written", tells(lid="written"))
        hive.card.rename(hive.root / "pocket")
        hive.card.mkdir()
        watching.until("the other one is written to as well", tells(lid="written"))


def test_the_folder_that_a_card_covers_is_no_card(
    hive: Workshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    mounted = True
    monkeypatch.setattr(os.path, "ismount", lambda path: mounted and Path(path) == hive.card)
    lid = hive.job("lid.nc", lot(1))
    with Watching(hive) as watching:
        watching.until("it is written", tells(lid="written"))
        mounted = False
        out = watching.until("it is out", lambda answer: "card-missing" in names(answer))
        assert "mere folder" in out.prepared.findings[-1].what
        lid.write_text(lot(2))
        watching.until("nothing is written", lambda answer: answer.wanting == "card")
        assert lots(hive) == {"LID.NC": "1"}
        mounted = True
        watching.until("it is back", tells(lid="replaced"))


def test_a_card_that_another_run_holds(hive: Workshop) -> None:
    pytest.importorskip("fcntl")
    lid = hive.job("lid.nc", lot(1))
    with Watching(hive) as watching:
        watching.until("it is written", tells(lid="written"))
        with card_folder(hive.card, []):  # between two changes anybody may have it
            lid.write_text(lot(2))
            busy = watching.until("it is busy", lambda answer: "card-busy" in names(answer))
            assert busy.wanting == "card"
            assert lots(hive) == {"LID.NC": "1"}
        watching.until("it is free", tells(lid="replaced"))
    told = [answer for answer in watching.answers if "card-busy" in names(answer)]
    assert len(told) == 1, "it is told again and again"


def test_a_stranger_in_the_way_goes(hive: Workshop) -> None:
    hive.job("lid.nc")
    stranger = hive.card / "LID.NC"
    stranger.write_bytes(b"of another program")
    with Watching(hive) as watching:
        watching.until("it is in the way", lambda answer: "card-foreign-file" in names(answer))
        stranger.unlink()
        watching.until("it is gone", tells(lid="written"))


def test_damage_on_the_card_is_seen_at_the_next_change(hive: Workshop) -> None:
    """By its time, though what was read before is not read again."""
    lid, _ = hive.job("lid.nc", lot(1)), hive.job("rim.nc", lot(1))
    with Watching(hive) as watching:
        watching.until("both are written")
        lid.write_text(lot(2))
        watching.until("it is replaced", tells(lid="replaced"))
        rim = hive.card / "RIM.NC"
        rim.write_bytes(rim.read_bytes().replace(b"F900", b"F700"))
        lid.write_text(lot(3))
        answer = watching.until("it is told", lambda a: a.wanting == "card")
        assert "card-changed-file" in names(answer)
        assert lots(hive) == {"LID.NC": "2", "RIM.NC": "1"}
        rim.unlink()
        mended = watching.until("it is taken off")
        assert fates(mended) == {"lid.nc": "replaced", "rim.nc": "written"}


def test_a_card_that_is_not_fit_is_tried_less_and_less_often(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    now = 100.0
    monkeypatch.setattr(slot.time, "monotonic", lambda: now)
    card = Slot(tmp_path)
    full = CardError(findings=[Finding.of("card-full", "full")])
    busy = CardError(findings=[Finding.of("card-busy", "busy")])
    assert not card.worth_another_try()
    waits = []
    for error in [full] * 8 + [busy] * 2:
        card.reject(error)
        begun = now
        while not card.worth_another_try():
            now += 0.5
        waits.append(now - begun)
    assert waits == [1.5, 2.5, 4.5, 8.5, 16.5, 32.5, 60.5, 60.5, 1.5, 1.5]
    card.reject(full)
    (tmp_path / "ROOM.NC").write_bytes(b"")
    assert card.worth_another_try()
    card.accept()
    assert not card.worth_another_try()


# --- news -------------------------------------------------------------------------------------


class Mute(Bell):
    """A bell that has no news, as on a share of another machine (common practice)."""

    def listen(self, _folders: frozenset[Path]) -> bool:
        return False


def test_what_the_system_gives_no_news_of_is_seen_all_the_same(hive: Workshop) -> None:
    lid = hive.job("lid.nc", lot(1))
    with Watching(hive, bell=Mute()) as watching:
        watching.until("it is written")
        lid.write_text(lot(2))
        watching.until("it is replaced", tells(lid="replaced"))
        hive.recipe.write_text(hive.recipe.read_text().replace("LIDS", "LATE"))
        watching.until("the recipe is read again", tells(lid="replaced"))


@contextmanager
def no_news(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """What the library does where the system lets nobody watch more files."""

    def fail(*_: object, **__: object) -> Iterator[Any]:
        raise RuntimeError("no more files can be watched")
        yield

    with monkeypatch.context() as patch:
        patch.setattr("watchfiles.watch", fail)
        yield


def test_where_the_system_refuses_to_give_news_that_is_told_once(
    hive: Workshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    lid = hive.job("lid.nc", lot(1))
    with no_news(monkeypatch), Watching(hive) as watching:
        first = watching.until("it is written", tells(lid="written"))
        assert "watch-without-news" in names(first)
        lid.write_text(lot(2))
        second = watching.until("it is replaced", tells(lid="replaced"))
        assert "watch-without-news" not in names(second)


def test_passed_over_files_are_told_when_they_come(hive: Workshop) -> None:
    hive.job("lid.nc")
    with Watching(hive) as watching:
        watching.until("it is written")
        hive.job("notes.txt")
        noted = watching.until("it is passed over", lambda answer: "passed-over" in names(answer))
        assert fates(noted) == {}
        hive.job(".lid.nc.swp")
        hive.job("lid.nc", lot(2))
        assert "passed-over" not in names(watching.until("lid", tells(lid="replaced")))


# --- trust ------------------------------------------------------------------------------------


def test_a_python_file_that_changes_is_refused_until_it_is_trusted(
    hive: Workshop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("HEADRACE_PYTHON")
    monkeypatch.setenv("HEADRACE_STATE", str(tmp_path / "state"))
    steps = hive.recipe.parent / "hive_steps.py"

    def trust() -> None:
        TrustedList.of_user().add([Entry(PythonFile.read(steps).sha256, str(steps))])

    trust()
    hive.job("lid.nc")
    with Watching(hive) as watching:
        watching.until("the lid is written", tells(lid="written"))
        track = tmp_path / "track"
        lines = f"from pathlib import Path\nPath({str(track)!r}).touch()\n"
        steps.write_text(steps.read_text().replace("from headrace", f"{lines}from headrace", 1))
        watching.until("it is refused", lambda answer: "python-untrusted" in names(answer))
        assert not track.exists()
        trust()
        watching.until("it runs", lambda answer: "python-untrusted" not in names(answer))
        assert track.exists()
        TrustedList.of_user().forget([PythonFile.read(steps).sha256])
        watching.until("it is forgotten", lambda answer: "python-untrusted" in names(answer))
