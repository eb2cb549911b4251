"""A folder to begin with: a recipe for one described machine, and all that it names."""

from __future__ import annotations

import shlex
from pathlib import Path

from headrace.machine import Machine
from headrace.recipe.plan import Transforms
from headrace.recipe.schema_files import FOLDER, schema_files, schema_line
from headrace.recipe.source_text import read_source
from headrace.scaffold.beginning import Beginning
from headrace.scaffold.choice import choice_for
from headrace.scaffold.recipe_text import recipe_text, setup_text
from headrace.scaffold.template import filled

MAY_STAY = ("README.md", ".gitignore", ".gitattributes")
"""What a folder under version control may have of its own."""

_RECIPE, _SETUP = "recipe.yaml", "setups/first.yaml"
ATTRIBUTES = b"""\
# Jobs and card files are what they are, byte for byte.
*.nc -text
*.NC -text
*.ngc -text
*.tap -text
*.cnc -text
*.gcode -text
"""
IGNORED = b"""\
/card/
/sheet.html
__pycache__/
"""


def recipe_folder(
    root: Path, machine: Machine, description: Path, name: str | None, transforms: Transforms
) -> Beginning:
    """What goes to a folder for a machine, whose sound description lies at a path; `transforms` are
    those that its schemas know."""
    title = name or _titled(machine)
    choice = choice_for(machine)
    copied = f"machines/{description.name}"
    recipe = recipe_text(title, f"{FOLDER}/recipe.json", copied, _SETUP, choice)
    readme = filled(
        "recipe-README.md", title=title, machine=machine.name, description=copied,
        begin=_BEGINS[choice.finds], bit=_BIT if choice.finds == "probe" else "",
    )  # fmt: skip
    return Beginning(
        files={
            ".gitattributes": ATTRIBUTES,
            ".gitignore": IGNORED,
            "README.md": readme.encode(),
            copied: _copied(description).encode(),
            **{f"{FOLDER}/{file}": text for file, text in schema_files(transforms).items()},
            _SETUP: setup_text(f"../{FOLDER}/setup.json", choice).encode(),
            "jobs/air.nc": filled("air.nc").encode(),
            _RECIPE: recipe.encode(),
        },
        told=choice.told,
        following=(
            f"fill in {root / _SETUP}; what is left to measure tells:",
            f"  headrace check {shlex.quote(str(root / _RECIPE))}",
        ),
        may_stay=MAY_STAY,
    )


def _titled(machine: Machine) -> str:
    """What a recipe is called if nobody says it; a name has 80 characters at the most."""
    return f"Jobs on {machine.name}"[:80].rstrip()


def _copied(description: Path) -> str:
    """The text of a machine file with the first line by which editors find its schema; its lines
    end as those of the other files."""
    lines = list(read_source(description).lines)
    if lines[0].startswith(schema_line("")):
        del lines[0]
    return "\n".join([schema_line(f"../{FOLDER}/machine.json"), *lines])


_BIT = """
  Touching off needs the very bit that the set-up tells of: without one the probe touches nothing
  and goes on down."""
_BEGINS = {
    "probe": "",
    "hand": """\
This machine has no probe. Run SETUP from the card, which homes it and finds the sheet's corner;
then set Z0 on the sheet by hand, for each sheet and each bit; then run the jobs.

""",
    "panel": """\
This machine has no probe, and its work zero may not outlive a file. Set X, Y and Z zero on the
sheet at its panel before each job; every card file asks for it before it moves.

""",
}
