"""Texts that lie in the package, with their gaps filled in."""

from __future__ import annotations

from importlib.resources import files
from string import Template


def filled(template: str, **values: str) -> str:
    """A text of `templates/`; KeyError where a gap stays open."""
    text = files("headrace.scaffold").joinpath("templates", template).read_text("utf-8")
    return Template(text).substitute(values)
