"""Tool changes by hand, inside one file."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace as changed

from headrace import Edit, EventKind, Facet, Job, Line, replace, transform
from headrace_transforms.framing.changing import Change, called_bit, require_described
from headrace_transforms.framing.fitting import fitted as at_beginning
from headrace_transforms.framing.restoring import first_motion_stated
from headrace_transforms.framing.touching import OPTIONS, touch_of
from headrace_transforms.telling.refusing import place_of, refusal

_STOPS = (0, 1, 60)


@transform(
    "tool-change",
    changes=[
        Facet.WORK_ZERO,
        Facet.STOPS,
        Facet.SPINDLE,
        Facet.DWELL,
        Facet.SPELLING,
        Facet.COMMENTS,
    ],
    adds_motion=True,
    options={
        **OPTIONS,
        "margin": {
            "type": "number",
            "description": "Where no probe may aim below a certain number: how far above it the"
            " aim stays at least; mm.",
            "exclusiveMinimum": 0,
            "maximum": 100,
            "default": 2,
        },
        "same-tool": {
            "description": "What becomes of a call for the bit that is in already: nothing, or a"
            " change like any other.",
            "enum": ["nothing", "change"],
            "default": "nothing",
        },
    },
)
def tool_change(
    job: Job,
    *,
    gap: float,
    back_off: float,
    over_travel: float,
    retract: float,
    quick: float | None,
    slow: float | None,
    margin: float,
    same_tool: str,
) -> Iterator[Edit]:
    """Have the bit changed by hand where the job calls for another one, and touch off again.

    Lifts to the top, stops the spindle and waits until it stands, goes to the parking place, asks
    for the bit by its number, touches the plate as `touch-off` does, and goes back to where the job
    was. The bits are the set-up's `tools`. That with which the job begins is asked for before
    everything else, where the file touches off with it: the last run has left another one in. The
    job starts the spindle again by itself. A machine with a changer gets nothing.

        T2 M6         ->        G90
        S18000 M3               G53 G0 Z-3
                                M5
                                G4 P10
                                G53 G0 X650 Y2480
                                (FIT TOOL 2 UPCUT 6)
                                M0
                                G53 G0 X190 Y240
                                ... as touch-off
                                G53 G0 Z-3
                                G53 G0 X369 Y350
                                G0 Z10
                                (TOOL 2 IS IN)
                                S18000 M3
    """
    if job.machine.tool_change == "changer":
        return
    tool: object = job.trace.tool
    stated: set[int] = set()
    first = True
    for event in job.trace.events_of(EventKind.TOOL):
        was, tool = tool, event.value
        line = job.program[event.line]
        if line.asks is not None:
            continue
        number = called_bit(job, line, tool)
        if not line.has("M", 6):
            what = "the tool is changed in a subprogram that this line calls"
            remedy = "put the step `expand-calls` before it"
            place = place_of(job.program, line)
            raise refusal("change-out-of-place", what, place=place, remedy=remedy)
        if number == was and same_tool == "nothing":
            yield replace(line.index, _without_call(job, line, number, stop=_turns(job, line)))
            continue
        fitted = changed(job, setup=job.setup.with_tool(number))
        require_described(job, line, number)
        touch = touch_of(
            job.machine,
            fitted.setup,
            "tool-change",
            gap=gap,
            back_off=back_off,
            over_travel=over_travel,
            retract=retract,
            quick=quick,
            slow=slow,
        )
        if first and isinstance(was, int) and was != number:
            yield from _first_asked_for(job, line, was)
        first = False
        change = Change(job, fitted, line)
        yield from change.edits(touch, margin)
        yield replace(line.index, _without_call(job, line, number, stop=False))
        if change.state.motion in _FEEDS:
            edits = first_motion_stated(job, line.index + 1, job.landmarks.end)
            yield from (edit for edit in edits if edit.line not in stated)
            stated.update(edit.line for edit in edits)


def needs_tool_change(job: Job) -> dict[str, object] | None:
    """The options for a job that calls for bits on a machine without a changer; else None. The
    step must stand behind those that home and touch off."""
    calls = job.machine.tool_change == "by-hand" and job.landmarks.tool_changes
    return {} if calls else None


def _first_asked_for(job: Job, change: Line, number: int) -> Iterator[Edit]:
    """A pause for the bit with which the job begins, before the first line that does anything; none
    where it was touched off in another file."""
    touched = any(event.line < change.index for event in job.trace.events_of(EventKind.PROBE))
    asked = any(job.program[event.line].asks for event in job.trace.events_of(EventKind.TOOL))
    if touched and not asked:
        begin = next(line.index for line in job.program if line.is_code)
        yield from at_beginning(job, begin, number)


_FEEDS = (10, 20, 30)
"""G1, G2 and G3, which the way back would leave for G0."""


def _turns(job: Job, line: Line) -> bool:
    """Whether the spindle turns before a line that does not say itself what it does behind it: the
    call for a bit would stop it (RS274/NGC 3.6.3)."""
    return job.state_at(line.index).spindle in ("cw", "ccw") and not line.has("M", 3, 4, 5)


def _without_call(job: Job, line: Line, number: int, stop: bool) -> str:
    """The line without T and M6, which stops the spindle where M6 has done so. A comment is left of
    a bare call; where the next stop would show it as its own, a word that changes nothing."""
    calls = [word for word in line.words if word.letter == "T" or word.code == "M6"]
    spelling = dict.fromkeys(calls, "")
    if stop:
        spelling[next(word for word in calls if word.code == "M6")] = "M5"
    elif not line.scan.settings and all(w in calls or w.letter == "N" for w in line.words):
        if _shown_next(job, line):
            spelling[calls[0]] = "G91" if job.state_at(line.index).incremental else "G90"
        elif not line.comments:
            told = job.machine.comments.written(f"TOOL {number} IS IN")
            return f"{line.rewritten(spelling)} {told}".strip()
    return line.rewritten(spelling)


def _shown_next(job: Job, line: Line) -> bool:
    """Whether the next line that is not blank is a stop, which shows the comment above it."""
    behind = (job.program[at] for at in range(line.index + 1, len(job.program)))
    following = next((each for each in behind if each.text.strip()), None)
    return following is not None and following.has("M", *_STOPS, *job.dialect.stops)
