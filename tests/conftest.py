"""For all tests: generated cases may take the time that a busy machine needs."""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("headrace", deadline=None)
settings.load_profile("headrace")
