"""What a transform is: its declaration is checked where it is made."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterable
from typing import Any

import jsonschema
import pytest

from headrace import Edit, Facet, Job, PluginError, Transform, before, transform
from headrace.plugins.transform import parameter

TEXT = {"type": "string", "description": "The text.", "default": "WAX"}


def brand(job: Job, *, text: str, from_: float | None) -> Iterable[Edit]:  # noqa: ARG001
    """Put a comment first.

    Above everything.
    """
    yield before(0, f"({text} {from_})")


def made(**extra: Any) -> Transform:
    options = {"text": TEXT, "from": {"type": "number"}}
    return transform("brand", changes=[Facet.COMMENTS], options=options, **extra)(brand)


def test_all_that_is_declared() -> None:
    found = made(required=["from"], adds_motion=True)

    assert (found.name, found.adds_motion, found.required) == ("brand", True, ("from",))
    assert found.may_change == {Facet.COMMENTS}
    assert found.summary == "Put a comment first."
    assert found.doc == "Put a comment first.\n\nAbove everything."


def test_options_reach_the_function_with_their_defaults() -> None:
    found = made()
    job: Any = None

    assert list(found.given(job, {})) == [before(0, "(WAX None)")]
    assert list(found.given(job, {"text": "LID", "from": 2})) == [before(0, "(LID 2)")]


def test_the_schema_of_the_options() -> None:
    """JSON Schema 2020-12, checked by jsonschema."""
    schema = made(required=["from"]).schema()

    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema.validate({"from": 1}, schema)
    for wrong in ({}, {"from": "1"}, {"from": 1, "colour": "red"}):
        with pytest.raises(jsonschema.ValidationError):
            jsonschema.validate(wrong, schema)
    assert "required" not in made().schema()


def test_options_become_parameters() -> None:
    assert parameter("run-up") == "run_up"
    assert parameter("from") == "from_"
    assert parameter("class") == "class_"


def _bare(job: Job) -> Iterable[Edit]:  # noqa: ARG001
    return ()


def _two(job: Job, other: int) -> Iterable[Edit]:  # noqa: ARG001
    """Two."""
    return ()


def _none() -> Iterable[Edit]:
    """None."""
    return ()


def _fine(job: Job) -> Iterable[Edit]:  # noqa: ARG001
    """Fine."""
    return ()


def _takes(job: Job, *, a_b: int) -> Iterable[Edit]:  # noqa: ARG001
    """Take."""
    return ()


@pytest.mark.parametrize(
    ("function", "extra", "said"),
    [
        (_bare, {}, ["has no docstring; its first line is what users see"]),
        (_two, {}, ["must take exactly one positional parameter, the job"]),
        (_none, {}, ["must take exactly one positional parameter, the job"]),
        (_takes, {}, ["takes a_b, for which there is no option"]),
        (_fine, {"options": {"a-b": {}}}, ["has the option a_b, but takes no such keyword"]),
        (_fine, {"changes": ["comments", "colour"]}, ["says that it changes colour; facets are"]),
        (_fine, {"required": ["x"]}, ["requires x, which is no option"]),
        (_bare, {"required": ["x"]}, ["has no docstring", "requires x, which is no option"]),
    ],
)
def test_a_declaration_that_contradicts_itself(
    function: Callable[..., Iterable[Edit]], extra: dict[str, Any], said: list[str]
) -> None:
    with pytest.raises(PluginError) as refusal:
        transform("brand", **extra)(function)
    findings = refusal.value.findings
    assert len(findings) == len(said)
    for finding, text in zip(findings, said, strict=True):
        assert finding.name == "plugin-faulty"
        assert finding.what.startswith(f"transform `brand` {text}")
        assert finding.place is not None
        assert finding.place.file == __file__
        assert finding.place.line == inspect.getsourcelines(function)[1]
