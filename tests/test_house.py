"""The house rules that a machine can check: layers and the public face; lint is in all.py."""

from __future__ import annotations

import ast
import re
import subprocess
from collections.abc import Iterable
from functools import cache
from pathlib import Path

import pytest
from house_drawing import ROOT, SOURCE, dotted, drawn, imported, modules, needs_of, nodes, tree

from pincorner.documents.kinds import KINDS

LAYERS = {
    "errors": 0,
    "characters": 0,
    "units": 0,
    "shipped": 0,
    "staging": 0,
    "geometry": 1,
    "documents": 2,
    "bed": 3,
    "registry": 4,
    "setups": 4,
    "standing": 5,
    "surveys": 5,
    "program": 6,
    "places": 7,
    "runs": 7,
    "render": 8,
    "work": 9,
    "cli": 10,
    "shop": 10,
    "__init__": 11,
    "__main__": 12,
}
"""Imports go down only; layers of one number never see each other. DEVELOPERS.md shows the same."""

FLOORS = {
    "program": {"source": 0, "reader": 1, "path": 2, "check": 3, "edit": 3},
    "registry": {"": 1, "migrations": 2},
    "render": {
        "": 0,
        "drawing": 1,
        "templating": 1,
        "blocks": 2,
        "text": 2,
        "pages": 3,
        "outputs": 4,
    },
    "work": {"files": 0, "kept": 0, "": 1, "first": 2, "programs": 2, "runs": 3},
}
"""The same inside a layer that has folders of its own; "" are the modules beside them."""

MOST_MODULES = 15
"""In one folder, migrations apart: more than a reader keeps in mind at once."""

TOO_FULL: dict[str, str] = {}
"""Folders that hold more, each with the reason why."""

CRUMBS: dict[str, str] = {}
"""Modules that are too short all the same, each with the reason why."""

SMALLEST_CONCEPT = 60
"""Lines: a module that is shorter and serves one other module alone is a crumb of that one."""

OUTSIDE = {
    "numpy": {"setups", "surveys", "program", "places", "geometry", "runs"},
    "shapely": {"geometry", "documents", "bed", "program", "places"},
    "pydantic": {"documents", "work"},
    "yaml": {"documents"},
    "sqlalchemy": {"registry"},
    "alembic": {"registry"},
    "jinja2": {"render"},
    "markupsafe": {"render"},
    "ezdxf": {"render"},
    "PIL": {"work"},
    "typer": {"cli"},
    "rich": {"cli"},
}
"""Who may import a library: a line that wants to leave its layer shows up here."""


def part(path: Path) -> str:
    """The layer's name that a module belongs to."""
    first = path.relative_to(SOURCE).parts[0]
    return first.removesuffix(".py")


def inner(module: str) -> tuple[str, str]:
    """Layer and inner folder of a module, by its name; an empty text where it is in none."""
    words = [*module.split("."), "", ""]
    folder = SOURCE / words[1] / words[2]
    return words[1], words[2] if words[2] and folder.is_dir() else ""


def test_imports_go_down_only() -> None:
    """No module imports a higher layer, a neighbour of its own height, or a library not its own."""
    found = []
    for path in modules():
        own = part(path)
        for line, name in imported(path):
            where = f"{path.relative_to(ROOT)}:{line}"
            words = name.split(".")
            if words[0] in OUTSIDE and own not in OUTSIDE[words[0]]:
                found.append(f"{where}: {own} does not use {words[0]}")
            if words[0] != "pincorner" or len(words) == 1:
                continue
            other = words[1] if words[1] in LAYERS else "__init__"
            if other != own and LAYERS[other] >= LAYERS[own]:
                found.append(f"{where}: {own} may not import {other}")
    assert found == []


@cache
def needs() -> dict[str, set[str]]:
    """By module the package's own modules that it imports."""
    return needs_of(modules())


def test_imports_go_down_inside_a_layer() -> None:
    """Folders of one layer have their order as well; those of one height never see each other."""
    found = []
    for module, others in needs().items():
        layer, own = inner(module)
        for other, folder in sorted(map(inner, others)):
            floors = FLOORS.get(layer, {"": 0})
            if other == layer and folder != own and floors[folder] >= floors[own]:
                found.append(f"{module} may not import {other}/{folder}")
    assert found == []


def test_no_modules_import_each_other() -> None:
    """Modules stand in an order: none needs one that needs it, by whatever way."""
    left = dict(needs())
    while free := [name for name, others in left.items() if not others & left.keys()]:
        for name in free:
            del left[name]
    assert sorted(left) == []


def test_no_folder_is_too_full() -> None:
    """A folder holds no more modules than a reader keeps in mind; what is excused needs it."""
    sizes: dict[str, int] = {}
    for path in modules():
        folder = path.parent.relative_to(SOURCE).as_posix()
        sizes[folder] = sizes.get(folder, 0) + (not path.stem.startswith("__"))
    full = {folder for folder, size in sizes.items() if size > MOST_MODULES}
    assert full == set(TOO_FULL)


def test_no_module_is_a_crumb() -> None:
    """A short module has more than one user; with a single one it belongs into that one."""
    users = [used for others in needs().values() for used in others]
    found = {
        dotted(path)
        for path in modules()
        if len(path.read_text(encoding="utf-8").splitlines()) < SMALLEST_CONCEPT
        and users.count(dotted(path)) == 1
        and not path.stem.startswith("__")
    }
    assert found == set(CRUMBS)


def test_what_a_newcomer_asks_is_there() -> None:
    """Each file that DEVELOPERS.md sends a newcomer to has the function or class it names."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    table = text.partition("## Where do I find\n")[2].partition("\n## ")[0]
    rows = [row.split("|")[2:4] for row in table.splitlines() if row.startswith("| ")][2:]
    assert len(rows) >= 10
    for files, names in rows:
        there, wanted = re.findall("`(.*?)`", files), re.findall("`(.*?)`", names)
        # one file may have all that a row names
        for file, name in zip(there * (len(wanted) if len(there) == 1 else 1), wanted, strict=True):
            parsed = tree((ROOT if file.startswith("tests/") else SOURCE) / file)
            kinds = ast.FunctionDef | ast.ClassDef
            assert name in [each.name for each in parsed.body if isinstance(each, kinds)], file


def test_files_that_the_developers_guide_names_are_there() -> None:
    """A path in DEVELOPERS.md is a file or folder; what stands behind its dot is defined there."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    prose = re.sub(r"(?s)^```.*?^```", "", text, flags=re.MULTILINE)
    named = re.findall(r"`((?:[a-z_0-9]+/)+[\w.]+)`", prose)
    assert len(named) > 100
    for path in dict.fromkeys(named):
        if any((folder / path).exists() for folder in (ROOT, SOURCE)):
            continue
        module, _, name = path.partition(".")
        assert name and (SOURCE / f"{module}.py").is_file(), path
        assert name.split(".")[0] in defined_in(SOURCE / f"{module}.py"), path


def defined_in(path: Path) -> set[str]:
    """The names of a module's own functions, classes and constants."""
    names = set()
    for each in tree(path).body:
        if isinstance(each, ast.FunctionDef | ast.ClassDef):
            names.add(each.name)
        targets = each.targets if isinstance(each, ast.Assign) else [getattr(each, "target", None)]
        names |= {target.id for target in targets if isinstance(target, ast.Name)}
    return names


def test_developers_guide_shows_the_same_folders() -> None:
    """The drawing of the folders is the one that their imports make: `house_drawing.py --write`."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    assert text == drawn(text)


def test_documents_are_read_by_their_class() -> None:
    """Nothing asserts of what class a document is: who asks by the class gets one of it."""
    asserted = re.compile(r"\bassert\b.*\bisinstance\(|\bcast\(")
    found = [
        f"{path.relative_to(SOURCE)}:{number}"
        for path in modules()
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1)
        if asserted.search(line) and "not isinstance" not in line
    ]
    assert found == []


@cache
def names_imported(path: Path) -> dict[str, set[str]]:
    """What a module imports by name, by the module that it comes from."""
    found: dict[str, set[str]] = {}
    for node in nodes(path):
        if isinstance(node, ast.ImportFrom) and node.module:
            found.setdefault(node.module, set()).update(alias.name for alias in node.names)
    return found


def names_from(path: Path, module: str) -> set[str]:
    """What a module imports by name from one of the package's modules."""
    return names_imported(path).get(module, set())


def makers_of_setups() -> set[str]:
    """Modules of setups that make a Setup, or call one that does."""
    found, seen = {"transform"}, 0
    while len(found) > seen:
        seen = len(found)
        for path in (SOURCE / "setups").glob("*.py"):
            taken = {n for maker in found for n in names_from(path, f"pincorner.setups.{maker}")}
            if any(name[0].islower() for name in taken):
                found.add(path.stem)
    return found


def test_render_makes_no_setup() -> None:
    """From what makes setups render takes types alone: it prints what it is given."""
    makers = makers_of_setups()
    assert {"advice", "choice"} <= makers
    found = [
        (path.name, name)
        for path in (SOURCE / "render").rglob("*.py")
        for maker in sorted(makers)
        for name in names_from(path, f"pincorner.setups.{maker}")
        if not name[0].isupper()
    ]
    assert found == []


def test_why_there_is_no_block_is_asked_once() -> None:
    """The transform alone asks why there is no block; all others read the setup's field."""
    asking = {
        path.stem
        for path in modules()
        if "why_no_block" in path.read_text(encoding="utf-8")
        or "STOPPING" in names_from(path, "pincorner.setups.refusals")
    }
    assert asking == {"refusals", "transform"}


SENTENCES = {"text", "told", "what", "why", "refused", "reason", "sentence", "said", "notes"}
"""Names under which the package's values hold sentences that it made."""

OF_PROGRAMS = {"text", "said", "told", "refused"}
"""What `program` calls a program's own lines and words, and by line what of them it has told."""

TAKES_APART = {
    "partition", "rpartition", "split", "rsplit", "splitlines", "removeprefix", "removesuffix",
    "startswith", "endswith", "strip", "lstrip", "rstrip", "replace", "find", "index", "rindex",
    "match", "fullmatch", "search", "findall", "sub",
}  # fmt: skip
"""Methods that look into a text, of texts and of patterns."""


def taken_apart(code: Iterable[ast.AST], sentences: set[str] = SENTENCES) -> list[int]:
    """Lines that look into a field that holds a sentence: a method, a pattern, `in`, a slice."""
    found = []
    for node in code:
        looked_into: list[ast.expr] = []
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            if node.func.attr in TAKES_APART:
                looked_into = [node.func.value, *node.args]
        elif isinstance(node, ast.Compare):
            if any(isinstance(op, ast.In | ast.NotIn) for op in node.ops):
                looked_into = node.comparators
        elif isinstance(node, ast.Subscript):
            looked_into = [node.value]
        if any(isinstance(each, ast.Attribute) and each.attr in sentences for each in looked_into):
            found.append(node.lineno)
    return found


@pytest.mark.parametrize(
    ("line", "number"),
    [
        ("reason.text.partition(WAYS_OUT)[0]", 1),
        ("found[0].told.split('; ')", 1),
        ("re.match('line ([0-9]+)', finding.what)", 1),
        ("'shim' in row.refused", 1),
        ("finding.text[:5]", 1),
        ("finding in setup.no_block, f'{reason.text}; {reason.told}', texts.index(text)", 0),
    ],
)
def test_what_takes_a_sentence_apart(line: str, number: int) -> None:
    """Splitting, matching, searching and slicing count; telling and comparing whole values not."""
    assert len(taken_apart(ast.walk(ast.parse(line)))) == number


def test_no_sentence_is_taken_apart() -> None:
    """What the package tells has its parts as fields: nothing reads a sentence to get at them."""
    found = []
    for path in modules():
        sentences = SENTENCES - OF_PROGRAMS if part(path) == "program" else SENTENCES
        found += [(path.name, line) for line in taken_apart(nodes(path), sentences)]
    assert found == []


WHOLE_DOCUMENTS = {kind.model.__name__: kind.model.__module__ for kind in KINDS.values()}
MAKES_DOCUMENTS = {
    "adopting.py": "stations to look for pins with, and those at the pins that explain an offset",
    "loading.py": "the same station but for its pins",
    "registering.py": "the station that register records, of what is stated and what stays",
    "surveying.py": "surfacings and surveys that are recorded, a fit, a survey but for its note",
}
"""Modules of work that make documents, and which: such as are kept, or compared with those."""


def makes_documents(path: Path) -> bool:
    """Whether a module makes a document, or another one of it."""
    whole = {name for name, module in WHOLE_DOCUMENTS.items() if name in names_from(path, module)}
    copies = {"model_copy", "model_construct", "model_validate"}
    calls = [node.func for node in nodes(path) if isinstance(node, ast.Call)]
    return any(
        (isinstance(made, ast.Name) and made.id in whole)
        or (isinstance(made, ast.Attribute) and made.attr in copies)
        for made in calls
    )


def test_no_document_is_made_up_on_the_way() -> None:
    """Neither render nor program nor work makes a document up to carry a word or a number."""
    found = {
        path.name
        for part in ("render", "program", "work")
        for path in (SOURCE / part).rglob("*.py")
        if makes_documents(path)
    }
    assert found == set(MAKES_DOCUMENTS)


def test_every_part_has_a_layer() -> None:
    """A new folder or top module is given its place in the table first."""
    assert {part(path) for path in modules()} <= set(LAYERS)


def test_developers_guide_shows_the_same_layers() -> None:
    """The layer table of DEVELOPERS.md names every part at its height."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    for name, height in LAYERS.items():
        if not name.startswith("__"):
            assert any(
                f"`{name}" in row for row in text.splitlines() if row.startswith(f"| {height}")
            ), f"DEVELOPERS.md does not show {name} at {height}"


OTHER_THAN_NAMES = {
    "documents/fields.py": "key_of itself",
    "documents/survey_csv.py": "headings of columns, and words for what is no number",
    "errors.py": "words that are near to an unknown one",
    "registry/locations.py": "names of files",
    "render/templating/templates.py": "names of files",
    "work/files/outputs.py": "paths",
}
"""Modules that fold case for something else than the name of a document or its part."""


def test_names_are_compared_in_one_way() -> None:
    """Whether two names are the same is asked of `key_of` alone."""
    folding = {
        path.relative_to(SOURCE).as_posix()
        for path in modules()
        for node in nodes(path)
        if isinstance(node, ast.Attribute) and node.attr == "casefold"
    }
    assert folding == set(OTHER_THAN_NAMES)


def test_public_face() -> None:
    """The package exports what its __all__ says, and that is all that it promises."""
    import pincorner

    assert sorted(pincorner.__all__) == pincorner.__all__
    for name in pincorner.__all__:
        assert getattr(pincorner, name) is not None


def test_every_reference_is_read() -> None:
    """Each file of outside values is parsed by some test; one that no test reads is dead weight."""
    tests = "".join(path.read_text(encoding="utf-8") for path in (ROOT / "tests").rglob("*.py"))
    for path in (ROOT / "tests" / "references").glob("*.yaml"):
        assert f'"{path.stem}"' in tests, f"no test reads {path.name}"


PAPERS = re.compile(r"[A-Za-z0-9_/.-]+\.md\b")
ELSEWHERE = re.compile(r"(?i)\b(geometry,? [0-9]|project's (specification|geometry)|contract)\b")


def test_what_is_cited_is_there() -> None:
    """Comments and references cite published sources or this repository's own pages."""
    headings = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    texts = [ROOT / "README.md", ROOT / "DEVELOPERS.md", ROOT / "pyproject.toml"]
    for folder in ("src", "tests", "templates"):
        kinds = (".py", ".yaml", ".j2", ".md")
        texts += [path for path in (ROOT / folder).rglob("*") if path.suffix in kinds]
    for path in texts:
        if path == Path(__file__):
            continue
        text, where = path.read_text(encoding="utf-8"), path.relative_to(ROOT)
        assert not ELSEWHERE.search(text), f"{where}: {ELSEWHERE.search(text)}"
        for name in re.findall(r"guide, ([A-Z][a-z]+)", text):
            assert f"**{name}" in headings, f"{where} cites {name}"
        for cited in PAPERS.findall(text):
            places = (ROOT / cited, ROOT / Path(cited).name)
            assert any(place.is_file() for place in places), f"{where} cites {cited}"


def test_nothing_names_this_machine() -> None:
    """No tracked text holds a path of the machine that it was written on."""
    here = str(ROOT)
    listed = subprocess.run(
        ["git", "grep", "-IlF", here], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert listed.stdout == "" or len(here) < 4


def test_migrations_are_one_chain() -> None:
    """Each migration follows the one before it, and the last one is the schema of this version."""
    folder = SOURCE / "registry" / "migrations" / "versions"
    files = sorted(path for path in folder.glob("*.py") if path.name != "__init__.py")
    chain = []
    for path in files:
        text = path.read_text(encoding="utf-8")
        found = re.findall(r'^(?:down_)?revision(?:: \S+)? = (?:"(\d+)"|None)$', text, re.MULTILINE)
        chain.append((path.name[:4], *found))
    before = ["", *(name for name, *_ in chain[:-1])]
    assert chain == [(name, name, was) for (name, *_), was in zip(chain, before, strict=True)]
    versions = (SOURCE / "registry" / "versions.py").read_text(encoding="utf-8")
    assert f'SCHEMA_VERSION = "{chain[-1][0]}"' in versions
