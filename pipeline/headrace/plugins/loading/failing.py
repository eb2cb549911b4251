"""Transforms that fail while they work on a job: whose code, where in it, and at which line."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Any

from headrace.errors import HeadraceError, JobRefused, PluginError
from headrace.findings import Finding, Place
from headrace.plugins.loading.faults import in_words
from headrace.plugins.loading.own_code import frames_of_error, place_of_code, place_of_error
from headrace.plugins.outcome import Part
from headrace.plugins.transform import Transform
from headrace.program import Line, Program

_WANTED = {
    "edits": "yield edits, or return a list of them",
    "parts": "return a list of parts",
    "steps": "be a generator that yields `Use`",
}


def failure(
    step: str,
    transform: Transform,
    home: Path | None,
    program: Program,
    error: BaseException,
    place: Place | None,
) -> HeadraceError:
    """What to raise where the code of a transform has raised `error` as it worked on a job, which
    stands as `program` tells. `home` is where that code is, `place` where the recipe names it.

    Where the transform says itself what is wrong, that is a refusal of the job.
    """
    code = getattr(transform.apply, "__code__", None)
    if home is None and code is not None:
        home = Path(code.co_filename)
    if isinstance(error, JobRefused):
        what = f"step `{step}` refuses the job: {error.message}"
        return JobRefused(findings=[Finding.of("step-unsure", what, place)])
    own = place_of_error(error, home) or (None if code is None else place_of_code(code))
    said = f"it is of {transform.provider or 'no plugin'}{_at(error, home, program)}"
    what = f"step `{step}` failed: {in_words(error)}; {said}"
    return PluginError(findings=[Finding.of("step-failed", what, own or place)])


def need_iterable(transform: Transform, given: Any) -> None:
    """Raise TypeError where that is nothing which such a transform may give."""
    wanted = f"it must {_WANTED[transform.gives]}"
    fits = hasattr(given, "send") if transform.gives == "steps" else isinstance(given, Iterable)
    if not fits or isinstance(given, (str, bytes)):
        raise TypeError(f"it gives {_told(given)}: {wanted}")
    if transform.gives == "parts" and isinstance(given, (list, tuple)):
        for each in given:
            if not isinstance(each, Part):
                raise TypeError(f"it gives {_told(each)} in its list: {wanted}")


def _told(value: object) -> str:
    return "None" if value is None else f"a value of the type {type(value).__name__}"


def _at(error: BaseException, home: Path | None, program: Program) -> str:
    """The line of the job that the code was at; nothing where none of its variables holds it."""
    for frame in frames_of_error(error, home):
        lines = [value for value in frame.f_locals.values() if type(value) is Line]
        if lines:
            origin = lines[-1].origin
            if origin is not None:
                return f", and was at line {origin + 1} of {program.name}"
            return f", and was at a line that a step added to {program.name}"
    return ""
