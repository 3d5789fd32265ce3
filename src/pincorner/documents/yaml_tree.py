"""YAML text as plain lists, dicts and scalars, with the line of everything in it.

Stricter than YAML: duplicate keys, anchors, aliases, tags and several documents are refused, and
no scalar is given a type here: what a field wants decides how its text is read.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Any

import yaml

from pincorner.documents.fields import Plain
from pincorner.errors import Problem

_LOADER = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_QUOTES = ("'", '"', "|", ">")
_DEEPEST = 30
_KEY = -1
"""Stands in a path for a key that is being read; no place in a list has this number."""
_NULLS = ("", "~", "null", "Null", "NULL")

Path = tuple[str | int, ...]


@dataclass
class Tree:
    """A file's content, the line (from 1) of each path in it, and what is wrong with it.

    lacks_units: its unit is needed and not stated, which has been told. unread: texts of items that
    are no YAML, which the root is without.
    """

    file: str
    root: Any = None
    lines: dict[Path, int] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)
    lacks_units: bool = False
    unread: list[str] = field(default_factory=list)

    def line(self, path: Path) -> int | None:
        """The line of a path, or of the nearest thing around it."""
        while path and path not in self.lines:
            path = path[:-1]
        return self.lines.get(path)

    def problem(self, path: Path, text: str) -> None:
        """Note a problem at a path."""
        self.problems.append(Problem(self.file, self.line(path), dotted(path), text))


def dotted(path: Path) -> str:
    """A path as people write it.

    >>> dotted(("stations", 1, "pins", "edge", 0))
    'stations[1].pins.edge[0]'
    """
    text = ""
    for part in path:
        if part != _KEY:
            text += f"[{part}]" if isinstance(part, int) else f".{part}" if text else part
    return "".join(c if c.isprintable() else "?" for c in text)


_MOST_UNREAD = 20
"""So many slips of a file are looked for: each takes another reading of it."""


def read_tree(text: str, file: str) -> Tree:
    """The tree of a YAML text, without the items in which it is none: each is a problem."""
    tree = Tree(file)
    while True:
        try:
            events = list(yaml.parse(text, _LOADER))
        except yaml.YAMLError as error:
            lines = text.splitlines()
            line, reason = _slip_of(lines, error)
            tree.problems.append(Problem(file, line, "", f"not YAML: {reason}"))
            item = _item_around(lines, line, reason)
            if item is None or len(tree.unread) >= _MOST_UNREAD:
                tree.unread.append(text)
                return tree
            tree.unread.append("\n".join(lines[item.start : item.stop]))
            lines[item.start : item.stop] = [""] * len(item)  # all others keep their numbers
            text = "\n".join(lines) + "\n"
            continue
        builder = _Builder(tree, events)
        tree.root = builder.document()
        return tree


def _slip_of(lines: list[str], error: yaml.YAMLError) -> tuple[int | None, str]:
    """The line of what is no YAML, where one is known, and what is wrong there."""
    mark = getattr(error, "problem_mark", None)
    reason = getattr(error, "problem", None) or str(error).splitlines()[0]
    if mark is None:
        return None, reason
    line, reason = _slip(lines, mark, error) or (mark.line + 1, reason)
    above = next((i for i in range(line - 2, -1, -1) if _word(lines[i])), -1)
    return (above + 1, _NOT_IN_LINE) if above in _strays(lines) else (line, reason)


def _word(line: str) -> str:
    """What stands in a line but for its comment."""
    word = line.partition(" #")[0].strip()
    return "" if word.startswith("#") else word


def _strays(lines: list[str]) -> set[int]:
    """The lines, from 0, of keys of an item that stand at the left edge, as keys of lists do: they
    have a value, and the item, or its list, goes on behind them."""
    found, in_list, begun = set[int](), False, -1
    for at, line in enumerate(lines):
        word = _word(line)
        if not word:
            continue
        is_dash, is_key = word.startswith("-"), not line.startswith(" ")
        if begun >= 0 and (is_dash or not is_key):
            found.add(begun)
        is_whole = word.count("[") + word.count("{") <= word.count("]") + word.count("}")
        begun = at if in_list and is_key and _HAS_VALUE.match(word) and is_whole else -1
        in_list = is_dash or (in_list and (begun >= 0 or not is_key))
    return found


def _item_around(lines: list[str], line: int | None, reason: str) -> range | None:
    """The lines of the item of a list that a slip stands in; of a whole list, where it is in the
    key above. None where nothing else can be read behind it: it is not known where, all is blank
    already, or keys at the top do not stand in one column."""
    if line is None or not lines:
        return None
    at = min(line, len(lines)) - 1
    starts = _starts(lines)
    begin = max((i for i in starts if i <= at), default=0)
    is_list = starts.get(begin, True)
    ends = (i for i, begins_list in starts.items() if i > at and (begins_list or not is_list))
    item = range(begin, min(ends, default=len(lines)))
    written = [i for i in item if lines[i].partition("#")[0].strip()]
    askew = is_list and at == begin and reason in (_FARTHER_RIGHT, _NOT_IN_LINE)
    return None if not written or (askew and not lines[begin].startswith(" ")) else item


def _starts(lines: list[str]) -> dict[int, bool]:
    """The lines, from 0, with which lists at the top and their items begin: whether a list does.

    A key of a list that stands a bit to the right begins one all the same.
    """
    found: dict[int, bool] = {}
    dash = _FARTHEST  # in which column the items of this list have theirs
    strays = _strays(lines)
    for at, line in enumerate(lines):
        word, column = _word(line), len(line) - len(line.lstrip())
        if not word or at in strays:
            continue
        if word.startswith("-") and column <= dash:
            found[at], dash = False, column
        elif column == 0 or (column <= min(dash + 1, 3) and _LIST_KEY.fullmatch(word)):
            found[at], dash = True, _FARTHEST
    return found


_FARTHEST = 1_000
_LIST_KEY = re.compile(r"[a-z]+:")
_HAS_VALUE = re.compile(r"[a-z_]+:\s+\S")
_FARTHER_RIGHT = (
    "the line stands farther to the right than the keys beside it; keys of one thing begin in "
    "the same column"
)
_NOT_IN_LINE = "the line stands farther left or right than its neighbours; align it with them"
_QUOTED = re.compile(r"""\"(?:[^\"\\]|\\.)*\"|'[^']*'""")
_NO_COLON = "a colon is missing behind the key, as in name: peg"
_COLON = re.compile(r":(?:\s|$)")


def _slip(lines: list[str], mark: Any, error: yaml.YAMLError) -> tuple[int, str] | None:
    """The line and the name of the slip that such an error usually is; None for any other."""
    here = lines[mark.line] if mark.line < len(lines) else ""
    said = f"{getattr(error, 'context', '')} {getattr(error, 'problem', '')}"
    around = getattr(error, "context_mark", None)
    begun = around.line + 1 if around is not None else mark.line + 1
    if "\t" in here:
        return mark.line + 1, "there is a tab; indent with blanks"
    if "scanning a simple key" in said:
        return begun, _NO_COLON
    if "mapping values are not allowed" in said or "document start" in said:
        return _slip_at_colon(lines, mark)
    if "quoted scalar" in said and "escape" in said:
        text = "a backslash stands in double quotes; write / between folders, or take single quotes"
        return mark.line + 1, text
    if "quoted scalar" in said:
        return begun, "a quote that opens here is not closed"
    if "flow" in said:
        opened = _opened(lines, mark)
        close = {"[": "]", "{": "}"}.get(opened[1] if opened else "", "] or }")
        begun = opened[0] if opened else begun
        return begun, (
            f"a bracket that opens here is not closed with {close}, or a comma is missing, or "
            "one is too many"
        )
    if "cannot start any token" in said and here[mark.column : mark.column + 1]:
        return mark.line + 1, (
            f"a text that begins with {here[mark.column]} has to stand in quotes"
        )
    if "block collection" in said or "block mapping" in said:
        return mark.line + 1, _out_of_line(here, mark.column, around)
    return None


_OPENS = re.compile(_QUOTED.pattern + r"|(?:^|\s)#.*|[\[\]{}]")


def _opened(lines: list[str], mark: Any) -> tuple[int, str] | None:
    """The innermost bracket that is open before a place, with its line: the parser names the place
    where it gave up alone, which may be the end of the file."""
    opened: list[tuple[int, str]] = []
    for number, line in enumerate(lines[: mark.line + 1]):
        end = mark.column if number == mark.line else len(line)
        for found in _OPENS.finditer(line, 0, end):
            if found[0] in "[{":
                opened.append((number + 1, found[0]))
            elif found[0] in "]}" and opened:
                opened.pop()
    return opened[-1] if opened else None


def _slip_at_colon(lines: list[str], mark: Any) -> tuple[int, str]:
    """A colon where none can be: in a text, or one is missing before, or the line stands askew."""
    here = _QUOTED.sub(lambda quoted: "x" * len(quoted[0]), lines[mark.line])
    first = _COLON.search(here)
    if first is not None and first.start() < mark.column:
        key = here[: first.start()].strip(" -{")
        return mark.line + 1, (
            f'a colon stands in a text; put the text in quotes, as {key}: "..: .."'
        )
    before = mark.line - 1
    while before > 0 and not lines[before].partition("#")[0].strip():
        before -= 1
    above = _QUOTED.sub("x", lines[before]).partition(" #")[0].rstrip()
    if _COLON.search(above) is None and ":" in above:
        return before + 1, "a blank is missing behind the colon, as in name: peg"
    if _COLON.search(above) is None:
        return before + 1, _NO_COLON
    return mark.line + 1, _FARTHER_RIGHT


def _out_of_line(here: str, column: int, around: Any) -> str:
    """What is wrong with a line that stands where its neighbours do not."""
    if around is None or here[:column].strip():
        return "something stands behind a closing quote or bracket; put the whole text in quotes"
    if column == around.column and not here[column:].startswith("-"):
        return "a dash is missing in front of this item, as in - name: peg"
    return _NOT_IN_LINE


class _Builder:
    """Walks the parser's events once."""

    def __init__(self, tree: Tree, events: list[Any]) -> None:
        self.tree = tree
        self.events = events
        self.at = 0

    def next(self) -> Any:
        event = self.events[self.at]
        self.at += 1
        return event

    def document(self) -> Any:
        self.next()  # stream start
        if isinstance(self.events[self.at], yaml.StreamEndEvent):
            return None
        self.next()  # document start
        root = self.node(())
        self.next()  # document end
        if not isinstance(self.events[self.at], yaml.StreamEndEvent):
            line = self.events[self.at].start_mark.line + 1
            text = "one YAML document a file; remove what follows ---"
            self.tree.problems.append(Problem(self.tree.file, line, "", text))
        return root

    def node(self, path: Path) -> Any:
        event = self.next()
        self.tree.lines.setdefault(path, event.start_mark.line + 1)
        if isinstance(event, yaml.AliasEvent):
            self.tree.problem(path, "aliases (*) are not read; write the value out")
            return None
        if event.anchor is not None:
            self.tree.problem(path, "anchors (&) are not read; write the value out")
        if event.tag is not None and event.tag != "!":
            self.tree.problem(path, f"tags ({event.tag}) are not read; remove it")
        if isinstance(event, yaml.ScalarEvent):
            if event.style not in _QUOTES:
                return None if event.value in _NULLS else Plain(event.value)
            return event.value
        if len(path) > _DEEPEST:
            self.tree.problem(path, f"nested deeper than {_DEEPEST} levels")
            self.skip()
            return None
        return (
            self.sequence(path)
            if isinstance(event, yaml.SequenceStartEvent)
            else (self.mapping(path))
        )

    def skip(self) -> None:
        depth = 1
        while depth:
            event = self.next()
            if isinstance(event, yaml.CollectionStartEvent):
                depth += 1
            elif isinstance(event, yaml.CollectionEndEvent):
                depth -= 1

    def sequence(self, path: Path) -> list[Any]:
        items: list[Any] = []
        while not isinstance(self.events[self.at], yaml.SequenceEndEvent):
            items.append(self.node((*path, len(items))))
        self.next()
        return items

    def mapping(self, path: Path) -> dict[str, Any]:
        items: dict[str, Any] = {}
        again: list[tuple[str, int]] = []
        while not isinstance(self.events[self.at], yaml.MappingEndEvent):
            line = self.events[self.at].start_mark.line + 1
            key = self.node((*path, _KEY))
            self.tree.lines.pop((*path, _KEY), None)
            name = str(key) if isinstance(key, str) else "null" if key is None else None
            if name is None:
                self.tree.problems.append(
                    Problem(self.tree.file, line, dotted(path), "a key must be a word")
                )
                name = f"(key on line {line})"
            elif name in items:
                again.append((name, line))
            self.tree.lines.setdefault((*path, name), line)
            items[name] = self.node((*path, name))
        self.next()
        self.tell_again(path, again)
        return items

    def tell_again(self, path: Path, again: list[tuple[str, int]]) -> None:
        """Tell of the first key that stands there twice: others follow from a dash that is gone."""
        if not again:
            return
        (name, line), *more = again
        text = f"this key stands on line {self.tree.lines[(*path, name)]} already"
        if more:
            text += f", and {len(more)} below as well: a dash may be missing, as in - name: peg"
        self.tree.problems.append(Problem(self.tree.file, line, dotted((*path, name)), text))
