"""Names that a public door offers: each is loaded from its home when it is first used."""

from __future__ import annotations

from collections.abc import Mapping
from importlib import import_module


def behind(door: str, name: str, homes: Mapping[str, str], leaving: Mapping[str, str]) -> object:
    """What `name` stands for. `homes` are modules, each with the names that live there; `leaving`
    are names that go with the next minor version, each with what to do instead: whoever uses one
    gets a DeprecationWarning.

    Raises AttributeError for a name that the door does not offer.
    """
    home = next((module for module, names in homes.items() if name in names.split()), None)
    if home is None:
        raise AttributeError(f"{door} has no public name {name!r}")
    if name in leaving:
        import warnings

        what = f"{door}.{name} goes with the next minor version; {leaving[name]}"
        warnings.warn(what, DeprecationWarning, stacklevel=3)
    return getattr(import_module(home), name)
