"""An example of a finding: a small workshop in which headrace gives it, and the same one mended.

Each kind has a file in `examples/`, named like the kind: what the finding means, and what its two
workshops have that differs from one of the sound ones in `examples/bases/`.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.resources import files
from typing import Any

_COMMANDS = {
    "check": "check recipe.yaml job.nc",
    "check-alone": "check --machine machine.yaml job.nc",
    "prepare": "prepare recipe.yaml job.nc --card card",
}
"""What is run in the workshop; an example may also write it out."""


@dataclass(frozen=True, slots=True)
class Example:
    """What a finding means, shown by two workshops.

    `base`, `failing` and `mended` are whole workshops: names of files with what they hold; `runs`
    are the two command lines, behind the word `headrace`. Where no file can show it, `situation`
    names what happens, and `shown` tells it in words: what went wrong, and how it is mended.
    """

    meaning: str
    workshop: str
    runs: tuple[str, str]
    base: Mapping[str, bytes]
    failing: Mapping[str, bytes]
    mended: Mapping[str, bytes]
    situation: str = ""
    shown: tuple[str, str] = ("", "")


def example_of(name: str) -> Example:
    """The example of the kind with this name. Raises FileNotFoundError where there is none."""
    import yaml

    data = yaml.safe_load(_examples().joinpath(f"{name}.yaml").read_text("utf-8"))
    workshop = data.get("base", "relay")
    base = _base(workshop)
    runs = _two(data.get("run", "check"))
    shown = _two(data.get("shown", ""))
    return Example(
        meaning=data["meaning"].strip(),
        workshop=workshop,
        runs=(_COMMANDS.get(runs[0], runs[0]), _COMMANDS.get(runs[1], runs[1])),
        base=base,
        failing=_overlaid(base, data.get("failing", {})),
        mended=_overlaid(base, data.get("mended", {})),
        situation=data.get("situation", ""),
        shown=shown,
    )


def said(name: str) -> tuple[str, ...]:
    """The lines that headrace says to the failing example, without those of the kind itself."""
    lines = json.loads(_examples().joinpath("said.json").read_text("utf-8"))
    return tuple(lines.get(name, ()))


def _two(value: Any) -> tuple[str, str]:
    """What is said of the failing workshop, and of the mended one; a text is said of both."""
    both = value if isinstance(value, dict) else {"failing": value, "mended": value}
    return both["failing"].strip(), both["mended"].strip()


def _examples() -> Any:
    return files(__package__).joinpath("examples")


def _base(workshop: str) -> dict[str, bytes]:
    folder = _examples().joinpath("bases", workshop)
    return {file.name: file.read_bytes() for file in folder.iterdir()}


def _overlaid(base: Mapping[str, bytes], overlay: Mapping[str, Any]) -> dict[str, bytes]:
    """A workshop: a text is a whole file, a mapping holds pieces of the base's file, each of which
    stands there once, and what is to stand in their place."""
    made = dict(base)
    for name, content in overlay.items():
        if isinstance(content, str):
            made[name] = content.encode()
        elif isinstance(content, bytes):
            made[name] = content
        else:
            for old, new in content.items():
                piece = old.encode()
                if made[name].count(piece) != 1:
                    raise ValueError(f"{old!r} does not stand in {name} exactly once")
                # a byte that is no UTF-8 is written as the escape of half a character
                made[name] = made[name].replace(piece, new.encode("utf-8", "surrogateescape"))
    return made
