"""Every way for a plugin to be broken: one error that tells where, what was expected and what to
do, and nobody else is stopped. The same table for files beside a recipe and for distributions.

Outside references: Python's own compiler and tokenizer (what is wrong with a text, and where),
`inspect.signature`, and the meta-schema of JSON Schema 2020-12 by the library jsonschema.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import pytest
from jsonschema import Draft202012Validator
from workshop import Workshop, set_up

from headrace import Place, PluginError
from headrace.findings import Finding
from headrace.plugins.loading.aside import aside
from headrace.plugins.python_file import LARGEST
from headrace.plugins.registry import load_registry
from headrace.report.schema import output_schema

from .conftest import Shelf


class Case(NamedTuple):
    """A plugin's text; what is said of it, at which line, and what is to be done about it."""

    source: str
    what: str
    line: int | None
    remedy: str = ""


HEAD = "from headrace import hookimpl, transform\n"
HOOK = f"{HEAD}@hookimpl\ndef headrace_transforms():\n"
SIGNED = HEAD + '@transform("look", {})\ndef look({}):\n    """Look."""\n    return ()\n'

CASES = {
    "syntax": Case("x = 1\nif x\n", "SyntaxError: expected ':'", 2),
    "indentation": Case("def f():\npass\n", "IndentationError: expected an indented block", 2),
    "missing module": Case(
        "import bee_tools.wax\n",
        "ModuleNotFoundError: the module `bee_tools` is not installed",
        1,
        "install what has it where headrace is installed",
    ),
    "misspelt name of the door": Case(
        "\nfrom headrace import befor\n",
        "headrace has no public name `befor`",
        2,
        "did you mean `before`?",
    ),
    "inner module": Case(
        "import headrace.utilities\n",
        "the module `headrace.utilities` is not installed",
        1,
        "import from `headrace` itself",
    ),
    "raises": Case("def f():\n    raise RuntimeError('a\\nb')\nf()\n", "RuntimeError: a; b", 2),
    "raises in the library": Case("import json\njson.loads('{')\n", "JSONDecodeError", 2),
    "error without text": Case("assert False\n", "cannot be loaded: AssertionError", 1),
    "error that cannot be told": Case(
        "class Sting(Exception):\n    def __str__(self):\n        1 / 0\nraise Sting\n",
        "Sting: (its own text cannot be made: ZeroDivisionError)",
        4,
    ),
    "ends the program": Case("import sys\nsys.exit(3)\n", "SystemExit: 3", 2),
    "error of the base": Case("class S(BaseException): pass\nraise S('x')\n", "S: x", 2),
    "no end of calls": Case("def f(): f()\nf()\n", "RecursionError", 1),
    "unknown hook": Case(
        f"{HEAD}@hookimpl\ndef headrace_step_don(name):\n    pass\n",
        "implements the hook `headrace_step_don`, and there is none",
        2,
        "did you mean `headrace_step_done`? the hooks are",
    ),
    "forgotten mark": Case(
        "def headrace_transforms():\n    return []\n",
        "`headrace_transforms` is no hook as long as it is not marked",
        1,
        "write `@hookimpl` above it",
    ),
    "parameters": Case(
        f"{HEAD}@hookimpl\ndef headrace_step_done(name, old: int, *, new):\n    pass\n",
        "it has `headrace_step_done(name, old, *, new)`, and the hook is"
        " `headrace_step_done(name, before, after)`",
        2,
        "what is not needed may be left out",
    ),
    "parameters of an offer": Case(
        f"{HEAD}@hookimpl\ndef headrace_transforms(recipe):\n    return []\n",
        "it has `headrace_transforms(recipe)`, and the hook is `headrace_transforms()`",
        2,
        "write it so",
    ),
    "async hook": Case(
        f"{HEAD}@hookimpl\nasync def headrace_transforms():\n    return []\n",
        "`headrace_transforms` is `async`",
        2,
    ),
    "class as a hook": Case(
        f"{HEAD}@hookimpl\nclass headrace_transforms: pass\n",
        "`headrace_transforms` is a class, no function",
        None,
    ),
    "wrapper": Case(
        f"{HEAD}@hookimpl(wrapper=True)\ndef headrace_transforms():\n    return (yield)\n",
        "`headrace_transforms` is a wrapper",
        2,
    ),
    "hook raises": Case(f"{HOOK}    raise OSError('no')\n", "OSError: no", 4),
    "generator fails": Case(f"{HOOK}    yield from ()\n    1 / 0\n", "ZeroDivisionError", 5),
    "offers nothing": Case(f"{HOOK}    pass\n", "gives None", 2, "return a list of transforms"),
    "offers a class": Case(f"{HOOK}    return [int]\n", "the class int in its list", 2),
    "offers a function": Case(
        f"{HOOK}    return [headrace_transforms]\n",
        "gives the function headrace_transforms in its list, which is no transform",
        2,
        "mark it with `@transform(...)`",
    ),
    "offers a mapping": Case(f"{HOOK}    return {{}}\n", "a value of the type dict", 2),
    "offers one": Case(
        SIGNED.format("", "job") + "@hookimpl\ndef headrace_transforms():\n    return look\n",
        "gives one transform by itself",
        6,
        "return a list: `[look]`",
    ),
    "offers without end": Case(
        SIGNED.format("", "job")
        + "@hookimpl\ndef headrace_transforms():\n    while True:\n        yield look\n",
        "more than 10000 transforms",
        6,
    ),
    "offers one twice": Case(
        SIGNED.format("", "job")
        + "@hookimpl\ndef headrace_transforms():\n    return [look, look]\n",
        "`look` is offered twice by",
        None,
    ),
    "no brackets": Case(
        f'{HEAD}@transform\ndef look(job):\n    """Look."""\n',
        "transform `look` is marked by `@transform` without brackets",
        2,
    ),
    "class as a transform": Case(
        f'{HEAD}@transform("look")\nclass Look: pass\n', "is no function written in Python", None
    ),
    "name": Case(
        SIGNED.replace('"look"', '"Look At"').format("", "job"), "`Look At` has no name as", 2
    ),
    "parameters of a transform": Case(
        SIGNED.format("", "job, speed=3"),
        "must take exactly one positional parameter, the job: (job), not (job, speed=3)",
        2,
    ),
    "required unknown": Case(
        SIGNED.format('options={"seconds": {}}, required=["second"]', "job, *, seconds"),
        "requires second, which is no option; did you mean `seconds`?",
        2,
    ),
    "required as text": Case(
        SIGNED.format('options={"s": {}}, required="s"', "job, *, s"), "`required` that is no", 2
    ),
    "facet by itself": Case(
        SIGNED.format('changes="dwell"', "job"), "write `changes=[Facet.DWELL]`", 2
    ),
    "unknown term": Case(
        SIGNED.format("afine=lambda job: 1", "job"), "given `afine`, which is unknown: did you mean"
        " `affine`?", 2,
    ),
    "gives what is unknown": Case(
        SIGNED.format('gives="lines"', "job"), "gives 'lines'; it can give edits, parts, steps", 2
    ),
    "option without a schema": Case(
        SIGNED.format('options={"s": "number"}', "job, *, s"), "has the option 's', and its JSON", 2
    ),
}  # fmt: skip

ALIVE = (
    HEAD
    + '@transform("alive")\ndef alive(job):\n    """Live."""\n    return ()\n'
    + HOOK[len(HEAD) :]
    + "    return [alive]\n"
)


def place() -> Place:
    return Place("lids.yaml", 3, 5, 8, "  - hive.py")


def broken_file(path: Path) -> list[Finding]:
    with pytest.raises(PluginError) as refusal:
        load_registry().with_files([path], [place()])
    return list(refusal.value.findings)


def judge(found: list[Finding], case: Case, file: Path, name: str) -> None:
    assert len(found) == 1, found
    finding = found[0]
    assert case.what in finding.what
    assert name in finding.what
    assert "\n" not in finding.what
    assert case.remedy in finding.remedy
    assert finding.remedy
    if case.line is not None:
        assert finding.place is not None
        assert (finding.place.file, finding.place.line) == (str(file), case.line)
        assert finding.place.excerpt == case.source.splitlines()[case.line - 1]


@pytest.mark.parametrize("name", CASES)
def test_a_file_beside_a_recipe(tmp_path: Path, name: str) -> None:
    path = tmp_path / "hive.py"
    path.write_text(CASES[name].source)

    judge(broken_file(path), CASES[name], path, "hive.py")


@pytest.mark.parametrize("name", CASES)
def test_an_installed_plugin(shelf: Shelf, name: str) -> None:
    shelf.put("a-hive", CASES[name].source, version="2.1")
    shelf.put("b-alive", ALIVE)
    registry = load_registry()

    judge(list(registry.faults), CASES[name], shelf.folder / "a_hive.py", "a-hive 2.1")
    assert {"alive", "park"} <= set(registry.transforms)


def test_the_caret_stands_where_the_compiler_says(tmp_path: Path) -> None:
    """By CPython's own `compile`: line, column and end of what it does not take."""
    path = tmp_path / "hive.py"
    text = 'lids = ["spruce", "lärche"]\nfor lid in lids)\n    pass\n'
    path.write_text(text, "utf-8")
    with pytest.raises(SyntaxError) as error:
        compile(text, "hive.py", "exec")
    found = broken_file(path)[0].place

    assert found is not None
    assert (found.line, found.column) == (error.value.lineno, error.value.offset)
    assert found.excerpt[found.column - 1] == ")"


def test_the_caret_counts_characters_and_not_bytes(tmp_path: Path) -> None:
    path = tmp_path / "hive.py"
    path.write_text('x = ("ÄÖÜ", 1 / 0)\n', "utf-8")
    found = broken_file(path)[0].place

    assert found is not None
    assert found.excerpt[found.column - 1 :][: found.length] == "1 / 0"


TEXTS: dict[str, tuple[bytes, str]] = {
    "empty": (b"", "there is no transform in it"),
    "only words": (b'"""A note on bees."""\n', "there is no transform in it"),
    "zero bytes": (b"\x7fELF\0\0\0", "it holds zero bytes, so it is no Python text"),
    "UTF-16": ("x = 1".encode("utf-16"), "it holds zero bytes"),
    "Latin-1 unsaid": (b"a = 1\nb = '\xe4'\n", "byte 0xe4 in line 2 is no UTF-8"),
    "unknown coding": (b"# coding: beeswax\n", "unknown encoding: beeswax"),
    "huge": (b"#" * (LARGEST + 1), f"it has more than {LARGEST} bytes"),
    "nested": (b"x = " + b"(" * 300 + b")" * 300, "too many nested parentheses"),
}


@pytest.mark.parametrize("name", TEXTS)
def test_a_file_that_is_no_text_of_python(tmp_path: Path, name: str) -> None:
    data, said = TEXTS[name]
    path = tmp_path / "hive.py"
    path.write_bytes(data)
    found = broken_file(path)

    assert len(found) == 1
    assert (
        f"hive.py cannot be loaded: {'SyntaxError: ' if name == 'nested' else ''}{said}"
        in found[0].what
    )


@pytest.mark.parametrize(
    ("coding", "head"),
    [
        ("utf-8-sig", ""),
        ("latin-1", "# -*- coding: latin-1 -*-\n"),
        ("cp1252", "# coding: cp1252\n"),
    ],
)
def test_other_codings_are_read_as_python_reads_them(
    tmp_path: Path, coding: str, head: str
) -> None:
    """PEP 263: a byte-order mark, or a comment in one of the first two lines."""
    path = tmp_path / "hive.py"
    path.write_bytes((head + ALIVE.replace("Live.", "Grüß die Bienen.")).encode(coding))
    registry = load_registry().with_files([path], [place()])

    assert registry.transforms["alive"].summary == "Grüß die Bienen."


def _folder(path: Path) -> None:
    path.mkdir()


def _gone(_path: Path) -> None:
    pass


def _pipe(path: Path) -> None:
    os.mkfifo(path)


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (_folder, "it is a folder"),
        (_gone, "there is no such file"),
        pytest.param(
            _pipe,
            "there is no such file",
            marks=pytest.mark.skipif(os.name == "nt", reason="Windows has no such pipes"),
        ),
    ],
)
def test_what_is_no_file(tmp_path: Path, make: Callable[[Path], None], said: str) -> None:
    path = tmp_path / "hive.py"
    make(path)
    found = broken_file(path)

    assert [finding.what for finding in found] == [f"the plugin hive.py cannot be loaded: {said}"]
    assert found[0].place == place()


def test_a_neighbour_that_a_file_cannot_import(tmp_path: Path) -> None:
    path = tmp_path / "hive.py"
    path.write_text("import wax\n")
    (tmp_path / "wax.py").write_text("")
    found = broken_file(path)[0]

    assert "the module `wax` is not installed; wax.py lies beside it" in found.what
    assert "put both in one" in found.remedy


WRONG_SCHEMAS = {
    "type": ('{"type": "nummer"}', "`type`: 'nummer' is not valid"),
    "minimum": ('{"minimum": "3"}', "`minimum`: '3' is not of type 'number'"),
    "pattern": ('{"enum": 4}', "`enum`: 4 is not of type 'array'"),
    "default": ('{"type": "number", "default": "fast"}', "does not fit its own default: 'fast'"),
}


@pytest.mark.parametrize("name", WRONG_SCHEMAS)
def test_a_schema_that_is_none(tmp_path: Path, name: str) -> None:
    schema, said = WRONG_SCHEMAS[name]
    path = tmp_path / "hive.py"
    path.write_text(SIGNED.format(f'options={{"wait": {schema}}}', "job, *, wait"))
    found = broken_file(path)

    assert [finding.name for finding in found] == ["plugin-faulty"]
    assert found[0].what.startswith("transform `look` has the option `wait`, and its schema")
    assert said in found[0].what
    assert found[0].place is not None
    assert (found[0].place.file, found[0].place.line) == (str(path), 2)


def test_everything_that_a_declaration_lacks_is_told_at_once(tmp_path: Path) -> None:
    path = tmp_path / "hive.py"
    path.write_text(HEAD + '@transform("look", changes=["colour"])\ndef look():\n    return ()\n')
    found = broken_file(path)

    assert [finding.name for finding in found] == ["plugin-faulty"] * 3
    assert all(finding.what.endswith("(plugin hive.py)") for finding in found)


def test_an_interruption_interrupts(tmp_path: Path) -> None:
    path = tmp_path / "hive.py"
    path.write_text(HOOK + "    raise KeyboardInterrupt\n")

    with pytest.raises(KeyboardInterrupt):
        load_registry().with_files([path], [place()])


# --- distributions ----------------------------------------------------------------------------


def test_a_distribution_whose_module_is_gone(shelf: Shelf) -> None:
    shelf.put("a-hive", ALIVE)
    (shelf.folder / "a_hive.py").unlink()
    (fault,) = load_registry().faults

    assert "a-hive 1.0" in fault.what
    assert "its own module `a_hive` is not there" in fault.what
    assert fault.remedy == "install the distribution again, or remove it"


@pytest.mark.parametrize("metadata", [None, "Metadata-Version: 2.1\n"])
def test_a_distribution_without_a_name(shelf: Shelf, metadata: str | None) -> None:
    shelf.put("a-hive", ALIVE)
    file = shelf.folder / "a_hive-1.0.dist-info" / "METADATA"
    file.unlink() if metadata is None else file.write_text(metadata)
    registry = load_registry()

    assert [fault.name for fault in registry.faults] == ["plugin-unloadable"]
    assert "the plugin a_hive cannot be loaded: its distribution in" in registry.faults[0].what
    assert "alive" not in registry.transforms
    assert "park" in registry.transforms


def test_an_object_that_a_module_does_not_have(shelf: Shelf) -> None:
    shelf.put("a-hive", ALIVE, value="a_hive:queen")
    (fault,) = load_registry().faults

    assert "a_hive:queen (a-hive 1.0)" in fault.what
    assert "has no attribute 'queen'" in fault.what


def test_a_class_is_no_plugin(shelf: Shelf) -> None:
    shelf.put("a-hive", "class Queen: pass\n", value="a_hive:Queen")
    (fault,) = load_registry().faults

    assert "Queen is a class; a plugin is an object or a module" in fault.what


def test_names_of_headrace_itself_are_never_taken_by_others(shelf: Shelf) -> None:
    """Whatever a plugin is called, and so wherever it stands in the row."""
    shelf.put("a-hive", ALIVE.replace('"alive"', '"park"'))
    registry = load_registry()

    assert [fault.name for fault in registry.faults] == ["name-taken"]
    assert registry.transforms["park"].provider.startswith("headrace ")


# --- what is printed --------------------------------------------------------------------------


def test_what_plugins_print_is_talk(
    shelf: Shelf, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    loud = "print('loading')\n" + ALIVE.replace(
        "    return [", "    print('offering')\n    return ["
    )
    shelf.put("a-hive", loud)
    path = tmp_path / "hive.py"
    path.write_text(loud.replace('"alive"', '"lively"'))
    load_registry().with_files([path], [place()])
    heard = capsys.readouterr()

    assert heard.out == ""
    assert heard.err.splitlines() == ["loading", "offering"] * 2


def test_threads_that_run_plugins_give_standard_output_back() -> None:
    """In whatever order they end: one that began later may end first, or last."""
    output = sys.stdout
    first, second = aside(), aside()
    first.__enter__()
    second.__enter__()
    assert sys.stdout is sys.stderr
    first.__exit__(None, None, None)
    assert sys.stdout is sys.stderr
    second.__exit__(None, None, None)

    assert sys.stdout is output


# --- by the command ---------------------------------------------------------------------------


def run(folder: Path, *args: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "headrace", *args], cwd=folder, capture_output=True, text=True,
        check=False, timeout=120,
    )  # fmt: skip


def document(ran: subprocess.CompletedProcess[str], schema: str) -> dict[str, object]:
    found: dict[str, object] = json.loads(ran.stdout)
    Draft202012Validator(output_schema(schema)).validate(found)
    assert found["exit-code"] == ran.returncode
    return found


NOISE = "import os, warnings\nprint('loading')\nwarnings.warn('old wax')\n"
STEP = '''
@transform("look")
def look(job):
    """Look at every line."""
    print("looking")
    os.system("echo from a shell") if {shell} else None
    for line in job.program:
        if line.index == 3:
            {act}
    return ()
'''


def hive_of(root: Path, source: str, *jobs: str) -> Workshop:
    """A workshop whose recipe names one Python file with this text, and the step `look`."""
    shop = set_up(root / "hive", ["look"])
    (shop.recipe.parent / "hive_steps.py").write_text(source)
    for name in jobs:
        shop.job(name)
    return shop


def test_standard_output_holds_the_document_alone(tmp_path: Path) -> None:
    """Whatever a plugin prints where it is loaded and where it runs, in workers too, and there
    even by other programs."""
    source = NOISE + HEAD + STEP.format(shell=True, act="pass")
    shop = hive_of(tmp_path, source, "lid.nc", "rim.nc")
    ran = run(shop.root, "check", "--json", "--jobs", "2", str(shop.recipe), str(shop.jobs))

    found = document(ran, "check")
    assert found["exit-code"] == 0, ran.stderr
    assert "loading" in ran.stderr
    assert ran.stderr.count("looking\n") == 2
    assert ran.stderr.count("from a shell\n") == 2
    assert "UserWarning: old wax" in ran.stderr


def test_a_transform_that_fails_tells_plugin_job_and_line(tmp_path: Path) -> None:
    source = "import os\n" + HEAD + STEP.format(shell=False, act="line.nectar")
    shop = hive_of(tmp_path, source, "lid.nc")
    ran = run(shop.root, "check", "--json", str(shop.recipe), str(shop.jobs))

    found = document(ran, "check")
    assert found["exit-code"] == 4
    assert "Traceback" not in ran.stderr
    said = json.dumps(found)
    assert "step `look` failed: AttributeError" in said
    assert "it is of hive_steps.py, and was at line 4 of lid.nc" in said
    assert '"excerpt": "            line.nectar"' in said


@pytest.mark.parametrize("name", ["syntax", "unknown hook", "ends the program"])
def test_a_broken_plugin_by_the_command(tmp_path: Path, name: str) -> None:
    shop = hive_of(tmp_path, CASES[name].source)
    ran = run(shop.root, "check", "--json", str(shop.recipe))

    found = document(ran, "check")
    assert found["exit-code"] == 4
    assert CASES[name].what in json.dumps(found["findings"])
    assert "Traceback" not in ran.stderr
