"""The page: one whole file, in order, for every reader."""

from __future__ import annotations

import hashlib
import re
from base64 import b64encode
from dataclasses import replace
from itertools import pairwise

import pytest
from workshop.markup import Element, dangling, outside, parsed
from workshop.sheets import BARE, NOTHING, SHEET

from headrace.sheet.page import page

ONE = replace(NOTHING, files=(BARE,))
SHEETS = [SHEET, NOTHING, ONE]


@pytest.fixture(scope="module")
def tree() -> Element:
    return parsed(page(SHEET))


@pytest.fixture(params=SHEETS, ids=["full", "nothing", "one"], scope="module")
def any_tree(request: pytest.FixtureRequest) -> Element:
    return parsed(page(request.param))


# --- one file -----------------------------------------------------------------------------------


def test_nothing_outside_is_named(any_tree: Element) -> None:
    assert outside(any_tree) == []
    assert not [each for each in any_tree.all() if "style" in each.attributes], "see the policy"
    addresses = set(re.findall(r"[a-z]+://[^\s\"'<]+", page(SHEET).decode()))
    assert addresses <= {"http://www.w3.org/2000/svg", "http://www.w3.org/1999/xlink"}


@pytest.mark.parametrize(
    ("put_in", "found"),
    [
        ('<img src="x.png">', 2),
        ('<a href="http://example.com">x</a>', 1),
        ('<p onclick="go()">x</p>', 1),
        ('<svg><use xlink:href="y.svg#a"/></svg>', 1),
        ('<rect fill="url(z.svg#b)"/>', 1),
        ("<style>@import 'a.css'; p { background: url( 'b.png') }</style>", 2),
        ('<rect fill="url(#b)"/>', 0),
        ('<a href="#sheet">x</a>', 0),
    ],
)
def test_what_leads_outside_would_be_seen(put_in: str, found: int) -> None:
    assert len(outside(parsed(put_in.encode()))) == found


@pytest.mark.parametrize(
    ("put_in", "found"),
    [
        ('<p id="a"></p><p id="a"></p>', ["a", "a"]),
        ('<a href="#b">x</a>', ["b"]),
        ('<p aria-labelledby="c d" id="d"></p>', ["c"]),
        ('<rect fill="url(#e)"/>', ["e"]),
        ('<p id="f"></p><a href="#f">x</a>', []),
    ],
)
def test_what_leads_nowhere_would_be_seen(put_in: str, found: list[str]) -> None:
    assert dangling(parsed(put_in.encode())) == found


def test_the_policy_lets_through_what_stands_there_and_nothing_else(any_tree: Element) -> None:
    """Content Security Policy Level 3, 2.3.1 and 6.7.3.3: base64 of the SHA-256 of the text."""
    metas = [meta.attributes for meta in any_tree.all("meta")]
    (policy,) = [
        meta["content"] for meta in metas if meta.get("http-equiv") == "Content-Security-Policy"
    ]
    rules = dict(rule.split(None, 1) for rule in policy.split("; "))

    def source(element: Element) -> str:
        digest = hashlib.sha256(element.text.encode()).digest()
        return f"'sha256-{b64encode(digest).decode()}'"

    (style,) = any_tree.all("style")
    scripts = [each for each in any_tree.all("script") if "type" not in each.attributes]
    assert rules == {
        "default-src": "'none'",
        "style-src": source(style),
        "script-src": source(scripts[0]),
        "base-uri": "'none'",
        "form-action": "'none'",
    }
    assert len(scripts) == 1
    before = page(SHEET).decode().partition("Content-Security-Policy")[0]
    assert "<style" not in before
    assert "<script" not in before


def test_head(tree: Element) -> None:
    metas = [meta.attributes for meta in tree.all("meta")]
    named = {meta["name"]: meta["content"] for meta in metas if "name" in meta}

    assert tree.one("html").attributes["lang"] == "en"
    assert {"charset": "utf-8"} in metas
    assert named["generator"] == "headrace"
    assert named["referrer"] == "no-referrer"
    assert "width=device-width" in named["viewport"]
    assert "user-scalable" not in named["viewport"]
    assert "maximum-scale" not in named["viewport"]
    assert tree.one("head").one("title").text == "Run sheet: Lids on the bench machine"
    assert page(SHEET).startswith(b"<!DOCTYPE html>\n")
    assert page(SHEET).index(b"charset") < 1024, "HTML Standard, 4.2.5.4"


def test_the_files_that_it_tells_of_are_named_for_programs(tree: Element) -> None:
    metas = [meta.attributes for meta in tree.all("meta")]
    told = [meta["content"] for meta in metas if meta.get("name") == "headrace-file"]

    assert told == [f"{f.content.sha256} {f.content.size} {f.name}" for f in SHEET.files]


def test_the_same_facts_make_the_same_bytes() -> None:
    assert page(SHEET) == page(SHEET)


# --- in order -----------------------------------------------------------------------------------


def test_headings_go_down_step_by_step(any_tree: Element) -> None:
    levels = [int(each.tag[1]) for each in any_tree.all("h1", "h2", "h3", "h4", "h5", "h6")]

    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after <= before + 1 for before, after in pairwise(levels))
    assert all(each.read for each in any_tree.all("h1", "h2", "h3", "h4"))


def test_sections_in_order(tree: Element) -> None:
    assert [each.read for each in tree.all("h2")] == [
        "Before you start",
        "How the sheet lies",
        "Run in this order",
        "1 LID.NC",
        "2 HANDHOLD.NC",
        "3 BARE2.NC",
        "Not on the card",
        "Notes on the run",
        "Cautions",
        "How to read the drawings",
    ]
    file = next(each for each in tree.all("section") if each.attributes.get("id") == "file-1")
    assert [each.read.removesuffix(" LID.NC") for each in file.all("h3")] == [
        "Where it cuts",
        "What it does",
        "How it is written",
        "Where it waits for you",
        "Bits",
        "How far it goes",
        "How long it takes",
        "What was proved, and the file itself",
    ]


def test_names_are_there_once_and_references_lead_to_them(any_tree: Element) -> None:
    assert dangling(any_tree) == []


def test_landmarks_and_a_way_past_the_head(any_tree: Element) -> None:
    body = any_tree.one("body")
    first = next(body.all("a"))

    assert first.attributes["href"] == "#" + body.one("main").attributes["id"]
    assert len(list(body.all("header"))) == len(list(body.all("footer"))) == 1
    for section in body.all("section"):
        assert section.attributes["aria-labelledby"]


def test_tables_have_captions_and_heads(tree: Element) -> None:
    tables = list(tree.all("table"))
    assert len(tables) == 1 + 2 * 2
    for table in tables:
        assert table.one("caption").read
        assert all(head.attributes["scope"] in {"col", "row"} for head in table.all("th"))
        columns = len(list(table.one("thead").all("th", "td")))
        for row in table.one("tbody").all("tr"):
            assert len(list(row.all("th", "td"))) == columns
            assert next(row.all("th", "td")).tag == "th"


def test_what_may_be_too_wide_can_be_reached_by_key_and_has_a_name(tree: Element) -> None:
    regions = [each for each in tree.all("div") if each.attributes.get("class") == "rs-wide"]
    assert regions
    for region in regions:
        assert region.attributes["tabindex"] == "0"
        assert region.attributes["role"] == "region"
        assert region.attributes["aria-labelledby"]


def test_boxes_to_tick(tree: Element) -> None:
    """One for each check and each pause, in a label; the browser does not remember last time's."""
    boxes = list(tree.all("input"))
    labels = [label for label in tree.all("label") if list(label.all("input"))]

    assert len(boxes) == len(labels) == 2 + 3 * 2
    assert {tuple(sorted(box.attributes.items())) for box in boxes} == {
        (("autocomplete", "off"), ("type", "checkbox"))
    }
    assert all(label.read for label in labels)


def test_the_view_finds_its_file_and_its_track(tree: Element) -> None:
    sections = [
        each for each in tree.all("section") if "hr-file" in each.attributes.get("class", "")
    ]
    assert [each.attributes["id"] for each in sections] == ["file-1", "file-2", "file-3"]
    for number, section in enumerate(sections[:2], start=1):
        figures = [
            each.attributes["data-view"]
            for each in section.all("figure")
            if each.attributes["class"] == "hr-figure"
        ]
        assert figures == ["top", "side"]
        (controls,) = [
            each for each in section.all("div") if each.attributes.get("class") == "hr-controls"
        ]
        assert "hidden" in controls.attributes
        track = section.one("script")
        assert section.attributes["data-track-id"] == track.attributes["id"] == f"track-{number}"
        assert track.attributes["type"] == "application/octet-stream"
        assert track.text == "AQIDBA=="
    assert "data-track-id" not in sections[2].attributes
    assert not list(sections[2].all("script", "figure"))
