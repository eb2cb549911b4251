"""What all drawings look like: one style sheet for a page, or for a file of its own.

Widths and dashes stand at the lines themselves, for they depend on the scale; here are colours,
letters and hatches. Every class begins with `hr-`.
"""

from __future__ import annotations

from collections.abc import Mapping

from headrace.picture.palette import DARK, DEPTHS, LIGHT

FONT = "ui-sans-serif, 'DejaVu Sans', Arial, sans-serif"

_STROKES = {
    "hr-edge": "edge",
    "hr-rapid": "rapid",
    "hr-travel": "travel",
    "hr-clamp": "clamp",
    "hr-keep": "keep",
    "hr-plate": "plate",
    "hr-dim": "dim",
    "hr-line": "line",
    "hr-mark": "ink",
}
_FILLS = {
    "hr-paper": "paper",
    "hr-sheet": "sheet",
    "hr-board": "board",
    "hr-reach": "reach",
    "hr-text": "ink",
    "hr-dot": "line",
}


def style() -> str:
    """For a page, whose colours follow the reader's choice; print is always light."""
    used = {name: f"var(--hr-{name})" for name in LIGHT}
    return (
        f".hr-drawing{{{_properties(LIGHT)}}}\n"
        f"@media (prefers-color-scheme:dark){{.hr-drawing{{{_properties(DARK)}}}}}\n"
        f"@media print{{.hr-drawing{{{_properties(LIGHT)}}}}}\n"
        f"{_rules(used)}"
    )


def plain_style(colours: Mapping[str, str] = LIGHT) -> str:
    """The same with colours written out, for programs that know no custom properties."""
    return _rules(colours)


def _properties(colours: Mapping[str, str]) -> str:
    return ";".join(f"--hr-{name}:{value}" for name, value in colours.items())


def _rules(colours: Mapping[str, str]) -> str:
    rules = [
        f".hr-drawing text{{font-family:{FONT};font-size:3.2px;stroke:none}}",
        ".hr-drawing text{text-rendering:geometricPrecision}",
        ".hr-drawing path,.hr-drawing use{fill:none}",
        f".hr-drawing .hr-ring{{fill:none;stroke:{colours['line']};stroke-width:.35px}}",
    ]
    rules += [f".hr-drawing .{name}{{stroke:{colours[key]}}}" for name, key in _STROKES.items()]
    rules += [f".hr-drawing .{name}{{fill:{colours[key]}}}" for name, key in _FILLS.items()]
    rules.append(f".hr-drawing .hr-floor{{fill:{colours['d2']};stroke:{colours['line']}}}")
    for name, under in (("hr-on", "sheet"), ("hr-off", "paper")):
        rules.append(
            f".hr-drawing .{name}{{stroke:{colours[under]};stroke-width:.9px;"
            "stroke-linejoin:round;paint-order:stroke}"
        )
    for step in range(1, DEPTHS + 1):
        colour = colours[f"d{step}"]
        rules.append(f".hr-drawing .hr-d{step}{{stroke:{colour}}}")
        rules.append(f".hr-drawing .hr-f{step}{{fill:{colour};stroke:none}}")
    return "\n".join(rules) + "\n"
