"""Folders to begin with, for machines of every kind.

Outside references: PyYAML, jsonschema (JSON Schema, draft 2020-12) and a language server for what
is written, git for what a clone would change (gitattributes, gitignore), and the gallery's jobs.
"""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest
import yaml
from click.testing import CliRunner, Result
from editor.server import Server
from jsonschema import Draft202012Validator
from pipeline.interview.people import answering, answers_for, described
from trials.tools import needed_tools

from headrace.batch.looking import looked_at
from headrace.batch.sources import collect_jobs
from headrace.cli.group import headrace as command
from headrace.findings import Finding, Severity
from headrace.interview.dialogue import Dialogue, is_for_first_card
from headrace.interview.draft import read_draft
from headrace.interview.keeping import keep
from headrace.interview.questions import QUESTIONS
from headrace.plugins.registry import load_registry
from headrace.recipe import check_recipe, load_plan

GALLERY = Path(__file__).parents[3] / "recipes"
MACHINES = {
    "bench-hand-switched": ("lids-18", "lid.nc"),
    "shop-relay": ("frames-9", "frame-side.nc"),
    "shop-speed-controlled": ("floor-boards-18", "floor-board.tap"),
}


def without(key: str) -> Callable[[str], str]:
    """The description without a part of it."""

    def changed(text: str) -> str:
        found = re.sub(rf"^{key}:.*\n(  .*\n)*", "", text, flags=re.MULTILINE)
        assert found != text
        return found

    return changed


def homed_by_hand(text: str) -> str:
    return without("homing")(text) + "homing: {by: by-hand}\n"


def with_semicolons(text: str) -> str:
    return re.sub("comments: [a-z]+", "comments: semicolon", text)


VARIANTS: dict[str, tuple[Callable[[str], str], ...]] = {
    "as it is": (),
    "homed by hand": (homed_by_hand,),
    "no probe": (without("probe"),),
    "no probe, homed by hand": (without("probe"), homed_by_hand),
    "no parking place": (without("park"),),
    "comments behind a semicolon": (with_semicolons,),
    "CR LF": (lambda text: text.replace("\n", "\r\n"),),
}  # fmt: skip


@dataclass(frozen=True)
class Begun:
    """A folder that the command has made."""

    root: Path
    result: Result

    @property
    def recipe(self) -> Path:
        return self.root / "recipe.yaml"

    @property
    def setup(self) -> Path:
        return self.root / "setups" / "first.yaml"

    @property
    def steps(self) -> list[str]:
        steps = yaml.safe_load(self.recipe.read_text("utf-8"))["steps"]
        return [step if isinstance(step, str) else next(iter(step)) for step in steps]

    def fill_in(self, name: str) -> None:
        """What was measured, as a set-up of the gallery has it."""
        shutil.copy(GALLERY / "setups" / f"{name}.yaml", self.setup)

    def findings(self, job: Path) -> tuple[list[Finding], bool]:
        """What is found in a job, and whether it is refused."""
        registry = load_registry()
        plan = load_plan(self.recipe, registry)
        (file,), _ = collect_jobs([job])
        looks = list(looked_at(file.path, plan, registry))
        return [f for look in looks for f in look.findings], any(look.refused for look in looks)


def begun(folder: Path, machine: str, *changes: Callable[[str], str]) -> Begun:
    """A folder for a machine of the gallery, changed in some ways."""
    text = (GALLERY / "machines" / f"{machine}.yaml").read_text("utf-8")
    for change in changes:
        text = change(text)
    description = folder / f"{machine}.yaml"
    description.write_bytes(text.encode())
    args = ["new", "recipe", str(folder / "combs"), "--machine", str(description)]
    return Begun(folder / "combs", CliRunner().invoke(command, args))


@pytest.fixture(scope="module", params=[(m, v) for m in MACHINES for v in VARIANTS], ids=" ".join)
def any_begun(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> tuple[Begun, str, str]:
    """A folder for each machine in each variant, with its machine and variant; look, do not
    touch."""
    machine, variant = request.param
    made = begun(tmp_path_factory.mktemp("any"), machine, *VARIANTS[variant])
    assert made.result.exit_code == 0, made.result.output
    return made, machine, variant


@pytest.fixture
def any_measured(any_begun: tuple[Begun, str, str], tmp_path: Path) -> tuple[Begun, str]:
    """A copy of it whose set-up is one of the gallery's, and a job of the gallery for it."""
    made, machine, _ = any_begun
    setup, job = MACHINES[machine]
    shutil.copytree(made.root, tmp_path / "combs")
    copied = Begun(tmp_path / "combs", made.result)
    copied.fill_in(setup)
    return copied, job


def test_jobs_of_the_gallery_go_through(any_measured: tuple[Begun, str]) -> None:
    """As soon as the set-up is filled in, with nothing else changed; so does the first job."""
    made, job = any_measured

    assert check_recipe(made.recipe, load_registry()) == []
    for path in (GALLERY / "jobs" / job, made.root / "jobs" / "air.nc"):
        findings, refused = made.findings(path)
        assert not refused, findings


def test_nothing_goes_through_before_that(any_begun: tuple[Begun, str, str]) -> None:
    """And what is told is all that is lacking, each at its line, with how to measure it."""
    made, _, variant = any_begun
    lines = made.setup.read_text("utf-8").splitlines()
    blank = [n for n, line in enumerate(lines, 1) if re.match(r" *[a-z-]+: +# ", line)]
    found = check_recipe(made.recipe, load_registry())

    assert len(blank) == (9 if "no probe" in variant else 11)
    assert [(f.name, f.severity) for f in found] == [("recipe-no-value", Severity.REFUSE)] * len(
        blank
    )
    assert [f.place.line for f in found if f.place] == blank
    assert all("#" in f.place.excerpt for f in found if f.place)


def test_files_are_what_their_schemas_say(any_begun: tuple[Begun, str, str]) -> None:
    """By the line that editors go by."""
    made, _, _ = any_begun
    first = "# yaml-language-server: $schema="
    for path in (made.recipe, *made.root.glob("machines/*.yaml")):
        data = path.read_bytes()
        head = data.decode().splitlines()[0]
        assert head.startswith(first)
        schema = path.parent / head.removeprefix(first)
        assert schema.resolve().is_relative_to(made.root.resolve())
        validator = Draft202012Validator(json.loads(schema.read_text("utf-8")))
        assert list(validator.iter_errors(yaml.safe_load(data))) == []
    wanted = made.root / "schemas" / "setup.json"
    assert wanted.is_file()


def test_every_file_is_plain(any_begun: tuple[Begun, str, str]) -> None:
    """UTF-8, lines that end in LF, no blanks at their ends."""
    made, _, _ = any_begun
    files = [path for path in made.root.rglob("*") if path.is_file()]

    assert len(files) == 10
    for path in files:
        text = path.read_bytes().decode("utf-8")
        assert "\r" not in text
        assert text.endswith("\n")
        assert not text.endswith("\n\n")
        assert not [line for line in text.splitlines() if line != line.rstrip()], path


def test_each_step_says_why_it_is_there(any_begun: tuple[Begun, str, str]) -> None:
    made, _, _ = any_begun
    lines = made.recipe.read_text("utf-8").splitlines()
    steps = [number for number, line in enumerate(lines) if re.match(r" +- [a-z-]+(:|$)", line)]

    assert len(steps) >= len(made.steps)
    for number in steps:
        if not lines[number].strip().startswith("- name:"):
            assert lines[number - 1].strip().startswith("# "), lines[number]


@pytest.mark.parametrize(
    "path", sorted((GALLERY / "machines").glob("*.yaml")), ids=lambda path: path.stem
)
def test_every_machine_of_the_gallery_has_a_beginning(tmp_path: Path, path: Path) -> None:
    made = begun(tmp_path, path.stem)

    assert made.result.exit_code == 0, made.result.output
    assert {f.name for f in check_recipe(made.recipe, load_registry())} == {"recipe-no-value"}
    machine = yaml.safe_load(path.read_text("utf-8"))
    assert ("spindle" in made.steps) == (machine["spindle"]["control"] != "none")
    for part, told in (("heads", "the first one alone"), ("rotary", "axes that turn stay out")):
        assert (told in made.result.stderr) == (part in machine)


# --- which steps ------------------------------------------------------------------------------


def test_steps_follow_from_the_machine(any_begun: tuple[Begun, str, str]) -> None:
    made, machine, variant = any_begun
    probing = "no probe" not in variant
    steps = made.steps

    assert ("touch-off" in steps) == probing
    assert ("corner-zero" in steps) == ("home" in steps) == probing
    assert ("pause" in steps) == (not probing)
    # only the bench machine lets no probe aim below zero
    assert ("rereference-z" in steps) == (probing and machine.startswith("bench"))
    assert {"safe-start", "spindle", "park", "strip"} <= set(steps)


@pytest.mark.parametrize("step", ["home", "corner-zero", "rereference-z", "touch-off"])
def test_none_of_them_can_be_left_out(tmp_path: Path, step: str) -> None:
    """Without one of them the job is refused: by the steps behind it, or by the rehearsal."""
    made = begun(tmp_path, "bench-hand-switched")
    made.fill_in("lids-18")
    text = made.recipe.read_text("utf-8")
    made.recipe.write_text(re.sub(rf"  - {step}.*\n", "", text), "utf-8")
    _, refused = made.findings(GALLERY / "jobs" / "lid.nc")

    assert step not in made.steps
    assert refused


def test_a_step_too_many_is_refused(tmp_path: Path) -> None:
    """A machine that lets its probe aim anywhere needs no other number for Z."""
    made = begun(tmp_path, "shop-relay")
    made.fill_in("frames-9")
    text = made.recipe.read_text("utf-8")
    made.recipe.write_text(
        text.replace("  - touch-off", "  - rereference-z\n  - touch-off"), "utf-8"
    )
    findings, refused = made.findings(GALLERY / "jobs" / "frame-side.nc")

    assert refused
    assert "rereference-needless" in {finding.name for finding in findings}


def test_a_probe_that_may_aim_below_all_travel_needs_no_other_number(tmp_path: Path) -> None:
    made = begun(
        tmp_path,
        "bench-hand-switched",
        lambda t: t.replace("lowest-target: 0", "lowest-target: -85"),
    )
    made.fill_in("lids-18")

    assert "rereference-z" not in made.steps
    assert not made.findings(GALLERY / "jobs" / "lid.nc")[1]


@pytest.mark.parametrize(
    ("machine", "names"),
    [("bench-hand-switched", ["SETUP"]), ("shop-relay", []), ("shop-speed-controlled", ["SETUP"])],
)
def test_without_a_probe_the_operator_is_asked(
    tmp_path: Path, machine: str, names: list[str]
) -> None:
    """A file of its own finds the corner only where the work zero outlives it."""
    made = begun(tmp_path, machine, without("probe"))
    recipe = yaml.safe_load(made.recipe.read_text("utf-8"))
    made.fill_in(MACHINES[machine][0])
    no_plate = without("plate")(made.setup.read_text("utf-8"))
    made.setup.write_text(no_plate, "utf-8")  # as in the set-up that such a machine begins with
    card = tmp_path / "card"
    card.mkdir()
    args = ["prepare", str(made.recipe), str(made.root / "jobs"), "--card", str(card)]
    prepared = CliRunner().invoke(command, args)

    assert [file["name"] for file in recipe.get("card-files", [])] == names
    assert prepared.exit_code == 0, prepared.output
    air = next(path for path in card.iterdir() if path.stem.lower() == "air").read_text()
    lines = air.split("\n")
    waits = next(at for at, line in enumerate(lines) if "M0" in line)
    moves = next(at for at, line in enumerate(lines) if line.startswith("G0"))
    assert waits < moves
    assert "Z0" in lines[waits] + lines[waits - 1] or "ZERO" in lines[waits] + lines[waits - 1]
    # Z0 is set with the bit on the sheet, and a spindle would start there.
    asked = lines[waits] + lines[waits - 1]
    assert "BIT UP" in asked or "BIT RAISED" in asked
    assert "no `probe`" in made.result.stderr


@pytest.mark.parametrize(
    ("changed", "key"),
    [
        (without("bed"), "bed"),
        (lambda text: re.sub(r", acceleration: \d+", "", text), "axes.z.acceleration"),
    ],
    ids=["bed", "acceleration"],
)
def test_what_a_description_lacks_is_told(
    tmp_path: Path, changed: Callable[[str], str], key: str
) -> None:
    made = begun(tmp_path, "shop-relay", changed)
    made.fill_in("frames-9")
    findings, refused = made.findings(GALLERY / "jobs" / "frame-side.nc")

    assert f"`{key}` is not described: touch-off refuses every job" in made.result.stderr
    assert refused
    assert any(f"machine.{key}" in finding.what for finding in findings)


@pytest.mark.parametrize("machine", MACHINES)
def test_what_the_first_questions_ask_for_is_enough(tmp_path: Path, machine: str) -> None:
    """As the interview says: it is what a first card needs; the rest may stay open."""
    answers = answers_for(described(machine))
    first = {q.id: answers[q.id] for q in QUESTIONS if is_for_first_card(q) and q.id in answers}
    path = tmp_path / f"{machine}.yaml"
    Dialogue(read_draft(path), answering(first), lambda _line: None, keep).run()
    made = begun(tmp_path, machine, lambda _text: path.read_text("utf-8"))
    made.fill_in(MACHINES[machine][0])

    findings, refused = made.findings(made.root / "jobs" / "air.nc")
    assert not refused, findings


# --- the set-up -------------------------------------------------------------------------------

MEASURED = {
    "thickness: 17.9": "sheet.thickness",
    "corner: [20, 20]": "sheet.corner",
    "size: [580, 500]": "sheet.size",
    "zero: top": "sheet.zero",
    "thickness: 12.02": "plate.thickness",
    "at: [50, 50]": "plate.at",
    "stick-out: 30": "tool.stick-out",
    "diameter: 6": "tool.diameter",
    "flute: 22": "tool.flute",
    "safe-height: 25": "safe-height",
    "clamps: []": "clamps",
}


def measured(form: str, *left_out: str) -> str:
    """The form with the measured values before its notes, but for some."""
    lines = form.splitlines()
    at = 0
    for entry, name in MEASURED.items():
        key = entry.split(":")[0]
        at = next(n for n in range(at, len(lines)) if re.match(rf" *{key}: +#", lines[n]))
        if name not in left_out:
            lines[at] = lines[at].replace(f"{key}:", f"{entry} ", 1)
        at += 1
    return "\n".join([*lines, ""])


def test_the_form_is_filled_in_line_by_line(tmp_path: Path) -> None:
    made = begun(tmp_path, "bench-hand-switched")
    form = made.setup.read_text("utf-8")
    made.setup.write_text(measured(form), "utf-8")
    schema = json.loads((made.root / "schemas" / "setup.json").read_text("utf-8"))

    assert check_recipe(made.recipe, load_registry()) == []
    assert list(Draft202012Validator(schema).iter_errors(yaml.safe_load(measured(form)))) == []
    assert not made.findings(GALLERY / "jobs" / "lid.nc")[1]


@pytest.mark.parametrize("name", MEASURED.values())
def test_one_value_that_is_lacking_stops_every_command(tmp_path: Path, name: str) -> None:
    made = begun(tmp_path, "bench-hand-switched")
    made.setup.write_text(measured(made.setup.read_text("utf-8"), name), "utf-8")
    job, card = str(GALLERY / "jobs" / "lid.nc"), tmp_path / "card"
    card.mkdir()
    for args in (
        ["check", str(made.recipe)],
        ["plan", str(made.recipe), job],
        ["prepare", str(made.recipe), job, "--card", str(card)],
    ):
        result = CliRunner().invoke(command, args)
        assert result.exit_code == 3, args
        assert f"`{name}` has no value" in result.stderr
        assert result.stderr.count("refuse:") == 1
    assert list(card.iterdir()) == []


def test_an_editor_underlines_what_is_lacking_and_nothing_else(tmp_path: Path) -> None:
    """A language server for YAML, which goes by the schemas of the folder and has no network."""
    made = begun(tmp_path, "bench-hand-switched")
    lacking = [f.place.line for f in check_recipe(made.recipe, load_registry()) if f.place]
    server = Server.start(made.root)
    try:
        problems = {path: server.open(path).problems() for path in made.root.rglob("*.yaml")}
    finally:
        server.stop()

    assert [problem.line for problem in problems.pop(made.setup)] == lacking
    assert len(problems) == 2
    assert not any(problems.values())


# --- under version control --------------------------------------------------------------------


def git(folder: Path, *args: str) -> str:
    alone = {"GIT_CONFIG_GLOBAL": "/dev/null", "GIT_CONFIG_SYSTEM": "/dev/null", "PATH": PATH}
    done = subprocess.run(
        ["git", *(word for value in CONFIG for word in ("-c", value)), *args],
        cwd=folder, capture_output=True, text=True, check=True, env=alone, timeout=60,
    )  # fmt: skip
    return done.stdout


CONFIG = ("core.autocrlf=true", "user.name=bees", "user.email=bees@example.org")
PATH = str(Path(shutil.which("git") or "git").parent)


def test_a_clone_has_the_jobs_byte_for_byte(tmp_path: Path) -> None:
    """In a repository that is there already, with a README of its own, and where git would change
    line ends on the way out."""
    needed_tools("git")
    root = tmp_path / "combs"
    root.mkdir()
    git(root, "init", "--quiet")
    (root / "README.md").write_text("Ours.\n")
    made = begun(tmp_path, "shop-relay")
    assert made.result.exit_code == 0, made.result.output
    jobs = {name: (GALLERY / "jobs" / name).read_bytes() for _, name in MACHINES.values()}
    jobs["mixed.nc"] = b"G21\nG0 X1\r\nM30\n"
    for name, data in jobs.items():
        (root / "jobs" / name).write_bytes(data)
    (root / "card").mkdir()
    (root / "card" / "LID.NC").write_bytes(b"M30\n")
    git(root, "add", ".")
    git(root, "commit", "--quiet", "-m", "Begin")
    git(tmp_path, "clone", "--quiet", str(root), "clone")

    assert (root / "README.md").read_text() == "Ours.\n"
    assert "README.md was there" in made.result.stderr
    for name, data in jobs.items():
        assert (tmp_path / "clone" / "jobs" / name).read_bytes() == data, name
    assert not (tmp_path / "clone" / "card").exists()
    assert git(root, "status", "--porcelain") == ""


def test_nothing_is_ever_written_over(tmp_path: Path) -> None:
    made = begun(tmp_path, "shop-relay")
    before = {path: path.read_bytes() for path in made.root.rglob("*") if path.is_file()}
    again = begun(tmp_path, "shop-relay")

    assert again.result.exit_code == 2
    assert "recipe.yaml are there already" in again.result.stderr
    assert before == {path: path.read_bytes() for path in made.root.rglob("*") if path.is_file()}


def test_a_folder_that_is_not_there_is_not_made(tmp_path: Path) -> None:
    machine = str(GALLERY / "machines" / "shop-relay.yaml")
    folder = tmp_path / "deep" / "combs"
    result = CliRunner().invoke(command, ["new", "recipe", str(folder), "--machine", machine])

    assert result.exit_code == 2
    assert f"there is no folder {folder.parent}: make it first" in result.stderr
    assert not folder.parent.exists()


# --- misuse -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (["recipe", "combs"], "--machine FILE"),
        (["recipe", "combs", "--machine", "MACHINE", "--in", "."], "--in is for"),
        (["recipe", "combs", "--machine", "MACHINE", "--name", "a\nb"], "1 to 80 characters"),
        (["recipe", "combs", "--machine", "MACHINE", "--name", "a" * 81], "1 to 80 characters"),
        (["recipe", "no/combs", "--machine", "MACHINE"], "there is no folder no: make it first"),
        (["recipe", "MACHINE", "--machine", "MACHINE"], "cannot be written"),
        (["transform", "chips", "--machine", "MACHINE"], "are for a recipe"),
        (["package", "chips", "--name", "Chips"], "are for a recipe"),
    ],
)
def test_misuse_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, args: list[str], said: str
) -> None:
    monkeypatch.chdir(tmp_path)
    machine = str(GALLERY / "machines" / "shop-relay.yaml")
    mine = tmp_path / "shop-relay.yaml"
    shutil.copy(machine, mine)
    result = CliRunner().invoke(
        command, ["new", *(str(mine) if arg == "MACHINE" else arg for arg in args)]
    )

    assert result.exit_code == 2
    assert said in result.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["shop-relay.yaml"]


def test_a_description_at_fault_is_not_taken(tmp_path: Path) -> None:
    made = begun(tmp_path, "shop-relay", lambda t: t.replace("control: relay", "control: relais"))

    assert made.result.exit_code == 3
    assert "did you mean `relay`?" in made.result.stderr
    assert not made.root.exists()


@pytest.mark.parametrize(
    "name", ['Wax: "fine", yes', "no", "1.5", "# combs", "Wabenrähmchen", "{a}"]
)
def test_any_name_is_that_name_to_a_reader_of_yaml(tmp_path: Path, name: str) -> None:
    machine = GALLERY / "machines" / "shop-relay.yaml"
    args = ["new", "recipe", str(tmp_path / "combs"), "--machine", str(machine), "--name", name]
    result = CliRunner().invoke(command, args)
    recipe = tmp_path / "combs" / "recipe.yaml"

    assert result.exit_code == 0, result.output
    assert yaml.safe_load(recipe.read_text("utf-8"))["name"] == name
    shutil.copy(GALLERY / "setups" / "frames-9.yaml", tmp_path / "combs" / "setups" / "first.yaml")
    assert load_plan(recipe, load_registry()).name == name
