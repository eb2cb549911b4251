"""The schemas of what people write, as files for editors to find beside them.

Each holds a mark with the SHA-256 of all else in it: so headrace knows again what it wrote, however
it is laid out, and whether somebody has changed it since.
"""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from contextlib import ExitStack
from hashlib import sha256
from pathlib import Path
from typing import Any

from headrace.recipe.plan import Transforms
from headrace.recipe.schema_export import full_schema
from headrace.whole_file import Change, FileKept, exchange, staged

WRITTEN_BY_PEOPLE = ("recipe", "machine", "setup")
FOLDER = "schemas"
"""Where recipes look for them: a folder beside the recipe."""

_MARK = "Written by `headrace schema`. SHA-256 of the rest: "
_LARGEST = 1 << 24


def schema_files(registry: Transforms) -> dict[str, bytes]:
    """The three files by their names; the recipe's knows every transform of `registry`."""
    return {f"{kind}.json": schema_file(full_schema(kind, registry)) for kind in WRITTEN_BY_PEOPLE}


def schema_file(schema: Mapping[str, Any]) -> bytes:
    """A schema as a file, with our mark behind its name."""
    heading = {key: schema[key] for key in ("$schema", "$id")}
    marked = {**heading, "$comment": _MARK + _digest(schema), **schema}
    return (json.dumps(marked, indent=2, ensure_ascii=False) + "\n").encode()


def write_schemas(folder: Path, files: Mapping[str, bytes]) -> dict[Path, str]:
    """Write schemas to a folder, which is made if it is not there, and tell what became of each:
    written, replaced or unchanged.

    Raises FileKept, with nothing written, where one of them cannot be, or is none of ours.
    """
    wanted = {folder / name: content for name, content in files.items()}
    there = {path for path in wanted if os.path.lexists(path)}
    for path in wanted:
        if path in there and not is_ours(path):
            why = "it is there already and is no schema as headrace wrote it: move it away"
            raise FileKept(path, why)
    try:
        folder.mkdir(exist_ok=True)
        old = {path: Change(path.read_bytes(), wanted[path]) for path in wanted if path in there}
        changes = {path: change for path, change in old.items() if change.before != change.after}
        with ExitStack() as waiting:
            fresh = {
                path: waiting.enter_context(staged(path, content))
                for path, content in wanted.items()
                if path not in there
            }
            exchange(changes)
            for path, file in fresh.items():
                file.rename(path)
    except OSError as error:
        raise FileKept(folder, error.strerror or str(error)) from error
    fates = dict.fromkeys(fresh, "written") | dict.fromkeys(changes, "replaced")
    return {path: fates.get(path, "unchanged") for path in wanted}


def is_ours(path: Path) -> bool:
    """Whether a file is a schema as headrace wrote it."""
    try:
        if not path.is_file() or path.is_symlink() or path.stat().st_size > _LARGEST:
            return False
        found = json.loads(path.read_bytes())
        return bool(found.pop("$comment") == _MARK + _digest(found))
    except (OSError, ValueError, KeyError, AttributeError, TypeError, RecursionError):
        return False


def _digest(schema: Mapping[str, Any]) -> str:
    return sha256(json.dumps(schema, sort_keys=True).encode()).hexdigest()


def schema_line(way: str) -> str:
    """The first line of a YAML file that has its schema at `way`, a path from its folder."""
    return f"# yaml-language-server: $schema={way}"
