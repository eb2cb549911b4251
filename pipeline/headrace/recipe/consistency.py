"""What no schema can say: values of one document that contradict each other.

Only for documents that their schema has accepted.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from itertools import pairwise
from typing import Any

from headrace.findings import Finding
from headrace.recipe.node import Items, Leaf, Node, Path, Table, find, key_place_at, place_at, plain
from headrace.recipe.wording import label, listed, nearest, told


def machine_findings(machine: Node) -> list[Finding]:
    """What contradicts itself in a machine description."""
    data = plain(machine)
    found = list(_homing(machine, data))
    for letter, axis in data["axes"].items():
        path: Path = ("axes", letter)
        low, high = axis["travel"]
        if low >= high:
            what = f"{label((*path, 'travel'))} goes from {low} to {high}"
            remedy = "write the lower number first; the ends differ"
            found.append(_contradiction(machine, (*path, "travel"), what, remedy))
            continue
        found.extend(_homed_number(machine, data, letter))
        found.extend(_park(machine, data, letter))
    found.extend(_rotary(machine, data))
    found.extend(_heads(machine, data))
    found.extend(_spindle_and_probe(machine, data))
    found.extend(_outputs_off(machine, data))
    found.extend(_speed_numbers(machine, data))
    word = data.get("hold-down")
    if word not in (None, "none") and word not in data.get("outputs", {}):
        what = f"`hold-down` is {word}, which is none of the `outputs`"
        found.append(_contradiction(machine, ("hold-down",), what, "name it in `outputs` too"))
    found.extend(_card(machine, data.get("card", {})))
    return found


def _card(machine: Node, card: dict[str, Any]) -> Iterator[Finding]:
    if card.get("names", "short") != "short":
        return
    extension = card.get("extension", "NC")
    if len(extension) > 3:
        what = f"short names have three characters behind the point, not {told(extension)}"
        yield _contradiction(machine, ("card", "extension"), what)
    if card.get("length", 0) > 8:
        what = f"short names have eight characters before the point, not {card['length']}"
        yield _contradiction(machine, ("card", "length"), what)
    if "." in card.get("characters", ""):
        what = "short names have one point only, that before the extension"
        yield _contradiction(machine, ("card", "characters"), what, "leave the point out")


def _homing(machine: Node, data: dict[str, Any]) -> Iterator[Finding]:
    homing = data["homing"]
    if homing["by"] == "word" and "word" not in homing:
        what = "`homing` lacks `word`, and `by` says that a word homes the machine"
        place = key_place_at(machine, ("homing",))
        remedy = "add `word`: the G code that runs to the homing switches, such as G28"
        yield Finding.of("recipe-missing-key", what, place, remedy=remedy)
    if homing["by"] == "by-hand" and "word" in homing:
        what = "`homing.word` is given, and `by` says that the operator homes the machine"
        yield _contradiction(machine, ("homing", "word"), what, key=True)
    named = Counter(axis for group in homing.get("order", []) for axis in group)
    if named and set(named.values()) | {len(named)} != {1, 3}:
        what = f"`homing.order` names {listed(named.elements())}"
        yield _contradiction(machine, ("homing", "order"), what, "name x, y and z once each")


def _homed_number(machine: Node, data: dict[str, Any], letter: str) -> Iterator[Finding]:
    """Shown after homing is a place within travel or a back-off away, at the end of the switch."""
    axis = data["axes"][letter]
    low, high = axis["travel"]
    homed, path = axis["homed-number"], ("axes", letter, "homed-number")
    slack = axis.get("back-off", 0) + data.get("margin", 1)
    if not low - slack <= homed <= high + slack:
        what = f"{label(path)} is {homed}, which is far outside the travel of {low} to {high}"
        yield _contradiction(
            machine, path, what, "state both in the numbers shown right after homing"
        )
    elif homed != (middle := (low + high) / 2) and (homed < middle) != (axis["home-end"] == "low"):
        what = (
            f"{label(path)} is {homed}, at the other end of {low} to {high} than"
            f" `home-end: {axis['home-end']}` says"
        )
        yield _contradiction(
            machine, path, what, "state travel in the numbers shown right after homing"
        )


def _park(machine: Node, data: dict[str, Any], letter: str) -> Iterator[Finding]:
    at = data.get("park", {}).get(letter)
    low, high = data["axes"][letter]["travel"]
    if at is not None and not low <= at <= high:
        what = f"{label(('park', letter))} is {at}, outside the travel of {low} to {high}"
        yield _contradiction(machine, ("park", letter), what)


def _heads(machine: Node, data: dict[str, Any]) -> Iterator[Finding]:
    """A further head has a zero and a tool of its own, and an output described both ways."""
    heads, outputs = data.get("heads", []), data.get("outputs", {})
    systems = data["work-zero"].get("systems", [])
    for at, head in enumerate(heads):
        word, path = head["down"], ("heads", at)
        known = word in data.get("outputs-off", {}) or word in ("M7", "M8")
        if word not in outputs or not known:
            what = f"{label((*path, 'down'))} is {word}, which is not described both on and off"
            remedy = "describe it under `outputs`, and what switches it off under `outputs-off`"
            yield _contradiction(machine, (*path, "down"), what, remedy)
        if head["system"] not in systems[1:]:
            what = (
                f"{label((*path, 'system'))} is {head['system']}, no further system of `work-zero`"
            )
            yield _contradiction(machine, (*path, "system"), what)
        for key in ("tool", "system", "down"):
            if head[key] in [other[key] for other in heads[:at]]:
                what = f"{label((*path, key))} is {head[key]}, as for the head before"
                yield _contradiction(machine, (*path, key), what)


def _rotary(machine: Node, data: dict[str, Any]) -> Iterator[Finding]:
    """A rotary axis lies over the bed, and its travel goes upwards."""
    for letter, axis in data.get("rotary", {}).items():
        path: Path = ("rotary", letter)
        across = "y" if axis["along"] == "x" else "x"
        low, high = data["axes"][across]["travel"]
        if not low <= axis["at"] <= high:
            where = label((*path, "at"))
            what = f"{where} is {axis['at']}, outside the travel of {across}, {low} to {high}"
            yield _contradiction(machine, (*path, "at"), what)
        travel = axis["travel"]
        if travel != "unlimited" and travel[0] >= travel[1]:
            what = f"{label((*path, 'travel'))} goes from {travel[0]} to {travel[1]}"
            remedy = "write the lower number first; the ends differ"
            yield _contradiction(machine, (*path, "travel"), what, remedy)


def _spindle_and_probe(machine: Node, data: dict[str, Any]) -> Iterator[Finding]:
    slowest, fastest = data["spindle"].get("range", (0, 0))
    if slowest > fastest:
        what = f"`spindle.range` goes from {slowest} to {fastest}"
        yield _contradiction(machine, ("spindle", "range"), what, "write the slowest speed first")
    if (probe := data.get("probe")) and probe["slow"] > probe["quick"]:
        what = f"`probe.slow` is {probe['slow']}, more than `probe.quick`, {probe['quick']}"
        yield _contradiction(machine, ("probe", "slow"), what)


_OFF_WORDS = frozenset(f"M{code}" for code in (0, 1, 2, 3, 4, 5, 6, 7, 8, 30, 48, 49, 60))
"""Words of the standard that switch no output off."""


def _outputs_off(machine: Node, data: dict[str, Any]) -> Iterator[Finding]:
    outputs = data.get("outputs", {})
    for word, off in data.get("outputs-off", {}).items():
        path: Path = ("outputs-off", word)
        if word not in outputs:
            what = f"`outputs-off` has {word}, which is none of the `outputs`"
            yield _contradiction(machine, path, what, "name it in `outputs` too", key=True)
        elif off in outputs or off in _OFF_WORDS or off == data["pause"].get("word", "M0"):
            what = f"{off} would switch {word} off, and it does something else already"
            yield _contradiction(machine, path, what, "give the word that does nothing else")


def _speed_numbers(machine: Node, data: dict[str, Any]) -> Iterator[Finding]:
    """What S counts: both the numbers and their speeds rise, and S sets the speed."""
    spindle = data["spindle"]
    numbers, path = spindle.get("numbers", []), ("spindle", "numbers")
    if numbers and spindle["control"] != "speed":
        what = f"`spindle.numbers` is given, and `control` is {spindle['control']}: S sets nothing"
        yield _contradiction(machine, path, what, "take it out, or write `control: speed`")
    for (low, slow), (high, fast) in pairwise(numbers):
        if low >= high or slow >= fast:
            what = f"{label(path)} goes from [{low}, {slow}] to [{high}, {fast}]"
            yield _contradiction(machine, path, what, "let the numbers and the speeds rise")
            return


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
                found.append(_contradiction(setup, path, what, remedy))
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
        return [_contradiction(setup, ("sheet",), what, "take the other one out", key=True)]
    letter = blank.get("axis", "a")
    if letter not in rotary:
        what = f"`blank` is turned by the axis {letter}, and the machine has no such `rotary` axis"
        remedy = "describe it under `rotary` in the machine file, or take `blank` out"
        return [_contradiction(setup, ("blank",), what, remedy, key=True)]
    return []


def _safe_height(setup: Node, data: dict[str, Any]) -> Iterator[Finding]:
    """At the safe height the head goes anywhere, so it is above every clamp."""
    safe, clamps = data.get("safe-height"), data.get("clamps")
    highest = max(clamps or (), key=lambda clamp: clamp["top"], default=None)
    if safe is not None and highest is not None and highest["top"] > safe:
        name = told(highest["name"])
        what = f"`safe-height` is {safe}, and the clamp {name} is {highest['top']} high"
        remedy = "give a height above every clamp, or mend the clamp's `top`"
        yield _contradiction(setup, ("safe-height",), what, remedy)


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
            yield _contradiction(setup, ("tools", row, "number"), what, remedy)
    tool = data.get("tool", {})
    if tool.get("number") in first and len(tool) > 1:
        other = next(name for name in tool if name != "number")
        what = f"`tool.{other}` is given, and `tools` describes bit {tool['number']}"
        remedy = "state of `tool` the `number` alone, and the rest in `tools`"
        yield _contradiction(setup, ("tool", other), what, remedy, key=True)


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
            yield _contradiction(setup, (*path, "flute"), what, remedy)


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
        yield _contradiction(setup, ways[1], what, "write the smaller number as the least")


def card_file_findings(recipe: Node) -> list[Finding]:
    """Card files that share a name, or whose `after` leads nowhere or in a circle."""
    data = plain(recipe).get("card-files", [])
    found: list[Finding] = []
    first: dict[str, str] = {}
    for number, card_file in enumerate(data):
        name = card_file["name"]
        if (other := first.setdefault(name.lower(), name)) is not name:
            what = f"two card files are called {told(name)}"
            if other != name:
                what = f"{told(other)} and {told(name)} are one name on a card"
            place = place_at(recipe, ("card-files", number, "name"))
            found.append(Finding.of("recipe-card-file", what, place))
    names = [card_file["name"] for card_file in data]
    for number, card_file in enumerate(data):
        after = card_file.get("after")
        if after is not None and after not in names:
            close = nearest(after, names)
            hint = f"did you mean `{close}`? " if close else ""
            what = f"{told(card_file['name'])} comes after {told(after)}, which is no card file"
            place = place_at(recipe, ("card-files", number, "after"))
            remedy = f"{hint}card files: {listed(names)}"
            found.append(Finding.of("recipe-card-file", what, place, remedy=remedy))
    return [*found, *_circles(recipe, data)]


def _circles(recipe: Node, data: list[dict[str, Any]]) -> Iterator[Finding]:
    after = {card_file["name"]: card_file.get("after") for card_file in data}
    told_of: set[str] = set()
    for number, card_file in enumerate(data):
        way = [card_file["name"]]
        while (next_name := after.get(way[-1])) is not None and next_name not in way:
            way.append(next_name)
        if next_name == way[0] and not told_of & set(way):
            told_of |= set(way)
            what = f"{' after '.join(told(name) for name in [*way, way[0]])}: none can be first"
            place = place_at(recipe, ("card-files", number, "after"))
            yield Finding.of("recipe-card-file", what, place)


def _contradiction(
    root: Node, path: Path, what: str, remedy: str | None = None, *, key: bool = False
) -> Finding:
    place = key_place_at(root, path) if key or not isinstance(find(root, path), Leaf) else None
    return Finding.of("recipe-contradiction", what, place or place_at(root, path), remedy=remedy)
