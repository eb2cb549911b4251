"""The script and the style of the interactive view, as they stand in the page."""

from __future__ import annotations

from base64 import b64encode
from functools import cache
from hashlib import sha256


@cache
def view_script() -> str:
    """The script, for one `<script>` element at the page's end."""
    return _text("view.js")


@cache
def view_style() -> str:
    """The style of what the script adds, and of nothing else."""
    return _text("view.css")


@cache
def script_hash() -> str:
    """What a content security policy names the script by: `sha256-` and the digest in base64
    (Content Security Policy Level 3, 2.3.1)."""
    digest = sha256(view_script().encode("utf-8")).digest()
    return f"sha256-{b64encode(digest).decode('ascii')}"


def _text(name: str) -> str:
    from importlib.resources import files

    return files("headrace.sheet.view").joinpath(name).read_text("utf-8")
