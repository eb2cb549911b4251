"""What files follow from: what is said, and not how; code by its bytes."""

from __future__ import annotations

import importlib
import sys
from importlib.metadata import distribution
from pathlib import Path

import pytest
import yaml
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from workshop import Workshop, set_up

from headrace.batch import origin
from headrace.batch.engines.kit import with_python_files
from headrace.batch.origin import Origins
from headrace.card.origin import Code, Origin
from headrace.errors import RecipeError
from headrace.plugins.registry import load_registry
from headrace.recipe import compose, load_plan

RECIPES = Path(__file__).parents[3] / "recipes"
LIDS = RECIPES / "bench-lids.yaml"
INSTALLED = load_registry()


def origins(path: Path, *overrides: str) -> Origins:
    plan = load_plan(path, INSTALLED, overrides)
    return Origins.of(plan, with_python_files(INSTALLED, plan))


def said(path: Path) -> list[tuple[str, object]]:
    """Every single value of a recipe, its machine and its set-up, and how `--set` names it."""
    composed, found = compose(path)
    assert composed is not None
    assert not found
    return [
        (".".join(map(str, way)), getattr(node, "value", None))
        for way, node in composed.origins()
        if way[0] in ("machine", "setup") and all(isinstance(part, str) for part in way)
        if way[-1] != "format" and getattr(node, "value", None) is not None
    ]


VALUES = said(LIDS)
ORIGIN = origins(LIDS).jobs


def other_than(value: object) -> st.SearchStrategy[object]:
    if isinstance(value, bool):
        return st.just(not value)
    if isinstance(value, int | float):
        return st.integers(-9, 9).filter(bool).map(lambda more: value + more / 8)
    return st.text("abcd ", min_size=1).map(lambda more: f"{value} {more}.")


@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(data=st.data())
def test_any_value_of_machine_or_set_up_makes_another_origin(data: st.DataObject) -> None:
    way, value = data.draw(st.sampled_from(VALUES))
    new = data.draw(other_than(value))
    try:
        changed = origins(LIDS, f"{way}={yaml.safe_dump(new).splitlines()[0]}").jobs
    except RecipeError:
        return  # no machine is described so
    kind = "the machine" if way.startswith("machine.") else "the set-up"
    assert changed.changed_since(ORIGIN) == (kind,)
    assert ORIGIN.changed_since(changed) == (kind,)
    assert changed.key != ORIGIN.key


def test_a_timed_run_changes_no_origin() -> None:
    said = {"factor": 1.1, "planned": 600, "took": 660, "job": "lid.nc"}
    timed = origins(LIDS, *(f"machine.timing.{key}={value}" for key, value in said.items())).jobs

    assert timed == ORIGIN
    assert origins(LIDS, "machine.look-ahead=16").jobs.changed_since(ORIGIN) == ("the machine",)


def test_each_number_of_machine_and_set_up_counts_a_little_more_or_less() -> None:
    """And most of these changes are sound, so that the test above tells something."""
    numbers = [
        (way, value)
        for way, value in VALUES
        if isinstance(value, float | int) and not isinstance(value, bool)
    ]
    sound = 0
    for way, value in numbers:
        try:
            changed = origins(LIDS, f"{way}={value + 0.125}").jobs
        except RecipeError:
            continue
        assert changed.key != ORIGIN.key
        sound += 1
    assert len(numbers) > 15
    assert sound > len(numbers) * 0.8


def test_a_recipe_by_its_parent_is_what_it_says(tmp_path: Path) -> None:
    hive = set_up(tmp_path / "hive")
    plain = origins(hive.recipe).jobs
    child = hive.recipe.with_name("child.yaml")
    child.write_text("format: headrace-recipe/2\nextends: plain.yaml\n")
    assert origins(child).jobs.changed_since(plain) == ()
    child.write_text("format: headrace-recipe/2\nextends: plain.yaml\nassume: {dwell: seconds}\n")
    assert origins(child).jobs.changed_since(plain) == ("the recipe",)


def test_plugins_are_told_by_what_they_hold(tmp_path: Path) -> None:
    first, second = (set_up(tmp_path / name) for name in ("one", "two"))
    a, b = origins(first.recipe).jobs, origins(second.recipe).jobs
    assert [code.name for code in a.plugins] == ["hive_steps.py"]
    assert b.changed_since(a) == ()
    steps = second.recipe.parent / "hive_steps.py"
    steps.write_text(steps.read_text() + "\n")
    assert origins(second.recipe).jobs.changed_since(a) == ("the plugin hive_steps.py",)


def test_a_step_that_asks_for_others_follows_from_all_plugins() -> None:
    names = [code.name for code in origins(RECIPES / "bench-windows.yaml").jobs.plugins]
    assert names == ["headrace_transforms"]
    (bundled,) = ORIGIN.plugins
    assert bundled.version == distribution("headrace").version


def test_a_watcher_has_a_part_in_every_step(tmp_path: Path) -> None:
    hive = set_up(tmp_path / "hive")
    before = origins(hive.recipe).jobs
    (hive.recipe.parent / "watch.py").write_text(
        "from headrace import hookimpl\n\n\n@hookimpl\n"
        "def headrace_step_done(name, before, after):\n    pass\n"
    )
    text = hive.recipe.read_text()
    hive.recipe.write_text(text.replace("[hive_steps.py]", "[hive_steps.py, watch.py]"))
    assert origins(hive.recipe).jobs.changed_since(before) == ("the plugin watch.py",)


def installed_as(folder: Path, name: str, text: str) -> Workshop:
    """A workshop whose recipe has a step of an installed package."""
    (folder / name).mkdir(parents=True)
    (folder / name / "__init__.py").write_text(f"from {name}.steps import headrace_transforms\n")
    (folder / name / "steps.py").write_text(text)
    info = folder / f"{name}-1.2.dist-info"
    info.mkdir()
    (info / "METADATA").write_text(f"Metadata-Version: 2.1\nName: {name}\nVersion: 1.2\n")
    (info / "entry_points.txt").write_text(f"[headrace]\nsteps = {name}\n")
    return set_up(folder / "hive", ["buzz"])


BUZZ = '''\
from headrace import before, hookimpl, transform


@transform("buzz", changes=["comments"])
def buzz(job):
    """Put a comment first."""
    yield before(0, "(BUZZ)")


@hookimpl
def headrace_transforms():
    return [buzz]
'''


def test_an_installed_package_counts_with_all_its_files(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    hive = installed_as(tmp_path, "hive_buzz", BUZZ)
    monkeypatch.syspath_prepend(tmp_path)

    def origin_now() -> Origin:
        origin._digest.cache_clear()
        for name in [name for name in sys.modules if name.startswith("hive_buzz")]:
            del sys.modules[name]
        importlib.invalidate_caches()
        registry = load_registry()
        plan = load_plan(hive.recipe, registry)
        return Origins.of(plan, with_python_files(registry, plan)).jobs

    first = origin_now()
    assert [(code.name, code.version) for code in first.plugins] == [("hive_buzz", "1.2")]
    assert len(first.plugins[0].sha256) == 64
    assert origin_now() == first
    steps = tmp_path / "hive_buzz" / "steps.py"
    for change in (
        lambda: steps.write_text(BUZZ + "\n"),
        lambda: (tmp_path / "hive_buzz" / "table.json").write_text("{}"),
        lambda: (tmp_path / "hive_buzz" / "table.json").rename(tmp_path / "hive_buzz" / "t.json"),
    ):
        before = origin_now()
        change()
        assert origin_now().changed_since(before) == ("the plugin hive_buzz",)


def test_what_python_compiled_does_not_count(tmp_path: Path) -> None:
    (tmp_path / "a.py").write_text("A = 1\n")
    before = origin._digest(tmp_path)
    origin._digest.cache_clear()
    (tmp_path / "__pycache__").mkdir()
    (tmp_path / "__pycache__" / "a.pyc").write_bytes(b"compiled")
    assert origin._digest(tmp_path) == before


def test_code_that_cannot_be_read_is_never_the_same(tmp_path: Path) -> None:
    assert origin._digest(tmp_path / "nowhere") == ""
    unknown = Code("hive_buzz", "1.2", "")
    one = Origin(ORIGIN.recipe, ORIGIN.steps, ORIGIN.machine, ORIGIN.setup, ORIGIN.headrace,
                 (unknown,))  # fmt: skip
    assert not one.holds_for(one)
    assert one.changed_since(one) == (), "nor is it known to be another"
    assert ORIGIN.holds_for(ORIGIN)


def test_a_card_file_follows_from_those_it_goes_on_from_and_a_job_from_none(tmp_path: Path) -> None:
    hive = set_up(tmp_path / "hive")
    files = (
        "card-files:\n  - {name: A, steps: [heading]}\n  - {name: B, after: A, steps: [heading]}\n"
    )
    hive.recipe.write_text(hive.recipe.read_text() + files)
    before = origins(hive.recipe)
    text = hive.recipe.read_text()
    hive.recipe.write_text(text.replace("name: A, steps: [heading]", "name: A, steps: [no-blanks]"))
    after = origins(hive.recipe)
    assert after.jobs.changed_since(before.jobs) == ()
    for name in ("A", "B"):
        assert after.card_files[name].changed_since(before.card_files[name]) == ("the recipe",)
