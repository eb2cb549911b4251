"""The list that goes with the test files: order, what to do before, what to watch, what to answer.
Plain ASCII in short lines, for any editor and any printer."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from textwrap import wrap

from headrace.interview.draft import Draft
from headrace.interview.trial.file import TrialFile

WIDTH = 76
NAME = "TESTS.TXT"

_BEFORE = (
    "Small files, each of which shows the answer to a question about your machine. They are a"
    " proposal for a trained person to check; you decide whether to start one, and you stay able"
    " to stop the machine for as long as it runs.",
    "Before each of them: the bed is clear, with no sheet and no clamps on it. No bit in the"
    " collet. The spindle's power is off at its plug or main switch. Your hand is on the emergency"
    " stop. Nobody else is near the machine.",
    "No file has a word for the spindle. None moves before you have gone on from three stops."
    " Read a file before you run it.",
    "Run them in this order, and answer after each one: headrace describe with the name of your"
    " machine file. Write the next ones anew when answers have changed.",
    "Before the first one, and whenever a file did not come to its end, switch the machine off and"
    " on. Otherwise it may still count in another way, and the next move by hand or from a file"
    " goes elsewhere.",
    "Before a file that moves something, bring the head by hand to the middle of its travel, on all"
    " axes, with Z well below its top, and above all that is fixed on the bed. Turn the override of"
    " rapids down, if it has one.",
    "EMERGENCY STOP AT ONCE: if something moves and you have not pressed the button; if an axis"
    " goes another way than this list says, or farther, or faster; if Z goes down where it is to go"
    " up.",
    "Every way away from home begins with two steps of 1 mm, each with a stop behind it. Go on only"
    " if it went 1 mm and in the direction that the stop names. A first step of another length or"
    " direction, or a second step that does not come: stop the file, switch off and on, run no"
    " other file that moves, and look into the manual for G91 and G21, and at the answers for"
    " home-ends.",
    "Numbers count from where an axis stands after homing, in mm.",
)


def sheet(
    draft: Draft, files: Iterable[tuple[str, TrialFile]], left_out: Iterable[tuple[str, str]]
) -> bytes:
    """The list of files, by their names on the card; `left_out` are the others, each with why."""
    lines = ["TEST FILES FOR A MACHINE", ""]
    for text in _BEFORE:
        lines += [*_wrapped(text), ""]
    for name, file in files:
        lines += [*_told(name, file, file.stops(draft)), ""]
    if others := list(left_out):
        lines += ["NOT WRITTEN", ""]
        for stem, why in others:
            lines += _wrapped(f"{stem}: {why}", "", "  ")
        lines.append("")
    return "\r\n".join(lines).encode("ascii")


def _told(name: str, file: TrialFile, stops: Sequence[str]) -> Iterator[str]:
    yield f"{name}  {file.title}"
    moves = [f"{axis} {most:g} mm" for axis, most in file.reach.items() if most]
    if not file.moves:
        yield "  Nothing moves."
    elif moves:
        yield f"  Goes away from home at most: {', '.join(moves)}."
    else:
        yield "  Goes 2 mm in X from where it stands, homes, and moves no farther."
    counted = (" / ".join(f"{number} {text}" for number, text in enumerate(stops, 1)),)
    for mark, texts in (
        ("before", file.prepare),
        ("stops", counted),
        ("watch", file.watch),
        ("then", file.told),
    ):
        for text in texts:
            yield from _wrapped(text, f"  {mark + ':':<8} ", " " * 11)


def _wrapped(text: str, first: str = "", others: str = "") -> list[str]:
    return wrap(text, WIDTH, initial_indent=first, subsequent_indent=others, break_on_hyphens=False)
