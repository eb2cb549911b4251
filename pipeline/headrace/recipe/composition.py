"""Files that make one recipe: its parents, its machine, its set-up.

A child's keys count before its parent's. Mappings are merged key by key, lists and single values
are replaced. Every value keeps the place where it was written, whatever file that is.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import islice
from pathlib import Path

from headrace.errors import RecipeError
from headrace.findings import Finding, Place
from headrace.recipe.document import read_document, refuse
from headrace.recipe.formats import is_newer, is_older, newest, upgraded
from headrace.recipe.node import Entry, Leaf, Node, Table, plain
from headrace.recipe.wording import kind_of, nearest, told

MOST_PARENTS = 8
KINDS = {"recipe": "a recipe", "machine": "a machine description", "setup": "a set-up"}
_MOST_NAMES = 1000


@dataclass(frozen=True, slots=True)
class Chain:
    """A recipe merged with all its parents, in the newest format, and the files read, the child's
    first. `older` are the documents of older formats among them, as they are written."""

    root: Table
    files: tuple[Path, ...]
    older: tuple[Table, ...] = ()


def load_chain(path: Path) -> Chain:
    """A recipe and its parents as one. Raises RecipeError."""
    written = [_stated(path, "recipe", None)]
    root = upgraded(written[0], "recipe")
    files = [path]
    seen = {path.resolve()}
    while (parent := root.entries.get("extends")) is not None:
        named = parent.node
        if not isinstance(named, Leaf) or not isinstance(named.value, str) or not named.value:
            what = "`extends` must be text, the path of one recipe"
            refuse("recipe-wrong-type", what, named.place, "name one file; it may extend another")
        path = referenced(named)
        if path.resolve() in seen:
            what = f"{told(named.value)} leads back to a recipe that it is extended by"
            refuse("recipe-extends-cycle", what, named.place)
        if len(files) > MOST_PARENTS:
            what = f"more than {MOST_PARENTS} recipes extend one another"
            refuse("recipe-extends-deep", what, named.place)
        child = Table({k: e for k, e in root.entries.items() if k != "extends"}, root.place)
        written.append(_stated(path, "recipe", named.place))
        root = merged(child, upgraded(written[-1], "recipe"))
        files.append(path)
        seen.add(path.resolve())
    older = tuple(each for each in written if is_older(each, "recipe"))
    return Chain(root, tuple(files), older)


def merged(child: Table, parent: Table) -> Table:
    """Both as one; what the child says counts."""
    entries = dict(parent.entries)
    for key, entry in child.entries.items():
        node = entry.node
        if isinstance(node, Table) and isinstance(other := parent.get(key), Table):
            node = merged(node, other)
        entries[key] = Entry(entry.key, node)
    return Table(entries, child.place)


def referenced(named: Leaf) -> Path:
    """The path that a value names, counted from the folder of the file that writes it."""
    return Path(named.place.file).parent / str(named.value)


def load_file(path: Path, kind: str, named: Place | None) -> Table:
    """A file of a known kind, in its newest format, `named` at a place of another file.

    Raises RecipeError.
    """
    return upgraded(_stated(path, kind, named), kind)


def _stated(path: Path, kind: str, named: Place | None) -> Table:
    """The same as it is written. Raises RecipeError."""
    try:
        root = read_document(path).root
    except RecipeError as error:
        found = [_where(finding, path, named) for finding in error.findings]
        raise RecipeError(findings=found) from None
    return check_format(root, kind, path)


def check_format(root: Node, kind: str, path: Path) -> Table:
    """The whole of a file, which must be a mapping and state a known format of this kind.

    Raises RecipeError.
    """
    if not isinstance(root, Table):
        what = f"{path} must hold keys and values; this is {kind_of_node(root)}"
        refuse("recipe-wrong-type", what, root.place, f"begin with `format: {newest(kind)}`")
    _need_format(root, kind)
    return root


def kind_of_node(node: object) -> str:
    """What a node is, in words."""
    return kind_of(node.value) if isinstance(node, Leaf) else "a list"


def _where(finding: Finding, path: Path, named: Place | None) -> Finding:
    """A fault of the file as a whole is shown where the file is named."""
    remedy = finding.remedy
    if finding.name == "recipe-missing" and (close := _neighbour(path)):
        remedy = f"did you mean `{close}`? {remedy}"
    return replace(finding, place=finding.place or named, remedy=remedy)


def _neighbour(path: Path) -> str | None:
    try:
        names = [entry.name for entry in islice(path.parent.iterdir(), _MOST_NAMES)]
    except OSError:
        return None
    return nearest(path.name, sorted(names))


def _need_format(root: Table, kind: str) -> None:
    wanted = newest(kind)
    stated = root.get("format")
    remedy = f"write `format: {wanted}` as the first line"
    if stated is None:
        close = nearest("format", root.entries)
        place = root.entries[close].key if close else root.place
        hint = f"`{close}` is not known; " if close else ""
        refuse("recipe-format", f"{hint}`format` is missing", place, remedy)
    if plain(stated) == wanted or is_older(root, kind):
        return
    if is_newer(root, kind):
        what = f"this is {told(plain(stated))}, a format that this headrace does not know yet"
        refuse(
            "recipe-format-newer",
            what,
            stated.place,
            f"known here is `{wanted}`: get a newer headrace",
        )
    what = f"this must be {KINDS[kind]}"
    if isinstance(stated, Leaf):
        text = str(stated.value)
        other = next((KINDS[k] for k in KINDS if text.startswith(f"headrace-{k}/")), None)
        what += f", and the file says {told(stated.value)}"
        if other == KINDS[kind]:
            remedy = f"this version of headrace reads {told(wanted)}"
        elif other is not None:
            remedy = f"name {KINDS[kind]} here; this file is {other}"
    refuse("recipe-format", what, stated.place, remedy)
