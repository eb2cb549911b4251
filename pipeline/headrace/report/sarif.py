"""Findings as a log in the form of SARIF 2.1.0 (OASIS, with errata 01), for other tools to show.

Columns count code points, URIs are relative to the folder in which the command was run. Hosts that
show such logs take 25,000 results of a run at most (common practice): what is beyond is counted.
"""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from headrace import __version__
from headrace.findings import CATALOGUE, Finding, Kind, Severity

if TYPE_CHECKING:
    from headrace.batch import JobFile, Prepared
    from headrace.recipe import Plan

SCHEMA = (
    "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"
)
MOST_RESULTS = 25_000

_ROOT = "%SRCROOT%"
_LEVELS = {Severity.REFUSE: "error", Severity.WARN: "warning", Severity.NOTE: "note"}
_GRAVITY = tuple(_LEVELS)
_UNSUCCESSFUL = frozenset((2, 70, 130, 143))
"""Exit codes of runs that did not come to an answer."""


@dataclass(frozen=True, slots=True)
class Told:
    """A finding and the file that it is about: `path` as given, None where there is none.
    `placed` tells that its place, if any, is in this file."""

    finding: Finding
    path: str | None
    placed: bool = True


def told_of(findings: Iterable[Finding]) -> list[Told]:
    """Findings about recipes, machines, set-ups and plugins, whose places name their files."""
    return [
        Told(finding, finding.place.file if finding.place else None)
        for finding in dict.fromkeys(findings)
    ]


def told_in(prepared: Prepared, jobs: Sequence[JobFile], plan: Plan) -> list[Told]:
    """All findings of a run. A job's name becomes its path; a card file that the recipe makes is
    told of at the recipe."""
    paths = {name: str(job.path) for job in jobs for name in (job.name, job.whole) if name}
    made = {card_file.name for card_file in plan.card_files}
    found = [Told(each, *_where(each, str(plan.recipe), paths, made)) for each in prepared.findings]
    for file in prepared.files:
        name = file.record.name
        home = paths.get(name) or _whole_of(name, paths) or str(plan.recipe)
        found += [Told(each, *_where(each, home, paths, made)) for each in file.record.findings]
    return list(dict.fromkeys(found))


def _where(
    finding: Finding, home: str, paths: Mapping[str, str], made: frozenset[str] | set[str]
) -> tuple[str, bool]:
    if finding.place is None or finding.place.file in made:
        return home, False
    return paths.get(finding.place.file, finding.place.file), True


def _whole_of(name: str, paths: Mapping[str, str]) -> str | None:
    """The path of the job that `lid-1.nc` is a part of."""
    part = Path(name)
    stem = part.stem.rpartition("-")[0].removesuffix("-bit")
    return paths.get(str(part.with_stem(stem))) if stem else None


def sarif_log(told: Sequence[Told], exit_code: int, said: str = "") -> dict[str, Any]:
    """The log of one run. `said` is what ended it, in words; empty where it came to its end."""
    gravest = sorted(told, key=lambda each: _GRAVITY.index(each.finding.severity))
    kept = gravest[:MOST_RESULTS]
    names = sorted({each.finding.name for each in kept}, key=lambda name: CATALOGUE[name].id)
    notifications = [_notification("error", said)] if said else []
    if left := len(gravest) - len(kept):
        lost = f"{left} findings more were left out: a log holds {MOST_RESULTS} at most"
        notifications.append(_notification("warning", lost))
    return {
        "$schema": SCHEMA,
        "version": "2.1.0",
        "runs": [
            {
                "tool": {
                    "driver": {
                        "name": "headrace",
                        "version": __version__,
                        "rules": [_rule(CATALOGUE[name]) for name in names],
                    }
                },
                "columnKind": "unicodeCodePoints",
                "originalUriBaseIds": {
                    _ROOT: {"description": {"text": "The folder in which headrace was run."}}
                },
                "invocations": [
                    {
                        "executionSuccessful": exit_code not in _UNSUCCESSFUL,
                        "exitCode": exit_code,
                        "toolExecutionNotifications": notifications,
                    }
                ],
                "results": _results(kept, {name: index for index, name in enumerate(names)}),
            }
        ],
    }


def _rule(kind: Kind) -> dict[str, Any]:
    short = kind.name.replace("-", " ").capitalize()
    return {
        "id": kind.id,
        "name": kind.name,
        "shortDescription": {"text": f"{short}."},
        "fullDescription": {"text": kind.why or f"{short}."},
        "help": {"text": kind.remedy or f"See `headrace explain {kind.name}`."},
        "defaultConfiguration": {"level": _LEVELS[kind.severity]},
    }


def _notification(level: str, text: str) -> dict[str, Any]:
    return {"level": level, "message": {"text": text}}


def _results(told: Sequence[Told], rules: Mapping[str, int]) -> list[dict[str, Any]]:
    alike: Counter[str] = Counter()
    results = []
    for each in told:
        finding = each.finding
        key = _likeness(each)
        alike[key] += 1
        result: dict[str, Any] = {
            "ruleId": finding.id,
            "ruleIndex": rules[finding.name],
            "level": _LEVELS[finding.severity],
            "message": {"text": _message(finding)},
            "partialFingerprints": {"headraceFinding/v1": _digest(f"{key}\0{alike[key]}")},
        }
        if each.path is not None:
            result["locations"] = [{"physicalLocation": _location(each, each.path)}]
        if finding.lowered:
            lowered = {"kind": "external", "status": "accepted", "justification": finding.lowered}
            result["suppressions"] = [lowered]
        results.append(result)
    return results


def _message(finding: Finding) -> str:
    return f"{finding.what}\n\nDo: {finding.remedy}" if finding.remedy else finding.what


def _location(told: Told, path: str) -> dict[str, Any]:
    place = told.finding.place
    location: dict[str, Any] = {"artifactLocation": _artifact(path)}
    if told.placed and place is not None:
        region = {
            "startLine": place.line,
            "startColumn": place.column,
            "endColumn": place.column + max(1, place.length),
        }
        if place.excerpt:
            region["snippet"] = {"text": _shown(place.excerpt)}  # type: ignore[assignment]
        location["region"] = region
    return location


def _artifact(path: str) -> dict[str, str]:
    """Where a file is: from the folder of the run where that holds it, else as given."""
    given = Path(path)
    if given.is_absolute():
        here = Path.cwd()
        if not given.is_relative_to(here):
            return {"uri": given.as_uri()}
        given = given.relative_to(here)
    return {"uri": quote(os.fsencode(given.as_posix())), "uriBaseId": _ROOT}


def _likeness(told: Told) -> str:
    """What stays the same when lines above come or go."""
    place = told.finding.place
    text = place.excerpt.strip() if place and place.excerpt else told.finding.what
    file = "" if told.path is None else Path(told.path).name
    return f"{told.finding.id}\0{file}\0{text}"


def _digest(text: str) -> str:
    return sha256(text.encode("utf-8", "backslashreplace")).hexdigest()[:32]


def _shown(text: str) -> str:
    return text.encode("utf-8", "backslashreplace").decode()
