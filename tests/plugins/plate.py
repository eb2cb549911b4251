"""A gantry with a real plate under a real bit: plain arithmetic on the written lines.

Shares nothing with the project. A height is a machine coordinate (mm), the number that the
controller shows after homing; `shift` is what is added to it to give the number that is shown.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Any

_WORD = re.compile(r"([A-Z])(\[[^\]]*\]|#\d+|[-+.\d]+)")


@dataclass
class Plate:
    """What is really there, and what the controller allows."""

    machine: dict[str, Any]
    stick_out: float
    thickness: float
    plate: float
    least_way: float = 0.254
    shift: float = 0.0
    height: float = float("nan")
    clip: bool = False
    parameters: dict[str, float] = field(default_factory=dict)
    touches: list[float] = field(default_factory=list)
    targets: list[float] = field(default_factory=list)

    @property
    def top(self) -> float:
        return float(self.machine["axes"]["z"]["travel"][1])

    @property
    def surface(self) -> float:
        """The height of the tip when it stands on the sheet."""
        return self.top - (self.machine["bed"] - self.stick_out - self.thickness)

    @property
    def contact(self) -> float:
        return self.surface + self.plate

    def run(self, lines: list[str]) -> None:
        for line in lines:
            self.do(line)

    def do(self, line: str) -> None:
        note = "".join(re.findall(r"\(([^)]*)\)", line))
        if "CLIP ON" in note:
            self.clip = True
        elif "CLIP" in note:
            self.clip = False
        line = re.sub(r"\([^)]*\)", "", line).strip()
        setting = re.fullmatch(r"#(\d+)=(.*)", line)
        if setting:
            self.parameters[setting[1]] = self.value(setting[2])
            return
        words = dict(_WORD.findall(line))
        codes = re.findall(r"G([\d.]+)", line)
        homing = self.machine["homing"]
        if "28" in codes and ("Z" in words or homing["axes"] == "all"):
            self.height = float(self.machine["axes"]["z"]["homed-number"])
            self.shift = 0.0
            return
        if "Z" not in words:
            return
        value = self.value(words["Z"])
        if "92" in codes:
            self.shift = value - self.height
        elif "10" in codes:
            self.shift = -value
        elif "53" in codes:
            self.go(value)
        elif "38.2" in codes:
            self.probe(value)
        else:
            self.go(value - self.shift)

    def value(self, spelt: str) -> float:
        inside = re.sub(r"#(\d+)", lambda m: f"({self.parameters[m[1]]!r})", spelt.strip("[]"))
        assert re.fullmatch(r"[-+.\d()e]+", inside), spelt
        return float(eval(inside))

    def go(self, height: float) -> None:
        low, high = self.machine["axes"]["z"]["travel"]
        assert low <= height <= high, f"runs to {height}, travel {low} to {high}"
        if self.clip:
            assert height > self.contact, "a rapid move into the plate"
        self.height = height

    def probe(self, target: float) -> None:
        """Down to the plate; the controller alone knows where it stopped."""
        assert self.clip, "a probe without its clip"
        low, _ = self.machine["axes"]["z"]["travel"]
        lowest = self.machine["probe"].get("lowest-target")
        assert lowest is None or target >= lowest, f"aims at {target}, below {lowest}"
        aim = target - self.shift
        assert aim >= low, "aims out of the travel"
        assert aim < self.contact, "the aim is above the plate: it would never touch"
        # RS274/NGC (NISTIR 6556) 3.5.9.1: not less than 0.254 mm, or 0.01 inch
        assert self.height - aim >= self.least_way
        self.height = self.contact
        self.parameters["5063"] = self.height + self.shift
        self.touches.append(self.height)
        self.targets.append(target)
