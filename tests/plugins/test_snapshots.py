"""What each transform that rewrites a job does to the demo jobs, on all three machines.

A snapshot has, for each job, how many lines changed, the first of them, and the hash of the result;
or why the job was refused. Read a changed one as an operator would.
"""

from __future__ import annotations

import difflib
import hashlib
from collections.abc import Iterator
from typing import Any

import pytest
from plugins.shop import DEMO, MACHINES, job, through
from syrupy.assertion import SnapshotAssertion

from headrace import JobRefused

FIRST = 8
LACKING: dict[str, dict[str, Any]] = {
    "spindle-scale": {"spindle/numbers": [[0, 0], [255, 30000]]},
    "dwell-unit": {"dwell": "milliseconds"},
    "adapt": {
        "arcs": {"forms": ["centre"], "planes": ["G17"], "helix": False},
        "cycles": [],
        "units": ["mm"],
        "decimals": 3,
        "rapid-feed": "word",
    },
}
"""What a machine must lack for a step to have something to do."""

STEPS: dict[str, dict[str, Any]] = {
    "absolute": {},
    "adapt": {},
    "arcs-to-lines": {"which": "all", "tolerance": 0.05},
    "cycles-to-moves": {"which": "all"},
    "decimals": {"places": 1, "point": "always"},
    "dwell-unit": {},
    "expand-calls": {},
    "feed-limits": {"most": 700, "plunge": 250},
    "lines-to-arcs": {"tolerance": 0.02},
    "optional-lines": {},
    "outputs": {"means": {"M8": "extraction"}, "drop": ["M8", "M9"]},
    "plain-numbers": {},
    "rapid-feed": {"words": True},
    "safe-words": {"drop": ["G40", "G49", "G64", "G80", "T", "M48"]},
    "short-lines": {},
    "spindle-scale": {},
    "split-tools": {},
    "units": {"to": "inch"},
    "work-offset": {"to": "none"},
}


def told(name: str, machine: str) -> Iterator[str]:
    """What becomes of each job."""
    for path in DEMO:
        source = job(path.read_bytes(), machine, changes=LACKING.get(name), assume="mm")
        try:
            done = through(source, (name, STEPS[name]))
        except JobRefused as error:
            finding = error.findings[0]
            yield f"{path.name}: refused, {finding.name}: {finding.what}"
            continue
        was, now = ([line.text for line in each.program] for each in (source, done))
        rows = [
            row
            for row in difflib.unified_diff(was, now, n=0, lineterm="")
            if not row.startswith(("---", "+++", "@@"))
        ]
        digest = hashlib.sha256(done.program.to_bytes()).hexdigest()[:16]
        yield f"{path.name}: {len(rows)} rows, {digest}"
        yield from (f"    {row}" for row in rows[:FIRST])


@pytest.mark.parametrize("machine", MACHINES)
@pytest.mark.parametrize("name", STEPS)
def test_demo_jobs(name: str, machine: str, snapshot: SnapshotAssertion) -> None:
    assert "\n".join(told(name, machine)) == snapshot
