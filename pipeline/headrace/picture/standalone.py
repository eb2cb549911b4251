"""A drawing as a file of its own."""

from __future__ import annotations

from headrace.picture.drawing import Drawing
from headrace.picture.palette import DARK
from headrace.picture.style import plain_style


def standalone(drawing: Drawing) -> bytes:
    """An SVG file, in UTF-8, that holds its style: light, and dark where the reader asks for it."""
    head, rest = drawing.svg.split(">", 1)
    style = f"{plain_style()}@media screen and (prefers-color-scheme:dark){{{plain_style(DARK)}}}"
    text = f'<?xml version="1.0" encoding="UTF-8"?>\n{head}><style>{style}</style>{rest}\n'
    return text.encode("utf-8")
