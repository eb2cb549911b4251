"""Real values: numbers, parameters and expressions of RS274/NGC (3.3.2, 3.3.3, appendix E).

Values are read to small trees and evaluated with a parameter table. Angles are in degrees.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

_DEEPEST = 50

_BINDING = {"**": 3, "*": 2, "/": 2, "MOD": 2, "+": 1, "-": 1, "OR": 1, "XOR": 1, "AND": 1}
"""Binary operators; the higher binds the tighter, left to right among equals (3.3.2.3)."""

_OPERATORS = sorted(_BINDING, key=len, reverse=True)
_FUNCTIONS = (
    "ABS", "ACOS", "ASIN", "ATAN", "COS", "EXP", "FIX", "FUP", "LN", "ROUND", "SIN", "SQRT", "TAN",
)  # fmt: skip


class ReadingError(Exception):
    """A value or line that cannot be read or evaluated; columns count from 0."""

    def __init__(self, name: str, what: str, column: int, length: int = 1) -> None:
        super().__init__(what)
        self.name = name
        self.column = column
        self.length = length


@dataclass(frozen=True, slots=True)
class Step:
    """One step of an expression: a `number`, a `parameter`, or an operation by its name."""

    operation: str
    number: float
    column: int


Expression = tuple[Step, ...]
"""A value to be worked out, in the order of working: operands before their operation."""


class Reader:
    """The characters of a line that mean something, each with its column.

    Blanks and comments are skipped and letters read as capitals.
    """

    def __init__(self, text: str, skipped: Sequence[tuple[int, int]] = ()) -> None:
        kept: list[int] = []
        column = 0
        for start, end in [*skipped, (len(text), len(text))]:
            kept.extend(c for c in range(column, start) if text[c] not in " \t")
            column = end
        self._columns = kept
        self._text = text
        self._length = len(text)
        self._at = 0
        # only ASCII letters have capitals in this language
        self._characters = [text[c].upper() if text[c].isascii() else text[c] for c in kept]

    @property
    def column(self) -> int:
        """The column of the next character."""
        return self._columns[self._at] if self._at < len(self._columns) else self._length

    @property
    def behind(self) -> int:
        """The column behind the last character taken."""
        return self._columns[self._at - 1] + 1

    def peek(self) -> str:
        """The next character, or nothing at the end."""
        return self._characters[self._at] if self._at < len(self._characters) else ""

    def take(self) -> str:
        self._at += 1
        return self._characters[self._at - 1]

    def _comes(self, name: str) -> bool:
        return "".join(self._characters[self._at : self._at + len(name)]) == name

    def at_number(self) -> bool:
        return self.peek() != "" and self.peek() in "+-.0123456789"

    def at_value(self) -> bool:
        return self.at_number() or self.peek() in ("#", "[") or self._function() is not None

    def _function(self) -> str | None:
        for name in _FUNCTIONS:
            if self._comes(name):
                return name
        return None

    def digits(self) -> str:
        """As many digits as come."""
        start = self._at
        while self.peek() != "" and self.peek() in "0123456789":
            self._at += 1
        return "".join(self._characters[start : self._at])

    def number(self, may_not_follow: str = ".+-") -> Decimal:
        """A plain number: sign, digits, at most one point, at least one digit (3.3.2.1)."""
        start = self.column
        sign = self.take() if self.peek() in ("+", "-") else ""
        whole = self.digits()
        point = self.take() if self.peek() == "." else ""
        part = self.digits() if point else ""
        wrong = self.peek() != "" and self.peek() in may_not_follow
        if wrong or not whole + part:
            if wrong:
                self.take()
            spelt = self._text[start : self.behind]
            raise ReadingError("bad-number", f"{spelt!r} is not a number", start, len(spelt))
        return Decimal(sign + (whole or "0") + (f".{part}" if part else ""))

    def real(self) -> Expression:
        """A real value: number, `#` parameter, `[` expression `]`, or function."""
        steps: list[Step] = []
        self._real(steps, 0)
        return tuple(steps)

    def _real(self, steps: list[Step], depth: int) -> None:
        column = self.column
        if depth > _DEEPEST:
            raise ReadingError("expression-deep", f"nested more than {_DEEPEST} deep", column)
        if self.at_number():
            # inside an expression a sign behind the number is the next operator
            steps.append(Step("number", float(self.number(may_not_follow=".")), column))
        elif self.peek() == "#":
            self.take()
            self._real(steps, depth + 1)
            steps.append(Step("parameter", 0.0, column))
        elif self.peek() == "[":
            self._bracket(steps, depth + 1)
        else:
            self._call(steps, depth)

    def _call(self, steps: list[Step], depth: int) -> None:
        """A function with its bracket; ATAN takes two, with a slash between."""
        column = self.column
        name = self._function()
        if name is None:
            found = repr(self.peek()) if self.peek() else "the end of the line"
            raise ReadingError("value-expected", f"a value should stand here, not {found}", column)
        self._at += len(name)
        if self.peek() != "[":
            raise ReadingError(
                "function-without-bracket", f"{name} needs a bracket", column, len(name)
            )
        self._bracket(steps, depth + 1)
        if name == "ATAN":
            divided = self.peek() == "/" and self.take()
            if not divided or self.peek() != "[":
                raise ReadingError("atan-form", "ATAN is written ATAN[a]/[b]", column, len(name))
            self._bracket(steps, depth + 1)
        steps.append(Step(name, 0.0, column))

    def _bracket(self, steps: list[Step], depth: int) -> None:
        """`[` real value (operator real value)* `]`; waiting operators stand in a stack."""
        opened = self.column
        self.take()
        waiting: list[Step] = []
        self._real(steps, depth)
        while self.peek() != "]":
            column = self.column
            if not self.peek():
                raise ReadingError("bracket-open", "a bracket that is not closed", opened)
            name = next((name for name in _OPERATORS if self._comes(name)), None)
            if name is None:
                raise ReadingError("unknown-operation", f"{self.peek()!r} is no operation", column)
            self._at += len(name)
            while waiting and _BINDING[waiting[-1].operation] >= _BINDING[name]:
                steps.append(waiting.pop())
            waiting.append(Step(name, 0.0, column))
            self._real(steps, depth)
        self.take()
        steps.extend(reversed(waiting))


def parameter_index(value: float, column: int) -> int:
    """A parameter's number: an integer from 1 to 5399 (3.3.2.2), within 0.0001 (3.3.2.1)."""
    index = round(value) if math.isfinite(value) else 0
    if abs(value - index) > 0.0001 or not 1 <= index <= 5399:
        raise ReadingError("parameter-index", f"there is no parameter number {value:g}", column)
    return index


def evaluate(expression: Expression, parameters: Mapping[int, float]) -> float:
    """The value; raises ReadingError where it has none (division by zero, logarithm of 0, ...).

    Parameters that were never set are 0 (3.2.1); those that are known to the controller alone are
    NaN, and so is what is worked out from them.
    """
    stack: list[float] = []
    for step in expression:
        if step.operation == "number":
            stack.append(step.number)
        elif step.operation == "parameter":
            index = parameter_index(stack.pop(), step.column)
            stack.append(parameters.get(index, 0.0))
        else:
            meaning, count = _MEANING[step.operation]
            operands = [stack.pop() for _ in range(count)][::-1]
            stack.append(_worked(step, meaning, operands))
    return stack[0]


def _worked(step: Step, meaning: Callable[..., float], operands: list[float]) -> float:
    try:
        value = meaning(*operands)
    except (ValueError, ZeroDivisionError, OverflowError):
        value = math.nan
    if any(math.isnan(operand) for operand in operands):
        return math.nan  # a parameter that is known to the controller alone
    if isinstance(value, complex) or not math.isfinite(value):
        shown = ", ".join(f"{operand:g}" for operand in operands)
        raise ReadingError("domain", f"{step.operation} has no value for {shown}", step.column)
    return value


def _round(value: float) -> float:
    """Nearest whole number; an exact half goes away from zero (from memory)."""
    return math.copysign(math.floor(abs(value) + 0.5), value)


def _logic(test: Callable[[bool, bool], bool]) -> Callable[[float, float], float]:
    return lambda a, b: 1.0 if test(a != 0, b != 0) else 0.0


def _modulo(a: float, b: float) -> float:
    """The remainder, made non-negative (from memory; 3.3.2.3 does not state the sign)."""
    rest = math.fmod(a, b)
    return rest + abs(b) if rest < 0 else abs(rest)


_MEANING: Mapping[str, tuple[Callable[..., float], int]] = {
    "**": (lambda a, b: a**b, 2),
    "*": (lambda a, b: a * b, 2),
    "/": (lambda a, b: a / b, 2),
    "MOD": (_modulo, 2),
    "+": (lambda a, b: a + b, 2),
    "-": (lambda a, b: a - b, 2),
    "OR": (_logic(lambda a, b: a or b), 2),
    "XOR": (_logic(lambda a, b: a != b), 2),
    "AND": (_logic(lambda a, b: a and b), 2),
    "ABS": (abs, 1),
    "ACOS": (lambda a: math.degrees(math.acos(a)), 1),
    "ASIN": (lambda a: math.degrees(math.asin(a)), 1),
    "ATAN": (lambda a, b: math.degrees(math.atan2(a, b)), 2),
    "COS": (lambda a: math.cos(math.radians(a)), 1),
    "EXP": (math.exp, 1),
    "FIX": (math.floor, 1),
    "FUP": (math.ceil, 1),
    "LN": (math.log, 1),
    "ROUND": (_round, 1),
    "SIN": (lambda a: math.sin(math.radians(a)), 1),
    "SQRT": (math.sqrt, 1),
    "TAN": (lambda a: math.tan(math.radians(a)), 1),
}
"""What each operation does, and how many operands it takes."""
