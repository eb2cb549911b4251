"""The words that give places their numbers, as the machine knows them."""

from __future__ import annotations

from math import isnan

from headrace import EventKind, Job, Machine, State, needed
from headrace_transforms.framing.travel import index
from headrace_transforms.numbers.lengths import Units
from headrace_transforms.numbers.systems import SYSTEMS
from headrace_transforms.telling.refusing import refusal

PARAMETER = 100
"""Holds the Z origin between two touches, where the word cannot name the place itself."""
_UNDOES = {921: "G92.1", 922: "G92.2", 923: "G92.3"}
"""Words that put another shift in the place of the last G92 (RS274/NGC 3.5.18), by their codes."""


def system_of(machine: Machine, purpose: str) -> tuple[str, int]:
    """The first work offset system that the machine knows: its word and its number."""
    systems = machine.work_zero.systems
    word = needed(systems[0] if systems else None, "machine.work-zero.systems", purpose)
    return word, SYSTEMS.index(word) + 1


def selecting(job: Job, state: State, purpose: str) -> tuple[str, ...]:
    """The line that selects the system to be set, where that is not already stated."""
    if job.machine.work_zero.word == "G92":
        return ()
    word, number = system_of(job.machine, purpose)
    stated = 12 in state.stated and state.system == number
    return () if stated else (word,)


def require_kept(job: Job, purpose: str) -> None:
    """JobRefused for a file without a job whose zero would be gone at its end."""
    zero = job.machine.work_zero
    if job.stand_alone and zero.word == "G92" and zero.kept_after_end is not True:
        raise refusal("zero-not-kept", f"{purpose} in a file of its own: G92 ends with that file")


def require_lasting(job: Job, line: int, purpose: str, *, touched: bool = False) -> None:
    """JobRefused where the job itself does away, behind `line`, with the numbers that G92 gives
    there: by G92.1 to G92.3, or where they are `touched` ones by G10 for the system in force,
    behind which nothing tells any more what the place of the touch reads."""
    if job.machine.work_zero.word != "G92":
        return
    for event in job.trace.events_of(EventKind.ZERO):
        if event.line < line or job.program[event.line].origin is None:
            continue
        how, which = event.value[:2] if isinstance(event.value, tuple) else ("", 0)
        word = _UNDOES.get(which) if how == "shift" else None
        if touched and how == "origin" and which == job.state_at(event.line).system:
            word = "G10"
        if word is not None:
            what = f"{word} does away with the numbers that {purpose} gives by G92"
            place = job.program.place(event.line)
            remedy = f"export the job without {word}"
            raise refusal("job-moves-zero", what, place=place, remedy=remedy)


def zero_here(
    job: Job, state: State, units: Units, numbers: dict[str, float], purpose: str
) -> tuple[str, ...]:
    """Lines that make the place where the machine stands (known in machine coordinates) read
    `numbers` (mm)."""
    word = job.machine.work_zero.word
    units.require_fine(numbers, purpose)
    if word == "G92":
        return (f"G92 {units.words(numbers)}",)
    _, number = system_of(job.machine, purpose)
    if word == "G10 L20":
        return (f"G10 L20 P{number} {units.words(numbers)}",)
    # 3.2.2: machine coordinate = number + origin + shift, hence origin = machine - shift - number
    origins = {
        axis: state.machine[index(axis)] - state.shift[index(axis)] - wanted
        for axis, wanted in numbers.items()
    }
    if any(isnan(origin) for origin in origins.values()):
        raise refusal("not-homed", f"{purpose} cannot tell where the machine stands")
    units.require_fine(origins, purpose)
    return (f"G10 L2 P{number} {units.words(origins)}",)


def zero_by_touch(
    job: Job, units: Units, plate: float, first: bool, purpose: str
) -> tuple[str, ...]:
    """Lines behind a touch that make the place of the touch read the plate's thickness (mm).

    G92 and G10 L20 speak of where the machine stands. G10 L2 must be given the origin, which only
    the controller can work out. With p the place of the touch in the numbers in force (#5063,
    RS274/NGC 3.5.9.1), o the Z origin in force and no shift, the touch is at p + o in machine
    coordinates. It shall read the plate's thickness t, so the new origin is o' = p + o - t. At the
    first touch o = 0 (the numbers were made those of the machine before); at the second o is what
    was worked out at the first, and kept in a parameter.
    """
    word = job.machine.work_zero.word
    units.require_fine({"Z": plate}, purpose)
    thickness = units.text(plate)
    if word == "G92":
        return (f"G92 Z{thickness}",)
    _, number = system_of(job.machine, purpose)
    if word == "G10 L20":
        return (f"G10 L20 P{number} Z{thickness}",)
    if not job.machine.parameters:
        raise refusal(
            "touch-without-parameters",
            f"{purpose} needs G92, G10 L20, or G10 L2 with parameters to set Z from a touch",
        )
    kept = f"#{PARAMETER}"
    origin = f"[#5063-{thickness}]" if first else f"[{kept}+#5063-{thickness}]"
    return (f"{kept}={origin}", f"G10 L2 P{number} Z{kept}")
