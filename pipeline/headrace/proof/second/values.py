"""Parameters and expressions (3.3.2, 3.3.3) as plain numbers, from the innermost bracket outwards.

Each step writes a number in the place of what stands for it, until only numbers are left.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from decimal import Decimal

_NUMBER = rb"[-+]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)"
_SETTING = re.compile(rb"#(%b)=(%b)(?=[A-Z#\n]|$)" % (_NUMBER, _NUMBER))
_READ = re.compile(rb"(?<=#)#(%b)|#(%b)(?![0-9.=])" % (_NUMBER, _NUMBER))
_NAMES = (b"COS", b"SIN", b"TAN", b"ABS", b"EXP", b"FIX", b"FUP", b"LN", b"ROUND", b"SQRT")
_BRACKET = re.compile(rb"\[((?:[^][A-Z#]|MOD|AND|X?OR)*+)\]")
# an A that begins a word is its letter: `A COS[0]`, but `X ACOS[0]`
_QUOTIENT = re.compile(rb"(?<=[A-Z=#[*/+-])ATAN\[(%b)\]/\[(%b)\]" % (_NUMBER, _NUMBER))
_FUNCTION = re.compile(
    rb"((?<=[A-Z=#[*/+-])A(?:COS|SIN)|(?<![A-Z=#[*/+-]A)TAN|COS|SIN|ABS|EXP|FIX|FUP|LN|ROUND|SQRT)"
    rb"\[(%b)\]" % _NUMBER
)
_TERMS = re.compile(rb"(%b)(\*\*|[-+*/]|MOD|AND|XOR|OR)?" % _NUMBER)
_STANDARDS_OWN = 5000
"""From here on parameters are what the controller keeps: probes, zeros, stored points (table 2)."""
_MOST = 10_000

_FUNCTIONS: Mapping[bytes, Callable[[float], float]] = {
    b"ABS": math.fabs,
    b"ACOS": lambda a: math.degrees(math.acos(a)),
    b"ASIN": lambda a: math.degrees(math.asin(a)),
    b"COS": lambda a: math.cos(math.radians(a)),
    b"EXP": math.exp,
    b"FIX": math.floor,
    b"FUP": math.ceil,
    b"LN": math.log,
    b"ROUND": lambda a: math.copysign(math.floor(math.fabs(a) + 0.5), a),
    b"SIN": lambda a: math.sin(math.radians(a)),
    b"SQRT": math.sqrt,
    b"TAN": lambda a: math.tan(math.radians(a)),
}
_LEVELS: tuple[Mapping[bytes, Callable[[float, float], float]], ...] = (
    {b"**": math.pow},
    {
        b"*": lambda a, b: a * b,
        b"/": lambda a, b: a / b,
        b"MOD": lambda a, b: a % abs(b),
    },
    {
        b"+": lambda a, b: a + b,
        b"-": lambda a, b: a - b,
        b"AND": lambda a, b: float(bool(a) and bool(b)),
        b"OR": lambda a, b: float(bool(a) or bool(b)),
        b"XOR": lambda a, b: float(bool(a) != bool(b)),
    },
)


class Unknown(Exception):
    """A value that cannot be told from the program."""


def worked_out(line: bytes, parameters: dict[int, float]) -> bytes:
    """A bare line with numbers in the place of all values; its settings are made and taken out.

    Raises Unknown where a value is the controller's own, or there is none.
    """
    try:
        for _ in range(_MOST):
            reduced = _READ.sub(lambda found: _read(found, parameters), line)
            reduced = _QUOTIENT.sub(_angle, reduced)
            reduced = _FUNCTION.sub(_applied, reduced)
            if reduced == line:
                reduced = _BRACKET.sub(_opened, line)
            if reduced == line:
                break
            line = reduced
    except (ArithmeticError, ValueError) as error:
        raise Unknown from error
    made = {_index(found[1]): float(found[2]) for found in _SETTING.finditer(line)}
    parameters.update(made)
    return _SETTING.sub(b"", line)


def _read(found: re.Match[bytes], parameters: Mapping[int, float]) -> bytes:
    index = _index(found[1] or found[2])
    if index >= _STANDARDS_OWN:
        raise Unknown
    return _written(parameters.get(index, 0.0))


def _index(text: bytes) -> int:
    return round(float(text))


def _angle(found: re.Match[bytes]) -> bytes:
    return _written(math.degrees(math.atan2(float(found[1]), float(found[2]))))


def _applied(found: re.Match[bytes]) -> bytes:
    return _written(_FUNCTIONS[found[1]](float(found[2])))


def _opened(found: re.Match[bytes]) -> bytes:
    """The number that a bracket comes to; it stays in one while a function waits for it."""
    terms = _TERMS.findall(found[1])
    if b"".join(map(b"".join, terms)) != found[1] or not terms or terms[-1][1]:
        raise Unknown
    numbers, signs = [float(number) for number, _ in terms], [sign for _, sign in terms[:-1]]
    for level in _LEVELS:
        at = 0
        while at < len(signs):
            if signs[at] in level:
                numbers[at : at + 2] = [level[signs.pop(at)](numbers[at], numbers[at + 1])]
            else:
                at += 1
    waits = found.string[: found.start()].endswith((*_NAMES, b"]/"))
    if waits:
        return found[0] if len(terms) == 1 else b"[%b]" % _written(numbers[0])
    return _written(numbers[0])


def _written(value: float) -> bytes:
    if not math.isfinite(value):
        raise Unknown
    return format(Decimal(repr(float(value))), "f").encode()
