"""Plain scalars: what may be written without quotes, and what readers would not agree on.

The YAML versions in use read many plain words differently (YAML 1.1 type repository and YAML 1.2.2
section 10.3.2, both from memory): `no` is false or text, `012` is ten or twelve, `1:30` is ninety
or text. Accepted is only what both versions read alike: true, false, null, decimal numbers, text.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from headrace.recipe.node import Scalar

MOST_DIGITS = 15
"""As many decimal digits as a binary64 number always keeps (IEEE 754)."""

_NUMBER = re.compile(r"[-+]?(?:0|[1-9][0-9]*)(?:\.[0-9]*)?|\.[0-9]+")
_WORDS: dict[str, Scalar] = {"true": True, "false": False, "null": None}
_TRUTH = re.compile(r"yes|Yes|YES|on|On|ON|True|TRUE")
_UNTRUTH = re.compile(r"no|No|NO|off|Off|OFF|False|FALSE")


@dataclass(frozen=True, slots=True)
class Doubt:
    """Why a plain scalar is not accepted: the finding's name, what it is, what to do."""

    name: str
    what: str
    remedy: str


_DOUBTS = (
    (_TRUTH, "a truth value to some readers of YAML and text to others",
     "write `true`, or put it in quotes if text is meant"),
    (_UNTRUTH, "a truth value to some readers of YAML and text to others",
     "write `false`, or put it in quotes if text is meant"),
    (re.compile(r"~|Null|NULL"), "no value to some readers of YAML and text to others",
     "write `null`, or put it in quotes if text is meant"),
    (re.compile(r"[-+]?[0-9][0-9_]*(?::[0-5]?[0-9])+(?:\.[0-9_]*)?"),
     "a number to the base of sixty to some readers of YAML, and text to others",
     "put it in quotes, or write a plain number"),
    (re.compile(r"[-+]?0[0-9][0-9_]*(?:\.[0-9_]*)?(?:[eE][-+]?[0-9]+)?"),
     "a number with a leading zero, octal to some readers of YAML and decimal to others",
     "leave the leading zero out, or put it in quotes if text is meant"),
    (re.compile(r"[-+]?0[bBoOxX][0-9a-fA-F_]+"),
     "a number to another base than ten to some readers of YAML, and text to others",
     "write a decimal number, or put it in quotes if text is meant"),
    (re.compile(r"[-+]?(?:\.[0-9_]+|[0-9][0-9_]*(?:\.[0-9_]*)?)[eE][-+]?[0-9]+"),
     "a number with an exponent to some readers of YAML, and text to others",
     "write the number out, or put it in quotes if text is meant"),
    (re.compile(r"(?=[^_]*_)[-+]?\.?[0-9][0-9_.]*"),
     "a number to some readers of YAML, and text to others, because of the `_`",
     "leave the `_` out, or put it in quotes if text is meant"),
    (re.compile(r"[-+]\.[0-9]+"),
     "a number to some readers of YAML, and text to others, because of its bare point",
     "write a zero before the point, or put it in quotes if text is meant"),
    (re.compile(r"[-+]?\.(?:inf|Inf|INF|nan|NaN|NAN)"), "no number that can be measured",
     "write a number, or put it in quotes if text is meant"),
    (re.compile(r"[0-9]{4}-[0-9]{1,2}-[0-9]{1,2}(?:(?:[Tt]|[ \t]+)[0-9]{1,2}:[0-9]{2}.*)?"),
     "a date to some readers of YAML, and text to others", "put it in quotes"),
    (re.compile(r"=|<<"), "a sign with a meaning of its own to some readers of YAML",
     "put it in quotes"),
)  # fmt: skip


def read_plain(text: str) -> Scalar | Doubt:
    """The value of a scalar that is written without quotes, or why it has no certain value."""
    if text in _WORDS:
        return _WORDS[text]
    if _NUMBER.fullmatch(text):
        return _number(text)
    for pattern, what, remedy in _DOUBTS:
        if pattern.fullmatch(text):
            return Doubt("recipe-ambiguous", what, remedy)
    return text


def _number(text: str) -> int | float | Doubt:
    digits = sum(character.isdigit() for character in text)
    if digits > MOST_DIGITS:
        return Doubt(
            "recipe-number",
            f"a number of {digits} digits",
            f"write {MOST_DIGITS} digits at the most; if text is meant, put it in quotes",
        )
    # Adding zero makes plain zero of minus zero, which would be written `-0` further on.
    return float(text) + 0.0 if "." in text else int(text)
