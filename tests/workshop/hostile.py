"""Names that job files may have, or be said to have, and that no card should: 250 of them."""

from __future__ import annotations

import unicodedata

_DEVICES = (
    "CON",
    "PRN",
    "AUX",
    "NUL",
    *(f"{port}{n}" for port in ("COM", "LPT") for n in range(10)),
)
"""Names that some systems take for devices, with any extension (common practice)."""

_WAYS_OUT = (
    "..", ".", "...", "../lid.nc", "../../etc/passwd", "/etc/passwd", "//server/lid.nc",
    "a/../../b.nc", "C:lid.nc", "C:\\lid.nc", "\\\\server\\lid.nc", "..\\lid.nc", "~/lid.nc",
    "~root", "$HOME.nc", "%TEMP%.nc", "$(reboot).nc", "`reboot`.nc", "lid.nc;reboot",
    "lid.nc|reboot", "lid.nc&reboot", "file:lid.nc", "./lid.nc", "lid.nc/", "lid.nc/.",
    "lid.nc::$DATA", "lid.nc:other", "-rf", "--help.nc", "-", "*", "?.nc", "[a-z].nc",
    "lid.nc%00.txt", "..%2flid.nc", "....//lid.nc", "/dev/stdout", "/dev/null.nc",
    "{lid,floor}.nc", "!lid.nc", "#lid.nc",
)  # fmt: skip
_OURS = (
    "HEADRACE.JSON", "headrace.nc", "Headrace.nc", "HEADRACE", "HR000001.HRT", "HR_LIST.HRT",
    "HR_NEXT.HRT", "hr000002.nc", "HR_00001.nc", "HR900000.nc",
)  # fmt: skip
_ENDS = tuple(
    f"lid{end}"
    for end in (".", "..", " ", "  ", ". .", ".nc.", ".nc ", ".nc. ", " .nc", "\t.nc", "\xa0.nc")
)
_BEGINNINGS = tuple(
    f"{start}lid.nc"
    for start in (" ", ".", "..", "-", "--", "\t", "\u200b", "\ufeff", "\u202e", "\xad", "_")
)
_SAME = (
    "Lid.nc", "LID.nc", "lID.nc", "lid.NC", "lid.tap", "LID.TAP", "lid.nc.nc",
    "entrance-reducer-left.nc", "entrance-reducer-right.nc", "ENTRANCE-REDUCER.nc", "entran~1.nc",
    "ENTRAN~2.NC", "entrance_reducer.nc", "stra\xdfe.nc", "STRASSE.nc", "strasse.nc", "\u0131d.nc",
    "ID.nc", "\u212a.nc", "K.nc", "k.nc", "\ufb01n.nc", "FIN.nc", "lid-1.nc", "lid-01.nc",
    "lid-001.nc", "LID-1.nc", "lid_1.nc", "lid_2.nc", "lid-2.nc", "Lid-3.NC", "lid-4.Nc",
)  # fmt: skip
_BEYOND_ASCII = (
    "Schl\xfc\xdfel.nc", "\u8702.nc", "\u5de3\u7bb1.nc", "\U0001f41d.nc", "\u03bc.nc", "\u0435.nc",
    "\xe9.nc", "e\u0301.nc", "\u0301.nc", "\ud800.nc", "\udcff.nc", "\ufffd.nc", "\u2028.nc",
    "\x85.nc", "\u0660.nc", "\u2160.nc", "\uff21.nc", "\uff0e\uff0e.nc", "\uff0f.nc", "\u2044.nc",
    "\u2024.nc", "\u2215.nc", "\u29f5.nc", "\u05d0.nc", "\u0623.nc", "\u200d.nc",
    "\u0000\u0301.nc",
)  # fmt: skip
_LONG = (
    "a" * 300, "a" * 300 + ".nc", "a" * 255, "a" * 251 + ".nc", "." * 300, " " * 300, "-" * 300,
    "\u8702" * 100, "a." * 150, "lid." + "n" * 300, "\xe9" * 200, "e\u0301" * 150,
)  # fmt: skip
_CONTROL = tuple(f"l{chr(code)}d.nc" for code in (*range(32), 127))
_MARKS = tuple(f"l{mark}d.nc" for mark in "\"*+,/:;<=>?[\\]|'!#$%&()@^`{}~")


def _devices() -> list[str]:
    made = [f"{name}.nc" for name in _DEVICES]
    made += [name.lower() for name in _DEVICES[:8]] + [f"{name}.TAR.nc" for name in _DEVICES[:8]]
    return [
        *made,
        "con .nc",
        "con..nc",
        "CONIN$.nc",
        "COM\xb9.nc",
        "lpt\xb2.nc",
        "clock$.nc",
        "aux.",
        " nul",
    ]


def _all() -> tuple[str, ...]:
    both = [unicodedata.normalize("NFD", name) for name in _BEYOND_ASCII if "\ud800" not in name]
    names = [
        *_WAYS_OUT, *_OURS, *_ENDS, *_BEGINNINGS, *_SAME, *_BEYOND_ASCII, *both, *_LONG, *_CONTROL,
        *_MARKS, *_devices(),
    ]  # fmt: skip
    return tuple(dict.fromkeys(names))


HOSTILE = _all()
