"""What holds the sheet down: an output that may not go off before the spindle stands."""

from __future__ import annotations

from collections.abc import Iterator

from headrace.findings import Finding, Severity
from headrace.machine import unknown
from headrace.rehearsal.order.standstill import still_turning
from headrace.rehearsal.order.watch import Watch

COOLANTS = ("M7", "M8")
"""Words that M9, and the end of a program, take back (RS274/NGC 3.6.4, 3.6.1)."""

Wet = tuple[bool, bool]
"""Whether M7 and M8 are on."""


def watered(watch: Watch, line: int, before: Wet, after: Wet) -> Iterator[Finding]:
    """M7 and M8 were so, and are now so."""
    hold = watch.job.machine.hold_down
    if hold in COOLANTS:
        at = COOLANTS.index(hold)
        if before[at] and not after[at]:
            yield from _let_go(watch, line)
        elif after[at]:
            watch.now.held = True
    elif hold is None:
        yield from _let_go_perhaps(watch, line, before, after)


def switched_on(watch: Watch, what: object) -> None:
    """An output was switched on, by the name that it has in the description."""
    hold = watch.job.machine.hold_down
    if hold is not None and what == watch.job.machine.outputs.get(hold):
        watch.now.held = True


def switched_off(watch: Watch, line: int, what: object) -> Iterator[Finding]:
    """An output was switched off by a word of its own. Mist and flood are watched elsewhere."""
    hold = watch.job.machine.hold_down
    if hold not in (None, *COOLANTS) and what == watch.job.machine.outputs.get(str(hold)):
        yield from _let_go(watch, line)


def held(watch: Watch, first: int, last: int) -> Iterator[Finding]:
    """A stretch of moves cuts only while the sheet is held, where a word has let it go."""
    if watch.now.held is not False:
        return
    cut = watch.course.first_cut(first, last)
    if cut is not None and cut.certain:
        what = "a cut behind the word that lets the sheet go"
        remedy = f"switch it on again ({watch.job.machine.hold_down}) before the cut"
        yield Finding.of("sheet-let-go", what, watch.course.place(cut.move), remedy=remedy)


def _let_go(watch: Watch, line: int) -> Iterator[Finding]:
    watch.now.held = False
    turning = still_turning(watch)
    if turning:
        name = watch.job.machine.outputs.get(str(watch.job.machine.hold_down), "the hold-down")
        what = f"this switches off {name}, which holds the sheet, {turning}"
        remedy = f"put {watch.stop()} before it"
        yield Finding.of("sheet-let-go", what, watch.place(line), remedy=remedy)


def _let_go_perhaps(watch: Watch, line: int, before: Wet, after: Wet) -> Iterator[Finding]:
    """Outputs go off, and nothing tells whether one of them holds the sheet."""
    words = [word for word, was, on in zip(COOLANTS, before, after, strict=True) if was and not on]
    outputs = watch.job.machine.outputs
    wired = [outputs[word] for word in words if word in outputs]
    if wired and still_turning(watch):
        names = " or ".join(wired)
        question = f"whether {names}, switched off while the bit still turns, holds the sheet"
        yield unknown("machine.hold-down", question, watch.place(line), severity=Severity.NOTE)
