"""What to do and to see before the first file runs: only what the description tells, and what it
does not tell, by name."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from headrace.machine import Blank, Clamp, Machine, Setup, Tool
from headrace.rehearsal.lengths import mm
from headrace.sheet.facts import Check, FileFacts, ToolUse
from headrace.sheet.naming import bit_text, stick_out_text
from headrace.sheet.telling import size_text, span_text

if TYPE_CHECKING:
    from headrace.recipe import Plan

_NOT = "not described"
_BY_ITSELF = "It may start at any time from the first line on: nobody is near it."


def checks(plan: Plan, files: Sequence[FileFacts] = ()) -> tuple[Check, ...]:
    """The checks, in the order in which they are made. `files` tell which bits and speeds are
    used, and what lies on the card."""
    return tuple(_checks(plan.machine, plan.setup, files))


def _checks(machine: Machine, setup: Setup, files: Sequence[FileFacts]) -> Iterator[Check]:
    yield _power(machine)
    yield _sheet(setup)
    yield _corner(setup)
    yield _holding(machine, setup, files)
    yield _plate(setup)
    yield from _bits(setup, files)
    if machine.heads:
        yield _heads(machine)
    yield _speed(machine, files)
    yield _extraction(machine, files)
    if files:
        yield _card(machine, files)


def _power(machine: Machine) -> Check:
    homing = machine.homing
    order = ", then ".join(" and ".join(axis.upper() for axis in group) for group in homing.order)
    how = "at the panel" if homing.by == "by-hand" else f"by {homing.word}" if homing.word else _NOT
    return Check(
        "Power and home",
        "Emergency stop tried, power on, nothing in the way of the axes. Until the machine has"
        " homed it does not know where it is.",
        (("Machine", machine.name), ("Homes", f"{how}, {order}")),
    )


def _blank(blank: Blank) -> Check:
    letter = blank.axis.upper()
    text = (
        "The blank is round, tight in its chuck and held at its other end, and turns free of jaws"
        f" and bit. {letter} stands at its own zero: the job counts from there. It turns under the"
        " bit, so pictures and tables tell where the bit goes, not what it cuts around the blank."
    )
    rows = (
        ("Diameter, by the caliper", f"{mm(blank.diameter)} mm"),
        ("Length", f"{mm(blank.length)} mm"),
        ("Turned by", letter),
    )
    return Check("Blank", text, rows)


def _sheet(setup: Setup) -> Check:
    if setup.blank is not None:
        return _blank(setup.blank)
    sheet = setup.sheet
    size = _NOT if sheet.size is None else f"{mm(sheet.size[0])} x {mm(sheet.size[1])} mm"
    if sheet.thickness is None:
        text = "How thick the sheet is, nothing tells: measure it, and fill in the set-up file."
        return Check("Sheet", text, (("Size", size), ("Thickness", _NOT)))
    text = (
        "Measure this very sheet at its four corners and in the middle of each side, some way in"
        " from the edge. Every one of the numbers must lie in the span, or nothing here holds."
    )
    return Check("Sheet", text, (("Size", size), ("Thickness", span_text(sheet.thickness))))


def _corner(setup: Setup) -> Check:
    sheet = setup.sheet
    at = _NOT
    if sheet.corner is not None:
        at = f"X{mm(sheet.corner[0])} Y{mm(sheet.corner[1])} of the machine"
    if setup.blank is not None:
        text = (
            "The blank's near end lies there, its centre line along the bed. Where this page tells"
            " of a sheet, its top is the blank's highest line, and its corner this place."
        )
        rows = (("Near end, on the centre line", at), ("Z0 in the jobs", "the blank's surface"))
        return Check("Near end", text, rows)
    zero = "the top of the sheet" if sheet.zero == "top" else "the bed under the sheet"
    text = "The sheet lies flat, with its lower left corner there, and its edges along X and Y."
    return Check("Corner", text, (("Lower left corner", at), ("Z0 in the jobs", zero)))


def _holding(machine: Machine, setup: Setup, files: Sequence[FileFacts]) -> Check:
    held = tuple(_held(machine, files))
    if setup.clamps is None:
        text = "The set-up does not tell of clamps: see that none stands where the head goes."
        return Check("Holding", text, (("Clamps", _NOT), *held))
    if not setup.clamps:
        text = "The set-up has no clamps. The sheet and every part of it is held some other way."
        return Check("Holding", text, (("Clamps", "none"), *held))
    text = (
        "Each clamp stands in its place, no higher than said, and tight; nothing else stands on"
        " the sheet. Places are from the sheet's corner, heights from its top."
    )
    return Check("Clamps", text, (*map(_clamp, setup.clamps), *held, *_safe(setup)))


def _held(machine: Machine, files: Sequence[FileFacts]) -> Iterator[tuple[str, str]]:
    """What holds the sheet besides clamps."""
    word = machine.hold_down
    if word is not None and word in machine.outputs:
        name = machine.outputs[word]
        yield "Hold-down", f"{name}: {_switched(word, name, files)}"


def _switched(word: str, name: str, files: Sequence[FileFacts]) -> str:
    """Which of the files switch an output on."""
    on = [file.name for file in files if name in file.switches]
    if not files:
        return f"switched by {word}"
    if not on:
        return f"no file here has {word}, a hand switches it"
    if len(on) == len(files):
        return f"switched by {word} in each file"
    return f"switched by {word} in {', '.join(on)}; elsewhere a hand switches it"


def _safe(setup: Setup) -> Iterator[tuple[str, str]]:
    if setup.safe_height is not None:
        yield "Safe height", size_text(setup.safe_height)


def _clamp(clamp: Clamp) -> tuple[str, str]:
    x, y = (
        f"{axis}{mm(low)} to {axis}{mm(high)}"
        for axis, low, high in zip("XY", clamp.low, clamp.high, strict=True)
    )
    return clamp.name, f"{x}, {y}, {size_text(clamp.top)} high"


def _plate(setup: Setup) -> Check:
    plate = setup.plate
    thick = _NOT if plate.thickness is None else size_text(plate.thickness)
    at = _NOT
    if plate.at is not None:
        at = f"X{mm(plate.at[0])} Y{mm(plate.at[1])} from the sheet's corner"
    text = "The plate at hand is this one, clean and flat; clip and lead are whole."
    what = "Thickness, with all that is to lie under it"
    return Check("Touch plate", text, ((what, thick), ("Its middle goes to", at)))


def _bits(setup: Setup, files: Sequence[FileFacts]) -> Iterator[Check]:
    """The bits that the files use; without files, those of the set-up."""
    if not files:
        yield from (_bit(tool) for tool in setup.tools or (setup.tool,))
    found: dict[tuple[object, ...], ToolUse] = {}
    for use in (use for file in files for use in file.tools):
        found.setdefault((use.number, use.kind, use.diameter, use.stick_out), use)
    yield from map(_bit, found.values())


def _bit(bit: Tool | ToolUse) -> Check:
    values = [
        ("Stands out", _NOT if bit.stick_out is None else span_text(bit.stick_out)),
        ("Diameter", _NOT if bit.diameter is None else size_text(bit.diameter)),
        ("Cuts up to", _NOT if bit.flute is None else f"{size_text(bit.flute)} from its tip"),
    ]
    if bit.fastest is not None:
        values.append(("Marked for", f"{size_text(bit.fastest, 'rev/min')} at the most"))
    name = bit_text(bit.number, None) + (f" ({bit.kind})" if bit.kind else "")
    text = f"{name} is sharp, whole and clean, and tight in a clean collet."
    text += f" {stick_out_text(bit.stick_out)}"
    return Check("Bit" if bit.number is None else f"Tool {bit.number}", text, tuple(values))


def _heads(machine: Machine) -> Check:
    """Which bit is in which head, and how far the heads stand apart."""
    text = "Each bit is in its own head; the slides are free, nothing lies where a head comes down."
    rows = [
        (
            f"Tool {head.tool}",
            f"in the head that {head.down} lowers, X{mm(head.at[0])} Y{mm(head.at[1])} mm from the"
            f" first one; it counts in {head.system}",
        )
        for head in machine.heads
    ]
    return Check("Heads", text, (*rows, ("Any other tool", "in the first head")))


def _speed(machine: Machine, files: Sequence[FileFacts]) -> Check:
    spindle = machine.spindle
    if spindle.control == "none":
        text = (
            "Nothing turns on this machine. Where the holder is a spindle's, its power is isolated."
        )
        return Check("Spindle", text)
    span = f"{mm(spindle.slowest)} to {mm(spindle.fastest)} rev/min"
    if spindle.control == "relay":
        text = f"A relay switches the spindle, at one speed. {_BY_ITSELF}"
        return Check("Spindle", text, (("Speed", size_text(spindle.slowest, "rev/min")),))
    if spindle.control == "speed":
        text = f"The files switch the spindle and set its speed. {_BY_ITSELF}"
        return Check("Spindle", text, (("Speeds", span), *_used(files)))
    marks = ", ".join(f"{mark} = {mm(speed)}" for mark, speed in spindle.dial) or _NOT
    text = "A hand switches the spindle and sets its dial: off until a pause asks for it."
    return Check("Spindle", text, (("Speeds", span), ("Dial", marks), *_used(files)))


def _used(files: Sequence[FileFacts]) -> Iterator[tuple[str, str]]:
    """The speeds that each file uses, with the mark of the dial."""
    for file in files:
        told = [_speeds(use, len(file.tools) > 1) for use in file.tools if use.speeds]
        if told:
            yield file.name, "; ".join(told)


def _speeds(use: ToolUse, named: bool) -> str:
    bit = bit_text(use.number, None)
    speeds = f"{', '.join(map(mm, use.speeds))} rev/min"
    dial = "" if use.dial is None else f", dial mark {use.dial}"
    return f"{bit[0].lower()}{bit[1:]} at {speeds}{dial}" if named else f"{speeds}{dial}"


def _extraction(machine: Machine, files: Sequence[FileFacts]) -> Check:
    text = "Extraction is connected at the bit, its bag has room, and it runs before the bit turns."
    values = [
        (word, _switched(word, name, files))
        for word, name in machine.outputs.items()
        if "extraction" in name.lower()
    ]
    return Check("Extraction", text, tuple(values) or (("Its switch", _NOT),))


def _card(machine: Machine, files: Sequence[FileFacts]) -> Check:
    """The files as they run, and how the controller lists them."""
    order, names = machine.card.order, [file.name for file in files]
    text = "The card holds these files, and they run in this order."
    listed = {"by-name": "by name", "as-written": "as they were written"}.get(order or "", _NOT)
    by_name = sorted(names, key=str.upper)
    if order == "by-name" and by_name != names:
        listed = f"by name, which is another order: {', '.join(by_name)}"
    values = [(str(number), name) for number, name in enumerate(names, 1)]
    return Check("Card", text, (*values, ("The controller lists them", listed)))
