"""The difference of a job and its result is a patch. Outside references: the tools `patch` and `git
apply`, and an applier of our own, written from POSIX (IEEE Std 1003.1, diff, "Diff -u or -U Output
Format")."""

from __future__ import annotations

import os
import random
import re
import subprocess
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from trials.tools import needed_tools
from workshop import LID, set_up

from headrace.program import Cause, Edit, Program, after, before, delete, replace
from headrace.report.alignment import changes_between
from headrace.report.causes import Takers, rows
from headrace.report.diff import unified
from headrace.report.ranges import Ranges

HUNK = re.compile(rb"@@ -(\d+),(\d+) \+(\d+),(\d+) @@.*\n")


def applied(old: bytes, patch: bytes) -> bytes:
    """`old` with the patch applied, strictly: every line of context and every number must fit."""
    lines = re.findall(rb"[^\n]*\n|[^\n]+", old)
    if not patch:
        return old
    body = re.findall(rb"[^\n]*\n|[^\n]+", patch)
    while not body[0].startswith(b"--- "):
        body.pop(0)
    assert body[1].startswith(b"+++ ")
    body = body[2:]
    result: list[bytes] = []
    at = 0
    while body:
        head = HUNK.fullmatch(body.pop(0))
        assert head is not None
        start, count, new_start, new_count = map(int, head.groups())
        first = start - 1 if count else start
        result += lines[at:first]
        at = first
        assert len(result) == (new_start - 1 if new_count else new_start)
        taken = put = 0
        while taken < count or put < new_count:
            line = body.pop(0)
            text = line[1:]
            if body and body[0].startswith(b"\\ No newline"):
                body.pop(0)
                text = text[:-1]
            if line[:1] in (b" ", b"-"):
                assert lines[at] == text
                at += 1
                taken += 1
            if line[:1] in (b" ", b"+"):
                result.append(text)
                put += 1
            assert line[:1] in (b" ", b"+", b"-")
        assert (taken, put) == (count, new_count)
    return b"".join(result + lines[at:])


def difference(source: Program, result: Program) -> bytes:
    return b"".join(unified(source, result, "lid.nc", "LID.NC", lambda _: "why not"))


LINES = ("", "G0 X1", "G1 Y2 F3", "(BEES)", "--- G1", "+++ X", "\\ No newline", "é")
ENDS = (("\n",), ("\r\n",), ("\r",), ("\n", "\r\n"))


def history(seed: int, takers: Takers | None = None) -> tuple[Program, Program]:
    """A job, and what some steps with any edits made of it, before the eyes of `takers`."""
    some = random.Random(seed)
    ends = some.choice(ENDS)
    text = "".join(some.choice(LINES) + some.choice(ends) for _ in range(some.randrange(25)))
    source = program = Program.read((text + some.choice(("", "M30"))).encode(), "lid.nc")
    for number in range(1, some.randint(1, 4) + 1):
        edits: list[Edit] = []
        for line in range(len(program)):
            texts = some.choices(LINES, k=some.randint(1, 3))
            edits += some.choice(
                ([],) * 6
                + (
                    [before(line, *texts)],
                    [after(line, *texts)],
                    [delete(line)],
                    [replace(line, *texts)],
                    [before(line, "M8"), replace(line, *texts), after(line, "M9")],
                )
            )
        edits += [before(len(program), "M5")] * some.randint(0, 1)
        edited = program.edited(edits, Cause(f"step-{number}", number))
        if takers is not None:
            takers.headrace_step_done(program, edited)
        program = edited
    return source, program


def histories() -> st.SearchStrategy[tuple[Program, Program]]:
    return st.integers(0, 2**32).map(history)


@settings(deadline=None)
@given(histories())
def test_the_difference_applied_to_the_job_gives_the_result(
    history: tuple[Program, Program],
) -> None:
    source, result = history
    assert applied(source.to_bytes(), difference(source, result)) == result.to_bytes()


@settings(deadline=None)
@given(histories())
def test_between_changes_both_are_equal(history: tuple[Program, Program]) -> None:
    source, result = history
    old = new = 0
    for change in [*changes_between(source, result), None]:
        old_stop = len(source) if change is None else change.old_start
        new_stop = len(result) if change is None else change.new_start
        equal = [source[line].raw for line in range(old, old_stop)]
        assert equal == [result[line].raw for line in range(new, new_stop)]
        if change is not None:
            old, new = change.old_stop, change.new_stop


TOOLS = {
    "patch": ["patch", "--binary", "-s", "-p1", "-i", "lid.patch"],
    "git": ["git", "apply", "--whitespace=nowarn", "lid.patch"],
}


@pytest.mark.parametrize("tool", TOOLS)
@settings(max_examples=25, deadline=None)
@given(histories())
def test_tools_make_the_card_file_of_it(
    tmp_path_factory: pytest.TempPathFactory, tool: str, history: tuple[Program, Program]
) -> None:
    """Beside the job, which stays as it is."""
    needed_tools(tool)
    source, result = history
    patch = difference(source, result)
    if not patch:
        assert source.to_bytes() == result.to_bytes()
        return
    folder = tmp_path_factory.mktemp("patch")
    (folder / "lid.nc").write_bytes(source.to_bytes())
    (folder / "lid.patch").write_bytes(b"# a legend\n# of some lines\n" + patch)
    subprocess.run(TOOLS[tool], cwd=folder, check=True)
    if not result.to_bytes():
        return  # `patch` takes a file away that would be empty
    assert (folder / "LID.NC").read_bytes() == result.to_bytes()
    assert (folder / "lid.nc").read_bytes() == source.to_bytes()


def test_hunks_are_as_posix_shows_them() -> None:
    source = Program.read(b"1\n2\n3\n4\n5\n6\n7\n8\n9\n", "lid.nc")
    edits = [replace(0, "one"), delete(8)]
    result = source.edited(edits, Cause("count", 1))
    assert difference(source, result) == (
        b"diff --git a/lid.nc b/LID.NC\ncopy from lid.nc\ncopy to LID.NC\n"
        b"--- a/lid.nc\n+++ b/LID.NC\n"
        b"@@ -1,4 +1,4 @@ why not\n-1\n+one\n 2\n 3\n 4\n"
        b"@@ -6,4 +6,3 @@ why not\n 6\n 7\n 8\n-9\n"
    )


def test_equal_programs_have_no_difference() -> None:
    source = Program.read(LID.encode(), "lid.nc")
    assert difference(source, source) == b""
    same = source.edited([replace(1, source[1].text)], Cause("same", 1))
    assert difference(source, same) == b""


def test_a_result_of_no_job_is_a_new_file() -> None:
    source = Program.read(b"", "SETUP")
    result = source.edited([before(0, "G28")], Cause("step", 1))
    assert b"".join(unified(source, result, None, "SETUP.NC", lambda _: "home")) == (
        b"diff --git a/SETUP.NC b/SETUP.NC\nnew file mode 100644\n"
        b"--- /dev/null\n+++ b/SETUP.NC\n@@ -0,0 +1,1 @@ home\n+G28\n"
    )


NAMES = ("a lid.nc", "a lid\n.nc", 'the "lid".nc', "l\\id.nc", "lïd \t.nc", "LID.NC")


@pytest.mark.skipif(os.name == "nt", reason="no such names there")
@pytest.mark.parametrize("tool", TOOLS)
@pytest.mark.parametrize("name", NAMES)
def test_tools_find_the_job_whatever_its_name(tmp_path: Path, tool: str, name: str) -> None:
    needed_tools(tool)
    source = Program.read(b"1\n2\n", name)
    result = source.edited([replace(0, "one")], Cause("step", 1))
    patch = b"".join(unified(source, result, name, "LID.NC", lambda _: ""))
    (tmp_path / name).write_bytes(source.to_bytes())
    (tmp_path / "lid.patch").write_bytes(patch)
    subprocess.run(TOOLS[tool], cwd=tmp_path, check=True)
    assert (tmp_path / "LID.NC").read_bytes() == result.to_bytes()
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted({name, "LID.NC", "lid.patch"})


def test_every_changed_line_has_its_cause() -> None:
    """The steps here are known, so the table is checked against them line by line."""
    source = Program.read(b"a\nb\nc\nd\ne\n", "lid.nc")
    causes = tuple(Cause(name, n) for n, name in enumerate(("first", "second", "third"), 1))
    takers = Takers()
    program = source
    for cause, edits in zip(
        causes,
        ([before(0, "new"), replace(1, "B")], [delete(3), replace(2, "BB")], [delete(3)]),
        strict=True,
    ):
        edited = program.edited(edits, cause)
        takers.headrace_step_done(program, edited)
        program = edited
    assert program.to_bytes() == b"new\na\nBB\ne\n"
    found = [
        (row.sign, row.line, row.text, row.cause.step if row.cause else None)
        for change in changes_between(source, program)
        for row in rows(Ranges(source), Ranges(program), change, takers, causes)
    ]
    assert found == [
        ("+", 1, "new", "first"),
        ("-", 2, "b", "second"),
        ("-", 3, "c", "second"),
        ("-", 4, "d", "third"),
        ("+", 3, "BB", "second"),
    ]


@settings(deadline=None)
@given(st.integers(0, 2**32))
def test_no_changed_line_is_without_a_cause(seed: int) -> None:
    takers = Takers()
    source, result = history(seed, takers)
    steps = tuple(Cause(f"step-{number}", number) for number in range(1, 5))
    for change in changes_between(source, result):
        for row in rows(Ranges(source), Ranges(result), change, takers, steps):
            assert row.cause is not None


def test_a_long_job_with_few_changes() -> None:
    source = Program.read(b"G1 X1.25 Y3.5\n" * 1_000_000, "relief.nc")
    chosen = random.Random(7).sample(range(1_000_000), 1000)
    result = source.edited([replace(line, "G1 X2") for line in chosen], Cause("step", 1))
    patch = difference(source, result)
    assert patch.count(b"\n-G1") == 1000


def test_a_long_job_that_changes_on_every_line() -> None:
    source = Program.read(b"G1 X1.25 Y3.5\n" * 60_000, "relief.nc")
    edits = [replace(line, f"N{line} G1") for line in range(60_000)]
    result = source.edited(edits, Cause("step", 1))
    patch = difference(source, result)
    assert applied(source.to_bytes(), patch) == result.to_bytes()


@pytest.mark.parametrize("tool", TOOLS)
def test_what_plan_prints_is_a_patch_that_makes_the_card_file(tmp_path: Path, tool: str) -> None:
    needed_tools(tool)
    hive = set_up(tmp_path / "hive")
    source = hive.job("lid.nc")
    planned = hive.run("plan", hive.recipe, "jobs/lid.nc")
    assert planned.returncode == 0
    assert hive.on_card() == {}
    hive.run("prepare", hive.recipe, source, "--card", hive.card)
    assert applied(source.read_bytes(), planned.stdout) == hive.on_card()["LID.NC"]
    (hive.root / "lid.patch").write_bytes(planned.stdout)
    subprocess.run(TOOLS[tool], cwd=hive.root, check=True)
    assert (hive.root / "LID.NC").read_bytes() == hive.on_card()["LID.NC"]
