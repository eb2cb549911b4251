"""The steps with which a machine begins, chosen from what its description tells."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from headrace.machine import Machine
from headrace.scaffold.lacking import lacking_words

Value = str | bool


@dataclass(frozen=True, slots=True)
class Chosen:
    """A step, why it is there, and its options."""

    name: str
    because: str
    options: Mapping[str, Value] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Choice:
    """How a machine begins: the steps that every job goes through, and those of a file of its own
    that runs before them, if there is one. `finds` tells how Z gets its zero: `probe`, `hand`
    behind that file, or `panel`, where X and Y are set by hand too. `told` is what the description
    lacks, and what follows from that."""

    finds: str
    steps: tuple[Chosen, ...]
    first_file: tuple[Chosen, ...]
    told: tuple[str, ...]


def choice_for(machine: Machine) -> Choice:
    """The steps for a described machine."""
    if machine.probe is not None:
        finds = "probe"
    elif machine.work_zero.kept_after_end is True:
        finds = "hand"
    else:
        finds = "panel"
    return Choice(
        finds=finds,
        steps=tuple(_steps(machine, finds)),
        first_file=tuple(_first_file(machine)) if finds == "hand" else (),
        told=tuple(_told(machine, finds)),
    )


def _steps(machine: Machine, finds: str) -> Iterator[Chosen]:
    lacking = list(lacking_words(machine))
    if lacking:
        yield Chosen(
            "adapt",
            f"Not read by this machine, by its description: {', '.join(lacking)}. Where a job has"
            " them it is written anew and proved; any other job stays as it is.",
        )
    yield Chosen("safe-start", "So that nothing hangs on what ran before.")
    if finds == "probe":
        yield from _to_corner(machine)
        yield from _touching(machine)
    elif finds == "hand":
        yield _asked(
            machine,
            "There is no probe, and what is set by hand only the operator knows. The bit still"
            " stands on the sheet then: raise it, for the spindle starts before the job moves.",
            "Z0 SET ON THE SHEET, BIT RAISED, ALL CLEAR?", "Z0 SET, BIT RAISED?",
            "Z0 SET, BIT UP?", "Z0, BIT UP?",
        )  # fmt: skip
    else:
        yield _asked(
            machine,
            "There is no probe, and a file cannot leave a work zero to the next one: X, Y and Z"
            " are set at the panel, before each job. Only the operator knows whether they are. The"
            " bit still stands on the sheet then: raise it, for the spindle starts before the job"
            " moves.",
            "X0 Y0 Z0 SET ON THE SHEET, BIT RAISED, ALL CLEAR?", "X0 Y0 Z0, BIT UP?",
            "ZERO SET, BIT UP?", "ZERO, BIT UP?",
        )  # fmt: skip
    if machine.spindle.control in _SPINDLES:
        yield Chosen("spindle", _SPINDLES[machine.spindle.control])
    yield Chosen("park", f"{_PARKING}{_parking(machine)}")
    if machine.comments.style != "none":
        yield Chosen("comments", "In the one way that this machine reads.", {"ascii": True})
    else:
        yield Chosen("comments", "This machine reads none.", {"keep": "none"})
    if machine.line_numbers == "required":
        yield Chosen("renumber", "This machine wants a number on every line.")
    elif machine.line_numbers == "refused":
        yield Chosen("renumber", "This machine reads no line numbers.", {"remove": True})
    yield Chosen(
        "strip", "Line ends become the machine's, whatever CAM wrote.", {"blank-lines": False}
    )


def _to_corner(machine: Machine) -> Iterator[Chosen]:
    how = (
        f"Runs to the switches by {machine.homing.word}"
        if machine.homing.by == "word"
        else "A pause asks for it, as this machine is homed at its panel"
    )
    yield Chosen("home", f"{how}: only then its numbers mean a place.")
    yield Chosen("corner-zero", "X and Y count from the sheet's lower left corner from here on.")


def _touching(machine: Machine) -> Iterator[Chosen]:
    assert machine.probe is not None
    lowest = machine.probe.lowest_target
    if lowest is not None and lowest > machine.axes["z"].low and machine.work_zero.word == "G92":
        yield Chosen(
            "rereference-z",
            f"No probe may aim below {lowest:g} here, and the plate lies lower: so Z gets a higher"
            " number first.",
        )
    yield Chosen("touch-off", "Asks for plate and clip, touches twice, sets Z0, asks them away.")


def _first_file(machine: Machine) -> Iterator[Chosen]:
    yield Chosen("safe-start", "A file without a job has no units of its own.", {"units": "mm"})
    yield from _to_corner(machine)
    yield Chosen(
        "park", f"Then the operator sets Z0 on the sheet by hand, and Z alone.{_parking(machine)}"
    )


def _asked(machine: Machine, because: str, *texts: str) -> Chosen:
    """A pause with the longest of the texts that the display shows."""
    room = machine.pause.width if machine.pause.text != "none" else len(texts[0])
    text = next((text for text in texts if len(text) <= room), texts[-1])
    return Chosen("pause", because, {"at": "start", "text": text})


_SPINDLES = {
    "by-hand": "A hand switches it: each start and stop becomes a pause. A job that cuts and names"
    " no start or no speed is refused.",
    "relay": "M3 switches it at its one speed. A job that cuts and names no start is refused.",
    "speed": "S sets its speed. A job that cuts and names no start or no speed is refused.",
}


_PARKING = "Lifts, stops what turns, and goes to the parking place where that can be told."


def _parking(machine: Machine) -> str:
    return "" if machine.park else " `park` is not described, so the head stays over the sheet."


def _told(machine: Machine, finds: str) -> Iterator[str]:
    if finds == "probe" and machine.bed is None:
        yield (
            "`bed` is not described: touch-off refuses every job until it is, for nothing else"
            " tells how low the plate lies"
        )
    if finds == "probe" and machine.axes["z"].acceleration is None:
        yield (
            "`axes.z.acceleration` is not described: touch-off refuses every job until it is, for"
            " nothing else tells how far the probe runs on"
        )
    if machine.spindle.control not in _SPINDLES:
        yield (
            "nothing turns on this machine: a job that starts a spindle is refused, and a blade"
            " whose tip trails its axis needs a step of its own"
        )
    if machine.heads:
        yield "of its heads these steps take the first one alone"
    if machine.rotary:
        yield "the axes that turn stay out of it: these steps are for a sheet on the bed"
    if finds == "hand":
        yield (
            "there is no `probe`: run SETUP first, then set Z0 on the sheet by hand, Z alone, for"
            " each bit and each sheet, with the spindle's power isolated, and raise the bit; every"
            " job asks for both before it moves"
        )
    if finds == "panel":
        kept = machine.work_zero.kept_after_end
        why = "are forgotten at the end of a file" if kept is False else "may not outlive a file"
        yield (
            f"there is no `probe`, and work zeros {why} (`work-zero: kept-after-end`): set X, Y and"
            " Z zero at the panel before each job, with the spindle's power isolated, and raise the"
            " bit; every job asks for both before it moves"
        )
