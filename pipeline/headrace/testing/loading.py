"""The transforms that a file or a module offers."""

from __future__ import annotations

import importlib
import importlib.util
import sys
from hashlib import sha256
from pathlib import Path
from types import ModuleType

from headrace.errors import PluginError
from headrace.plugins import Transform
from headrace.plugins.trust import Policy, policy, switched_off


def transforms_of(named: str | Path) -> list[Transform]:
    """Those of a Python file (by its path) or of an installed module (by its name): what its hook
    offers, or all that stand in it.

    The file is run without being trusted: it is its author who tries it. Raises PluginError where
    nothing is offered or no Python file may run at all, and whatever the file itself raises.
    """
    path = Path(named)
    module = _of_file(path) if path.suffix == ".py" else importlib.import_module(str(named))
    offer = getattr(module, "headrace_transforms", None)
    found = list(offer()) if callable(offer) else _standing_in(module)
    if not found or not all(isinstance(each, Transform) for each in found):
        raise PluginError(f"{named} offers no transforms: make a function one with @transform")
    return found


def _standing_in(module: ModuleType) -> list[Transform]:
    return [value for value in vars(module).values() if isinstance(value, Transform)]


def _of_file(path: Path) -> ModuleType:
    """A file as a module with a name of its own, run once for what it holds now."""
    if policy() is Policy.OFF:
        raise switched_off(path)
    code = path.read_bytes()
    digest = sha256(str(path.resolve()).encode() + code).hexdigest()[:12]
    name = f"headrace_tried_{path.stem}_{digest}"
    if name not in sys.modules:
        spec = importlib.util.spec_from_file_location(name, path)
        if spec is None or spec.loader is None:
            raise PluginError(f"{path} is no Python file")
        module = importlib.util.module_from_spec(spec)
        sys.modules[name] = module
        try:
            spec.loader.exec_module(module)
        except BaseException:
            del sys.modules[name]
            raise
    return sys.modules[name]
