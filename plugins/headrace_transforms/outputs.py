"""Extraction, vacuum, air: what is wired to the machine's outputs."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import cached_property
from typing import Any

from headrace import Edit, EventKind, Facet, Job, Line, Word, before, delete, replace, transform
from headrace_transforms.framing.dwelling import dwell_lines
from headrace_transforms.framing.wired import OFF, Wired
from headrace_transforms.paths.reach import runs
from headrace_transforms.telling.refusing import place_of, refusal

_SWITCHING = r"^M(?!(30|48|49|60)$)([78]|[1-9][0-9]{1,2})$"
"""Words that may switch an output on: none that the standard has for something else."""


_STOPS = ((EventKind.SPINDLE, "off"), (EventKind.ASKS, "spindle-off"))


def _facets(_: Job, **options: Any) -> Iterable[Facet]:
    yield Facet.OUTPUTS
    if options["before_spindle"]:
        yield Facet.DWELL


@transform(
    "outputs",
    changes=[Facet.OUTPUTS, Facet.DWELL],
    options={
        "means": {
            "type": "object",
            "description": "What the job's words switch on: a word, and the name that the machine"
            " file has for the output; text. What is left out means what the machine file says.",
            "propertyNames": {"pattern": _SWITCHING},
            "additionalProperties": {"type": "string", "minLength": 1, "maxLength": 80},
            "default": {},
            "examples": [{"M7": "air blast", "M8": "extraction"}],
        },
        "drop": {
            "type": "array",
            "description": "Words that may go where the machine has no such output; text.",
            "items": {"type": "string", "pattern": "^M(7|8|9|[1-9][0-9]{1,2})$"},
            "uniqueItems": True,
            "default": [],
            "examples": [["M7"]],
        },
        "before-spindle": {
            "type": "array",
            "description": "Outputs to switch on before the spindle starts, by their names in the"
            " machine file; text.",
            "items": {"type": "string", "minLength": 1, "maxLength": 80},
            "uniqueItems": True,
            "default": [],
            "examples": [["extraction"]],
        },
        "wait": {
            "type": "number",
            "description": "From switching these on until the job goes on; s.",
            "minimum": 0,
            "maximum": 600,
            "default": 0,
            "examples": [2],
        },
        "after-spindle": {
            "type": "number",
            "description": "How long these run on behind the last stop of the spindle; s. When"
            " left out, they go off where the job says so, or at its end.",
            "minimum": 0,
            "maximum": 600,
            "examples": [10],
        },
    },
    facets=_facets,
)
def outputs(
    job: Job,
    *,
    means: dict[str, str],
    drop: list[str],
    before_spindle: list[str],
    wait: float,
    after_spindle: float | None,
) -> Iterator[Edit]:
    """Switch extraction, vacuum and air by the machine's own words for them.

    The words M7, M8 and M9 of the job become those that switch the same things here. What is still
    on where the program ends goes off before it, unless the end does that anyway, or it holds the
    sheet. Put it behind `spindle` and `park`.

        S18000 M3               ->        M64
        G1 X40 Z-2 F900                   G4 P2
        M9                                S18000 M3
        M5                                G1 X40 Z-2 F900
        M30                               M5
                                          G4 P10
                                          M65
                                          M30
    """
    wired = Wired(job, means, frozenset(drop))
    yield from _Writing(wired, tuple(before_spindle), after_spindle).edits(wait)


class _Writing:
    """Walks over the lines with M words in order, knowing what is on."""

    def __init__(self, wired: Wired, ours: tuple[str, ...], run_on: float | None) -> None:
        self.wired = wired
        self.job = wired.job
        self.ours = ours
        self.run_on = run_on if ours else None
        self.hold = self.job.machine.outputs.get(str(self.job.machine.hold_down))
        self.on: dict[str, None] = {}
        """What is switched on, in this order."""

    def edits(self, wait: float) -> Iterator[Edit]:
        """All edits, in order."""
        start = self._first_start() if self.ours else None
        for index in self.job.program.lines_with("M").tolist():
            if not runs(self.job, index):
                continue
            if start is not None and index >= start:
                yield from self._started(start, wait)
                start = None
            yield from self._line(self.job.program[index])
        if start is not None:
            yield from self._started(start, wait)
        yield from self._ended()

    # --- line by line ------------------------------------------------------------------------

    def _line(self, line: Line) -> Iterator[Edit]:
        spelling: dict[Word, str] = {}
        slash = "/" if line.scan.block_delete else ""
        for word in line.words:
            if word.letter != "M":
                continue
            if word.value is None:
                what = "this line works its M code out"
                raise refusal("numbers-not-plain", what, place=place_of(self.job.program, line))
            name = f"M{int(word.value)}"
            words = self._words(name, line)
            if not words:
                spelling[word] = ""
            elif words[0] != name:
                spelling[word] = line.text[word.start] + words[0][1:]
            if words != (name,) and self.job.trace.calls.defines(line.index):
                what = "what is on here hangs on where the subprogram is called from"
                remedy = "put the step `expand-calls` before it"
                place = place_of(self.job.program, line)
                raise refusal("numbers-not-plain", what, place=place, remedy=remedy)
            for more in words[1:]:
                yield before(line.index, slash + more)
        text = line.rewritten(spelling)
        if text != line.text:
            bare = text.strip(" \t/")
            yield replace(line.index, text) if bare else delete(line.index)

    def _words(self, name: str, line: Line) -> tuple[str, ...]:
        """What a word of the job becomes, which may be several words or none."""
        wired = self.wired
        if wired.switches(name):
            found = wired.on(name, place_of(self.job.program, line))
            if found is None:
                return ()
            self.on[wired.machine.outputs[found]] = None
            return (found,)
        things = wired.taken_back(name)
        on = [thing for thing in things if thing in self.on]
        runs_on = self.ours if self.run_on is not None and self._is_last(line) else ()
        for thing in things:
            if thing not in runs_on:
                self.on.pop(thing, None)
        if name != OFF:
            return () if things and set(things) <= set(runs_on) else (name,)
        later = set(wired.off(runs_on))
        # where nothing is on it makes sure of that, and lets no sheet go that a hand has fastened
        gone = on or [thing for thing in things if thing != self.hold]
        words = [word for word in wired.off(gone) if word not in later]
        if not words and not things and not wired.drop & {"M7", "M8", OFF}:
            return (name,)
        return tuple(sorted(words, key=lambda word: word != name))

    def _is_last(self, line: Line) -> bool:
        """Whether no cut follows."""
        return line.index > self._last_cut

    @cached_property
    def _last_cut(self) -> int:
        cuts = (block.line[block.cuts] for block in reversed(self.job.trace.blocks))
        return next((int(lines[-1]) for lines in cuts if len(lines)), -1)

    # --- before the spindle starts, and behind its last stop ---------------------------------

    def _first_start(self) -> int:
        """The line before which the spindle still stands; the job's own first one without any."""
        program = self.job.program
        for event in self.job.trace.events_of(EventKind.SPINDLE, EventKind.ASKS):
            if event.value in ("cw", "ccw"):
                return event.line
            if event.value == "spindle-on":
                line = event.line
                while line and program[line - 1].origin is None and not program[line - 1].is_code:
                    line -= 1  # the text of the pause
                return line
        return self.job.landmarks.start

    def _started(self, start: int, wait: float) -> Iterator[Edit]:
        things = [thing for thing in self.ours if thing not in self.on]
        words = [self.wired.wanted(thing) for thing in things]
        self.on.update(dict.fromkeys(things))
        if words:
            yield before(start, *words, *dwell_lines(self.job, wait))

    def _ended(self) -> Iterator[Edit]:
        """What is still on and the end leaves on goes off, but for what holds the sheet."""
        machine, end, hold = self.wired.machine, self.job.landmarks.end, self.hold
        left = [
            thing for thing in self.on
            if thing != hold and self.wired.word_for(thing) not in ("M7", "M8")
        ]  # fmt: skip
        rest = 0.0
        if self.run_on is not None:
            spindle = self.job.state_at(end).spindle
            if spindle in ("cw", "ccw") or (hold in self.ours and spindle != "off"):
                what = "what is to run on behind the spindle ends with it: it turns up to the end"
                remedy = "put this step behind `spindle` or `park`, which stop the spindle first"
                raise refusal("spindle-turning", what, remedy=remedy)
            least = machine.spindle.run_down if hold in self.ours else 0.0
            rest = max(self.run_on, least) - self._waited()
            left += [thing for thing in self.ours if thing not in left]
        if left:
            yield before(end, *dwell_lines(self.job, rest), *self.wired.off(left))

    def _waited(self) -> float:
        """Seconds that the job waits behind the last stop of the spindle."""
        total = 0.0
        for event in reversed(self.job.trace.events):
            if event.kind is EventKind.DWELL:
                total += float(str(event.value))
            elif (event.kind, event.value) in _STOPS:
                break
        return total
