"""What is wrong with a plugin that does not load, as findings: where, what, and what to do."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from difflib import get_close_matches
from pathlib import Path

from headrace.errors import PluginError
from headrace.findings import Finding, Place
from headrace.plugins.loading.own_code import place_of_error

_NO_NAME = re.compile(r"cannot import name '(\w+)' from 'headrace'")


@dataclass(frozen=True, slots=True)
class Named:
    """A plugin as people know it: `name` is its file's, or its distribution's with the version and
    the module. `home` is its file or folder, None where that cannot be told; `module` that of an
    installed one; `place` where a recipe names it."""

    name: str
    home: Path | None
    module: str = ""
    place: Place | None = None


def load_faults(plugin: Named, error: BaseException) -> tuple[Finding, ...]:
    """Why `plugin` cannot be used: what an error says that its code has raised."""
    if isinstance(error, PluginError):
        return tuple(_named(finding, plugin) for finding in error.findings)
    said, remedy = _missing(plugin, error) or (in_words(error), None)
    what = f"the plugin {plugin.name} cannot be loaded: {said}"
    place = place_of_error(error, plugin.home) or plugin.place
    return (Finding.of("plugin-unloadable", what, place, remedy=remedy),)


def unfit(plugin: Named, why: str, place: Place | None, remedy: str | None = None) -> PluginError:
    """The refusal of a plugin that loads, and offers what cannot be used."""
    what = f"the plugin {plugin.name} cannot be loaded: {why}"
    place = place or plugin.place
    return PluginError(findings=[Finding.of("plugin-unloadable", what, place, remedy=remedy)])


def in_words(error: BaseException) -> str:
    """An error in one line: its kind, and what it says if it can say something."""
    if isinstance(error, SyntaxError):
        return f"{type(error).__name__}: {error.msg}"
    try:
        text = str(error)
    except Exception as slip:
        text = f"(its own text cannot be made: {type(slip).__name__})"
    said = "; ".join(line.strip() for line in text.splitlines() if line.strip())
    return f"{type(error).__name__}: {said}" if said else type(error).__name__


def nearest(word: str, known: Iterable[str]) -> str:
    """A question for what was probably meant; nothing where nothing is near."""
    near = get_close_matches(word, list(known), 1)
    return f"did you mean `{near[0]}`? " if near else ""


def _named(finding: Finding, plugin: Named) -> Finding:
    """A finding that a declaration in the plugin's code has raised by itself."""
    if finding.name != "plugin-faulty":
        return finding
    return replace(
        finding, what=f"{finding.what} (plugin {plugin.name})", place=finding.place or plugin.place
    )


def _missing(plugin: Named, error: BaseException) -> tuple[str, str] | None:
    """What an import lacks, and how to get it."""
    if isinstance(error, ModuleNotFoundError) and error.name:
        return _missing_module(plugin, error.name)
    if isinstance(error, ImportError) and (found := _NO_NAME.match(str(error))):
        import headrace

        remedy = f"{nearest(found[1], headrace.__all__)}`headrace.__all__` has all public names"
        return f"headrace has no public name `{found[1]}`", remedy
    return None


def _missing_module(plugin: Named, module: str) -> tuple[str, str]:
    top = module.split(".")[0]
    if plugin.module == module or plugin.module.startswith(f"{module}."):
        what = f"ModuleNotFoundError: its own module `{module}` is not there"
        return what, "install the distribution again, or remove it"
    what = f"ModuleNotFoundError: the module `{module}` is not installed"
    if top == "headrace":
        return what, "import from `headrace` itself: `headrace.__all__` has all public names"
    if not plugin.module and plugin.home is not None:
        neighbour = plugin.home.with_name(f"{top}.py")
        if neighbour.is_file():
            remedy = "a Python file of a recipe stands alone: put both in one, or make a package"
            return f"{what}; {neighbour.name} lies beside it", remedy
    remedy = "install what has it where headrace is installed, with the pip of the same Python"
    return what, f"{remedy}; or take the import out"
