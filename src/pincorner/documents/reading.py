"""Files of documents: read, checked one by one, all problems told at once."""

from __future__ import annotations

import contextlib
import re
import stat
import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any, NamedTuple

from pydantic import ValidationError

from pincorner.documents import yaml_tree
from pincorner.documents.beds import Bed
from pincorner.documents.described import example_at, keys_at
from pincorner.documents.fields import (
    Disagreement,
    Disagreements,
    NoUnits,
    Plain,
    WholeDocument,
    key_of,
    shown,
)
from pincorner.documents.jigs import Jig
from pincorner.documents.kinds import BY_LIST_KEY, FORMAT, KINDS, Kind, identity, word_of
from pincorner.documents.writing import flow
from pincorner.documents.yaml_tree import Tree
from pincorner.errors import BadInput, DocumentErrors, Problem, nearest, suggestion
from pincorner.units import Unit


class Entry(NamedTuple):
    """A document and where it was read: its file, and the path and line of its parts."""

    document: WholeDocument
    tree: Tree
    path: yaml_tree.Path

    def problem(self, inner: str, text: str) -> Problem:
        """A problem at a dotted path inside the document."""
        return _problem_in(self, self.document.name, inner, text)


class Wrong(NamedTuple):
    """What stands in a file for a document and is none: its keys, and where it was read."""

    model: type[WholeDocument]
    values: dict[str, Any]
    tree: Tree
    path: yaml_tree.Path

    def problem(self, inner: str, text: str) -> Problem:
        """A problem at a dotted path inside it."""
        return _problem_in(self, self.values.get("name"), inner, text)


def _problem_in(place: Entry | Wrong, name: Any, inner: str, text: str) -> Problem:
    line = place.tree.line(place.path + _split(inner))
    where = yaml_tree.dotted(place.path) + (f".{inner}" if inner else "")
    whose = f" ({_plain(name)})" if isinstance(name, str) else ""
    return Problem(place.tree.file, line, where + whose, text)


def _split(inner: str) -> yaml_tree.Path:
    parts: list[str | int] = []
    for word in inner.replace("[", ".[").split("."):
        if word.startswith("["):
            parts.append(int(word[1:-1]))
        elif word:
            parts.append(word)
    return tuple(parts)


class Files(NamedTuple):
    """What files hold: their good documents, those that are wrong, and all problems.

    `named`: every (kind, key) of a document that they mean to hold, right or wrong. `all_read`:
    whether every file could be opened; any name may stand in those that could not.
    """

    entries: list[Entry]
    wrong: list[Wrong]
    problems: list[Problem]
    named: set[tuple[str, str]]
    all_read: bool = True

    @property
    def places(self) -> list[Entry | Wrong]:
        """What stands there for documents, the right ones first."""
        return [*self.entries, *self.wrong]

    def means_to_hold(self, model: type[WholeDocument], name: str) -> bool:
        """Whether a document of that class and name may stand in them, right or wrong."""
        return not self.all_read or (word_of(model), key_of(name)) in self.named


def read_all(files: Iterable[Path], unstated: Unit | None = "mm") -> Files:
    """The documents and the problems of all files.

    `unstated`: the unit of a file that says none; with None its bare lengths are problems.
    """
    texts: list[tuple[str, str]] = []
    unreadable: list[Problem] = []
    for file in files:
        try:
            texts.append((str(file), text_of(file)))
        except BadInput as error:
            unreadable.append(Problem("", None, "", str(error)))
    found = read_texts(texts, unstated)
    if found.entries or found.wrong:
        rest = "; what other files name is looked up when it can be read"
        unreadable = [each._replace(text=each.text + rest) for each in unreadable]
    found.problems[:0] = unreadable
    return found._replace(all_read=not unreadable)


def read_texts(texts: Iterable[tuple[str, str]], unstated: Unit | None = "mm") -> Files:
    """The same of texts, each behind the name that its problems are told with."""
    found = Files([], [], [], set())
    order: list[str] = []
    for file, text in texts:
        tree, entries, wrong = _read(text, file, unstated)
        order.append(file)
        found.problems.extend(tree.problems)
        found.entries.extend(entries)
        found.wrong.extend(wrong)
        found.named.update(_named(tree))
        found.named.update(_named_elsewhere(wrong))
    found.problems.extend(_repeated(found, order))
    return found


def _named(tree: Tree) -> Iterator[tuple[str, str]]:
    """Kind and key of each document that a file means to hold, right or wrong.

    Where a list is no list, or its key is not known, or an item has no name that can be read, any
    text that stands there may be meant as the name.
    """
    for list_key, items in tree.root.items() if isinstance(tree.root, dict) else ():
        meant = nearest(str(list_key), list(BY_LIST_KEY))
        kinds = list(KINDS.values()) if meant is None else [BY_LIST_KEY[meant]]
        if list_key in BY_LIST_KEY and isinstance(items, list):
            names = [name for item in items for name in _names_of(item)]
        else:
            names = list(_texts_in(items))
        yield from ((kind.word, key_of(name)) for kind in kinds for name in names)
    for text in tree.unread:
        for said in _NAME_IN_TEXT.findall(text):
            words = said.split()
            for count in range(1, len(words) + 1):
                name = key_of(" ".join(words[:count]))
                yield from ((word, name) for word in KINDS)


def _named_elsewhere(wrong: Iterable[Wrong]) -> Iterator[tuple[str, str]]:
    """Documents that are wrong as others: they may stand in the list of another kind."""
    for each in wrong:
        if isinstance(name := each.values.get("name"), str):
            yield from ((word, key_of(name)) for word in KINDS)


_NAME_IN_TEXT = re.compile(r"""\bname\b\s*:?\s*["']?([^"'\n,:}#]+)""")


def _names_of(item: Any) -> Iterable[str]:
    name = item.get("name") if isinstance(item, dict) else None
    return [name] if isinstance(name, str) else _texts_in(item)


def _texts_in(value: Any) -> Iterator[str]:
    """All texts among values, and the keys that they stand behind."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict | list):
        for each in value:
            yield from _texts_in(each)
        for each in value.values() if isinstance(value, dict) else ():
            yield from _texts_in(each)


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


def read_text(text: str, file: str) -> tuple[Tree, list[Entry]]:
    """The documents in a text, in mm where it states no unit, and the tree of its problems."""
    tree, entries, _ = _read(text, file, "mm")
    return tree, entries


def _read(text: str, file: str, unstated: Unit | None) -> tuple[Tree, list[Entry], list[Wrong]]:
    """The documents in a text, right and wrong, and the tree that holds its problems."""
    tree = yaml_tree.read_tree(text, file)
    entries: list[Entry] = []
    wrong: list[Wrong] = []
    if tree.root is None and not tree.problems:
        tree.problem((), f"the file is empty; it starts with format: {FORMAT}")
    if tree.root is None:
        return tree, entries, wrong
    if not isinstance(tree.root, dict):
        tree.problem((), f"expected keys such as stations:, got {shown(tree.root)}")
        return tree, entries, wrong
    units = _heading(tree, unstated)
    for key, value in tree.root.items():
        if key in ("format", "units"):
            continue
        if key not in BY_LIST_KEY:
            known = suggestion(key, list(BY_LIST_KEY))
            tree.problem((key,), f"unknown list{known}")
        elif value is None and tree.unread:
            continue  # its items are what is told of
        elif not isinstance(value, list):
            tree.problem((key,), f"expected a list, each item after a dash, got {shown(value)}")
        else:
            for found in _read_list(tree, BY_LIST_KEY[key], value, units):
                (entries if isinstance(found, Entry) else wrong).append(found)  # type: ignore[arg-type]
    return tree, entries, wrong


def _heading(tree: Tree, unstated: Unit | None) -> Unit | None:
    first = next(iter(tree.root), None)
    stated = tree.root.get("format")
    if "format" not in tree.root or first != "format":
        if not any("format" in each for each in tree.unread):
            tree.problem((), f"the first line must be format: {FORMAT}")
    elif not isinstance(stated, Plain) or stated != str(FORMAT):
        tree.problem(("format",), f"expected {FORMAT}, got {shown(stated)}")
    if "units" not in tree.root:
        return "mm" if any("units" in each for each in tree.unread) else unstated
    units = tree.root["units"]
    if units not in ("mm", "in"):
        tree.problem(("units",), f"expected mm or in, got {shown(units)}")
    return "in" if units == "in" else "mm"


def _read_list(
    tree: Tree, kind: Kind, items: list[Any], units: Unit | None
) -> Iterator[Entry | Wrong]:
    for index, item in enumerate(items):
        path: yaml_tree.Path = (kind.list_key, index)
        if not isinstance(item, dict):
            tree.problem(path, f"expected the keys of a {kind.word}, got {shown(item)}")
            continue
        try:
            document = kind.model.model_validate(item, context={"units": units})
        except ValidationError as error:
            if (other := _of_another_kind(item, kind)) is not None:
                text = f"these are keys of a {other.word}; they go below {other.list_key}:"
                tree.problem(path, text)
                yield Wrong(other.model, item, tree, path)
                continue
            details = error.errors(include_url=False)
            _explain_all(tree, path, item, details, _Place(kind, units or "in"))
            wrong = Wrong(kind.model, item, tree, path)
            tree.problems += [
                wrong.problem("", text) for text in _seen_beside(wrong, details, units)
            ]
            yield wrong
            continue
        entry = Entry(document, tree, path)
        tree.problems += [entry.problem(*problem) for problem in _deeper_problems(document)]
        yield entry


def _of_another_kind(item: dict[str, Any], kind: Kind) -> Kind | None:
    """The one kind that an item has the keys of, where it has several that its list's kind does
    not know; None for a slip in a key, and where it may be of several kinds."""

    def unknown(of: Kind) -> int:
        return len(set(item) - set(keys_at(of.model, ())))

    found = [each for each in KINDS.values() if not unknown(each)] if unknown(kind) > 1 else []
    return found[0] if len(found) == 1 else None


def _seen_beside(wrong: Wrong, details: Sequence[Any], units: Unit | None) -> Iterator[str]:
    """What else speaks against a document: how those of its keys go together that are right."""
    gone = {detail["loc"][0] for detail in details if detail["loc"]}
    if not gone:
        return  # no key alone was wrong, and all that they are together is told
    rest = {key: value for key, value in wrong.values.items() if key not in gone}
    known = keys_at(wrong.model, ())
    gone |= {nearest(str(key), known) for key in gone}
    try:
        document = wrong.model.model_validate(rest, context={"units": units})
    except ValidationError as error:
        for detail in error.errors(include_url=False):
            for each in _disagreements_in(detail):
                if not gone & set(each.keys):
                    yield each.text
    else:
        yield from (f"{path}: {text}" for path, text in _deeper_problems(document))


def _disagreements_in(detail: Any) -> tuple[Disagreement, ...]:
    error = detail.get("ctx", {}).get("error")
    return error.found if isinstance(error, Disagreements) else ()


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
    tree: Tree, path: yaml_tree.Path, item: Any, details: Sequence[Any], place: _Place
) -> None:
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
        for each in [each.text for each in _disagreements_in(detail)] or [text]:
            tree.problem(path + inner, _plain(each) + suffix)


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
    return explain_every(error)[0]


def explain_every(error: ValidationError) -> list[str]:
    """Each of pydantic's errors as one line, for values that came from no file."""
    found = []
    for detail in error.errors(include_url=False):
        path = yaml_tree.dotted(_path_in(detail))
        for text in _texts_of(detail):
            found.append(_plain(f"{path}: {text}" if path else text))
    return found


def _texts_of(detail: Any) -> list[str]:
    """What was expected, once for each thing that one of pydantic's errors is about."""
    return [each.text for each in _disagreements_in(detail)] or [_explain(dict(detail))]


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


def _repeated(found: Files, order: list[str]) -> Iterator[Problem]:
    """Documents of a kind with the name of another one, right or wrong, in the order of files."""
    places = sorted(
        found.places, key=lambda each: (order.index(each.tree.file), each.tree.line(each.path) or 0)
    )
    first: dict[tuple[str, str], Entry | Wrong] = {}
    for place in places:
        if isinstance(place, Entry):
            place_of = identity(place.document)
        elif isinstance(place.values.get("name"), str):
            place_of = word_of(place.model), key_of(place.values["name"])
        else:
            continue
        earlier = first.setdefault(place_of, place)
        if earlier is not place:
            line = earlier.tree.line(earlier.path)
            yield place.problem(
                "name", f"the same name stands in {earlier.tree.file}:{line} already"
            )
