"""What is wrong with a card, as findings: each names the file and what to copy or prepare again."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

from headrace.card.checked import Checked, State, Stranger
from headrace.findings import Finding, Severity
from headrace.findings.text import few


def discrepancies(
    files: Iterable[Checked],
    strangers: Sequence[Stranger],
    unfinished: Sequence[str],
    against: Path | None,
) -> Iterator[Finding]:
    """A finding for each file that is not as written, and for what else is on the card.

    `unfinished` are names that a run left which was cut short. `against` is where the list came
    from, None for the card's own.
    """
    told: set[str] = set()
    ahead = []
    for file in files:
        if file.state is State.UNFINISHED:
            ahead.append(file)
        elif file.state is State.AS_WRITTEN:
            yield from _capitals(file)
        elif file.name not in told:
            name, what = _what(file)
            yield Finding.of(name, what, remedy=_remedy(file, against))
            told.update(file.others if file.state is State.SWAPPED else ())
    if unfinished:
        yield Finding.of("card-run-cut-short", _cut_short(unfinished, ahead))
    yield from _strange(strangers)


def _what(file: Checked) -> tuple[str, str]:
    """The kind of finding, and what it says."""
    name, wanted = file.name, file.entry.content.size
    size = 0 if file.content is None else file.content.size
    others = few(file.others)
    spare = f"; its bytes stand under {others}" if others else ""
    match file.state:
        case State.SWAPPED:
            return "card-files-mixed-up", f"{name} and {others} are swapped"
        case State.MIXED_UP:
            return "card-files-mixed-up", f"{name} on the card holds the bytes of {others}"
        case State.RENAMED:
            return "card-file-renamed", f"{name} stands on the card as {others}"
        case State.MISSING:
            return "card-file-missing", f"{name} is not on the card"
        case State.NO_FILE:
            return "card-file-missing", f"{name} on the card is no plain file{spare}"
        case State.UNREADABLE:
            return "card-file-unreadable", f"{name} on the card cannot be read{spare}"
        case State.SHORTER:
            what = f"{name} on the card is cut short: {size:,} of {wanted:,} bytes"
        case State.LONGER:
            what = f"{name} on the card has grown: {size:,} bytes instead of {wanted:,}"
        case _:
            what = f"{name} on the card has its {wanted:,} bytes, but not the ones written"
    return "card-file-damaged", what + spare


def _remedy(file: Checked, against: Path | None) -> str:
    """How the file comes to stand as it should."""
    if file.state is State.SWAPPED:
        return "give each of them the other's name"
    if file.state is State.RENAMED:
        return f"call it {file.name} again"
    if against is not None:
        return f"copy {file.name} from {against} again"
    job, recipe = file.entry.job, file.entry.recipe
    again = f"prepare {job} by {recipe} again" if job else f"prepare {recipe} again"
    again += f", or copy {file.name} again from where it was prepared"
    return again if file.found is None else f"take it off the card, then {again}"


def _capitals(file: Checked) -> Iterator[Finding]:
    if file.found != file.name:
        what = f"{file.name} stands on the card as {file.found}"
        yield Finding.of("card-name-capitals", what, remedy=f"call it {file.name} again")


def _cut_short(unfinished: Sequence[str], ahead: Sequence[Checked]) -> str:
    """What a run that was cut short has left."""
    parts = [f"left {few(unfinished)}"]
    if placed := [file.name for file in ahead if file.found is not None]:
        parts.append(f"made {few(placed)} new without listing it so")
    if waiting := [file.name for file in ahead if file.found is None]:
        parts.append(f"did not get as far as the name of {few(waiting)}")
    return f"a run that was cut short has {', and '.join(parts)}"


def _strange(strangers: Sequence[Stranger]) -> Iterator[Finding]:
    """Copies one by one, all others together: those that the machine would list are a warning."""
    rest = []
    for stranger in strangers:
        name, severity = stranger.name, Severity.WARN if stranger.listed else Severity.NOTE
        if stranger.twin_of is not None:
            what = f"{name} on the card differs from {stranger.twin_of} by capitals only"
            yield Finding.of("card-name-capitals", what, remedy=f"take {name} off the card")
        elif stranger.copy_of:
            what = f"{name} on the card is a copy of {few(stranger.copy_of)}"
            yield Finding.of("card-file-copied", what, severity=severity)
        else:
            rest.append(stranger)
    for severity, listed in ((Severity.WARN, True), (Severity.NOTE, False)):
        names = [stranger.name for stranger in rest if stranger.listed is listed]
        if names:
            what = f"not on the list of the card: {few(names)}"
            yield Finding.of("card-stranger", what, severity=severity)
