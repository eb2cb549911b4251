"""The test files for the card: rehearsed on the machines of the gallery, and followed by the
interpreter of `reference`, which was written from the standard alone.

Sources: RS274/NGC (NISTIR 6556) 3.5.8 (G28 goes through the point on its line), 3.5.9 (probes),
3.5.18 (G92), 3.6.1 (M0); short names after the FAT specification. That a file which may move waits
for its operator first, with an empty bed and no bit, is common practice.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import yaml
from click.testing import CliRunner
from pipeline.interview.people import GALLERY, RECIPES, described
from reference import Options, Run, Start, run

from headrace.card.delivery import Fate
from headrace.cli.group import headrace
from headrace.errors import CardError
from headrace.interview.draft import Draft, read_draft
from headrace.interview.question import at
from headrace.interview.questions import question_of
from headrace.interview.trial.file import TrialFile
from headrace.interview.trial.files import FILES
from headrace.interview.trial.sheet import NAME
from headrace.interview.trial.still import ruler
from headrace.interview.trial.writing import is_sealed, sealed, why_not, write_tests
from headrace.language import interpret
from headrace.machine import Machine
from headrace.program import Program


@cache
def draft_of(name: str) -> Draft:
    return read_draft(RECIPES / "machines" / f"{name}.yaml")


CASES = [(name, file) for name in GALLERY for file in FILES if not why_not(draft_of(name), file)]
IDS = [f"{name}-{file.stem}" for name, file in CASES]


def lines_of(name: str, file: TrialFile) -> list[str]:
    """The lines of a test file for a machine of the gallery."""
    return file.content(draft_of(name)).decode("ascii").splitlines()


@cache
def followed(name: str, file: TrialFile) -> Run:
    """What the reference makes of them, from the middle of the travel. Home is where the machine
    shows its homed numbers; those are its machine coordinates."""
    lines = lines_of(name, file)
    axes = described(name)["axes"]
    middle = tuple(sum(axes[letter]["travel"]) / 2 for letter in "xyz")
    homed = {5161 + n: float(axes[letter]["homed-number"]) for n, letter in enumerate("xyz")}
    done = run(
        lines,
        start=Start(position=(*middle, 0.0, 0.0, 0.0), parameters=homed),
        options=Options(require_end=True),
    )
    assert done.error is None, done.error
    return done


def home_of(name: str) -> np.ndarray[Any, np.dtype[np.float64]]:
    axes = described(name)["axes"]
    return np.array([axes[letter]["homed-number"] for letter in "xyz"], float)


def test_most_of_them_are_made_for_each_machine() -> None:
    made = {name: [f.stem for f in FILES if why_not(draft_of(name), f) is None] for name in GALLERY}

    assert len(made[GALLERY[0]]) == len(FILES) == 10
    assert {f.stem for f in FILES} - set(made[GALLERY[1]]) == {"T04WAY"}
    assert {f.stem for f in FILES} - set(made[GALLERY[2]]) == {"T07SHOWN", "T10KEPT"}


# --- what they may not do ---------------------------------------------------------------------


@pytest.mark.parametrize(("name", "file"), CASES, ids=IDS)
def test_no_word_for_the_spindle_nor_for_anything_that_is_switched(
    name: str, file: TrialFile
) -> None:
    lines = lines_of(name, file)
    words = [w for line in lines for w in re.sub(r"\(.*?\)|;.*", "", line).split()]
    pause, end = (described(name)["pause"]["word"], described(name)["end"])

    assert {word for word in words if word[0] == "M"} <= {pause, end}
    assert not [word for word in words if word[0] in "STDH"]
    done = followed(name, file)
    assert {event.kind for event in done.events} <= {"message", "stop", "end", "dwell"}


@pytest.mark.parametrize(("name", "file"), CASES, ids=IDS)
def test_nothing_moves_before_three_pauses_nor_far_from_home(name: str, file: TrialFile) -> None:
    done = followed(name, file)
    axes, home = described(name)["axes"], home_of(name)
    stops = [event.after for event in done.events if event.kind == "stop"]
    gone = [
        number for number, move in enumerate(done.moves) if move.machine_start != move.machine_end
    ]

    assert bool(gone) == file.moves
    if not gone:
        return
    assert sum(after <= gone[0] for after in stops) >= 3
    arrived = False
    for move in done.moves:
        place = np.array(move.machine_end[:3]) - home
        arrived = arrived or not place.any()
        if arrived:
            for letter, way in zip("XYZ", place, strict=True):
                inward = 1 if axes[letter.lower()]["home-end"] == "low" else -1
                assert 0 <= way * inward <= file.reach.get(letter, 0) + 1e-9, (move, letter)
    assert arrived


@pytest.mark.parametrize(("name", "file"), CASES, ids=IDS)
def test_only_one_of_them_goes_fast(name: str, file: TrialFile) -> None:
    done = followed(name, file)
    home_lines = {n for n, line in enumerate(lines_of(name, file)) if re.search(r"\bG28\b", line)}
    fast = [m for m in done.moves if m.kind == "rapid" and m.line not in home_lines]

    assert bool(fast) == (file.stem == "T05RAPID")
    for move in done.moves:
        if move.kind in ("feed", "probe"):
            down = move.machine_end[2] < move.machine_start[2]
            assert move.feed is not None
            assert move.feed <= (60 if down else 300)
            assert not down or file.stem in ("T08LOW", "T09PROBE")


@pytest.mark.parametrize(("name", "file"), CASES, ids=IDS)
def test_headrace_reads_the_same_way_as_the_reference(name: str, file: TrialFile) -> None:
    """Every move but homing, which the described machines do otherwise than G28 of the standard."""
    lines = lines_of(name, file)
    text = "\n".join(lines) + "\n"
    trace = interpret(Program.read(text.encode("ascii"), "trial.nc"))
    theirs = [m for m in followed(name, file).moves if not re.search(r"\bG28\b", lines[m.line])]
    ours = [m for m in trace.moves() if not re.search(r"\bG28\b", lines[m.line])]

    assert [m.line for m in ours] == [m.line for m in theirs]
    for mine, other in zip(ours, theirs, strict=True):
        way = np.array(other.end[:3]) - np.array(other.start[:3])
        own = np.array(mine.end[:3]) - np.array(mine.start[:3])
        known = np.isfinite(own)
        assert own[known] == pytest.approx(way[known])


def test_a_machine_that_is_homed_at_its_panel_is_asked_for_it() -> None:
    draft = draft_of(GALLERY[0])
    data = {**draft.data, "homing": {"by": "by-hand"}}
    by_hand = replace(draft, data=data)
    made = [file for file in FILES if why_not(by_hand, file) is None]
    home = home_of(GALLERY[0])

    assert {f.stem for f in FILES} - {f.stem for f in made} == {"T03HOME", "T04WAY"}
    for file in made:
        lines = file.content(by_hand).decode("ascii").splitlines()
        assert not any("G28" in line for line in lines)
        assert ("(HOME AT THE PANEL)" in lines) == file.moves
        assert ("(IS IT HOMED? OR STOP)" in lines) == file.moves
        done = run(lines, start=Start(position=(*home, 0.0, 0.0, 0.0)))
        assert done.error is None
        for move in done.moves:
            for letter, way in zip("XYZ", np.array(move.machine_end[:3]) - home, strict=True):
                assert abs(way) <= file.reach.get(letter, 0) + 1e-9


# --- what they are made of --------------------------------------------------------------------


@pytest.mark.parametrize(("name", "file"), CASES, ids=IDS)
def test_a_file_is_short_and_in_the_words_of_the_machine(name: str, file: TrialFile) -> None:
    lines = lines_of(name, file)
    said = described(name)
    bare = [line for line in lines if line != "%"]

    assert (lines[0] == lines[-1] == "%") == said["percent"]
    assert len(lines) <= 90
    assert all(len(line) <= min(72, said["line"]["length"]) for line in lines)
    assert bare[0].startswith(f"({file.stem}")
    assert bare[-1] == said["end"]
    assert not any(";" in line for line in lines)
    assert re.fullmatch(r"[A-Z0-9_-]{1,8}", file.stem)
    ends = file.content(draft_of(name))
    assert ends.count(b"\r\n") == (ends.count(b"\n") if said["line"]["end"] == "CRLF" else 0)


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_orders_fit_a_display_of_twenty_characters(file: TrialFile) -> None:
    lines = lines_of("bench-hand-switched", file)
    orders = [one for one, two in pairwise(lines) if two == "M0"]

    assert orders
    if file.stem != "T01PAUSE":
        assert all(len(order.strip("()")) <= 20 for order in orders), orders


def test_a_text_counts_its_own_places() -> None:
    """Read as the list tells: the letter's tens, 5 for a + behind it, 1 for each point behind."""
    for begin in ("BEFORE ", "SAME-LINE "):
        text = ruler(begin)
        for place in range(len(begin) + 1, len(text) + 1):
            shown = text[len(begin) : place]
            behind = shown.lstrip(".+")[-1:] and shown[max(map(shown.rfind, "ABCDEF")) :]
            if behind:
                tens, _, ones = behind.rpartition("+")
                read = 10 * "?ABCDEF".index(behind[0]) + (5 if tens else 0)
                assert read + ones.count(".") == place


@pytest.mark.parametrize(("name", "file"), CASES, ids=IDS)
def test_a_rehearsal_of_the_file_alone_refuses_nothing(
    name: str, file: TrialFile, tmp_path: Path
) -> None:
    """As `headrace check --machine` does it, on the machine as it is described before the file has
    told what it is for: without the optional fields that it asks about."""
    said = described(name)
    for asked in file.shows:
        question = question_of(asked)
        assert question is not None
        for path in question.fields:
            _forget(said, path)
    machine, job = tmp_path / "mine.yaml", tmp_path / f"{file.stem}.NC"
    machine.write_text(yaml.safe_dump(said), "utf-8")
    job.write_bytes(file.content(draft_of(name)))
    done = CliRunner().invoke(
        headrace, ["check", "--json", "--jobs", "1", "--machine", str(machine), str(job)]
    )
    told = json.loads(done.stdout)

    refused = [f for f in told["findings"] if f["severity"] == "refuse"]
    refused += [f for each in told["files"] for f in each["findings"] if f["severity"] == "refuse"]
    # One of them steps 2 mm before it homes, from where a hand has left the head.
    known = {"place-unknown"} if file.stem == "T03HOME" else set()
    assert {f["name"] for f in refused} <= known
    assert done.exit_code == (1 if refused else 0)


@pytest.mark.parametrize(
    ("lines", "refused"),
    [
        ("G21 G91\nG28 X0\nG1 X5 F100\nG90\nM2\n", False),
        ("G21 G91\nG1 X5 F100\nG28 X0\nG90\nM2\n", True),
        ("G21 G91\nG28 X0\nG1 X5 Y5 F100\nG90\nM2\n", True),
    ],
)
def test_increments_count_from_home_only_behind_homing(
    lines: str, refused: bool, tmp_path: Path
) -> None:
    job = tmp_path / "way.nc"
    job.write_text(lines, "ascii")
    machine = RECIPES / "machines" / f"{GALLERY[2]}.yaml"
    done = CliRunner().invoke(
        headrace, ["check", "--json", "--jobs", "1", "--machine", str(machine), str(job)]
    )
    [file] = json.loads(done.stdout)["files"]
    told = [f["severity"] for f in file["findings"] if f["name"] == "place-unknown"]

    assert ("refuse" in told) == refused
    assert told


def _forget(said: dict[str, Any], path: tuple[Any, ...]) -> None:
    """Take an optional field out."""
    from headrace.interview.fields import is_required

    here: Any = said
    for key in path[:-1]:
        here = here.get(key, {})
    alone = path[0] == "soft-limits" and path[-1] == "action"
    if alone:
        said.pop("soft-limits", None)
    elif not is_required(path) and path != ("homing", "word"):
        here.pop(path[-1], None)


# --- when they are written, and when not ------------------------------------------------------


def test_they_come_as_answers_come(tmp_path: Path) -> None:
    path, card = tmp_path / "mine.yaml", tmp_path / "card"
    card.mkdir()
    path.write_text("format: headrace-machine/1\ncomments: semicolon\n", "utf-8")
    with pytest.raises(CardError) as told:
        write_tests(read_draft(path), card)
    assert told.value.findings[0].name == "no-test-file-yet"
    assert not list(card.iterdir())

    path.write_text(path.read_text("utf-8") + "pause: {word: M1, text: same-line}\n", "utf-8")
    written = write_tests(read_draft(path), card)
    assert [name for name, _ in written.files] == ["T01PAUSE.NC", "T02DWELL.NC", NAME]
    assert {p.name for p in card.iterdir()} == {"T01PAUSE.NC", "T02DWELL.NC", NAME}
    text = (card / "T02DWELL.NC").read_text("ascii")
    assert "(" not in text
    assert "M1 ; START THE WATCH\nG4 P2\nM1 ; STOP THE WATCH\n" in text
    assert (
        dict(written.left_out)["T03HOME"] == "answer homing-by, homing-word and homing-axes first"
    )


def test_no_file_moves_a_machine_whose_z_homes_downwards_or_that_is_too_short() -> None:
    for keys, value, why in (
        (("axes", "z", "home-end"), "low", "here Z homes at its low end"),
        (("axes", "x", "travel"), [0, 70], "it needs 85 mm of travel in X"),
        (("units",), ["inch"], "this machine reads inches only"),
        (("distances",), ["absolute"], "G91"),
    ):
        draft = draft_of(GALLERY[0])
        data = json.loads(json.dumps(draft.data))
        here = data
        for key in keys[:-1]:
            here = here[key]
        here[keys[-1]] = value
        limit = next(file for file in FILES if file.stem == "T06LIMIT")
        told = why_not(replace(draft, data=data), limit)
        assert told is not None
        assert why in told


def test_the_list_tells_of_each_file(tmp_path: Path) -> None:
    written = write_tests(draft_of(GALLERY[1]), tmp_path)
    data = written.sheet.read_bytes()
    text = data.decode("ascii")

    assert data.count(b"\n") == data.count(b"\r\n")
    assert all(len(line) <= 76 for line in text.split("\r\n"))
    for name, _ in written.files:
        assert name in text or name == NAME
    for file in FILES:
        if why_not(draft_of(GALLERY[1]), file) is None:
            stops = file.stops(draft_of(GALLERY[1]))
            lines = file.content(draft_of(GALLERY[1])).decode("ascii").splitlines()
            assert len(stops) == sum(line.startswith("M0") for line in lines)
            for number, stop in enumerate(stops, 1):
                assert f"{number} {stop}" in " ".join(text.split())
            flat = " ".join(text.split())
            for sentence in (*file.watch, *file.told, *file.prepare):
                assert sentence in flat
    assert "NOT WRITTEN" in text


def test_only_files_as_they_were_written_are_replaced(tmp_path: Path) -> None:
    draft = draft_of(GALLERY[0])
    first = write_tests(draft, tmp_path)
    assert {fate for _, fate in first.files} == {"written"}
    assert {fate for _, fate in write_tests(draft, tmp_path).files} == {"unchanged"}
    data = json.loads(json.dumps(draft.data))
    data["pause"]["text"] = "same-line"
    other = replace(draft, data=data)
    fates = dict(write_tests(other, tmp_path).files)
    assert fates["T02DWELL.NC"] == "replaced"

    mine = tmp_path / "T02DWELL.NC"
    mine.write_bytes(mine.read_bytes().replace(b"G4 P2", b"G4 P3"))
    held = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    with pytest.raises(CardError) as told:
        write_tests(draft, tmp_path)
    assert [finding.name for finding in told.value.findings] == ["test-file-kept"]
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == held


def test_a_seal_is_broken_by_any_change(tmp_path: Path) -> None:
    for file in FILES:
        data = sealed(file.content(draft_of(GALLERY[0])))
        assert is_sealed(data)
        for place in range(0, len(data), 7):
            changed = bytearray(data)
            changed[place] ^= 1
            assert not is_sealed(bytes(changed))
    assert not is_sealed(sealed(b"G21\nG0 X1\n"))
    assert tmp_path.is_dir()


def test_fates_have_words() -> None:
    from headrace.interview.trial.writing import _FATES

    assert set(_FATES) == {Fate.WRITTEN, Fate.REPLACED, Fate.UNCHANGED}
    assert Machine.of(described(GALLERY[0])).pause.word == draft_of(GALLERY[0]).value(
        at("pause.word")
    )


# --- a machine that differs from its description ------------------------------------------------


def _variants() -> Iterator[tuple[str, Draft]]:
    """Machines that home up or down the numbers, on either side of zero, by any word or by hand."""
    base = draft_of(GALLERY[0])
    spans = {"low": ((0.0, 620.0), (-620.0, 0.0)), "high": ((0.0, 620.0), (-620.0, 0.0))}
    for end, travels in spans.items():
        for low, high in travels:
            for back in (0.0, 5.0):
                for by in ({"by": "word", "word": "G28"}, {"by": "by-hand"}):
                    data = json.loads(json.dumps(base.data))
                    homed = low + back if end == "low" else high - back
                    for letter in "xy":
                        data["axes"][letter] |= {
                            "travel": [low, high], "home-end": end, "homed-number": homed,
                        }  # fmt: skip
                    for z_low, z_high in ((-85.0, 0.0), (0.0, 85.0)):
                        data["axes"]["z"] |= {
                            "travel": [z_low, z_high], "homed-number": z_high - back,
                        }  # fmt: skip
                        for lowest in (None, 0):
                            made = json.loads(json.dumps(data)) | {"homing": by}
                            made["probe"].pop("lowest-target", None)
                            if lowest is not None:
                                made["probe"]["lowest-target"] = lowest
                            name = f"{end} {low:g} {back:g} {by['by']} {z_low:g} {lowest}"
                            yield name, replace(base, data=made)


VARIANTS = dict(_variants())


def _stretches(lines: list[str]) -> Iterator[list[str]]:
    """What runs between two stops."""
    run_on: list[str] = []
    for line in lines:
        if line == "M0":
            yield run_on
            run_on = []
        elif not line.startswith("("):
            run_on.append(line)
    yield run_on


@pytest.mark.parametrize("name", VARIANTS)
def test_a_machine_that_passes_over_g91_is_found_by_two_slow_steps(name: str) -> None:
    """It takes every number for a place (RS274/NGC 3.5.17 without its G91). Each file is run so; a
    person goes on only where a step was 1 mm long, as the stop asks. Until then nothing but
    homing is fast, and no file gets beyond the steps."""
    draft = VARIANTS[name]
    for file in FILES:
        if not file.moves or why_not(draft, file) is not None:
            continue
        axes = {letter.upper(): axis for letter, axis in draft.data["axes"].items()}
        at_home = {letter: float(axis["homed-number"]) for letter, axis in axes.items()}
        place = dict(at_home)
        if file.stem == "T03HOME":  # it has been brought to the middle, and homed before
            place = {letter: sum(axis["travel"]) / 2 for letter, axis in axes.items()}
        found = False
        for lines in _stretches(file.content(draft).decode("ascii").splitlines()):
            if found:
                break
            start = dict(place)
            for line in lines:
                words = dict(re.findall(r"([A-Z])(-?[0-9.]+)", line))
                numbers = {axis: float(words[axis]) for axis in "XYZ" if axis in words}
                if line.startswith("G28"):
                    assert file.stem != "T03HOME", "the steps come first"
                    place |= {axis: at_home[axis] for axis in numbers}
                elif line.startswith("G92"):
                    place |= numbers
                    start |= numbers
                elif line.startswith("G1 "):
                    assert float(words["F"]) <= 60, (file.stem, line)
                    place |= numbers
                else:
                    assert not numbers, (file.stem, line)
            gone = {axis: abs(place[axis] - start[axis]) for axis in place}
            if any(line.startswith("G1 ") for line in lines):
                found = sum(gone.values()) != pytest.approx(1)
        assert found, (name, file.stem)


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_a_note_that_is_read_as_words_moves_and_switches_nothing(file: TrialFile) -> None:
    """Where a machine does not read notes as it is described, no letter has a number behind it, but
    for the T of the file's own name."""
    for line in sealed(file.content(draft_of(GALLERY[0]))).decode("ascii").splitlines():
        for note in re.findall(r"\((.*?)\)", line):
            words = re.findall(r"[A-Z][ :,=]*[-+]?\.?[0-9]", note.replace(file.stem, ""))
            assert not words, note


@pytest.mark.parametrize("name", VARIANTS)
def test_wherever_a_file_is_stopped_at_a_pause_it_counts_in_places_again(name: str) -> None:
    for file in FILES:
        if why_not(VARIANTS[name], file) is None:
            modes = "G90"
            for line in file.content(VARIANTS[name]).decode("ascii").splitlines():
                modes = line if line in ("G90", "G91") else modes
                assert not line.startswith("M0") or modes == "G90"


def test_a_file_needs_the_word_that_it_homes_by() -> None:
    draft = draft_of(GALLERY[0])
    data = json.loads(json.dumps(draft.data))
    del data["homing"]["word"]
    for file in FILES:
        told = why_not(replace(draft, data=data), file)
        assert (told == "answer homing-word first") == file.moves, file.stem


@pytest.mark.parametrize("name", VARIANTS)
def test_stops_are_listed_in_the_order_in_which_they_come(name: str) -> None:
    draft = VARIANTS[name]
    for file in FILES:
        if why_not(draft, file) is None and file.stem != "T01PAUSE":
            lines = file.content(draft).decode("ascii").splitlines()
            shown = [one.strip("()") for one, two in pairwise(lines) if two == "M0"]
            assert file.stops(draft) == shown


def test_a_file_that_could_teach_a_wrong_answer_is_not_written() -> None:
    for stem, keys, value, why in (
        ("T05RAPID", ("axes", "y", "rapid"), 1000, "both ways of going there would look the same"),
        ("T07SHOWN", ("soft-limits", "action"), "none", "this machine has none"),
        ("T09PROBE", ("soft-limits", "numbers"), "shown", "would move with it"),
    ):
        draft = draft_of(GALLERY[0])
        data = json.loads(json.dumps(draft.data))
        here = data
        for key in keys[:-1]:
            here = here[key]
        here[keys[-1]] = value
        file = next(each for each in FILES if each.stem == stem)
        assert why_not(draft, file) is None
        assert why in str(why_not(replace(draft, data=data), file))


@pytest.mark.parametrize("name", VARIANTS)
def test_each_move_has_a_stop_before_it(name: str) -> None:
    """Between two stops there is one move at the most."""
    for file in FILES:
        if why_not(VARIANTS[name], file) is None:
            for lines in _stretches(file.content(VARIANTS[name]).decode("ascii").splitlines()):
                moves = [line for line in lines if re.match(r"G(0|1|28|38\.2) ", line)]
                assert len(moves) <= 1, (file.stem, moves)
