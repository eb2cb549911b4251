"""What a person sees of a page, measured: text, lines, labels, targets, focus.

Outside references: WCAG 2.2, relative luminance and contrast ratio (the definitions there), and the
browser's own computed styles and boxes.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations
from pathlib import Path
from typing import Any

from playwright.sync_api import Page

_PROBES = (Path(__file__).parent / "probes.js").read_text("utf-8")
_SOURCE = _PROBES[_PROBES.index("(() =>") :].rstrip()

Box = Sequence[float]
"""Left, top, right, bottom."""


def probe(page: Page, name: str) -> Any:
    """What a function of `probes.js` says of a page as it is now."""
    return page.evaluate(f"() => {_SOURCE}.{name}()")


def luminance(colour: Sequence[float]) -> float:
    """WCAG 2.2, relative luminance, of a colour of sRGB (0 to 255)."""
    red, green, blue = (
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4
        for part in (value / 255 for value in colour)
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: Sequence[float], other: Sequence[float]) -> float:
    """WCAG 2.2, contrast ratio: 1 to 21."""
    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def faint(found: Sequence[dict[str, Any]], least: float) -> list[str]:
    """Texts or lines whose contrast is less than that."""
    ratios = [(contrast(one["ink"], one["ground"]), one) for one in found]
    return [
        f"{ratio:.2f}:1 {one['where']} {one.get('text', '')}".rstrip()
        for ratio, one in ratios
        if ratio < least - 0.005
    ]


def overlapping(
    texts: Sequence[dict[str, Any]], across: float = 1, down: float = 3
) -> Iterator[str]:
    """Pairs of texts whose boxes lie over one another by more than that (px) both ways: a line's
    box is higher than its letters by a fifth and more."""
    for one, other in combinations(texts, 2):
        (a, b, c, d), (e, f, g, h) = one["box"], other["box"]
        if min(c, g) - max(a, e) > across and min(d, h) - max(b, f) > down:
            yield f"{one['text']!r} over {other['text']!r}"


def accessible(page: Page) -> list[dict[str, str]]:
    """Role and name of everything that the browser tells screen readers of (its own computing of
    names, after the W3C's Accessible Name and Description Computation)."""
    session = page.context.new_cdp_session(page)
    nodes = session.send("Accessibility.getFullAXTree")["nodes"]
    session.detach()
    return [
        {"role": node["role"]["value"], "name": node.get("name", {}).get("value", "")}
        for node in nodes
        if not node.get("ignored")
    ]
