"""`headrace keep` and `headrace recheck` from the command line. JSON documents are held against
their schemas by jsonschema (2020-12)."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from click.testing import Result
from workshop import LID, REFUSED, Workshop, set_up
from workshop.command import run

from headrace.report.schema import output_schema

RECIPES = Path(__file__).parents[3] / "recipes"


def told(result: Result) -> list[str]:
    return result.output.splitlines()


@pytest.fixture
def hive(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Workshop:
    hive = set_up(tmp_path / "hive")
    hive.job("lid.nc")
    hive.job("queen.nc")
    monkeypatch.chdir(hive.root)
    return hive


@pytest.fixture
def folder(hive: Workshop) -> Path:
    assert run("keep", "recipes/plain.yaml", "jobs", "--in", "kept/lids").exit_code == 0
    return hive.root / "kept" / "lids"


# --- the demo ---------------------------------------------------------------------------------


def test_the_kept_outcomes_of_the_gallery_are_the_same() -> None:
    """Whatever changes what the lids become shows here, and in review as a difference of files."""
    result = run("keep", "--check", RECIPES)

    assert result.exit_code == 0, result.output
    assert (RECIPES / "kept" / "lids" / "LID.NC").is_file()
    assert f"{RECIPES / 'kept' / 'lids'}: 2 outcomes, the same" in told(result)


def test_a_thicker_plate_in_the_gallery_can_be_read_off(tmp_path: Path) -> None:
    shutil.copytree(RECIPES, tmp_path / "recipes")
    setup = tmp_path / "recipes" / "setups" / "lids-18.yaml"
    setup.write_text(setup.read_text("utf-8").replace("12.02", "12.52"), "utf-8")
    result = run("keep", "--check", tmp_path / "recipes")
    lines = result.stdout.splitlines()

    assert result.exit_code == 1
    assert "  since then: setup.plate.thickness: 12.02 -> 12.52" in lines
    at = lines.index("-G92 Z12.02")
    assert "+G92 Z12.52" in lines[at : at + 9]
    assert "kept-otherwise" in result.stderr


# --- keeping ----------------------------------------------------------------------------------


def test_keep_check_renew(hive: Workshop, folder: Path) -> None:
    assert run("keep", "--check", folder).stdout == f"{folder}: 2 outcomes, the same\n"
    hive.job("lid.nc", LID.replace("X40", "X41"))
    check = run("keep", "--check", "kept")
    again = run("keep", "kept")

    assert (check.exit_code, again.exit_code) == (1, 0)
    assert check.stdout.splitlines()[:3] == [
        "kept/lids: 1 of 2 outcomes is not the same",
        "  LID.NC  changed",
        "  since then: job lid.nc: another content",
    ]
    assert check.stdout.splitlines()[3:6] == [
        "--- kept/lids/LID.NC",
        "+++ LID.NC as it is made now",
        "@@ -4,7 +4,7 @@",
    ]
    assert again.stdout.splitlines()[:2] == ["kept/lids: 2 outcomes kept", "  LID.NC  changed"]
    assert run("keep", "--check", "kept").exit_code == 0
    assert run("keep", "kept").stdout == "kept/lids: 2 outcomes kept, all as they were\n"


def test_a_refusal_that_is_kept_is_shown_and_is_no_failure(hive: Workshop) -> None:
    hive.job("bad.nc", REFUSED)
    result = run("keep", hive.recipe, hive.jobs, "--in", "kept")

    assert result.exit_code == 0
    assert "  BAD.NC  new, refused" in told(result)
    assert "Q has no number" in result.stderr
    assert run("keep", "--check", "kept").exit_code == 0
    hive.job("bad.nc")
    mended = run("keep", "--check", "kept")
    assert mended.exit_code == 1
    (hive.root / "kept" / "BAD.NC").write_text("M30\n")
    assert "the job was refused when it was kept" in run("keep", "--check", "kept").stderr
    assert "  BAD.NC  changed, no longer refused" in told(mended)


def test_overrides_are_kept_and_used_again(hive: Workshop) -> None:
    line = ["--set", "steps.heading.text=TODAY"]
    assert run("keep", hive.recipe, hive.jobs, "--in", "kept", *line).exit_code == 0
    assert b"(TODAY)" in (hive.root / "kept" / "LID.NC").read_bytes()
    assert run("keep", "--check", "kept").exit_code == 0


def test_what_would_come_of_another_value(hive: Workshop, folder: Path) -> None:
    line = ["--set", "steps.heading.text=TODAY"]
    result = run("keep", "--check", folder, *line)

    assert result.exit_code == 1
    assert "  since then: steps.heading.text: LIDS -> TODAY" in told(result)
    assert "+(TODAY)" in told(result)
    assert run("keep", "--check", folder).exit_code == 0
    assert run("keep", hive.recipe, hive.jobs, "--in", "kept/today", *line).exit_code == 0
    again = run("keep", "--check", "kept/today", "--set", "steps.heading.text=LATER")
    assert "  since then: steps.heading.text: TODAY -> LATER" in told(again)


def test_jobs_that_are_all_gone(hive: Workshop, folder: Path) -> None:
    for job in hive.jobs.iterdir():
        job.unlink()
    check = run("keep", "--check", folder)
    before = sorted(folder.iterdir())
    renew = run("keep", folder)

    assert check.exit_code == 1
    assert "  LID.NC  no longer made" in told(check)
    assert (renew.exit_code, sorted(folder.iterdir())) == (2, before)


def test_a_file_in_place_of_the_folder(hive: Workshop) -> None:
    (hive.root / "kept").write_text("no folder\n")
    result = run("keep", hive.recipe, hive.jobs, "--in", "kept")

    assert result.exit_code == 5
    assert "kept-foreign-file" in result.stderr
    assert (hive.root / "kept").read_text() == "no folder\n"


def test_one_folder_that_fails_does_not_stop_the_others(hive: Workshop, folder: Path) -> None:
    shutil.copytree(folder, hive.root / "kept" / "bees")
    shutil.copytree(folder, hive.root / "kept" / "mites")
    (hive.root / "kept" / "bees" / "KEPT.json").write_text("{}\n")
    hive.job("lid.nc", LID.replace("X40", "X41"))
    result = run("keep", "--check", ".")

    assert result.exit_code == 5
    assert "kept-list-faulty" in result.stderr
    assert "kept/lids: 1 of 2 outcomes is not the same" in told(result)
    assert "kept/mites: 1 of 2 outcomes is not the same" in told(result)
    assert told(result)[-1] == "3 kept folders, 3 not in order; exit code 5"


def test_a_recipe_that_is_at_fault_is_told_as_one(hive: Workshop, folder: Path) -> None:
    hive.recipe.write_text(hive.recipe.read_text().replace("steps:", "stepps:"))
    result = run("keep", "--check", folder)
    assert result.exit_code == 3
    assert "stepps" in result.stderr
    hive.recipe.unlink()
    gone = run("keep", "--check", folder)
    assert gone.exit_code == 3
    assert "recipe-missing" in gone.stderr


def test_a_step_that_fails_is_no_outcome(tmp_path: Path) -> None:
    failing = set_up(tmp_path / "other", steps=["sting"])
    failing.job("lid.nc", LID.replace("hive lid", "BEES"))
    result = run("keep", failing.recipe, failing.jobs, "--in", tmp_path / "kept")

    assert result.exit_code == 4
    assert "stung" in result.stderr
    assert not (tmp_path / "kept").exists()


def test_a_job_that_is_gone(hive: Workshop) -> None:
    job = hive.jobs / "lid.nc"
    assert run("keep", hive.recipe, job, "--in", "kept").exit_code == 0
    job.unlink()
    result = run("keep", "--check", "kept")

    assert result.exit_code == 1
    assert "jobs/lid.nc cannot be read" in result.stderr


@pytest.mark.parametrize(
    ("args", "said"),
    [
        ([], "name a kept folder"),
        (["jobs"], "nothing is kept in jobs"),
        (["--check", "recipes/plain.yaml"], "is no folder"),
        (["jobs", "--in", "new"], "name the recipe first"),
        (["recipes/plain.yaml", "jobs", "--in", "new", "--check"], "--check goes without --in"),
        (["kept", "--set", "name=x"], "--set goes with --in or --check"),
        (["recipes/plain.yaml", "--in", "new"], "there are no jobs"),
    ],
)
@pytest.mark.usefixtures("folder")
def test_misuse(hive: Workshop, args: list[str], said: str) -> None:
    before = sorted(hive.root.rglob("*"))
    result = run("keep", *args)

    assert result.exit_code == 2, result.output
    assert said in result.stderr
    assert sorted(hive.root.rglob("*")) == before


def test_quiet_says_nothing_of_what_is_in_order(hive: Workshop, folder: Path) -> None:
    assert run("keep", "--check", folder, "--quiet").output == ""
    hive.job("lid.nc", LID.replace("X40", "X41"))
    assert "+G1 X41 F900" in told(run("keep", "--check", folder, "--quiet"))


def test_documents_are_as_their_schemas_say(hive: Workshop, folder: Path) -> None:
    hive.job("bad.nc", REFUSED)
    (hive.jobs / "queen.nc").unlink()
    runs = [
        run("keep", "--check", folder, "--json"),
        run("keep", folder, "--json"),
        run("keep", "--check", folder, "--json"),
        run("recheck", hive.recipe, "jobs/lid.nc", "--json"),
    ]
    for result, name in zip(runs, ["keep", "keep", "keep", "recheck"], strict=True):
        document = json.loads(result.stdout)
        jsonschema.validate(document, output_schema(name))
        assert document["exit-code"] == result.exit_code
    jsonschema.validate(json.loads((folder / "KEPT.json").read_bytes()), output_schema("kept-list"))
    outcomes = json.loads(runs[0].stdout)["folders"][0]["outcomes"]
    assert {each["name"]: each["standing"] for each in outcomes} == {
        "BAD.NC": "new", "LID.NC": "the same", "QUEEN.NC": "no longer made"
    }  # fmt: skip


# --- recheck ----------------------------------------------------------------------------------


def rechecked(*files: Any) -> list[str]:
    """Which files were checked."""
    result = run("recheck", *files, "--json")
    return [each["file"] for each in json.loads(result.stdout)["checked"]]


@pytest.fixture
def gallery(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    shutil.copytree(RECIPES, tmp_path / "recipes")
    monkeypatch.chdir(tmp_path)
    return tmp_path / "recipes"


@pytest.mark.parametrize(
    ("changed", "expected"),
    [
        ("bench-lids.yaml", ["bench-lids.yaml"]),
        ("machines/shop-relay.yaml", ["relay-frames.yaml", "swarm-warning.yaml"]),
        ("setups/lids-18.yaml", ["bench-lids.yaml", "bench-setup-cards.yaml"]),
        ("swarm_warning.py", ["swarm-warning.yaml"]),
        (
            "shared/base.yaml",
            [
                "shared/base.yaml", "speed-excluder.yaml", "speed-feeder-boards.yaml",
                "speed-feeder-changes.yaml", "speed-floor-boards.yaml", "speed-window.yaml",
            ],
        ),
        ("jobs/hive_relief.py", []),
    ],
)  # fmt: skip
@pytest.mark.usefixtures("gallery")
def test_what_a_changed_file_leads_to(changed: str, expected: list[str]) -> None:
    assert rechecked(f"recipes/{changed}") == [f"recipes/{name}" for name in expected]


def test_a_broken_machine_is_told_by_the_recipes_that_use_it(gallery: Path) -> None:
    machine = gallery / "machines" / "shop-relay.yaml"
    machine.write_text(machine.read_text("utf-8").replace("units:", "unitts:"), "utf-8")
    result = run("recheck", "recipes/machines/shop-relay.yaml", "recipes/clean-text.yaml")

    assert result.exit_code == 3
    assert "recipes/relay-frames.yaml: not fit" in told(result)
    assert "recipes/clean-text.yaml: fine" in told(result)
    assert result.stderr.count("unitts") >= 1
    assert "3 checked, 2 not fit; exit code 3" in told(result)
    machine.unlink()
    gone = run("recheck", "recipes/machines/shop-relay.yaml")
    assert gone.exit_code == 3
    assert "recipe-missing" in gone.stderr


def test_a_description_that_no_recipe_names_is_checked_alone(gallery: Path) -> None:
    lone = gallery / "machines" / "attic.yaml"
    text = (gallery / "machines" / "shop-relay.yaml").read_text("utf-8")
    lone.write_text(text, "utf-8")
    setup = gallery / "setups" / "attic.yaml"
    setup.write_text("format: headrace-setup/1\nsheat: {}\n")

    assert rechecked(lone) == [str(lone)]
    result = run("recheck", lone, setup)
    assert result.exit_code == 3
    assert f"{lone}: fine" in told(result)
    assert f"{setup}: not fit" in told(result)
    assert "sheat" in result.stderr
    lone.write_text("format: headrace-machine/1\nname: [open\n")
    assert run("recheck", lone).exit_code == 3


@pytest.mark.usefixtures("gallery")
def test_other_files_are_passed_over() -> None:
    Path("notes.yaml").write_text("bees: 40000\n# format: headrace-recipe/2 is what we write\n")
    result = run("recheck", "notes.yaml", "recipes/README.md", "--json")

    assert result.exit_code == 0
    document = json.loads(result.stdout)
    assert document["checked"] == []
    assert document["passed-over"] == ["notes.yaml", "recipes/README.md"]


def test_a_parent_may_lack_what_its_children_add(gallery: Path) -> None:
    (gallery / "parent.yaml").write_text("format: headrace-recipe/2\nname: Parent\nsteps: [home]\n")
    assert run("recheck", "recipes/parent.yaml").exit_code == 3
    child = "format: headrace-recipe/2\nname: Child\nextends: parent.yaml\n"
    (gallery / "child.yaml").write_text(f"{child}machine: machines/shop-relay.yaml\n")

    assert rechecked("recipes/parent.yaml") == ["recipes/child.yaml", "recipes/parent.yaml"]
    assert run("recheck", "recipes/parent.yaml").exit_code == 0
    (gallery / "child.yaml").write_text(child)
    assert run("recheck", "recipes/parent.yaml").exit_code == 3


def test_recipes_that_extend_one_another_in_a_circle_are_checked(gallery: Path) -> None:
    for name, other in (("a", "b"), ("b", "a")):
        text = f"format: headrace-recipe/2\nname: Circle\nextends: {other}.yaml\n"
        (gallery / f"{name}.yaml").write_text(text)
    result = run("recheck", "recipes/a.yaml")

    assert result.exit_code == 3
    assert "recipe-extends-cycle" in result.stderr


def test_a_plugin_alone_at_fault_is_4(gallery: Path) -> None:
    plugin = gallery / "swarm_warning.py"
    plugin.write_text("raise ImportError('no bees')\n")

    assert run("recheck", plugin).exit_code == 4
