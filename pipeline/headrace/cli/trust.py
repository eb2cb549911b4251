"""headrace trust: which Python files of recipes may run."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from headrace.cli import choices
from headrace.cli.asked import Asked, json_option

if TYPE_CHECKING:
    from headrace.findings import Finding, Place
    from headrace.plugins.python_file import PythonFile
    from headrace.plugins.trusted import Entry, TrustedList

_SHORTEST = 8
"""So many characters of a SHA-256 name one."""


@click.command("trust", short_help="Let Python files that recipes name run, or no longer.")
@click.argument(
    "recipes", nargs=-1, metavar="[RECIPE]...", shell_complete=choices.recipes,
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
)  # fmt: skip
@click.option("--yes", is_flag=True, help="Trust them without being asked.")
@click.option("--list", "listing", is_flag=True, help="Show all that is trusted.")
@click.option(
    "--forget", multiple=True, metavar="FILE|SHA-256", shell_complete=choices.python_files,
    help="Trust a file, or the bytes of a SHA-256 (8 of its characters do), no longer.",
)  # fmt: skip
@json_option
def command(
    asked: Asked, recipes: tuple[Path, ...], yes: bool, listing: bool, forget: tuple[str, ...]
) -> int:
    """Show the Python files that RECIPES and their parents name, and let them run from now on.

    A Python file runs only if you trust it, and only as long as not a byte of it changes. That is
    kept for you alone, by the SHA-256 of the file, in a list of your own; HEADRACE_STATE is the
    folder of that list, if it is not to be where your system keeps such things.

    HEADRACE_PYTHON=off lets none run at all, as does `headrace --no-python COMMAND`, and
    HEADRACE_PYTHON=any all: that is for machines that get nothing but what you have under version
    control. Not covered is what a file imports, nor what is installed.

    \b
        headrace trust recipes/swarm-warning.yaml
        headrace trust --list
        headrace trust --forget recipes/swarm_warning.py
    """
    from headrace.plugins.trusted import TrustedList

    ways = [bool(recipes), listing, bool(forget)]
    if sum(ways) != 1:
        raise click.UsageError("name recipes, or --list, or --forget: one of them")
    if yes and not recipes:
        raise click.UsageError("--yes goes with recipes")
    known = TrustedList.of_user()
    if recipes:
        return _trust(asked, known, recipes, yes)
    return _list(asked, known) if listing else _forget(asked, known, forget)


def _trust(asked: Asked, known: TrustedList, recipes: tuple[Path, ...], yes: bool) -> int:
    from headrace.cli.leave import may_ask, shown, warned
    from headrace.cli.talking import data, say, talk
    from headrace.plugins.trust import untrusted
    from headrace.plugins.trusted import Entry
    from headrace.report.plain_trust import trust_data

    files = _named(recipes)
    new = {file.sha256: place for file, place in files if not known.holds(file.sha256)}
    if asked.text:
        for file, _ in files:
            state = "new" if file.sha256 in new else "trusted already"
            first, *others = shown(file)
            data(f"{first}  {state}")
            for line in others:
                data(f"    {line}")
    if not files:
        talk("no recipe names a Python file: there is nothing to trust")
    agreed = yes
    if new and not yes and may_ask():
        for line in warned():
            talk(line)
        which = "it" if len(new) == 1 else f"all {len(new)}"
        agreed = click.confirm(f"Let {which} run, as long as not a byte changes?", err=True)
    refused: list[Finding] = []
    if agreed:
        known.add(
            Entry(file.sha256, str(file.path.resolve())) for file, _ in files if file.sha256 in new
        )
    else:
        refused = [
            untrusted(file, place).findings[0] for file, place in files if file.sha256 in new
        ]
    say(refused)
    if refused and not may_ask():
        talk("nobody can be asked here: read the file, then add --yes")
    if agreed and new:
        talk(f"trusted from now on, in {known.path}")
    code = 4 if refused else 0
    asked.answer(lambda: trust_data(known, _told(files), refused, code))
    return code


def _named(recipes: tuple[Path, ...]) -> list[tuple[PythonFile, Place]]:
    """The Python files that recipes lead to, each once. Raises RecipeError or PluginError."""
    from headrace.errors import RecipeError
    from headrace.plugins.python_file import PythonFile
    from headrace.recipe.composition import load_chain
    from headrace.recipe.python_files import python_files

    found: dict[Path, tuple[PythonFile, Place]] = {}
    for recipe in recipes:
        files, misplaced = python_files(load_chain(recipe).root)
        if misplaced:
            raise RecipeError(findings=misplaced)
        for path, leaf in files:
            if path.resolve() not in found:
                found[path.resolve()] = PythonFile.read(path, leaf.place), leaf.place
    return list(found.values())


def _told(files: list[tuple[PythonFile, Place]]) -> list[tuple[str, str, str]]:
    """SHA-256, path, and what the file says of itself."""
    return [(file.sha256, str(file.path), file.summary) for file, _ in files]


def _list(asked: Asked, known: TrustedList) -> int:
    from headrace.cli.talking import data, talk
    from headrace.report.plain_trust import trust_data

    entries = known.entries()
    if asked.text:
        for entry in entries:
            data(f"{entry.sha256}  {entry.seen}  ({_state(entry)})")
    if not entries:
        talk(f"nothing is trusted; the list would be {known.path}")
    told = [(entry.sha256, entry.seen, "") for entry in entries]
    asked.answer(lambda: trust_data(known, told, (), 0))
    return 0


def _forget(asked: Asked, known: TrustedList, named: tuple[str, ...]) -> int:
    from headrace.cli.talking import data
    from headrace.report.plain_trust import trust_data

    entries = known.entries()
    gone: list[Entry] = []
    for text in named:
        meant = [entry for entry in entries if _means(text, entry)]
        if not meant:
            raise click.UsageError(f"{text} is not trusted: see `headrace trust --list`")
        gone += [entry for entry in meant if entry not in gone]
    known.forget([entry.sha256 for entry in gone])
    if asked.text:
        for entry in gone:
            data(f"{entry.sha256}  {entry.seen}  (no longer trusted)")
    told = [(entry.sha256, entry.seen, "") for entry in gone]
    asked.answer(lambda: trust_data(known, told, (), 0))
    return 0


def _means(text: str, entry: Entry) -> bool:
    """Whether a word names an entry: by the beginning of its SHA-256, the path where it was seen,
    or a file that holds those bytes."""
    if len(text) >= _SHORTEST and entry.sha256.startswith(text.lower()):
        return True
    path = Path(text)
    return str(path.resolve()) == entry.seen or _digest(path) == entry.sha256


def _state(entry: Entry) -> str:
    """How the file stands now where these bytes were seen."""
    if not Path(entry.seen).is_file():
        return "no longer there"
    return "as it is there" if _digest(Path(entry.seen)) == entry.sha256 else "other bytes there"


def _digest(path: Path) -> str:
    from headrace.errors import PluginError
    from headrace.plugins.python_file import PythonFile

    try:
        return PythonFile.read(path).sha256
    except PluginError:
        return ""
