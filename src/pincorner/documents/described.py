"""What each key of a document states: the string that stands below its field in the source.

Beside it stands what may be there, in `example-mm.yaml` and `example-in.yaml`: whole documents.
They are read when somebody asks, from the source: as arguments of fields they would cost every
command 5 ms at its start.
"""

from __future__ import annotations

import ast
import inspect
import sys
from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from typing import Any, NamedTuple, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from pincorner.documents.fields import Document, Scalar
from pincorner.documents.kinds import KINDS
from pincorner.documents.yaml_tree import read_tree
from pincorner.shipped import shipped_folder
from pincorner.units import Unit


class Key(NamedTuple):
    """A key of a document or of a part of one.

    states: what it says, in lower case and without a full stop; default: what counts where it is
    left out, as a document writes it, empty where there is nothing such or `states` tells it;
    listed: whether a list stands there; parts: the models whose keys stand below this one.
    """

    name: str
    states: str
    required: bool
    default: str
    listed: bool
    parts: tuple[type[Document], ...]


def keys_of(model: type[Document]) -> list[Key]:
    """The keys of a document or a part, in the order of its fields."""
    states = _states(model)
    return [
        Key(
            name=field.alias or name,
            states=states.get(name, ""),
            required=field.is_required(),
            default=_default(field),
            listed=_is_list(field.annotation),
            parts=tuple(dict.fromkeys(_parts(field.annotation))),
        )
        for name, field in model.model_fields.items()
    ]


def models_below(model: type[Document]) -> Iterator[type[Document]]:
    """A model and every other that its keys hold, each as often as it stands there."""
    yield model
    for key in keys_of(model):
        for part in key.parts:
            yield from models_below(part)


def keys_at(model: type[Document], path: Sequence[str | int]) -> list[str]:
    """The names of the keys that may stand at a path in a document."""
    models: tuple[type[Document], ...] = (model,)
    for part in path:
        if isinstance(part, str):
            below = [key.parts for each in models for key in keys_of(each) if key.name == part]
            models = tuple(found for parts in below for found in parts)
    return [key.name for each in models for key in keys_of(each)]


@cache
def _examples(units: Unit) -> Mapping[str, Any]:
    file = shipped_folder("fixtures_db") / f"example-{units}.yaml"
    root: Mapping[str, Any] = read_tree(file.read_text(encoding="utf-8"), file.name).root
    return root


def example_values(word: str, units: Unit) -> Mapping[str, Any]:
    """The values of the whole document of a kind, as they stand in a file of that unit."""
    values: Mapping[str, Any] = _examples(units)[KINDS[word].list_key][0]
    return values


def example_at(word: str, path: Sequence[str | int], units: Unit) -> Any:
    """What stands at a path in that document; None where it says nothing there."""
    found: Any = example_values(word, units)
    for part in path:
        if isinstance(found, list) and found:
            found = found[part if isinstance(part, int) and part < len(found) else 0]
        elif isinstance(found, Mapping):
            found = found.get(str(part))
        else:
            return None
    return found


def _parts(annotation: Any) -> Iterator[type[Document]]:
    """The models in a field's type, in the order they stand there."""
    if isinstance(annotation, type) and issubclass(annotation, Document):
        yield annotation
    for argument in get_args(annotation):
        yield from _parts(argument)


def _is_list(annotation: Any) -> bool:
    """Whether a field takes as many as one likes."""
    return get_origin(annotation) is tuple and get_args(annotation)[-1] is ...


def _default(field: FieldInfo) -> str:
    """A field's default as a document writes it; empty where that is nothing, or keys of a part."""
    value = None if field.is_required() or field.default_factory else field.default
    if value is None or value in ((), "") or isinstance(value, BaseModel):
        return ""
    is_length = any(isinstance(each, Scalar) and each.of_length for each in field.metadata)
    return f"{_written(value)} mm" if is_length and value else _written(value)


def _written(value: Any) -> str:
    if isinstance(value, tuple):
        return f"[{', '.join(map(_written, value))}]"
    if isinstance(value, bool):
        return str(value).lower()
    return f"{value:g}" if isinstance(value, float) else str(value)


def _states(model: type[Document]) -> dict[str, str]:
    """What the fields of a model state, those of its bases too."""
    found: dict[str, str] = {}
    for each in reversed(model.__mro__):
        if issubclass(each, Document):
            found |= _strings_below(each.__module__).get(each.__name__, {})
    return found


@cache
def _strings_below(module: str) -> dict[str, dict[str, str]]:
    """By class and field of a module: the string below the field, in one line."""
    tree = ast.parse(inspect.getsource(sys.modules[module]))
    return {
        node.name: {
            field.target.id: " ".join(below.value.value.split())
            for field, below in zip(node.body, node.body[1:], strict=False)
            if isinstance(field, ast.AnnAssign)
            and isinstance(field.target, ast.Name)
            and isinstance(below, ast.Expr)
            and isinstance(below.value, ast.Constant)
            and isinstance(below.value.value, str)
        }
        for node in tree.body
        if isinstance(node, ast.ClassDef)
    }
