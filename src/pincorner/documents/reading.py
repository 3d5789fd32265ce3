"""Files of documents: read, checked one by one, all problems told at once."""

from __future__ import annotations

import contextlib
import stat
import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any, NamedTuple

from pydantic import ValidationError

from pincorner.documents import yaml_tree
from pincorner.documents.beds import Bed
from pincorner.documents.described import example_at, keys_at
from pincorner.documents.fields import NoUnits, Plain, WholeDocument, key_of, shown
from pincorner.documents.jigs import Jig
from pincorner.documents.kinds import BY_LIST_KEY, FORMAT, Kind, identity
from pincorner.documents.writing import flow
from pincorner.documents.yaml_tree import Tree
from pincorner.errors import BadInput, DocumentErrors, Problem, suggestion
from pincorner.units import Unit


class Entry(NamedTuple):
    """A document and where it was read: its file, and the path and line of its parts."""

    document: WholeDocument
    tree: Tree
    path: yaml_tree.Path

    def problem(self, inner: str, text: str) -> Problem:
        """A problem at a dotted path inside the document."""
        line = self.tree.line(self.path + _split(inner))
        where = yaml_tree.dotted(self.path) + (f".{inner}" if inner else "")
        return Problem(self.tree.file, line, f"{where} ({self.document.name})", text)


def _split(inner: str) -> yaml_tree.Path:
    parts: list[str | int] = []
    for word in inner.replace("[", ".[").split("."):
        if word.startswith("["):
            parts.append(int(word[1:-1]))
        elif word:
            parts.append(word)
    return tuple(parts)


class Files(NamedTuple):
    """What files hold: their good documents, all problems, and every (kind, key) they name."""

    entries: list[Entry]
    problems: list[Problem]
    declared: set[tuple[str, str]]


def read_all(files: Iterable[Path], unstated: Unit | None = "mm") -> Files:
    """The documents and the problems of all files.

    `unstated`: the unit of a file that says none; with None its bare lengths are problems.
    """
    return read_texts(((str(file), text_of(file)) for file in files), unstated)


def read_texts(texts: Iterable[tuple[str, str]], unstated: Unit | None = "mm") -> Files:
    """The same of texts, each behind the name that its problems are told with."""
    found = Files([], [], set())
    for file, text in texts:
        tree, entries = read_text(text, file, unstated)
        found.problems.extend(tree.problems)
        found.entries.extend(entries)
        found.declared.update(_declared(tree.root))
    found.problems.extend(_repeated(found.entries))
    return found


def _declared(root: Any) -> Iterator[tuple[str, str]]:
    """Kind and key of each document that a file means to hold, right or wrong."""
    for list_key, kind in BY_LIST_KEY.items():
        items = root.get(list_key) if isinstance(root, dict) else None
        for item in items if isinstance(items, list) else ():
            if isinstance(item, dict) and isinstance(item.get("name"), str):
                yield kind.word, key_of(item["name"])


def read_files(files: Iterable[Path]) -> list[Entry]:
    """The documents of all files. Raises DocumentErrors with every problem of every file."""
    found = read_all(files)
    if found.problems:
        raise DocumentErrors(found.problems)
    return found.entries


LARGEST_BYTES = 4_000_000
"""A file of documents, or of readings, that is larger is slow to read and hard to mend."""


def oversize(files: Iterable[Path]) -> str | None:
    """What is odd about the size of files, as one line; None where nothing is."""
    for file in files:
        with contextlib.suppress(OSError):  # told by who reads it
            size = file.stat().st_size
            if size > LARGEST_BYTES:
                return (
                    f"{file} has {size / 1e6:.1f} MB, and files above {LARGEST_BYTES / 1e6:g} MB "
                    "are slow to read and hard to mend: split it"
                )
    return None


def text_of(file: Path) -> str:
    """A file's text, with or without a UTF-8 signature. Raises BadInput.

    A pipe or a device is refused: it could keep everybody waiting for ever.
    """
    try:
        mode = file.stat().st_mode
        if not stat.S_ISREG(mode) and not stat.S_ISDIR(mode):
            raise BadInput(f"{file} is a pipe or a device; save what it gives and name that file")
        data = file.read_bytes()
    except OSError as error:
        raise BadInput(f"{file} cannot be read: {error.strerror or error}") from None
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise BadInput(f"{file}:{line}: not UTF-8 text; save the file as UTF-8") from None


def read_text(text: str, file: str, unstated: Unit | None = "mm") -> tuple[Tree, list[Entry]]:
    """The documents in a text, and the tree that holds its problems."""
    tree = yaml_tree.read_tree(text, file)
    if tree.root is None and not tree.problems:
        tree.problem((), f"the file is empty; it starts with format: {FORMAT}")
    if tree.root is None:
        return tree, []
    if not isinstance(tree.root, dict):
        tree.problem((), f"expected keys such as stations:, got {shown(tree.root)}")
        return tree, []
    units = _heading(tree, unstated)
    entries: list[Entry] = []
    for key, value in tree.root.items():
        if key in ("format", "units"):
            continue
        if key not in BY_LIST_KEY:
            known = suggestion(key, list(BY_LIST_KEY))
            tree.problem((key,), f"unknown list{known}")
        elif not isinstance(value, list):
            tree.problem((key,), f"expected a list, each item after a dash, got {shown(value)}")
        else:
            entries += _read_list(tree, BY_LIST_KEY[key], value, units)
    return tree, entries


def _heading(tree: Tree, unstated: Unit | None) -> Unit | None:
    first = next(iter(tree.root), None)
    stated = tree.root.get("format")
    if "format" not in tree.root or first != "format":
        tree.problem((), f"the first line must be format: {FORMAT}")
    elif not isinstance(stated, Plain) or stated != str(FORMAT):
        tree.problem(("format",), f"expected {FORMAT}, got {shown(stated)}")
    if "units" not in tree.root:
        return unstated
    units = tree.root["units"]
    if units not in ("mm", "in"):
        tree.problem(("units",), f"expected mm or in, got {shown(units)}")
    return "in" if units == "in" else "mm"


def _read_list(tree: Tree, kind: Kind, items: list[Any], units: Unit | None) -> list[Entry]:
    entries = []
    for index, item in enumerate(items):
        path: yaml_tree.Path = (kind.list_key, index)
        if not isinstance(item, dict):
            tree.problem(path, f"expected the keys of a {kind.word}, got {shown(item)}")
            continue
        try:
            document = kind.model.model_validate(item, context={"units": units})
        except ValidationError as error:
            _explain_all(tree, path, item, error, _Place(kind, units or "in"))
            continue
        entry = Entry(document, tree, path)
        tree.problems += [entry.problem(*problem) for problem in _deeper_problems(document)]
        entries.append(entry)
    return entries


class _Place(NamedTuple):
    """Where something is wrong: in a document of which kind, in a file of which unit."""

    kind: Kind
    units: Unit

    def hint(self, detail: Any, path: yaml_tree.Path, told: str) -> str:
        """The end of a message: what was probably meant, or an example in the file's unit."""
        if detail["type"] == "extra_forbidden":
            word = str(path[-1])
            if ":" in word:
                return "; a blank is missing behind the colon"
            return suggestion(word, keys_at(self.kind.model, path[:-1]))
        by_value = detail["type"] == "value_error" and " such as " not in told
        if not path or path[-1] == "name" or not (by_value or detail["type"] in _SHOWN):
            return ""
        found = example_at(self.kind.word, path, self.units)
        if found is None or len(flow(found)) > _LONGEST_EXAMPLE:
            return ""
        keys = [part for part in path if isinstance(part, str)]
        return f", such as {keys[-1]}: {flow(found)}" if path[-1] == keys[-1] else ""


_SHOWN = {"missing", "tuple_type", "list_type", "model_type", "dict_type", "model_attributes_type"}
"""Errors of pydantic with which an example of what was expected helps."""
_LONGEST_EXAMPLE = 70


def _explain_all(
    tree: Tree, path: yaml_tree.Path, item: Any, error: ValidationError, place: _Place
) -> None:
    details = error.errors(include_url=False)
    for detail in details:
        if detail["type"] == "too_short" and _wrong_inside(detail["loc"], details):
            continue  # its entries are told of already
        inner = _path_in(detail)
        name = item.get("name")
        told = _explain(dict(detail))
        if isinstance(detail.get("ctx", {}).get("error"), NoUnits):
            if tree.lacks_units:
                continue  # once a file is enough
            tree.lacks_units, text = True, told
        else:
            text = told + place.hint(detail, inner, told)
        suffix = f" (in {name})" if isinstance(name, str) else ""
        tree.problem(path + inner, _plain(text) + suffix)


def _wrong_inside(loc: tuple[str | int, ...], details: Sequence[Any]) -> bool:
    return any(
        len(other["loc"]) > len(loc) and other["loc"][: len(loc)] == loc for other in details
    )


_TAGS = ("~edges", "~dowels", "~size", "~points", "~label", "~entry", "~plane", "~with_z")
"""How the alternatives of a field are told apart; no part of a path in a file."""


def _path_in(detail: Any) -> yaml_tree.Path:
    """The key path of one of pydantic's errors, as it stands in the file."""
    *around, last = detail["loc"] or ("",)
    path = tuple(part for part in around if part not in _TAGS)
    if detail["type"] == "extra_forbidden" or last not in (*_TAGS, "[key]", ""):
        return (*path, last)
    return path


def explain_first(error: ValidationError) -> str:
    """The first of pydantic's errors as one line, for values that came from no file."""
    detail = error.errors(include_url=False)[0]
    path = yaml_tree.dotted(_path_in(detail))
    return _plain(f"{path}: {_explain(dict(detail))}" if path else _explain(dict(detail)))


def _plain(text: str) -> str:
    """One line, whatever a value held."""
    return " ".join("".join(c if unicodedata.category(c)[0] != "C" else " " for c in text).split())


_NEEDED = "this key is needed"


def _explain(detail: dict[str, Any]) -> str:
    """What was expected, in words, for one of pydantic's errors."""
    kind, context, got = detail["type"], detail.get("ctx", {}), shown(detail.get("input"))
    if kind == "value_error":
        return str(context["error"])
    if kind == "missing":
        at = detail["loc"][-1]
        is_entry = isinstance(at, int)
        return f"the list is too short: entry {at + 1} is missing" if is_entry else _NEEDED
    if kind == "extra_forbidden":
        return "unknown key"
    if kind == "literal_error":
        return f"expected {context['expected'].replace(chr(39), '')}, got {got}"
    if kind in ("too_short", "too_long"):
        bound = context.get("min_length", context.get("max_length"))
        word = "at least" if kind == "too_short" else "at most"
        return f"expected {word} {bound} entries, got {context['actual_length']}"
    if kind in ("tuple_type", "list_type"):
        return f"expected a list in [ ], got {got}"
    if kind in ("model_type", "dict_type", "model_attributes_type"):
        return f"expected keys in {{ }}, got {got}"
    return f"{detail['msg'][0].lower()}{detail['msg'][1:]}, got {got}"


def _deeper_problems(document: WholeDocument) -> list[tuple[str, str]]:
    """(path, text) of what needs geometry to see: an outline that crosses itself, slats unknown."""
    if isinstance(document, Jig) and isinstance(document.footprint[0], tuple):
        from shapely import Polygon
        from shapely.validation import explain_validity

        shape = Polygon(document.outline)
        if not shape.is_valid or shape.area == 0:
            reason = explain_validity(shape).lower()
            return [("footprint", f"expected an outline that does not cross itself: {reason}")]
    if isinstance(document, Bed) and document.labels.skip and not document.letters.alphabet:
        return [("labels.skip", "no letter is left for the columns")]
    return []


def _repeated(entries: list[Entry]) -> list[Problem]:
    first: dict[tuple[str, str], Entry] = {}
    problems = []
    for entry in entries:
        earlier = first.setdefault(identity(entry.document), entry)
        if earlier is not entry:
            line = earlier.tree.line(earlier.path)
            problems.append(
                entry.problem("name", f"the same name stands in {earlier.tree.file}:{line} already")
            )
    return problems
