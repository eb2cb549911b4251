"""What a file follows from besides its job: recipe, machine, set-up, headrace and plugins."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from hashlib import sha256
from typing import Any


@dataclass(frozen=True, slots=True)
class Code:
    """Code that a file was made by: the distribution or file that it comes from, its version
    (nothing for a file), and the SHA-256 of its sources; nothing where these cannot be found."""

    name: str
    version: str
    sha256: str

    def __str__(self) -> str:
        return f"{self.name} {self.version}".rstrip()


@dataclass(frozen=True, slots=True)
class Meaning:
    """Something that was described: its name, and the SHA-256 of what it says, wherever it lies
    and however it is written."""

    name: str
    sha256: str


@dataclass(frozen=True, slots=True)
class Origin:
    """What a file follows from besides its job.

    `recipe` is the recipe's file name and `steps` are what it says of this file or of all jobs,
    under its own name; `plugins` is the code that its steps come from, by name.
    """

    recipe: str
    steps: Meaning
    machine: Meaning
    setup: Meaning
    headrace: Code
    plugins: tuple[Code, ...] = ()

    @property
    def key(self) -> str:
        """Its digest, short: the same for the same."""
        told = json.dumps(origin_data(self), sort_keys=True).encode()
        return sha256(told).hexdigest()[:16]

    def made_by_recipe(self, other: Origin) -> bool:
        """Whether both are of one recipe, at whatever state."""
        return (self.recipe, self.steps.name) == (other.recipe, other.steps.name)

    def changed_since(self, older: Origin) -> tuple[str, ...]:
        """What is another one now, in words, as far as that can be told."""
        return tuple(self._changed_since(older))

    def holds_for(self, older: Origin) -> bool:
        """Whether a job must come out the same: nothing has changed, and all code can be told."""
        told = all(code.sha256 for code in (self.headrace, *self.plugins))
        return told and self.recipe == older.recipe and not self.changed_since(older)

    def _changed_since(self, older: Origin) -> Iterator[str]:
        if self.steps.sha256 != older.steps.sha256:
            yield "the recipe"
        if self.machine.sha256 != older.machine.sha256:
            yield "the machine"
        if self.setup.sha256 != older.setup.sha256:
            yield "the set-up"
        if self.headrace != older.headrace:
            yield "headrace"
        now = {code.name: code for code in self.plugins}
        then = {code.name: code for code in older.plugins}
        for name in sorted(now.keys() | then.keys()):
            if now.get(name) != then.get(name):
                yield f"the plugin {name}"


def origin_data(origin: Origin) -> dict[str, Any]:
    """An origin as plain data."""
    return {
        "recipe": {"file": origin.recipe, **asdict(origin.steps)},
        "machine": asdict(origin.machine),
        "setup": asdict(origin.setup),
        "headrace": asdict(origin.headrace),
        "plugins": [asdict(code) for code in origin.plugins],
    }


def origin_of(data: Any) -> Origin:
    """The origin of such data. Raises KeyError, TypeError or ValueError for other data."""
    return Origin(
        text(data["recipe"]["file"]),
        _meaning(data["recipe"]),
        _meaning(data["machine"]),
        _meaning(data["setup"]),
        _code(data["headrace"]),
        tuple(_code(code) for code in data["plugins"]),
    )


def _meaning(data: Any) -> Meaning:
    return Meaning(text(data["name"]), matched(data["sha256"], "[0-9a-f]{64}", "SHA-256"))


def _code(data: Any) -> Code:
    digest = matched(data["sha256"], "([0-9a-f]{64})?", "SHA-256")
    return Code(text(data["name"]), text(data["version"]), digest)


def text(data: Any) -> str:
    """Data that must be text. TypeError."""
    if not isinstance(data, str):
        raise TypeError(f"{data!r} is no text")
    return data


def counted(data: Any) -> int:
    """Data that must be a count. ValueError."""
    if not isinstance(data, int) or isinstance(data, bool) or data < 0:
        raise ValueError(f"{data!r} counts nothing")
    return data


def matched(data: Any, pattern: str, kind: str) -> str:
    """Data that must be text of a pattern. TypeError, ValueError."""
    found = text(data)
    if re.fullmatch(pattern, found) is None:
        raise ValueError(f"{found!r} is no {kind}")
    return found
