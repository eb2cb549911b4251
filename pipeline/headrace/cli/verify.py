"""headrace verify: does a card hold what was written to it?"""

from __future__ import annotations

from pathlib import Path

import click

from headrace.cli import choices
from headrace.cli.asked import Asked, json_option
from headrace.cli.shared import quiet_option


@click.command("verify", short_help="Say whether a card holds what was written to it.")
@click.argument("card", type=click.Path(path_type=Path), shell_complete=choices.folders)
@click.option(
    "--against", type=click.Path(exists=True, path_type=Path), metavar="FOLDER",
    help="The folder that the card was copied from, or its HEADRACE.JSON.",
)  # fmt: skip
@quiet_option
@json_option
def command(asked: Asked, card: Path, against: Path | None, quiet: bool) -> int:
    """Compare every file on CARD with the list HEADRACE.JSON, byte for byte; write nothing.

    The list is the card's own. With --against it is that of the folder on the computer which the
    card was copied from, and the card need not have one.

    The last line says `ready`, or what is to be done before the card goes to the machine; the exit
    code is 5 then. Files that are not on the list are told, and do not count; a run sheet among
    them is told where it is not of the files that are there now.

    \b
        headrace verify card
        headrace verify card --against prepared
    """
    from headrace.card.verification import verify_card
    from headrace.cli.talking import data, say
    from headrace.report.outcomes import weighty
    from headrace.report.plain_verify import verify_data
    from headrace.report.verified import checked_line, verdict

    verified = verify_card(card, against)
    if asked.text and not quiet:
        for file in verified.files:
            data(checked_line(file))
    say(weighty(verified.findings, quiet))
    if asked.text and (not quiet or not verified.ready):
        data(verdict(verified, against))
    asked.answer(lambda: verify_data(verified, card, against))
    return verified.exit_code
