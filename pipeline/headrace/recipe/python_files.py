"""Python files that a recipe names: they must lie beside the file that names them, or below."""

from __future__ import annotations

from pathlib import Path

from headrace.findings import Finding
from headrace.recipe.composition import referenced
from headrace.recipe.node import Items, Leaf, Table


def python_files(recipe: Table) -> tuple[list[tuple[Path, Leaf]], list[Finding]]:
    """The Python files, each with the value that names it, and what is wrong with others."""
    found: list[Finding] = []
    files: list[tuple[Path, Leaf]] = []
    named = recipe.get("python")
    items = named.items if isinstance(named, Items) else ()
    for item in (item for item in items if isinstance(item, Leaf)):
        fault = _fault(item)
        if fault is None:
            files.append((referenced(item), item))
        else:
            found.append(fault)
    return files, found


def _fault(named: Leaf) -> Finding | None:
    text = str(named.value)
    folder = Path(named.place.file).parent.resolve()
    path = referenced(named)
    try:
        target = path.resolve()
        is_file = path.is_file()
    except (OSError, RuntimeError) as error:
        return Finding.of("recipe-plugin-path", f"`{text}` leads nowhere: {error}", named.place)
    # Resolved, so that a link cannot lead out either.
    if Path(text).is_absolute() or ".." in Path(text).parts or not target.is_relative_to(folder):
        what = f"the Python file `{text}` does not lie beside or below {named.place.file}"
        return Finding.of("recipe-plugin-path", what, named.place)
    if not is_file:
        return Finding.of("recipe-missing", f"there is no Python file {path}", named.place)
    return None
