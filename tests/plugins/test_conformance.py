"""What every bundled transform must do, whatever it is for."""

from __future__ import annotations

import inspect
import re
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from plugins.shop import FILES, JOBS, MACHINES, TRANSFORMS, job, through

import headrace_transforms
from headrace import JobRefused, Transform
from headrace.findings.catalogue import CATALOGUE
from headrace.plugins.registry import load_registry
from headrace.program import Cause
from headrace.proof import Version, prove_step
from headrace.testing import SHOPS, conforms

SOURCES = Path(inspect.getfile(headrace_transforms)).parent
RESHAPING = frozenset(
    ("strip", "renumber", "comments", "spindle", "park", "cycles-to-moves", "expand-calls",
     "plain-numbers", "split-tools", "absolute", "adapt", "rapid-feed", "work-offset",
     "arcs-to-lines", "lines-to-arcs")
)  # fmt: skip
"""Those that take lines of the job out, or make several of one."""
NEEDED: dict[str, dict[str, Any]] = {
    "decimals": {"places": 3},
    "pause": {"at": "start", "text": "READY?"},
    "units": {"to": "inch"},
}


def require_help(error: JobRefused) -> None:
    """Every refusal says why, and what to do."""
    assert error.findings
    assert all(finding.why and finding.remedy for finding in error.findings)


@pytest.fixture(params=sorted(TRANSFORMS))
def transform(request: pytest.FixtureRequest) -> Transform:
    return TRANSFORMS[request.param]


def test_all_come_in_through_the_entry_point() -> None:
    registry = load_registry()
    assert not registry.faults
    assert set(TRANSFORMS) <= set(registry.transforms)
    assert all(registry.transforms[name].provider.startswith("headrace") for name in TRANSFORMS)


def test_a_file_has_the_name_of_its_transform() -> None:
    for name, transform in TRANSFORMS.items():
        file = Path(inspect.getfile(transform.apply))
        assert file.stem == name.replace("-", "_")


def test_is_described(transform: Transform) -> None:
    assert re.fullmatch(r"[A-Z][^\n]{10,90}\.", transform.summary)
    assert "->" in transform.doc, "a short example of before and after"
    assert len(transform.doc.splitlines()) > 4


def test_options_are_described_with_their_unit(transform: Transform) -> None:
    jsonschema.Draft202012Validator.check_schema(transform.schema())
    for name, option in transform.options.items():
        assert len(option["description"]) > 10, name
        assert "default" in option or option.get("examples"), name
        unit = r"; (mm|mm/min|s|rev/min|text|true or false)\b|without unit|enum"
        assert re.search(unit, option["description"]) or "enum" in option, name
        if "default" in option:
            jsonschema.validate(option["default"], dict(option))
        for example in option.get("examples", ()):
            jsonschema.validate(example, dict(option))


def test_declares_what_it_changes(transform: Transform) -> None:
    assert transform.may_change or transform.gives == "steps"


def test_imports_public_names_only() -> None:
    for path in SOURCES.rglob("*.py"):
        source = path.read_text("utf-8")
        for module in re.findall(r"^\s*(?:from|import) (headrace[\w.]*)", source, re.M):
            assert module == "headrace" or module.startswith("headrace_transforms"), path.name


def test_every_refusal_is_in_the_catalogue() -> None:
    for path in SOURCES.rglob("*.py"):
        for name in re.findall(r"refusal\(\s*\"([a-z0-9-]+)\"", path.read_text("utf-8")):
            kind = CATALOGUE[name]
            assert kind.why
            assert kind.remedy


@pytest.mark.parametrize("name", MACHINES)
def test_an_empty_program(transform: Transform, name: str) -> None:
    """Nothing to hold on to: either lines that stand alone, or a refusal."""
    try:
        through(job("", name, stand_alone=True), (transform.name, NEEDED.get(transform.name, {})))
    except JobRefused as error:
        require_help(error)


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_awkward_files(transform: Transform, path: Path) -> None:
    """The contract holds, the bytes of untouched lines stay, and the same input gives the same.

    Each step meets every file on one of the machines, and each file all machines, in turn.
    """
    turn = FILES.index(path) + sorted(TRANSFORMS).index(transform.name)
    name = list(MACHINES)[turn % len(MACHINES)]
    source = job(path.read_bytes(), name, assume="mm")
    moves = transform.adds_motion or transform.name == "rereference-z"
    if path.name == "incremental-throughout.nc" and moves:
        pytest.skip("hangs on where it starts: see the next check")
    options = NEEDED.get(transform.name, {})
    steps: list[Any] = [(transform.name, options)]
    if transform.name in ("corner-zero", "rereference-z", "touch-off"):
        steps.insert(0, "home")
    if transform.name == "touch-off" and name == "bench":
        steps.insert(1, "rereference-z")
    try:
        done = through(source, *steps)
    except JobRefused as error:
        require_help(error)
        return
    again = through(source, *steps)
    assert again.program.to_bytes() == done.program.to_bytes()
    own = {line.id: line for line in source.program}
    for line in done.program:
        if line.origin is not None and line.cause is None:
            assert line.raw.rstrip(b"\r\n") == own[line.id].raw.rstrip(b"\r\n")
    if transform.name not in RESHAPING:
        assert [line.id for line in done.program if line.origin is not None] == list(own)


def test_a_job_in_increments_cannot_be_brought_elsewhere() -> None:
    """Where every number counts from the start, another start is another job."""
    source = job((JOBS / "incremental-throughout.nc").read_bytes(), "relay")
    homed = through(source, "home")
    program = homed.program.edited(
        list(TRANSFORMS["corner-zero"].given(homed, {})), Cause("corner-zero", 2)
    )
    moved = homed.with_program(program)
    proof = prove_step(
        Version(homed.program, homed.trace),
        Version(program, moved.trace),
        TRANSFORMS["corner-zero"].contract(homed, {}),
    )
    assert len(proof.breaches) == 1


def test_edits_do_not_depend_on_what_ran_before(transform: Transform) -> None:
    if transform.gives != "edits":
        pytest.skip("gives no edits: see test_run.py for what it gives")
    source = job("G21\nG90\nM3 S18000\nG0 Z5\nG1 Z-1 F200\nM5\nM30\n", "relay")
    source = through(source, "home")
    options = NEEDED.get(transform.name, {})
    try:
        first = list(transform.given(source, options))
    except JobRefused:
        return
    assert [str(edit) for edit in transform.given(source, options)] == [str(e) for e in first]
    program = source.program.edited(first, Cause(transform.name, 1))
    assert program.to_bytes() == source.program.edited(first, Cause(transform.name, 1)).to_bytes()


# --- by the kit that every author has ---------------------------------------------------------

KIT_JOBS = 12
"""A few for each machine; `tests/trials/conformance.py` takes as many as anybody wants."""
AHEAD: dict[str, list[Any]] = {
    "corner-zero": ["home"],
    "rereference-z": ["home"],
    "touch-off": ["home"],
}
"""Steps without which they refuse every job."""
FIXED: dict[str, dict[str, Any]] = {
    # a machine that reads no inches is told by the rehearsal, not by the step that writes them
    "safe-start": {"units": "job"},
}
"""Options that stay as they are."""
MACHINES_OF: dict[str, tuple[str, ...]] = {"units": ("relay", "speed")}
"""Those that read inches, for the same reason."""


def by_the_kit(transform: Transform, jobs: int, seed: int = 0) -> None:
    """AssertionError where the kit finds a fault of a bundled transform."""
    name = transform.name
    conforms(
        transform,
        options=FIXED.get(name),
        ahead=AHEAD.get(name, ()),
        jobs=jobs,
        machines=MACHINES_OF.get(name, SHOPS),
        seed=seed,
    )


@pytest.mark.filterwarnings("ignore:.* was not seen")
def test_the_kit_finds_no_fault(transform: Transform) -> None:
    by_the_kit(transform, KIT_JOBS)


def test_a_second_run_is_promised_where_it_can_be() -> None:
    """Those that write words anew promise it; those that put lines in do not: run twice, a job is
    homed twice."""
    promised = {name for name, transform in TRANSFORMS.items() if transform.idempotent}

    assert {"strip", "renumber", "units", "decimals", "comments", "adapt"} <= promised
    assert not promised & {"home", "pause", "park", "touch-off", "corner-zero", "safe-start"}
