"""Codes and modal groups of RS274/NGC (tables 4, 5 and 7).

G codes are held as ten times their number (`G59.1` is 591), as the standard counts them.
"""

from __future__ import annotations

from collections.abc import Mapping

RAPID, FEED, CW, CCW, PROBE, CANCEL = 0, 10, 20, 30, 382, 800
CYCLES = frozenset(range(810, 900, 10))

_G_GROUPS: Mapping[int, tuple[int, ...]] = {
    0: (40, 100, 280, 300, 530, 920, 921, 922, 923),
    1: (RAPID, FEED, CW, CCW, PROBE, CANCEL, *sorted(CYCLES)),
    2: (170, 180, 190),
    3: (900, 910),
    4: (901, 911),  # how arc centres count: common practice, not in the standard
    5: (930, 940),
    6: (200, 210),
    7: (400, 410, 420),
    8: (430, 490),
    10: (980, 990),
    12: (540, 550, 560, 570, 580, 590, 591, 592, 593),
    13: (610, 611, 640),
}
G_GROUP: Mapping[int, int] = {code: group for group, codes in _G_GROUPS.items() for code in codes}
"""The modal group of each G code; group 0 acts on its own line only."""

M_GROUP: Mapping[int, int] = {
    0: 4, 1: 4, 2: 4, 30: 4, 60: 4,
    6: 6,
    3: 7, 4: 7, 5: 7,
    7: 8, 8: 8, 9: 8,
    48: 9, 49: 9,
}  # fmt: skip
"""The modal group of each M code."""

SYSTEMS: Mapping[int, int] = {code: number for number, code in enumerate(_G_GROUPS[12], start=1)}
"""Work offset systems: G54 is 1, G59.3 is 9."""

AXIS_USERS = frozenset((100, 280, 300, 920))
"""Codes of group 0 that take the axis words of their line (3.4)."""

AXES = "XYZABC"
PLANES: Mapping[int, tuple[int, int, int]] = {17: (0, 1, 2), 18: (2, 0, 1), 19: (1, 2, 0)}
"""First and second axis of each plane, right-handed, and the axis across (4.3.6.1)."""


PROBED, SHIFT, ACTIVE_SYSTEM = 5061, 5211, 5220
HOMES: Mapping[int, int] = {280: 5161, 300: 5181}
"""Parameters: where the last probe tripped, the G92 shift, the system in force, and the points of
G28 and G30 (table 2); each but the system stands for six axes."""


def first_origin(system: int) -> int:
    """The parameter that holds the X origin of a work offset system (table 2).

    >>> first_origin(1), first_origin(9)
    (5221, 5381)
    """
    return 5221 + 20 * (system - 1)


def g_name(code: int) -> str:
    """The usual spelling of a G code.

    >>> g_name(382), g_name(10)
    ('G38.2', 'G1')
    """
    whole, tenth = divmod(code, 10)
    return f"G{whole}.{tenth}" if tenth else f"G{whole}"
