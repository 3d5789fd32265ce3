"""What is told of slips in files: the nearest key, an example, the name of the slip."""

from __future__ import annotations

from pathlib import Path

import pytest
import yaml
from worlds import BASE

from pincorner.documents import yaml_tree
from pincorner.documents.alone import DocumentsAlone
from pincorner.documents.described import example_at, keys_of
from pincorner.documents.kinds import KINDS
from pincorner.documents.reading import read_text, read_texts
from pincorner.errors import DocumentErrors, Problem
from pincorner.render.text.commented import commented
from pincorner.units import Unit
from pincorner.work.first.examples import example_text
from pincorner.work.loading import documents_of, read_alone, shipped_dialects

LOADERS = {"C": yaml.CSafeLoader, "Python": yaml.SafeLoader}

SLIPS = {
    "a dash": ("pins:\n  - name: a\n    shank: 2\n  name: b\n", 4, "a dash is missing"),
    "a colon in a text": ("pins:\n  - name: a\n    note: see: there\n", 3,
                          'put the text in quotes, as note: "'),
    "no blank": ("pins:\n  - name:a\n    shank: 2\n", 2, "a blank is missing behind the colon"),
    "no blank at the top": ("format:1\npins:\n  - {name: a}\n", 1, "a blank is missing"),
    "no colon": ("pins:\n  - name a\n    shank: 2\n", 2, "a colon is missing behind the key"),
    "no colon before a brace": ("a: 1\npins\n  - {name: a}\njigs: []\n", 2, "a colon is missing"),
    "no colon, and a comment": ("pins\n# all\n\n  - name: a\n", 1, "a colon is missing"),
    "a bracket": ("jigs:\n  - name: a\n    footprint: [1, 2\n    seat: 3\n", 3,
                  "is not closed with ]"),
    "a brace": ("pins:\n  - {name: a, shank: 2\n  - {name: b}\n", 2, "is not closed with }"),
    "a bracket at the end": ("jigs: [\n\n# all\n", 1, "is not closed with ]"),
    "a bracket in a text": ('note: "[ a"\nhome: {g28: [0, 0\n', 2, "is not closed with ]"),
    "a comma too many": ("note: [1,, 2]\n", 1, "or one is too many"),
    "a comma": ("pins: [{name: a shank: 2}]\n", 1, "or a comma is missing"),
    "a quote": ('pins:\n  - name: "a\n    shank: 2\n', 2, "a quote that opens here"),
    "farther right": ("pins:\n  - name: a\n     shank: 2\n", 3, "farther to the right"),
    "farther left": ("pins:\n  - name: a\n   shank: 2\n", 3, "align it with them"),
    "at the left edge": ("pins:\n  - name: a\nshank: 2\n    body: 2\n", 3, "align it with them"),
    "at the left edge, last": ("pins:\n- name: a\nshank: 2\n- name: b\n", 3, "align it with them"),
    "a sign": ("pins:\n  - name: @a\n", 2, "begins with @ has to stand in quotes"),
    "a tab": ("pins:\n\t- name: a\n", 2, "there is a tab"),
    "an inch sign": ('pins: [{name: a, shank: "3/4" in}]\n', 1, "or a comma is missing"),
    "behind a quote": ('note: "a" b\n', 1, "something stands behind a closing quote"),
    "a backslash": ('programs:\n  - file: "c:\\dir"\n', 2, "write / between folders"),
}  # fmt: skip


@pytest.mark.parametrize("loader", LOADERS)
@pytest.mark.parametrize("slip", SLIPS)
def test_slips_of_yaml(monkeypatch: pytest.MonkeyPatch, slip: str, loader: str) -> None:
    """What is no YAML is told with its line and the slip's name, whichever parser there is."""
    monkeypatch.setattr(yaml_tree, "_LOADER", LOADERS[loader])
    text, line, told = SLIPS[slip]
    (problem,) = yaml_tree.read_tree(text, "shop.yaml").problems
    assert problem.line == line and told in problem.text, problem


WRONG = """format: 1
units: UNIT
machins: []
machines:
  - {name: r, dialect: rs274, travel: [0, 40], beem: x}
beds:
  - {name: b, machine: r, grid: {colums: 12, rows: 7, pitch: 4, hole: 1}, pose: {x: 1, y: 2}}
pins:
  - {name: p, shank: 1, boddy: 3, height:2}
stations:
  - {name: s, bed: b, pin: p, pins: {edge: [A1, B1], stopp: A2}, work_offsets: G55}
"""
TOLD = {
    "machins": "unknown list; did you mean machines?",
    "machines[0].beem": "unknown key; did you mean beam? (in r)",
    "beds[0].grid.columns": "this key is needed, such as columns: 12 (in b)",
    "beds[0].grid.colums": "unknown key; did you mean columns? (in b)",
    "pins[0].boddy": "unknown key; did you mean body? (in p)",
    "pins[0].height:2": "unknown key; a blank is missing behind the colon (in p)",
    "stations[0].pins.stopp": "unknown key; did you mean stop? (in s)",
    "stations[0].work_offsets": "keys in { }, got 'G55', such as work_offsets: {a: G55} (in s)",
}  # fmt: skip
OWN = {
    "mm": {
        "machines[0].travel": "travel: {x: [0, 1250], y: [0, 800], z: [-150, 0]} (in r)",
        "beds[0].grid.pitch": "expected a list in [ ], got '4', such as pitch: [100, 100] (in b)",
        "pins[0].body": "this key is needed, such as body: 20 (in p)",
    },
    "in": {
        "machines[0].travel": "travel: {x: [0, 50], y: [0, 98], z: [-6, 0]} (in r)",
        "beds[0].grid.pitch": "expected a list in [ ], got '4', such as pitch: [4, 4] (in b)",
        "pins[0].body": "this key is needed, such as body: 3/4 in (in p)",
    },
}


@pytest.mark.parametrize("unit", OWN)
def test_every_problem_has_its_help(unit: str) -> None:
    """All of a file at once: the nearest key, and an example in the file's own unit."""
    tree, _ = read_text(WRONG.replace("UNIT", unit), "shop.yaml")
    found = {problem.path: problem.text for problem in tree.problems}
    for path, text in {**TOLD, **OWN[unit]}.items():
        assert text in found[path], (path, found[path])


@pytest.mark.parametrize("unit", ["mm", "in"])
@pytest.mark.parametrize("word", KINDS)
def test_examples_are_whole(word: str, unit: Unit) -> None:
    """Every key of a kind stands in its example, and the example is a document as it is."""
    text = example_text(word, unit, {})
    tree, entries = read_text(text, word)
    assert tree.problems == [] and len(entries) == 1
    for key in keys_of(KINDS[word].model):
        assert f"{key.name}:" in text, key.name
        assert example_at(word, (key.name,), unit) is not None, f"{key.name} has no example"


MANY = """format: 1
machines:
  - {name: r, dialect: rs275, beem: x}
beds:
  - {name: b, machine: rr, grid: {columns: 9, rows: 7, pitch: [9, 9], hole: 2}, pose: {x: 1, y: 2}}
  - {name: c, machine: r, grid: {columns: 9, rows: 7, pitch: [9, 9]}, pose: {x: 1, y: 2}}
pins:
  - {nmae: p, shank: 2, body: 3, height: 2}
  - {name: q, shank: 2, body: 3, height: x}
jigs:
  - {name: wood, footprint: [20, 10], height: 1, seat: 2, photo: 7,
     nests: [{name: a, zero: [0, 0], stock: {size: [1, 1, 1]}, program: nix}], heigth_: 3}
stations:
  - {name: s, bed: b, jig: wood, pin: p, pins: {edge: [Z1, B1], stop: A2}}
  - {name: t, bed: b, jig: wod, pin: q, pins: {edge: [Z1, {hole: B1, pin: pp}], stop: B1}, nota: x}
  - {name: u, bed: c, jig: wood, pin: pq, pins: {edge: [Z1, B1], stop: A2}, program: gone}
  - name: v
    jig: "wood
  - name: w
    bed: d
  - {name: T, bed: b, jig: wood, pin: q, corner: A1}
runs:
  - {name: m, stations: [v, s, xx], lod: 3}
"""
TOLD_OF_MANY = """
3 beem: unknown key
3 no dialect is named rs275
5 no machine is named rr
6 grid.hole: this key is needed
8 name: this key is needed
8 nmae: unknown key
9 height: expected a length
12 heigth_: unknown key
12 no program is named nix
14 bed b has no hole Z1
15 nota: unknown key
15 two pins cannot stand in one hole (B1)
15 no jig is named wod
15 no pin is named pp
15 bed b has no hole Z1
16 no pin is named pq
16 no program is named gone
18 a quote that opens here is not closed
19 expected jig or, for bare stock, stock
19 expected pin, the kind of pin
19 expected pins, or corner and toward
20 no bed is named d
21 expected pins, or corner and toward
21 the same name stands in many.yaml:15 already
23 lod: unknown key
23 no station is named xx
"""


def told_of(text: str, file: str = "many.yaml") -> list[Problem]:
    """What is told of documents that join the shipped dialects."""
    with pytest.raises(DocumentErrors) as raised:
        documents_of(read_texts([(file, text)]), DocumentsAlone(shipped_dialects()))
    return list(raised.value.problems)


def test_all_problems_at_once() -> None:
    """Faults of documents, of names in them, of names in wrong ones, of holes, and what is no YAML:
    one line each, from top to bottom, and none that follows from another."""
    found = told_of(MANY)
    wanted = [line.split(" ", 1) for line in sorted(TOLD_OF_MANY.strip().splitlines(), key=_line)]
    assert [str(problem.line) for problem in found] == [line for line, _ in wanted]
    for line, text in wanted:
        here = [str(problem) for problem in found if problem.line == int(line)]
        assert any(text in each for each in here), (line, text, here)


def _line(text: str) -> int:
    return int(text.split(" ", 1)[0])


KINDS_BROKEN = {
    "a wrong value": (": 20, body", ": x, body", 1),
    "an unknown key": ("{name: peg, ", "{name: peg, notes: x, ", 1),
    "no name": ("{name: peg, ", "{nam: peg, ", 2),
    "no YAML": ("{name: peg, ", "{name: peg: 20, ", 1),
    "a quote": ("{name: peg, ", "{name: 'peg, ", 1),
    "another list": ("pins:", "pin:", 1),
    "a list without a colon": ("pins:", "pins", 1),
    "a list's key askew": ("jigs:", " jigs:", 1),
    "a list's key gone": ("pins:\n", "", 1),
    "a dash askew": ("  - name: panel-tray", "     - name: panel-tray", 1),
    "a station's dash askew": ("  - name: left", "   - name: left", 1),
    "a key at the left edge": ("    seat: 18", "seat: 18", 1),
    "no list": ("pins:\n  - {", "pins:\n    {", 1),
    "a word": ("  - {name: peg, shank", "  - peg\n  - {name: pig, shank", 1),
}  # fmt: skip


@pytest.mark.parametrize("slip", KINDS_BROKEN)
def test_what_only_follows_is_not_told(slip: str) -> None:
    """A document that is wrong, or cannot be read, is no unknown name to those that need it."""
    right, wrong, count = KINDS_BROKEN[slip]
    text = BASE.replace("peg-20", "peg").replace("shank: 20.00, body", "shank: 20, body")
    assert right in text
    found = told_of(text.replace(right, wrong, 1))
    assert len(found) == count, list(map(str, found))


def test_a_file_that_cannot_be_read_hides_no_other(tmp_path: Path) -> None:
    """It is told with what is wrong elsewhere; names that may stand in it are not unknown."""
    wrong, none = tmp_path / "many.yaml", tmp_path / "none.yaml"
    wrong.write_text(MANY, encoding="utf-8")
    with pytest.raises(DocumentErrors) as raised:
        read_alone([wrong, none, tmp_path / "nor.yaml"], tmp_path)
    lines = str(raised.value).splitlines()
    unread = [line for line in lines if "cannot be read: " in line]
    assert len(unread) == 2 and all("looked up when it can be read" in line for line in unread)
    assert len(lines) == 2 + len(told_of(MANY)) - sum("is named" in str(p) for p in told_of(MANY))


def test_what_is_left_out_can_be_said() -> None:
    """A key in a comment is said by taking its # away, wherever it stands."""
    values = {"name": "r", "dialect": "rs274", "travel": {"x": [0, 9]}}
    examples = {"nose": 64, "travel": {"y": [0, 5], "z": [-1, 0]}}
    text = commented("machine", values, "mm", examples)
    assert "\n    #nose: 64 " in text and "\n      #y: [0, 5] " in text
    text = text.replace("#nose", "nose").replace("#y", "y")
    tree, (entry,) = read_text(text, "r")
    machine = entry.document.model_dump()
    assert tree.problems == [] and machine["nose"] == 64 and machine["travel"]["y"] == (0, 5)


def test_texts_that_need_quotes_get_them() -> None:
    """Names and notes that YAML would read as something else stand in quotes, and come back."""
    for note in ("null", "- a", "a: b", "#1", "[x]", "", 'say "so"', "it's", "\u202e\u0007x", "@a"):
        text = commented(
            "pin", {"name": "peg", "shank": 1, "body": 1, "height": 1, "note": note}, "mm"
        )
        tree, entries = read_text(text, "pin")
        if "\u0007" in note:
            assert tree.problems, "a control is no text of a note"
            continue
        assert tree.problems == [] and entries[0].document.model_dump()["note"] == note, text
