"""Help in an editor needs no network: schemas are found by their relative paths."""

from __future__ import annotations

from pathlib import Path

from editor.mistakes import LIDS
from editor.server import Server


def test_no_network_is_tried(gallery: Path) -> None:
    server = Server.start(gallery)
    opened = [server.open(path) for path in sorted(gallery.rglob("*.yaml"))]
    recipe = next(document for document in opened if document.uri.endswith(LIDS))

    assert all(document.problems() == [] for document in opened)
    assert recipe.hover("touch-off")
    assert recipe.offers(recipe.text.index("- park") + 2)
    assert server.tries == 0

    # ... and would be seen, if it were.
    text = recipe.text.replace("$schema=schemas/recipe.json", "$schema=http://127.0.0.1:9/x.json")
    assert server.open(gallery / LIDS, text).problems() != []
    server.stop()
    assert server.tries > 0
