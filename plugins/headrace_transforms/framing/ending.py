"""The end of a program, and what shares its line."""

from __future__ import annotations

from dataclasses import dataclass

from headrace import Edit, Job, Program, State, Word, replace

END_CODES = (2, 30)


def stop_codes(job: Job) -> frozenset[int]:
    """The M codes at which the program waits or ends."""
    return frozenset((0, 1, 60, *END_CODES)) | job.dialect.stops


@dataclass(frozen=True, slots=True)
class Ending:
    """`line` is the line of the end (or the length of the program), `word` the end word there,
    None where a % line or nothing ends the program. `rest` is the line without the word."""

    line: int
    word: Word | None
    rest: str
    rest_acts: bool

    def without_word(self) -> Edit:
        """Leave on the line what is not the end."""
        return replace(self.line, self.rest)


def ending_of(job: Job) -> Ending:
    """How the job's program ends."""
    end = job.landmarks.end
    if end >= len(job.program):
        return Ending(end, None, "", False)
    line = job.program[end]
    word = next((w for w in line.words if w.letter == "M" and _ends(w)), None)
    if word is None:
        return Ending(end, None, "", False)
    rest = line.without(word)
    return Ending(end, word, rest, _acts(rest))


def state_before_end(job: Job, ending: Ending) -> State:
    """The state when all is done but the end: the rest of its line comes first (table 8)."""
    state = job.state_at(ending.line)
    if not ending.rest_acts:
        return state
    rest = Program.read(ending.rest.encode("utf-8", "replace"))
    return Job(rest, job.machine, job.setup, job.dialect, state, job.stand_alone).trace.end


def _ends(word: Word) -> bool:
    return word.value is not None and float(word.value) in END_CODES


def _acts(rest: str) -> bool:
    program = Program.read(rest.encode("utf-8", "replace"))
    return any(line.is_code for line in program)
