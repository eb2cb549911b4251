"""Every JSON document that a command prints in these tests is held against its published schema.

Outside reference: the library jsonschema (JSON Schema, draft 2020-12).
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from functools import cache
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from headrace.report import plain
from headrace.report.schema import output_schema


@cache
def validator_of(form: str) -> Draft202012Validator:
    """The validator for documents of a format such as `headrace-check/1`."""
    name = form.removeprefix("headrace-").split("/")[0]
    schema = output_schema(name)
    assert schema["properties"]["format"]["const"] == form
    return Draft202012Validator(schema)


@pytest.fixture
def judge() -> Callable[[str], list[str]]:
    """What is wrong with a document that another process has printed."""
    return faults_of


def faults_of(text: str) -> list[str]:
    """What is wrong with a document as it was printed."""
    document = json.loads(text)
    found = validator_of(document["format"]).iter_errors(document)
    return [f"{document['format']} {error.json_path}: {error.message[:300]}" for error in found]


@pytest.fixture(autouse=True)
def printed(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[dict[str, Any]]]:
    """All documents that commands print in this process; each must be as its schema says."""
    documents: list[dict[str, Any]] = []
    faults: list[str] = []
    original = plain.text_of

    def text_of(document: dict[str, Any], *, in_one_line: bool = False) -> str:
        text = original(document, in_one_line=in_one_line)
        assert text.isascii()
        assert not in_one_line or "\n" not in text
        faults.extend(faults_of(text))
        documents.append(json.loads(text))
        return text

    monkeypatch.setattr(plain, "text_of", text_of)
    yield documents
    assert faults == []
