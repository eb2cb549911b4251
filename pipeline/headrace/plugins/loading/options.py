"""The JSON Schemas of a transform's options, held against that of JSON Schema itself (2020-12)."""

from __future__ import annotations

from collections.abc import Iterable

from headrace.errors import PluginError
from headrace.findings import Finding
from headrace.plugins.loading.own_code import place_of_code
from headrace.plugins.transform import Transform


def need_schemas(transforms: Iterable[Transform]) -> None:
    """Raise PluginError for options with a schema that is none, or does not fit its own default."""
    from jsonschema import Draft202012Validator
    from jsonschema.exceptions import best_match

    meta = Draft202012Validator(Draft202012Validator.META_SCHEMA)
    found = []
    for transform in transforms:
        code = getattr(transform.apply, "__code__", None)
        place = None if code is None else place_of_code(code)
        for name, schema in transform.options.items():
            lead = f"transform `{transform.name}` has the option `{name}`, and its schema"
            if error := best_match(meta.iter_errors(schema)):
                at = ".".join(map(str, error.absolute_path))
                what = f"{lead} is none: {f'`{at}`: ' if at else ''}{error.message}"
                found.append(Finding.of("plugin-faulty", what, place))
            elif "default" in schema:
                misfits = Draft202012Validator(schema).iter_errors(schema["default"])
                if error := best_match(misfits):
                    what = f"{lead} does not fit its own default: {error.message}"
                    found.append(Finding.of("plugin-faulty", what, place))
    if found:
        raise PluginError(findings=found)
