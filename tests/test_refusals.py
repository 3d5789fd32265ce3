"""Files of documents that are refused: each problem with its line, key path and what is wrong."""

from __future__ import annotations

import unicodedata
from pathlib import Path

import pytest
import yaml
from example_world import EXAMPLE, LEAST
from hypothesis import given, settings
from hypothesis import strategies as st
from thinning import thinned
from worlds import BASE, make_registry

from pincorner.documents.kinds import KINDS
from pincorner.documents.reading import read_files, read_text
from pincorner.errors import BadInput, DocumentErrors, Problem
from pincorner.work.loading import load
from pincorner.work.reports import dump
from pincorner.work.session import Session


def problems(text: str) -> list[Problem]:
    """What is wrong in a text."""
    return read_text(text, "shop.yaml")[0].problems


def one_line(problem: Problem) -> bool:
    """Whether a problem prints as one line that nothing in it turns around or breaks."""
    text = str(problem)
    return not any(unicodedata.category(c) in ("Cc", "Cf", "Cs", "Zl", "Zp") for c in text)


SYNTAX = [
    ("", None, "", "the file is empty"),
    ("# a comment\n", None, "", "the file is empty"),
    ("pins: []\n", 1, "", "the first line must be format: 1"),
    ("# a comment\npins: []\nformat: 1\n", 2, "", "the first line must be format: 1"),
    ("units: mm\nformat: 1\n", 1, "", "the first line must be format: 1"),
    ("format: 2\n", 1, "format", "expected 1, got '2'"),
    ("format: 1.0\n", 1, "format", "expected 1"),
    ("format:\n", 1, "format", "expected 1, got nothing"),
    ("format: [1]\n", 1, "format", "expected 1"),
    ("format: 1\nunits: cm\n", 2, "units", "expected mm or in, got 'cm'"),
    ("format: 1\nunits: [mm]\n", 2, "units", "expected mm or in"),
    ("format\n", 1, "", "expected keys such as stations:"),
    ("format: 1\npins:\n\t- {name: a}\n", 3, "", "there is a tab; indent with blanks"),
    ("- format: 1\n", 1, "", "expected keys such as stations:"),
    ("format: 1\n\nfixtures: []\n", 3, "fixtures", "unknown list"),
    ("format: 1\nstaitons: []\n", 2, "staitons", "did you mean stations?"),
    ("format: 1\npins: {}\n", 2, "pins", "expected a list"),
    ("format: 1\npins:\n", 2, "pins", "expected a list"),
    ("format: 1\npins: peg\n", 2, "pins", "expected a list"),
    ("format: 1\npins:\n  - peg\n", 3, "pins[0]", "expected the keys of a pin, got 'peg'"),
    ("format: 1\npins:\n  -\n", 3, "pins[0]", "expected the keys of a pin, got nothing"),
    ("format: 1\npins: []\npins: []\n", 3, "pins", "this key stands on line 2 already"),
    ("format: 1\nunits: mm\n'units': in\n", 3, "units", "stands on line 2 already"),
    ("format: 1\npins:\n  - name: a\n    body: 1\n    name: b\n", 5, "pins[0].name", "on line 3"),
    (
        "format: 1\npins:\n  - name: a\n    body: 1\n    name: b\n    body: 2\n",
        5,
        "pins[0].name",
        "on line 3 already, and 1 below as well: a dash may be missing",
    ),
    ("format: 1\npins: &p []\n", 2, "pins", "anchors (&) are not read"),
    ("format: 1\npins: *p\n", 2, "pins", "aliases (*) are not read"),
    ("format: 1\n*p : []\n", 2, "", "aliases (*) are not read"),
    ("format: 1\npins: !!seq []\n", 2, "pins", "tags (tag:yaml.org,2002:seq) are not read"),
    ("format: 1\nunits: !mine mm\n", 2, "units", "tags (!mine) are not read"),
    ("!!map {format: 1}\n", 1, "", "tags"),
    ("format: 1\n? [a, b]\n: 1\n", 2, "", "a key must be a word"),
    ("format: 1\n? {a: b}\n: 1\n", 2, "", "a key must be a word"),
    ("format: 1\npins: [\n", 2, "", "not YAML"),
    ("\tformat: 1\n", 1, "", "not YAML"),
    ("format: 1\npins: ]\n", 2, "", "not YAML"),
    ("format: 1\nunits: 'mm\n", None, "", "not YAML"),
    ("format: 1\nunits: m\x07m\n", None, "", "not YAML"),
    ("format: 1\n<<: {units: mm}\n", 2, "<<", "unknown list"),
    ("format: 1\npins: " + "[" * 20_000, 2, "", "not YAML"),
    ("format: 1\npins: " + "[" * 40 + "]" * 40, 2, "pins" + "[0]" * 30, "nested deeper than 30"),
    ("format: 1\npins: " + "{a: " * 40 + "1" + "}" * 40, 2, "pins" + ".a" * 30, "nested deeper"),
    ("format: 1\na: &a [1]\nb: &b [*a, *a]\nc: &c [*b, *b]\n", 2, "a", "anchors"),
    ("format: 1\n---\nformat: 1\n", 2, "", "one YAML document a file"),
    ("format: 1\n(key): 1\n(key): 2\n", 3, "(key)", "this key stands on line 2 already"),
]


@pytest.mark.parametrize(("text", "line", "path", "fragment"), SYNTAX)
def test_file_is_refused(text: str, line: int | None, path: str, fragment: str) -> None:
    """A text that is no file of documents is refused where it goes wrong."""
    found = problems(text)
    assert found and found[0].file == "shop.yaml"
    assert fragment in found[0].text and found[0].path == path
    assert line is None or found[0].line == line


OTHERS = [
    ("station", "jig: panel-tray", "jig: panel-tary", "jig", "did you mean panel-tray?"),
    ("station", "bed: long-bench", "bed: bench-2", "bed", "no bed is named bench-2"),
    ("station", "pin: peg-20", "pin: dowel", "pin", "no pin is named dowel"),
    ("station", "stop: C4", "stop: {hole: C4, pin: peg-9}", "pins.stop", "no pin is named peg-9"),
    ("station", "{a: G55}", "{a: G55}\n    program: oval", "program", "no program is named oval"),
    ("bed", "machine: gantry-1", "machine: mill", "machine", "no machine is named mill"),
    ("machine", "dialect: rs274", "dialect: rs247", "dialect", "did you mean rs274?"),
    ("survey", "", LEAST["survey"].replace("bed: b", "bed: nil"), "bed", "no bed is named nil"),
    ("surfacing", "", LEAST["surfacing"].replace("bed: b", "bed: nil"), "bed", "no bed"),
    ("run", "", LEAST["run"], "stations[0]", "no station is named s"),
]


@pytest.mark.parametrize(("kind", "old", "new", "path", "fragment"), OTHERS)
def test_unknown_name(
    tmp_path: Path, kind: str, old: str, new: str, path: str, fragment: str
) -> None:
    """A name that nothing carries is refused at its line, and nothing of the file is written."""
    session = Session(make_registry(tmp_path / "r.sqlite", None), "tester", "load")
    before, file = dump(session, None), tmp_path / "shop.yaml"
    text = BASE.replace(old, new) if old else f"{BASE}{new}\n"
    file.write_text(text, encoding="utf-8", newline="\n")
    with pytest.raises(DocumentErrors) as caught:
        load(session, [file], dry_run=False)
    (found,) = caught.value.problems
    assert found.path.startswith(f"{KINDS[kind].list_key}[0].{path}") and fragment in found.text
    first = new.splitlines()[-1].strip()
    assert found.line == 1 + next(i for i, line in enumerate(text.splitlines()) if first in line)
    assert dump(session, None) == before


REPEATED = [
    "pins: [{name: peg, shank: 8, body: 9, height: 1}, {name: PEG, shank: 8, body: 9, height: 1}]",
    'runs:\n- {name: É, stations: [s]}\n- {name: "e\\u0301", stations: [s]}',
    "runs:\n- {name: Straße, stations: [s]}\n- {name: STRASSE, stations: [s]}",
]


@pytest.mark.parametrize("text", REPEATED)
def test_names_repeat_without_regard_to_case(tmp_path: Path, text: str) -> None:
    """Two documents of a kind whose names differ in case or composition alone are refused."""
    file = tmp_path / "shop.yaml"
    file.write_text(f"format: 1\n{text}\n", encoding="utf-8")
    with pytest.raises(DocumentErrors, match=r"the same name stands in .*shop\.yaml:\d already"):
        read_files([file])


@pytest.mark.parametrize(
    ("data", "fragment"),
    [
        (b"format: 1\npins: []\nx: \xff\n", "shop.yaml:3: not UTF-8 text"),
        ("format: 1\n".encode("utf-16"), "shop.yaml:1: not UTF-8 text"),
        (b"", "shop.yaml: the file is empty; it starts with format: 1"),
        (None, "shop.yaml cannot be read: "),
    ],
)  # fmt: skip
def test_file_that_is_no_text(tmp_path: Path, data: bytes | None, fragment: str) -> None:
    """A file that is not there, empty or not UTF-8 is refused in one line."""
    file = tmp_path / "shop.yaml"
    if data is not None:
        file.write_bytes(data)
    with pytest.raises(BadInput) as caught:
        read_files([file])
    assert fragment in str(caught.value) and "\n" not in str(caught.value)


def test_byte_order_mark_is_no_content(tmp_path: Path) -> None:
    """A file that starts with a byte order mark, as some editors write it, loads."""
    file = tmp_path / "shop.yaml"
    file.write_bytes(b"\xef\xbb\xbf" + BASE.lstrip().replace("\n", "\r\n").encode("utf-8"))
    assert len(read_files([file])) == 5


ALL_AT_ONCE = [
    ("beds: 5\npins: [{name: x, shank: 0, body: 9}]\nrust: []", 4),
    ("pins: [{name: x, name: y, shank: 0, body: 9, height: 1}]\nrust: []", 3),
]  # fmt: skip


@pytest.mark.parametrize(("text", "count"), ALL_AT_ONCE)
def test_all_problems_are_told_at_once(text: str, count: int) -> None:
    """Every problem of a file is told, not the first alone."""
    assert len(problems(f"format: 1\n{text}\n")) == count


def test_unknown_names_are_told_with_the_rest(tmp_path: Path) -> None:
    """A name that nothing carries is told together with the wrong keys of its file."""
    session = Session(make_registry(tmp_path / "r.sqlite", None), "tester", "load")
    file = tmp_path / "shop.yaml"
    text = BASE.replace("dialect: rs274", "dialect: nil").replace("seat: 18", "seat: -18")
    file.write_text(text, encoding="utf-8")
    with pytest.raises(DocumentErrors) as caught:
        load(session, [file], dry_run=False)
    paths = {problem.path.split(" ")[0] for problem in caught.value.problems}
    assert {"machines[0].dialect", "jigs[0].seat"} <= paths


@pytest.mark.parametrize("key", ['"~y"', '"y\\nz"', '"[key]"', "y", "'x.y'", '"\\u202e"'])
@pytest.mark.parametrize("inside", [True, False])
def test_unknown_key_is_named(key: str, inside: bool) -> None:
    """An unknown key is told by its name, in one line."""
    text = LEAST["pin"].replace("{", f"{{{key}: 1, ") if inside else f"{key}: []"
    (found,) = problems(f"format: 1\n{text}\n")
    assert "unknown" in found.text and one_line(found)
    assert found.path.removeprefix("pins[0].") not in ("", "pins[0]")


LEAVES = st.sampled_from(
    ["", "1", "-5", ".nan", "3/8 in", "a", "on", "A1", "G54", "+x+y", "&a", "*a", "!t", "---", "%"]
)
KEYS = st.sampled_from(
    sorted({*yaml.safe_load(EXAMPLE), "name", "bed", "jig", "pin", "pins", "grid", "edge", "stock",
            "nests", "tools", "fit", "from", "to", "readings", "locate", "work_offsets", "(key)"})
)  # fmt: skip
TREES = st.recursive(
    LEAVES,
    lambda inner: st.one_of(
        st.lists(inner, max_size=3).map(lambda items: f"[{', '.join(items)}]"),
        st.lists(st.tuples(KEYS, inner), max_size=4).map(
            lambda pairs: "{" + ", ".join(f"{key}: {value}" for key, value in pairs) + "}"
        ),
    ),
    max_leaves=12,
)


@given(st.lists(st.tuples(KEYS, TREES), max_size=4))
def test_any_structure_is_told_in_lines(pairs: list[tuple[str, str]]) -> None:
    """Any structure of known keys either is documents or gives problems, each one line."""
    text = "format: 1\n" + "".join(f"{key}: {value}\n" for key, value in pairs)
    tree, found = read_text(text, "shop.yaml")
    assert all(one_line(problem) for problem in tree.problems)
    assert tree.problems or sum(len(v) for k, v in tree.root.items() if k in yaml_lists()) == len(
        found
    )


def yaml_lists() -> set[str]:
    """The keys of the lists in a file."""
    return {kind.list_key for kind in KINDS.values()}


@given(st.text())
def test_any_text_is_told_in_lines(text: str) -> None:
    """Any text either is documents or gives problems, each one line."""
    tree, found = read_text(text, "shop.yaml")
    assert tree.problems or found or isinstance(tree.root, dict)
    assert all(one_line(problem) for problem in tree.problems)


@settings(max_examples=thinned(40))
@given(st.integers(0, len(EXAMPLE) - 1), st.integers(0, 30), st.text(max_size=4))
def test_damaged_example_is_told_in_lines(start: int, length: int, put: str) -> None:
    """The example with a few characters replaced never ends in anything but documents or lines."""
    tree, found = read_text(EXAMPLE[:start] + put + EXAMPLE[start + length :], "shop.yaml")
    assert tree.problems or found
    assert all(one_line(problem) for problem in tree.problems)
