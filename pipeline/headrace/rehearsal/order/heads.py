"""Several heads on one gantry: they change places lifted, and each bit must cut with the zero of
the head that holds it."""

from __future__ import annotations

from collections.abc import Iterator
from math import isnan

from headrace.findings import Finding
from headrace.job import Job
from headrace.language import EventKind
from headrace.language.modal import SYSTEMS
from headrace.rehearsal.lengths import NEAR, mm

_MOST = 50
"""So many changes of heads are looked at."""


def _unlifted(job: Job) -> Iterator[Finding]:
    """The first change of heads that does not come at the upper end of Z, or as high as parked."""
    axis = job.machine.axes["z"]
    enough = min(axis.high - job.machine.margin, job.machine.park.get("z", axis.high))
    changes = [
        event.line
        for event in job.trace.events_of(EventKind.TOOL)
        if job.program[event.line].asks is None and not job.program[event.line].has("M", 6)
    ]
    for line in changes[:_MOST]:
        state = job.state_at(line)
        height = state.placed.get(2, state.machine[2])
        if not height >= enough - NEAR:
            where = (
                "at an unknown height" if isnan(height) else f"{mm(axis.high - height)} below it"
            )
            what = f"the heads change places before Z is at its upper end: {where}"
            yield Finding.of("heads-unlifted", what, job.program.place(line))
            return


def head_findings(job: Job) -> Iterator[Finding]:
    """A change of heads at the wrong height; the first cut in the system of another head, or in one
    whose Z zero this file has not found though it has found another head's."""
    machine = job.machine
    yield from _unlifted(job)
    systems = [SYSTEMS[round(float(word[1:]) * 10)] for word in machine.work_zero.systems]
    names = dict(zip(systems, machine.work_zero.systems, strict=True))
    found = [
        (event.moves, event.value[1])
        for event in job.trace.zeros("Z")
        if isinstance(event.value, tuple) and event.value[0] == "origin"
    ]
    moves = 0
    for block in job.trace.blocks:
        setting, begun = block.setting, moves
        moves += len(block)
        cuts = block.line[block.cuts]
        own = cuts[job.program.own(cuts)]
        if not len(own):
            continue
        head = machine.head_of(setting.tool)
        mine = systems[0] if head is None else SYSTEMS[round(float(head.system[1:]) * 10)]
        place, bit = job.program.place(int(own[0])), f"tool {setting.tool}"
        if setting.system != mine:
            there = names.get(setting.system, f"system {setting.system}")
            what = f"{bit} is in the head that counts in {names[mine]}, and this cut is in {there}"
            yield Finding.of("head-elsewhere", what, place)
            return
        before = {system for at, system in found if at <= begun + len(block)}
        if before and mine not in before:
            what = f"{bit} cuts in {names[mine]}, whose Z zero this file has not found"
            remedy = "touch off with that head before it cuts"
            yield Finding.of("tool-without-zero", what, place, remedy=remedy)
            return
