"""What parameters and expressions come to, line by line."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from headrace.language.state import State
from headrace.program import Scan, Word
from headrace.program.expression import ReadingError, evaluate, parameter_index


@dataclass(frozen=True, slots=True)
class WorkedOut:
    """A line (from 0) that holds parameters or expressions, as it is run once.

    `values` are those of its words that are no plain numbers, in the units of the program; NaN
    where the controller alone knows them. `made` are the parameters that the line sets, `unset`
    those that it reads and no line before it has set. `increments` tells that its places are
    increments (G91).
    """

    line: int
    values: Mapping[Word, float]
    made: frozenset[int]
    unset: frozenset[int]
    increments: bool

    @classmethod
    def of(cls, line: int, scan: Scan, state: State) -> WorkedOut | None:
        """From the state before the line; None where there is nothing to work out."""
        words = [word for word in scan.words if word.expression is not None]
        if not words and not scan.settings:
            return None
        parameters = _Read(state.parameters)
        try:
            values = {word: evaluate(word.expression or (), parameters) for word in words}
            made = [
                parameter_index(evaluate(setting.index, parameters), setting.start)
                for setting in scan.settings
            ]
            for setting in scan.settings:
                evaluate(setting.value, parameters)
        except ReadingError:
            return None  # told where the line is run
        stated = [value for word, value in values.items() if word.letter == "G"]
        stated += [float(word.value) for word in scan.words if word.letter == "G" and word.value]
        increments = 91 in stated or (state.incremental and 90 not in stated)
        return cls(line, values, frozenset(made), frozenset(parameters.unset), increments)


class _Read(dict[int, float]):
    """Parameters, which remember what was read of them and not there."""

    def __init__(self, parameters: Mapping[int, float]) -> None:
        super().__init__(parameters)
        self.unset: set[int] = set()

    def get(self, index: int, default: float = 0.0) -> float:  # type: ignore[override]
        if index not in self:
            self.unset.add(index)
        return super().get(index, default)
