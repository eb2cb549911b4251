"""The script and the style of the interactive view, as they stand in the page."""

from __future__ import annotations

from functools import cache


@cache
def view_script() -> str:
    """The script, for one `<script>` element at the page's end."""
    return _text("view.js")


@cache
def view_style() -> str:
    """The style of what the script adds, and of nothing else."""
    return _text("view.css")


def _text(name: str) -> str:
    from importlib.resources import files

    return files("headrace.sheet.view").joinpath(name).read_text("utf-8")
