"""Jobs that are odd in one way each, and sound all the same.

Sections are those of RS274/NGC (NISTIR 6556).
"""

from __future__ import annotations

from collections.abc import Iterator

_PLAIN = """\
(HIVE LID)
G21 G90 G17
T1 M6
M3 S18000
G0 Z5
G0 X10 Y10
G1 Z-1.5 F400
G1 X60 F900
G1 Y40
G2 X50 Y50 I-10 J0
G1 X10
G1 Y10
G0 Z5
M5
M30
"""

_TEXTS = {
    "nothing at all": "",
    "one blank line": "\n",
    "only blank lines": "\n\n  \n",
    "only comments": "(HIVE)\n; LID\n",
    "only a frame": "%\n%\n",
    "stops (3.6.1)": _PLAIN.replace("G1 X60", "(TURN)\nM0\nM1\nG1 X60"),
    "no moves": "G21\nG90\nM30\n",
    "frame without an end word (3.1)": f"%\n{_PLAIN.replace('M30' + chr(10), '')}%\n",
    "no end word": _PLAIN.replace("M30\n", ""),
    "no line end at the end": _PLAIN.rstrip("\n"),
    "words behind the end (3.6.1)": _PLAIN + "G0 X1\nM3 S9000\n",
    "text behind the frame (3.1)": f"%\n{_PLAIN}%\nIGNORED\n",
    "end word on a move (table 8)": _PLAIN.replace("G0 Z5\nM5\nM30", "M5\nG0 Z5 M30"),
    "M2 ends it": _PLAIN.replace("M30", "M2"),
    "blank lines between": _PLAIN.replace("\n", "\n\n"),
    "blanks and tabs behind": _PLAIN.replace("\n", " \t\n"),
    "tabs between": _PLAIN.replace(" ", "\t"),
    "blanks within words (3.3)": _PLAIN.replace("X", "X ").replace("G1 ", "G 1 "),
    "no blanks": _PLAIN.replace(" ", ""),
    "small letters": _PLAIN.lower(),
    "mixed letters": _PLAIN.replace("X", "x").replace("M3", "m3"),
    "no units, no modes": _PLAIN.replace("G21 G90 G17\n", ""),
    "no spindle word": _PLAIN.replace("M3 S18000\n", "").replace("M5\n", ""),
    "no tool word": _PLAIN.replace("T1 M6\n", ""),
    "motion words once": "G21 G90\nM3 S9000\nG0 Z5\nX10 Y10\nG1 Z-1 F300\nX20\nY20\nG0 Z5\nM30\n",
    "points without digits (3.3.2.1)": _PLAIN.replace("-1.5", "-.5").replace("X60", "X60."),
    "plus signs and zeros (3.3.2.1)": _PLAIN.replace("X60", "X+060.00").replace("G1 ", "G01 "),
    "minus zero": _PLAIN.replace("J0", "J-0.0"),
    "many places": _PLAIN.replace("X60", "X60.000000000001"),
    "codes with a point (3.3.2.1)": _PLAIN.replace("G1 X", "G1.0 X"),
    "words in another order (3.3.6)": _PLAIN.replace("G1 X60 F900", "F900 X60 G1"),
    "all on one line": "G21 G90 G17 G94 M3 S18000 T1 F600 G0 Z5\nG1 X5 Z-1\nG0 Z5 M5\nM30\n",
    "feed on its own line": _PLAIN.replace("G1 X60 F900", "F900\nG1 X60"),
    "feed on a rapid": _PLAIN.replace("G0 X10 Y10", "G0 X10 Y10 F700"),
    "speed on its own line": _PLAIN.replace("M3 S18000", "S18000\nM3"),
    "speed in the cut": _PLAIN.replace("G1 Y40", "S12000.5\nG1 Y40"),
    "spindle word on a move": _PLAIN.replace("M3 S18000\nG0 Z5", "G0 Z5 M3 S18000"),
    "line numbers everywhere": _PLAIN.replace("\n", "\nN7 ").removesuffix("N7 "),
    "line numbers alone": _PLAIN.replace("G1 Y40", "N20\nN21\nG1 Y40"),
    "optional lines (3.3)": _PLAIN.replace("G1 X60", "/M8\n/ N5 M9\nG1 X60"),
    "comments between words (3.3.4)": _PLAIN.replace("G1 X60 F900", "(A) G1 (B) X60 (C) F900 (D)"),
    "comments of both kinds": _PLAIN.replace("G1 X60", "; along\nG1 X60").replace("M5", "M5 ; off"),
    "a message (3.3.4)": _PLAIN.replace("G1 X60", "(MSG, MIND THE BEES)\nG1 X60"),
    "an empty comment": _PLAIN.replace("(HIVE LID)", "()"),
    "a comment with words in it": _PLAIN.replace("(HIVE LID)", "(M3 S24000 G0 Z-99)"),
    "letters beyond ASCII": _PLAIN.replace("HIVE LID", "Bienenstock, größer — 5 µm"),
    "a line of 256 characters (3.3)": f"({'B' * 254})\n{_PLAIN}",
    "inches": "G20 G90\nM3 S18000\nG0 Z.5\nX1 Y1\nG1 Z-.1 F20\nG1 X2.25\nG0 Z.5\nM5\nM30\n",
    "inches, then millimetres": _PLAIN.replace("G21", "G20\nG0 Z.5\nG21", 1),
    "increments (3.5.17)": _PLAIN.replace("G1 Y40", "G91\nG1 Y15\nY15\nG90"),
    "radius arcs (3.5.3.1)": _PLAIN.replace("I-10 J0", "R10"),
    "the long way round (3.5.3.1)": _PLAIN.replace("I-10 J0", "R-10"),
    "a whole circle (3.5.3.2)": _PLAIN.replace("G2 X50 Y50 I-10 J0", "G3 I-5 J0\nG1 X50 Y50"),
    "a helix (3.5.3)": _PLAIN.replace("G2 X50 Y50 I", "G2 X50 Y50 Z-2.5 I"),
    "arcs in another plane (3.5.3)": _PLAIN.replace(
        "G1 Y40\nG2 X50 Y50 I-10 J0", "G18\nG3 X64 Z-1.5 I2 K0\nG17\nG1 X50 Y50"
    ),
    "cycles (3.5.16)": _PLAIN.replace(
        "G1 Z-1.5 F400", "G81 X10 Y10 Z-3 R1 F200\nX20\nG82 X30 Z-3 R1 P0.25\nG80\nG1 Z-1.5 F400"
    ),
    "cycle repeated (3.5.16)": _PLAIN.replace(
        "G1 Z-1.5 F400", "G91 G81 X8 Z-2 R-4 L3 F200\nG80 G90\nG0 Z5\nG1 Z-1.5 F400"
    ),
    "dwells (3.5.4)": _PLAIN.replace("G1 Y40", "G4 P0.5\nG1 Y40\nG4 P2"),
    "inverse time (3.5.19)": _PLAIN.replace("G1 Y40", "G93\nG1 Y40 F20\nG94 F900"),
    "exact stops (3.5.14)": _PLAIN.replace("G1 X60", "G61\nG1 X60").replace("M5", "G64\nM5"),
    "work offsets": _PLAIN.replace("G0 X10", "G54\nG0 X10").replace(
        "G1 Y40", "G55\nG1 Y40\nG54\nG1 X60 Y40 Z-1.5"
    ),
    "numbers shifted (3.5.18)": _PLAIN.replace("G1 Y40", "G92 X0\nG1 X5\nG92.1\nG1 X60 Y40"),
    "coolant words (2.1.2.7)": _PLAIN.replace("G1 X60", "M7\nM8\nG1 X60").replace("M5", "M9\nM5"),
    "a stop on a move (table 8)": _PLAIN.replace("G0 Z5\nM5", "G0 Z5 M0\nM5"),
    "two bits": _PLAIN.replace("M5\nM30", "M5\nT2 M6\nM3 S16000\nG0 X20\nG1 Z-1\nG0 Z5\nM5\nM30"),
    "a bit called early (3.7.3)": _PLAIN.replace("T1 M6", "T1\nM6\nT2"),
    "the same place again": _PLAIN.replace("G1 Y40", "G1 Y40\nG1 Y40\nG1 X60 Y40"),
    "spindle on twice": _PLAIN.replace("M3 S18000", "M3 S18000\nM3 S18000"),
    "expressions (3.3.2.3)": _PLAIN.replace("G1 Y40", "#1=20\nG1 Y[#1*2]"),
    "a program number (common practice)": _PLAIN.replace("(HIVE LID)", "O0017 (HIVE LID)"),
    "subprograms (common practice)": _PLAIN.replace("G1 Y40", "M98 P17\nG1 Y40")
    + "O17\nG91\nG1 X2\nX-2\nG90\nM99\n",
}


def awkward_jobs() -> Iterator[tuple[str, bytes]]:
    """What is odd, and the file."""
    yield "a byte-order mark", b"\xef\xbb\xbf" + _PLAIN.encode()
    yield "CR LF", _PLAIN.replace("\n", "\r\n").encode()
    yield "CR alone (3.3)", _PLAIN.replace("\n", "\r").encode()
    ends = ("\n", "\r\n", "\r")
    mixed = "".join(line + ends[at % 3] for at, line in enumerate(_PLAIN.splitlines()))
    yield "line ends that take turns", mixed.encode()
    yield "a letter of Latin-1", _PLAIN.replace("HIVE LID", "Honigschleuder \xfc").encode("latin-1")
    for name, text in _TEXTS.items():
        yield name, text.encode()
    yield "several hundred lines", _relief(400).encode()
    yield (
        "several hundred lines, CR LF, no blanks",
        (_relief(300).replace(" ", "").replace("\n", "\r\n").encode()),
    )


def _relief(count: int) -> str:
    """A long job, as most of a job is: cut after cut."""
    lines = [f"G1 X{at % 37 * 5} Y{at // 37 * 7} Z-{1 + at % 4 * 0.25}" for at in range(count)]
    head, tail = _PLAIN.split("G1 X60 F900\n")
    return head + "G1 X60 F900\n" + "\n".join(lines) + "\nG0 Z5\n" + tail.split("G1 X10\n")[1]
