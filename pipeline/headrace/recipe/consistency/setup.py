"""Values of a set-up that contradict each other, or the machine."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from headrace.findings import Finding
from headrace.recipe.consistency.contradiction import contradiction
from headrace.recipe.node import Items, Node, Path, Table, find, plain
from headrace.recipe.wording import label, told


def setup_findings(setup: Node) -> list[Finding]:
    """What contradicts itself in a set-up."""
    data = plain(setup)
    found = [
        *_span(setup, ("sheet", "thickness")),
        *(
            finding
            for path, _ in _tools(data)
            for span in ("stick-out", "chip")
            for finding in _span(setup, (*path, span))
        ),
        *_numbers(setup, data),
    ]
    for number, clamp in enumerate(data.get("clamps", [])):
        for axis, start, end in zip("XY", clamp["from"], clamp["to"], strict=True):
            if start >= end:
                path = ("clamps", number, "to")
                what = f"{label(path)} is not beyond its `from` along {axis}: {start} to {end}"
                remedy = "state the lower left corner first, then the upper right one"
                found.append(contradiction(setup, path, what, remedy))
                break
    if not found:
        found.extend([*_safe_height(setup, data), *_flute(setup, data)])
    return found


def blank_findings(setup: Node, machine: Node) -> list[Finding]:
    """A blank that no axis of the machine turns, or that lies where a sheet does."""
    data, rotary = plain(setup), plain(machine).get("rotary", {})
    blank = data.get("blank")
    if blank is None:
        return []
    if "sheet" in data:
        what = "`blank` is given, and so is `sheet`: only one of them is on the machine"
        return [contradiction(setup, ("sheet",), what, "take the other one out", key=True)]
    letter = blank.get("axis", "a")
    if letter not in rotary:
        what = f"`blank` is turned by the axis {letter}, and the machine has no such `rotary` axis"
        remedy = "describe it under `rotary` in the machine file, or take `blank` out"
        return [contradiction(setup, ("blank",), what, remedy, key=True)]
    return []


def _safe_height(setup: Node, data: dict[str, Any]) -> Iterator[Finding]:
    """At the safe height the head goes anywhere, so it is above every clamp."""
    safe, clamps = data.get("safe-height"), data.get("clamps")
    highest = max(clamps or (), key=lambda clamp: clamp["top"], default=None)
    if safe is not None and highest is not None and highest["top"] > safe:
        name = told(highest["name"])
        what = f"`safe-height` is {safe}, and the clamp {name} is {highest['top']} high"
        remedy = "give a height above every clamp, or mend the clamp's `top`"
        yield contradiction(setup, ("safe-height",), what, remedy)


def _tools(data: dict[str, Any]) -> Iterator[tuple[Path, dict[str, Any]]]:
    """Every bit that a set-up describes, and where."""
    if "tool" in data:
        yield ("tool",), data["tool"]
    for row, tool in enumerate(data.get("tools", [])):
        yield ("tools", row), tool


def _numbers(setup: Node, data: dict[str, Any]) -> Iterator[Finding]:
    """A number stands for one bit, described in one place."""
    first: dict[int, int] = {}
    for row, tool in enumerate(data.get("tools", [])):
        number = tool["number"]
        if first.setdefault(number, row) != row:
            what = f"{label(('tools', row, 'number'))} is {number}, and so is that of another bit"
            remedy = "give each bit a number of its own, the one by which jobs call it"
            yield contradiction(setup, ("tools", row, "number"), what, remedy)
    tool = data.get("tool", {})
    if tool.get("number") in first and len(tool) > 1:
        other = next(name for name in tool if name != "number")
        what = f"`tool.{other}` is given, and `tools` describes bit {tool['number']}"
        remedy = "state of `tool` the `number` alone, and the rest in `tools`"
        yield contradiction(setup, ("tool", other), what, remedy, key=True)


def _flute(setup: Node, data: dict[str, Any]) -> Iterator[Finding]:
    """A bit cuts on what stands out of the collet, and no more."""
    for path, tool in _tools(data):
        if "flute" not in tool or "stick-out" not in tool:
            continue
        least = _least(tool["stick-out"])
        if tool["flute"] > least:
            where = label((*path, "flute"))
            what = f"{where} is {tool['flute']}, and the bit stands out only {least:g}"
            remedy = "measure both: the flute from the tip up, stick-out from the collet"
            yield contradiction(setup, (*path, "flute"), what, remedy)


def _least(value: Any) -> float:
    """The least that a length may be: a number, a pair, or `least` and `most`."""
    if isinstance(value, dict):
        return float(value["least"])
    return float(value[0] if isinstance(value, list) else value)


def _span(setup: Node, path: Path) -> Iterator[Finding]:
    node = find(setup, path)
    ways: tuple[Path, Path]
    if isinstance(node, Items):
        ways = (*path, 0), (*path, 1)
    elif isinstance(node, Table):
        ways = (*path, "least"), (*path, "most")
    else:
        return
    least, most = (plain(part) for way in ways if (part := find(setup, way)) is not None)
    if least > most:
        what = f"{label(path)} has {least} as the least and {most} as the most"
        yield contradiction(setup, ways[1], what, "write the smaller number as the least")
