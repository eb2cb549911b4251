"""For all tests: generated cases may take the time that a busy machine needs.

They are new ones at each run. Where `HEADRACE_CASES` is `same`, as in `.ci/run`, they are the same
ones each time: what comes out is then about the change, and not about luck.

Recipes of the tests run their Python files without being asked (`HEADRACE_PYTHON`), also in the
processes that tests start; what is trusted by whoever runs the tests is not looked at.
"""

from __future__ import annotations

import os

from hypothesis import settings

settings.register_profile(
    "headrace", deadline=None, derandomize=os.environ.get("HEADRACE_CASES") == "same"
)
settings.load_profile("headrace")

os.environ["HEADRACE_PYTHON"] = "any"
