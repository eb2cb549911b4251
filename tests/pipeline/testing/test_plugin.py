"""pytest tries transforms by itself: what is named becomes items, and nothing else is loaded."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

pytest_plugins = ["pytester"]

SETTLE = '''
from headrace import Facet, after, transform


@transform("settle", changes=[Facet.{facet}])
def settle(job):
    """Let the spindle come to its speed."""
    for line in job.program.lines_with("M", 3).tolist():
        yield after(line, "G4 P1.5")
'''
MACHINE = Path(__file__).parents[3] / "recipes" / "machines" / "shop-relay.yaml"


def with_transform(pytester: pytest.Pytester, facet: str = "DWELL", more: str = "") -> None:
    pytester.makepyfile(settle=SETTLE.format(facet=facet))
    pytester.makeini(f"[pytest]\nheadrace_transforms = settle.py\nheadrace_jobs = 12\n{more}")


def tried(pytester: pytest.Pytester, *args: str) -> pytest.RunResult:
    return pytester.runpytest_inprocess("-p", "no:cacheprovider", "-p", "no:cov", *args)


def test_each_check_is_an_item(pytester: pytest.Pytester) -> None:
    with_transform(pytester)
    pytester.mkdir("tests").joinpath("test_own.py").write_text(
        "def test_own(headrace_bench):\n"
        "    from headrace.testing import transforms_of\n"
        "    (settle,) = transforms_of('settle.py')\n"
        "    assert headrace_bench.run('M3', [settle]).lines == ['M3', 'G4 P1.5']\n"
    )
    done = tried(pytester, "-v", "--strict-markers", "-W", "error", "tests")

    done.assert_outcomes(passed=12)
    done.stdout.fnmatch_lines(
        [
            "headrace: transforms of settle.py, on 12 jobs",
            "settle.py::settle::keeps-its-contract PASSED*",
            "settle.py::settle::takes-some-jobs PASSED*",
        ]
    )


def test_a_fault_is_told_in_its_own_words(pytester: pytest.Pytester) -> None:
    with_transform(pytester, "COMMENTS")
    done = tried(pytester)

    done.assert_outcomes(failed=1, passed=10)
    done.stdout.fnmatch_lines(
        [
            "settle: keeps-its-contract failed",
            "  transform  settle at settle.py:4",
            "  job        1 line, shortened from: *",
            "  wrong      step `settle` changed dwell (added: dwell)*",
            "  to do      name in `changes` what the step is meant to change*",
        ]
    )
    done.stdout.no_fnmatch_line("*examination.py*")


def test_an_item_is_asked_for_by_its_name(pytester: pytest.Pytester) -> None:
    with_transform(pytester)

    tried(pytester, "settle.py::settle::never-fails").assert_outcomes(passed=1)
    tried(pytester, "-k", "contract").assert_outcomes(passed=1, deselected=10)
    tried(pytester, "settle.py").assert_outcomes(passed=11)


def test_other_files_by_themselves_stay_so(pytester: pytest.Pytester) -> None:
    with_transform(pytester)
    pytester.makepyfile(test_bees="def test_bees():\n    pass\n")

    tried(pytester, "test_bees.py").assert_outcomes(passed=1)
    tried(pytester).assert_outcomes(passed=12)


def test_what_the_command_line_names(pytester: pytest.Pytester) -> None:
    pytester.makepyfile(settle=SETTLE.format(facet="DWELL"))
    args = ("--headrace-transforms", "settle.py", "--headrace-jobs", "5")

    tried(pytester, *args).assert_outcomes(passed=11)


def test_on_a_machine_of_ones_own(pytester: pytest.Pytester) -> None:
    with_transform(pytester, more=f"headrace_machines = {MACHINE}\n")
    done = tried(pytester)

    done.assert_outcomes(passed=11)


def test_a_file_that_cannot_be_loaded(pytester: pytest.Pytester) -> None:
    pytester.makepyfile(settle="raise RuntimeError('stung')")
    done = tried(pytester, "--headrace-transforms", "settle.py")

    assert done.ret == pytest.ExitCode.USAGE_ERROR
    done.stderr.fnmatch_lines(["ERROR: headrace_transforms: settle.py: RuntimeError: stung"])


def test_nothing_is_loaded_where_nothing_is_named(tmp_path: Path) -> None:
    heavy = {"numpy", "yaml", "jsonschema", "headrace.run", "headrace.testing.conformance"}
    test = tmp_path / "test_bees.py"
    test.write_text(
        "import sys\n\ndef test_bees():\n"
        f"    assert not {heavy!r} & set(sys.modules)\n"
        "    assert 'headrace.testing.plugin' in sys.modules\n"
    )
    command = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", str(test)]
    environment = {
        "PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1",
        "PYTEST_PLUGINS": "headrace.testing.plugin",
    }
    done = subprocess.run(
        command, capture_output=True, text=True, cwd=tmp_path, env=environment, timeout=120
    )

    assert done.returncode == 0, done.stdout
