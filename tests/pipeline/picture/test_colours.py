"""Contrast and colour blindness, by published formulas.

Contrast and luminance: WCAG 2.2, definitions of "contrast ratio" and "relative luminance"; at least
3:1 for lines (1.4.11) and 7:1 for text (1.4.6). Colour blindness: the matrices of Machado, Oliveira
and Fernandes (2009) for severity 1.0, on linear RGB (from memory). Lightness: CIE 1976 L*.
"""

from __future__ import annotations

from itertools import combinations, pairwise

import numpy as np
import pytest

from headrace.picture.bench import BIT_DASHES, NUT_DASHES, TRAVEL_DASHES
from headrace.picture.cuts import AIR_DASHES, CUT_DASHES, CUT_WIDTH, RAPID_DASHES
from headrace.picture.depths import Depths
from headrace.picture.palette import DARK, DEPTHS, LIGHT
from headrace.picture.style import plain_style, style

THEMES = pytest.mark.parametrize("theme", [LIGHT, DARK], ids=["light", "dark"])
LINES = ("edge", "clamp", "keep", "rapid", "travel", "plate", "dim", "line")
BANDS = tuple(f"d{step}" for step in range(1, DEPTHS + 1))
BLINDNESS = {
    "none": np.eye(3),
    "protanopia": np.array([[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216],
                            [-0.003882, -0.048116, 1.051998]]),
    "deuteranopia": np.array([[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413],
                              [-0.011820, 0.042940, 0.968881]]),
    "tritanopia": np.array([[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602],
                            [0.004733, 0.691367, 0.303900]]),
}  # fmt: skip


def linear(colour: str) -> np.ndarray:  # type: ignore[type-arg]
    values = np.array([int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)])
    return np.where(values <= 0.04045, values / 12.92, ((values + 0.055) / 1.055) ** 2.4)


def luminance(colour: str, seen: str = "none") -> float:
    rgb = np.clip(BLINDNESS[seen] @ linear(colour), 0, 1)
    return float(rgb @ [0.2126, 0.7152, 0.0722])


def contrast(one: str, other: str) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def lightness(colour: str, seen: str) -> float:
    y = luminance(colour, seen)
    return 116 * y ** (1 / 3) - 16 if y > (6 / 29) ** 3 else y * (29 / 3) ** 3


def test_the_formulas_give_what_is_known_of_them() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.01)  # WCAG's own example
    assert lightness("#ffffff", "none") == pytest.approx(100)


@THEMES
def test_text_is_seen_at_seven_to_one(theme: dict[str, str]) -> None:
    for ground in ("paper", "sheet"):
        assert contrast(theme["ink"], theme[ground]) >= 7


@THEMES
@pytest.mark.parametrize("line", LINES)
def test_lines_are_seen_at_three_to_one(theme: dict[str, str], line: str) -> None:
    for ground in ("paper", "sheet", "board", "reach"):
        assert contrast(theme[line], theme[ground]) >= 3


@THEMES
@pytest.mark.parametrize("band", BANDS)
def test_the_middle_of_a_cut_is_seen_on_its_band(theme: dict[str, str], band: str) -> None:
    assert contrast(theme["line"], theme[band]) >= 3


@THEMES
@pytest.mark.parametrize("seen", BLINDNESS)
def test_depths_are_told_apart_by_lightness_alone(theme: dict[str, str], seen: str) -> None:
    steps = [lightness(theme[band], seen) for band in BANDS]
    gaps = [second - first for first, second in pairwise(steps)]

    assert all(gap < -6 for gap in gaps) or all(gap > 6 for gap in gaps)


def test_all_lines_are_told_apart_by_their_dashes_alone() -> None:
    """In grey print: no two kinds have the same dashes, but for solid ones, whose widths differ."""
    kinds = [*CUT_DASHES, RAPID_DASHES, AIR_DASHES, BIT_DASHES, NUT_DASHES, TRAVEL_DASHES]

    assert len(CUT_DASHES) == DEPTHS
    assert len(set(kinds)) == len(kinds)
    for one, other in combinations((dashes for dashes in kinds if dashes), 2):
        assert abs(sum(one) - sum(other)) >= 0.25 or one[0] / sum(one) != other[0] / sum(other)


def test_cuts_are_wide_enough_to_be_seen() -> None:
    assert CUT_WIDTH >= 0.25  # mm


def test_both_themes_have_the_same_colours() -> None:
    assert LIGHT.keys() == DARK.keys()


def test_print_is_light() -> None:
    text = style()
    printed = text[text.index("@media print") :]

    assert all(f"--hr-{name}:{colour}" in printed.split("}")[0] for name, colour in LIGHT.items())
    assert text.index("@media print") > text.index("prefers-color-scheme:dark")


def test_a_file_of_its_own_needs_no_properties() -> None:
    assert "var(" not in plain_style()


@pytest.mark.parametrize("count", range(1, 5))
def test_deeper_is_never_drawn_lighter(count: int) -> None:
    depths = Depths(tuple(float(step) for step in range(1, count + 1)), None, False)
    shades = [depths.shade(step) for step in range(count)]

    assert shades == sorted(set(shades))
    assert 5 not in shades  # the darkest is kept for what goes through
