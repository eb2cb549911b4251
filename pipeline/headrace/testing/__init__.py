"""For authors of transforms: does mine keep what it promises? The second public door.

`conforms` tries a transform on a thousand odd and made-up jobs; `alike` holds a quick one against a
plain one; `Bench` puts a job of a few lines through some steps, for examples of one's own. With
pytest, `headrace_transforms = my_steps.py` in its configuration tries them without a line of test.
Names are loaded when they are first used.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from headrace.doors import behind

if TYPE_CHECKING:
    from headrace.testing.bench import Bench, Tried
    from headrace.testing.conformance import alike, conforms
    from headrace.testing.job_files import job_files
    from headrace.testing.loading import transforms_of
    from headrace.testing.shops import SHOPS

_HOMES = {
    "headrace.testing.bench": "Bench Tried",
    "headrace.testing.conformance": "alike conforms",
    "headrace.testing.job_files": "job_files",
    "headrace.testing.loading": "transforms_of",
    "headrace.testing.shops": "SHOPS",
}
_LEAVING: dict[str, str] = {}
"""Names that go with the next minor version, each with what to do instead."""

__all__ = ["SHOPS", "Bench", "Tried", "alike", "conforms", "job_files", "transforms_of"]


def __getattr__(name: str) -> object:
    return behind(__name__, name, _HOMES, _LEAVING)


def __dir__() -> list[str]:
    return sorted(__all__)
