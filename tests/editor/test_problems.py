"""What an editor underlines is what `headrace check` tells, at the same line and column.

Outside reference: a YAML language server, with the schemas that lie beside the recipes.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from editor.mistakes import MISTAKES, Mistake
from editor.server import Document, Server

from headrace.plugins.registry import load_registry
from headrace.recipe import check_recipe
from headrace.recipe.dependents import description_findings, kind_of

RECIPES = Path(__file__).parents[2] / "recipes"
FILES = sorted(
    path.relative_to(RECIPES).as_posix()
    for path in RECIPES.rglob("*.yaml")
    if "kept" not in path.parts
)


@pytest.fixture(scope="session")
def files(server: Server, gallery: Path) -> dict[str, Document]:
    """All files of the gallery, opened at once."""
    return {name: server.open(gallery / name) for name in FILES}


@pytest.fixture(scope="session")
def mistaken(server: Server, gallery: Path) -> dict[str, Document]:
    """All mistakes, opened at once."""
    return {each.says: server.open(gallery / each.file, each.text(gallery)) for each in MISTAKES}


@pytest.mark.parametrize("name", FILES)
def test_a_file_of_the_gallery_has_no_problem(name: str, files: dict[str, Document]) -> None:
    assert files[name].problems() == []


@pytest.mark.parametrize("mistake", MISTAKES, ids=lambda mistake: mistake.says)
def test_editor_and_headrace_point_to_the_same_place(
    mistake: Mistake, mistaken: dict[str, Document], gallery: Path
) -> None:
    wrong = (gallery / mistake.file).with_name("mistaken.yaml")
    wrong.write_text(mistake.text(gallery), "utf-8")

    problems = mistaken[mistake.says].problems()
    kind = kind_of(wrong)
    assert kind is not None
    if kind == "recipe":
        found = check_recipe(wrong, load_registry())
    else:
        found = list(description_findings(wrong, kind))

    place = mistake.place(gallery)
    places = [(each.place.line, each.place.column) for each in found if each.place]
    assert places == [place] * mistake.found
    assert len(problems) == mistake.told
    assert [each.text for each in problems if (each.line, each.column) == place] != []
    assert any(mistake.words in each.text for each in problems), problems


def test_sayings_of_mistakes_are_unique() -> None:
    assert len({mistake.says for mistake in MISTAKES}) == len(MISTAKES)
