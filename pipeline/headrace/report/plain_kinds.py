"""Kinds of findings as plain data: what `headrace explain` tells."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

from headrace.findings import Kind
from headrace.report.explain_text import AREAS
from headrace.report.plain import Data

if TYPE_CHECKING:
    from headrace.findings.example import Example


def explain_data(
    kinds: Iterable[Kind],
    example: Example | None = None,
    said: Sequence[str] = (),
    written: Iterable[str] = (),
) -> Data:
    """Kinds; where it is one, its `example` and what headrace says to the failing half of it.
    `written` says where its two workshops were laid, and what to run there."""
    return {
        "format": "headrace-explain/1",
        "exit-code": 0,
        "findings": [],
        "kinds": [_kind(kind) for kind in kinds],
        "example": None if example is None else _example(example, said),
        "written": list(written),
    }


def _kind(kind: Kind) -> Data:
    return {
        "id": kind.id,
        "name": kind.name,
        "severity": str(kind.severity),
        "area": AREAS[kind.id[2]],
        "why": kind.why,
        "remedy": kind.remedy,
    }


def _example(example: Example, said: Sequence[str]) -> Data:
    halves = zip((example.failing, example.mended), example.runs, example.shown, strict=True)
    failing, mended = (
        {
            "run": f"headrace {run}",
            "shown": shown or None,
            "files": _differing(files, example.base),
        }
        for files, run, shown in halves
    )
    return {
        "meaning": " ".join(example.meaning.split()),
        "workshop": example.workshop,
        "failing": failing,
        "mended": mended,
        "said": list(said),
    }


def _differing(files: Mapping[str, bytes], base: Mapping[str, bytes]) -> list[Data]:
    """The files that are not those of the workshop it is laid over, as text."""
    return [
        {"name": name, "text": content.decode("utf-8", "backslashreplace")}
        for name, content in sorted(files.items())
        if base.get(name) != content
    ]
