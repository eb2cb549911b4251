"""Finding transforms: installed distributions, and files that a recipe names.

Each plugin is loaded by itself: a broken one is one reported fault and never stops the others.
"""

from __future__ import annotations

import importlib.util
import sys
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from hashlib import sha256
from importlib.abc import SourceLoader
from importlib.metadata import Distribution, EntryPoint, distributions
from pathlib import Path
from types import MappingProxyType, ModuleType
from zlib import crc32

import pluggy

from headrace.errors import PluginError
from headrace.findings import Finding, Place
from headrace.plugins import hookspecs
from headrace.plugins.hooks import PROJECT, hookimpl
from headrace.plugins.transform import Transform
from headrace.program import Program

_LOCAL = "headrace_local_"
"""How the names of modules begin that are plugin files."""


@dataclass(frozen=True, slots=True)
class Source:
    """Where a plugin's code comes from: the name of its file, or of its module and the version of
    its distribution.

    `home` is the module's file or the folder of its package, None where that cannot be told or is
    not all of it; `sha256` is that of the very bytes of a file which a recipe names, and nothing
    else.
    """

    name: str
    version: str
    home: Path | None
    sha256: str = ""


@dataclass(frozen=True)
class Registry:
    """The transforms that recipes may name, and the hooks to call.

    `faults` are the plugins that could not be loaded; `sources` tell of the others, by the names
    under which the manager has them, where their code comes from.
    """

    transforms: Mapping[str, Transform]
    faults: tuple[Finding, ...]
    manager: pluggy.PluginManager
    sources: Mapping[str, Source] = field(default_factory=dict)

    def with_files(self, paths: Sequence[Path], places: Sequence[Place]) -> Registry:
        """This registry and the transforms of plugin files beside a recipe.

        Raises PluginError for a file that cannot be loaded, fails, or takes a name that is taken:
        a recipe that brings its own transform must never run another one in its place.
        """
        if not paths:
            return self
        manager = _manager()
        for name, plugin in self.manager.list_name_plugin():
            manager.register(plugin, name)
        sources = dict(self.sources)
        for path, place in zip(paths, places, strict=True):
            try:
                code = path.read_bytes()
                name = _register(manager, _offering(_module(path, code)), path.name, str(path))
                sources[name] = _source_of_file(path, code)
            except (Exception, SystemExit) as error:
                raise PluginError(findings=[_fault(path.name, error, place)]) from error
        named = {path.name: place for path, place in zip(paths, places, strict=True)}
        extended = _collected(manager, (), named)
        if new := [fault for fault in extended.faults if fault not in self.faults]:
            raise PluginError(findings=new)
        return Registry(extended.transforms, self.faults, manager, sources)

    def step_done(self, name: str, before: Program, after: Program) -> None:
        """Tell the watchers that a step has run and has kept its contract.

        Raises PluginError where one of them fails.
        """
        try:
            self.manager.hook.headrace_step_done(name=name, before=before, after=after)
        except (Exception, SystemExit) as error:
            what = f"a watcher of step `{name}` failed: {type(error).__name__}: {error}"
            raise PluginError(findings=[Finding.of("step-failed", what)]) from error


def load_registry() -> Registry:
    """The transforms of all installed plugins, in the entry point group `headrace`."""
    manager = _manager()
    faults: list[Finding] = []
    sources: dict[str, Source] = {}
    for distribution, entry_point in _entry_points():
        provider = f"{distribution.metadata['Name']} {distribution.version}"
        try:
            name = _register(manager, entry_point.load(), provider, entry_point.value)
            sources[name] = _source(entry_point.module, distribution.version)
        except (Exception, SystemExit) as error:
            faults.append(_fault(f"{entry_point.value} ({provider})", error, None))
    return replace(_collected(manager, tuple(faults)), sources=sources)


def _entry_points() -> Iterable[tuple[Distribution, EntryPoint]]:
    found: dict[str, tuple[Distribution, EntryPoint]] = {}
    for distribution in distributions():
        for entry_point in distribution.entry_points:
            if entry_point.group == PROJECT:
                found.setdefault(entry_point.value, (distribution, entry_point))
    return [found[value] for value in sorted(found)]


def _manager() -> pluggy.PluginManager:
    manager = pluggy.PluginManager(PROJECT)
    manager.add_hookspecs(hookspecs)
    return manager


def _source(module: str, version: str) -> Source:
    """Where the code of an installed module comes from: of its outermost package that is one."""
    parts = module.split(".")
    for count in range(1, len(parts) + 1):
        name = ".".join(parts[:count])
        file = getattr(sys.modules.get(name), "__file__", None)
        if file is not None:
            home = Path(file)
            return Source(name, version, home.parent if home.stem == "__init__" else home)
    return Source(module, version, None)


def _source_of_file(path: Path, code: bytes) -> Source:
    """The source of a plugin file, loaded before. Where files beside it are loaded too, it is not
    all of the code, and nobody can tell which state of those this process has."""
    if path.resolve().parent in _folders_of_modules():
        return Source(path.name, "", None)
    return Source(path.name, "", path, sha256(code).hexdigest())


def _folders_of_modules() -> set[Path]:
    """The folders from which modules were imported by their names, not as plugin files."""
    folders = set()
    for name, module in list(sys.modules.items()):
        file = getattr(module, "__file__", None)
        if file is not None and "." not in name and not name.startswith(_LOCAL):
            home = Path(file).parent
            folders.add(home.parent if hasattr(module, "__path__") else home)
    return {folder.resolve() for folder in folders}


def _module(path: Path, code: bytes) -> ModuleType:
    """A plugin file of this code as a module with a name of its own, so that two recipes never
    clash. No compiled code of before is taken, nor is any kept."""
    name = f"{_LOCAL}{path.stem}_{crc32(str(path.resolve()).encode()):08x}"
    spec = importlib.util.spec_from_file_location(name, path)
    if spec is None or not isinstance(spec.loader, SourceLoader):
        raise ImportError(f"{path.name} is not a Python file")
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    try:
        exec(spec.loader.source_to_code(code, str(path)), vars(module))
    except BaseException:
        del sys.modules[name]
        raise
    return module


def _offering(module: ModuleType) -> object:
    """The module itself where it implements hooks, else an offer of the transforms in it."""
    if any(hasattr(value, f"{PROJECT}_impl") for value in vars(module).values()):
        return module
    transforms = [value for value in vars(module).values() if isinstance(value, Transform)]

    class Offer:
        @hookimpl
        def headrace_transforms(self) -> Iterable[Transform]:
            return transforms

    return Offer()


def _register(manager: pluggy.PluginManager, plugin: object, provider: str, part: str) -> str:
    """Register a plugin, and give its name; a hook that nobody specified is refused by name.

    `part` tells apart several plugins of one provider.
    """
    name = f"{provider} ({part})" if manager.has_plugin(provider) else provider
    try:
        manager.register(plugin, name)
        manager.check_pending()
        if not manager.get_hookcallers(plugin):
            raise ImportError("it implements no hook; mark one with @hookimpl")
    except Exception:
        if manager.is_registered(plugin):
            manager.unregister(plugin)
        raise
    return name


def _collected(
    manager: pluggy.PluginManager,
    faults: tuple[Finding, ...],
    places: Mapping[str, Place] = MappingProxyType({}),
) -> Registry:
    """Ask every plugin for its transforms; two of one name are a fault of the later one.

    `places` tells where plugin files are named.
    """
    transforms: dict[str, Transform] = {}
    found = list(faults)
    for name, plugin in manager.list_name_plugin():
        hook = getattr(plugin, "headrace_transforms", None)
        if hook is None:
            continue
        try:
            offered = [_provided(transform, name) for transform in hook()]
        except (Exception, SystemExit) as error:
            found.append(_fault(name, error, places.get(name)))
            continue
        for transform in offered:
            if transform.name in transforms:
                other = transforms[transform.name].provider
                what = f"`{transform.name}` is offered by {other} and by {name}"
                found.append(Finding.of("name-taken", what, places.get(name)))
                continue
            transforms[transform.name] = transform
    return Registry(MappingProxyType(dict(sorted(transforms.items()))), tuple(found), manager)


def _provided(transform: object, provider: str) -> Transform:
    if not isinstance(transform, Transform):
        raise TypeError(f"headrace_transforms gave {transform!r}, which is no transform")
    return replace(transform, provider=provider)


def _fault(provider: str, error: BaseException, place: Place | None) -> Finding:
    if isinstance(error, PluginError):
        return error.findings[0]
    said = "; ".join(line.strip() for line in str(error).splitlines() if line.strip())
    what = f"the plugin {provider} cannot be loaded: {type(error).__name__}: {said}"
    return Finding.of("plugin-unloadable", what, place)
