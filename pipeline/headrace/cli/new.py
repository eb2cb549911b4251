"""headrace new: something to begin with, for people to make theirs."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from headrace.cli import choices
from headrace.cli.asked import Asked, json_option
from headrace.cli.shared import quiet_option

if TYPE_CHECKING:
    from headrace.scaffold.beginning import Beginning
    from headrace.scaffold.planting import Planted

_file = click.Path(exists=True, dir_okay=False, path_type=Path)
_folder = click.Path(exists=True, file_okay=False, path_type=Path)


@click.command("new", short_help="Begin a recipe, a transform or a package of transforms.")
@click.argument("kind", type=click.Choice(["recipe", "transform", "package"]))
@click.argument("what", metavar="FOLDER|NAME", shell_complete=choices.folders)
@click.option(
    "--machine", type=_file, metavar="FILE", shell_complete=choices.recipes,
    help="The description of the machine that the recipe is for.",
)  # fmt: skip
@click.option("--name", metavar="TEXT", help="What the recipe is called.")
@click.option(
    "--in", "folder", type=_folder, metavar="FOLDER", shell_complete=choices.folders,
    help="Where the transform's file, or the package's folder, goes; the working folder if not"
    " given.",
)  # fmt: skip
@quiet_option
@json_option
def command(
    asked: Asked,
    kind: str,
    what: str,
    machine: Path | None,
    name: str | None,
    folder: Path | None,
    quiet: bool,
) -> int:
    """Write files to begin with; they work as they are, and are yours to change.

    `recipe` makes FOLDER, ready for version control: a recipe whose steps follow from what MACHINE
    has, a copy of that description, a set-up in which everything waits to be measured, a job that
    moves above the sheet, and schemas for editors.

    `transform` makes one Python file with a step called NAME, and its tests, to lie beside a
    recipe. `package` makes a folder with the same as a distribution that can be installed.

    Nothing is ever written over.

    \b
        headrace new recipe combs --machine recipes/machines/shop-relay.yaml
        headrace new transform chip-watch --in combs
        headrace new package chip-watch
    """
    from headrace.cli.talking import data, talk
    from headrace.report.plain_new import new_data

    if kind == "recipe":
        root, beginning = _recipe(what, machine, name, folder)
    elif machine is None and name is None:
        root, beginning = _python(kind, what, folder or Path())
    else:
        raise click.UsageError(f"--machine and --name are for a recipe; a {kind} has neither")
    planted = _planted(root, beginning)
    if asked.text and not quiet:
        for path in planted.written:
            data(str(path))
    if not quiet:
        for path in planted.left:
            talk(f"{path} was there and stays as it is. See that it has what ours would say:")
            for line in beginning.files[path.relative_to(root).as_posix()].decode().splitlines():
                talk(f"  {line}".rstrip())
        for line in (*beginning.told, *beginning.following):
            talk(line)
    asked.answer(lambda: new_data(kind, root, planted, beginning))
    return 0


def _recipe(
    what: str, description: Path | None, name: str | None, folder: Path | None
) -> tuple[Path, Beginning]:
    """Raises UsageError, or RecipeError for a description that is at fault."""
    from headrace.plugins.registry import load_registry
    from headrace.recipe import load_alone
    from headrace.scaffold.recipe_folder import recipe_folder

    if folder is not None:
        raise click.UsageError("--in is for a transform or a package; a recipe goes to FOLDER")
    if description is None:
        ways = "`headrace describe FILE` asks for what it needs to know, and writes one"
        raise click.UsageError(f"name the machine that it is for: --machine FILE; {ways}")
    if name is not None and not (0 < len(name) <= 80 and name.isprintable()):
        raise click.UsageError("--name is a line of 1 to 80 characters")
    machine = load_alone(description, None).machine
    root = Path(what)
    return root, recipe_folder(root, machine, description, name, load_registry())


def _python(kind: str, name: str, folder: Path) -> tuple[Path, Beginning]:
    """Raises UsageError for a name that would not do."""
    from headrace.plugins.registry import load_registry
    from headrace.scaffold.names import module_name
    from headrace.scaffold.python_files import package_folder, transform_files

    try:
        module = module_name(name, load_registry().transforms)
    except ValueError as error:
        raise click.UsageError(str(error)) from error
    if kind == "transform":
        return folder, transform_files(folder, name, module)
    return folder / name, package_folder(folder / name, name, module)


def _planted(root: Path, beginning: Beginning) -> Planted:
    """Raises UsageError where something is in the way, or the system does not let."""
    from headrace.scaffold.planting import InTheWay, plant

    if not root.parent.exists():
        raise click.UsageError(f"there is no folder {root.parent}: make it first")
    try:
        return plant(root, beginning.files, beginning.may_stay)
    except InTheWay as error:
        raise click.UsageError(str(error)) from error
    except OSError as error:
        what = f"{error.filename or root} cannot be written: {error.strerror or error}"
        raise click.UsageError(f"{what}; nothing of it is left") from error
