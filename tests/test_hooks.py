"""The hooks for https://pre-commit.com in `.pre-commit-hooks.yaml`, run by that tool itself in a
repository of their own, on commits as a workshop makes them. Only the environment that it would
build is left out (`language: python`): the headrace that is tested here is the one that is run."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest
import yaml
from trials.tools import needed_tools

ROOT = Path(__file__).parents[1]
HOOKS = ".pre-commit-hooks.yaml"
BIN = Path(sys.executable).parent


def pre_commit(where: Path, *args: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "pre_commit", *args], cwd=where, env=_environment(where),
        capture_output=True, text=True, check=False, timeout=120,
    )  # fmt: skip


def git(where: Path, *args: str) -> str:
    ran = subprocess.run(
        ["git", *args], cwd=where, env=_environment(where), capture_output=True, text=True,
        check=True, timeout=60,
    )  # fmt: skip
    return ran.stdout.strip()


def _environment(where: Path) -> dict[str, str]:
    """Nothing of whoever runs the tests, and headrace first on the path."""
    names = ("NAME", "EMAIL")
    people = {f"GIT_{role}_{name}": "bee" for role in ("AUTHOR", "COMMITTER") for name in names}
    return {
        **{name: value for name, value in os.environ.items() if not name.startswith("GIT_")},
        **people,
        "GIT_CONFIG_GLOBAL": os.devnull,
        "GIT_CONFIG_NOSYSTEM": "1",
        "PRE_COMMIT_HOME": str(where.parent / "cache"),
        "PATH": os.pathsep.join([str(BIN), os.environ.get("PATH", os.defpath)]),
        "NO_COLOR": "1",
    }


@dataclass(frozen=True)
class Repository:
    """The workshop's own repository, with both hooks."""

    root: Path

    def write(self, name: str, old: str, new: str) -> None:
        path = self.root / name
        text = path.read_bytes().decode()
        assert old in text, name
        path.write_bytes(text.replace(old, new).encode())

    def commit(self) -> subprocess.CompletedProcess[str]:
        """What the hooks say to all changes, and the commit if they let it pass."""
        git(self.root, "add", "--all")
        ran = pre_commit(self.root, "run", "--verbose")
        if ran.returncode == 0:
            git(self.root, "commit", "--quiet", "--allow-empty", "-m", "Change")
        else:
            git(self.root, "reset", "--quiet", "--hard")
        return ran


@pytest.fixture(scope="module")
def hive(tmp_path_factory: pytest.TempPathFactory) -> Repository:
    needed_tools("git")
    if shutil.which("pre-commit", path=str(BIN)) is None:
        needed_tools("pre-commit")
        pytest.skip("pre-commit is not beside this Python: pip install pre-commit")
    folder = tmp_path_factory.mktemp("hooks")
    ours = folder / "headrace"
    ours.mkdir()
    shutil.copy(ROOT / HOOKS, ours)
    git(ours, "init", "--quiet")
    git(ours, "add", "--all")
    git(ours, "commit", "--quiet", "-m", "Hooks")
    revision = git(ours, "rev-parse", "HEAD")
    ids = [hook["id"] for hook in yaml.safe_load((ROOT / HOOKS).read_text("utf-8"))]
    hooks = [{"id": name, "language": "system"} for name in ids]
    root = folder / "hive"
    shutil.copytree(ROOT / "recipes", root / "recipes", ignore=shutil.ignore_patterns("__*"))
    shutil.copy(ROOT / ".gitattributes", root)
    config = {"repos": [{"repo": str(ours), "rev": revision, "hooks": hooks}]}
    (root / ".pre-commit-config.yaml").write_text(yaml.safe_dump(config))
    git(root, "init", "--quiet")
    repository = Repository(root)
    first = repository.commit()
    assert first.returncode == 0, first.stdout + first.stderr
    return repository


def results(ran: subprocess.CompletedProcess[str]) -> dict[str, str]:
    """What became of each hook."""
    ids = re.findall(r"^- hook id: (\S+)", ran.stdout, re.M)
    heads = re.findall(
        r"\.(Passed|Failed|Skipped)$|\(no files to check\)(Skipped)$", ran.stdout, re.M
    )
    return dict(zip(ids, ("".join(head) for head in heads), strict=True))


def test_the_tool_accepts_the_file(hive: Repository) -> None:
    ran = pre_commit(hive.root, "validate-manifest", str(ROOT / HOOKS))
    assert ran.returncode == 0, ran.stdout + ran.stderr


def test_a_change_that_changes_no_outcome_goes_in(hive: Repository) -> None:
    """Files that are nothing of headrace's go in as well."""
    hive.write("recipes/bench-lids.yaml", "# For:", "# Meant for:")
    (hive.root / "notes.yaml").write_text("mites: 3\n")
    (hive.root / "tool.py").write_text("BEES = 40_000\n")
    ran = hive.commit()

    assert ran.returncode == 0, ran.stdout
    assert results(ran) == {"headrace-recipes": "Passed", "headrace-kept": "Passed"}
    assert "recipes/bench-lids.yaml: fine" in ran.stdout
    assert "1 checked, 0 not fit" in ran.stdout
    assert "recipes/kept/lids: 2 outcomes, the same" in ran.stdout


def test_a_broken_machine_keeps_a_commit_back(hive: Repository) -> None:
    """The recipes that use it are checked, though none of them is part of the change."""
    hive.write("recipes/machines/shop-relay.yaml", "bed:", "bett:")
    ran = hive.commit()

    assert ran.returncode == 1
    assert results(ran) == {"headrace-recipes": "Failed", "headrace-kept": "Passed"}
    assert "recipes/relay-frames.yaml: not fit" in ran.stdout
    assert "recipes/machines/shop-relay.yaml:" in ran.stdout
    assert "bench-lids.yaml: " not in ran.stdout


def test_another_outcome_keeps_a_commit_back_and_is_shown(hive: Repository) -> None:
    hive.write("recipes/setups/lids-18.yaml", "12.02", "12.52")
    ran = hive.commit()

    assert ran.returncode == 1
    assert results(ran) == {"headrace-recipes": "Passed", "headrace-kept": "Failed"}
    assert "since then: setup.plate.thickness: 12.02 -> 12.52" in ran.stdout
    assert "-G92 Z12.02" in ran.stdout
    assert "+G92 Z12.52" in ran.stdout


def test_renewed_outcomes_go_in_with_the_change(hive: Repository) -> None:
    hive.write("recipes/setups/lids-18.yaml", "12.02", "12.32")
    subprocess.run(
        [sys.executable, "-m", "headrace", "keep", "recipes/kept"], cwd=hive.root, check=True,
        capture_output=True, timeout=120,
    )  # fmt: skip
    ran = hive.commit()

    assert ran.returncode == 0, ran.stdout
    assert "+G92 Z12.32" in git(hive.root, "show", "--format=", "HEAD", "--", "recipes/kept")


def test_a_commit_of_deletions_only_is_looked_at(hive: Repository) -> None:
    """No file name is handed over then."""
    (hive.root / "recipes" / "kept" / "lids" / "LID.NC").unlink()
    ran = hive.commit()

    assert ran.returncode == 1
    assert "LID.NC is gone" in ran.stdout
