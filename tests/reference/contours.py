"""Plain milling programs, made fast and without an interpreter, for reading in bulk."""

from __future__ import annotations

import math
import random

_NAMES = ("(rough)", "(finish)", "(hive lid, outer edge)", "(frame rest)")


def plain_program(rng: random.Random, lines: int) -> list[str]:
    """`lines` lines or a few more, in mm, absolute, XY-plane, ended by M30.

    Nothing but G0 G1 G2 G3 X Y Z I J F S N and comments after the first three lines. All
    numbers have three decimals; a centre is written exactly, so that the radii of an arc differ
    by no more than the rounding of its end: 0.0008 mm, well below 0.002 (section 3.5.3.2).
    """
    text = ["G90 G17 G21 G94", "S18000 M3", "G0 X0.000 Y0.000 Z5.000"]
    x, y, z = 0.0, 0.0, 5.0
    mode, feed = "G0", 0
    numbered = rng.random() < 0.3
    while len(text) < lines:
        chance = rng.random()
        if chance < 0.02:
            text.append(rng.choice(_NAMES))
            continue
        code = rng.choice(("G1", "G1", "G1", "G1", "G2", "G3", "G0"))
        new_feed = rng.randint(200, 4000) if not feed or chance > 0.9 else feed
        if code in ("G2", "G3"):
            i, j = round(rng.uniform(-40, 40), 3), round(rng.uniform(1, 40), 3)
            turn = rng.uniform(0.2, 6)
            angle = math.atan2(-j, -i) + (-turn if code == "G2" else turn)
            radius = math.hypot(i, j)
            x = round(x + i + radius * math.cos(angle), 3)
            y = round(y + j + radius * math.sin(angle), 3)
            parts = [f"X{x:.3f}", f"Y{y:.3f}", f"I{i:.3f}", f"J{j:.3f}"]
            if chance > 0.8:
                z = round(rng.uniform(-12, 0), 3)
                parts.insert(2, f"Z{z:.3f}")
        else:
            parts = []
            if chance < 0.9:
                x, y = round(rng.uniform(-500, 500), 3), round(rng.uniform(-500, 500), 3)
                parts += [f"X{x:.3f}", f"Y{y:.3f}"]
            if chance > 0.7:
                z = round(rng.uniform(-12, 20), 3)
                parts.append(f"Z{z:.3f}")
        if code != "G0" and new_feed != feed:
            feed = new_feed
            parts.append(f"F{feed}")
        if code != mode or chance < 0.1:
            parts.insert(0, code)
            mode = code
        if chance > 0.99:
            parts.append(f"S{rng.randint(8000, 24000)}")
        if numbered:
            parts.insert(0, f"N{len(text) % 100000}")
        text.append(" ".join(parts))
    text.append("M30")
    return text
