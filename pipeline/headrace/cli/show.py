"""headrace show: what one file does."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import click

from headrace.cli.asked import Asked, json_option
from headrace.cli.looked import Looked, looking
from headrace.findings import Finding


@click.command("show", short_help="Show what one file does, also without a machine; write nothing.")
@looking
@json_option
def command(asked: Asked, file: Path, looked: Callable[[], Looked]) -> int:
    """Show what FILE does: its units and modes, how far it goes, bits, speeds and feeds, pauses and
    time; write nothing.

    Any file of G-code will do, a job or a card file. Without a machine its words are read by the
    standard, and all is told in its own numbers. With --machine it is looked at as it would run
    there, with --recipe as the recipe would make it; what is refused is shown as it comes.

    \b
        headrace show recipes/jobs/lid.nc
        headrace show card/LID.NC --machine recipes/machines/bench-hand-switched.yaml
        headrace show recipes/jobs/lid.nc --recipe recipes/bench-lids.yaml
    """
    from headrace.batch.looking import facts_of
    from headrace.cli.talking import many, say
    from headrace.report.outcomes import weighty
    from headrace.report.plain_show import show_data
    from headrace.report.show_text import show_lines

    looks, findings = looked()
    told = [(look, facts_of(look)) for look in looks]
    code = int(any(look.refused for look in looks))
    if asked.text:
        for look, facts in told:
            many(show_lines(look, facts))
    of: dict[Finding, list[str]] = {}
    for look in looks:
        for finding in look.findings:
            of.setdefault(finding, []).append(look.name)
    say(weighty([*findings, *of], quiet=False), of)
    asked.answer(lambda: show_data(file, told, findings, code))
    return code
