"""The public door, and who may go through which: imports as the source has them, read by `ast`."""

from __future__ import annotations

import ast
import subprocess
import sys
import warnings
from collections.abc import Iterator
from graphlib import CycleError, TopologicalSorter
from importlib import import_module
from pathlib import Path
from types import ModuleType

import pytest

import headrace
import headrace.findings as headrace_findings
import headrace.testing as headrace_testing
import headrace_transforms
from headrace.batch import origin

CORE = Path(str(headrace.__file__)).parent
BUNDLED = Path(str(headrace_transforms.__file__)).parent
HEAVY = {"numpy", "yaml", "jsonschema", "pluggy", "click"}


def sources(root: Path) -> list[Path]:
    return sorted(root.rglob("*.py"))


def module_of(path: Path, root: Path) -> str:
    parts = [root.name, *path.relative_to(root).with_suffix("").parts]
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def _typing_only(node: ast.stmt) -> bool:
    return (
        isinstance(node, ast.If)
        and isinstance(node.test, ast.Name)
        and node.test.id == "TYPE_CHECKING"
    )


def _at_load(body: list[ast.stmt]) -> Iterator[ast.Import | ast.ImportFrom]:
    """The imports that run when a module is loaded."""
    for node in body:
        if isinstance(node, (ast.Import, ast.ImportFrom)):
            yield node
        elif isinstance(node, ast.If) and not _typing_only(node):
            yield from _at_load(node.body)
            yield from _at_load(node.orelse)
        elif isinstance(node, (ast.Try, ast.ClassDef)):
            yield from _at_load(node.body)


def _named(node: ast.Import | ast.ImportFrom) -> list[tuple[str, str | None]]:
    """Modules and what is taken from each; None where it is the module."""
    if isinstance(node, ast.Import):
        return [(alias.name, None) for alias in node.names]
    assert node.level == 0, "imports are absolute"
    return [(str(node.module), alias.name) for alias in node.names]


def loaded(path: Path) -> list[tuple[str, str | None]]:
    tree = ast.parse(path.read_text("utf-8"), str(path))
    return [found for node in _at_load(tree.body) for found in _named(node)]


def anywhere(path: Path) -> list[tuple[str, str | None]]:
    """All imports, those in functions and for types too."""
    tree = ast.parse(path.read_text("utf-8"), str(path))
    nodes = (node for node in ast.walk(tree) if isinstance(node, (ast.Import, ast.ImportFrom)))
    return [found for node in nodes for found in _named(node)]


def run_by(path: Path) -> list[tuple[str, str | None]]:
    """All imports but those for types."""
    tree = ast.parse(path.read_text("utf-8"), str(path))
    typed = {
        below
        for node in ast.walk(tree)
        if isinstance(node, ast.stmt) and _typing_only(node)
        for below in ast.walk(node)
    }
    nodes = (node for node in ast.walk(tree) if isinstance(node, (ast.Import, ast.ImportFrom)))
    return [found for node in nodes if node not in typed for found in _named(node)]


# --- the door ---------------------------------------------------------------------------------


def test_the_names_are_sorted_and_there() -> None:
    assert headrace.__all__ == sorted(headrace.__all__)
    assert len(set(headrace.__all__)) == len(headrace.__all__)
    assert dir(headrace) == headrace.__all__


@pytest.mark.parametrize("name", headrace.__all__)
def test_name_is_what_its_home_has(name: str) -> None:
    value = getattr(headrace, name)
    homes = [home for home, taken in anywhere(CORE / "__init__.py") if taken == name]

    assert len(homes) == 1
    assert getattr(import_module(homes[0]), name) is value


def test_the_door_for_readers_is_the_door_for_programs() -> None:
    """What type checkers see (`TYPE_CHECKING`) is what can be imported."""
    tree = ast.parse((CORE / "__init__.py").read_text("utf-8"))
    typed = next(node for node in tree.body if _typing_only(node))
    assert isinstance(typed, ast.If)
    names = [
        alias.name
        for node in typed.body
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
    ]

    assert sorted(names) == headrace.__all__


def test_no_name_is_that_of_a_module() -> None:
    """Once such a module is loaded, its name would mean the module."""
    modules = {path.stem for path in CORE.glob("*.py")} | {path.name for path in CORE.iterdir()}

    assert not set(headrace.__all__) & modules


def test_other_names_are_not_public() -> None:
    with pytest.raises(AttributeError, match="headrace has no public name 'Recorder'"):
        headrace.Recorder  # noqa: B018
    with pytest.raises(ImportError):
        exec("from headrace import interpret_everything")


@pytest.mark.parametrize("door", [headrace, headrace_testing], ids=lambda door: door.__name__)
def test_a_name_that_goes_warns_first(door: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    """The warning is told where the name is used, with what to do instead (PEP 562, PEP 387)."""
    monkeypatch.setitem(door._HOMES, "headrace.findings.text", "render")
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        assert door.render is headrace_findings.render  # as any other name
    monkeypatch.setitem(door._LEAVING, "render", "write the parts of a finding yourself")
    wanted = f"{door.__name__}.render goes with the next minor version; write the parts of a"
    with pytest.warns(DeprecationWarning, match=wanted) as told:
        assert door.render is headrace_findings.render
    with pytest.warns(DeprecationWarning, match=wanted) as told_of_import:
        exec(f"from {door.__name__} import render", {})

    assert told[0].filename == __file__
    assert told_of_import
    assert "render" not in dir(door)


def test_names_that_go_are_told_of() -> None:
    for door in (headrace, headrace_testing):
        homes = " ".join(door._HOMES.values()).split()
        assert set(homes) == {*door.__all__, *door._LEAVING}
        assert len(homes) == len(set(homes))


def test_the_door_costs_next_to_nothing() -> None:
    code = f"import sys, headrace; print({HEAVY!r} & set(sys.modules))"
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60
    )

    assert done.stdout.strip() == "set()"


@pytest.mark.parametrize("path", sources(CORE), ids=lambda path: module_of(path, CORE))
def test_public_names_of_a_room_are_there(path: Path) -> None:
    module = import_module(module_of(path, CORE)) if path.name != "__main__.py" else headrace
    names = getattr(module, "__all__", [])

    assert len(set(names)) == len(names)
    for name in names:
        assert getattr(module, name) is not None


# --- who imports whom -------------------------------------------------------------------------


@pytest.mark.parametrize("path", sources(CORE), ids=lambda path: module_of(path, CORE))
def test_core_never_imports_the_bundled_transforms(path: Path) -> None:
    modules = {module for module, _ in anywhere(path)}

    assert not {module for module in modules if module.split(".")[0] == BUNDLED.name}


@pytest.mark.parametrize("path", sources(BUNDLED), ids=lambda path: path.stem)
def test_plugins_use_public_names_only(path: Path) -> None:
    for module, name in anywhere(path):
        if module.split(".")[0] == CORE.name:
            assert module == CORE.name, module
            assert name in headrace.__all__, name


def test_python_files_of_the_recipes_use_public_names_only() -> None:
    files = list((CORE.parents[1] / "recipes").glob("*.py"))

    assert files
    for path in files:
        for module, name in anywhere(path):
            assert not module.startswith(f"{CORE.name}."), (path.name, module)
            assert module != CORE.name or name in headrace.__all__, (path.name, name)


def _edges() -> dict[str, set[str]]:
    """For each module of the core the modules that it imports when it is loaded."""
    known = {module_of(path, CORE) for path in sources(CORE)}
    edges: dict[str, set[str]] = {name: set() for name in known}
    for path in sources(CORE):
        here = module_of(path, CORE)
        for module, name in loaded(path):
            deeper = f"{module}.{name}"
            target = deeper if deeper in known else module
            if target in known and target != here:
                edges[here].add(target)
    return edges


def test_modules_import_one_another_without_cycles() -> None:
    edges = _edges()

    assert sum(map(len, edges.values())) > 100
    try:
        list(TopologicalSorter(edges).static_order())
    except CycleError as cycle:
        pytest.fail(" -> ".join(reversed(cycle.args[1])))


def test_rooms_import_one_another_without_cycles() -> None:
    """A room is a sub-package, or a module beside them."""

    def room(module: str) -> str:
        return ".".join(module.split(".")[:2])

    rooms: dict[str, set[str]] = {}
    for module, targets in _edges().items():
        here = rooms.setdefault(room(module), set())
        here |= {room(target) for target in targets} - {room(module)}
    try:
        order = list(TopologicalSorter(rooms).static_order())
    except CycleError as cycle:
        pytest.fail(" -> ".join(reversed(cycle.args[1])))
    assert order.index("headrace.program") < order.index("headrace.language")
    assert order.index("headrace.language") < order.index("headrace.run")


def test_a_job_goes_through_nothing_that_its_origin_does_not_count() -> None:
    """Card files are made again where the code that they follow from has changed: by whatever way
    `headrace.run` may import a module, and so run it, that module's room is counted."""
    files = {module_of(path, CORE): path for path in sources(CORE)}
    del files[CORE.name]  # the door leads to everything
    waiting, seen = ["headrace.run"], {"headrace.run"}
    while waiting:
        for module, name in run_by(files[waiting.pop()]):
            found = {module, f"{module}.{name}"} & files.keys()
            waiting += found - seen
            seen |= found
    rooms = {module.split(".")[1] for module in seen}

    assert {"language", "proof", "recipe", "rehearsal", "way"} <= rooms
    assert not rooms & origin._TELLING


@pytest.mark.parametrize("path", sources(CORE / "cli"), ids=lambda path: path.stem)
def test_the_command_line_loads_nothing_heavy(path: Path) -> None:
    """By the whole of what its modules load, and what these load in turn."""
    edges = _edges()
    start = module_of(path, CORE)
    waiting, seen = [start], {start}
    while waiting:
        module = waiting.pop()
        parents = {module.rsplit(".", 1)[0]} if "." in module else set()
        for target in edges[module] | parents:
            if target not in seen:
                seen.add(target)
                waiting.append(target)
    files = {module_of(file, CORE): file for file in sources(CORE)}
    heavy = {
        (name, module)
        for name in seen
        for module, _ in loaded(files[name])
        if module.split(".")[0] in HEAVY - {"click"}
    }

    assert heavy == set()
