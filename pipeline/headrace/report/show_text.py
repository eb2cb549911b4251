"""What one file does, as text: plain ASCII, a fact a line, under short headings."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from headrace.counting import count_text
from headrace.machine import Span
from headrace.program.numbers import number_text
from headrace.sheet.telling import band_text, size_text, span_text, time_text

if TYPE_CHECKING:
    from headrace.batch.looking import Look
    from headrace.sheet.facts import Depth, Pause, Reach, ToolUse
    from headrace.sheet.shown import Extent, Shown
    from headrace.timing.times import Times


def show_lines(look: Look, facts: Shown | None) -> Iterator[str]:
    """The lines of one file."""
    yield f"{look.name}  {_how(look)}"
    if facts is None:
        yield "  nothing else is told of a file of another kind"
        return
    size = f"{facts.size:,} bytes"
    yield f"  {count_text(facts.lines, 'line')}, {count_text(facts.moves, 'move')}, {size}"
    for sentence in facts.modes:
        yield f"  {sentence}"
    if facts.reaches:
        yield "goes"
        yield from (f"  {line}" for reach in facts.reaches for line in _reach(reach))
    else:
        yield "goes, in its own numbers"
        yield from (f"  {_extent(extent)}" for extent in facts.extents)
    if facts.depth is not None and facts.depth.deepest is not None:
        yield f"  {_depth(facts.depth)}"
    if facts.tools:
        yield "bits"
        for tool in facts.tools:
            yield f"  {_tool(tool)}"
    yield "pauses" if facts.pauses else "pauses: none"
    for pause in facts.pauses:
        yield f"  {_pause(pause, bare=look.outcome is None)}"
    yield "time"
    for line in _times(facts.times, bare=look.outcome is None):
        yield f"  {line}"
    if facts.does:
        yield "does"
        for number, sentence in enumerate(facts.does, 1):
            yield f"  {number:>2}. {sentence}"


def _how(look: Look) -> str:
    if look.made:
        return f"as {look.plan.recipe.name} makes it of {look.source.name}"
    if look.outcome is None:
        return "as it is, read by the standard: no machine is named"
    if look.plan.alone:
        return f"as it is, on {look.plan.machine.name}"
    return f"as it comes, for {look.plan.recipe.name} refuses it"


def _extent(extent: Extent) -> str:
    if extent.moves is None:
        return f"{extent.axis}  nowhere"
    cuts = "cuts nothing" if extent.cuts is None else f"cuts {span_text(extent.cuts, extent.unit)}"
    return f"{extent.axis}  {span_text(extent.moves, extent.unit)}; {cuts}"


def _reach(reach: Reach) -> Iterator[str]:
    """Along one axis: on the sheet, and on the machine."""
    of = "the sheet's top" if reach.axis == "Z" else "the sheet's corner"
    if reach.moves is not None:
        cuts = "cuts nothing" if reach.cuts is None else f"cuts {span_text(reach.cuts)}"
        stock = "" if reach.stock is None else f"; the sheet is {span_text(reach.stock)}"
        yield f"{reach.axis}  from {of}: {span_text(reach.moves)}, {cuts}{stock}"
    else:
        yield f"{reach.axis}  from {of}: not known"
    if reach.machine is None:
        yield f"   on the machine: not known; travel is {span_text(reach.travel)}"
    else:
        spare = "" if reach.spare is None else f", {size_text(reach.spare)} to spare"
        travel = f"travel is {span_text(reach.travel)}"
        yield f"   on the machine: {span_text(reach.machine)}; {travel}{spare}"


def _depth(depth: Depth) -> str:
    assert depth.deepest is not None
    parts = [f"deepest cut {span_text(depth.deepest)} below the top of the sheet"]
    if depth.thickness is not None:
        parts.append(f"which is {span_text(depth.thickness)} thick")
    if depth.left is not None:
        parts.append(_left(depth.left))
    return ", ".join(parts)


def _left(left: Span) -> str:
    """What stays uncut: negative where the spoilboard is cut."""
    if left.most <= 0:
        return f"{span_text(Span(-left.most, -left.least))} into the spoilboard"
    if left.least >= 0:
        return f"{span_text(left)} stay uncut"
    return f"from {size_text(-left.least)} into the spoilboard to {size_text(left.most)} uncut"


def _tool(tool: ToolUse) -> str:
    kind = ", ".join([*([tool.kind] if tool.kind else []),
                      *([] if tool.diameter is None else [size_text(tool.diameter)])])  # fmt: skip
    name = "the bit in the collet" if tool.number is None else f"tool {tool.number}"
    parts = []
    if tool.speeds:
        speeds = ", ".join(number_text(speed, 1) for speed in tool.speeds)
        dial = "" if tool.dial is None else f" (dial {tool.dial})"
        parts.append(f"{speeds} rev/min{dial}")
    for span, how in ((tool.feeds, "feed"), (tool.plunges, "down"), (tool.ramps, "ramps")):
        if span is not None:
            parts.append(f"{how} {span_text(span, 'mm/min')}")
    parts.append(f"cuts {size_text(tool.cut, places=0)}")
    if tool.deepest is not None:
        parts.append(f"deepest {span_text(tool.deepest)}")
    if tool.first_line is not None:
        parts.append(f"from line {tool.first_line}")
    return f"{name}{f' ({kind})' if kind else ''}: {', '.join(parts)}"


def _pause(pause: Pause, bare: bool) -> str:
    """One pause; of a `bare` file nothing tells what a display shows."""
    after = "" if pause.after is None else f", after {time_text(pause.after)}"
    optional = ", only if the machine's switch for it is on" if pause.optional else ""
    shown = " / ".join(pause.shown)
    asks = "" if pause.asks is None else f" ({pause.asks})"
    text = "" if bare else ", which shows nothing"
    if shown:
        text = f': "{shown}"'
    return f"{pause.number} at line {pause.line}{asks}{after}{optional}{text}"


def _times(times: Times, bare: bool) -> Iterator[str]:
    if bare:
        yield f"{time_text(times.naive)} at full feeds; only a machine tells how long rapids take"
    elif times.low is None or times.high is None:
        yield f"at least {time_text(times.naive)}, every move at its full feed"
        yield "not described: how the machine gains speed and takes corners"
    else:
        sure = "by a timed run" if times.calibrated else "no run was timed yet"
        yield f"{band_text(times.low, times.high)} ({sure}), planned {time_text(times.planned)}"
        parts = [("cutting", times.cutting), ("rapids", times.rapids), ("probing", times.probing),
                 ("homing", times.homing), ("waiting", times.waiting)]  # fmt: skip
        if took := [f"{name} {time_text(s)}" for name, s in parts if s]:
            yield f"of it {', '.join(took)}"
    if times.unknown:
        yield f"not in it: {count_text(times.unknown, 'move')} whose way is not known"
    if times.pauses or times.tool_changes:
        counts = (times.pauses, "pause"), (times.tool_changes, "tool change")
        said = " and ".join(count_text(number, noun) for number, noun in counts if number)
        yield f"not in it: how long somebody takes at {said}"
