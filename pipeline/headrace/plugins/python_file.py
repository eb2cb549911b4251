"""A Python file beside a recipe: its bytes, read once, and how people call them."""

from __future__ import annotations

import ast
from dataclasses import dataclass, field
from hashlib import sha256
from pathlib import Path

from headrace.errors import PluginError
from headrace.findings import Finding, Place

LARGEST = 1 << 20
"""So many bytes a file may have; one that is larger was not written by a person."""


@dataclass(frozen=True, slots=True)
class PythonFile:
    """A Python file as it was when it was read: what is hashed, shown and run is `code`."""

    path: Path
    code: bytes = field(repr=False)

    @classmethod
    def read(cls, path: Path, place: Place | None = None) -> PythonFile:
        """The file at `path`, which is named at `place`. Raises PluginError."""
        why = ""
        try:
            if path.is_dir():
                why = "it is a folder"
            elif not path.is_file():
                why = "there is no such file"
            else:
                with path.open("rb") as file:
                    code = file.read(LARGEST + 1)
                if len(code) <= LARGEST:
                    return cls(path, code)
                why = f"it has more than {LARGEST} bytes"
        except OSError as error:
            why = f"it cannot be read: {error.strerror or error}"
        what = f"the plugin {path.name} cannot be loaded: {why}"
        raise PluginError(findings=[Finding.of("plugin-unloadable", what, place)])

    @property
    def sha256(self) -> str:
        """The digest of the bytes, in hexadecimal."""
        return sha256(self.code).hexdigest()

    @property
    def summary(self) -> str:
        """The first line of what the file says of itself; nothing where it says nothing, or cannot
        be read as Python. Nothing of it is run."""
        try:
            told = ast.get_docstring(ast.parse(self.code)) or ""
        except (SyntaxError, ValueError, RecursionError, MemoryError):
            return ""
        return told.splitlines()[0] if told else ""
