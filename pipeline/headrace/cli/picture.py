"""headrace picture: a drawing of what one file does."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import click

from headrace.cli import choices
from headrace.cli.asked import Asked, json_option
from headrace.cli.looked import Looked, looking
from headrace.cli.shared import quiet_option

if TYPE_CHECKING:
    from headrace.batch.looking import Look
    from headrace.picture.drawing import Drawing

_WIDTH = 1600


@click.command("picture", short_help="Draw what one file does, as SVG or PNG.")
@looking
@click.option(
    "--to", "target", required=True, type=click.Path(path_type=Path), metavar="PICTURE",
    shell_complete=choices.pictures,
    help="The picture, which ends in .svg or .png; a picture that headrace wrote there before is"
    " replaced, nothing else ever.",
)  # fmt: skip
@click.option(
    "--view", type=click.Choice(["top", "side"]), default="top",
    help="From above, if not given, or from the side.",
)  # fmt: skip
@click.option(
    "--width", type=click.IntRange(100, 20000), metavar="PIXELS",
    help=f"How wide a PNG is; {_WIDTH} if not given.",
)  # fmt: skip
@click.option(
    "--part", type=click.IntRange(1), metavar="N",
    help="Which of the files, where the recipe makes several of FILE.",
)  # fmt: skip
@quiet_option
@json_option
def command(
    asked: Asked,
    file: Path,
    looked: Callable[[], Looked],
    target: Path,
    view: str,
    width: int | None,
    part: int | None,
    quiet: bool,
) -> int:
    """Draw what FILE does, from above or from the side, true to scale.

    As with `headrace show`, FILE is any file of G-code; --machine, --setup and --recipe tell where
    it runs, and so what there is to draw beside its moves: the sheet, the clamps, the plate, the
    ends of travel. SVG needs nothing else; PNG needs `pip install 'headrace[picture]'` and a font.

    \b
        headrace picture recipes/jobs/lid.nc --to lid.svg
        headrace picture recipes/jobs/lid.nc --recipe recipes/bench-lids.yaml --to lid.png
    """
    from headrace.batch.looking import drawing_of
    from headrace.card.folder import held
    from headrace.card.paper import need_free, put
    from headrace.cli.talking import data, say
    from headrace.report.outcomes import weighty
    from headrace.report.picture_file import in_the_way
    from headrace.report.plain_show import picture_data

    kind = _kind(target, width)
    need_free(target, in_the_way)
    with held(target.parent):
        pass  # where another run writes there, the work would be for nothing
    looks, findings = looked()
    look = _one(looks, part)
    told = weighty([*findings, *look.findings], quiet)
    say(told, dict.fromkeys(look.findings, (look.name,)))
    drawing = drawing_of(look, view)
    picture = _made(drawing, kind, width or _WIDTH)
    with held(target.parent):
        fate = put(target, picture, in_the_way)
    if asked.text and not quiet:
        data(f"{look.name} -> {target}  {fate}: {drawing.title}")
    asked.answer(
        lambda: picture_data(file, target, str(fate), drawing, [*findings, *look.findings])
    )
    return 0


def _kind(target: Path, width: int | None) -> str:
    """`svg` or `png`. Raises UsageError for a name that ends otherwise."""
    kind = target.suffix.lower().removeprefix(".")
    if kind not in ("svg", "png"):
        raise click.UsageError(f"{target} ends neither in .svg nor in .png")
    if kind == "svg" and width is not None:
        raise click.UsageError("--width is for a PNG; an SVG has its size in mm")
    return kind


def _one(looks: list[Look], part: int | None) -> Look:
    """The file that is drawn. Raises UsageError where it is not told which."""
    if part is None and len(looks) == 1:
        return looks[0]
    if part is None:
        names = ", ".join(look.name for look in looks)
        raise click.UsageError(f"the recipe makes {names} of it: say which with --part 1, ...")
    if part > len(looks):
        raise click.UsageError(f"--part {part}: there are {len(looks)}")
    return looks[part - 1]


def _made(drawing: Drawing, kind: str, width: int) -> bytes:
    from headrace.report.picture_file import png_of, svg_of

    if kind == "svg":
        return svg_of(drawing)
    try:
        return png_of(drawing, width)
    except ImportError as error:
        what = "a PNG needs the library resvg-py, which is not installed"
        raise click.UsageError(f"{what}: pip install 'headrace[picture]'; or use .svg") from error
