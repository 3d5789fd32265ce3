"""JSON Schema (2020-12) of a file of documents."""

from __future__ import annotations

from typing import Any

from pydantic.json_schema import models_json_schema

from pincorner.documents.described import keys_of, models_below
from pincorner.documents.kinds import FORMAT, KINDS


def documents_schema() -> dict[str, Any]:
    """The schema as JSON values."""
    models = [(kind.model, "validation") for kind in KINDS.values()]
    refs, shared = models_json_schema(models, ref_template="#/$defs/{model}")  # type: ignore[arg-type]
    for part in {part for kind in KINDS.values() for part in models_below(kind.model)}:
        properties = shared["$defs"][part.__name__]["properties"]
        for key in keys_of(part):
            told = (key.states, properties[key.name].get("description"))
            properties[key.name]["description"] = "\n".join(filter(None, told))
    lists = {
        kind.list_key: {"type": "array", "items": refs[(kind.model, "validation")]}
        for kind in KINDS.values()
    }
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "pincorner documents",
        "type": "object",
        "properties": {
            "format": {"const": FORMAT},
            "units": {"enum": ["mm", "in"], "default": "mm"},
            **lists,
        },
        "required": ["format"],
        "additionalProperties": False,
        "$defs": shared["$defs"],
    }
