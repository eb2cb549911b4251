"""What a shell may offer for the words of a command line.

Each press of the key starts the program anew, so nothing here loads what a command would need, and
nothing of a plugin is run.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from contextlib import suppress
from pathlib import Path

import click
from click.shell_completion import CompletionItem

Items = list[CompletionItem[str]]

RECIPE_ENDS = (".yaml", ".yml")
JOB_ENDS = (".cnc", ".gcode", ".nc", ".ngc", ".tap")
PYTHON_ENDS = (".py",)
PAGE_ENDS = (".htm", ".html")
PICTURE_ENDS = (".png", ".svg")

_DECLARED = re.compile(r"""@transform\(\s*["']([a-z0-9-]+)["']""")


def transform_names(_ctx: click.Context, _param: click.Parameter, begun: str) -> Items:
    """The transforms of installed plugins, as their sources declare them."""
    names = {name for source in _plugin_sources() for name in _DECLARED.findall(source)}
    return [CompletionItem(name) for name in sorted(names) if name.startswith(begun)]


def finding_names(_ctx: click.Context, _param: click.Parameter, begun: str) -> Items:
    """Findings by their names; by their ids where one is begun with."""
    from headrace.findings import CATALOGUE

    kinds = CATALOGUE.values()
    named = [(kind.name, kind.id) for kind in kinds] + [
        (kind.id, kind.name) for kind in kinds if begun.startswith("HR")
    ]
    return [CompletionItem(key, help=other) for key, other in named if key.startswith(begun)]


def questions(_ctx: click.Context, _param: click.Parameter, begun: str) -> Items:
    """The questions of the interview about a machine."""
    from headrace.interview.questions import QUESTIONS

    return [
        CompletionItem(each.id, help=each.text) for each in QUESTIONS if each.id.startswith(begun)
    ]


def schema_names(_ctx: click.Context, _param: click.Parameter, begun: str) -> Items:
    """The kinds of files and of documents that have a schema."""
    from headrace.cli.schema import KINDS

    return [CompletionItem(name) for name in KINDS if name.startswith(begun)]


def recipes(_ctx: click.Context, _param: click.Parameter, begun: str) -> Items:
    """YAML files, and folders on the way to them."""
    return list(_paths(begun, RECIPE_ENDS))


def jobs(_ctx: click.Context, _param: click.Parameter, begun: str) -> Items:
    """Job files, and folders."""
    return list(_paths(begun, JOB_ENDS))


def recipes_and_jobs(_ctx: click.Context, _param: click.Parameter, begun: str) -> Items:
    """YAML files, job files, and folders."""
    return list(_paths(begun, RECIPE_ENDS + JOB_ENDS))


def pages(_ctx: click.Context, _param: click.Parameter, begun: str) -> Items:
    """Run sheets, and folders on the way to them."""
    return list(_paths(begun, PAGE_ENDS))


def pictures(_ctx: click.Context, _param: click.Parameter, begun: str) -> Items:
    """Pictures, and folders on the way to them."""
    return list(_paths(begun, PICTURE_ENDS))


def python_files(_ctx: click.Context, _param: click.Parameter, begun: str) -> Items:
    """Python files, and folders on the way to them."""
    return list(_paths(begun, PYTHON_ENDS))


def folders(_ctx: click.Context, _param: click.Parameter, begun: str) -> Items:
    """Folders only."""
    return list(_paths(begun, ()))


def _paths(begun: str, ends: tuple[str, ...]) -> Iterator[CompletionItem[str]]:
    """What lies in the folder that is begun with, with these ends of names."""
    lead, slash, own = begun.rpartition("/")
    folder = Path(lead + slash).expanduser()
    try:
        found = sorted(folder.iterdir())
    except (OSError, RuntimeError):  # no such folder, or no such home
        return
    for path in found:
        if not path.name.startswith(own) or (path.name.startswith(".") and not own):
            continue
        if path.is_dir():
            yield CompletionItem(f"{lead}{slash}{path.name}/", type="path")
        elif ends and path.name.lower().endswith(ends):
            yield CompletionItem(f"{lead}{slash}{path.name}", type="path")


def _plugin_sources() -> Iterable[str]:
    """The texts of the modules that installed plugins consist of."""
    from importlib.metadata import entry_points
    from importlib.util import find_spec

    for package in {
        entry.value.split(":")[0].split(".")[0] for entry in entry_points(group="headrace")
    }:
        spec = find_spec(package)
        if spec is None or spec.origin is None:
            continue
        home = Path(spec.origin)
        for path in home.parent.rglob("*.py") if spec.submodule_search_locations else [home]:
            with suppress(OSError):
                yield path.read_text("utf-8", "replace")
