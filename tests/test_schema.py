"""The JSON Schema of the documents, against a validator that knows nothing of them."""

from __future__ import annotations

import json
from typing import Any

import pytest
import yaml
from example_world import EXAMPLE, LEAST
from jsonschema import Draft202012Validator
from jsonschema.exceptions import ValidationError

from pincorner.documents.kinds import KINDS
from pincorner.documents.reading import read_text
from pincorner.documents.schema import documents_schema
from pincorner.shipped import shipped_folder


def plain(text: str) -> Any:
    """A text's values as an editor with this schema sees them; dates are the text they print as."""
    return json.loads(json.dumps(yaml.safe_load(text), default=str))


SCHEMA = documents_schema()
VALIDATOR = Draft202012Validator(SCHEMA)


def validate(text: str) -> None:
    """Raise jsonschema's ValidationError where the schema refuses a text."""
    if error := next(VALIDATOR.iter_errors(plain(text)), None):
        raise error


def test_schema_is_of_the_2020_12_edition() -> None:
    """The schema is a JSON Schema of the edition that it names."""
    schema = SCHEMA
    assert schema["$schema"] == Draft202012Validator.META_SCHEMA["$id"]
    Draft202012Validator.check_schema(schema)
    assert json.loads(json.dumps(schema)) == schema


def test_schema_names_every_list() -> None:
    """The schema has a list for every kind, and lets no other key stand."""
    wanted = {"format", "units", *(kind.list_key for kind in KINDS.values())}
    assert set(SCHEMA["properties"]) == wanted


TAKEN = [
    EXAMPLE,
    *(f"format: 1\n{text}" for text in LEAST.values()),
    "format: 1\nunits: in\npins: [{name: a, shank: 3/8in, body: 3 1/4 in, height: 82.55 mm}]",
    "format: 1\npins: [{name: a, shank: ' 3/8 in ', body: +1 in, height: .5 in}]",
    "format: 1\nruns: [{name: a, stations: [b], load: 90}, {name: b, stations: [a], load: '4:20'}]",
    "format: 1\nmachines: [{name: a, dialect: rs274, homes: no, read_out: right-handed}]",
    "format: 1\nmachines: [{name: a, dialect: rs274, travel: {x: [0, 5 in]}}]",
    "format: 1\nmachines: [{name: a, dialect: rs274, home: {g30: [0, 5 in, -1]}}]",
    "format: 1\ndialects: [{name: a, work_offsets: [G54], harmless: [G91.1, M10]}]",
    "format: 1\npins: []",
    "format: 1",
    "format: 1\npins: [{name: 12, shank: 8, body: 9, height: 1}]",
    "format: 1\nmachines: [{name: on, dialect: 7}]",
    "format: 1\npins: [{name: a, shank: 8, body: 9, height: 1, note: 12}]",
]
"""Texts that the reader takes."""


@pytest.mark.parametrize("text", TAKEN)
def test_schema_takes_what_the_reader_takes(text: str) -> None:
    """An editor that knows the schema marks nothing in a file that loads."""
    assert not read_text(text, "shop.yaml")[0].problems
    validate(text)


@pytest.mark.parametrize("file", ["beehive.yaml", "dialects.yaml"])
def test_schema_takes_the_shipped_documents(file: str) -> None:
    """The demo's world and the shipped dialects are as the schema says."""
    validate((shipped_folder("fixtures_db") / file).read_text(encoding="utf-8"))


PIN, MACHINE = "{name: a, shank: 8, body: 9, height: 1", "{name: a, dialect: rs274"
REFUSED = [
    "units: mm",
    "format: 2",
    "format: 1\nunits: cm",
    "format: 1\nfixtures: []",
    "format: 1\npins: {}",
    "format: 1\npins: [peg]",
    "format: 1\npins: [{name: a, shank: 8, body: 9}]",
    f"format: 1\npins: [{PIN}, colour: red}}]",
    "format: 1\npins: [{name: a, shank: 8 cm, body: 9, height: 1}]",
    "format: 1\npins: [{name: a, shank: [8], body: 9, height: 1}]",
    "format: 1\npins: [{name: a, shank: 100001, body: 9, height: 1}]",
    "format: 1\npins: [{name: '', shank: 8, body: 9, height: 1}]",
    f"format: 1\npins: [{PIN.replace('name: a', 'name: ' + 'a' * 65)}}}]",
    f"format: 1\nmachines: [{MACHINE}, beam: z}}]",
    f"format: 1\nmachines: [{MACHINE}, homes: maybe}}]",
    f"format: 1\nmachines: [{MACHINE}, park: [1]}}]",
    f"format: 1\nmachines: [{MACHINE}, park: [1, 2, 3]}}]",
    f"format: 1\nmachines: [{MACHINE}, home: {{g28: [1, 2]}}}}]",
    f"format: 1\nmachines: [{MACHINE}, home: {{g29: [1, 2, 3]}}}}]",
    "format: 1\ndialects: [{name: a, work_offsets: [G54], harmless: G97}]",
    "format: 1\njigs: [{name: a, footprint: [1, 2], nests: []}]",
    "format: 1\nruns: [{name: a, stations: []}]",
    f"format: 1\n{LEAST['station'].replace('toward: +x+y', 'toward: +y+x')}",
    f"format: 1\n{LEAST['bed'].replace('columns: 3', 'columns: 2.5')}",
    "format: 1\npins: [{name: a, shank: 0, body: 9, height: 1}]",
    f"format: 1\n{LEAST['bed'].replace('columns: 3', 'columns: 501')}",
    f"format: 1\n{LEAST['station'].replace('toward', 'turn: 45, toward')}",
]
"""Texts that the reader refuses for what one key holds."""


@pytest.mark.parametrize("text", REFUSED)
def test_schema_refuses_what_the_reader_refuses(text: str) -> None:
    """What is wrong with a single key is wrong by the schema too."""
    assert read_text(text, "shop.yaml")[0].problems
    with pytest.raises(ValidationError):
        validate(text)
