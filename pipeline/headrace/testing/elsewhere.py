"""The same cases in another process, whose sets and hashes are in another order.

`python -m headrace.testing.elsewhere` reads one line of JSON and prints a digest for each case.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Iterator, Sequence
from hashlib import sha256
from pathlib import Path
from typing import Any

from headrace.plugins import Transform
from headrace.testing.case import Case
from headrace.testing.loading import transforms_of
from headrace.testing.shops import shops
from headrace.testing.subject import Made, Subject, code_of

_SEEDS = ("1", "2")
"""Two orders of the same small set are hardly ever equal in both."""


def made_elsewhere(transform: Transform, cases: Sequence[Case]) -> Iterator[list[str]]:
    """For each of two other processes the digests of what a transform makes of some cases; none at
    all where neither its module nor its file can be loaded there."""
    told = {
        "offered": [
            transform.apply.__module__,
            str(Path(code_of(transform).co_filename).resolve()),
        ],
        "name": transform.name,
        "cases": [_told(case) for case in cases],
    }
    for seed in _SEEDS:
        done = subprocess.run(
            [sys.executable, "-m", __name__],
            input=json.dumps(told),
            env={**os.environ, "PYTHONHASHSEED": seed, "PYTHONPATH": os.pathsep.join(sys.path)},
            capture_output=True,
            text=True,
            check=False,
        )
        if done.returncode:
            return
        yield done.stdout.split()


def digest(made: Made) -> str:
    """What tells two results apart, short."""
    return sha256(repr(made.key).encode()).hexdigest()[:16]


def _told(case: Case) -> dict[str, Any]:
    plan = case.shop.plan
    return {
        "data": case.data.decode("latin-1"),
        "machine": [str(path.resolve()) for path in plan.sources],
        "options": dict(case.options),
        "part": case.part,
    }


def _found(offered: Sequence[str], name: str) -> Transform | None:
    """The transform of a name in the first of some modules and files that can be loaded."""
    for each in offered:
        try:
            return next(found for found in transforms_of(each) if found.name == name)
        except (Exception, SystemExit):
            continue
    return None


def _main() -> int:
    told = json.load(sys.stdin)
    found = _found(told["offered"], told["name"])
    if found is None:
        return 1
    subject = Subject.of(found)
    for each in told["cases"]:
        machine, *setup = each["machine"]
        (shop,) = shops([(machine, setup[0]) if setup else machine])
        case = Case("", each["data"].encode("latin-1"), shop, each["options"], each["part"])
        print(digest(subject.made_quickly(case.job(), case)))
    return 0


if __name__ == "__main__":
    sys.exit(_main())
