"""Transforms as plain data: options as JSON Schemas, and what each may change."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from headrace.findings import Finding
from headrace.report.plain import Data, finding_list

if TYPE_CHECKING:
    from headrace.plugins.transform import Transform


def transforms_data(
    transforms: Iterable[Transform], faults: Iterable[Finding], exit_code: int
) -> Data:
    """Some transforms, and the plugins that could not be loaded."""
    return {
        "format": "headrace-transforms/1",
        "exit-code": exit_code,
        "findings": finding_list(faults),
        "transforms": [_transform(transform) for transform in transforms],
    }


def _transform(transform: Transform) -> Data:
    terms = transform.terms
    return {
        "name": transform.name,
        "summary": transform.summary,
        "doc": transform.doc,
        "provider": transform.provider,
        "gives": transform.gives,
        "options": transform.schema(),
        "may-change": sorted(str(facet) for facet in transform.may_change),
        "adds-motion": transform.adds_motion,
        "detours": transform.detours,
        "idempotent": transform.idempotent,
        "maps-path": terms.affine is not None,
        "within-tolerance": terms.within is not None,
    }
