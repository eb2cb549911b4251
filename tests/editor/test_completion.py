"""What an editor offers to write, and what it tells of each.

Outside reference: a YAML language server, with the schemas that lie beside the recipes.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TypeAlias

import pytest
from click.testing import CliRunner
from editor.mistakes import BENCH, LIDS, MARK, SETUP
from editor.server import Offer, Server

from headrace.cli.group import headrace as command
from headrace.plugins.registry import load_registry

At: TypeAlias = Callable[[str, str, str], dict[str, Offer]]


@pytest.fixture
def offered(server: Server, gallery: Path) -> At:
    """What is offered where `¦` stands in what is written instead of a piece of a file."""

    def at(file: str, old: str, new: str) -> dict[str, Offer]:
        text = (gallery / file).read_text("utf-8")
        assert text.count(old) == 1
        marked = text.replace(old, new)
        document = server.open(gallery / file, marked.replace(MARK, ""))
        return {offer.label: offer for offer in document.offers(marked.index(MARK))}

    return at


def test_steps_are_offered_by_name(offered: At) -> None:
    found = offered(LIDS, "  - park\n", "  - ¦\n  - park\n")

    assert found.keys() >= load_registry().transforms.keys()
    assert found["home"].told.startswith("Home the machine before the job")
    assert "swarm-warning" in found, "a step of the gallery's own"


def test_a_step_that_was_begun_gets_the_options_that_it_needs(offered: At) -> None:
    found = offered(LIDS, "  - park\n", "  - pau¦\n  - park\n")

    assert found["pause"].text.startswith("pause:\n    ")
    assert "text: " in found["pause"].text
    assert "```text\nG1 Z-3 F200   ->        (EXTRACTION ON)\n" in found["pause"].told


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("touch-off: {gap: 3, back-off: 2, over-travel: 3, retract: 15}",
         "touch-off: {gap: 3, b¦}"),
        ("touch-off: {gap: 3, back-off: 2, over-travel: 3, retract: 15}",
         "touch-off:\n      gap: 3\n      ¦"),
    ],
    ids=["in braces", "a line each"],
)  # fmt: skip
def test_options_of_a_step_are_offered(old: str, new: str, offered: At) -> None:
    found = offered(LIDS, old, new)

    options = load_registry().transforms["touch-off"].options
    assert found.keys() == options.keys() - {"gap"}, "what is there already is not offered again"
    assert found["retract"].text == "retract: ${1:15}"
    assert "; mm." in found["retract"].told
    assert "If left out: `15`." in found["retract"].told


@pytest.mark.parametrize(
    ("file", "old", "new", "wanted"),
    [
        (LIDS, "missing: start", "missing: ¦", {"refuse", "start"}),
        (LIDS, "{remove: true}", "{remove: ¦}", {"true", "false"}),
        (BENCH, "  text: before ", "  text: ¦\n  #", {"before", "same-line", "none"}),
        (BENCH, "dwell: milliseconds ", "dwell: ¦\n#", {"seconds", "milliseconds"}),
        (BENCH, "comments: both ", "comments: ¦\n#", {"parentheses", "semicolon", "both", "none"}),
        (BENCH, "rapids: straight", "rapids: ¦", {"straight", "each-axis"}),
        (BENCH, "names: short,", "names: ¦,", {"short", "long"}),
    ],
)
def test_values_that_mean_something_are_offered(
    file: str, old: str, new: str, wanted: set[str], offered: At
) -> None:
    assert offered(file, old, new).keys() == wanted


@pytest.mark.parametrize(
    ("file", "old", "new", "wanted", "there"),
    [
        (LIDS, "setup: setups/lids-18.yaml\n", "setup: setups/lids-18.yaml\n¦\n",
         {"card-files", "lower", "assume", "extends", "python"}, {"name", "machine", "steps"}),
        (BENCH, "spoilboard: 15\n", "¦\n", {"spoilboard", "outputs", "shoe", "hold-down"},
         {"bed", "axes"}),
        (BENCH, "  reaction: 0.02 ", "  ¦\n  #", {"reaction", "lead"}, {"quick", "slow"}),
        (BENCH, "park: {x: 5, y: 550, z: -2}", "park: {x: 5, z¦}", {"z"}, {"x"}),
        (SETUP, "safe-height: 25\n", "¦\n", {"safe-height", "tools", "offsets"}, {"plate"}),
        (SETUP, "  diameter: 6\n", "  ¦\n", {"diameter", "teeth", "chip"}, {"stick-out"}),
        (SETUP, "  - {name: left,", "  - {n¦,", {"name"}, {"from", "top"}),
    ],
    ids=lambda value: value.strip() if isinstance(value, str) else "",
)  # fmt: skip
def test_keys_are_offered_that_are_not_there_yet(
    file: str, old: str, new: str, wanted: set[str], there: set[str], offered: At
) -> None:
    found = offered(file, old, new)

    assert found.keys() >= wanted
    assert not found.keys() & there
    assert all(found[key].told for key in wanted)


OWN = '''\
from headrace import Facet, after, transform


@transform(
    "smoke-first",
    changes=[Facet.DWELL],
    options={"puffs": {"type": "integer", "description": "How many puffs of the smoker; a whole "
                       "number.", "minimum": 1, "default": 3}},
)
def smoke_first(job, *, puffs):
    """Wait for the smoker before the first line."""
    yield after(0, f"G4 P{puffs}")
'''
RECIPE = """\
# yaml-language-server: $schema=schemas/recipe.json
format: headrace-recipe/2
name: Smoke first
machine: machine.yaml
python: [smoke_first.py]
steps:
  - smoke-first: {puffs: 2}
"""


def test_a_step_of_ones_own_is_known_like_any_other(server: Server, tmp_path: Path) -> None:
    """The recipe may still be wrong elsewhere: here its machine is not there yet."""
    recipe = tmp_path / "smoke.yaml"
    recipe.write_text(RECIPE, "utf-8")
    (tmp_path / "smoke_first.py").write_text(OWN, "utf-8")
    schemas = tmp_path / "schemas"

    written = CliRunner().invoke(command, ["schema", "--to", str(schemas), "--for", str(recipe)])

    assert written.exit_code == 0, written.output
    sound = server.open(recipe)
    wrong = server.open(recipe, RECIPE.replace("puffs: 2", "puffs: none"))
    assert sound.problems() == []
    assert [(each.line, each.column) for each in wrong.problems()] == [(7, 26)]
    assert "How many puffs of the smoker; a whole number." in sound.hover("puffs")
    begun = server.open(recipe, RECIPE.replace("- smoke-first: {puffs: 2}\n", "- smo"))
    assert "smoke-first" in {offer.label for offer in begun.offers(len(begun.text))}
