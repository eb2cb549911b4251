"""What a shell completes. In a real bash, as its manual describes programmable completion ("8.6"),
which has `nosort` from release 4.4 on; zsh and fish read their scripts where they are installed."""

from __future__ import annotations

import os
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner
from workshop import Workshop, set_up

from headrace.batch.sources import EXTENSIONS
from headrace.cli import choices
from headrace.cli.completion import SHELLS
from headrace.cli.group import SUMMARIES
from headrace.cli.group import headrace as command
from headrace.findings import CATALOGUE
from headrace.plugins.registry import load_registry
from headrace.report.schema import NAMES

BASH = shutil.which("bash")
JOBS = ("a lid.NGC", "floor.tap", "lid.nc")
HEAVY = ("numpy", "yaml", "jsonschema", "pluggy", "headrace.plugins", "headrace.batch")


@pytest.fixture
def hive(tmp_path: Path) -> Workshop:
    made = set_up(tmp_path / "hive")
    for name in ("lid.nc", "a lid.NGC", "floor.tap", "notes.txt", ".hidden.nc"):
        made.job(name)
    return made


def completed(hive: Workshop, words: str) -> list[str]:
    """What a bash that has read the script offers for the last of some words."""
    if BASH is None or os.name == "nt":
        pytest.skip("bash is not on this machine: apt-get install bash")
    script = CliRunner().invoke(command, ["completion", "bash"]).stdout
    tools = hive.root / "tools"
    tools.mkdir(exist_ok=True)
    (hive.root / "completion.bash").write_text(script)
    (tools / "headrace").write_text(
        f'#!/bin/sh\nexec {shlex.quote(sys.executable)} -m headrace "$@"\n'
    )
    (tools / "headrace").chmod(0o755)
    # compopt is for the shell at a prompt only; here it tells what it was asked for
    asked = f"""
        compopt() {{ echo "compopt $*" >&2; }}
        source ./completion.bash
        COMP_WORDS=({words}); COMP_CWORD=$((${{#COMP_WORDS[@]}} - 1))
        _headrace_completion headrace
        printf '%s\\n' "${{COMPREPLY[@]}}"
    """
    done = subprocess.run(
        [BASH, "--norc", "-c", asked],
        cwd=hive.root,
        env={**os.environ, "PATH": f"{tools}{os.pathsep}{os.environ['PATH']}"},
        capture_output=True,
        text=True,
        check=True,
        timeout=60,
    )
    assert set(done.stderr.splitlines()) <= {"compopt -o filenames"}
    return done.stdout.split("\n")[:-1]


@pytest.mark.parametrize(
    ("words", "offered"),
    [
        ("headrace pre", ["prepare"]),
        ("headrace prepare --ca", ["--card"]),
        ("headrace check --ma", ["--machine"]),
        ("headrace transforms touch", ["touch-off"]),
        ("headrace explain bad-num", ["bad-number"]),
        ("headrace explain HRL004", ["HRL004"]),
        ("headrace completion z", ["zsh"]),
        ("headrace schema set", ["setup"]),
        ("headrace new tr", ["transform"]),
        ("headrace new recipe combs --machine recipes/mach", ["recipes/machine.yaml"]),
        ("headrace plan rec", ["recipes"]),
        ("headrace plan recipes/", ["recipes/machine.yaml", "recipes/plain.yaml"]),
        ("headrace plan recipes/plain.yaml jobs/", ["jobs/" + job for job in JOBS]),
        ("headrace prepare recipes/plain.yaml jobs/lid.nc jobs/fl", ["jobs/floor.tap"]),
        ("headrace prepare recipes/plain.yaml jobs/a\\ l", ["jobs/a lid.NGC"]),
        ("headrace check recipes/p", ["recipes/plain.yaml"]),
        ("headrace check --machine recipes/mach", ["recipes/machine.yaml"]),
        ("headrace prepare recipes/plain.yaml jobs --card c", ["card"]),
        ("headrace verify ca", ["card"]),
        ("headrace show jobs/fl", ["jobs/floor.tap"]),
        ("headrace sheet recipes/plain.yaml jobs --card card --to ca", ["card"]),
        ("headrace picture jobs/floor.tap --view s", ["side"]),
        ("headrace check nowhere/", [""]),
    ],
)  # fmt: skip
def test_bash_completes(hive: Workshop, words: str, offered: list[str]) -> None:
    assert completed(hive, words) == offered


def test_bash_offers_every_command(hive: Workshop) -> None:
    assert completed(hive, "headrace ''") == sorted(SUMMARIES)


@pytest.mark.parametrize("shell", ["zsh", "fish"])
def test_scripts_can_be_read(tmp_path: Path, shell: str) -> None:
    found = shutil.which(shell)
    if found is None:
        pytest.skip(f"{shell} is not on this machine: apt-get install {shell}")
    script = tmp_path / "script"
    script.write_text(CliRunner().invoke(command, ["completion", shell]).stdout)
    subprocess.run([found, "-n", script], check=True, timeout=60)


@pytest.mark.parametrize("shell", SHELLS)
def test_each_script_asks_the_command(shell: str) -> None:
    result = CliRunner().invoke(command, ["completion", shell])
    assert result.exit_code == 0
    assert f"_HEADRACE_COMPLETE={shell}_complete" in result.stdout


def test_what_is_offered_is_what_there_is() -> None:
    """Names are found in sources without running them: all of them, and no others."""

    def offered(function: object) -> set[str]:
        assert callable(function)
        return {item.value for item in function(None, None, "")}

    assert offered(choices.transform_names) == set(load_registry().transforms)
    assert offered(choices.finding_names) == set(CATALOGUE)
    assert offered(choices.schema_names) == {*NAMES, "recipe", "machine", "setup"}
    assert {item.value for item in choices.finding_names(None, None, "HR")} == {  # type: ignore[arg-type]
        kind.id for kind in CATALOGUE.values()
    }
    assert set(choices.JOB_ENDS) == set(EXTENSIONS)


@pytest.mark.parametrize(
    "words",
    ["headrace pre", "headrace plan recipes/", "headrace transforms t", "headrace explain b"],
)
def test_a_press_of_the_key_loads_nothing_heavy(words: str) -> None:
    script = (
        "import sys\n"
        "from headrace.cli import main\n"
        "try: main()\n"
        "except SystemExit: pass\n"
        f"print([name for name in {HEAVY!r} if name in sys.modules], file=sys.stderr)\n"
    )
    asked = {
        "_HEADRACE_COMPLETE": "bash_complete",
        "COMP_WORDS": words,
        "COMP_CWORD": str(len(words.split()) - 1),
    }
    done = subprocess.run(
        [sys.executable, "-c", script], env={**os.environ, **asked}, capture_output=True, check=True
    )
    assert done.stderr.decode().strip() == "[]"
    assert b"plain," in done.stdout or b"path," in done.stdout
