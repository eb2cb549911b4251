"""The colours of all drawings, our own: the browns of honey for depth, ink for lines.

Deeper is darker on light paper and lighter on dark paper, step by step, so that depths are told
apart by lightness alone: in grey print, and whatever colours the eye takes for one another. Every
line is seen against its paper at 3:1 or better, text at 7:1 (WCAG 2.2, 1.4.11 and 1.4.6).
"""

from __future__ import annotations

LIGHT = {
    "paper": "#ffffff",
    "ink": "#211c15",
    "sheet": "#fbf7ec",
    "edge": "#211c15",
    "board": "#e4e0d6",
    "reach": "#efe9d9",
    "clamp": "#7a2318",
    "keep": "#b03a22",
    "rapid": "#24608f",
    "travel": "#6b3a83",
    "plate": "#17664f",
    "dim": "#4d463a",
    "d1": "#f3e3b0",
    "d2": "#e6bf62",
    "d3": "#cd9a3f",
    "d4": "#b0793a",
    "d5": "#93603a",
    "line": "#211c15",
}
"""By use; `d1` to `d5` are bands of cuts, from shallow to deep, `line` runs along their middle."""

DARK = {
    "paper": "#12161a",
    "ink": "#f3efe6",
    "sheet": "#1d2126",
    "edge": "#f3efe6",
    "board": "#2c3036",
    "reach": "#23282d",
    "clamp": "#f2a597",
    "keep": "#e8806a",
    "rapid": "#86bfee",
    "travel": "#cfa4e6",
    "plate": "#7fd0b4",
    "dim": "#c9c2b4",
    "d1": "#33291a",
    "d2": "#4b3a1d",
    "d3": "#664d22",
    "d4": "#836227",
    "d5": "#9d762e",
    "line": "#fffdf7",
}
"""The same on dark paper."""

DEPTHS = 5
"""So many steps of depth are told apart."""
