"""Worst cases by size: what makes a reader look again and again at what it has seen before."""

from __future__ import annotations

from collections.abc import Callable

Shape = Callable[[int], bytes]


def _of(unit: bytes, before: bytes = b"", behind: bytes = b"") -> Shape:
    """`unit` as often as it takes to make so many bytes."""
    return lambda size: before + unit * (size // len(unit)) + behind


JOB_SHAPES: dict[str, Shape] = {
    "opening marks": _of(b"("),
    "closing marks": _of(b")"),
    "an open comment": _of(b"a", b"("),
    "comments in a comment": _of(b"(a)", b"("),
    "pairs of marks": _of(b"()"),
    "open comments with text": _of(b"(a "),
    "one long comment": _of(b"a", b"(", b")"),
    "semicolons": _of(b";"),
    "blanks": _of(b" "),
    "blanks before a word": _of(b" ", b"", b"G0 X1"),
    "tabs and slashes": _of(b"\t/"),
    "line numbers": _of(b"N "),
    "a line number's digits": _of(b"1", b"N"),
    "letters": _of(b"G"),
    "digits": _of(b"1"),
    "a word's digits": _of(b"9", b"X"),
    "digits behind a point": _of(b"9", b"X."),
    "points": _of(b"."),
    "signs": _of(b"-"),
    "brackets": _of(b"[", b"X"),
    "a long expression": _of(b"+1", b"X[1", b"]"),
    "expressions": _of(b"X[1]"),
    "parameters": _of(b"#", b"X"),
    "settings": _of(b"#1=1"),
    "words": _of(b"X1 "),
    "percent signs": _of(b"%"),
    "letters of messages": _of(b"M S G ", b"("),
    "bytes that are no UTF-8": _of(b"\xff"),
    "signs without a case": _of("ſß".encode()),
    "merge marks": _of(b"<"),
    "zeros of a code": _of(b"0", b"G"),
    "empty lines": _of(b"\n"),
    "returns alone": _of(b"\r"),
    "lines with blanks": _of(b" \n"),
    "percent lines": _of(b"%\n"),
    "open comments by line": _of(b"(\n"),
    "comments by line": _of(b"X1 (A; B)\n", b"G21 G90 G0 Z9\n"),
    "accents by line": _of("X1 ; Bär\r\n".encode(), b"G21 G90 G0 Z9\r\n"),
    "two comments by line": _of(b"X1 (A)(B)\n", b"G21 G90 G0 Z9\n"),
    "expressions by line": _of(b"X[1+1]\n", b"G21 G90 G0 Z9\n"),
    "faults by line": _of(b"X1X1\n"),
    "odd numbers by line": _of(b"X1.1.1\n"),
    "codes by line": _of(b"G0 G90 M5\nX1 Y1\n", b"G21 G90 G0 Z9\n"),
    "every other line": _of(b"G1 X1\n(A; B)\n", b"G21 G90 F9\nG0 X0 Y0 Z9\n"),
    "moves": _of(b"G1 X1 Y1\nX2\n", b"G21 G90 F9\nG0 X0 Y0 Z9\n"),
    "arcs": _of(b"G2 X1 Y0 R1\nG2 X0 Y0 R1\n", b"G21 G90 F9\nG0 X0 Y0 Z9\n"),
    "cycles": _of(b"G81 X1 Y0 Z-1 R1\nG80\n", b"G21 G90 F9\nG0 X0 Y0 Z9\n"),
    "stops": _of(b"M0 (LID TURNED?)\n", b"G21 G90 G0 Z9\n"),
}
"""Jobs, on one line and on many."""
MANY_LINES = list(JOB_SHAPES)[list(JOB_SHAPES).index("empty lines") :]
"""Those that have the more lines the larger they are."""

YAML_SHAPES: dict[str, Shape] = {
    "a long value": _of(b"x", b"a: "),
    "a long quoted value": _of(b"x", b"a: '", b"'"),
    "escapes": _of(b"\\x41", b'a: "', b'"'),
    "a long key": _of(b"k", b"", b": 1"),
    "a number": _of(b"1", b"a: "),
    "digits and colons": _of(b":1", b"a: 1"),
    "underscores": _of(b"1_", b"a: ", b"x"),
    "a date and blanks": _of(b" ", b"a: 2026-01-01", b"x"),
    "brackets": _of(b"["),
    "braces": _of(b"{a: "),
    "dashes": _of(b"- "),
    "question marks": _of(b"? "),
    "keys": lambda size: b"".join(b"k%d: 1\n" % n for n in range(size // 9)),
    "the same key": _of(b"a: 1\n"),
    "items": _of(b"1, ", b"[", b"1]"),
    "documents": _of(b"--- 1\n"),
    "comments": _of(b"# a\n"),
    "anchors": _of(b"&a "),
    "tags": _of(b"!t "),
    "opening quotes": _of(b"'"),
    "line ends": _of(b"\n"),
    "returns alone": _of(b"\r"),
    "blanks": _of(b" "),
    "lines of a value": _of(b"  x\n", b"a:\n"),
    "a block value": _of(b"  x\n", b"a: |\n"),
    "colons": _of(b": "),
    "percent lines": _of(b"%a\n"),
}
"""Recipes, machines, set-ups: up to the size that is read at all."""
