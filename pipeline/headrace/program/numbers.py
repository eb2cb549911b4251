"""Numbers as the language writes them: exact decimals in, plain decimals out."""

from __future__ import annotations

from decimal import ROUND_HALF_EVEN, Decimal


def plain(value: Decimal) -> str:
    """A decimal without exponent, trailing zeros or sign of zero."""
    text = format(value, "f")
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def number_text(value: Decimal | float, places: int = 4) -> str:
    """`value` with at most `places` decimals, no exponent, no trailing zeros, never `-0`.

    >>> number_text(Decimal("12.50")), number_text(-0.00001), number_text(1e3)
    ('12.5', '0', '1000')
    """
    exact = value if isinstance(value, Decimal) else Decimal(repr(float(value)))
    return plain(exact.quantize(Decimal(1).scaleb(-places), ROUND_HALF_EVEN))
