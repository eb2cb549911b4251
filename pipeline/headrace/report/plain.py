"""Results as plain data, for JSON: what `headrace schema` describes, one function a document.

Nothing in it tells of times or of places that were not given, and the same run gives the same data.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from headrace.findings import Finding
from headrace.findings.data import finding_data

if TYPE_CHECKING:
    from headrace.batch import Paper, Prepared, Record, Written
    from headrace.batch.watching import Answer
    from headrace.card.entry import Proved, Taken
    from headrace.card.writing import Content
    from headrace.outcome import StepReport
    from headrace.proof import RunProof
    from headrace.recipe import Plan

Data = dict[str, Any]

_UNFIT = {1: "refused", 4: "stopped-by-plugin", 5: "not-written"}
"""What became of a job that is not fit, by its exit code."""


def text_of(document: Data, *, in_one_line: bool = False) -> str:
    """A document as ASCII text, sorted by keys; what is no UTF-8 in a name is shown as escapes."""
    return json.dumps(
        _sound(document), indent=None if in_one_line else 1, sort_keys=True, allow_nan=False
    )


def finding_list(findings: Iterable[Finding]) -> list[Data]:
    """Findings in the order in which they are told, each once."""
    return [finding_data(finding) for finding in dict.fromkeys(findings)]


def error_data(
    command: str | None, exit_code: int, said: str, findings: Iterable[Finding] = ()
) -> Data:
    """A command that an error ended: what was said in words, and the findings that explain it."""
    return {
        "format": "headrace-error/1",
        "command": command,
        "exit-code": exit_code,
        "error": said,
        "findings": finding_list(findings),
    }


def completion_data(shell: str, script: str) -> Data:
    """A script for a shell."""
    return {
        "format": "headrace-completion/1",
        "exit-code": 0,
        "findings": [],
        "shell": shell,
        "script": script,
    }


def prepare_data(prepared: Prepared, plan: Plan, card: Path) -> Data:
    """A run that wrote to a card."""
    return {
        "format": "headrace-prepare/1",
        **_run(prepared.exit_code, plan, prepared.findings),
        "card": str(card),
        "sheet": paper_data(prepared.paper),
        "files": [file_data(file) for file in prepared.files],
    }


def watch_data(answer: Answer, recipe: Path, card: Path) -> Data:
    """An answer of a watch: what there is new to say."""
    return {
        "format": "headrace-watch/1",
        "exit-code": answer.exit_code,
        "recipe": str(recipe),
        "card": str(card),
        "watched": answer.jobs,
        "wanting": answer.wanting or None,
        "findings": finding_list(answer.prepared.findings),
        "files": [file_data(file) for file in answer.prepared.files],
    }


def check_data(prepared: Prepared, plan: Plan) -> Data:
    """A check of a recipe, and of jobs where there were some."""
    return {
        "format": "headrace-check/1",
        **_run(prepared.exit_code, plan, prepared.findings),
        "files": [file_data(file) for file in prepared.files],
    }


def faults_data(recipe: Path, findings: Iterable[Finding], exit_code: int) -> Data:
    """A check of a recipe that is at fault, so that there is no plan."""
    return {
        "format": "headrace-check/1",
        "exit-code": exit_code,
        "recipe": str(recipe),
        "machine": None,
        "findings": finding_list(findings),
        "files": [],
    }


def file_data(file: Written) -> Data:
    """One file of a run."""
    record = file.record
    return {
        "name": record.name,
        "card-name": file.naming.name if file.naming else None,
        "fate": fate_of(file),
        "exit-code": record.exit_code,
        "source": content_data(record.source),
        "content": content_data(record.content),
        "lines": record.lines,
        "added": record.added,
        "moves": record.moves,
        "steps": step_list(record.steps),
        "proof": proof_data(record.proof),
        "findings": finding_list(record.findings),
    }


def paper_data(paper: Paper | None) -> Data | None:
    """A run sheet; None where none was written."""
    return None if paper is None else {"file": str(paper.path), "fate": str(paper.fate)}


def fate_of(file: Written) -> str:
    """What became of a file in a word."""
    record: Record = file.record
    if not record.ready:
        return _UNFIT.get(record.exit_code, "stopped-by-fault")
    return str(file.fate) if file.fate else "fit"


def step_list(steps: Sequence[StepReport | Taken]) -> list[Data]:
    """The steps that ran, in order."""
    return [
        {
            "name": step.name,
            "number": step.number,
            "added": step.added,
            "touched": step.touched,
            "asked-by": step.asked_by,
        }
        for step in steps
    ]


def proof_data(proof: RunProof | Proved | None) -> Data | None:
    """What was proved of a file; None where nothing was compared."""
    if proof is None:
        return None
    return {
        "contract": proof.contract,
        "moves": proof.moves,
        "alike": proof.alike,
        "unread": proof.unread,
        "deviation": round(proof.deviation, 9),
    }


def _run(exit_code: int, plan: Plan, findings: Iterable[Finding]) -> Data:
    """What any run by a plan has."""
    return {
        "exit-code": exit_code,
        "recipe": None if plan.alone else str(plan.recipe),
        "machine": plan.machine.name,
        "findings": finding_list(findings),
    }


def content_data(content: Content | None) -> Data | None:
    """What a file holds; None where that is not known."""
    return None if content is None else {"sha256": content.sha256, "size": content.size}


def _sound(value: Any) -> Any:
    """The same without halves of characters, which stand for bytes of names that are no UTF-8."""
    if isinstance(value, str):
        return value if value.isascii() else value.encode("utf-8", "backslashreplace").decode()
    if isinstance(value, dict):
        return {key: _sound(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [_sound(inner) for inner in value]
    return value
