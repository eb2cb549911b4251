"""Operators and functions of section 3.3.2. Angles are degrees, logic is 0 and 1."""

from __future__ import annotations

import math

from reference.fault import ReferenceError_

# Section 3.3.2.3: groups from tightest to loosest, left to right inside a group.
PRECEDENCE: tuple[tuple[str, ...], ...] = (
    ("**",),
    ("*", "/", "mod"),
    ("+", "-", "or", "xor", "and"),
)
FUNCTIONS = (
    "abs", "acos", "asin", "atan", "cos", "exp", "fix", "fup", "ln", "round", "sin", "sqrt", "tan",
)  # fmt: skip


def whole(value: float) -> int | None:
    """The integer that `value` stands for, or None (section 3.3.2.1: within 0.0001)."""
    near = round(value)
    return near if abs(value - near) <= 0.0001 else None


def binary(name: str, left: float, right: float, column: int) -> float:
    """One binary operation; the sign of MOD (never negative) is from memory."""
    try:
        result = _binary(name, left, right)
    except (ArithmeticError, ValueError):
        raise ReferenceError_("domain", column) from None
    if isinstance(result, complex) or not math.isfinite(result):
        raise ReferenceError_("domain", column)
    return result


def _binary(name: str, left: float, right: float) -> float:
    if name == "**":
        return math.pow(left, right)
    if name == "*":
        return left * right
    if name == "/":
        return left / right
    if name == "mod":
        return left % abs(right)
    if name == "+":
        return left + right
    if name == "-":
        return left - right
    if name == "or":
        return float(left != 0 or right != 0)
    if name == "and":
        return float(left != 0 and right != 0)
    if name == "xor":
        return float((left != 0) != (right != 0))
    raise AssertionError(name)


def unary(name: str, value: float, column: int) -> float:
    """One function of one value (section 3.3.2.4)."""
    try:
        result = _unary(name, value)
    except (ArithmeticError, ValueError):
        raise ReferenceError_("domain", column) from None
    if not math.isfinite(result):
        raise ReferenceError_("domain", column)
    return result


def _unary(name: str, value: float) -> float:
    if name == "abs":
        return abs(value)
    if name == "acos":
        return math.degrees(math.acos(value))
    if name == "asin":
        return math.degrees(math.asin(value))
    if name == "cos":
        return math.cos(math.radians(value))
    if name == "exp":
        return math.exp(value)
    if name == "fix":
        return float(math.floor(value))
    if name == "fup":
        return float(math.ceil(value))
    if name == "ln":
        return math.log(value)
    if name == "round":
        # An exact half goes away from zero: from memory.
        return math.copysign(math.floor(abs(value) + 0.5), value)
    if name == "sin":
        return math.sin(math.radians(value))
    if name == "sqrt":
        return math.sqrt(value)
    if name == "tan":
        return math.tan(math.radians(value))
    raise AssertionError(name)


def arc_tangent(rise: float, run: float) -> float:
    """ATAN[rise]/[run] in degrees, -180 to 180; looking at the quadrant is from memory."""
    return math.degrees(math.atan2(rise, run))
