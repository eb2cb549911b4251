"""A finished drawing: SVG, and what people should know of it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Drawing:
    """`view` is `top`, `side` or `bedding`; `title` and `text` tell in words what is drawn, for
    those who do not see it; `scale` is how many mm of the real thing are 1 mm on paper.

    `svg` is one `<svg>` element whose unit is 1 mm of paper. In it `<g class="hr-plane">` holds
    what is drawn in sheet coordinates (mm from the sheet's corner, Y up): its `transform` leads
    from these to paper. In the side view the second number is the height above the sheet's top, and
    the group is empty, for heights may be drawn larger. Ids begin with a prefix, so that several
    drawings may stand in one page; `style()` of `picture/style.py` holds for all of them, and
    stands in the page once, or in the file.
    """

    view: str
    title: str
    text: str
    scale: float
    width: float
    height: float
    svg: str
