"""A job made shorter, as long as the same thing is wrong with it."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace

from headrace.testing.case import Case

_TRIES = 300


def shortened(
    case: Case, fault_of: Callable[[Case], str | None], spare: Iterable[str] = ()
) -> tuple[Case, str]:
    """The case with as few lines as can be found, and what is wrong with it. Lines go by halves,
    quarters and so on, and what is left must still be a job that a run would take. `spare` are
    options that may go too."""
    if fault_of(case) is None:  # it shows elsewhere only
        return case, ""
    for name in spare:
        options = {key: value for key, value in case.options.items() if key != name}
        if len(options) < len(case.options) and fault_of(replace(case, options=options)):
            case = replace(case, options=options)
    lines = case.data.splitlines(keepends=True)
    fault = fault_of(case) or ""
    tries, size = 0, max(1, len(lines) // 2)
    while lines and tries < _TRIES:
        at, gone = 0, False
        while at < len(lines) and tries < _TRIES:
            tries += 1
            fewer = lines[:at] + lines[at + size :]
            shorter = case.with_data(b"".join(fewer))
            found = fault_of(shorter) if shorter.is_sound() else None
            if found is None:
                at += size
            else:
                lines, case, fault, gone = fewer, shorter, found, True
        if size == 1 and not gone:
            break
        size = max(1, size // 2)
    return case, fault
