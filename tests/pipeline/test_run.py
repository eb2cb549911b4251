"""One job through a plan: what is judged, what refuses, what a step did, and card files."""

from __future__ import annotations

from dataclasses import replace as replaced
from pathlib import Path
from typing import Any

import pytest
from workshop import LID, REFUSED, Workshop, set_up

from headrace import (
    Dialect,
    EventKind,
    Facet,
    Finding,
    JobRefused,
    Part,
    PluginError,
    Severity,
    Transform,
    Use,
    after,
    before,
    delete,
    hookimpl,
    replace,
    rewrite,
    transform,
)
from headrace.batch.engines.kit import with_python_files
from headrace.intake import start_state
from headrace.outcome import Outcome
from headrace.plugins.registry import Registry, load_registry
from headrace.recipe import Plan, load_plan
from headrace.run import prepare_card_file, prepare_job


def made(
    *edits: Any, changes: Any = tuple(Facet), adds_motion: bool = False, name: str = "step"
) -> Transform:
    """A transform that gives these edits, or does what they do."""

    @transform(name, changes=changes, adds_motion=adds_motion)
    def step(job: Any) -> Any:
        """Do it."""
        for edit in edits:
            yield edit(job) if callable(edit) else edit

    return step


class Bench:
    """A plan whose steps are made for one test."""

    def __init__(self, root: Path, *steps: Any, extra: str = "") -> None:
        self.shop: Workshop = set_up(root, [step.name for step in steps] or ["heading"])
        recipe = self.shop.recipe.read_text().replace("assume: {units: mm}", extra)
        self.shop.recipe.write_text(recipe)
        installed = load_registry()

        class Offer:
            @hookimpl
            def headrace_transforms(self) -> Any:
                return steps

        installed.manager.register(Offer(), "test")
        self.plan: Plan = load_plan(self.shop.recipe, installed)
        self.registry: Registry = with_python_files(installed, self.plan)

    def run(self, text: str = LID, name: str = "lid.nc") -> Outcome:
        return prepare_job(name, text.encode(), self.plan, self.registry)


def names(findings: tuple[Finding, ...]) -> list[str]:
    return [finding.name for finding in findings]


def test_a_job_through_its_steps(tmp_path: Path) -> None:
    bench = Bench(tmp_path / "hive", made(before(0, "(LIDS)"), replace(1, "G21 G90", "G94 F900")))
    outcome = bench.run()

    assert not outcome.refused
    assert outcome.result is not None
    assert (
        outcome.result.to_bytes()
        == LID.replace(
            "(hive lid)\nG21 G90 G94\n", "(LIDS)\n(hive lid)\nG21 G90\nG94 F900\n"
        ).encode()
    )
    assert outcome.source.to_bytes() == LID.encode()
    assert [(s.name, s.number, s.added, s.touched) for s in outcome.steps] == [("step", 1, 1, 1)]
    assert outcome.findings == ()
    assert outcome.job is not None
    assert outcome.job.program is outcome.result


@pytest.mark.parametrize(
    ("edits", "added", "touched"),
    [
        ([], 0, 0),
        ([before(0, "(a)", "(b)", "(c)")], 3, 0),
        ([before(0, "(a)", "(b)"), delete(3), delete(0)], 2, 2),
        ([replace(0, "(a)", "(b)", "(c)"), after(0, "(d)")], 1, 1),
        ([rewrite(0, 4, b"(a)\nG21 G90 G94\nM3 S18000\n\n")], 0, 1),
        ([delete(0), replace(1, "G21 G90 G94 "), replace(3, "(blank)")], 0, 3),
    ],
)
def test_what_a_step_did_in_numbers(
    tmp_path: Path, edits: list[Any], added: int, touched: int
) -> None:
    outcome = Bench(tmp_path / "hive", made(*edits)).run()

    assert outcome.result is not None, outcome.findings
    assert [(s.added, s.touched) for s in outcome.steps] == [(added, touched)]


def test_steps_count_their_own_lines_only(tmp_path: Path) -> None:
    first = made(replace(0, "(a)", "(b)"), before(3, "(c)"), name="first")
    second = made(replace(1, "(B)"), delete(4), name="second")
    outcome = Bench(tmp_path / "hive", first, second).run()

    assert [(r.added, r.touched) for r in outcome.steps] == [(1, 1), (0, 2)]


def test_a_job_that_is_refused_runs_no_step(tmp_path: Path) -> None:
    ran: list[object] = []
    step = made(lambda job: ran.append(job) or before(0, "(x)"))
    outcome = Bench(tmp_path / "hive", step).run(REFUSED)

    assert outcome.refused
    assert (outcome.steps, outcome.job, ran) == ((), None, [])
    assert names(outcome.findings) == ["word-without-value"]


def test_the_first_refusal_ends_the_row(tmp_path: Path) -> None:
    def refuse(job: Any) -> Any:  # noqa: ARG001
        raise JobRefused(findings=[Finding.of("no-cut", "no cut")])

    bench = Bench(tmp_path / "hive", made(name="first"), made(refuse, name="second"))
    outcome = bench.run(LID.replace("M5", "M5 (open"))

    assert names(outcome.findings) == ["comment-open", "no-cut"]
    refusal = outcome.findings[-1]
    assert outcome.refused
    assert [report.name for report in outcome.steps] == ["first"]
    assert refusal.place == bench.plan.steps[1].place, "where the recipe names the step"


def test_a_broken_contract_refuses_the_job(tmp_path: Path) -> None:
    bench = Bench(tmp_path / "hive", made(replace(6, "G1 X41 F900"), changes=[Facet.COMMENTS]))
    outcome = bench.run()

    assert set(names(outcome.findings)) == {"contract-broken"}
    assert "where a move goes in X" in outcome.findings[0].what
    assert outcome.findings[0].place is not None
    assert outcome.findings[0].place.line == 7
    assert outcome.result is None


def _fails(job: Any) -> Any:  # noqa: ARG001
    raise ZeroDivisionError("stung")


@pytest.mark.parametrize(
    ("step", "said"),
    [
        (made(_fails), "step `step` failed: ZeroDivisionError: stung; it is of test"),
        (made("G0 X1"), "step `step` gave 'G0 X1', which is no edit"),
        (made(replace(99, "G0")), "an edit at line 100, which is not there"),
    ],
)
def test_a_step_that_fails_is_a_fault_of_its_plugin(tmp_path: Path, step: Any, said: str) -> None:
    bench = Bench(tmp_path / "hive", step)

    with pytest.raises(PluginError) as fault:
        bench.run()
    assert said in fault.value.findings[0].what
    place = fault.value.findings[0].place
    assert place is not None
    if "failed" in said:
        assert (place.file, place.excerpt) == (__file__, '    raise ZeroDivisionError("stung")')
    else:
        assert place == bench.plan.steps[0].place


def test_a_step_may_say_itself_that_its_plugin_is_at_fault(tmp_path: Path) -> None:
    def accuse(job: Any) -> Any:  # noqa: ARG001
        raise PluginError(findings=[Finding.of("plugin-faulty", "no table of woods")])

    with pytest.raises(PluginError, match="no table of woods"):
        Bench(tmp_path / "hive", made(accuse)).run()


def test_a_step_that_gives_nothing_at_all(tmp_path: Path) -> None:
    @transform("nothing")
    def nothing(job: Any) -> Any:
        """Give None."""

    with pytest.raises(PluginError, match="step `nothing` failed: TypeError"):
        Bench(tmp_path / "hive", nothing).run()


def test_a_watcher_that_fails_is_a_fault_of_its_plugin(tmp_path: Path) -> None:
    bench = Bench(tmp_path / "hive", made(name="first"))
    watcher = tmp_path / "watch.py"
    watcher.write_text(
        "from headrace import hookimpl\n\n@hookimpl\ndef headrace_step_done(name):\n    1 / 0\n"
    )
    bench.registry = bench.registry.with_files([watcher], [bench.plan.steps[0].place])

    with pytest.raises(PluginError, match="a watcher of step `first` failed: ZeroDivisionError"):
        bench.run()


def test_watchers_see_each_step_that_kept_its_contract(tmp_path: Path) -> None:
    bench = Bench(
        tmp_path / "hive",
        made(before(0, "(a)"), name="first"),
        made(name="second"),
        made(replace(7, "G1 X99 F900"), name="third"),
    )
    seen: list[tuple[str, int, int]] = []

    class Watcher:
        @hookimpl
        def headrace_step_done(self, name: str, before: Any, after: Any) -> None:
            seen.append((name, len(before), len(after)))

    bench.registry.manager.register(Watcher())
    length = len(LID.splitlines())

    assert bench.run().refused
    assert seen == [("first", length, length + 1), ("second", length + 1, length + 1)]


# --- the last word ----------------------------------------------------------------------------


def test_what_a_step_mends_is_not_told(tmp_path: Path) -> None:
    longer = LID.replace("G1 X40 F900", "N1234567 G1 X40 F900")
    plain = Bench(tmp_path / "a", made()).run(longer)
    mended = Bench(tmp_path / "b", made(replace(6, "G1 X40 F900"))).run(longer)

    assert names(plain.findings) == ["line-number-long"]
    assert plain.findings[0].severity is Severity.WARN
    assert not plain.refused
    assert (names(mended.findings), mended.refused) == ([], False)


def test_findings_stand_at_the_lines_of_the_job(tmp_path: Path) -> None:
    """A line is told by its number in the file that CAM wrote, not in what became of it."""
    step = made(before(0, "(a)", "(b)", "(c)"))
    outcome = Bench(tmp_path / "hive", step).run(LID.replace("M5", "M5 (open"))

    assert names(outcome.findings) == ["comment-open"]
    assert outcome.findings[0].place is not None
    assert outcome.findings[0].place.line == 9


def test_what_a_step_makes_unreadable_is_refused(tmp_path: Path) -> None:
    outcome = Bench(tmp_path / "hive", made(before(0, "G0 Q"))).run()

    assert "word-without-value" in names(outcome.findings)
    assert outcome.refused
    assert outcome.job is not None, "so that what was made can be shown"


def test_a_unit_that_is_assumed_must_be_stated(tmp_path: Path) -> None:
    """RS274/NGC 3.5.7: what is in force without a unit word hangs on what ran before."""
    job = LID.replace("G21 ", "")
    kept = Bench(tmp_path / "a", made(), extra="assume: {units: mm}").run(job)
    stated = Bench(tmp_path / "b", made(before(0, "G21")), extra="assume: {units: mm}").run(job)
    unknown = Bench(tmp_path / "c", made()).run(job)

    assert (names(kept.findings), kept.refused) == (["units-not-stated"], True)
    assert (names(stated.findings), stated.refused) == ([], False)
    assert (names(unknown.findings), unknown.refused) == (["units-not-stated"], True)
    assert "safe-start" in kept.findings[0].remedy


# --- card files without a job -----------------------------------------------------------------

CARD_FILES = """\
card-files:
  - name: FIRST
    steps: [first]
  - name: SECOND
    after: FIRST
    steps: [second]
"""


def card_files(tmp_path: Path, first: Any, second: Any) -> tuple[Outcome, Outcome]:
    bench = Bench(tmp_path / "hive", first, second, extra=CARD_FILES)
    finished: dict[str, Outcome] = {}
    for card_file in bench.plan.card_files:
        finished[card_file.name] = prepare_card_file(
            card_file, bench.plan, bench.registry, finished
        )
    return finished["FIRST"], finished["SECOND"]


def test_a_file_goes_on_where_another_ended(tmp_path: Path) -> None:
    """Zeros and modes hold; where the head stands and what a hand switched do not."""
    seen: list[Any] = []

    def look(job: Any) -> Any:
        seen.append(job.start)
        return before(0, "G0 X1")

    first = made(
        before(0, "G21 G91 G0 X5 Y5", "G92 X2", "M3 S100"),
        before(0, "M0", asks="clip-off"),
        adds_motion=True,
        name="first",
    )
    outcomes = card_files(tmp_path, first, made(look, adds_motion=True, name="second"))

    assert [outcome.refused for outcome in outcomes] == [False, False]
    start = seen[0]
    assert (start.units, start.incremental, start.ended) == ("mm", True, False)
    assert (start.spindle, start.confirmed) == (None, set())
    assert all(value != value for value in (*start.position, *start.machine))
    assert outcomes[0].job is not None
    assert outcomes[0].job.stand_alone
    assert outcomes[0].job.trace.end.spindle == "cw", "the first file's own end stays as it is"
    assert outcomes[0].job.trace.end.confirmed == {"clip-off"}
    assert outcomes[1].result is not None
    assert outcomes[1].result.to_bytes() == b"G0 X1\n"


def test_a_file_behind_one_that_was_refused(tmp_path: Path) -> None:
    def refuse(job: Any) -> Any:  # noqa: ARG001
        raise JobRefused(findings=[Finding.of("not-homed", "not homed")])

    first, second = card_files(tmp_path, made(refuse, name="first"), made(name="second"))

    assert names(first.findings) == ["not-homed"]
    assert names(second.findings) == ["card-file-unready"]
    assert second.refused
    assert second.findings[0].place is not None
    assert "SECOND goes on from FIRST" in second.findings[0].what


# --- where a job begins -----------------------------------------------------------------------


def test_what_is_known_when_a_file_begins(tmp_path: Path) -> None:
    """One machine without work offset systems, one with them: RS274/NGC 3.5.13, 3.5.18."""
    bench = Bench(tmp_path / "hive", made())
    state = start_state(bench.plan.machine, bench.plan.setup, Dialect.of(bench.plan.machine))
    assert all(value == 0 for row in state.origins for value in row)
    assert all(value != value for value in (*state.shift, *state.position))
    assert state.units is None

    recipes = Path(__file__).parents[2] / "recipes"
    plan = load_plan(recipes / "speed-floor-boards.yaml", load_registry())
    state = start_state(plan.machine, plan.setup, Dialect.of(plan.machine, plan.assumed.units))
    assert plan.machine.work_zero.systems
    assert all(value == 0 for value in state.shift)
    assert all(value != value for row in state.origins for value in row)


def test_the_state_at_a_line(tmp_path: Path) -> None:
    job = Bench(tmp_path / "hive", made()).run().job
    assert job is not None

    states = [job.state_at(line) for line in range(len(job.program) + 1)]
    assert [state.spindle for state in states] == [None] * 3 + ["cw"] * 6 + ["off"] * 2
    assert states[7].position[2] == -1
    assert states[8].position[0] == 40
    assert states[-1].ended
    assert not states[-2].ended
    assert [event.line for event in job.trace.events_of(EventKind.SPINDLE)] == [2, 8]


# --- steps that ask for steps, and that split a job -------------------------------------------


def asks_for(*uses: Any, name: str = "all-in-one") -> Transform:
    """A step that asks for others; `seen` on it are the programs that it was sent."""

    @transform(name, gives="steps")
    def step(job: Any) -> Any:
        """Ask for them."""
        seen.append(job.program.to_bytes())
        for use in uses:
            job = yield Use(*use) if isinstance(use, tuple) else use(job)
            seen.append(job.program.to_bytes())

    seen: list[bytes] = []
    return step


def test_a_step_may_ask_for_others(tmp_path: Path) -> None:
    first = made(before(0, "(FIRST)"), changes=[Facet.COMMENTS], name="first")
    second = made(before(0, "(SECOND)"), changes=[Facet.COMMENTS], name="second")
    bench = Bench(tmp_path, asks_for(("first",), ("second",)), first, second)
    plan = replaced(bench.plan, steps=bench.plan.steps[:1])

    outcome = prepare_job("lid.nc", LID.encode(), plan, bench.registry)

    assert outcome.result is not None
    assert outcome.result.to_bytes().startswith(b"(SECOND)\n(FIRST)\n")
    assert [(r.name, r.asked_by, r.number) for r in outcome.steps] == [
        ("first", "all-in-one", 1),
        ("second", "all-in-one", 1),
    ]
    assert outcome.result[0].cause is not None
    assert outcome.result[0].cause.step == "all-in-one: second"


def test_a_step_that_asks_sees_what_the_others_did(tmp_path: Path) -> None:
    first = made(before(0, "(FIRST)"), changes=[Facet.COMMENTS], name="first")

    def next_by_what_is_there(job: Any) -> Use:
        assert job.program.to_bytes().startswith(b"(FIRST)")
        return Use("first")

    bench = Bench(tmp_path, asks_for(("first",), next_by_what_is_there), first)
    plan = replaced(bench.plan, steps=bench.plan.steps[:1])

    outcome = prepare_job("lid.nc", LID.encode(), plan, bench.registry)

    assert outcome.result is not None
    assert outcome.result.to_bytes().startswith(b"(FIRST)\n(FIRST)\n")


def test_what_is_asked_for_keeps_its_own_contract(tmp_path: Path) -> None:
    crawl = made(replace(3, "G1 X1 F100"), changes=[Facet.SPELLING], name="crawl")
    bench = Bench(tmp_path, asks_for(("crawl",)), crawl)

    outcome = bench.run()

    assert names(outcome.findings) == ["contract-broken"]
    assert "`all-in-one: crawl`" in outcome.findings[0].what


def test_a_step_that_is_asked_for_and_fails_ends_nothing_in_silence(tmp_path: Path) -> None:
    """Also by the one exception that ends a generator."""

    def empty(job: Any) -> Any:  # noqa: ARG001
        return next(iter(()))

    late = made(before(0, "(LATE)"), changes=[Facet.COMMENTS], name="late")

    @transform("early", changes=[Facet.COMMENTS], within=empty)
    def early(job: Any) -> Any:  # noqa: ARG001
        """Do nothing."""
        return ()

    bench = Bench(tmp_path, asks_for(("early",), ("late",)), early, late)

    with pytest.raises(PluginError, match="StopIteration"):
        bench.run()


def test_asking_for_what_is_no_transform(tmp_path: Path) -> None:
    bench = Bench(tmp_path, asks_for(("nothing-like-it",)))

    with pytest.raises(PluginError, match="no transform"):
        bench.run()


TWO = (
    "G21 G90 G94\nM3 S18000\nG0 X0 Y0 Z5\nG1 Z-1 F300\nG1 X9\nG0 Z5\n"
    "G0 X50\nG1 Z-1\nG1 X60\nG0 Z5\nM30\n"
)


def splitting(*parts: Part) -> Transform:
    @transform(
        "halves",
        gives="parts",
        changes=[Facet.SPELLING, Facet.STOPS, Facet.SPINDLE],
        adds_motion=True,
    )
    def step(job: Any) -> Any:  # noqa: ARG001
        """Make two of one."""
        return parts

    return step


OPENING = ("G21 G90 G94", "M3 S18000", "F300", "G0 X9 Y0", "G0 Z5")


def halves(tmp_path: Path, *parts: Part) -> list[Outcome]:
    end = made(lambda job: before(job.landmarks.end, "M30"), name="end")
    bench = Bench(tmp_path, splitting(*parts), end)
    return [prepare_job("two.nc", TWO.encode(), bench.plan, bench.registry, n) for n in (0, 1)]


def test_each_part_is_proved_against_its_lines(tmp_path: Path) -> None:
    first, second = halves(tmp_path, Part(0, 6), Part(6, 11, opening=OPENING))

    assert first.proof is not None
    assert second.proof is not None
    assert (first.proof.moves, second.proof.moves) == (4, 4)
    assert first.result is not None
    assert first.result.to_bytes() == "".join(TWO.splitlines(keepends=True)[:6]).encode() + b"M30\n"
    assert second.result is not None
    assert second.result.to_bytes().startswith(
        b"G21 G90 G94\nM3 S18000\nF300\nG0 X9 Y0\nG0 Z5\nG0 X50\n"
    )


@pytest.mark.parametrize(
    ("wrong", "what"),
    [
        (("G21 G90 G94", "M3 S18000", "F300", "G0 X9 Y1", "G0 Z5"), "where a move goes in Y"),
        (("G21 G90 G94", "M3 S18000", "F400", "G0 X9 Y0", "G0 Z5"), "the feed of a move"),
        (("G20 G90 G94", "M3 S18000", "F300", "G0 X9 Y0", "G0 Z5"), "where a move goes"),
        (("G21 G90 G94", "M3 S18000", "F300", "G1 X9 Y0", "G0 Z5"), "an added move cuts"),
    ],
)
def test_an_opening_that_does_not_restore(
    tmp_path: Path, wrong: tuple[str, ...], what: str
) -> None:
    _, second = halves(tmp_path, Part(0, 6), Part(6, 11, opening=wrong))

    assert names(second.findings) == ["contract-broken"]
    assert what in second.findings[0].what


def test_later_steps_insert_before_the_opening(tmp_path: Path) -> None:
    step = made(
        lambda job: before(job.landmarks.start, "(HERE)"), changes=[Facet.COMMENTS], name="s"
    )
    bench = Bench(tmp_path, splitting(Part(0, 6), Part(6, 11, opening=OPENING)), step)

    second = prepare_job("two.nc", TWO.encode(), bench.plan, bench.registry, 1)

    assert second.result is not None
    assert second.result.to_bytes().startswith(b"(HERE)\nG21 G90 G94\n")


def test_a_step_never_changes_the_program_that_it_is_given(tmp_path: Path) -> None:
    """Else job and result could be changed alike, and no comparison would tell."""

    def meddle(job: Any) -> Any:
        job.program.pieces = ()
        return before(0, "(LIDS)")

    with pytest.raises(PluginError, match="program that it was given to read"):
        Bench(tmp_path / "hive", made(meddle)).run()


def test_a_step_that_refuses_in_its_own_words(tmp_path: Path) -> None:
    def unsure(job: Any) -> Any:  # noqa: ARG001
        raise JobRefused("the wax is too soft")

    outcome = Bench(tmp_path / "hive", made(unsure)).run()

    assert names(outcome.findings) == ["step-unsure"]
    assert outcome.findings[0].what == "step `step` refuses the job: the wax is too soft"
    assert outcome.findings[0].place is not None


@pytest.mark.parametrize(
    ("gives", "given", "said"),
    [
        ("edits", None, "TypeError: it gives None: it must yield edits"),
        ("edits", "G0 X1", "it gives a value of the type str: it must yield edits"),
        ("edits", 7, "it gives a value of the type int: it must yield edits"),
        ("parts", None, "it gives None: it must return a list of parts"),
        ("parts", ["G0"], "it gives a value of the type str in its list"),
        ("steps", [], "it gives a value of the type list: it must be a generator"),
    ],
)
def test_a_step_that_gives_what_is_nothing_of_the_kind(
    tmp_path: Path, gives: str, given: Any, said: str
) -> None:
    @transform("odd", gives=gives)
    def odd(job: Any) -> Any:  # noqa: ARG001
        """Give it."""
        return given

    with pytest.raises(PluginError) as fault:
        Bench(tmp_path / "hive", odd).run()
    (finding,) = fault.value.findings
    assert said in finding.what
    assert finding.place is not None
    assert finding.place.file == __file__


def test_errors_that_are_no_exceptions_are_told_too(tmp_path: Path) -> None:
    class Smoke(BaseException):
        pass

    def fails(job: Any) -> Any:  # noqa: ARG001
        raise Smoke("out")

    with pytest.raises(PluginError, match="step `step` failed: Smoke: out"):
        Bench(tmp_path / "hive", made(fails)).run()


def test_an_interruption_is_no_fault_of_a_step(tmp_path: Path) -> None:
    def fails(job: Any) -> Any:  # noqa: ARG001
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        Bench(tmp_path / "hive", made(fails)).run()
