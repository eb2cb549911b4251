"""How the page looks, as far as its style sheet tells: contrast, sizes, paper."""

from __future__ import annotations

import re
from importlib.resources import files

import pytest

CSS = files("headrace.sheet").joinpath("templates", "page.css").read_text("utf-8")
TEXT = 7.0
"""WCAG 2.2, 1.4.6 Contrast (Enhanced)."""
LINE = 3.0
"""WCAG 2.2, 1.4.11 Non-text Contrast."""


def block(css: str, selector: str) -> str:
    """What stands in the braces behind the first place of a selector, braces within it too."""
    start = css.index("{", css.index(selector)) + 1
    depth = 1
    for at in range(start, len(css)):
        depth += {"{": 1, "}": -1}.get(css[at], 0)
        if not depth:
            return css[start:at]
    raise AssertionError(f"{selector} is not closed")


def colours(css: str) -> dict[str, str]:
    return dict(re.findall(r"--([a-z]+):\s*(#[0-9a-f]{6});", css))


LIGHT = colours(block(CSS, ":root"))
DARK = colours(block(CSS, "@media screen and (prefers-color-scheme: dark)"))


def luminance(colour: str) -> float:
    """WCAG 2.2, relative luminance."""
    channels = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """WCAG 2.2, contrast ratio."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_the_formula_by_its_ends() -> None:
    """WCAG 2.2: black on white is 21:1, a colour on itself 1:1."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#767676", "#767676") == 1
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)


@pytest.mark.parametrize("theme", [LIGHT, DARK], ids=["light", "dark"])
@pytest.mark.parametrize(
    ("front", "behind", "least"),
    [
        ("ink", "paper", TEXT),
        ("soft", "paper", TEXT),
        ("grave", "paper", TEXT),
        ("ink", "mark", TEXT),
        ("ink", "wait", TEXT),
        ("line", "paper", LINE),
    ],
)
def test_contrast(theme: dict[str, str], front: str, behind: str, least: float) -> None:
    assert contrast(theme[front], theme[behind]) >= least


def test_both_themes_have_every_colour_and_no_other_stands_in_the_rules() -> None:
    assert LIGHT.keys() == DARK.keys()
    used = set(re.findall(r"var\(--([a-z]+)\)", CSS))
    assert used == set(LIGHT)
    rules = re.sub(r"--[a-z]+:[^;]*;", "", CSS)
    assert not re.findall(r"#[0-9a-fA-F]{3,8}\b|rgb|hsl", rules)


def test_print_is_light_whatever_the_screen_is() -> None:
    dark = [at.start() for at in re.finditer("prefers-color-scheme: dark", CSS)]
    assert [CSS[at - len("@media screen and (") : at] for at in dark] == ["@media screen and ("]


def test_no_letters_are_small() -> None:
    """12 pt are 16 px, 14 pt are 18.7 px (CSS Values 4, 6.2: 1 pt is 4/3 px)."""
    sizes = re.findall(r"(?:font-size:|font:)\s*([\d.]+)(rem|pt|%|em|px)", CSS)
    assert sizes
    for size, unit in sizes:
        points = float(size) * {"rem": 12, "em": 12, "pt": 1, "%": 0.12, "px": 0.75}[unit]
        assert points >= 12
    for warned in ("\n.rs-warn, .rs-refuse {", "\n.rs-what {", "\n.rs-first {"):
        (size,) = re.findall(r"font-size: ([\d.]+)rem", block(CSS, warned))
        assert float(size) * 12 >= 14


def test_paper_is_any() -> None:
    """No size of paper is asked for, and what must stay whole does."""
    assert "size" not in block(CSS, "@page")
    for whole in (".hr-figure > svg {", ".rs-finding {", "\ntr {", ".rs-checks > li {"):
        assert "break-inside: avoid" in block(CSS, whole)
    assert "table-header-group" in block(CSS, "\nthead {")


def test_motion_can_be_left_out() -> None:
    assert "transition: none" in block(CSS, "prefers-reduced-motion: reduce")
