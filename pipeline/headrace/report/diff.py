"""Unified differences: of a job and its result, of which `git apply` and `patch -p1` make the card
file beside the job, and of a file that is rewritten in its place.

The form is that of POSIX `diff -u` (IEEE Std 1003.1, diff, "Diff -u or -U Output Format"), with the
extended headers of Git ("Generating patch text with -p"), as the card file has another name.
"""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterator, Sequence
from itertools import pairwise, takewhile
from pathlib import Path

from headrace.program import Program
from headrace.report.alignment import Change, changes_between
from headrace.report.ranges import Ranges

CONTEXT = 3
"""Equal lines around each change."""

Label = Callable[[list[Change]], str]
_LINES = re.compile(rb"[^\n]*\n|[^\n]+")
_Side = Callable[[int, int], bytes]


def unified(
    source: Program, result: Program, old_name: str | None, new_name: str, label: Label
) -> Iterator[bytes]:
    """The difference, a hunk at a time; nothing where both are equal.

    `old_name` is None where the result is made of no file. `label` gives the text behind the second
    `@@` of a hunk, by the changes in it.
    """
    changes = changes_between(source, result)
    if not changes:
        return
    yield "".join(f"{line}\n" for line in _header(old_name, new_name)).encode("ascii")
    if _has_lone_returns(source) or _has_lone_returns(result):
        # for `patch` only LF ends a line: such lines are one to it
        yield from _by_newlines(source.to_bytes(), result.to_bytes(), label(changes))
        return
    old, new = Ranges(source), Ranges(result)
    for group in _grouped(changes):
        yield _hunk(group, (old.length, new.length), old.data, new.data, label(group))


def rewritten(old: bytes, new: bytes, name: str) -> Iterator[bytes]:
    """The difference of a file before and after, a hunk at a time; nothing where both are equal."""
    if old == new:
        return
    yield "".join(f"{line}\n" for line in _header(name, name)).encode("ascii")
    ours, theirs = _LINES.findall(old), _LINES.findall(new)
    for group in _grouped(_changed(ours, theirs)):
        yield _of_lines(group, ours, theirs, "")


def name_from_here(path: Path) -> str:
    """How a difference names a file: as it was given, where that is a way from this folder down,
    else by its own name."""
    if path.is_absolute() and path.is_relative_to(Path.cwd()):
        path = path.relative_to(Path.cwd())
    return path.name if path.is_absolute() or ".." in path.parts else path.as_posix()


def _grouped(changes: Sequence[Change]) -> Iterator[list[Change]]:
    """Changes so near to one another that their context would touch."""
    group = [changes[0]]
    for last, change in pairwise(changes):
        if change.old_start - last.old_stop > 2 * CONTEXT:
            yield group
            group = []
        group.append(change)
    yield group


def _hunk(
    group: Sequence[Change], lengths: tuple[int, int], old: _Side, new: _Side, label: str
) -> bytes:
    before = min(CONTEXT, group[0].old_start, group[0].new_start)
    last = group[-1]
    after = min(CONTEXT, lengths[0] - last.old_stop, lengths[1] - last.new_stop)
    old_first, old_end = group[0].old_start - before, last.old_stop + after
    new_first, new_end = group[0].new_start - before, last.new_stop + after
    head = f"@@ -{_range(old_first, old_end)} +{_range(new_first, new_end)} @@ {label}".rstrip()
    parts = [head.encode() + b"\n"]
    reached = old_first
    for change in group:
        parts.append(_marked(b" ", old(reached, change.old_start)))
        parts.append(_marked(b"-", old(change.old_start, change.old_stop)))
        parts.append(_marked(b"+", new(change.new_start, change.new_stop)))
        reached = change.old_stop
    parts.append(_marked(b" ", old(reached, old_end)))
    return b"".join(parts)


def _range(start: int, stop: int) -> str:
    """First line and count; of an empty range, the line before it."""
    return f"{start + 1 if stop > start else start},{stop - start}"


def _marked(mark: bytes, block: bytes) -> bytes:
    """Whole lines, each with a mark before it."""
    if not block:
        return b""
    if block.endswith(b"\n"):
        return mark + block[:-1].replace(b"\n", b"\n" + mark) + b"\n"
    return mark + block.replace(b"\n", b"\n" + mark) + b"\n\\ No newline at end of file\n"


def _has_lone_returns(program: Program) -> bool:
    texts = {id(piece.text): piece.text.data for piece in program.pieces}
    return any(data.count(b"\r") > data.count(b"\r\n") for data in texts.values())


def _by_newlines(old: bytes, new: bytes, label: str) -> Iterator[bytes]:
    """All that differs as one hunk, in lines that LF ends."""
    ours, theirs = _LINES.findall(old), _LINES.findall(new)
    yield _of_lines([_between_ends(ours, theirs)], ours, theirs, label)


def _changed(ours: Sequence[bytes], theirs: Sequence[bytes]) -> list[Change]:
    """What differs: line by line where as many lines stand between the ends that are equal."""
    whole = _between_ends(ours, theirs)
    old, new = range(whole.old_start, whole.old_stop), range(whole.new_start, whole.new_stop)
    if len(old) != len(new):
        return [whole]
    pairs = zip(old, new, strict=True)
    changed = [(one, other) for one, other in pairs if ours[one] != theirs[other]]
    return [Change(one, one + 1, other, other + 1) for one, other in changed]


def _between_ends(ours: Sequence[bytes], theirs: Sequence[bytes]) -> Change:
    """All between the lines that are equal at the beginning and at the end."""
    head = _alike(ours, theirs)
    tail = _alike(ours[head:][::-1], theirs[head:][::-1])
    return Change(head, len(ours) - tail, head, len(theirs) - tail)


def _of_lines(
    group: Sequence[Change], ours: Sequence[bytes], theirs: Sequence[bytes], label: str
) -> bytes:
    return _hunk(
        group,
        (len(ours), len(theirs)),
        lambda start, stop: b"".join(ours[start:stop]),
        lambda start, stop: b"".join(theirs[start:stop]),
        label,
    )


def _alike(ours: Sequence[bytes], theirs: Sequence[bytes]) -> int:
    """How many lines are equal from the beginning."""
    return sum(
        1 for _ in takewhile(lambda pair: pair[0] == pair[1], zip(ours, theirs, strict=False))
    )


def _header(old: str | None, new: str) -> Iterator[str]:
    """The lines before the first hunk: which file is made of which."""
    target = _quoted(f"b/{new}")
    if old is None:
        yield f"diff --git {_quoted(f'a/{new}')} {target}"
        yield "new file mode 100644"
        yield "--- /dev/null"
    else:
        source = _quoted(f"a/{old}")
        yield f"diff --git {source} {target}"
        if old != new:
            yield f"copy from {_quoted(old)}"
            yield f"copy to {_quoted(new)}"
        yield f"--- {_ended(source)}"
    yield f"+++ {_ended(target)}"


def _ended(name: str) -> str:
    """A name with blanks has a tab behind it, so that it is not taken for shorter."""
    return f"{name}\t" if " " in name else name


def _quoted(name: str) -> str:
    """A name as it is where that is plain, else between quotes, its bytes as in the language C."""
    data = os.fsencode(name)
    if all(0x20 <= byte < 0x7F and byte not in b'"\\' for byte in data):
        return name
    return f'"{"".join(_escaped(byte) for byte in data)}"'


def _escaped(byte: int) -> str:
    if byte in b'"\\':
        return f"\\{byte:c}"
    return f"{byte:c}" if 0x20 <= byte < 0x7F else f"\\{byte:03o}"
