"""What outcomes follow from, compared with what they followed from when they were kept."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from difflib import SequenceMatcher
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from headrace.batch.keeping import Compared
    from headrace.batch.kept import Kept

_LONGEST = 60
_NOTHING = object()
"""Stands where one side has no such value."""


def changes_since(compared: Compared) -> Iterator[str]:
    """What is another one now, a line each: values, jobs, plugins, headrace.

    >>> # setup.sheet.thickness.most: 18.4 -> 18.6
    """
    before, now = compared.before, compared.now
    if before is None:
        return
    values = list(_between(_without_format(before.values), _without_format(now.values), ""))
    yield from values or _order(before.made_by, now.made_by)
    yield from _jobs(before, now)
    yield from _code(before.made_by, now.made_by)


def _without_format(values: Mapping[str, Any]) -> dict[str, Any]:
    """What a recipe says: in which format it says so is nothing that outcomes follow from."""
    return {key: value for key, value in values.items() if key != "format"}


def _order(before: Mapping[str, Any], now: Mapping[str, Any]) -> Iterator[str]:
    """Which descriptions have the same values, and are not the same to the letter."""
    for key, name in (("recipe", "recipe"), ("machine", "machine"), ("setup", "set-up")):
        if before[key]["sha256"] != now[key]["sha256"]:
            yield f"{name}: the same values in another order"


def _jobs(before: Kept, now: Kept) -> Iterator[str]:
    """Job files whose bytes are others. Several outcomes may be of one."""
    then = {file.source: file.job for file in before.files if file.source is not None}
    for source, job in {file.source: file.job for file in now.files}.items():
        known = then.get(source or "")
        if known is not None and job is not None and known != job:
            sizes = "" if known.size == job.size else f", {known.size} -> {job.size} bytes"
            yield f"job {source}: another content{sizes}"


def _code(before: Mapping[str, Any], now: Mapping[str, Any]) -> Iterator[str]:
    """Plugins and headrace itself, by version and by what their sources hold."""
    then, here = _codes(before), _codes(now)
    for name in dict.fromkeys((*then, *here)):
        old, new = then.get(name), here.get(name)
        if old is None or new is None:
            yield f"{name}: {'new' if old is None else 'not used any more'}"
        elif old["version"] != new["version"]:
            yield f"{name}: {old['version']} -> {new['version']}"
        elif old["sha256"] != new["sha256"]:
            yield f"{name} {new['version']}".rstrip() + ": another code"


def _codes(made_by: Mapping[str, Any]) -> dict[str, Mapping[str, Any]]:
    """Code by what it is called; where two files have one name, the later has a number."""
    found: dict[str, Mapping[str, Any]] = {}
    for code in made_by["plugins"]:
        name = f"plugin {code['name']}"
        found[name if name not in found else f"{name} ({len(found) + 1})"] = code
    return {**found, made_by["headrace"]["name"]: made_by["headrace"]}


def _between(old: Any, new: Any, way: str) -> Iterator[str]:
    """Values that differ, each with the way to it as `--set` would name it."""
    if isinstance(old, dict) and isinstance(new, dict):
        for key in dict.fromkeys((*old, *new)):
            deeper = f"{way}.{key}" if way else key
            yield from _between(old.get(key, _NOTHING), new.get(key, _NOTHING), deeper)
    elif isinstance(old, list) and isinstance(new, list) and _has_parts((*old, *new)):
        yield from _items(old, new, way)
    elif old is _NOTHING:
        yield f"{way}: {_shown(new)}, which was not there"
    elif new is _NOTHING:
        yield f"{way}: no longer there, was {_shown(old)}"
    elif old != new or type(old) is not type(new):
        yield f"{way}: {_shown(old)} -> {_shown(new)}"


def _items(old: list[Any], new: list[Any], way: str) -> Iterator[str]:
    """Items of lists that hold more than single values, such as steps: those that differ."""
    ours, theirs = [_text(item) for item in old], [_text(item) for item in new]
    for tag, first, last, start, stop in SequenceMatcher(None, ours, theirs, False).get_opcodes():
        if tag == "equal":
            continue
        gone, come = old[first:last], new[start:stop]
        if len(gone) == len(come) and all(map(_are_alike, gone, come)):
            for number, (then, now) in enumerate(zip(gone, come, strict=True), start + 1):
                single = isinstance(now, dict) and len(now) == 1
                yield from _between(then, now, way if single else f"{way}.{number}")
            continue
        for item in gone:
            yield f"{way}: no longer there, was {_shown(item)}"
        for item in come:
            yield f"{way}: {_shown(item)}, which was not there"


def _are_alike(old: Any, new: Any) -> bool:
    """Whether two items are one, with other values: steps of one name, or mappings of one kind."""
    if not isinstance(old, dict) or not isinstance(new, dict):
        return False
    return bool(old.keys() & new.keys())


def _has_parts(items: tuple[Any, ...]) -> bool:
    return any(isinstance(item, (dict, list)) for item in items)


def _shown(value: Any) -> str:
    text = value if isinstance(value, str) else _text(value)
    return text if len(text) <= _LONGEST else f"{text[: _LONGEST - 1]}…"


def _text(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, sort_keys=True)
