"""YAML text as plain lists, dicts and scalars, with the line of everything in it.

Stricter than YAML: duplicate keys, anchors, aliases, tags and several documents are refused, and
no scalar is given a type here: what a field wants decides how its text is read.
"""

from __future__ import annotations

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
    """A file's content, the line (from 1) of each path in it, and what is wrong with it."""

    file: str
    root: Any = None
    lines: dict[Path, int] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)

    def line(self, path: Path) -> int | None:
        """The line of a path, or of the nearest thing around it."""
        while path and path not in self.lines:
            path = path[:-1]
        return self.lines.get(path)

    def problem(self, path: Path, text: str) -> None:
        """Note a problem at a path."""
        self.problems.append(Problem(self.file, self.line(path), dotted(path), text))


def dotted(path: Path) -> str:
    """A path as people write it: `stations[0].pins.edge[1]`."""
    text = ""
    for part in path:
        if part != _KEY:
            text += f"[{part}]" if isinstance(part, int) else f".{part}" if text else part
    return "".join(c if c.isprintable() else "?" for c in text)


def read_tree(text: str, file: str) -> Tree:
    """The tree of a YAML text; a text that is no YAML gives a tree with that one problem."""
    tree = Tree(file)
    try:
        events = list(yaml.parse(text, _LOADER))
    except yaml.YAMLError as error:
        mark = getattr(error, "problem_mark", None)
        line = mark.line + 1 if mark else None
        reason = getattr(error, "problem", None) or str(error).splitlines()[0]
        if mark is not None and "\t" in "".join(text.splitlines()[mark.line : mark.line + 1]):
            reason = "there is a tab; indent with blanks"
        tree.problems.append(Problem(file, line, "", f"not YAML: {reason}"))
        return tree
    builder = _Builder(tree, events)
    tree.root = builder.document()
    return tree


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
                first = self.tree.lines[(*path, name)]
                self.tree.problems.append(
                    Problem(
                        self.tree.file,
                        line,
                        dotted((*path, name)),
                        f"this key stands on line {first} already",
                    )
                )
            self.tree.lines.setdefault((*path, name), line)
            items[name] = self.node((*path, name))
        self.next()
        return items
