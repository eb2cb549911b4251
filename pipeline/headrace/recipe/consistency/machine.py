"""Values of a machine description that contradict each other."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from itertools import pairwise
from typing import Any

from headrace.findings import Finding
from headrace.recipe.consistency.contradiction import contradiction
from headrace.recipe.node import Node, Path, key_place_at, plain
from headrace.recipe.wording import label, listed, told


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
            found.append(contradiction(machine, (*path, "travel"), what, remedy))
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
        found.append(contradiction(machine, ("hold-down",), what, "name it in `outputs` too"))
    found.extend(_card(machine, data.get("card", {})))
    return found


def _card(machine: Node, card: dict[str, Any]) -> Iterator[Finding]:
    if card.get("names", "short") != "short":
        return
    extension = card.get("extension", "NC")
    if len(extension) > 3:
        what = f"short names have three characters behind the point, not {told(extension)}"
        yield contradiction(machine, ("card", "extension"), what)
    if card.get("length", 0) > 8:
        what = f"short names have eight characters before the point, not {card['length']}"
        yield contradiction(machine, ("card", "length"), what)
    if "." in card.get("characters", ""):
        what = "short names have one point only, that before the extension"
        yield contradiction(machine, ("card", "characters"), what, "leave the point out")


def _homing(machine: Node, data: dict[str, Any]) -> Iterator[Finding]:
    homing = data["homing"]
    if homing["by"] == "word" and "word" not in homing:
        what = "`homing` lacks `word`, and `by` says that a word homes the machine"
        place = key_place_at(machine, ("homing",))
        remedy = "add `word`: the G code that runs to the homing switches, such as G28"
        yield Finding.of("recipe-missing-key", what, place, remedy=remedy)
    if homing["by"] == "by-hand" and "word" in homing:
        what = "`homing.word` is given, and `by` says that the operator homes the machine"
        yield contradiction(machine, ("homing", "word"), what, key=True)
    named = Counter(axis for group in homing.get("order", []) for axis in group)
    if named and set(named.values()) | {len(named)} != {1, 3}:
        what = f"`homing.order` names {listed(named.elements())}"
        yield contradiction(machine, ("homing", "order"), what, "name x, y and z once each")


def _homed_number(machine: Node, data: dict[str, Any], letter: str) -> Iterator[Finding]:
    """Shown after homing is a place within travel or a back-off away, at the end of the switch."""
    axis = data["axes"][letter]
    low, high = axis["travel"]
    homed, path = axis["homed-number"], ("axes", letter, "homed-number")
    slack = axis.get("back-off", 0) + data.get("margin", 1)
    if not low - slack <= homed <= high + slack:
        what = f"{label(path)} is {homed}, which is far outside the travel of {low} to {high}"
        yield contradiction(
            machine, path, what, "state both in the numbers shown right after homing"
        )
    elif homed != (middle := (low + high) / 2) and (homed < middle) != (axis["home-end"] == "low"):
        what = (
            f"{label(path)} is {homed}, at the other end of {low} to {high} than"
            f" `home-end: {axis['home-end']}` says"
        )
        yield contradiction(
            machine, path, what, "state travel in the numbers shown right after homing"
        )


def _park(machine: Node, data: dict[str, Any], letter: str) -> Iterator[Finding]:
    at = data.get("park", {}).get(letter)
    low, high = data["axes"][letter]["travel"]
    if at is not None and not low <= at <= high:
        what = f"{label(('park', letter))} is {at}, outside the travel of {low} to {high}"
        yield contradiction(machine, ("park", letter), what)


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
            yield contradiction(machine, (*path, "down"), what, remedy)
        if head["system"] not in systems[1:]:
            what = (
                f"{label((*path, 'system'))} is {head['system']}, no further system of `work-zero`"
            )
            yield contradiction(machine, (*path, "system"), what)
        for key in ("tool", "system", "down"):
            if head[key] in [other[key] for other in heads[:at]]:
                what = f"{label((*path, key))} is {head[key]}, as for the head before"
                yield contradiction(machine, (*path, key), what)


def _rotary(machine: Node, data: dict[str, Any]) -> Iterator[Finding]:
    """A rotary axis lies over the bed, and its travel goes upwards."""
    for letter, axis in data.get("rotary", {}).items():
        path: Path = ("rotary", letter)
        across = "y" if axis["along"] == "x" else "x"
        low, high = data["axes"][across]["travel"]
        if not low <= axis["at"] <= high:
            where = label((*path, "at"))
            what = f"{where} is {axis['at']}, outside the travel of {across}, {low} to {high}"
            yield contradiction(machine, (*path, "at"), what)
        travel = axis["travel"]
        if travel != "unlimited" and travel[0] >= travel[1]:
            what = f"{label((*path, 'travel'))} goes from {travel[0]} to {travel[1]}"
            remedy = "write the lower number first; the ends differ"
            yield contradiction(machine, (*path, "travel"), what, remedy)


def _spindle_and_probe(machine: Node, data: dict[str, Any]) -> Iterator[Finding]:
    slowest, fastest = data["spindle"].get("range", (0, 0))
    if slowest > fastest:
        what = f"`spindle.range` goes from {slowest} to {fastest}"
        yield contradiction(machine, ("spindle", "range"), what, "write the slowest speed first")
    if (probe := data.get("probe")) and probe["slow"] > probe["quick"]:
        what = f"`probe.slow` is {probe['slow']}, more than `probe.quick`, {probe['quick']}"
        yield contradiction(machine, ("probe", "slow"), what)


_OFF_WORDS = frozenset(f"M{code}" for code in (0, 1, 2, 3, 4, 5, 6, 7, 8, 30, 48, 49, 60))
"""Words of the standard that switch no output off."""


def _outputs_off(machine: Node, data: dict[str, Any]) -> Iterator[Finding]:
    outputs = data.get("outputs", {})
    for word, off in data.get("outputs-off", {}).items():
        path: Path = ("outputs-off", word)
        if word not in outputs:
            what = f"`outputs-off` has {word}, which is none of the `outputs`"
            yield contradiction(machine, path, what, "name it in `outputs` too", key=True)
        elif off in outputs or off in _OFF_WORDS or off == data["pause"].get("word", "M0"):
            what = f"{off} would switch {word} off, and it does something else already"
            yield contradiction(machine, path, what, "give the word that does nothing else")


def _speed_numbers(machine: Node, data: dict[str, Any]) -> Iterator[Finding]:
    """What S counts: both the numbers and their speeds rise, and S sets the speed."""
    spindle = data["spindle"]
    numbers, path = spindle.get("numbers", []), ("spindle", "numbers")
    if numbers and spindle["control"] != "speed":
        what = f"`spindle.numbers` is given, and `control` is {spindle['control']}: S sets nothing"
        yield contradiction(machine, path, what, "take it out, or write `control: speed`")
    for (low, slow), (high, fast) in pairwise(numbers):
        if low >= high or slow >= fast:
            what = f"{label(path)} goes from [{low}, {slow}] to [{high}, {fast}]"
            yield contradiction(machine, path, what, "let the numbers and the speeds rise")
            return
