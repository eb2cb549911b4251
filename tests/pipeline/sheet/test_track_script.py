"""The script and the style of the interactive view, as a page may hold them."""

from __future__ import annotations

import re

import pytest

from headrace.sheet.view.script import view_script, view_style


def test_the_script_is_small_and_whole() -> None:
    script = view_script()
    assert len(script.encode("utf-8")) < 25 * 1024
    assert script.startswith('"use strict";')
    assert script.rstrip().endswith("})();")


@pytest.mark.parametrize("text", [view_script(), view_style()], ids=["script", "style"])
def test_nothing_in_them_leads_out_of_the_page(text: str) -> None:
    # what is no place to fetch from: the name of the SVG namespace
    told = text.replace("http://www.w3.org/2000/svg", "")
    for word in ("http", "//", "@import", "url(", "fetch(", "XMLHttp", "WebSocket", "import("):
        assert word not in told
    for word in ("eval(", "Function(", "innerHTML", "outerHTML", "document.write", "localStorage"):
        assert word not in told


@pytest.mark.parametrize("text", [view_script(), view_style()], ids=["script", "style"])
def test_nothing_in_them_ends_its_element(text: str) -> None:
    """HTML Living Standard, 13.2.5.17 and 4.12.1.3: what a script element may not hold."""
    assert not re.search(r"</(script|style)|<!--|<script", text, re.IGNORECASE)


def test_every_class_of_the_style_is_ours() -> None:
    classes = re.findall(r"\.(-?[A-Za-z_][\w-]*)", re.sub(r"\{[^}]*\}", "{}", view_style()))
    assert classes
    assert {name for name in classes if not name.startswith("hr-")} == set()
