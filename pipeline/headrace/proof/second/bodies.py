"""Subprograms in bare lines: what stands between a beginning and its end (common practice)."""

from __future__ import annotations

import re

_CALLING = (re.compile(rb"O[ \t]*[0-9]"), re.compile(rb"o[ \t]*[0-9]"))  # apart they are quick
_ENDING = re.compile(rb"(?m)^[^/%\n]*M0*(?:2|30)(?![0-9.])[^\n]*\n")
_NAMED = re.compile(rb"(?ms)^O0*([0-9]+)SUB\n(.*?)^O0*\1ENDSUB\n")
_NUMBERED = re.compile(rb"(?ms)^O0*([0-9]+)\n(.*?)^M0*99\n")
HEADING = re.compile(rb"O0*([0-9]+)(SUB|ENDSUB|CALL)?\n")

Bodies = dict[int, list[bytes]]


def may_call(data: bytes) -> bool:
    """Whether there may be subprograms in some bytes, bare or not."""
    return any(calling.search(data) for calling in _CALLING)


def bodies(lines: bytes) -> Bodies:
    """The bare lines of each subprogram by its number: those that O words enclose, and behind the
    first program end those from a number alone up to M99."""
    found = {}
    for number, body in _NAMED.findall(lines):
        found[int(number)] = body.splitlines(keepends=True)
    rest = _NAMED.sub(b"", lines)
    ending = _ENDING.search(rest)
    if ending is not None:
        for number, body in _NUMBERED.findall(rest, ending.end()):
            found[int(number)] = body.splitlines(keepends=True)
    return found
