"""Small faults to put into the package on purpose: the same ones as long as its source is."""

from __future__ import annotations

import ast
import random
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import NamedTuple

_TURNED: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq, ast.In: ast.NotIn, ast.NotIn: ast.In, ast.Is: ast.IsNot, ast.IsNot: ast.Is,
}  # fmt: skip
_OTHER: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult,
    ast.FloorDiv: ast.Mult, ast.Mod: ast.Mult, ast.BitOr: ast.BitAnd, ast.BitAnd: ast.BitOr,
}  # fmt: skip


class Mutant(NamedTuple):
    """One changed place: a module's path from `src`, where it stands, and what stands there then.

    `start`, `end`: bytes of the module; `function`: the outermost function or class around it.
    """

    path: str
    line: int
    start: int
    end: int
    before: str
    after: str
    function: str

    def __str__(self) -> str:
        return f"{self.path}:{self.line} {self.function}: {self.before}  ->  {self.after}"

    def applied(self, data: bytes) -> bytes:
        """A module's bytes with the change made."""
        return data[: self.start] + self.after.encode() + data[self.end :]


def mutants(source: Path, count: int, seed: int) -> list[Mutant]:
    """So many mutants of all that can be made, one from each of as many equal stretches of them."""
    paths = sorted(source.rglob("*.py"))
    every = [each for path in paths for each in of_module(path, source)]
    draw = random.Random(seed)
    ends = [round(at * len(every) / count) for at in range(count + 1)]
    return [draw.choice(every[start:end]) for start, end in pairwise(ends) if start < end]


def of_module(path: Path, source: Path) -> list[Mutant]:
    """Every mutant of a module, in the order of its text."""
    data = path.read_bytes()
    starts = [0]
    for line in data.split(b"\n"):
        starts.append(starts[-1] + len(line) + 1)
    found = []
    for node, function in _code(ast.parse(data), ""):
        for new in _changed(node):
            assert node.end_lineno is not None and node.end_col_offset is not None
            start = starts[node.lineno - 1] + node.col_offset
            end = starts[node.end_lineno - 1] + node.end_col_offset
            after = ast.unparse(new)
            after = after if isinstance(node, ast.stmt | ast.Constant) else f"({after})"
            before = " ".join(data[start:end].decode("utf-8").split())
            found.append(
                Mutant(
                    path.relative_to(source).as_posix(), node.lineno, start, end, before, after,
                    function,
                )
            )  # fmt: skip
    return sorted(set(found), key=lambda mutant: (mutant.start, mutant.end, mutant.after))


def _code(node: ast.AST, function: str) -> Iterator[tuple[ast.expr | ast.stmt, str]]:
    """The expressions and statements that are carried out: no types, no subscripts of types."""
    for name, value in ast.iter_fields(node):
        if name in ("annotation", "returns", "decorator_list", "type_comment"):
            continue
        for child in value if isinstance(value, list) else [value]:
            if not isinstance(child, ast.AST) or isinstance(child, ast.JoinedStr):
                continue
            inside = function
            if isinstance(child, ast.FunctionDef | ast.ClassDef):
                inside = f"{function}.{child.name}" if function else child.name
            if isinstance(child, ast.expr | ast.stmt):
                yield child, inside
            yield from _code(child, inside)


def _changed(node: ast.AST) -> Iterator[ast.AST]:
    """What may stand in place of a node."""
    match node:
        case ast.Compare(ops=[op, *more]) if type(op) in _TURNED:
            yield ast.Compare(node.left, [_TURNED[type(op)](), *more], node.comparators)
        case ast.BoolOp():
            other = ast.Or() if isinstance(node.op, ast.And) else ast.And()
            yield ast.BoolOp(other, node.values)
        case ast.BinOp() if type(node.op) in _OTHER and not _of_text(node):
            yield ast.BinOp(node.left, _OTHER[type(node.op)](), node.right)
        case ast.UnaryOp(op=ast.Not() | ast.USub()):
            yield node.operand
        case ast.Constant(value=bool()):
            yield ast.Constant(not node.value)
        case ast.Constant(value=int() | float()):
            yield ast.Constant(node.value + 1)
        case ast.Return(value=ast.expr()) if not _is_none(node.value):
            yield ast.Return(ast.Constant(None))
        case ast.IfExp():
            yield ast.IfExp(node.test, node.orelse, node.body)


def _of_text(node: ast.BinOp) -> bool:
    """Whether a text or a list stands in it: what is changed there fails at once."""
    sides = (node.left, node.right)
    return any(
        isinstance(side, ast.JoinedStr | ast.List | ast.Tuple)
        or (isinstance(side, ast.Constant) and not isinstance(side.value, int | float))
        for side in sides
    )


def _is_none(node: ast.expr | None) -> bool:
    return isinstance(node, ast.Constant) and node.value is None
