"""What a pause asks for: known from the step that wrote it, or by the text that the machine shows,
where that is word for word one that steps write."""

from __future__ import annotations

from headrace.job import Job
from headrace.machine.asking import question
from headrace.program import Line


def asked_at(job: Job, line: int) -> str | None:
    """What the operator confirms by going on behind the pause on a line (`clip-off`); None where
    nothing tells."""
    here = job.program[line]
    if here.asks is not None:
        return here.asks
    pause = job.machine.pause
    text = text_at(job, line) if _waits(here, pause.word) else None
    if text is None or (pause.text != "none" and len(text) > pause.width):
        return None
    return question(job.machine, text, job.setup.tools)


def text_at(job: Job, line: int) -> str | None:
    """The text that stands where the machine looks for that of the pause on a line, not cut; where
    it shows none, the text above the pause. None where there is not one comment, and only one."""
    here = job.program[line]
    if job.machine.pause.text == "same-line":
        return _only_comment(here)
    if line == 0 or here.comments:
        return None
    before = job.program[line - 1]
    return None if _acts(before) else _only_comment(before)


def _waits(line: Line, word: str) -> bool:
    """Whether a line holds the machine's own pause word and nothing else that acts."""
    acting = [found for found in line.words if found.letter != "N"]
    return len(acting) == 1 and line.has("M", int(word[1:])) and not line.scan.block_delete


def _acts(line: Line) -> bool:
    return any(word.letter != "N" for word in line.words) or line.scan.block_delete


def _only_comment(line: Line) -> str | None:
    """The text of the one comment on a line."""
    return line.comments[0].text.strip() if len(line.comments) == 1 else None
