"""The proof of the whole run: its second reading is another one, agrees with the reference, raises
no alarm on the jobs of the collection, sees faults in long jobs, and never raises an exception."""

from __future__ import annotations

import ast
import math
import random
import re
from collections.abc import Iterable, Iterator
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from reference import Move, Options, run
from reference.programs import random_program

import headrace.proof.second
from headrace import Facet, before, delete, replace
from headrace.plugins import Contract
from headrace.program import Program, rewrite
from headrace.proof import RunProof, prove_run
from headrace.proof.second.bare import bare
from headrace.proof.second.follower import Dialect, Follower, lines_of
from headrace.proof.second.follower import Move as Followed

from .faults import CUTTING_VIEWS, FAULTS, Fault
from .rewrites import REWRITES, rewritten
from .sources import Source, plainly_spelt, source_of, valid
from .trial import CAUSE, DIALECT

JOBS = Path(__file__).parents[2] / "jobs"
OPTIONS = Options(centre_codes=True)
WRITING = Contract(frozenset({Facet.SPELLING, Facet.COMMENTS, Facet.LINE_NUMBERS}))
NAMES = ("rapid", "feed", "cw", "ccw", "probe", "home")


def test_second_reading_shares_nothing_with_the_first() -> None:
    """All that its modules import: the standard library, NumPy, and each other."""
    folder = Path(headrace.proof.second.__path__[0])
    allowed = {"__future__", "collections", "dataclasses", "math", "re", "typing", "warnings"}
    allowed |= {"decimal", "enum", "functools", "itertools", "numpy", "types"}
    modules = list(folder.rglob("*.py"))
    assert len(modules) > 3
    for module in modules:
        for name in _imported(module):
            inside = name == "headrace.proof.second" or name.startswith("headrace.proof.second.")
            assert inside or name.split(".")[0] in allowed, (module.name, name)


def _imported(module: Path) -> Iterator[str]:
    for node in ast.walk(ast.parse(module.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert not node.level, f"{module.name}: a relative import hides where it comes from"
            yield node.module or ""
        elif isinstance(node, ast.Name):
            assert node.id not in ("__import__", "exec", "eval"), module.name


def _job(name: str) -> Program:
    return Program.read((JOBS / name).read_bytes(), name)


def _proof(old: Program, new: Program, contract: Contract = WRITING) -> RunProof:
    return prove_run(old, [new], contract, False, DIALECT)


FILES = sorted(path.name for path in JOBS.iterdir() if path.is_file() and path.suffix != ".md")
REFUSED = sorted(f"refused/{path.name}" for path in (JOBS / "refused").iterdir())


@pytest.mark.parametrize("name", [*FILES, *REFUSED])
def test_job_is_proved_against_itself(name: str) -> None:
    """Also files of other kinds: whatever the bytes, there is a proof."""
    job = _job(name)

    assert _proof(job, job, Contract()).breach is None
    again = Program.read((JOBS / name).read_bytes(), name)
    touched = again.edited([replace(at, line.text) for at, line in enumerate(again)], CAUSE)
    assert _proof(again, touched, Contract(WRITING.facets)).breach is None


@pytest.mark.parametrize("name", FILES)
def test_job_that_is_spelt_anew_is_the_same(name: str) -> None:
    """Capitals, a line number, one blank more: on all lines that hold words and no comment."""
    job = _job(name)
    edits = []
    for at, line in enumerate(job):
        scan = line.scan
        if not line.words or scan.comments or scan.percent or scan.block_delete or scan.settings:
            continue
        number = "" if scan.number is not None else f"N{at} "
        edits.append(replace(at, number + line.text.swapcase() + " (comb)"))
    edits.append(before(0, "(hive)"))
    framed = job[0].scan.percent if len(job) else False

    assert _proof(job, job.edited(edits[:-1] if framed else edits, CAUSE)).breach is None


@pytest.mark.parametrize("name", FILES)
def test_job_with_a_lost_line_is_another(name: str) -> None:
    """Each line that moves, taken out, up to the end."""
    job = _job(name)
    follower = Follower(False, DIALECT)
    moving = []
    for at, line in enumerate(lines_of(bare(job.to_bytes()))):
        follower.line(at, line)
        if any(move.start != move.end or move.arc for move in follower.take()):
            moving.append(at)
    for at in moving[:40]:
        lost = job.edited([delete(at)], CAUSE)
        breach = _proof(job, lost, Contract(frozenset(Facet), adds_motion=True)).breach
        assert breach is not None, job[at].text


def _agrees(old: Move, new: Followed) -> bool:
    if (old.line, old.kind) != (new.line, NAMES[new.kind]):
        return False
    pairs = list(zip(old.end, new.end, strict=True))
    if old.feed is not None:
        pairs.append((old.feed, new.feed))
        pairs += [*zip(old.start, new.start, strict=True)]
    if old.centre is not None and new.arc is not None:
        near = all(
            math.isnan(b) or math.isclose(a, b, rel_tol=1e-6, abs_tol=1e-5)
            for a, b in zip((*old.centre, old.turn), new.arc, strict=False)
        )
        if not near or new.arc[3] != old.plane:
            return False
    if old.kind != "rapid":
        held = new.conditions
        if (held.spindle or "off", held.tool or 0) != (old.spindle, old.tool):
            return False
        if (held.mist, held.flood) != (old.mist, old.flood):
            return False
    return all(math.isnan(b) or math.isclose(a, b, rel_tol=1e-9, abs_tol=1e-6) for a, b in pairs)


def _compared(programs: Iterable[list[str]]) -> tuple[int, int, int, int]:
    """Moves that agree, numbers known among their ends, lines closed, lines; or AssertionError."""
    moves = known = closed = lines_seen = 0
    for seed, lines in enumerate(programs):
        result = run(lines, options=OPTIONS)
        assert result.error is None
        wanted = [m for m in result.moves if m.kind != "rapid" or m.machine_start != m.machine_end]
        follower = Follower(False, DIALECT)
        follower.at = [0.0] * 6
        shut: list[int] = []
        upto = _first_probe(result.moves)
        for at, line in enumerate(lines_of(bare("\n".join(lines).encode()))):
            follower.line(at, line)
            if at in follower.unread:
                shut.append(at)
        got = follower.take()
        closed += len(shut)
        lines_seen += len(lines)
        for old, new in _paired(wanted, got, set(shut), upto, lines):
            assert _agrees(old, new), (seed, lines[old.line], old, new)
            moves += 1
            known += sum(not math.isnan(value) for value in new.end[:3])
    return moves, known, closed, lines_seen


def _first_probe(moves: tuple[Move, ...]) -> int:
    """The line of the first probe: where it trips is known at the machine alone."""
    return next((move.line for move in moves if move.kind == "probe"), 1 << 30)


def _paired(
    wanted: list[Move], got: list[Followed], shut: set[int], upto: int, texts: list[str]
) -> Iterator[tuple[Move, Followed]]:
    """The moves of each line that was followed, one for one, those that go nowhere left out."""
    lines = sorted({move.line for move in wanted} | {move.line for move in got})
    for line in lines:
        if line in shut or line >= upto or re.search(r"(?i)g[\s0[]*(2\s*8|3\s*0)", texts[line]):
            continue  # G28 and G30 go where the machine alone knows
        old = [m for m in wanted if m.line == line]
        new = [m for m in got if m.line == line]
        if any(math.isnan(value) for move in new for value in (*move.start, *move.end)):
            continue
        new = [m for m in new if m.kind != 0 or any(map(_apart, m.start, m.end))]
        old = [m for m in old if m.kind != "rapid" or any(map(_apart, m.start, m.end))]
        assert len(old) == len(new), (texts[line], old, new)
        yield from zip(old, new, strict=True)


def _apart(a: float, b: float) -> bool:
    return abs(a - b) > 1e-9 or (math.isnan(a) != math.isnan(b))


def _generated() -> Iterator[list[str]]:
    return (random_program(random.Random(seed), 25, options=OPTIONS) for seed in range(1000))


def test_second_reading_agrees_with_the_reference_as_far_as_it_goes() -> None:
    """A thousand programs with parameters and expressions; those that hang on what the machine
    alone knows it closes, and behind them it knows only what is stated anew."""
    moves, known, closed, lines = _compared(_generated())

    print(f"{moves} moves agree, {known} places known; {closed} of {lines} lines closed")
    assert moves > 5000
    assert known > 2.9 * moves
    assert closed < 0.06 * lines


def test_second_reading_agrees_with_the_reference_without_expressions() -> None:
    """The same thousand, their values written out: hardly a line is closed."""
    moves, known, closed, lines = _compared(
        spelt for lines in _generated() if valid(spelt := plainly_spelt(lines))
    )

    print(f"{moves} moves agree, {known} places known; {closed} of {lines} lines closed")
    assert moves > 5000
    assert known > 2.9 * moves
    assert closed < 0.06 * lines


LONG_MOVES = 220


def _long(seed: int) -> Source:
    """A job with a long run of plain moves in it, arcs among them, and a pause behind it."""
    rng = random.Random(seed)
    while True:
        lines = random_program(rng, LONG_MOVES, profile="plain")[:-1]
        lines = [re.sub(r"^N\d+ | S\d+$", "", line) for line in lines if line[0] != "("]
        lines[1] = "G0 Z5"
        lines[1:1] = ["T1 M6", "M3 S18000", "M8"]
        lines += ["G0 Z5", "M0", "G1 X1 Y2 F700", "G2 X3 Y2 R1", "G1 Y9", "M30"]
        source = source_of(lines, known=False)
        if source is not None:
            return source


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.name)
def test_faults_in_long_jobs_are_seen(fault: Fault) -> None:
    """The run is read in bulk and what is alike on both sides passed over; a fault is not."""
    rng = random.Random(fault.name)
    jobs = [_long(seed) for seed in range(2)]
    seen = 0
    for _ in range(60):
        source = rng.choice(jobs)
        edits = fault.make(rng, source)
        if edits is None:
            continue
        new = source.program.edited(edits, CAUSE)
        if fault.view(source, new) not in CUTTING_VIEWS:
            continue
        assert _proof(source.program, new, fault.contract).breach is not None, edits
        seen += 1
        if seen == 12:
            break


@pytest.mark.parametrize("name", REWRITES)
def test_rewritten_long_jobs_pass(name: str) -> None:
    made = rewritten(REWRITES[name], random.Random(name), _long(3))
    if made is not None:
        new, contract, _ = made
        proof = _proof(_long(3).program, new, contract)
        assert proof.breach is None, proof.breach


@pytest.mark.parametrize("at", [0, 5, 100, 200])
def test_stretch_rewritten_as_a_whole_is_compared(at: int) -> None:
    """One number among the lines of a rewritten stretch."""
    source = _long(5)
    lines = list(source.lines)
    same = "".join(line.lower() + "\n" for line in lines).encode()
    fine = source.program.edited([rewrite(0, len(lines), same)], CAUSE)
    assert _proof(source.program, fine).breach is None
    line = next(n for n in range(at, len(lines)) if re.search(r"X-?\d+\.\d\d\d", lines[n]))
    lines[line] = re.sub(
        r"(X-?\d+\.\d\d)(\d)", lambda m: m[1] + str((int(m[2]) + 1) % 10), lines[line]
    )
    data = "".join(text + "\n" for text in lines).encode()

    spoilt = source.program.edited([rewrite(0, len(lines), data)], CAUSE)

    assert _proof(source.program, spoilt).breach is not None


_FRAGMENTS = st.lists(
    st.sampled_from(
        [*"GMXYZIJKRFSTPQLNABCH%/();.-+#[]=*\t\r\n \x00\xff", "G1 ", "X5", "G2 X1 Y1 I1", "M30\n",
         "G81 Z-1 R1\n", "G91", "G20\n", "(", "N9", "1e5", "..", "--", "F100\n", "\r\n", "L999999"]
    ),
    max_size=60,
).map(lambda parts: "".join(parts).encode("latin-1"))  # fmt: skip


@given(
    st.one_of(st.binary(max_size=200), _FRAGMENTS), st.one_of(st.binary(max_size=60), _FRAGMENTS)
)
@settings(max_examples=600, deadline=None)
def test_whatever_the_bytes_there_is_a_verdict(old: bytes, added: bytes) -> None:
    source = Program.read(old)
    text = added.decode("latin-1").replace("\r", "").replace("\n", "")
    edits = [before(len(source) // 2, text)]
    if len(source):
        edits.append(replace(len(source) - 1, text))
    changed = source.edited(edits, CAUSE)

    for contract in (Contract(), Contract(frozenset(Facet), True, None, 0.01)):
        prove_run(source, [changed], contract, True, Dialect({8: "fan"}, 280))
        assert prove_run(source, [source], contract, False, DIALECT).breach is None
    many = Program.read(old * 40)
    prove_run(many, [many.edited([before(0, text)], CAUSE)], Contract(), False, DIALECT)


def test_numbers_as_long_as_they_like_make_no_fault() -> None:
    huge = "9" * 400
    lines = [f"G1 X{huge} F{huge}", f"G2 X1 Y1 R{huge}", f"G{huge} X1", f"M{huge}", f"T{huge} M6"]
    lines += [f"G81 X1 Z-1 R1 L{huge}"[:40], f"N{huge} X{huge}.{huge}", f"G4 P{huge}"]
    for line in lines:
        for count in (1, 300):
            job = Program.read(f"G21 G90\nG1 X0 F100\n{(line + chr(10)) * count}M30\n".encode())
            prove_run(job, [job], Contract(), False, DIALECT)
            other = job.edited([replace(2, line + " ")], CAUSE)
            prove_run(job, [other], WRITING, False, DIALECT)


def test_count_of_unread_lines_is_told() -> None:
    """What a probe has found is beyond the second reading, and so is what is worked out from it."""
    job = Program.read(b"G21 G90 F600\n#1=[#5063+5]\nG1 X[#1*2]\nG1 X7\nM30\n")

    assert _proof(job, job).unread == 2


def test_no_lines_make_no_breach() -> None:
    empty = Program.read(b"")

    proof = _proof(empty, empty)

    assert (proof.breach, proof.moves, proof.unread) == (None, 0, 0)
    np.testing.assert_equal(proof.deviation, 0.0)
