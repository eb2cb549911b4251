"""G and M codes by modal group (section 3.4, table 4, with the lists of tables 5 and 7)."""

from __future__ import annotations

from reference.arithmetic import whole

CYCLES = ("G81", "G82", "G83", "G84", "G85", "G86", "G87", "G88", "G89")
SYSTEMS = ("G54", "G55", "G56", "G57", "G58", "G59", "G59.1", "G59.2", "G59.3")

G_GROUPS: dict[str, tuple[str, ...]] = {
    "motion": ("G0", "G1", "G2", "G3", "G38.2", "G80", *CYCLES),
    "plane": ("G17", "G18", "G19"),
    "distance": ("G90", "G91"),
    "feed mode": ("G93", "G94"),
    "units": ("G20", "G21"),
    "compensation": ("G40", "G41", "G42"),
    "length": ("G43", "G49"),
    "retract": ("G98", "G99"),
    "system": SYSTEMS,
    "path": ("G61", "G61.1", "G64"),
    "once": ("G4", "G10", "G28", "G30", "G53", "G92", "G92.1", "G92.2", "G92.3"),
}
# Not in the report; common practice, read only when Options.centre_codes is on.
CENTRE_CODES = ("G90.1", "G91.1")

M_GROUPS: dict[str, tuple[str, ...]] = {
    "stop": ("M0", "M1", "M2", "M30", "M60"),
    "tool": ("M6",),
    "spindle": ("M3", "M4", "M5"),
    "coolant": ("M7", "M8", "M9"),
    "overrides": ("M48", "M49"),
}

# Section 3.4: the codes of group 0 that use axis words.
AXIS_USERS = ("G10", "G28", "G30", "G92")

G_GROUP = {code: group for group, codes in G_GROUPS.items() for code in codes}
M_GROUP = {code: group for group, codes in M_GROUPS.items() for code in codes}


def g_code(value: float) -> str | None:
    """`38.2` to `G38.2`; None when ten times the value is no integer (section 3.3.2.1)."""
    tenths = whole(value * 10)
    if tenths is None:
        return None
    return f"G{tenths // 10}" + (f".{tenths % 10}" if tenths % 10 else "")
