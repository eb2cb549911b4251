"""What the documents say, done: commands, options, the recipe, and the step of one's own."""

from __future__ import annotations

import re
import shlex
import shutil
from collections.abc import Iterator
from pathlib import Path

import click
import pytest
import yaml
from click.testing import CliRunner

from headrace.cli.group import headrace as command
from headrace.findings import CATALOGUE
from headrace.plugins.registry import load_registry
from headrace.recipe import check_recipe, load_plan
from headrace.run import prepare_job

TREE = Path(__file__).parents[1]
README = (TREE / "README.md").read_text("utf-8")
DEVELOPERS = (TREE / "DEVELOPERS.md").read_text("utf-8")
RECIPES = TREE / "recipes"
MARKED = ("demo", "tests")


def blocks(text: str, language: str) -> list[str]:
    return re.findall(rf"^```{language}\n(.*?)^```$", text, re.M | re.S)


def marked(name: str) -> str:
    """The command in the block behind a marker."""
    found = re.findall(rf"<!-- {name} -->\n```sh\n(.*?)\n```", README)
    assert len(found) == 1
    return str(found[0])


def commands() -> Iterator[list[str]]:
    """Every command line that begins with headrace, cut up as a POSIX shell does it."""
    for block in blocks(README, "sh"):
        for line in block.splitlines():
            for part in re.split(r"&&", line):
                words = shlex.split(part, comments=True)
                if words and words[0].split("/")[-1] == "headrace":
                    yield words[1:]


def test_the_marked_commands_are_what_is_checked() -> None:
    script = (TREE / ".ci" / "run").read_text("utf-8")

    assert set(re.findall(r"<!-- (\w+) -->", README)) == set(MARKED)
    for name in MARKED:
        assert "\n" not in marked(name), "one line to copy"
        assert f"$(readme_command {name})" in script
    assert "pytest" in marked("tests")
    assert "headrace prepare" in marked("demo")


def test_commands_are_there_with_these_options() -> None:
    found = list(commands())

    assert {words[0] for words in found} == {
        "check",
        "completion",
        "explain",
        "keep",
        "picture",
        "plan",
        "prepare",
        "schema",
        "sheet",
        "show",
        "timed",
        "transforms",
        "verify",
    }
    for words in found:
        sub = command.get_command(click.Context(command), words[0])
        assert sub is not None, words
        options = {name for option in sub.params for name in option.opts}
        assert {word for word in words if word.startswith("-")} <= options, words


def test_commands_do_what_they_say(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """In a copy of the gallery, with a folder for the jobs and one for the card."""
    shutil.copytree(RECIPES, tmp_path / "recipes")
    jobs, card = tmp_path / "cam", tmp_path / "card"
    jobs.mkdir()
    card.mkdir()
    shutil.copy(RECIPES / "jobs" / "lid.nc", jobs)
    monkeypatch.chdir(tmp_path)
    for words in commands():
        given = [{"~/cam/today": str(jobs), "/media/card": str(card)}.get(w, w) for w in words]
        result = CliRunner().invoke(command, given)
        assert result.exit_code == 0, (words, result.output)
        assert result.stdout
    assert {path.name for path in card.iterdir()} == {"LID.NC", "HANDHOLD.NC", "HEADRACE.JSON"}


def test_exit_codes_are_those_of_the_errors() -> None:
    from headrace import errors

    text = README[README.index("Exit codes:") :].split("\n\n")[0]
    told = {int(code) for code in re.findall(r"\b(\d+) ", text)}
    raised = {
        value.exit_code
        for value in vars(errors).values()
        if isinstance(value, type) and issubclass(value, errors.HeadraceError)
    }
    assert told == raised | {0, 2, 130, 143}


@pytest.mark.parametrize("name", sorted(load_registry().transforms))
def test_each_transform_is_told_with_its_options(name: str) -> None:
    transform = load_registry().transforms[name]
    told = CliRunner().invoke(command, ["transforms", name])

    assert told.exit_code == 0
    assert told.stdout.startswith(name)
    assert transform.summary in told.stdout
    for option, schema in transform.options.items():
        assert f"\n  {option}: " in told.stdout
        assert schema["description"] in told.stdout
    for facet in transform.may_change:
        assert facet in told.stdout.split("may change: ")[1]
    assert name in CliRunner().invoke(command, ["transforms"]).stdout


def test_the_recipe_is_a_recipe(tmp_path: Path) -> None:
    recipes = shutil.copytree(RECIPES, tmp_path / "recipes")
    text = next(block for block in blocks(README, "yaml") if "headrace-recipe/1" in block)
    path = recipes / "readme.yaml"
    path.write_text(text, "utf-8")
    registry = load_registry()

    assert check_recipe(path, registry) == []
    plan = load_plan(path, registry)
    assert [step.name for step in plan.steps] == [
        step if isinstance(step, str) else next(iter(step))
        for step in yaml.safe_load(text)["steps"]
    ]
    outcome = prepare_job("lid.nc", (RECIPES / "jobs" / "lid.nc").read_bytes(), plan, registry)
    assert outcome.result is not None, outcome.findings


def step_of_ones_own(tmp_path: Path, source: str, job: str) -> bytes:
    """The README's step in a recipe beside the gallery, and what becomes of a job."""
    recipes = shutil.copytree(RECIPES, tmp_path / "recipes")
    (recipes / "settle.py").write_text(source, "utf-8")
    recipe = recipes / "settle.yaml"
    recipe.write_text(
        "format: headrace-recipe/1\n"
        "name: Settle\n"
        "machine: machines/shop-speed-controlled.yaml\n"
        "setup: setups/floor-boards-18.yaml\n"
        "plugins: [settle.py]\n"
        "steps:\n"
        "  - settle: {seconds: 2.5}\n"
    )
    registry = load_registry()
    plan = load_plan(recipe, registry)
    local = registry.with_files(plan.plugins, [step.place for step in plan.steps])
    outcome = prepare_job("lid.nc", job.encode(), plan, local)
    assert outcome.result is not None, outcome.findings
    return outcome.result.to_bytes()


JOB = "G21 G90 G94\nG0 Z5\nM3 S18000\nG0 X1 Y1\nG1 Z-1 F300\nG0 Z5\nM5\nM30\n"


def test_the_step_of_ones_own_runs(tmp_path: Path) -> None:
    source = next(block for block in blocks(README, "python"))
    result = step_of_ones_own(tmp_path, source, JOB)

    assert result == JOB.replace("M3 S18000\n", "M3 S18000\nG4 P2.5\n").encode()


def test_its_slips_are_caught_as_the_text_says(tmp_path: Path) -> None:
    """ "It may change dwells and nothing else; a slip that moves the path is caught and named." """
    source = next(block for block in blocks(README, "python")).replace("G4 P", "G1 F100 X")

    with pytest.raises(AssertionError, match="contract-broken"):
        step_of_ones_own(tmp_path, source, JOB)


def test_links_lead_somewhere() -> None:
    for path in (TREE / "README.md", TREE / "DEVELOPERS.md", RECIPES / "README.md"):
        for target in re.findall(r"\]\(([^)#]+)\)", path.read_text("utf-8")):
            if "://" not in target:
                assert (path.parent / target).exists(), (path.name, target)


def test_rooms_that_developers_are_shown_are_there() -> None:
    for name in re.findall(r"`((?:pipeline|plugins|recipes|tests)/[\w/.-]*)`", DEVELOPERS):
        assert (TREE / name).exists(), name


def test_the_gallery_is_listed_whole() -> None:
    text = (RECIPES / "README.md").read_text("utf-8")

    for path in [*RECIPES.glob("*.yaml"), *(RECIPES / "jobs").iterdir()]:
        if path.is_file():
            assert path.name in text, path.name


def test_awkward_jobs_are_listed_whole() -> None:
    folder = TREE / "tests" / "jobs"
    text = (folder / "README.md").read_text("utf-8")
    listed = set(re.findall(r"^\| `([^`]+)` \|", text, re.M))

    files = {path.name for path in folder.rglob("*") if path.is_file()} - {"README.md"}
    assert listed == files


def test_texts_name_findings_that_are_there() -> None:
    for text in (README, DEVELOPERS):
        for told in re.findall(r"\bHR[A-Z]\d{3}\b", text):
            assert told in {kind.id for kind in CATALOGUE.values()}


def test_nothing_points_outside_the_tree() -> None:
    """Not to the folder that this clone happens to be in, nor to trackers that a reader cannot
    see."""
    outside = re.compile(re.escape(str(TREE)) + r"/|\bissue" + r"s? ?#?\d", re.I)
    files = [path for path in TREE.iterdir() if path.suffix in (".md", ".toml")]
    for root in ("pipeline", "plugins", "recipes", "tests", ".ci"):
        files += (TREE / root).rglob("*")
    made = re.compile(r"/(?:__pycache__|\.[a-z]+_cache|\.hypothesis)/")
    read = [path for path in files if path.is_file() and not made.search(path.as_posix())]

    assert len(read) > 200
    for path in read:
        assert not outside.search(path.read_bytes().decode("utf-8", "replace")), path
