"""The same words written in all the ways that the line grammar allows (section 3.3)."""

from __future__ import annotations

import random
from decimal import Decimal

Words = list[tuple[str, str]]  # letter or `#index=`, and the text of its value

_REMARKS = (
    "lid, inner face", "hive floor", "MSG clear the sheet", "pass 2 of 3", "", " 6 mm cutter ",
    "entrance reducer x12", "G1 X999 is no word in here", "50% stepover; keep dust shoe on",
)  # fmt: skip
_MESSAGES = ("MSG,turn the sheet", "msg, fit the 6 mm cutter", " M S G , check clamps")


def number(value: float, places: int) -> str:
    """A plain decimal number of at most `places` places."""
    text = f"{Decimal(repr(float(value))):.{places}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def spell(rng: random.Random, words: Words, *, semicolons: bool = True) -> str:
    """One line of these words, in any order, case and spacing, with comments and the like.

    The relative order of parameter settings is kept, since it matters when they share an index.
    """
    shuffled = list(words)
    if not any(letter.startswith("#") for letter, _ in words):
        rng.shuffle(shuffled)
    parts = [_word(rng, letter, value) for letter, value in shuffled]
    if rng.random() < 0.12:
        parts.insert(rng.randint(0, len(parts)), f"({rng.choice(_REMARKS)})")
    if rng.random() < 0.03:
        parts.insert(rng.randint(0, len(parts)), f"({rng.choice(_MESSAGES)})")
    if rng.random() < 0.25:
        parts.insert(0, rng.choice("nN") + rng.choice(["", " "]) + _line_number(rng))
    if rng.random() < 0.05:
        parts.insert(0, "/")
    gap = rng.choice(["", " ", " ", "  ", "\t"])
    text = gap.join(parts)
    if semicolons and rng.random() < 0.06:
        text += f" ; {rng.choice(_REMARKS)}"
    return rng.choice(["", "", "", " "]) + text + rng.choice(["", "", "", " ", "\t"])


def remark(rng: random.Random, *, semicolons: bool = True) -> str:
    """A line that does nothing but speak."""
    lines = ["", "  ", f"({rng.choice(_REMARKS)})", f"({rng.choice(_MESSAGES)})", "n40", "/"]
    if semicolons:
        lines.append(f"; {rng.choice(_REMARKS)} (")
    return rng.choice(lines)


def _line_number(rng: random.Random) -> str:
    value = str(rng.randint(0, 99999))
    return value.zfill(rng.randint(len(value), 5))


def _word(rng: random.Random, letter: str, value: str) -> str:
    if letter.startswith("#"):
        return letter + _value(rng, value)
    name = letter.lower() if rng.random() < 0.3 else letter.upper()
    gap = " " if rng.random() < 0.1 else ""
    spelt = _code(rng, value) if letter in "GM" else _value(rng, value)
    return name + gap + spelt


def _code(rng: random.Random, value: str) -> str:
    """`1` may also be `01`, `1.0` or `[2-1]` (section D.8.2)."""
    chance = rng.random()
    if chance < 0.15 and "." not in value:
        return "0" + value
    if chance < 0.18 and "." not in value:
        return value + ".0"
    if chance < 0.19 and "." not in value:
        return f"[{value}+0]"
    return value


def _value(rng: random.Random, value: str) -> str:
    """A number in another spelling of exactly the same value, if it is a number at all."""
    if not value.lstrip("-").replace(".", "", 1).isdigit():
        return value
    sign = "-" if value.startswith("-") else ""
    body = value.removeprefix("-")
    chance = rng.random()
    if chance < 0.05 and not sign:
        return "+" + body
    if chance < 0.10:
        return f"{sign}0{body}"
    if chance < 0.16 and "." in body:
        return f"{sign}{body}00"
    if chance < 0.22 and "." not in body:
        return f"{sign}{body}."
    if chance < 0.28 and body.startswith("0."):
        return sign + body[1:]
    if chance < 0.30 and len(body) > 1:
        at = rng.randint(1, len(body) - 1)
        return f"{sign}{body[:at]} {body[at:]}"
    if chance < 0.38 and float(value) != 0:
        return _expression(rng, value)
    return value


def _expression(rng: random.Random, value: str) -> str:
    """The same value by arithmetic that leaves at most the last bits of a double different."""
    part = Decimal(rng.randint(-500, 500)) / 8
    rest = Decimal(value) - part
    return rng.choice(
        (
            f"[{part}+{rest}]",
            f"[ {rest} - {-part} ]",
            f"[[{value}] * 4 / 4]",
            f"[0-[{-Decimal(value)}]]",
            f"[{value}+sin[30]-0.5]",
            f"[2**2-4 + {value}]",
            f"[{value} + abs[fix[-0.5]] - [3 xor 0]]",
            f"[{value} + round[2.4] - 12 mod 10]",
        )
    )
