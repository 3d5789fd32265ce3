"""Documents as canonical JSON (in the registry) and as YAML (in files): the same values always
give the same bytes. Lengths are millimetres; keys that say what leaving them out says are left out.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping
from types import UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic.fields import FieldInfo

from pincorner.characters import hidden_in, without_hidden
from pincorner.documents.fields import Document, Plain, Scalar, WholeDocument, key_of
from pincorner.documents.kinds import FORMAT, KINDS, D, kind_of
from pincorner.units import Unit, exact_number

IN_MM = {"units": "mm"}
_PLAIN = re.compile(r"[\w+.-](?:[\w +./%*-]*[\w+.%*-])?")
_NO_TEXT = re.compile(r"(?i)~|null|[-+.]+|-\s.*")


def plain_values(document: WholeDocument) -> dict[str, Any]:
    """The document as JSON values: whole numbers without a point, mappings in the order of keys."""
    values = document.model_dump(
        mode="json", by_alias=True, exclude_none=True, exclude_defaults=True
    )
    for key in ("work_offsets", "tools"):
        if isinstance(values.get(key), dict):
            values[key] = dict(sorted(values[key].items()))
    result: dict[str, Any] = _whole_numbers(values)
    return result


def _whole_numbers(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _whole_numbers(item) for key, item in value.items()}
    if isinstance(value, list):
        return [_whole_numbers(item) for item in value]
    return int(value) if isinstance(value, float) and value.is_integer() else value


def to_json(document: WholeDocument) -> str:
    """Canonical JSON text of a document."""
    return json.dumps(plain_values(document), ensure_ascii=False, separators=(",", ":"))


def from_json(model: type[D], text: str) -> D:
    """The document of a class that canonical JSON text holds."""
    return model.model_validate(json.loads(text), context=IN_MM)


def to_yaml(documents: Iterable[WholeDocument], unit: Unit = "mm") -> str:
    """All documents as the text of one file of that unit, by kind, then by name."""
    import yaml

    lists: dict[str, list[tuple[str, dict[str, Any]]]] = {word: [] for word in KINDS}
    for document in documents:
        lists[kind_of(document)].append((key_of(document.name), values_in(document, unit)))
    content: dict[str, Any] = {"format": FORMAT, "units": unit}
    for word, kind in KINDS.items():
        if lists[word]:
            content[kind.list_key] = [values for _, values in sorted(lists[word])]
    text: str = yaml.dump(
        content,
        Dumper=_dumper(),
        sort_keys=False,
        allow_unicode=True,
        width=100,
        default_flow_style=None,
    )
    return without_hidden(text, lambda character: rf"\U{ord(character):08X}", "\n")


def _dumper() -> Any:
    """Puts texts with hidden characters in double quotes, in which they can be escaped."""
    import yaml

    def text_node(dumper: Any, text: str) -> Any:
        style = '"' if hidden_in(text, "\n\t") else None
        return dumper.represent_scalar("tag:yaml.org,2002:str", text, style=style)

    made: Any = type("Dumper", (getattr(yaml, "CSafeDumper", yaml.SafeDumper),), {})
    made.add_representer(str, text_node)
    return made


def flow(value: Any) -> str:
    """A value in one line, as YAML."""
    if isinstance(value, Mapping):
        inside = ", ".join(f"{_scalar(each)}: {flow(value[each])}" for each in value)
        return f"{{{inside}}}"
    if isinstance(value, list | tuple):
        return f"[{', '.join(map(flow, value))}]"
    return _scalar(value)


def _scalar(value: Any) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, float):
        return repr(int(value)) if value.is_integer() else repr(value)
    text = str(value)
    if isinstance(value, Plain | int):
        return text
    is_plain = _PLAIN.fullmatch(text) and not _NO_TEXT.fullmatch(text)
    return text if is_plain else json.dumps(text, ensure_ascii=False)


def values_in(document: WholeDocument, unit: Unit) -> dict[str, Any]:
    """The document's values as they stand in a file of that unit, to the last bit.

    A length that no decimal of that unit states exactly stays in mm, and says so.
    """
    values = plain_values(document)
    if unit == "mm":
        return values
    converted: dict[str, Any] = _whole_numbers(_lengths_in_inches(type(document), values))
    return converted


def _in_inches(value_mm: float) -> float | str:
    inches = exact_number(value_mm, "in")
    return f"{value_mm!r} mm" if inches is None else inches


def _lengths_in_inches(annotation: Any, value: Any) -> Any:
    """A value of a type, each length in it in inches."""
    origin, arguments = get_origin(annotation), get_args(annotation)
    if origin is Annotated:
        if any(isinstance(each, Scalar) and each.of_length for each in arguments[1:]):
            return _in_inches(value)
        return _lengths_in_inches(arguments[0], value)
    if origin in (Union, UnionType):
        fitting = next((each for each in arguments if _fits(each, value)), None)
        return value if fitting is None else _lengths_in_inches(fitting, value)
    if origin is tuple:
        models = _of_entries(arguments, len(value))
        return [_lengths_in_inches(*each) for each in zip(models, value, strict=True)]
    if origin is dict:
        return {key: _lengths_in_inches(arguments[1], each) for key, each in value.items()}
    if isinstance(annotation, type) and issubclass(annotation, Document):
        fields = {f.alias or name: f for name, f in annotation.model_fields.items()}
        return {key: _lengths_in_inches(_typed(fields[key]), each) for key, each in value.items()}
    return value


def _of_entries(arguments: tuple[Any, ...], count: int) -> tuple[Any, ...]:
    """The types of a tuple's entries; of `tuple[X, ...]` as many as there are."""
    return arguments[:1] * count if arguments[-1] is Ellipsis else arguments


def _typed(field: FieldInfo) -> Any:
    """A field's type with what is said beside it."""
    return Annotated[(field.annotation, *field.metadata)] if field.metadata else field.annotation


def _fits(annotation: Any, value: Any) -> bool:
    """Whether a value of a file is of that shape, of a union's types."""
    origin, arguments = get_origin(annotation), get_args(annotation)
    if origin is Annotated:
        return _fits(arguments[0], value)
    if origin in (Union, UnionType):
        return any(_fits(each, value) for each in arguments)
    if origin is tuple:
        if not isinstance(value, list):
            return False
        models = _of_entries(arguments, len(value))
        return len(models) == len(value) and all(
            _fits(*each) for each in zip(models, value, strict=True)
        )
    if origin is Literal:
        return value in arguments
    if isinstance(annotation, type) and issubclass(annotation, Document):
        names = {field.alias or name for name, field in annotation.model_fields.items()}
        return isinstance(value, dict) and value.keys() <= names
    if annotation is float:
        return isinstance(value, int | float) and not isinstance(value, bool)
    return isinstance(annotation, type) and isinstance(value, annotation)
