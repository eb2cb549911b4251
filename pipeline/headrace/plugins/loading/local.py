"""Python files that recipes name, as modules."""

from __future__ import annotations

import importlib.util
import io
import sys
import tokenize
from pathlib import Path
from types import ModuleType
from zlib import crc32

from headrace.plugins.loading.aside import aside
from headrace.plugins.loading.faults import Named, unfit
from headrace.plugins.loading.own_code import remember
from headrace.plugins.python_file import PythonFile

LOCAL = "headrace_local_"
"""How the names of modules begin that are such files."""


def module_of(file: PythonFile, named: Named) -> ModuleType:
    """A Python file as a module with a name of its own, so that two recipes never clash. What runs
    are the bytes that were read; no compiled code of before is taken, nor is any kept.

    Raises PluginError for what is no Python text, and whatever the file raises.
    """
    path = file.path
    name = f"{LOCAL}{path.stem}_{crc32(str(path.resolve()).encode()):08x}"
    spec = importlib.util.spec_from_file_location(name, path)
    if spec is None or path.suffix != ".py":
        raise unfit(named, f"{path.name} is not a Python file", None, "its name must end in .py")
    text = _text(file, named)
    remember(path, text)
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    try:
        with aside():
            exec(compile(text, str(path), "exec", dont_inherit=True), vars(module))
    except BaseException:
        sys.modules.pop(name, None)
        raise
    return module


def folders_of_modules() -> set[Path]:
    """The folders from which modules were imported by their names, not as such files."""
    folders = set()
    for name, module in list(sys.modules.items()):
        file = getattr(module, "__file__", None)
        if file is not None and "." not in name and not name.startswith(LOCAL):
            home = Path(file).parent
            folders.add(home.parent if hasattr(module, "__path__") else home)
    return {folder.resolve() for folder in folders}


def _text(file: PythonFile, named: Named) -> str:
    """The characters of the file, in the coding that it states (PEP 263), UTF-8 if none."""
    if b"\0" in file.code:
        why = "it holds zero bytes, so it is no Python text"
        raise unfit(named, why, None, "save it as text in UTF-8")
    try:
        coding, _ = tokenize.detect_encoding(io.BytesIO(file.code).readline)
        return io.TextIOWrapper(io.BytesIO(file.code), coding, newline=None).read()
    except UnicodeDecodeError as error:
        line = 1 + file.code[: error.start].count(b"\n")
        byte = file.code[error.start]
        why = f"byte 0x{byte:02x} in line {line} is no {error.encoding.upper()}"
    except SyntaxError as error:
        why = str(error.msg)
    raise unfit(named, why, None, "save it in UTF-8")
