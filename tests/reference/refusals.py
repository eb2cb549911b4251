"""One tiny program for each fault that a single file can show, with the rule it breaks.

Cutter compensation is refused as a whole, so the faults that need it to be on cannot be shown.
"""

from __future__ import annotations

from dataclasses import dataclass

from reference.records import Options, Start

_REST, _USUAL = Start(), Options()


@dataclass(frozen=True, slots=True)
class Refusal:
    """`kind` is the fault of the last of the lines, or of line `line`; `column` from 0.

    column None: no particular place.
    """

    kind: str
    source: str
    lines: tuple[str, ...]
    column: int | None
    line: int = -1
    start: Start = _REST
    options: Options = _USUAL


_MEM = "from memory"

REFUSALS: tuple[Refusal, ...] = (
    Refusal("line-too-long", "3.3", ("(" + "x" * 255 + ")",), 256),
    Refusal("bad-character", "3.3, E.3", ("G0 X1 $",), 6),
    Refusal("bad-character", "3.3, E.3", ("G0 X?1",), 4),
    Refusal("bad-character", "E.3", ("G0 X1 ; home",), 6, options=Options(semicolons=False)),
    Refusal("bad-character", "3.3.4", ("(bell \x07)",), 6),
    Refusal("unknown-letter", "table 3, E.3", ("G0 E1",), 3),
    Refusal("unknown-letter", "table 3, E.3", ("O100",), 0),
    Refusal("unknown-letter", "table 3, E.3", ("U1",), 0),
    Refusal("word-without-value", "3.3.2", ("G0 X",), 4),
    Refusal("word-without-value", "3.3.2", ("G0 XY1",), 4),
    Refusal("value-missing", "E.2", ("G0 X[1+]",), 7),
    Refusal("value-missing", "E.2", ("#1=",), 3),
    Refusal("bad-number", "3.3.2.1", ("G0 X.",), 4),
    Refusal("bad-number", "3.3.2.1", ("G0 X-",), 4),
    Refusal("bad-number", "3.3.2.1", ("G0 X1.2.3",), 4),
    Refusal("bad-number", "3.3.2.1", ("G0 X1E2",), 4),
    Refusal("bad-number", "E.2: no minus before a bracket", ("G0 X-[1]",), 4),
    Refusal("integer-expected", "3.3.2.1", ("M3.5",), 0),
    Refusal("line-number-misplaced", "3.3.1", ("G0 N10 X1",), 3),
    Refusal("line-number-bad", "3.3.1", ("N000009 G0 X1",), 0),
    Refusal("line-number-bad", "3.3.1", ("N1.5 G0 X1",), 0),
    Refusal("line-number-bad", "3.3.1", ("N-1",), 0),
    Refusal("line-number-bad", "3.3.1", ("N G0",), 0),
    Refusal("block-delete-misplaced", "3.3", ("G0 /X1",), 3),
    Refusal("comment-open", "3.3.4", ("G0 X1 (never closed",), 6),
    Refusal("comment-nested", "3.3.4", ("(one (two))",), 5),
    Refusal("bracket-unbalanced", "3.3.2.3", ("G0 X[1+2",), 4),
    Refusal("bracket-unbalanced", "3.3.2.3", ("G0 X1]",), 5),
    Refusal("unknown-operation", "3.3.2.3", ("G0 X[1 nor 2]",), 7),
    Refusal("unknown-operation", "3.3.2.4", ("G0 X asim[0.5]",), 5),
    Refusal("atan-form", "3.3.2.4", ("G0 X atan[1]",), 5),
    Refusal("atan-form", "3.3.2.4", ("G0 X atan[1]/2",), 5),
    Refusal("function-without-bracket", "E.2", ("G0 X sin30",), 5),
    Refusal("setting-without-equals", "3.3.3", ("#1 5",), 0),
    Refusal("parameter-index", "3.3.2.2", ("#0=1",), 0),
    Refusal("parameter-index", "3.3.2.2", ("G0 X#5400",), 4),
    Refusal("parameter-index", "3.3.2.2", ("#1.5=1",), 0),
    Refusal("parameter-reserved", "silent on when it acts", ("#5221=1",), 0),
    Refusal("domain", _MEM, ("G0 X[1/0]",), 6),
    Refusal("domain", _MEM, ("G0 X sqrt[-1]",), 5),
    Refusal("domain", _MEM, ("G0 X ln[0]",), 5),
    Refusal("domain", _MEM, ("G0 X asin[1.1]",), 5),
    Refusal("domain", _MEM, ("G0 X[[0-2]**0.5]",), 10),
    Refusal("domain", _MEM, ("G0 X[1 mod 0]",), 7),
    Refusal("repeated-letter", "3.3.5", ("G0 X1 X2",), 6),
    Refusal("same-modal-group", "3.3.5", ("G0 G1 X1",), 3),
    Refusal("same-modal-group", "3.3.5", ("M3 M4",), 3),
    Refusal("same-modal-group", "3.3.5, D.8.2", ("G4 P1 G53 G0 X0",), 6),
    Refusal("too-many-m", "3.3.5", ("M3 M6 M7 M48 M0",), 13),
    Refusal("unknown-g", "table 5", ("G5 X1",), 0),
    Refusal("unknown-g", "3.3.2.1", ("G1.05 X1",), 0),
    Refusal("unknown-g", "table 5", ("G90.1",), 0),
    Refusal("unknown-m", "table 7", ("M20",), 0),
    Refusal("negative-g-m", _MEM, ("G-1 X1",), 0),
    Refusal("negative-g-m", _MEM, ("M-3",), 0),
    Refusal("percent-unclosed", "3.1", ("%", "G0 X1"), None, line=0),
    Refusal("percent-unexpected", "A.1", ("G0 X1", "%"), 0),
    Refusal("no-end", "3.1", ("G0 X1",), None, options=Options(require_end=True)),
    Refusal("axis-conflict", "3.4", ("G1 G92 X0 F1",), 3),
    Refusal("axis-conflict", "3.4", ("G0 G28 X0",), 3),
    Refusal("axis-words-unused", "3.5.15", ("G80", "X1"), 0),
    Refusal("no-axis-for-motion", "3.5.1", ("G0",), 0),
    Refusal("no-axis-for-motion", "3.5.3", ("G2 I5 F1",), 0),
    Refusal("no-axis-g92", "3.5.18", ("G92",), 0),
    Refusal("no-axis-g53", "3.5.12", ("G53 G0",), 0),
    Refusal("feed-missing", _MEM, ("G1 X1",), 0),
    Refusal("feed-missing", _MEM, ("G1 X1 F0",), 6),
    Refusal("feed-missing", _MEM, ("G81 X1 Z-1 R1",), 0),
    Refusal("feed-missing-inverse", "3.5.19", ("G93 G1 X1 F2", "X2"), None),
    Refusal("feed-negative", "4.3.5.1", ("F-1",), 0),
    Refusal("speed-negative", "3.7.2", ("S-1",), 0),
    Refusal("tool-bad", "3.7.3", ("T-1",), 0),
    Refusal("tool-bad", "3.7.3", ("T1.5",), 0),
    Refusal("tool-bad", "3.7.3", ("T69",), 0, options=Options(slots=68)),
    Refusal("arc-no-axis", "3.5.3", ("G2 Z1 I1 F1",), 0),
    Refusal("arc-no-centre", "3.5.3.2", ("G2 X1 F1",), 0),
    Refusal("arc-mixed", _MEM, ("G2 X1 I1 R1 F1",), 9),
    Refusal("arc-wrong-offset", _MEM, ("G17 G2 X1 K1 F1",), 10),
    Refusal("arc-wrong-offset", _MEM, ("G18 G2 X1 J1 F1",), 10),
    Refusal("arc-wrong-offset", _MEM, ("G19 G2 Y1 I1 F1",), 10),
    Refusal("arc-radius-mismatch", "3.5.3.2", ("G2 X10 Y0 I5.0011 F1",), 10),
    Refusal("arc-r-full-circle", "3.5.3.1", ("G2 X0 Y0 R5 F1",), 9),
    Refusal("arc-r-too-small", _MEM, ("G2 X10 R4.9 F1",), 7),
    Refusal("arc-zero-radius", _MEM, ("G2 X0 I0 F1",), 6),
    Refusal("dwell-missing", "3.5.4", ("G4",), 0),
    Refusal("dwell-negative", "3.5.4", ("G4 P-1",), 3),
    Refusal("g10-l", _MEM, ("G10 P1 X0",), 0),
    Refusal("g10-l", _MEM, ("G10 L20 P1 X0",), 4),
    Refusal("g10-p", "3.5.5", ("G10 L2 X0",), 0),
    Refusal("g10-p", "3.5.5", ("G10 L2 P10 X0",), 7),
    Refusal("g10-p", "3.5.5", ("G10 L2 P1.5 X0",), 7),
    Refusal("probe-no-axis", "3.5.9.1", ("G38.2 A1 F1",), 0),
    Refusal("probe-no-axis", "3.5.9.1", ("G38.2 F1",), 0),
    Refusal("probe-too-close", "3.5.9.1", ("G38.2 Z-0.25 F1",), 0),
    Refusal("probe-too-close", "3.5.9.1", ("G20 G38.2 Z-0.0099 F1",), 4),
    Refusal("probe-rotary", "3.5.9.1", ("G38.2 Z-5 A1 F1",), 0),
    Refusal("probe-inverse", "3.5.9.1", ("G93 G38.2 Z-5 F1",), 4),
    Refusal("probe-spindle-on", "4.3.6.6", ("M3", "G38.2 Z-5 F1"), 0),
    Refusal("probe-zero-feed", _MEM, ("G38.2 Z-5",), 0),
    Refusal("compensation", "not read here", ("G41 D1",), 0),
    Refusal("compensation", "not read here", ("G42",), 0),
    Refusal("comp-d-bad", "3.5.10", ("G41 D-1",), 4),
    Refusal("d-unused", "B.5", ("G1 X1 D1 F1",), 6),
    Refusal("length-index-missing", "3.5.11", ("G43",), 0),
    Refusal("length-index-bad", "3.5.11", ("G43 H-1",), 4),
    Refusal("length-index-bad", "3.5.11", ("G43 H3",), 4, options=Options(lengths={1: 2.0})),
    Refusal("length-table", "no tool table", ("G43 H1",), 0),
    Refusal("h-unused", _MEM, ("G0 X1 H1",), 6),
    Refusal("g53-no-straight", "3.5.12", ("G53 X1",), 0),
    Refusal("g53-incremental", _MEM, ("G91 G53 G0 X1",), 4),
    Refusal("system-index", "3.2.2", ("G0 X1",), None, line=0, start=Start(parameters={5220: 10})),
    Refusal("cycle-no-axis", "3.5.16", ("G81 R1 F1",), 0),
    Refusal("cycle-no-depth", "3.5.16", ("G81 X1 R1 F1",), 0),
    Refusal("cycle-no-depth", "3.5.16", ("G81 X1 Z-1 R1 F1", "G82 X2 R1 P1"), 0),
    Refusal("cycle-no-r", "3.5", ("G81 X1 Z-1 F1",), 0),
    Refusal("cycle-no-r", "3.5", ("G81 X1 Z-1 R1 F1", "G18 X2 Y-1"), 0),
    Refusal("cycle-r-below-depth", "3.5.16", ("G81 X1 Z2 R1 F1",), 10),
    Refusal("cycle-r-below-depth", "3.5.16", ("G18 G81 X1 Y2 R1 F1",), 14),
    Refusal("cycle-l-bad", "3.5.16", ("G81 X1 Z-1 R1 L0 F1",), 14),
    Refusal("cycle-l-bad", "3.5.16", ("G81 X1 Z-1 R1 L1.5 F1",), 14),
    Refusal("cycle-p-missing", "3.5", ("G82 X1 Z-1 R1 F1",), 0),
    Refusal("cycle-p-negative", "3.5.16", ("G89 X1 Z-1 R1 P-1 F1",), 14),
    Refusal("cycle-q-bad", "3.5", ("G83 X1 Z-1 R1 F1",), 0),
    Refusal("cycle-q-bad", "3.5.16.4", ("G83 X1 Z-1 R1 Q0 F1",), 14),
    Refusal("cycle-ijk-missing", "3.5", ("M3", "G87 X1 Z-1 R1 I1 J1 F1"), 0),
    Refusal("cycle-rotary", "3.5.16", ("G81 X1 Z-1 R1 A5 F1",), 0),
    Refusal("cycle-inverse", "3.5.16", ("G93 G81 X1 Z-1 R1 F1",), 4),
    Refusal("tap-spindle", "3.5.16.5", ("G84 X1 Z-1 R1 F1",), 0),
    Refusal("tap-spindle", "3.5.16.5", ("M4", "G84 X1 Z-1 R1 F1"), 0),
    Refusal("bore-spindle", "3.5.16.7", ("G86 X1 Z-1 R1 P1 F1",), 0),
    Refusal("bore-spindle", _MEM, ("G87 X1 Z-1 R1 I1 J1 K1 F1",), 0),
    Refusal("bore-spindle", _MEM, ("G88 X1 Z-1 R1 P1 F1",), 0),
    Refusal("word-unused", _MEM, ("G0 X1 R1",), 6),
    Refusal("word-unused", _MEM, ("G1 X1 I1 F1",), 6),
    Refusal("word-unused", _MEM, ("G1 X1 L1 F1",), 6),
    Refusal("word-unused", _MEM, ("P1",), 0),
    Refusal("word-unused", _MEM, ("G81 X1 Z-1 R1 Q1 F1",), 14),
)
