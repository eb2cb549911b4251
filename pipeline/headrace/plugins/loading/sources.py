"""Where the code of a plugin comes from, and what it is."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path

from headrace.plugins.loading.local import folders_of_modules
from headrace.plugins.python_file import PythonFile


@dataclass(frozen=True, slots=True)
class Source:
    """Where a plugin's code comes from: the name of its file, or of its module and the version of
    its distribution.

    `home` is the module's file or the folder of its package, None where that cannot be told or is
    not all of it; `sha256` is that of the very bytes of a file which a recipe names, and nothing
    else. `own` is the file or folder in which its lines are, whether or not that is all of it.
    """

    name: str
    version: str
    home: Path | None
    sha256: str = ""
    own: Path | None = None


def source_of_module(module: str, version: str) -> Source:
    """Where the code of an installed module comes from: of its outermost package that is one."""
    parts = module.split(".")
    for count in range(1, len(parts) + 1):
        name = ".".join(parts[:count])
        file = getattr(sys.modules.get(name), "__file__", None)
        if file is not None:
            home = Path(file)
            home = home.parent if home.stem == "__init__" else home
            return Source(name, version, home, own=home)
    return Source(module, version, None)


def source_of_file(file: PythonFile) -> Source:
    """The source of a Python file, loaded before. Where files beside it are loaded too, it is not
    all of the code, and nobody can tell which state of those this process has."""
    if file.path.resolve().parent in folders_of_modules():
        return Source(file.path.name, "", None, own=file.path)
    return Source(file.path.name, "", file.path, file.sha256, file.path)
