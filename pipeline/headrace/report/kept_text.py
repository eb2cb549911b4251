"""Outcomes beside those that were kept: a line for each, and what is different in them."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from difflib import SequenceMatcher
from itertools import takewhile
from typing import TYPE_CHECKING

from headrace.counting import count_text
from headrace.findings import Finding
from headrace.report.alignment import Change
from headrace.report.causes import step_names
from headrace.report.outcomes import proof_line
from headrace.report.ranges import Ranges

if TYPE_CHECKING:
    from headrace.batch.keeping import Compared, Turn
    from headrace.batch.kept import KeptFile
    from headrace.program import Program

MOST_LINES = 60
"""So many lines of the difference of one outcome are shown."""

_CONTEXT = 3
_WINDOW = 2000
"""So many lines behind the first that differs are searched for where they are alike again."""

_LINES = re.compile(rb"[^\n]*\n|[^\n]+")


def headline(compared: Compared, checking: bool) -> str:
    """A folder in one line.

    >>> # kept/lids: 1 of 2 outcomes is not the same
    """
    other = len(compared.changed())
    count = count_text(len(compared.standings()), "outcome")
    if not checking:
        same = "" if other else ", all as they were"
        return f"{compared.folder}: {count_text(len(compared.now.files), 'outcome')} kept{same}"
    told = f"{other} of {count} {_are(other)} not the same" if other else f"{count}, the same"
    altered = compared.altered
    if altered:
        files = count_text(altered, "kept file")
        told += f"; {files} {_are(altered)} not as written"
    return f"{compared.folder}: {told}"


def outcome_lines(compared: Compared) -> Iterator[str]:
    """Each outcome that is another one now, in one line.

    >>> # LID.NC  changed, refused
    """
    for name, standing in compared.changed().items():
        file = compared.now.get(name)
        known = compared.before.get(name) if compared.before is not None else None
        refused, was_refused = bool(file and file.refused), bool(known and known.refused)
        turned = ", refused" if refused else ", no longer refused" if file and was_refused else ""
        yield f"{name}  {standing}{turned}"


def folders_line(turns: Sequence[Turn], exit_code: int) -> str:
    """The end of a run over several folders."""
    other = sum(turn.exit_code != 0 for turn in turns)
    return f"{len(turns)} kept folders, {other} not in order; exit code {exit_code}"


def told_of(compared: Compared) -> dict[Finding, list[str]]:
    """What is said of outcomes that were not kept so before, with their names."""
    told: dict[Finding, list[str]] = {}
    changed = compared.changed()
    for file in compared.now.files:
        if file.name in changed:
            for finding in dict.fromkeys(file.findings):
                told.setdefault(finding, []).append(file.source or file.name)
    return told


def difference(compared: Compared) -> Iterator[str]:
    """What is different in every outcome."""
    for name in compared.standings():
        yield from difference_of(compared, name)


def difference_of(compared: Compared, name: str) -> Iterator[str]:
    """What is different in one outcome, as unified differences that are cut where they are long:
    in its file, and in what is said of it."""
    yield from _of_file(compared, name)
    if compared.before is not None:
        yield from _of_telling(compared.before.get(name), compared.now.get(name), name)


def _of_file(compared: Compared, name: str) -> Iterator[str]:
    path = compared.folder / name
    old = path.read_bytes() if path.is_file() else None
    new = compared.made.data_of(name)
    if old is None or new is None or old == new:
        return  # all of it, or nothing: what is said tells of that
    if old.replace(b"\r\n", b"\n") == new.replace(b"\r\n", b"\n"):
        yield f"# {path} and what is made now differ in line ends only"
        return
    yield f"--- {path}"
    yield f"+++ {name} as it is made now"
    yield from _hunks(_Text(old), _Text(new), compared.made.programs.get(name))


def _of_telling(before: KeptFile | None, now: KeptFile | None, name: str) -> Iterator[str]:
    whole = before is not None and now is not None and before.refused == now.refused
    old, new = _telling(before, whole), _telling(now, whole)
    if old == new:
        return
    yield f"--- {name}: what was said"
    yield f"+++ {name}: what is said now"
    for tag, first, last, start, stop in SequenceMatcher(None, old, new).get_opcodes():
        if tag != "equal":
            yield from (f"-{line}" for line in old[first:last])
            yield from (f"+{line}" for line in new[start:stop])


def _telling(file: KeptFile | None, whole: bool) -> list[str]:
    """What was said of an outcome; the whole of it, or what tells whether it is refused."""
    if file is None:
        return []
    lines = ["refused" if file.refused else "fit for the card"]
    if whole:
        lines += [f"step: {step}" for step in file.steps]
        lines += [] if file.proof is None else [proof_line(file.proof)]
    for finding in file.findings:
        where = f" at {finding.place}" if finding.place else ""
        but = f"; lowered: {finding.lowered}" if finding.lowered else ""
        told = f"{finding.severity}: {finding.what}  [{finding.id} {finding.name}]{where}{but}"
        lines.append(told)
    return lines


class _Text:
    """Bytes as lines that LF ends."""

    def __init__(self, data: bytes) -> None:
        self.lines = _LINES.findall(data)
        self.ends = {line[len(line.rstrip(b"\r\n")) :] for line in self.lines[:-1]}


def _hunks(old: _Text, new: _Text, program: Program | None) -> Iterator[str]:
    """The difference, as much of it as may be shown."""
    head = _alike(old.lines, new.lines)
    tail = _alike(old.lines[head:][::-1], new.lines[head:][::-1])
    old_stop, new_stop = len(old.lines) - tail, len(new.lines) - tail
    reach = head + _WINDOW
    cut = max(old_stop, new_stop) > reach
    first = max(0, head - _CONTEXT)
    ours = old.lines[first : min(reach, old_stop + _CONTEXT)]
    theirs = new.lines[first : min(reach, new_stop + _CONTEXT)]
    groups = list(SequenceMatcher(None, ours, theirs).get_grouped_opcodes(_CONTEXT))
    if cut and len(groups) > 1:
        groups.pop()  # where the search ends, nothing is known to be different
    ranges = None if program is None or len(program) != len(new.lines) else Ranges(program)
    bare = len(old.ends | new.ends) < 2
    room = MOST_LINES
    for group in groups:
        lines = list(_hunk(group, ours, theirs, first, ranges, bare))
        yield from lines[: max(0, room)]
        room -= len(lines)
    if cut or room < 0:
        counts = f"{len(old.lines)} lines were kept, {len(new.lines)} are made now"
        yield f"# and more, up to line {new_stop}: {counts}"


def _hunk(
    group: Sequence[tuple[str, int, int, int, int]],
    ours: Sequence[bytes],
    theirs: Sequence[bytes],
    first: int,
    ranges: Ranges | None,
    bare: bool,
) -> Iterator[str]:
    """One hunk; behind its ranges the steps that wrote its new lines."""
    old, new = (group[0][1], group[-1][2]), (group[0][3], group[-1][4])
    changes = [
        Change(first + a, first + b, first + c, first + d) for tag, a, b, c, d in group
        if tag != "equal"
    ]  # fmt: skip
    label = "" if ranges is None else ", ".join(step_names(ranges, changes))
    yield f"@@ -{_range(first, *old)} +{_range(first, *new)} @@ {label}".rstrip()
    for tag, a, b, c, d in group:
        if tag == "equal":
            yield from _marked(" ", ours[a:b], bare)
        else:
            yield from _marked("-", ours[a:b], bare)
            yield from _marked("+", theirs[c:d], bare)


def _range(first: int, start: int, stop: int) -> str:
    """First line and count; of an empty range, the line before it."""
    return f"{first + start + (stop > start)},{stop - start}"


def _marked(mark: str, lines: Sequence[bytes], bare: bool) -> Iterator[str]:
    for line in lines:
        text = line.removesuffix(b"\n")
        text = text.removesuffix(b"\r") if bare else text
        yield mark + text.decode("utf-8", "backslashreplace").replace("\r", "\\r")
        if not line.endswith(b"\n"):
            yield "\\ No newline at end of file"


def _alike(ours: Sequence[bytes], theirs: Sequence[bytes]) -> int:
    """How many lines are equal from the beginning."""
    both = zip(ours, theirs, strict=False)
    return sum(1 for _ in takewhile(lambda pair: pair[0] == pair[1], both))


def _are(count: int) -> str:
    return "is" if count == 1 else "are"
