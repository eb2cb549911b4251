"""A run sheet as plain data: the same facts as on the page, without the drawings."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from headrace.report.plain import Data, content_data, file_data, finding_list, paper_data

if TYPE_CHECKING:
    from headrace.batch import Prepared
    from headrace.machine import Span
    from headrace.recipe import Plan
    from headrace.sheet.facts import Depth, FileFacts, Pause, Reach, ToolUse
    from headrace.timing.times import Times


def sheet_data(prepared: Prepared, plan: Plan, card: Path) -> Data:
    """A run that wrote the sheet of a card."""
    return {
        "format": "headrace-sheet/1",
        "exit-code": prepared.exit_code,
        "recipe": str(plan.recipe),
        "machine": plan.machine.name,
        "card": str(card),
        "sheet": paper_data(prepared.paper),
        "findings": finding_list(prepared.findings),
        "files": [file_data(file) for file in prepared.files],
        "facts": [
            facts_data(file.record.facts)
            for file in prepared.files
            if file.record.ready and file.record.facts is not None
        ],
    }


def facts_data(facts: FileFacts) -> Data:
    """What a run sheet tells of a file. Lengths in mm, feeds in mm/min, speeds in rev/min, s."""
    return {
        "name": facts.name,
        "title": facts.title,
        "source": facts.source,
        "content": content_data(facts.content),
        "does": list(facts.does),
        "modes": list(facts.modes),
        "pauses": [pause_data(pause) for pause in facts.pauses],
        "tools": [tool_data(tool) for tool in facts.tools],
        "reaches": [reach_data(reach) for reach in facts.reaches],
        "depth": depth_data(facts.depth),
        "times": times_data(facts.times),
        "switches": list(facts.switches),
    }


def times_data(times: Times) -> Data:
    """How long a file takes, in s."""
    return {
        "naive": _rounded(times.naive),
        "planned": _rounded(times.planned),
        "cutting": _rounded(times.cutting),
        "rapids": _rounded(times.rapids),
        "probing": _rounded(times.probing),
        "homing": _rounded(times.homing),
        "waiting": _rounded(times.waiting),
        "low": _rounded(times.low),
        "high": _rounded(times.high),
        "calibrated": times.calibrated,
        "pauses": times.pauses,
        "tool-changes": times.tool_changes,
        "unknown": times.unknown,
        "tools": [{"tool": each.tool, "seconds": _rounded(each.seconds)} for each in times.tools],
    }


def pause_data(pause: Pause) -> Data:
    return {
        "number": pause.number,
        "line": pause.line,
        "shown": list(pause.shown),
        "needs": list(pause.needs),
        "asks": pause.asks,
        "optional": pause.optional,
        "after": _rounded(pause.after),
    }


def tool_data(tool: ToolUse) -> Data:
    return {
        "number": tool.number,
        "kind": tool.kind,
        "diameter": tool.diameter,
        "stick-out": span_data(tool.stick_out),
        "flute": tool.flute,
        "teeth": tool.teeth,
        "fastest": tool.fastest,
        "plunge": tool.plunge,
        "speeds": list(tool.speeds),
        "dial": tool.dial,
        "feeds": span_data(tool.feeds),
        "plunges": span_data(tool.plunges),
        "ramps": span_data(tool.ramps),
        "chip": span_data(tool.chip),
        "chip-limits": span_data(tool.chip_limits),
        "cut": _rounded(tool.cut),
        "deepest": span_data(tool.deepest),
        "seconds": _rounded(tool.seconds),
        "first-line": tool.first_line,
    }


def reach_data(reach: Reach) -> Data:
    return {
        "axis": reach.axis,
        "cuts": span_data(reach.cuts),
        "moves": span_data(reach.moves),
        "stock": span_data(reach.stock),
        "machine": span_data(reach.machine),
        "travel": span_data(reach.travel),
        "spare": _rounded(reach.spare),
    }


def depth_data(depth: Depth) -> Data:
    return {
        "deepest": span_data(depth.deepest),
        "thickness": span_data(depth.thickness),
        "left": span_data(depth.left),
        "allowed": depth.allowed,
        "spoilboard": depth.spoilboard,
    }


def span_data(span: Span | None) -> list[float] | None:
    """Least and most."""
    return None if span is None else [round(span.least, 6), round(span.most, 6)]


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 6)
