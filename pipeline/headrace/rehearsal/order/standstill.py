"""The spindle at rest, where a hand comes near it or the sheet is let go."""

from __future__ import annotations

from collections.abc import Iterator

from headrace.findings import Finding
from headrace.rehearsal.lengths import NEAR
from headrace.rehearsal.order.watch import Watch, seconds_text


def standstill(watch: Watch, line: int, what: str, certain: bool = False) -> Iterator[Finding]:
    """The spindle must stand still as `what` happens. With `certain` only that is told which is."""
    spindle, place = watch.now.spindle, watch.place(line)
    run_down = watch.job.machine.spindle.run_down
    if watch.turns:
        told = f"{what} while the spindle turns"
        remedy = f"put {watch.stop()} before it"
        yield Finding.of("hand-before-standstill", told, place, remedy=remedy)
    elif spindle.way is None and not certain and not (watch.by_hand and watch.now.halt):
        asked = "nobody has been asked to switch the spindle off"
        stopped = "nothing in the file has stopped the spindle"
        told = f"{what}, and {asked if watch.by_hand else stopped}"
        remedy = f"put {watch.stop()} before it"
        yield Finding.of("standstill-unsure", told, place, remedy=remedy)
    elif spindle.at_rest and spindle.waited < run_down - NEAR:
        if spindle.turned:
            yield _running_down(watch, line, what, spindle.waited)
        elif not certain:
            waited = seconds_text(spindle.waited)
            told = f"{what} {waited} s after an M5 that may have stopped the spindle"
            remedy = f"wait {seconds_text(run_down)} s behind it: {watch.dwell(run_down)}"
            yield Finding.of("standstill-unsure", told, place, remedy=remedy)


def standstill_at_halt(watch: Watch) -> Iterator[Finding]:
    """The last pause before a probe, at which the clip must have been put on."""
    halt, spindle = watch.now.halt, watch.now.spindle
    if halt is None or watch.by_hand or spindle.way is None:
        return
    what = "the clip is put on for the probe that follows"
    if halt.turns:
        told = f"{what} while the spindle turns"
        remedy = f"put {watch.stop()} before the pause"
        yield Finding.of("hand-before-standstill", told, watch.place(halt.line), remedy=remedy)
    elif spindle.turned and halt.waited < watch.job.machine.spindle.run_down - NEAR:
        yield _running_down(watch, halt.line, what, halt.waited)


def still_turning(watch: Watch) -> str:
    """How the spindle turns on at this moment; nothing where it stands, or nothing tells."""
    spindle, run_down = watch.now.spindle, watch.job.machine.spindle.run_down
    if watch.turns:
        return "while the spindle turns"
    if spindle.at_rest and spindle.turned and spindle.waited < run_down - NEAR:
        return _since_stop(watch, spindle.waited)
    return ""


def _running_down(watch: Watch, line: int, what: str, waited: float) -> Finding:
    run_down = watch.job.machine.spindle.run_down
    told = f"{what} {_since_stop(watch, waited)}"
    remedy = f"wait {seconds_text(run_down)} s behind the stop: {watch.dwell(run_down)}"
    return Finding.of("hand-before-standstill", told, watch.place(line), remedy=remedy)


def _since_stop(watch: Watch, waited: float) -> str:
    run_down = watch.job.machine.spindle.run_down
    return (
        f"{seconds_text(waited)} s after the spindle was stopped, and it takes"
        f" {seconds_text(run_down)} s to stand"
    )
