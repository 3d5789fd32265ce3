"""JSON Schema (2020-12) of a report, from its type."""

from __future__ import annotations

import types
from typing import (
    Annotated,
    Any,
    Literal,
    Union,
    get_args,
    get_origin,
    get_type_hints,
    is_typeddict,
)

from pincorner.documents.schema import documents_schema
from pincorner.render.outputs.catalogue import REPORTS, maker, report_named
from pincorner.render.outputs.shapes import UNITS, PlainDocument

Schema = dict[str, Any]

_PLAIN = {
    str: "string",
    bool: "boolean",
    int: "integer",
    float: "number",
    types.NoneType: "null",
}


def report_schema(command: str) -> Schema:
    """What `COMMAND --json` prints. Raises BadInput where no report has that name.

    Descriptions and required keys come from the types, `x-unit` from the keys' names.
    """
    shape = get_type_hints(maker(report_named(command)))["return"]
    line = REPORTS[command].line or command
    shared: Schema = {}
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": f"pincorner {line} --json",
        **_object(shape, shared),
        "$defs": shared,
    }


def _object(shape: Any, shared: Schema) -> Schema:
    """The schema of a TypedDict; those that stand in it go to `shared`."""
    hints = get_type_hints(shape, include_extras=True)
    return {
        "description": shape.__doc__,
        "type": "object",
        "properties": {key: _key(key, hint, shared) for key, hint in hints.items()},
        "required": [key for key in hints if key in shape.__required_keys__],
        "additionalProperties": False,
    }


def _key(key: str, hint: Any, shared: Schema) -> Schema:
    """The schema of what a key holds, with its description and its unit."""
    hint, *told = get_args(hint) if get_origin(hint) is Annotated else (hint,)
    found = _value(hint, shared)
    if told:
        found = {"description": told[0], **found}
    unit = next((unit for ending, unit in UNITS.items() if key.endswith(ending)), None)
    return found if unit is None else {**found, "x-unit": unit}


def _value(hint: Any, shared: Schema) -> Schema:
    """The schema of a type. Raises TypeError for one that no report has used so far."""
    if hint in _PLAIN:
        return {"type": _PLAIN[hint]}
    if is_typeddict(hint):
        if hint.__name__ not in shared:
            shared[hint.__name__] = {}  # holds its place, and the order
            shared[hint.__name__] = _object(hint, shared)
        return {"$ref": f"#/$defs/{hint.__name__}"}
    if hint is PlainDocument:
        return _documents(shared)
    kind, parts = get_origin(hint), get_args(hint)
    if kind is Literal:
        return {"const": parts[0]} if len(parts) == 1 else {"enum": list(parts)}
    if kind in (Union, types.UnionType):
        return _either([_value(part, shared) for part in parts])
    if kind is list:
        return {"type": "array", "items": _value(parts[0], shared)}
    if kind is tuple:
        each = [_value(part, shared) for part in parts]
        return {"type": "array", "prefixItems": each, "items": False, "minItems": len(each)}
    if kind is dict and parts[0] is str:
        return {"type": "object", "additionalProperties": _value(parts[1], shared)}
    raise TypeError(f"no schema is known for {hint}")


def _either(choices: list[Schema]) -> Schema:
    """One of several; a list of types where they say no more than that."""
    if all(choice.keys() == {"type"} for choice in choices):
        return {"type": [choice["type"] for choice in choices]}
    return {"anyOf": choices}


def _documents(shared: Schema) -> Schema:
    """Any one document."""
    documents = documents_schema()
    shared.update(documents["$defs"])
    lists = [each for each in documents["properties"].values() if each.get("type") == "array"]
    return {"anyOf": [each["items"] for each in lists]}
