"""Seeded faults in what contracts declare: tips that trail, wraps, heads with zeros of their own.

    python tests/pipeline/proof/declared.py [--tries 2000] [--seed 1]

A job and its right result are made, one word of the result is spoilt, and what that does on the
machine is worked out here: by the reference interpreter (RS274/NGC), and from there the tip as a
rope that is pulled in small steps (the first principle of a trailer), the surface of a blank in
space, the bits of two heads above the sheet; distances by Shapely. Both proofs must refuse what
comes out wrong by more than the tolerance, and let pass what does not by much. Exit code 1 if not.
"""

from __future__ import annotations

import argparse
import math
import random
import re
import sys
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from itertools import pairwise
from pathlib import Path
from typing import NamedTuple

import numpy as np
from shapely import LineString, Point, hausdorff_distance

if not __package__:  # run as a script
    sys.path[:0] = [str(Path(__file__).parents[2])]
from pipeline.proof.trial import CAUSE, program, version
from reference import Move, ReferenceError_, Start, run

from headrace import Facet, Renumbering, Trailing, Wrap, replace
from headrace.language import Dialect as FirstDialect
from headrace.language import State, interpret
from headrace.plugins import Contract
from headrace.proof import Version, prove_run, prove_step
from headrace.proof.second.follower import Dialect

Lines = list[list[str]]
"""A result: what each line of the job has become."""
HEAD = ["G21 G90 G17 G94", "G0 X0 Y0 Z5"]
TAIL = ["G0 Z5", "M30"]


class Case(NamedTuple):
    """A job, its right result, what that may change, and what makes a result wrong: how far it is
    off, in tolerances; infinite where it is another program."""

    job: list[str]
    right: Lines
    contract: Contract
    off: Callable[[Lines], float]
    heads: bool = False


def flat(lines: Lines) -> list[str]:
    return [text for texts in lines for text in texts]


def moves_of(lines: Lines) -> list[list[Move]]:
    """The moves of each line of the job, by the reference interpreter."""
    owners = [at for at, texts in enumerate(lines) for _ in texts]
    told = run([re.sub(r"M6[45]", "", text) for text in flat(lines)],
               start=Start(position=(0.0,) * 6))  # fmt: skip
    if told.error is not None:
        raise ReferenceError_(told.error.kind, 0)
    found: list[list[Move]] = [[] for _ in lines]
    for move in told.moves:
        found[owners[move.line]].append(move)
    return found


def places(move: Move, count: int) -> np.ndarray:
    """Places along a move (count, 6)."""
    part = np.linspace(0, 1, count)[:, None]
    start, end = np.array(move.start), np.array(move.end)
    track = start + (end - start) * part
    if move.centre is not None:
        u, v = {17: (0, 1), 18: (2, 0), 19: (1, 2)}[move.plane]
        out = start[[u, v]] - np.array(move.centre)
        angle = part[:, 0] * (move.turn if move.kind == "ccw" else -move.turn)
        grown = np.hypot(*(end[[u, v]] - np.array(move.centre))) / np.hypot(*out)
        size = 1 + (grown - 1) * part[:, 0]
        track[:, u] = move.centre[0] + size * (out[0] * np.cos(angle) - out[1] * np.sin(angle))
        track[:, v] = move.centre[1] + size * (out[0] * np.sin(angle) + out[1] * np.cos(angle))
    return track


def apart(one: np.ndarray, other: np.ndarray) -> float:
    """How far two ways (n, 2) are from each other, and their ends too (Shapely)."""
    ends = max(float(np.hypot(*(one[at] - other[at]))) for at in (0, -1))
    shapes = [LineString(way) if np.ptp(way, axis=0).max() > 1e-9 else Point(way[0])
              for way in (one, other)]  # fmt: skip
    return max(ends, float(hausdorff_distance(*shapes)))


# --- a tip that trails

OFFSET, BITE, WITHIN = 0.5, 0.4, 0.02


def knife_case(rng: random.Random) -> Case:
    """A way of lines and arcs, and the axis ahead of it by the offset."""
    x, y = rng.uniform(5, 30), rng.uniform(5, 30)
    x, y = round(x, 3), round(y, 3)
    job = [HEAD[0], "G0 Z5", f"G0 X{x:.3f} Y{y:.3f}", "G1 Z-2 F300"]
    blade = 0.0
    right = [[text] for text in job[:2]]
    right += [[f"G0 X{x + OFFSET:.4f} Y{y:.4f}"], ["G1 Z-0.4 F300", "", "G1 Z-2 F300"]]
    at = (round(x + OFFSET, 4), round(y, 4))
    for number in range(rng.randint(3, 6)):
        way = rng.uniform(-math.pi, math.pi)
        bent = rng.choice((0, 0, 1, -1))
        radius, length = rng.uniform(3, 15), rng.uniform(3, 20)
        if bent:
            turn = rng.uniform(0.4, 5)
            u, v = x - bent * radius * math.sin(way), y + bent * radius * math.cos(way)
            out = math.atan2(y - v, x - u) + bent * turn
            x_end, y_end = u + radius * math.cos(out), v + radius * math.sin(out)
            leaves = way + bent * turn
        else:
            x_end, y_end = x + length * math.cos(way), y + length * math.sin(way)
            leaves = way
        x_end, y_end = round(x_end, 4), round(y_end, 4)
        code = {0: "G1", 1: "G3", -1: "G2"}[bent]
        mine = f" I{u - x:.4f} J{v - y:.4f}" if bent else ""
        job.append(f"{code} X{x_end:.4f} Y{y_end:.4f}{mine} F900")
        x, y = (round(value, 4) for value in (x, y))
        side = math.remainder(way - blade, 2 * math.pi)
        axis = round(x + OFFSET * math.cos(way), 4), round(y + OFFSET * math.sin(way), 4)
        swivel = (
            f"{'G3' if side > 0 else 'G2'} X{axis[0]:.4f} Y{axis[1]:.4f}"
            f" I{x - at[0]:.4f} J{y - at[1]:.4f} F900"
        )
        at = axis
        end = x_end + OFFSET * math.cos(leaves), y_end + OFFSET * math.sin(leaves)
        led = f" I{u - at[0]:.4f} J{v - at[1]:.4f}" if bent else ""
        text = f"{code} X{end[0]:.4f} Y{end[1]:.4f}{led} F900"
        if number:
            right.append(["G0 Z-0.4", swivel, "G1 Z-2 F300", text])
        else:
            right[-1][1] = swivel
            right.append([text])
        x, y, blade, at = x_end, y_end, leaves, (round(end[0], 4), round(end[1], 4))
    job += TAIL
    right += [[text] for text in TAIL]
    contract = Contract(frozenset({Facet.SPELLING}), within=WITHIN,
                        trails=(Trailing(OFFSET, BITE),))  # fmt: skip
    wanted = moves_of([[text] for text in job])
    return Case(job, right, contract, lambda lines: _tip_off(wanted, lines))


def _tip_off(wanted: list[list[Move]], lines: Lines) -> float:
    """How far the tip strays from the job, line by line, in tolerances."""
    point = np.array([-OFFSET, 0.0])
    most = 0.0
    for at, (old, new) in enumerate(zip(wanted, moves_of(lines), strict=True)):
        track: list[tuple[float, ...]] = []
        kinds: list[tuple[str, float | None]] = []
        for move in new:
            deep = max(move.start[2], move.end[2])
            sideways = move.start[:2] != move.end[:2] or move.centre is not None
            if (
                sideways
                and (move.kind == "rapid" or deep > -BITE + 1e-9)
                and min(move.start[2], move.end[2]) < 0
            ):
                return math.inf  # nobody knows what the blade does there
            along = places(move, 400 if sideways else 2)
            kinds.append((move.kind, move.feed))
            track = track or [(*point, move.start[2])]
            for before, after in pairwise(along):
                if deep <= -BITE + 1e-9:
                    axis = after[:2] - point
                    if axis @ (before[:2] - point) <= 0:
                        return math.inf
                    point = after[:2] - OFFSET * axis / np.hypot(*axis)
                else:
                    point = point + after[:2] - before[:2]
                track.append((*point, after[2]))
        if not old:
            most = max(most, math.inf if track else 0.0)
            continue
        if not track:
            return math.inf
        heights = [place[2] for place in track]
        told = {kind for kind, _ in kinds}
        feeds = [feed for kind, feed in kinds if kind == "feed"]
        lowest = min(old[0].start[2], old[0].end[2])
        away = [math.dist(place[:2], track[0][:2]) > WITHIN for place in track]
        high = [abs(heights[-1] - old[0].end[2]), lowest - min(heights)]
        if old[0].start[2] == lowest == old[0].end[2]:
            high += [abs(z - lowest) for z, far in zip(heights, away, strict=True) if far]
        most = max(most, max(high) / WITHIN)
        cuts = old[0].kind != "rapid"
        flat_cut = cuts and old[0].start[2] == old[0].end[2]
        if flat_cut and (kinds[-1][1] != old[0].feed or max(f or 0 for _, f in kinds) > 900):
            return math.inf
        if not flat_cut and (
            not told <= {old[0].kind, "cw", "ccw"} or (cuts and set(feeds) != {old[0].feed})
        ):
            return math.inf
        way = np.array([place[:2] for place in track])
        way = way if cuts else way[-1:].repeat(2, axis=0)
        meant = places(old[0], 400)[:, :2]
        if at == 1:  # the axis is where it was brought, and leads nothing yet
            meant = way
        elif not cuts:
            meant = meant[-1:].repeat(2, axis=0)
        most = max(most, apart(meant, way) / WITHIN)
    return most


# --- a wrap

RADIUS = 20.0
DEGREES = 360 / (2 * math.pi * RADIUS)
FLAT = 0.51e-5 / DEGREES
SLOW = 0.01


def wrap_case(rng: random.Random) -> Case:
    """A flat way, and the same round a blank."""
    job = [*HEAD, "G1 Z-1 F600"]
    right = [[HEAD[0]], ["G0 X0 A0 Z5"], ["G1 Z-1 F600"]]
    x = y = a = 0.0
    z = -1.0
    for number in range(rng.randint(3, 6)):
        axes = rng.choice(("X", "Y", "XY", "XYZ"))
        to = [round(rng.uniform(*span), 3) if name in axes else was
              for name, was, span in (("X", x, (0, 90)), ("Y", y, (-200, 200)),
                                      ("Z", z, (-4, -0.5)))]  # fmt: skip
        feed, turned = 300 + 200 * number, round(to[1] * DEGREES, 5)
        job.append(f"G1 X{to[0]:g} Y{to[1]:g} Z{to[2]:g} F{feed}")
        length = math.hypot(to[0] - x, (turned - a) / DEGREES, to[2] - z)
        way = math.hypot(to[0] - x, to[2] - z) or abs(turned - a)
        said = f"G1 X{to[0]:g} A{turned:.5f} Z{to[2]:g} F{feed * way / length:.6f}"
        right.append([said])
        (x, y, z), a = to, turned
    facets = frozenset({Facet.SPELLING})
    contract = Contract(facets, within=FLAT, feed_within=SLOW, wraps=(Wrap("Y", "A", DEGREES),))
    wanted = moves_of([[text] for text in [*job, *TAIL]])
    right += [[text] for text in TAIL]
    return Case([*job, *TAIL], right, contract, lambda lines: _wrap_off(wanted, lines))


def _surface(track: np.ndarray) -> np.ndarray:
    """Where on the blank, in space and turning with it, the bit is; and how often it has turned."""
    angle, high = np.radians(track[:, 3]), RADIUS + track[:, 2]
    across = track[:, 1]
    return np.column_stack([
        track[:, 0], across * np.cos(angle) + high * np.sin(angle),
        high * np.cos(angle) - across * np.sin(angle), angle * RADIUS, across,
    ])  # fmt: skip


def _wrap_off(wanted: list[list[Move]], lines: Lines) -> float:
    """How far the bit is off on the surface, or its feed along it, in tolerances."""
    most = 0.0
    for olds, news in zip(wanted, moves_of(lines), strict=True):
        if [move.kind for move in olds] != [move.kind for move in news]:
            return math.inf
        for old, new in zip(olds, news, strict=True):
            meant = places(old, 100)
            meant[:, 3], meant[:, 1] = meant[:, 1] * DEGREES, 0.0
            off = float(np.abs(_surface(meant) - _surface(places(new, 100))).max())
            most = max(most, off / FLAT)
            ways = np.array(new.end) - np.array(new.start)
            length = float(np.linalg.norm([ways[0], ways[3] / DEGREES, ways[2]]))
            if old.feed and length > 1e-3:
                counted = abs(ways[3]) if new.feed_unit == "deg/min" else np.linalg.norm(ways[:3])
                feed = float(new.feed or 0) * length / counted if counted else math.inf
                most = max(most, abs(feed - old.feed) / SLOW)
    return most


# --- two heads

BESIDE, CORNER = np.array([96.4, -0.3]), np.array([180.0, 120.0])
ZEROS = {5221: 180.0, 5222: 120.0, 5241: 180 - 96.4, 5242: 120 + 0.3}


def head_case(rng: random.Random) -> Case:
    """Cuts of two bits, and the same by the heads that hold them."""
    job, right, tool = [*HEAD, "G54"], [[HEAD[0]], [HEAD[1]], ["G54"]], 1
    for _ in range(rng.randint(2, 4)):
        tool = 3 - tool
        x, y, depth = rng.uniform(0, 90), rng.uniform(0, 90), rng.uniform(1, 6)
        cut = [f"G0 X{x:.3f} Y{y:.3f}", f"G1 Z-{depth:.3f} F300", f"G1 X{x + 9:.3f} F900", "G0 Z5"]
        job += [f"T{tool} M6", "S9000 M3", "G54", *cut]
        right += [["M64"] if tool == 2 else ["M65"], ["S9000 M3"]]
        right += [["G55"] if tool == 2 else ["G54"]]
        right += [[text] for text in cut]
    facets = frozenset({Facet.WORK_ZERO, Facet.SPELLING, Facet.OUTPUTS, Facet.STOPS})
    contract = Contract(facets, renumbers=(Renumbering(1, 2, (0.0, 0.0, 0.0), tool=2),))
    wanted = _bitten([[text] for text in [*job, *TAIL]])
    right += [[text] for text in TAIL]
    return Case([*job, *TAIL], right, contract, lambda lines: _heads_off(wanted, lines), heads=True)


def _bitten(lines: Lines) -> list[tuple[int, str, float | None, np.ndarray]]:
    """Every cut: the bit, its kind and feed, and where the bit goes from and to above the sheet;
    of one gantry, to which a second head is fixed."""
    told = run([re.sub(r"M6[45]|T[0-9] M6", "", text) for text in flat(lines)],
               start=Start(position=(0.0,) * 6, parameters=ZEROS))  # fmt: skip
    if told.error is not None:
        raise ReferenceError_(told.error.kind, 0)
    bits, bit = [], 1
    heads, down = [], False
    for text in flat(lines):
        down = True if "M64" in text else False if "M65" in text else down
        called = re.search(r"T([0-9]) M6", text)
        bit = 2 if "M64" in text else 1 if "M65" in text else int(called[1]) if called else bit
        bits.append(bit)
        heads.append(BESIDE if down else np.zeros(2))
    found = []
    for move in told.moves:
        if move.kind != "rapid":
            side = np.array([move.machine_start[:3], move.machine_end[:3]])
            side[:, :2] += heads[move.line] - CORNER
            found.append((bits[move.line], move.kind, move.feed, side))
    return found


def _heads_off(wanted: Sequence[tuple[int, str, float | None, np.ndarray]], lines: Lines) -> float:
    found = _bitten(lines)
    if [each[:3] for each in found] != [each[:3] for each in wanted]:
        return math.inf
    off = [float(np.abs(a[3] - b[3]).max()) for a, b in zip(found, wanted, strict=True)]
    return max(off, default=0.0) / 1e-6


# --- faults

CASES: dict[str, Callable[[random.Random], Case]] = {
    "a tip that trails": knife_case, "a wrap": wrap_case, "two heads": head_case,
}  # fmt: skip


def spoilt(rng: random.Random, case: Case) -> tuple[str, Lines]:
    """The result with one fault, and what sort of fault that is."""
    lines = [list(texts) for texts in case.right]
    at = rng.randrange(1, len(lines) - 1)
    sub = rng.randrange(len(lines[at]))
    text = lines[at][sub]
    words = text.split()
    sort = rng.choice(("number", "number", "number", "code", "lost", "twice", "order", "word"))
    numbers = [each for each, word in enumerate(words) if word[0] in "XYZAIJF"]
    if sort == "number" and numbers:
        each = rng.choice(numbers)
        step = rng.choice((-1, 1)) * 10 ** rng.uniform(-4, 2.5)
        words[each] = f"{words[each][0]}{float(words[each][1:]) + step:.5f}"
        lines[at][sub] = " ".join(words)
    elif sort == "code" and words:
        other = {"G0": ["G1"], "G1": ["G0", "G2", "G3"], "G2": ["G3", "G1"], "G3": ["G2", "G1"],
                 "G54": ["G55"], "G55": ["G54"], "M64": ["M65"], "M65": ["M64"]}  # fmt: skip
        code = rng.choice(other.get(words[0], [words[0]]))
        bow = f" I{rng.uniform(-9, 9):.3f}" if code in ("G2", "G3") and "I" not in text else ""
        lines[at][sub] = " ".join([code, *words[1:]]) + bow
    elif sort == "lost":
        lines[at][sub] = ""
    elif sort == "twice":
        lines[at].insert(sub, text)
    elif sort == "order" and len(lines[at]) > 1:
        rng.shuffle(lines[at])
    elif sort == "word":
        lines[at][sub] += rng.choice((" G91", " Y3", " A5", " M64", " G93", " G20", " G18", " Z-1"))
    return sort, lines


def verdicts(case: Case, lines: Lines) -> tuple[bool, bool]:
    """Whether the proof of the step and that of the whole let it pass."""
    old = program(case.job)
    new = old.edited([replace(at, *texts) for at, texts in enumerate(lines)], CAUSE)
    outputs = {"outputs": {64: "head"}, "heads": {64: 2}} if case.heads else {}
    first = FirstDialect(**outputs, switched_off={65: (64,)} if case.heads else {})
    if not case.heads:
        versions = version(old), version(new)
    else:
        states = State.at_zero(), State.at_zero()
        for state in states:
            state.tool = 1
        versions = tuple(Version(each, interpret(each, start=state, dialect=first))
                         for each, state in zip((old, new), states, strict=True))  # fmt: skip
    step = prove_step(*versions, case.contract)
    fine = not any(finding.severity == "refuse" for finding in versions[1].trace.findings)
    second = Dialect(outputs.get("outputs", {}), off={65: (64,)}, heads=outputs.get("heads", {}))
    whole = prove_run(old, [new], case.contract, False, second, tool=1 if case.heads else None)
    return fine and not step.breaches, whole.breach is None


def tried(name: str, count: int, seed: int) -> Iterator[tuple[str, str, str]]:
    """What became of so many: the sort of fault, the mistake (empty: none) and the text."""
    rng = random.Random(f"{seed} {name}")
    for number in range(count):
        case = CASES[name](rng)
        sort, lines = ("none", case.right) if number % 5 == 0 else spoilt(rng, case)
        try:
            off = case.off(lines)
        except ReferenceError_:
            continue
        passed = verdicts(case, lines)
        mistake = ""
        if off > 1.5 and any(passed):
            mistake = "accepted"
        elif sort == "none" and not all(passed):
            mistake = "refused"
        shown = "\n".join(flat(lines)) if mistake else ""
        yield sort if off > 1.5 else "harmless", mistake, f"{off:.3g} {passed}\n{shown}"


def main(arguments: Sequence[str] | None = None) -> int:
    """A line for each sort of fault; the first mistakes, whole."""
    parser = argparse.ArgumentParser(description="Faults in what contracts declare")
    parser.add_argument("--tries", type=int, default=2000, help="of each of the three")
    parser.add_argument("--seed", type=int, default=1)
    chosen = parser.parse_args(arguments)
    wrong = 0
    for name in CASES:
        sorts, mistakes = Counter[str](), Counter[str]()
        for sort, mistake, text in tried(name, chosen.tries, chosen.seed):
            sorts[sort] += 1
            mistakes[mistake] += bool(mistake)
            if mistake and mistakes[mistake] <= 2:
                print(f"--- {name}, {sort}: {mistake}, off by {text}")
        wrong += sum(mistakes.values())
        told = ", ".join(f"{sort} {count}" for sort, count in sorted(sorts.items()))
        print(f"{name}: {told}; accepted {mistakes['accepted']}, refused {mistakes['refused']}")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
