"""The clip, and the plate with it: on at a probe, off when the spindle starts, and no further from
where it is put on than its lead reaches."""

from __future__ import annotations

from collections.abc import Iterator

from headrace.findings import Finding, Severity
from headrace.language import Event
from headrace.machine import asking, unknown
from headrace.rehearsal.lengths import NEAR, mm
from headrace.rehearsal.order.watch import Watch


def clip_at_start(watch: Watch, line: int) -> Iterator[Finding]:
    """The spindle starts here."""
    clip = watch.now.clip
    if clip.surely_on:
        what = "the spindle starts with the clip on and the plate under the bit"
        yield Finding.of("spindle-with-clip", what, watch.place(line))
    elif clip.on is True:
        what = "cannot tell whether the clip is off and the plate away as the spindle starts"
        machine = watch.job.machine
        where = "behind its word" if machine.pause.text == "same-line" else "on the line before it"
        width = machine.pause.width if machine.pause.text != "none" else machine.line_length
        text = next((text for text in asking("clip-off") if len(text) <= width), None)
        remedy = None if text is None else f"let the pause before ask ({text}), {where}"
        yield Finding.of("clip-unsettled", what, watch.place(line), remedy=remedy)


def clip_at_probe(watch: Watch, event: Event) -> Iterator[Finding]:
    """A probe. Where nobody can have put the clip on in this file, it has been on from before: that
    is dangerous for certain where the spindle has turned meanwhile."""
    clip = watch.now.clip
    if clip.surely_off:
        what = "a probe, and the clip has been taken off"
        yield Finding.of("probe-without-clip", what, watch.place(event.line))
    elif clip.on is None and watch.now.halt is None:
        what = "a probe, and nobody has been asked for the clip and the plate"
        severity = Severity.REFUSE if watch.now.spindle.turned else Severity.WARN
        yield Finding.of("probe-without-clip", what, watch.place(event.line), severity=severity)


def clip_at_end(watch: Watch, moves: int, line: int) -> Iterator[Finding]:
    """The file ends."""
    clip = watch.now.clip
    if clip.surely_on:
        yield from lead(watch, moves)
        what = "the file ends with the clip on and the plate under the bit"
        severity = Severity.REFUSE if clip.asked else Severity.WARN
        yield Finding.of("clip-left-on", what, watch.place(line), severity=severity)


def lead(watch: Watch, moves: int) -> Iterator[Finding]:
    """How far the head went to the side while the clip was on, up to so many moves."""
    clip, probe = watch.now.clip, watch.job.machine.probe
    if not clip.surely_on:
        return
    way = watch.course.sideways(clip.since, moves)
    reach = None if probe is None else probe.lead
    if way.unknown is not None or (reach is None and way.distance > NEAR):
        place = watch.course.place(way.move if way.unknown is None else way.unknown)
        far = "the way" if way.unknown is not None else f"the {mm(way.distance)} mm"
        question = f"whether the clip's lead reaches {far} that the head goes sideways"
        if reach is None:
            yield unknown("machine.probe.lead", question, place)
        else:
            told = f"cannot tell {question}: the file does not say where it comes from"
            remedy = "go there before the clip is put on"
            yield Finding.of("cannot-tell", told, place, remedy=remedy)
    elif reach is not None and way.distance > reach + NEAR:
        what = (
            f"the head goes {mm(way.distance)} mm sideways with the clip on, and its lead reaches"
            f" {mm(reach)}"
        )
        yield Finding.of("lead-too-short", what, watch.course.place(way.move))
    clip.since = moves
