"""Installed plugins: what distributions offer in the entry point group `headrace`."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from importlib.machinery import PathFinder
from importlib.metadata import Distribution, EntryPoint, distributions
from pathlib import Path

from headrace.findings import Finding
from headrace.plugins.hooks import PROJECT
from headrace.plugins.loading.faults import Named, in_words


@dataclass(frozen=True, slots=True)
class Installed:
    """A plugin of a distribution, not loaded yet. `provider` is that and its version."""

    provider: str
    version: str
    entry_point: EntryPoint

    @property
    def named(self) -> Named:
        entry = self.entry_point
        return Named(f"{entry.value} ({self.provider})", home_of(entry.module), entry.module)


def installed() -> tuple[list[Installed], list[Finding]]:
    """All there are, those of headrace first and then by their names, and what is wrong with
    distributions that have some.

    Of two that are the same the one counts that is first on the path.
    """
    found: dict[str, tuple[Distribution, EntryPoint]] = {}
    faults: list[Finding] = []
    for distribution in distributions():
        try:
            for entry_point in distribution.entry_points:
                if entry_point.group == PROJECT:
                    found.setdefault(entry_point.value, (distribution, entry_point))
        except Exception as error:
            faults += _unread(distribution, error)
    whole = []
    for value in sorted(found):
        told = _told(*found[value])
        if isinstance(told, Finding):
            faults.append(told)
        else:
            whole.append(told)
    return sorted(whole, key=lambda each: each.provider.split()[0] != PROJECT), faults


def home_of(module: str) -> Path | None:
    """The file of an installed module, or the folder of its outermost package that is one; None
    where that is not found. Nothing is run for it."""
    path = None
    for at in range(1, module.count(".") + 2):
        name = ".".join(module.split(".")[:at])
        try:
            spec = PathFinder.find_spec(name, path)
        except Exception:
            return None
        if spec is None:
            return None
        if spec.origin is not None:
            home = Path(spec.origin)
            return home.parent if spec.submodule_search_locations else home
        path = list(spec.submodule_search_locations or [])
    return None


def _told(distribution: Distribution, entry_point: EntryPoint) -> Installed | Finding:
    try:
        name, version = distribution.metadata["Name"], distribution.version
    except Exception:
        name, version = None, None
    if name and version:
        return Installed(f"{name} {version}", version, entry_point)
    where = distribution.locate_file("")
    what = f"the plugin {entry_point.value} cannot be loaded: its distribution in {where} does not"
    remedy = "install the distribution again, or remove it"
    return Finding.of("plugin-unloadable", f"{what} tell its name and version", remedy=remedy)


def _unread(distribution: Distribution, error: Exception) -> Iterator[Finding]:
    """A list of entry points that is broken, if some of them are ours."""
    try:
        text = distribution.read_text("entry_points.txt") or ""
        name = f"{distribution.metadata['Name']} {distribution.version}"
    except Exception:
        return
    if f"[{PROJECT}]" in text:
        what = f"the plugins of {name} cannot be found: its list of entry points is broken"
        remedy = "install the distribution again, or remove it"
        yield Finding.of("plugin-unloadable", f"{what}: {in_words(error)}", remedy=remedy)
