"""Generated cuts of hive parts: lines and arcs in both forms, in all planes, absolute and in
increments, and drilled holes, with a given number of places behind the point."""

from __future__ import annotations

import math
import random
from dataclasses import dataclass, field

PLANES = {17: (0, 1, 2), 18: (2, 0, 1), 19: (1, 2, 0)}


@dataclass
class Cuts:
    """A program in the making; lengths in inches or mm. `at` is where the last line ends, as its
    rounded numbers say."""

    rng: random.Random
    inch: bool
    places: int
    incremental: bool = False
    plane: int = 17
    at: list[float] = field(default_factory=lambda: [0.0, 0.0, 0.0])
    lines: list[str] = field(default_factory=list)

    @property
    def size(self) -> float:
        return 2.0 if self.inch else 50.0

    def text(self, value: float) -> str:
        return f"{value:.{self.places}f}"

    def to(self, target: list[float], axes: list[int]) -> str:
        """Words that lead to a place along some axes."""
        words = []
        for axis in axes:
            text = self.text(target[axis] - self.at[axis] if self.incremental else target[axis])
            words.append("XYZ"[axis] + text)
            self.at[axis] = float(text) + (self.at[axis] if self.incremental else 0.0)
        return " ".join(words)

    def straight(self) -> None:
        target = [value + self.rng.uniform(-1, 1) * self.size for value in self.at]
        axes = [axis for axis in range(3) if self.rng.random() < 0.6] or [0]
        line = f"{self.rng.choice(['G0', 'G1', 'G1'])} {self.to(target, axes)}"
        self.lines.append(line.replace(" ", self.rng.choice(["", " ", " "])))

    def arc(self) -> None:
        rng, (u, v, w) = self.rng, PLANES[self.plane]
        size, angle = rng.uniform(0.05, 1) * self.size, rng.uniform(0, 2 * math.pi)
        centre = [float(self.text(-size * way)) for way in (math.cos(angle), math.sin(angle))]
        size, angle = math.hypot(*centre), math.atan2(-centre[1], -centre[0])
        turn = rng.choice((rng.uniform(0.02, 6.2), math.pi, rng.uniform(3.1, 3.2)))
        code, way = rng.choice((("G2", -1), ("G3", 1)))
        target, start = list(self.at), list(self.at)
        whole = rng.random() < 0.1
        if not whole:
            target[u] += centre[0] + size * math.cos(angle + way * turn)
            target[v] += centre[1] + size * math.sin(angle + way * turn)
        axes = [u, v]
        if rng.random() < 0.3:
            target[w] += rng.uniform(-0.2, 0.2) * self.size
            axes.append(w)
        line = f"{code} {self.to(target, sorted(axes))} "
        if whole or rng.random() < 0.6:
            line += " ".join("IJK"[a] + self.text(c) for a, c in zip((u, v), centre, strict=True))
        else:
            half = math.hypot(self.at[u] - start[u], self.at[v] - start[v]) / 2
            radius = max(float(self.text(size)), half + 10.0**-self.places)
            line += f"R{self.text(radius if turn <= math.pi else -radius)}"
        self.lines.append(line)

    def holes(self) -> None:
        rng, deep = self.rng, PLANES[self.plane][2]
        near = self.at[deep] - rng.uniform(0, 0.1) * self.size
        bottom = near - rng.uniform(0.1, 0.6) * self.size
        line = f"{'XYZ'[deep]}{self.text(bottom)} R{self.text(near)}"
        for axis in range(3):
            if axis != deep:
                line += " " + self.to([value + self.size / 7 for value in self.at], [axis])
        peck = rng.random() < 0.5
        line = f"G83 {line} Q{self.text(self.size / 9)}" if peck else f"G81 {line}"
        self.lines += [line, "G80"]
        self.at[deep] = max(self.at[deep], float(self.text(near)))


def cuts(rng: random.Random, *, inch: bool, places: int, kinds: str, length: int = 30) -> list[str]:
    """A program. `kinds` has letters for what may be in it: a arcs, h holes, i increments, p all
    planes, u units left unsaid."""
    made = Cuts(rng, inch, places)
    unit = "" if "u" in kinds else "G20 " if inch else "G21 "
    made.lines = [f"{unit}G17 G90 G94 F60", "G0 X0 Y0 Z0"]
    while len(made.lines) < length:
        chance = rng.random()
        if "i" in kinds and chance < 0.05:
            made.incremental = not made.incremental
            made.lines.append("G91" if made.incremental else "G90")
        elif "p" in kinds and chance < 0.1:
            made.plane = rng.choice(list(PLANES))
            made.lines.append(f"G{made.plane}")
        elif chance < 0.15:
            made.lines.append(f"F{made.text(rng.uniform(1, 900))} (COMB {rng.randint(1, 99)})")
        elif "a" in kinds and chance < 0.6:
            made.arc()
        elif "h" in kinds and chance < 0.7 and not made.incremental:
            made.holes()
        else:
            made.straight()
    return [*made.lines, "M30"]
