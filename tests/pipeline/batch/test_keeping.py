"""Kept outcomes: made again and compared. Checked against outside things: `git` (what a checkout
does to bytes, gitattributes(5)), `hashlib`, `json`, and the system's own file times."""

from __future__ import annotations

import hashlib
import json
import os
import re
import shutil
import subprocess
import warnings
from dataclasses import replace
from itertools import count
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from trials.tools import needed_tools
from workshop import LID, REFUSED, Workshop, set_up

from headrace.batch.keeping import Compared, compare, keep
from headrace.batch.kept import Case, Kept, counted_from, kept_folders, read_kept, seen_from_here
from headrace.batch.outcomes import make
from headrace.batch.sources import collect_jobs
from headrace.cli.group import headrace as command
from headrace.cli.shared import planned
from headrace.errors import CardError
from headrace.findings import Severity
from headrace.report.kept_changes import changes_since
from headrace.report.kept_text import MOST_LINES, difference

RECIPES = Path(__file__).parents[3] / "recipes"
KEPT = "kept"


@pytest.fixture
def hive(tmp_path: Path) -> Workshop:
    hive = set_up(tmp_path / "hive", card_files=True)
    hive.job("lid.nc")
    hive.job("queen.nc", LID.replace("hive lid", "queen's gate").replace("X40", "X55"))
    return hive


def case(hive: Workshop, overrides: tuple[str, ...] = ()) -> Case:
    return Case(hive.recipe, (hive.jobs,), overrides)


def made(folder: Path, what: Case) -> Any:
    plan, registry, _ = planned(what.recipe, what.overrides)
    return make(plan, registry, collect_jobs(what.jobs)[0], what, folder)


def kept(hive: Workshop, what: Case | None = None) -> Path:
    folder = hive.root / KEPT
    keep(folder, read_kept(folder), made(folder, what or case(hive)))
    return folder


def listed(folder: Path) -> Kept:
    found = read_kept(folder)
    assert found is not None
    return found


def checked(folder: Path) -> Compared:
    before = listed(folder)
    return compare(folder, before, made(folder, before.case(folder)))


def changed(compared: Compared) -> dict[str, str]:
    """The outcomes that are not the same."""
    return {name: str(standing) for name, standing in compared.changed().items()}


def tree(root: Path) -> dict[str, tuple[bytes, int, int]]:
    """Every file below a folder: bytes, time of its last change, and which file it is."""
    found = {}
    for path in sorted(root.rglob("*")):
        if path.is_file() and "__pycache__" not in path.parts:
            stat = path.stat()
            found[str(path)] = (path.read_bytes(), stat.st_mtime_ns, stat.st_ino)
    return found


# --- what is kept -----------------------------------------------------------------------------


def test_outcomes_are_what_is_written_to_a_card(hive: Workshop) -> None:
    folder = kept(hive)
    assert hive.run("prepare", hive.recipe, hive.jobs, "--card", hive.card).returncode == 0
    card = {name: data for name, data in hive.on_card().items() if name != "HEADRACE.JSON"}
    files = {path.name: path.read_bytes() for path in folder.iterdir()}

    assert set(files) == {*card, "KEPT.json", ".gitattributes"}
    assert {name: files[name] for name in card} == card
    assert set(card) == {"FIRST.NC", "LID.NC", "QUEEN.NC"}


def test_the_list_says_what_was_made_and_of_what(hive: Workshop) -> None:
    folder = kept(hive, case(hive, ("setup.sheet.thickness=17.5",)))
    told = json.loads((folder / "KEPT.json").read_bytes())
    first, lid, _ = told["files"]
    data = (folder / "LID.NC").read_bytes()
    job = (hive.jobs / "lid.nc").read_bytes()

    assert (told["recipe"], told["jobs"]) == ("../recipes/plain.yaml", ["../jobs"])
    assert told["set"] == ["setup.sheet.thickness=17.5"]
    assert told["values"]["setup"]["sheet"]["thickness"] == 17.5
    assert lid["content"] == {"sha256": hashlib.sha256(data).hexdigest(), "size": len(data)}
    assert lid["source"] == {
        "name": "lid.nc",
        "sha256": hashlib.sha256(job).hexdigest(),
        "size": len(job),
    }
    assert lid["steps"] == ["heading", "capitals", "no-blanks"]
    assert lid["proof"]["moves"] > 0
    assert (first["name"], first["source"], first["proof"]) == ("FIRST.NC", None, None)
    plugin = told["made-by"]["plugins"][0]
    steps = (hive.recipe.parent / "hive_steps.py").read_bytes()
    assert plugin == {
        "name": "hive_steps.py", "version": "", "sha256": hashlib.sha256(steps).hexdigest()
    }  # fmt: skip
    assert told["made-by"]["headrace"]["version"]
    assert str(hive.root) not in json.dumps(told)


def test_a_refused_job_is_kept_as_refused(hive: Workshop) -> None:
    hive.job("bad.nc", REFUSED)
    folder = kept(hive)
    entry = listed(folder).files[1]

    assert entry.refused
    assert (entry.name, entry.source) == ("BAD.NC", "bad.nc")
    assert [finding.name for finding in entry.findings] == ["word-without-value"]
    assert not (folder / "BAD.NC").exists()
    assert changed(checked(folder)) == {}
    hive.job("bad.nc")
    assert changed(checked(folder)) == {"BAD.NC": "changed"}


def test_a_job_in_parts_is_kept_whole_or_as_refused(tmp_path: Path) -> None:
    """Of a job whose second part is refused, the first is no outcome either."""
    shutil.copytree(RECIPES, tmp_path / "recipes")
    job = tmp_path / "recipes" / "jobs" / "feeder-board.nc"
    what = Case(tmp_path / "recipes" / "speed-feeder-boards.yaml", (job,))
    folder = tmp_path / KEPT
    keep(folder, None, made(folder, what))
    assert [file.refused for file in listed(folder).files] == [False, False]
    job.write_bytes(job.read_bytes().replace(b"N685 G0 Z10.", b"N685 G0 Z10.\r\nG0 X9000."))

    now = checked(folder).now

    assert [file.refused for file in now.files] == [True, True]
    assert "part-unready" in [finding.name for finding in now.files[0].findings]


def run_in(where: Path, monkeypatch: pytest.MonkeyPatch, *args: object) -> None:
    """The command, with another working folder."""
    monkeypatch.chdir(where)
    ran = CliRunner().invoke(command, [str(arg) for arg in args])
    assert ran.exit_code == 0, ran.output


def test_the_same_input_gives_the_same_bytes(
    hive: Workshop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """From another folder, by another way to the files, and in another checkout."""
    folder = kept(hive)
    other = tmp_path / "elsewhere" / "deep"
    shutil.copytree(hive.root, other, ignore=shutil.ignore_patterns(KEPT))
    run_in(other, monkeypatch, "keep", "recipes/plain.yaml", "jobs", "--in", KEPT)
    absolute = [other / "recipes" / "plain.yaml", other / "jobs", "--in", other / "third"]
    run_in(tmp_path, monkeypatch, "keep", *absolute)
    first, second, third = (
        {path.name: path.read_bytes() for path in place.iterdir()}
        for place in (folder, other / KEPT, other / "third")
    )

    assert first == second == third


def test_findings_of_a_step_name_the_recipe_the_same_everywhere(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A finding that stands in the recipe: its file is told from the folder of the list."""
    hive = set_up(tmp_path / "hive", steps=["touch-off: {}"])
    hive.job("lid.nc")
    lists = {(kept(hive) / "KEPT.json").read_bytes()}
    for where, way in ((hive.root, Path()), (hive.jobs, Path("..")), (tmp_path, hive.root)):
        args = [way / "recipes" / "plain.yaml", way / "jobs", "--in", way / "again"]
        run_in(where, monkeypatch, "keep", *args)
        lists.add((hive.root / "again" / "KEPT.json").read_bytes())
        shutil.rmtree(hive.root / "again")

    assert len(lists) == 1
    places = [finding["place"] for finding in json.loads(lists.pop())["files"][0]["findings"]]
    assert "../recipes/plain.yaml" in [place["file"] for place in places if place]


@pytest.mark.parametrize("path", ["recipes/plain.yaml", "jobs", "."])
def test_paths_go_there_and_back(hive: Workshop, path: str, monkeypatch: Any) -> None:
    monkeypatch.chdir(hive.root)
    told = counted_from(hive.root / KEPT, Path(path))
    assert seen_from_here(hive.root / KEPT, told) == Path(path)
    monkeypatch.chdir(hive.jobs)
    assert seen_from_here(hive.root / KEPT, told).samefile(hive.root / path)


# --- made again -------------------------------------------------------------------------------


def test_nothing_changed(hive: Workshop) -> None:
    folder = kept(hive)
    before = tree(hive.root)
    compared = checked(folder)

    assert (changed(compared), compared.findings, compared.exit_code) == ({}, (), 0)
    assert (list(difference(compared)), list(changes_since(compared))) == ([], [])
    assert tree(hive.root) == before


def test_a_check_writes_nothing_where_all_is_changed(hive: Workshop) -> None:
    folder = kept(hive)
    hive.job("lid.nc", LID.replace("X40", "X41"))
    (folder / "QUEEN.NC").write_bytes(b"M30\n")
    (folder / "FIRST.NC").unlink()
    before = tree(hive.root)
    compared = checked(folder)
    list(difference(compared))

    assert compared.exit_code == 1
    assert tree(hive.root) == before


def test_a_changed_job_shows_as_a_difference_that_can_be_read(hive: Workshop) -> None:
    folder = kept(hive)
    hive.job("lid.nc", LID.replace("X40 F900", "X41 F900"))
    compared = checked(folder)

    assert changed(compared) == {"LID.NC": "changed"}
    assert list(changes_since(compared)) == ["job lid.nc: another content"]
    assert list(difference(compared)) == [
        f"--- {folder / 'LID.NC'}",
        "+++ LID.NC as it is made now",
        "@@ -4,7 +4,7 @@",
        " M3 S18000",
        " G0 Z5",
        " G1 Z-1 F300",
        "-G1 X40 F900",
        "+G1 X41 F900",
        " G0 Z5",
        " M5",
        " M30",
    ]


def test_a_new_job_and_one_that_is_gone(hive: Workshop) -> None:
    folder = kept(hive)
    hive.job("gate.nc")
    (hive.jobs / "queen.nc").unlink()

    assert changed(checked(folder)) == {"GATE.NC": "new", "QUEEN.NC": "no longer made"}
    kept(hive)
    assert changed(checked(folder)) == {}
    assert not (folder / "QUEEN.NC").exists()


def test_other_findings_are_a_change_though_the_file_is_the_same(hive: Workshop) -> None:
    """The machine does the same, and something else is said of it."""
    hive.job("lid.nc", LID.replace("M30", "M8\nM30"))
    folder = kept(hive)
    machine = hive.recipe.parent / "machine.yaml"
    machine.write_text(machine.read_text() + "outputs: {M8: extraction}\n")
    compared = checked(folder)

    assert changed(compared) == {"LID.NC": "changed"}
    lines = list(difference(compared))
    assert lines[:2] == ["--- LID.NC: what was said", "+++ LID.NC: what is said now"]
    assert lines[2].startswith("-note: M8 switches something on, and nothing is described for it")


def test_a_plugin_is_named(hive: Workshop) -> None:
    folder = kept(hive)
    steps = hive.recipe.parent / "hive_steps.py"
    text = steps.read_text()
    steps.write_text(text.replace('f"({text})"', 'f"(BEES: {text})"'))
    compared = checked(folder)

    assert set(changed(compared)) == {"FIRST.NC", "LID.NC", "QUEEN.NC"}
    assert list(changes_since(compared)) == ["plugin hive_steps.py: another code"]
    steps.write_text(text + "# nothing but a comment\n")
    same = checked(folder)
    assert (changed(same), same.exit_code) == ({}, 0)
    assert list(changes_since(same)) == ["plugin hive_steps.py: another code"]


def test_headrace_itself_is_named(hive: Workshop, monkeypatch: pytest.MonkeyPatch) -> None:
    import headrace

    folder = kept(hive)
    monkeypatch.setattr(headrace, "__version__", "9.9.9")

    then = json.loads((folder / "KEPT.json").read_bytes())["made-by"]["headrace"]["version"]
    assert list(changes_since(checked(folder))) == [f"headrace: {then} -> 9.9.9"]


@pytest.mark.parametrize(
    ("file", "old", "new", "told"),
    [
        ("plain.yaml", "thickness: 18", "thickness: 17.5", "setup.sheet.thickness: 18 -> 17.5"),
        ("plain.yaml", "text: LIDS", "text: LID", "steps.heading.text: LIDS -> LID"),
        ("plain.yaml", "  - capitals\n", "", "steps: no longer there, was capitals"),
        (
            "plain.yaml", "  - capitals\n", "  - capitals\n  - sting\n",
            "steps: sting, which was not there",
        ),
        ("plain.yaml", "corner: [10, 10]", "corner: [10, 11]",
         "setup.sheet.corner: [10, 10] -> [10, 11]"),
        ("plain.yaml", "name: Plain text", "name: Plain", "name: Plain text -> Plain"),
        ("machine.yaml", "bed: 120", "bed: 121", "machine.bed: 120 -> 121"),
        ("machine.yaml", ", width: 32", "", "machine.pause.width: no longer there, was 32"),
        ("machine.yaml", "bed: 120", "bed: 120\nmargin: 2",
         "machine.margin: 2, which was not there"),
    ],
)  # fmt: skip
def test_a_value_is_named_from_which_to_which(
    hive: Workshop, file: str, old: str, new: str, told: str
) -> None:
    folder = kept(hive)
    path = hive.recipe.parent / file
    text = path.read_text()
    assert text.count(old) == 1
    path.write_text(text.replace(old, new))

    assert told in list(changes_since(checked(folder)))


def test_the_order_of_values_is_named_where_nothing_else_is_another_one(hive: Workshop) -> None:
    folder = kept(hive)
    machine = hive.recipe.parent / "machine.yaml"
    text = machine.read_text().replace("bed: 120\n", "") + "bed: 120\n"
    machine.write_text(text)

    assert list(changes_since(checked(folder))) == ["machine: the same values in another order"]


def test_a_long_difference_is_cut(hive: Workshop) -> None:
    """Every line of 9,000 is another one: no more is shown than can be read."""
    points = "".join(f"G1 X{at % 400}.5 Y{at % 300} F900\n" for at in range(9000))
    hive.job("relief.nc", LID.replace("G1 X40 F900\n", points))
    folder = kept(hive)
    hive.job("relief.nc", LID.replace("G1 X40 F900\n", points.replace(".5", ".6")))
    lines = list(difference(checked(folder)))

    assert len([line for line in lines if not line.startswith(("---", "+++"))]) == MOST_LINES + 1
    assert re.fullmatch(r"# and more, up to line 90\d\d: 90\d\d lines were .* made now", lines[-1])


@pytest.mark.parametrize("hunks", [1, 6, 7, 30])
def test_many_small_differences_are_cut_too(hive: Workshop, hunks: int) -> None:
    """A hunk of nine lines each; it is said whether all are shown."""
    points = [f"G1 X{at % 400}.{at % 7} Y{at % 390} F900\n" for at in range(20 * hunks + 20)]
    hive.job("relief.nc", LID.replace("G1 X40 F900\n", "".join(points)))
    folder = kept(hive)
    for at in range(hunks):
        points[20 * at + 10] = points[20 * at + 10].replace("F900", "F800")
    hive.job("relief.nc", LID.replace("G1 X40 F900\n", "".join(points)))
    lines = [line for line in difference(checked(folder)) if not line.startswith(("---", "+++"))]

    assert sum(line.startswith("@@") for line in lines) == min(hunks, 7)
    whole = 9 * hunks <= MOST_LINES
    assert len(lines) == (9 * hunks if whole else MOST_LINES + 1)
    assert lines[-1].startswith("# and more") == (not whole)


def test_nothing_is_made_up_where_the_search_ends(hive: Workshop) -> None:
    """A line more near the beginning, and another one 5,000 lines behind it."""
    points = [f"G1 X{at % 400}.{at % 7} Y{at % 390} F900\n" for at in range(6000)]
    hive.job("relief.nc", LID.replace("G1 X40 F900\n", "".join(points)))
    folder = kept(hive)
    points[5010] = "G1 X7 F800\n"
    points.insert(10, "G1 X11 F800\n")
    hive.job("relief.nc", LID.replace("G1 X40 F900\n", "".join(points)))
    lines = [line for line in difference(checked(folder)) if not line.startswith(("---", "+++"))]

    end = next(at for at, line in enumerate(lines) if line.startswith("# and more, up to line 50"))
    assert [line for line in lines[:end] if line[0] in "+-"] == ["+G1 X11 F800"]


def test_line_ends_alone_are_one_line(hive: Workshop) -> None:
    folder = kept(hive)
    path = folder / "LID.NC"
    path.write_bytes(path.read_bytes().replace(b"\n", b"\r\n"))

    told = f"# {path} and what is made now differ in line ends only"
    assert list(difference(checked(folder))) == [told]


def test_what_is_cut_applies_with_patch_where_it_is_whole(hive: Workshop, tmp_path: Path) -> None:
    """The hunks are those of POSIX `diff -u`: `patch` makes the new outcome of the kept one."""
    needed_tools("patch")
    folder = kept(hive)
    hive.job("lid.nc", LID.replace("G0 Z5", "G0 Z7").replace("M5\n", "G4 P1\nM5\n"))
    compared = checked(folder)
    lines = [line for line in difference(compared) if not line.startswith("#")]
    until = next((at for at, line in enumerate(lines) if "what was said" in line), len(lines))
    target = tmp_path / "LID.NC"
    shutil.copy(folder / "LID.NC", target)
    subprocess.run(
        ["patch", str(target)], input="\n".join(lines[:until]) + "\n", text=True, check=True,
        capture_output=True, timeout=60,
    )  # fmt: skip

    assert target.read_bytes() == compared.made.data_of("LID.NC")


# --- what somebody did to the folder ----------------------------------------------------------


def test_an_edited_or_missing_file_is_told_as_that(hive: Workshop) -> None:
    folder = kept(hive)
    path = folder / "LID.NC"
    path.write_bytes(path.read_bytes().replace(b"F900", b"F700"))
    (folder / "QUEEN.NC").unlink()
    compared = checked(folder)

    assert changed(compared) == {}
    assert [finding.name for finding in compared.findings] == ["kept-file-altered"] * 2
    assert [str(finding.what).rsplit("/", 1)[-1] for finding in compared.findings] == [
        "LID.NC is not as it was kept",
        "QUEEN.NC is gone",
    ]
    assert "-G1 X40 F700" in list(difference(compared))


def test_nothing_of_anybody_else_is_overwritten(hive: Workshop) -> None:
    folder = kept(hive)
    edited = folder / "LID.NC"
    edited.write_bytes(edited.read_bytes() + b"(BY HAND)\n")
    hive.job("gate.nc")
    (folder / "GATE.NC").write_bytes(b"(MINE)\n")
    before = tree(hive.root)
    with pytest.raises(CardError) as error:
        kept(hive)

    names = sorted(finding.name for finding in error.value.findings)
    assert names == ["kept-file-altered", "kept-foreign-file"]
    assert tree(hive.root) == before


@pytest.mark.parametrize("thing", ["notes.txt", "empty.txt", "LID.NC", "folder"])
def test_a_folder_with_other_things_is_left_alone(hive: Workshop, thing: str) -> None:
    path = hive.root / KEPT / thing
    path.parent.mkdir()
    if thing == "folder":
        path.mkdir()
    else:
        path.write_text("" if thing == "empty.txt" else "swarm on Friday\n")
    before = tree(hive.root)
    with pytest.raises(CardError, match="holds other things"):
        kept(hive)

    assert tree(hive.root) == before
    assert [path.name for path in path.parent.iterdir()] == [thing]


def test_notes_beside_kept_outcomes_stay(hive: Workshop) -> None:
    folder = kept(hive)
    (folder / "README.md").write_text("# Lids\n")
    hive.job("lid.nc", LID.replace("X40", "X41"))
    kept(hive)

    assert (folder / "README.md").read_text() == "# Lids\n"
    assert changed(checked(folder)) == {}


def test_a_file_that_no_longer_is_ours_is_not_taken_away(hive: Workshop) -> None:
    folder = kept(hive)
    (hive.jobs / "queen.nc").unlink()
    (folder / "QUEEN.NC").write_bytes(b"(MINE NOW)\n")
    with pytest.raises(CardError, match="is not as it was kept"):
        kept(hive)
    assert (folder / "QUEEN.NC").read_bytes() == b"(MINE NOW)\n"


def test_another_recipe_needs_another_folder(hive: Workshop) -> None:
    folder = kept(hive)
    other = hive.recipe.with_name("other.yaml")
    other.write_text(hive.recipe.read_text())
    before = tree(folder)
    with pytest.raises(CardError, match="keeps what"):
        kept(hive, Case(other, (hive.jobs,)))
    assert tree(folder) == before


def test_renewing_what_is_the_same_touches_nothing(hive: Workshop) -> None:
    folder = kept(hive)
    before = tree(folder)
    kept(hive)
    assert tree(folder) == before


def test_a_run_cut_short_goes_on(hive: Workshop, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever change of a name fails, every file is whole, and the next run ends it."""
    folder = kept(hive)
    old = {path.name: path.read_bytes() for path in folder.iterdir()}
    for name in ("lid.nc", "queen.nc"):
        hive.job(name, LID.replace("X40", "X44"))
    shutil.copytree(folder, hive.root / "saved")
    new = {name: made(folder, case(hive)).data_of(name) for name in ("LID.NC", "QUEEN.NC")}
    renamed = Path.replace
    for fails in (1, 2, 3):
        shutil.rmtree(folder)
        shutil.copytree(hive.root / "saved", folder)
        calls: list[Path] = []

        def act(path: Path, target: Path, calls: list[Path] = calls, fails: int = fails) -> Path:
            calls.append(target)
            if len(calls) == fails:
                raise OSError(5, os.strerror(5))
            return renamed(path, target)

        with monkeypatch.context() as patch:
            patch.setattr(Path, "replace", act)
            with pytest.raises(CardError):
                kept(hive)
        found = {path.name: path.read_bytes() for path in folder.iterdir()}
        assert set(found) == set(old)
        for name, data in found.items():
            assert data in (old[name], new.get(name)), name
        assert found["KEPT.json"] == old["KEPT.json"]
        kept(hive)
        assert checked(folder).exit_code == 0


ENDS = [(os, "open"), (os, "write"), (os, "fsync"), (os, "unlink"), (Path, "replace")]
"""Calls by which keeping changes something; at each of them the process may be ended."""


def _ended_at(call: int, folder: Path, what: Case) -> bool:
    """Whether a process of its own that keeps was ended, without any tidying, at its `call`-th
    change of something; the first that is not ended has made fewer."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)  # of a fork beside threads
        child = os.fork()
    if child == 0:
        try:
            now, calls = made(folder, what), count(1)
            for owner, name in ENDS:
                act = getattr(owner, name)

                def or_end(*args: Any, act: Any = act, **kwargs: Any) -> Any:
                    if next(calls) == call:
                        os._exit(9)
                    return act(*args, **kwargs)

                setattr(owner, name, or_end)
            keep(folder, read_kept(folder), now)
        except BaseException:
            os._exit(70)
        os._exit(0)
    code = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    assert code in (0, 9)
    return code == 9


@pytest.mark.skipif(not hasattr(os, "fork"), reason="this system has no fork")
def test_a_first_run_that_is_ended_anywhere_can_be_made_again(hive: Workshop) -> None:
    folder, what = hive.root / KEPT, case(hive)
    new = {name: made(folder, what).data_of(name) for name in ("FIRST.NC", "LID.NC", "QUEEN.NC")}
    for call in count(1):
        if not _ended_at(call, folder, what):
            break
        for path in folder.iterdir() if folder.is_dir() else ():
            if path.name in new:
                assert path.read_bytes() == new[path.name]
        kept(hive)
        assert checked(folder).exit_code == 0
        shutil.rmtree(folder)

    assert call > 12


@pytest.mark.skipif(not hasattr(os, "fork"), reason="this system has no fork")
def test_a_process_that_is_ended_anywhere_leaves_whole_files(hive: Workshop) -> None:
    folder = kept(hive)
    old = {path.name: path.read_bytes() for path in folder.iterdir()}
    shutil.copytree(folder, hive.root / "saved")
    hive.job("lid.nc", LID.replace("X40", "X44"))
    (hive.jobs / "queen.nc").unlink()
    what = case(hive)
    lid = made(folder, what).data_of("LID.NC")
    ended = 0
    for call in count(1):
        shutil.rmtree(folder)
        shutil.copytree(hive.root / "saved", folder)
        if not _ended_at(call, folder, what):
            break
        ended += 1
        found = {path.name: path.read_bytes() for path in folder.iterdir()}
        unfinished = {name for name in found if name.endswith(".HRT")}
        assert found.keys() - old.keys() == unfinished
        assert found["LID.NC"] in (old["LID.NC"], lid)
        assert found.get("QUEEN.NC", old["QUEEN.NC"]) == old["QUEEN.NC"]
        assert (found["FIRST.NC"], found[".gitattributes"]) == (
            old["FIRST.NC"], old[".gitattributes"]
        )  # fmt: skip
        kept(hive)
        assert checked(folder).exit_code == 0
        assert {path.name for path in folder.iterdir()} == old.keys() - {"QUEEN.NC"}

    assert ended >= 12


def test_a_list_that_leads_out_of_its_folder_is_refused(hive: Workshop) -> None:
    """With a right digest, so that the name alone is to blame."""
    folder = kept(hive)
    found = listed(folder)
    files = (replace(found.files[0], name="../OUT.NC"), *found.files[1:])
    (folder / "KEPT.json").write_bytes(replace(found, files=files).to_bytes())

    with pytest.raises(CardError, match="no name of a file in its folder"):
        read_kept(folder)


def test_a_list_of_another_format_is_told_as_one(hive: Workshop) -> None:
    folder = kept(hive)
    path = folder / "KEPT.json"
    path.write_bytes(path.read_bytes().replace(b"headrace-kept/1", b"headrace-kept/7"))

    with pytest.raises(CardError, match="its format is 'headrace-kept/7', not headrace-kept/1"):
        read_kept(folder)


def test_all_kept_folders_below_a_folder(hive: Workshop) -> None:
    folder = kept(hive)
    shutil.copytree(folder, hive.root / "a" / "b")
    shutil.copytree(folder, hive.root / ".hidden")

    assert list(kept_folders(folder)) == [folder]
    assert set(kept_folders(hive.root)) == {hive.root / KEPT, hive.root / "a" / "b"}


# --- version control --------------------------------------------------------------------------


def _git(where: Path, *args: str) -> str:
    settings = ["-c", "user.name=Bee", "-c", "user.email=bee@example.org"]
    ran = subprocess.run(
        ["git", *settings, *args], cwd=where, capture_output=True, text=True, check=True,
        timeout=60, env={**os.environ, "GIT_CONFIG_GLOBAL": os.devnull, "GIT_CONFIG_NOSYSTEM": "1"},
    )  # fmt: skip
    return ran.stdout


def test_a_checkout_that_converts_line_ends_leaves_outcomes_alone(
    hive: Workshop, tmp_path: Path
) -> None:
    """With `core.autocrlf`, and with attributes above that ask for CR LF (gitattributes(5))."""
    needed_tools("git")
    hive.job("gate.nc", LID.replace("\n", "\r\n"))
    folder = kept(hive)
    (hive.root / ".gitattributes").write_text("* text eol=crlf\njobs/** -text\n")
    _git(hive.root, "init", "--quiet")
    _git(hive.root, "add", "--all")
    _git(hive.root, "commit", "--quiet", "-m", "Keep")
    clone = tmp_path / "clone"
    _git(tmp_path, "clone", "--quiet", "-c", "core.autocrlf=true", str(hive.root), str(clone))

    assert b"\r\n" in (clone / "recipes" / "plain.yaml").read_bytes()
    for path in folder.iterdir():
        assert (clone / KEPT / path.name).read_bytes() == path.read_bytes()
    assert (changed(checked(clone / KEPT)), checked(clone / KEPT).findings) == ({}, ())
    assert "Binary" not in _git(hive.root, "show", "--stat", "HEAD")


@pytest.mark.parametrize("text", ["", "*.NC text\n", "# * -text\n", "x* -text\n"])
def test_attributes_that_let_line_ends_change_are_told(hive: Workshop, text: str) -> None:
    folder = kept(hive)
    (folder / ".gitattributes").write_text(text)

    assert [finding.name for finding in checked(folder).findings] == ["kept-attributes"]
    with pytest.raises(CardError):
        kept(hive)
    (folder / ".gitattributes").write_text("# ours\n* -diff -text\n")
    assert checked(folder).findings == ()


# --- every byte counts ------------------------------------------------------------------------


def _told(hive: Workshop) -> bool:
    """Whether a check says that something is another one, or refuses."""
    ran = CliRunner().invoke(command, ["keep", "--check", str(hive.root / KEPT)])
    assert ran.exit_code in (0, 1, 3, 5), ran.output
    return ran.exit_code != 0 or "since then" in ran.stdout


@pytest.fixture(scope="module")
def standing(tmp_path_factory: pytest.TempPathFactory) -> Workshop:
    hive = set_up(tmp_path_factory.mktemp("standing") / "hive")
    hive.job("lid.nc")
    kept(hive)
    return hive


def _one_byte(path: Path, data: st.DataObject) -> tuple[bytes, bytes]:
    old = path.read_bytes()
    at = data.draw(st.integers(0, len(old) - 1))
    byte = data.draw(st.integers(0, 255).filter(lambda byte: byte != old[at]))
    return old, old[:at] + bytes([byte]) + old[at + 1 :]


@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.data())
def test_any_byte_of_a_kept_file_its_list_or_a_job(standing: Workshop, data: st.DataObject) -> None:
    folder = standing.root / KEPT
    paths = [folder / "LID.NC", folder / "KEPT.json", standing.jobs / "lid.nc"]
    path = data.draw(st.sampled_from(paths))
    old, new = _one_byte(path, data)
    try:
        path.write_bytes(new)
        assert _told(standing)
    finally:
        path.write_bytes(old)
    assert not _told(standing)


VALUES = st.sampled_from(
    [
        ("machine.yaml", rb"(?<=travel: \[0, )600"),
        ("machine.yaml", rb"(?<=bed: )120"),
        ("machine.yaml", rb"(?<=run-down: )10"),
        ("machine.yaml", rb"(?<=width: )32"),
        ("plain.yaml", rb"(?<=thickness: )18"),
        ("plain.yaml", rb"(?<=stick-out: )30"),
        ("plain.yaml", rb"(?<=flute: )20"),
        ("plain.yaml", rb"(?<=size: \[)500"),
    ]
)


@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(VALUES, st.integers(1, 9999))
def test_any_value_of_recipe_machine_or_set_up(
    standing: Workshop, value: tuple[str, bytes], number: int
) -> None:
    path = standing.recipe.parent / value[0]
    old = path.read_bytes()
    new = re.sub(value[1], str(number).encode(), old, count=1)
    try:
        path.write_bytes(new)
        assert _told(standing) == (new != old)
    finally:
        path.write_bytes(old)


@given(
    st.recursive(
        st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False)
        | st.text(),
        lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(), inner, max_size=4),
        max_leaves=12,
    )
)  # fmt: skip
def test_a_list_is_json_that_reads_back_as_it_was(values: Any) -> None:
    """Read by Python's own `json`; keys sorted, ASCII, one final line end."""
    written = Kept("r.yaml", (), (), {}, {"any": values}, ()).to_bytes()

    assert json.loads(written)["values"] == {"any": values}
    assert written.isascii()
    assert written.endswith(b"\n")


def test_severity_of_what_a_check_tells(hive: Workshop) -> None:
    """All of it refuses: a pipeline that ends with exit code 0 has nothing to read."""
    folder = kept(hive)
    hive.job("lid.nc", LID.replace("X40", "X41"))
    (folder / "QUEEN.NC").unlink()
    severities = {finding.severity for finding in checked(folder).findings}

    assert severities == {Severity.REFUSE}
