"""headrace describe: an interview that writes a machine file, and test files that answer it."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from headrace.cli import choices
from headrace.cli.asked import Asked, json_option
from headrace.cli.shared import quiet_option

if TYPE_CHECKING:
    from headrace.interview.draft import Draft
    from headrace.interview.question import Question
    from headrace.interview.trial.writing import Written


@click.command("describe", short_help="Describe your machine: an interview that writes its file.")
@click.argument(
    "file", type=click.Path(dir_okay=False, path_type=Path), shell_complete=choices.recipes
)
@click.option(
    "--again", "names", multiple=True, metavar="QUESTION", shell_complete=choices.questions,
    help="Ask this question first, though it may be answered.",
)  # fmt: skip
@click.option("--list", "listing", is_flag=True, help="Show all questions and how they stand.")
@click.option(
    "--answers", type=click.Path(exists=True, dir_okay=False, path_type=Path), metavar="FILE",
    shell_complete=choices.recipes,
    help="Take the answers from a YAML file, QUESTION: ANSWER; all of them, or none.",
)  # fmt: skip
@click.option(
    "--tests", "card", type=click.Path(path_type=Path), metavar="DIR",
    shell_complete=choices.folders,
    help="Write small files to a card folder, each of which shows the answer to a question.",
)  # fmt: skip
@quiet_option
@json_option
def command(
    asked: Asked,
    file: Path,
    names: tuple[str, ...],
    listing: bool,
    answers: Path | None,
    card: Path | None,
    quiet: bool,
) -> int:
    """Ask what your machine does, and write that to FILE: a machine file for recipes.

    Each answer is kept at once. Stop whenever you like; the same command goes on where it was,
    and what you write into FILE by hand stays. An answer may say how it was found, as in
    `108 # measured`. Without a terminal, answers are read from standard input, one a line.

    \b
        headrace describe bench.yaml                     # ask what is open
        headrace describe bench.yaml --again travel-x    # ask that one anew
        headrace describe bench.yaml --list              # what is answered, what is open?
        headrace describe bench.yaml --tests /media/card # files that show the answers
    """
    from headrace.interview.draft import read_draft
    from headrace.report.plain_describe import describe_data

    if sum((listing, answers is not None, card is not None, bool(names))) > 1:
        raise click.UsageError("--again, --list, --answers and --tests go one at a time")
    again = [_question(name) for name in names]
    draft = read_draft(file)
    written: Written | None = None
    if listing:
        _list(draft, asked)
    elif card is not None:
        written = _tests(draft, card, asked, quiet)
    elif answers is not None:
        draft = _from_file(draft, answers, quiet)
    else:
        draft = _interview(draft, again, quiet)
    asked.answer(lambda: describe_data(draft, written))
    return 0


def _question(name: str) -> Question:
    from headrace.interview.questions import QUESTIONS, question_of
    from headrace.recipe.wording import nearest

    question = question_of(name)
    if question is None:
        close = nearest(name, [each.id for each in QUESTIONS])
        hint = f"did you mean {close}? " if close else ""
        raise click.UsageError(f"there is no question {name}: {hint}--list shows them all")
    return question


def _list(draft: Draft, asked: Asked) -> None:
    from headrace.cli.talking import data, talk
    from headrace.report.describe_text import question_lines, summary

    if asked.text:
        for line in question_lines(draft):
            data(line)
    talk(summary(draft))


def _tests(draft: Draft, card: Path, asked: Asked, quiet: bool) -> Written:
    from headrace.cli.talking import data, talk
    from headrace.interview.trial.writing import write_tests
    from headrace.report.describe_text import written_lines

    written = write_tests(draft, card)
    if asked.text and not quiet:
        for line in written_lines(written):
            data(line)
    if not quiet:
        talk(f"read {written.sheet} first, and run the files in its order")
    return written


def _from_file(draft: Draft, answers: Path, quiet: bool) -> Draft:
    from headrace.cli.talking import talk
    from headrace.interview.answer_file import with_answers
    from headrace.interview.keeping import keep
    from headrace.report.describe_text import summary

    kept = keep(with_answers(draft, answers))
    if not quiet:
        talk(summary(kept))
    return kept


def _interview(draft: Draft, again: list[Question], quiet: bool) -> Draft:
    from headrace.cli.talking import talk
    from headrace.interview.dialogue import Dialogue
    from headrace.interview.keeping import keep
    from headrace.report.describe_text import greeting, next_steps, summary

    typed = sys.stdin.isatty()
    talking = typed or not quiet
    if talking:
        for line in greeting(draft):
            talk(line)
    ask, say = (_ask, talk) if talking else (_read, _silent)
    dialogue = Dialogue(draft, ask, say, keep, strict=not typed)
    try:
        dialogue.run(again)
    except KeyboardInterrupt:
        click.echo("", err=True)
        if dialogue.draft.before is not None:
            talk(f"every answer so far is in {draft.path}")
        raise
    if not quiet:
        talk("")
        talk(summary(dialogue.draft))
        for line in next_steps(dialogue.draft):
            talk(line)
    return dialogue.draft


def _ask(prompt: str) -> str | None:
    """The next line of standard input, without its end; None where there is none."""
    click.echo(prompt, err=True, nl=False)
    line = sys.stdin.readline()
    if not sys.stdin.isatty() or not line:  # a terminal shows what is typed by itself
        click.echo(line.rstrip("\r\n"), err=True)
    return line.rstrip("\r\n") if line else None


def _read(_prompt: str) -> str | None:
    """The same without a word."""
    line = sys.stdin.readline()
    return line.rstrip("\r\n") if line else None


def _silent(_line: str) -> None:
    """Nothing is said."""
