"""Finding transforms: installed plugins, files beside a recipe, faults, clashes, watchers."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from headrace import Finding, Place, PluginError, Program
from headrace.plugins.registry import Registry, load_registry

from .conftest import Shelf

STEP = '''
from headrace import Facet, before, hookimpl, transform

@transform("{name}", changes=[Facet.COMMENTS])
def step(job):
    """Put a comment first."""
    yield before(0, "({name})")
'''
OFFER = """
@hookimpl
def headrace_transforms():
    return [step]
"""
WATCH = """
seen = []

@hookimpl
def headrace_step_done(name, before, after):
    seen.append((name, before.to_bytes(), after.to_bytes()))
"""


def place(line: int = 3) -> Place:
    return Place("lids.yaml", line, 5, 8, "  - brand.py")


def of_name(findings: tuple[Finding, ...], text: str) -> Finding:
    found = [finding for finding in findings if text in finding.what]
    assert len(found) == 1, findings
    return found[0]


def with_file(registry: Registry, path: Path) -> Registry:
    return registry.with_files([path], [place()])


# --- installed plugins ------------------------------------------------------------------------


def test_an_installed_plugin_is_found(shelf: Shelf) -> None:
    shelf.put("hive-brand", STEP.format(name="brand") + OFFER, version="2.3")
    registry = load_registry()

    assert registry.faults == ()
    assert registry.transforms["brand"].provider == "hive-brand 2.3"
    assert list(registry.transforms) == sorted(registry.transforms)
    assert "touch-off" in registry.transforms, "beside those that come with headrace"


def test_an_object_of_a_module_may_be_the_plugin(shelf: Shelf) -> None:
    inside = "\n".join(f"    {line}" for line in OFFER.replace("()", "(self)").splitlines())
    source = STEP.format(name="brand") + f"\nclass Hive:\n{inside}\n\nhive = Hive()\n"
    shelf.put("hive-brand", source, value="hive_brand:hive")

    assert "brand" in load_registry().transforms


BROKEN = {
    "import": (
        "import no_such_module_of_bees",
        "ModuleNotFoundError: the module `no_such_module_of_bees` is not installed",
    ),
    "syntax": ("def headrace_transforms(:", "SyntaxError"),
    "raises": ("raise RuntimeError('stung')", "RuntimeError: stung"),
    "no hook": ("headrace_transforms = 3", "it implements no hook"),
    "misspelt hook": (
        "from headrace import hookimpl\n@hookimpl\ndef headrace_transfroms():\n    return []",
        "headrace_transfroms",
    ),
    "wrong parameter": (
        "from headrace import hookimpl\n@hookimpl\ndef headrace_transforms(recipe):\n    return []",
        "recipe",
    ),
    "hook raises": (
        "from headrace import hookimpl\n@hookimpl\ndef headrace_transforms():\n"
        "    raise OSError('no')",
        "OSError: no",
    ),
    "no transform": (
        "from headrace import hookimpl\n@hookimpl\ndef headrace_transforms():\n    return ['park']",
        "gives 'park' in its list, which is no transform",
    ),
    "nothing": (
        "from headrace import hookimpl\n@hookimpl\ndef headrace_transforms():\n    return None",
        "`headrace_transforms` gives None",
    ),
}


@pytest.mark.parametrize("name", BROKEN)
def test_a_broken_plugin_is_told_and_stops_nobody(shelf: Shelf, name: str) -> None:
    source, said = BROKEN[name]
    shelf.put("a-broken-one", source)
    shelf.put("hive-brand", STEP.format(name="brand") + OFFER)
    registry = load_registry()

    assert len(registry.faults) == 1
    fault = registry.faults[0]
    assert fault.name == "plugin-unloadable"
    assert "a-broken-one 1.0" in fault.what
    assert said in fault.what
    assert "\n" not in fault.what
    assert {"brand", "park"} <= set(registry.transforms)
    registry.step_done("park", Program.read(b""), Program.read(b""))


def test_a_faulty_transform_is_told_in_its_own_words(shelf: Shelf) -> None:
    shelf.put("hive-brand", STEP.format(name="brand").replace('"""Put a comment first."""', ""))
    fault = load_registry().faults[0]

    assert fault.name == "plugin-faulty"
    assert fault.what.startswith("transform `brand` has no docstring")
    assert fault.place is not None
    assert fault.place.file.endswith("hive_brand.py")


def test_two_of_one_name_are_a_fault_of_the_later_one(shelf: Shelf) -> None:
    for name in ("a-brand", "b-brand"):
        shelf.put(name, STEP.format(name="brand") + OFFER)
    registry = load_registry()

    assert [fault.name for fault in registry.faults] == ["name-taken"]
    assert registry.faults[0].what == "`brand` is offered by a-brand 1.0 and by b-brand 1.0"
    assert registry.transforms["brand"].provider == "a-brand 1.0"


def test_a_distribution_that_is_there_twice_counts_once(
    shelf: Shelf, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shelf.put("hive-brand", STEP.format(name="brand") + OFFER)
    other = tmp_path / "other"
    other.mkdir()
    monkeypatch.setattr(sys, "path", [*sys.path, str(other)])
    Shelf(other).put("hive-brand", STEP.format(name="brand") + OFFER, version="0.9")
    registry = load_registry()

    assert registry.faults == ()
    assert registry.transforms["brand"].provider == "hive-brand 1.0"


def test_a_distribution_may_have_several_plugins(shelf: Shelf) -> None:
    shelf.put("hive-brand", STEP.format(name="brand") + OFFER)
    info = shelf.folder / "hive_brand-1.0.dist-info" / "entry_points.txt"
    info.write_text("[headrace]\na = hive_brand\nb = hive_stamp\n")
    (shelf.folder / "hive_stamp.py").write_text(STEP.format(name="stamp") + OFFER)
    registry = load_registry()

    assert registry.faults == ()
    assert registry.transforms["brand"].provider == "hive-brand 1.0"
    assert registry.transforms["stamp"].provider == "hive-brand 1.0 (hive_stamp)"


# --- files beside a recipe --------------------------------------------------------------------


def test_a_file_needs_no_more_than_a_transform(tmp_path: Path) -> None:
    path = tmp_path / "brand.py"
    path.write_text(STEP.format(name="brand"))
    installed = load_registry()
    registry = with_file(installed, path)

    assert registry.transforms["brand"].provider == "brand.py"
    assert set(registry.transforms) == {*installed.transforms, "brand"}
    assert "brand" not in installed.transforms, "the next recipe does not have it"
    assert registry.faults == installed.faults
    assert installed.with_files([], []) is installed


def test_two_files_of_one_name_never_clash(tmp_path: Path) -> None:
    found = []
    for folder in ("lids", "frames"):
        path = tmp_path / folder / "steps.py"
        path.parent.mkdir()
        path.write_text(STEP.format(name=folder))
        found.append(with_file(load_registry(), path).transforms[folder])

    assert found[0].apply.__module__ != found[1].apply.__module__
    for transform in found:
        module = sys.modules[transform.apply.__module__]
        assert module.step.apply is transform.apply


def test_two_files_of_one_name_in_one_recipe(tmp_path: Path) -> None:
    paths = [tmp_path / folder / "steps.py" for folder in ("lids", "frames")]
    for path in paths:
        path.parent.mkdir()
        path.write_text(STEP.format(name=path.parent.name))
    registry = load_registry().with_files(paths, [place(3), place(4)])

    assert {"lids", "frames"} <= set(registry.transforms)
    assert registry.transforms["lids"].provider == "steps.py"
    assert str(paths[1]) in registry.transforms["frames"].provider


@pytest.mark.parametrize("name", [name for name in BROKEN if name != "no hook"])
def test_a_broken_file_is_an_error_at_its_place(tmp_path: Path, name: str) -> None:
    source, said = BROKEN[name]
    path = tmp_path / "brand.py"
    path.write_text(source)
    modules = set(sys.modules)

    with pytest.raises(PluginError) as refusal:
        with_file(load_registry(), path)
    assert len(refusal.value.findings) == 1
    finding = refusal.value.findings[0]
    assert "brand.py" in finding.what
    assert said in finding.what
    assert finding.place is not None
    assert finding.place.file == str(path)
    if name in ("import", "syntax", "raises"):
        assert finding.place.excerpt == source
        assert not {new for new in set(sys.modules) - modules if "brand" in new}


def test_a_faulty_transform_in_a_file(tmp_path: Path) -> None:
    path = tmp_path / "brand.py"
    path.write_text(STEP.format(name="brand").replace("(job)", "(job, *, text)"))

    with pytest.raises(PluginError) as refusal:
        with_file(load_registry(), path)
    assert "takes text, for which there is no option" in refusal.value.findings[0].what


def test_a_file_must_be_python(tmp_path: Path) -> None:
    path = tmp_path / "brand.txt"
    path.write_text("")

    with pytest.raises(PluginError, match=r"brand\.txt is not a Python file"):
        with_file(load_registry(), path)


def test_a_file_that_ends_the_process_is_not_swallowed(tmp_path: Path) -> None:
    path = tmp_path / "brand.py"
    path.write_text("raise KeyboardInterrupt")
    modules = set(sys.modules)

    with pytest.raises(KeyboardInterrupt):
        with_file(load_registry(), path)
    assert not [name for name in set(sys.modules) - modules if "brand" in name]


def test_a_file_never_takes_the_name_of_another_transform(tmp_path: Path) -> None:
    """A recipe that brings its own `park` must not run another one in its place."""
    path = tmp_path / "brand.py"
    path.write_text(STEP.format(name="park"))

    with pytest.raises(PluginError) as refusal:
        with_file(load_registry(), path)
    assert [finding.name for finding in refusal.value.findings] == ["name-taken"]
    assert "brand.py" in refusal.value.findings[0].what


@pytest.mark.parametrize("name", [*BROKEN, "a name that is taken"])
def test_faults_of_installed_plugins_stay_told_and_stop_no_recipe(
    shelf: Shelf, tmp_path: Path, name: str
) -> None:
    source = BROKEN.get(name, (STEP.format(name="park") + OFFER, ""))[0]
    shelf.put("z-broken-one", source)
    path = tmp_path / "brand.py"
    path.write_text(STEP.format(name="brand"))
    installed = load_registry()
    registry = with_file(installed, path)

    assert len(installed.faults) == 1
    assert registry.faults == installed.faults
    assert "brand" in registry.transforms
    assert registry.transforms["park"].provider.startswith("headrace ")


# --- watchers ---------------------------------------------------------------------------------


def test_watchers_are_told_of_steps(shelf: Shelf, tmp_path: Path) -> None:
    shelf.put("hive-log", "from headrace import hookimpl\n" + WATCH)
    path = tmp_path / "brand.py"
    path.write_text(STEP.format(name="brand") + OFFER + WATCH)
    registry = with_file(load_registry(), path)
    old, new = Program.read(b"G21\n"), Program.read(b"(brand)\nG21\n")
    registry.step_done("brand", old, new)

    assert registry.faults == ()
    told = [("brand", b"G21\n", b"(brand)\nG21\n")]
    local = sys.modules[registry.transforms["brand"].apply.__module__]
    assert local.seen == told
    assert sys.modules["hive_log"].seen == told


def test_the_hooks_themselves_do_nothing() -> None:
    from headrace.plugins import hookspecs

    with pytest.raises(NotImplementedError):
        hookspecs.headrace_transforms()
    hookspecs.headrace_step_done("park", Program.read(b""), Program.read(b""))
    of = {name for name in vars(hookspecs) if name.startswith("headrace_")}
    assert of == {"headrace_transforms", "headrace_step_done"}


MEDDLERS = {
    "attribute": "after.pieces = after.pieces[1:]",
    "name": "after.name = 'LID.NC'",
    "the one before": "before.pieces = ()",
}


@pytest.mark.parametrize("name", MEDDLERS)
def test_a_watcher_that_changes_a_program(tmp_path: Path, name: str) -> None:
    path = tmp_path / "brand.py"
    path.write_text(
        "from headrace import hookimpl\n@hookimpl\n"
        f"def headrace_step_done(before, after):\n    len(after.line_end)\n    {MEDDLERS[name]}\n"
    )
    registry = with_file(load_registry(), path)

    with pytest.raises(PluginError, match="changed a program that it was given to look at"):
        registry.step_done("park", Program.read(b"G21\n"), Program.read(b"(A)\nG21\n"))


def test_a_watcher_that_writes_into_a_program(tmp_path: Path) -> None:
    """NumPy refuses: the arrays of a program are read-only."""
    path = tmp_path / "brand.py"
    source = (
        "from headrace import hookimpl\n@hookimpl\ndef headrace_step_done(after):\n"
        "    after.pieces[0].text.starts[0] = 3\n"
    )
    path.write_text(source)
    registry = with_file(load_registry(), path)

    with pytest.raises(PluginError) as error:
        registry.step_done("park", Program.read(b"G21\n"), Program.read(b"(A)\nG21\n"))
    (finding,) = error.value.findings
    assert "a watcher of step `park` failed: ValueError" in finding.what
    assert "it is of brand.py" in finding.what
    assert finding.place is not None
    assert (finding.place.file, finding.place.line) == (str(path), 4)
