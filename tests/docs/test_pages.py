"""What the pages of documentation say is there: commands, links, rooms, findings, files."""

from __future__ import annotations

import re

import click
import pytest
from click.testing import CliRunner
from docs.pages import GENERATED, TREE, WRITTEN, blocks_of, shown, text_of

from headrace.cli.group import SUMMARIES
from headrace.cli.group import headrace as command
from headrace.findings import CATALOGUE
from headrace.plugins.registry import load_registry

README = text_of("README.md")
RECIPES = TREE / "recipes"
MARKED = ("demo", "tests")


def marked(name: str) -> str:
    """The command in the block behind a marker."""
    found = [block for block in blocks_of("README.md") if block.marker == name]
    assert len(found) == 1
    return found[0].text.rstrip("\n")


def test_the_marked_commands_are_what_is_checked() -> None:
    script = (TREE / ".ci" / "run").read_text("utf-8")

    assert {b.marker for b in blocks_of("README.md") if b.marker} == set(MARKED)
    for name in MARKED:
        assert "\n" not in marked(name), "one line to copy"
        assert f"$(readme_command {name})" in script
    assert "pytest" in marked("tests")
    assert "headrace prepare" in marked("demo")


def words_of(line: str) -> list[list[str]]:
    """The words of every call of headrace on a command line."""
    calls = re.findall(r"(?:^|&& )(?:\S*/)?headrace ([^&|]*)", line)
    return [call.split() for call in calls]


def test_every_command_is_shown_with_options_that_it_has() -> None:
    lines = [each.command for page in WRITTEN for b in blocks_of(page) for each in shown(b)]
    calls = [words for line in lines for words in words_of(line)]

    assert {words[0] for words in calls} | {"watch"} == set(SUMMARIES)
    assert "headrace watch" in text_of("recipes/OPERATING.md"), "which never ends by itself"
    for words in calls:
        sub = command.get_command(click.Context(command), words[0])
        assert sub is not None, words
        options = {name for option in sub.params for name in option.opts}
        assert {word for word in words if word.startswith("-")} <= options, words


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


def test_links_lead_somewhere() -> None:
    """A file that is there, and in it the heading, by the name that a heading is linked by."""
    for page in (*WRITTEN, *GENERATED):
        for target in re.findall(r"\]\(([^)]+)\)", text_of(page)):
            if "://" in target:
                continue
            name, _, anchor = target.partition("#")
            path = (TREE / page).parent / name if name else TREE / page
            assert path.exists(), (page, target)
            if anchor:
                headings = re.findall(r"^#+ (.*)", path.read_text("utf-8"), re.M)
                linked = {re.sub(r"[^\w\- ]", "", h).lower().replace(" ", "-") for h in headings}
                assert anchor in linked, (page, target)


def test_rooms_that_developers_are_shown_are_there() -> None:
    named = re.findall(r"`((?:pipeline|plugins|recipes|tests)/[\w/.-]*)`", text_of("DEVELOPERS.md"))

    assert len(named) > 20
    for name in named:
        assert (TREE / name).exists(), name


def test_every_room_is_shown_to_developers() -> None:
    core = TREE / "pipeline" / "headrace"
    rooms = {path.parent.relative_to(TREE).as_posix() for path in core.glob("*/__init__.py")}
    text = text_of("DEVELOPERS.md")

    assert {room for room in rooms if f"`{room}/`" not in text} == {"pipeline/headrace/cli"}
    assert "`cli/`" in text


def test_the_gallery_is_listed_whole() -> None:
    text = (RECIPES / "README.md").read_text("utf-8")

    for path in [*RECIPES.glob("*.yaml"), *RECIPES.glob("*.py"), *(RECIPES / "jobs").iterdir()]:
        if path.is_file():
            assert path.name in text, path.name


def test_awkward_jobs_are_listed_whole() -> None:
    folder = TREE / "tests" / "jobs"
    text = (folder / "README.md").read_text("utf-8")
    listed = set(re.findall(r"^\| `([^`]+)` \|", text, re.M))

    files = {path.name for path in folder.rglob("*") if path.is_file()} - {"README.md"}
    assert listed == files


def test_texts_name_findings_that_are_there() -> None:
    for text in map(text_of, WRITTEN):
        for told in re.findall(r"\bHR[A-Z]\d{3}\b", text):
            assert told in {kind.id for kind in CATALOGUE.values()}


def test_nothing_points_outside_the_tree() -> None:
    """Not to the folder that this clone happens to be in, nor to trackers that a reader cannot
    see."""
    outside = re.compile(re.escape(str(TREE)) + r"/|\bissue" + r"s? ?#?\d", re.I)
    files = [path for path in TREE.iterdir() if path.suffix in (".md", ".toml")]
    for root in ("pipeline", "plugins", "recipes", "tests", ".ci"):
        files += (TREE / root).rglob("*")
    made = re.compile(r"/(?:__pycache__|\.[a-z]+_cache|\.hypothesis|node_modules)/")
    read = [path for path in files if path.is_file() and not made.search(path.as_posix())]

    assert len(read) > 200
    for path in read:
        assert not outside.search(path.read_bytes().decode("utf-8", "replace")), path
