"""headrace explain: what a finding means, with an example of it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from headrace.cli.asked import Asked, json_option
from headrace.cli.choices import finding_names

if TYPE_CHECKING:
    from headrace.findings import Kind
    from headrace.findings.example import Example


@click.command("explain", short_help="List all findings, or tell what one means, with an example.")
@click.argument("finding", required=False, shell_complete=finding_names)
@click.option(
    "--to", "folder", type=click.Path(path_type=Path), metavar="FOLDER",
    help="Write both workshops, with all their files, to a new folder.",
)  # fmt: skip
@json_option
def command(asked: Asked, finding: str | None, folder: Path | None) -> int:
    """List all findings by area; with FINDING, its name or id, tell all about it.

    That is what it means, why it matters and what to do, and two small workshops: one in which
    headrace finds it, and the same one mended.
    """
    from headrace.cli.talking import many
    from headrace.findings import CATALOGUE
    from headrace.findings.example import example_of, said
    from headrace.report.explain_text import explained, listed
    from headrace.report.plain_kinds import explain_data

    if finding is None:
        if folder is not None:
            raise click.UsageError("say which finding's workshops are to be written")
        if asked.text:
            many(listed())
        asked.answer(lambda: explain_data(sorted(CATALOGUE.values(), key=lambda kind: kind.id)))
        return 0
    kind = _known(finding)
    example = example_of(kind.name)
    written = [] if folder is None else _written(example, folder)
    if asked.text:
        many(written or explained(kind, example, said(kind.name)))
    asked.answer(lambda: explain_data([kind], example, said(kind.name), written))
    return 0


def _written(example: Example, folder: Path) -> list[str]:
    """Write both workshops to a new folder, each with a card; where they are and what to run
    there. Raises UsageError where it is not new, or where the files do not show the finding."""
    if example.situation:
        raise click.UsageError("no file can show this finding, so there is nothing to write")
    if folder.exists() or folder.is_symlink():
        raise click.UsageError(f"{folder} is there already: name a new folder")
    try:
        folder.mkdir()
        workshops = {"failing": example.failing, "mended": example.mended}
        told = []
        for (name, files), run in zip(workshops.items(), example.runs, strict=True):
            (folder / name / "card").mkdir(parents=True)
            for file, content in files.items():
                path = folder / name / file
                path.parent.mkdir(exist_ok=True)
                path.write_bytes(content)
            told.append(f"{folder / name}: headrace {run}")
        return told
    except OSError as error:
        raise click.UsageError(f"{folder} cannot be written: {error.strerror}") from error


def _known(wanted: str) -> Kind:
    """The kind of this name or id. Raises UsageError for one that is none, with the nearest."""
    from headrace.findings import CATALOGUE

    kinds = {key.casefold(): kind for kind in CATALOGUE.values() for key in (kind.name, kind.id)}
    kind = kinds.get(wanted.casefold())
    if kind is not None:
        return kind
    from difflib import get_close_matches

    near = get_close_matches(wanted.casefold(), kinds, 3)
    names = " or ".join(f"{kinds[key].id} {kinds[key].name}" for key in near)
    hint = f"did you mean {names}?" if near else "see `headrace explain` for all"
    raise click.UsageError(f"there is no finding {wanted!r}; {hint}")
