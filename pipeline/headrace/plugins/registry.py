"""Finding transforms: installed distributions, and files that a recipe names.

Each plugin is loaded by itself: a broken one is one reported fault and never stops the others.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType

import pluggy

from headrace.errors import PluginError
from headrace.findings import Finding, Place
from headrace.plugins import hookspecs
from headrace.plugins.hooks import PROJECT
from headrace.plugins.loading.aside import aside
from headrace.plugins.loading.faults import Named, in_words, load_faults
from headrace.plugins.loading.implemented import implementations, need_hooks
from headrace.plugins.loading.installed import Installed, installed
from headrace.plugins.loading.local import module_of
from headrace.plugins.loading.offers import offered, offering
from headrace.plugins.loading.options import need_schemas
from headrace.plugins.loading.own_code import place_of_error
from headrace.plugins.loading.sources import Source, source_of_file, source_of_module
from headrace.plugins.python_file import PythonFile
from headrace.plugins.transform import Transform
from headrace.plugins.trust import Gate, by_policy
from headrace.program import Program
from headrace.program.sealing import attributes, has_kept


@dataclass(frozen=True)
class Registry:
    """The transforms that recipes may name, and the hooks to call.

    `faults` are the plugins that could not be loaded; `sources` tell of the others, by the names
    under which the manager has them, where their code comes from. Python files of recipes run
    where `gate` lets them; `python` has the SHA-256 of those that have.
    """

    transforms: Mapping[str, Transform]
    faults: tuple[Finding, ...]
    manager: pluggy.PluginManager
    sources: Mapping[str, Source] = field(default_factory=dict)
    gate: Gate = by_policy
    python: tuple[str, ...] = ()

    def with_files(self, paths: Sequence[Path], places: Sequence[Place]) -> Registry:
        """This registry and the transforms of Python files beside a recipe.

        Raises PluginError for a file that may not run, cannot be loaded, fails, or takes a name
        that is taken: a recipe that brings its own transform must never run another one in its
        place. Nothing runs where one of the files may not.
        """
        if not paths:
            return self
        files = self._let_in(paths, places)
        under_way = _UnderWay.after(self)
        for file, place in files:
            named = Named(file.path.name, file.path, place=place)
            with _told(named) as faults:
                plugin = offering(named, module_of(file, named))
                own = under_way.take(named, plugin, str(file.path), source_of_file(file))
                need_schemas(own)
            if faults:
                raise PluginError(findings=faults)
        digests = tuple(file.sha256 for file, _ in files)
        return under_way.registry(self.faults, self.gate, (*self.python, *digests))

    def _let_in(
        self, paths: Sequence[Path], places: Sequence[Place]
    ) -> list[tuple[PythonFile, Place]]:
        """The files, each read once. Raises PluginError with all that may not run."""
        files: list[tuple[PythonFile, Place]] = []
        refused: list[Finding] = []
        for path, place in zip(paths, places, strict=True):
            try:
                file = PythonFile.read(path, place)
                self.gate(file, place)
                files.append((file, place))
            except PluginError as error:
                refused += error.findings
        if refused:
            raise PluginError(findings=refused)
        return files

    def step_done(self, name: str, before: Program, after: Program) -> None:
        """Tell the watchers that a step has run and has kept its contract.

        Raises PluginError where one of them fails, or changes a program that it was shown.
        """
        held = [(program, attributes(program)) for program in (before, after)]
        try:
            with aside():
                self.manager.hook.headrace_step_done(name=name, before=before, after=after)
        except KeyboardInterrupt:
            raise
        except BaseException as error:
            what = f"a watcher of step `{name}` failed: {in_words(error)}"
            place = None
            for plugin, source in self.sources.items():
                if place := place_of_error(error, source.own):
                    what = f"{what}; it is of {plugin}"
                    break
            raise PluginError(findings=[Finding.of("step-failed", what, place)]) from error
        if not all(has_kept(program, was) for program, was in held):
            what = f"a watcher of step `{name}` changed a program that it was given to look at"
            raise PluginError(findings=[Finding.of("step-failed", what)])


def load_registry(gate: Gate = by_policy) -> Registry:
    """The transforms of all installed plugins, in the entry point group `headrace`. `gate` lets
    Python files in that recipes name."""
    plugins, faults = installed()
    under_way = _UnderWay.after(None)
    for each in plugins:
        with _told(each.named) as found:
            with aside():
                plugin = each.entry_point.load()
            named = _without_module(each)
            source = source_of_module(each.entry_point.module, each.version)
            under_way.take(named, plugin, each.entry_point.value, source)
        faults += found
    return under_way.registry(tuple(faults), gate, ())


class _UnderWay:
    """A registry that grows plugin by plugin."""

    def __init__(self, manager: pluggy.PluginManager) -> None:
        self.manager = manager
        self.transforms: dict[str, Transform] = {}
        self.sources: dict[str, Source] = {}

    @classmethod
    def after(cls, registry: Registry | None) -> _UnderWay:
        """One that has what another registry has, and what was put into its manager since."""
        manager = pluggy.PluginManager(PROJECT)
        manager.add_hookspecs(hookspecs)
        made = cls(manager)
        if registry is not None:
            made.transforms.update(registry.transforms)
            for name, plugin in registry.manager.list_name_plugin():
                if name in registry.sources:
                    manager.register(plugin, name)
                    made.sources[name] = registry.sources[name]
                else:
                    made.take(Named(name, None), plugin, name, Source(name, "", None))
        return made

    def take(self, named: Named, plugin: object, part: str, source: Source) -> Iterable[Transform]:
        """Take in a plugin, and give its transforms. `part` tells apart several of one name.

        Raises PluginError where it is not as it must be, and whatever its code raises: nothing of
        it is taken in then, but that a name which is taken keeps only that transform out.
        """
        name = f"{named.name} ({part})" if self.manager.has_plugin(named.name) else named.name
        named = Named(name, named.home, named.module, named.place)
        found = implementations(named, plugin)
        need_hooks(named, found)
        transforms = offered(named, found)
        self.manager.register(plugin, name)
        self.sources[name] = source
        taken = [each for each in transforms if each.name in self.transforms]
        new = {each.name: each for each in transforms if each not in taken}
        clashes = [self._clash(each, named) for each in taken]
        self.transforms |= new
        if clashes:
            raise PluginError(findings=clashes)
        return new.values()

    def registry(
        self, faults: tuple[Finding, ...], gate: Gate, python: tuple[str, ...]
    ) -> Registry:
        transforms = MappingProxyType(dict(sorted(self.transforms.items())))
        return Registry(transforms, faults, self.manager, self.sources, gate, python)

    def _clash(self, transform: Transform, named: Named) -> Finding:
        other = self.transforms[transform.name].provider
        what = f"`{transform.name}` is offered by {other} and by {named.name}"
        return Finding.of("name-taken", what, named.place)


def _without_module(each: Installed) -> Named:
    """How the plugin is called once it is loaded: by its distribution."""
    return Named(each.provider, each.named.home, each.named.module)


@contextmanager
def _told(named: Named) -> Iterator[list[Finding]]:
    """Whatever the code of a plugin raises meanwhile, as findings in the list. An interruption by a
    person is none of the plugin's."""
    faults: list[Finding] = []
    try:
        yield faults
    except KeyboardInterrupt:
        raise
    except BaseException as error:
        faults += load_faults(named, error)
