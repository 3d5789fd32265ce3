"""What the keys of documents state: told once, below the fields, and shown wherever it is asked."""

from __future__ import annotations

from typing import Any, Literal, get_args, get_origin

import pytest

from pincorner.documents.described import keys_of, models_below
from pincorner.documents.fields import Document
from pincorner.documents.kinds import KINDS
from pincorner.documents.records import Run
from pincorner.documents.schema import documents_schema
from pincorner.render.text.guide import keys_text
from pincorner.runs.gaps import DEFAULT_REACH_MM
from pincorner.runs.situation import DEFAULT_LEAST_GAP_MM, DEFAULT_LEAVE_S

MODELS = sorted(
    {model for kind in KINDS.values() for model in models_below(kind.model)},
    key=lambda model: model.__name__,
)


@pytest.mark.parametrize("model", MODELS, ids=lambda model: model.__name__)
def test_every_key_states_something(model: type[Document]) -> None:
    """Each field of each document and part has a string below it: lower case, no full stop."""
    for key in keys_of(model):
        assert key.states, f"{model.__name__}.{key.name} says nothing"
        assert not key.states.endswith(".") and not key.states[0].isupper(), key


def choices(annotation: Any) -> set[str]:
    """The words that a field of a few words takes."""
    if get_origin(annotation) is Literal:
        return {word for word in get_args(annotation) if isinstance(word, str)}
    return {word for each in get_args(annotation) for word in choices(each)}


@pytest.mark.parametrize("model", MODELS, ids=lambda model: model.__name__)
def test_every_choice_is_told(model: type[Document]) -> None:
    """A key that takes one of a few words names all of them."""
    fields = {field.alias or name: field for name, field in model.model_fields.items()}
    for key in keys_of(model):
        words = choices(fields[key.name].annotation)
        untold = [word for word in words if f"`{word}`" not in f"{key.states} `{key.default}`"]
        assert untold == [], f"{model.__name__}.{key.name}"


@pytest.mark.parametrize("word", KINDS)
def test_every_key_is_on_the_page(word: str) -> None:
    """The page of a kind names each key of its document and of what stands in it."""
    page = keys_text(word)
    for model in models_below(KINDS[word].model):
        for key in keys_of(model):
            shown = f"**`{key.name}`**" if key.required else f"`{key.name}`"
            assert f"* {shown}" in page, f"{model.__name__}.{key.name}"


@pytest.mark.parametrize(
    ("name", "used"),
    [
        ("leave", f"{DEFAULT_LEAVE_S:g} s"),
        ("reach", f"{DEFAULT_REACH_MM:g} mm"),
        ("least_gap", f"{DEFAULT_LEAST_GAP_MM:g} mm"),
    ],
)
def test_what_counts_where_a_run_says_nothing(name: str, used: str) -> None:
    """A run's page of keys names the figure that plans are made with where a key is left out."""
    states = {key.name: key.states for key in keys_of(Run)}
    assert states[name].endswith(f"left out: {used}, and said so")


def test_the_page_in_full() -> None:
    """A needed key stands in bold, a list is called one, and what counts if left out follows."""
    assert keys_text("surfacing").endswith(
        "* `slats` (list): the slats that were cut or are new; left out: the whole bed\n"
        "* `note`: text for whoever reads it\n"
    )
    tools = "**`bed`**: the bed\n* `depth`: how much was cut off; this or `surface`\n"
    assert tools in keys_text("surfacing")
    assert "skew" in (machine := keys_text("machine")) and "left out: `0.1 mm`" in machine
    assert "  * `left`: to the left; left out: not known, so that" in machine


def test_the_schema_tells_the_same() -> None:
    """Every key in the schema of the documents says what the page says."""
    shared = documents_schema()["$defs"]
    assert len(MODELS) == len({model.__name__ for model in MODELS})
    for model in MODELS:
        for key in keys_of(model):
            told = shared[model.__name__]["properties"][key.name]["description"]
            assert told.split("\n")[0] == key.states
