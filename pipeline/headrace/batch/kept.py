"""The list of a kept folder, `KEPT.json`: which recipe and jobs, what came of them, and what that
followed from.

It lies under version control beside the outcomes. Paths in it count from its folder, and it holds
no times: the same input gives the same bytes in any checkout.
"""

from __future__ import annotations

import json
import os
import re
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass
from hashlib import sha256
from pathlib import Path
from typing import Any

from headrace.card.entry import Proved
from headrace.card.writing import Content
from headrace.errors import CardError
from headrace.findings import Finding
from headrace.findings.data import finding_data, finding_of

FORMAT = "headrace-kept/1"
LIST_NAME = "KEPT.json"

_NAME = re.compile(r"[A-Za-z0-9_-][A-Za-z0-9._-]*")
_FAULTS = (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError)


@dataclass(frozen=True, slots=True)
class Case:
    """What outcomes are of: a recipe, jobs or folders of them, and `--set` overrides."""

    recipe: Path
    jobs: tuple[Path, ...]
    overrides: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class KeptFile:
    """One outcome: `name` is that of its file, `content` what that holds, or None where the job
    was refused. `source` and `job` tell the job's file; None where the recipe makes a card file
    without one."""

    name: str
    source: str | None
    job: Content | None
    content: Content | None
    steps: tuple[str, ...]
    proof: Proved | None
    findings: tuple[Finding, ...]

    @property
    def refused(self) -> bool:
        return self.content is None

    def told(self) -> tuple[tuple[object, ...], ...]:
        """What was found, without the words that explain it."""
        return tuple(
            (each.id, each.name, each.severity, each.what, str(each.place), each.lowered)
            for each in self.findings
        )

    def same_as(self, other: KeptFile) -> bool:
        """Whether both are the same outcome, whatever they were made from."""
        return (self.content, self.steps, self.proof, self.told()) == (
            other.content,
            other.steps,
            other.proof,
            other.told(),
        )


@dataclass(frozen=True, slots=True)
class Kept:
    """A list. `made_by` is the origin of the outcomes, `values` what recipe, machine and set-up
    say, as `--set` would name it."""

    recipe: str
    jobs: tuple[str, ...]
    overrides: tuple[str, ...]
    made_by: Mapping[str, Any]
    values: Mapping[str, Any]
    files: tuple[KeptFile, ...]

    def case(self, folder: Path, overrides: tuple[str, ...] = ()) -> Case:
        """What to make again, paths as seen from here; with other `overrides` over those kept."""
        jobs = tuple(seen_from_here(folder, job) for job in self.jobs)
        ways = {text.partition("=")[0] for text in overrides}
        others = tuple(text for text in self.overrides if text.partition("=")[0] not in ways)
        return Case(seen_from_here(folder, self.recipe), jobs, (*others, *overrides))

    def get(self, name: str) -> KeptFile | None:
        """The outcome of this name."""
        return next((file for file in self.files if file.name == name), None)

    def to_bytes(self) -> bytes:
        """The list as it stands in its folder."""
        data = {
            "format": FORMAT,
            "recipe": self.recipe,
            "jobs": list(self.jobs),
            "set": list(self.overrides),
            "made-by": self.made_by,
            "values": self.values,
            "files": [_plain(file) for file in self.files],
        }
        digest = sha256(json.dumps(data, sort_keys=True).encode()).hexdigest()
        return _text({**data, "digest": digest}).encode("ascii") + b"\n"


def read_kept(folder: Path) -> Kept | None:
    """The list of a folder; None where there is none.

    Raises CardError where the file is no such list, or not as `to_bytes` wrote it.
    """
    path = folder / LIST_NAME
    try:
        data = path.read_bytes()
        kept = _kept(json.loads(data))
        if kept.to_bytes() != data:
            raise ValueError("it was changed after it was written")
    except (FileNotFoundError, NotADirectoryError):
        return None
    except _FAULTS as error:
        said = f"it lacks {error}" if isinstance(error, KeyError) else str(error)
        what = f"{path} cannot be read as a list of kept outcomes: {said}"
        raise CardError(findings=[Finding.of("kept-list-faulty", what)]) from error
    return kept


def kept_folders(path: Path) -> Iterator[Path]:
    """The folder itself where it is a kept one, else all those below it, hidden ones left out."""
    if (path / LIST_NAME).is_file():
        yield path
        return
    for root, folders, files in os.walk(path):
        folders[:] = sorted(name for name in folders if not name.startswith("."))
        if LIST_NAME in files:
            yield Path(root)


def counted_from(folder: Path, path: Path) -> str:
    """A path as the list of `folder` holds it. Links on the way count as what they lead to, the
    last part as it is called."""
    return Path(os.path.relpath(_whole(path), folder.resolve())).as_posix()


def seen_from_here(folder: Path, path: str) -> Path:
    """A path of the list of `folder` as a command would name it."""
    whole = Path(os.path.normpath(folder.resolve() / path))
    here = Path.cwd()
    return whole.relative_to(here) if whole.is_relative_to(here) else whole


def _whole(path: Path) -> Path:
    whole = Path(os.path.abspath(path))  # noqa: PTH100  # the last part stays as it is called
    return whole.parent.resolve() / whole.name


def _text(value: Any, lead: str = "\n") -> str:
    """JSON with a line for each value, so that differences of it can be read; a list of single
    values is one line."""
    deeper = lead + " "
    if isinstance(value, dict) and value:
        parts = [f"{json.dumps(key)}: {_text(value[key], deeper)}" for key in sorted(value)]
        return "{" + deeper + f",{deeper}".join(parts) + lead + "}"
    if isinstance(value, list) and any(isinstance(item, (dict, list)) for item in value):
        return "[" + deeper + f",{deeper}".join(_text(item, deeper) for item in value) + lead + "]"
    return json.dumps(value)


def _plain(file: KeptFile) -> dict[str, Any]:
    source = None
    if file.source is not None and file.job is not None:
        source = {"name": file.source, **asdict(file.job)}
    return {
        "name": file.name,
        "source": source,
        "refused": file.refused,
        "content": None if file.content is None else asdict(file.content),
        "steps": list(file.steps),
        "proof": None if file.proof is None else asdict(file.proof),
        "findings": [finding_data(finding) for finding in file.findings],
    }


def _kept(data: Any) -> Kept:
    if data["format"] != FORMAT:
        raise ValueError(f"its format is {data['format']!r}, not {FORMAT}")
    return Kept(
        recipe=data["recipe"],
        jobs=tuple(data["jobs"]),
        overrides=tuple(data["set"]),
        made_by=data["made-by"],
        values=data["values"],
        files=tuple(_file(item) for item in data["files"]),
    )


def _file(item: Any) -> KeptFile:
    if _NAME.fullmatch(item["name"]) is None:
        raise ValueError(f"{item['name']!r} is no name of a file in its folder")
    source, content, proof = item["source"], item["content"], item["proof"]
    return KeptFile(
        name=item["name"],
        source=None if source is None else source["name"],
        job=None if source is None else Content(source["sha256"], source["size"]),
        content=None if content is None else Content(**content),
        steps=tuple(item["steps"]),
        proof=None if proof is None else Proved(**proof),
        findings=tuple(finding_of(finding) for finding in item["findings"]),
    )
