"""The machines that transforms are tried on: three of the kit's own, or any described one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

from headrace.errors import RecipeError
from headrace.recipe import Plan, load_alone

SHOPS = ("hand", "relay", "speed")
"""`hand`: a motor switched by hand, a display, no cycles. `relay`: a relay, CR LF, negative places.
`speed`: a spindle that follows S, six work offsets, cycles, % lines, no display."""

Named = str | Path | tuple[str | Path, str | Path]
"""One of `SHOPS`, a machine file, or a machine file with its set-up file."""

_HOME = Path(__file__).parent / "shop"


@dataclass(frozen=True)
class Shop:
    """A machine with its set-up: a plan without steps. Jobs that state no unit are in mm."""

    name: str
    plan: Plan


def shops(named: Sequence[Named]) -> tuple[Shop, ...]:
    """The shops by their names or files. Raises RecipeError for a file that is at fault."""
    return tuple(_shop(each) for each in named)


@cache
def _shop(named: Named) -> Shop:
    machine, setup = named if isinstance(named, tuple) else (named, None)
    if machine in SHOPS and setup is None:
        return _planned(str(machine), _HOME / f"{machine}.yaml", _HOME / f"{machine}-setup.yaml")
    if isinstance(machine, str) and Path(machine).suffix not in (".yaml", ".yml"):
        what = f"there is no machine {machine!r}: name one of {', '.join(SHOPS)}, or a machine file"
        raise RecipeError(what)
    path = Path(machine)
    return _planned(path.stem, path, None if setup is None else Path(setup))


def _planned(name: str, machine: Path, setup: Path | None) -> Shop:
    # not alone: jobs come with steps to take, as from a recipe
    return Shop(name, replace(load_alone(machine, setup, "mm"), alone=False))
