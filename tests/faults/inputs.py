"""Hostile inputs at random, each from a seed alone: documents, surveys, programs, registries."""

from __future__ import annotations

import random
import re
import sqlite3
from contextlib import closing
from functools import cache, partial
from pathlib import Path
from typing import Any

import yaml
from hypothesis import Phase, given, settings
from programs import Case, cases

from pincorner.shipped import shipped_folder

FIXTURES = shipped_folder("fixtures_db")
_read_yaml = partial(yaml.load, Loader=getattr(yaml, "CSafeLoader", yaml.SafeLoader))
PROGRAMS_MADE = 60

# Texts

CONTROLS = ["\x00", "\x07", "\x08", "\x1b[31m", "\x1b]0;t\x07", "\r", "\n", "\t", "\x7f", "\x85",
            "\x9b31m", "\u2028", "\ufffe", "\ufeff"]  # fmt: skip
TURNING = ["\u202e", "\u2066", "\u2069", "\u200f", "\u061c", "\u202a"]
RESERVED = ["con", "NUL.nc", "aux.html", "COM1", "lpt9.txt", "a.", "a ", " a", "a:b", "a?b", "a*b",
            "-x", "--force", "~", ".", "..", "%41", "my%20shop", "a?x=1", "a#b", "$HOME", "{{7*7}}",
            "a\\b", "'; DROP TABLE change; --", "<b>", "(a) G0 X0", "%", "100 %"]  # fmt: skip
LONG = ["a" * 244, "a" * 250, "a" * 255, "a" * 256, "a" * 5000, "ä" * 127, "\U0001f41d" * 64]
SURROGATES = ["\udcff", "a\udc80b", "\ud800", "\udce9t\udce9"]
NUMBERS = ["0", "-0", "-1", "1e308", "-1e308", "1e-320", "1e400", "nan", ".nan", ".inf", "-.inf",
           "Infinity", "9" * 400, "0x10", "0o17", "1_000", "12:30:45", "1e308 in", "3 1/4 in",
           "1/0 in", "99999999999999999999", "0.1e-400", "٣", "½", "1,5", "+5", "5 mm",
           "5 furlongs",            "100000", "0.0000001", "2026-11-25"]  # fmt: skip
SCALARS = ["null", "~", "on", "off", "yes", "true", "''", '"\\u202e"', '"\\0"', "[]", "{}",
          "[[[[]]]]",            "*a", "&a 1", "!!python/object/apply:os.getcwd []",
          "!!binary aGk=", "<<: *a", "? x",
          "|",            ">", "'", '"', "- -", "{a: 1, a: 2}", "@", "`", "%YAML 1.2", "---",
          "...", "\t",
           "1e5", "A1", "left", "long-bench", "G55", "[0, 1540]", "{x: 0, y: 0}"]  # fmt: skip


def odd_text(rng: random.Random) -> str:
    """A text with something odd in it: marks, names that systems keep, lengths, broken bytes."""
    pool = rng.choice([CONTROLS, TURNING, RESERVED, LONG, SURROGATES])
    text = rng.choice(pool)
    if pool in (CONTROLS, TURNING) or rng.random() < 0.2:
        text = f"{rng.choice(['', 'a', 'left'])}{text}{rng.choice(['', 'b', '.nc'])}"
    return text


def _bytes_changed(rng: random.Random, data: bytes, most: int = 8) -> bytes:
    """Some bytes flipped, taken out, put in, doubled or cut off."""
    found = bytearray(data)
    for _ in range(rng.randint(1, most)):
        at = rng.randrange(len(found) + 1)
        to = min(len(found), at + rng.randint(1, 12))
        how = rng.randrange(6)
        if how == 0 and at < len(found):
            found[at] ^= 1 << rng.randrange(8)
        elif how == 1:
            found[at:at] = rng.randbytes(rng.randint(1, 4))
        elif how == 2:
            del found[at:to]
        elif how == 3:
            found[at:at] = found[at:to] * rng.choice([1, 2, 50])
        elif how == 4 and rng.random() < 0.2:
            del found[at:]
        else:
            found[at:to] = rng.choice(
                [b"\x00", b"\xff", b"\r", b"\n\n", b"\xe2\x80\xae", b"\x1b[2J"]
            )
    return bytes(found)


# Documents


@cache
def _worlds() -> list[str]:
    """The demo's documents: whole files, and each document by itself, which is read faster."""
    found = []
    for name in ("beehive.yaml", "beehive-run.yaml", "dialects.yaml"):
        text = (FIXTURES / name).read_text(encoding="utf-8")
        found.append(text)
        for kind, documents in _read_yaml(text).items():
            if isinstance(documents, list):
                alone = [{"format": 1, kind: [document]} for document in documents]
                found += [yaml.safe_dump(each, sort_keys=False) for each in alone]
    return found


def documents(rng: random.Random) -> bytes:
    """A document file: the demo's with lines or values changed, a tree at random, or bytes."""
    how = rng.random()
    text = rng.choice(_worlds())
    if how < 0.35:
        return _lines_changed(rng, text).encode("utf-8", "surrogatepass")
    if how < 0.75:
        return _tree_changed(rng, text)
    if how < 0.85:
        tree = {"format": 1, **{_key(rng): _tree(rng, 4) for _ in range(rng.randint(1, 4))}}
        return yaml.safe_dump(tree, allow_unicode=rng.random() < 0.5).encode("utf-8", "replace")
    if how < 0.9:
        encoding = rng.choice(["utf-16", "utf-32", "utf-8-sig", "latin-1", "cp1252"])
        return text.encode(encoding, "replace")
    if how < 0.92:
        opened = rng.choice(["[", "{a: ", "- ", "? ", "a:\n "])
        return b"format: 1\npins: " + (opened * rng.choice([50, 500, 5000])).encode()
    return _bytes_changed(rng, text.encode())


def _lines_changed(rng: random.Random, text: str) -> str:
    lines = text.split("\n")
    for _ in range(rng.randint(1, 4)):
        at = rng.randrange(len(lines))
        how = rng.randrange(5)
        if how == 0:
            lines.insert(at, lines[rng.randrange(len(lines))])
        elif how == 1 and len(lines) > 1:
            del lines[at]
        elif how == 2:
            lines[at] = rng.choice(["  ", " ", "\t"]) + lines[at]
        else:
            key, colon, _ = lines[at].partition(":")
            lines[at] = f"{key}{colon} {rng.choice([*NUMBERS, *SCALARS, odd_text(rng)])}"
    return rng.choice(["\n", "\n", "\r\n", "\r"]).join(lines)


def _places(tree: Any) -> list[tuple[Any, Any]]:
    """Every (container, key or index) of a tree."""
    pairs = tree.items() if isinstance(tree, dict) else enumerate(tree)
    found = []
    for key, value in pairs:
        found.append((tree, key))
        if isinstance(value, dict | list):
            found += _places(value)
    return found


def _tree_changed(rng: random.Random, text: str) -> bytes:
    """Values of a document replaced, doubled, taken out, or given another key."""
    tree = _read_yaml(text)
    for _ in range(rng.choice([1, 1, 1, 2, 5])):
        holder, key = rng.choice(_places(tree))
        how = rng.randrange(6)
        if how == 0:
            del holder[key]
            if not tree:
                break
        elif how == 1 and isinstance(holder, dict):
            holder[_key(rng)] = holder.pop(key)
        elif how == 2 and isinstance(holder[key], list):
            holder[key] = holder[key] * rng.choice([2, 2, 300])
        elif how == 3:
            other, its = rng.choice(_places(tree))
            holder[key] = _read_yaml(yaml.safe_dump(other[its]))
        elif isinstance(holder[key], int | float) and how == 4 and abs(holder[key]) < 1e9:
            holder[key] = holder[key] * rng.choice([-1, 0, 1.001, 10, 1e-9, 1e9, 1e300])
        else:
            holder[key] = _tree(rng, 2)
    style = rng.choice([None, None, True, False])
    return yaml.safe_dump(tree, default_flow_style=style, allow_unicode=True).encode(
        "utf-8", "surrogatepass"
    )


@cache
def _keys() -> list[str]:
    trees = [_read_yaml(text) for text in _worlds()]
    return sorted({str(key) for tree in trees for _, key in _places(tree) if isinstance(key, str)})


def _key(rng: random.Random) -> str:
    return rng.choice(
        [*_keys(), "machines", "beds", "jigs", "stations", "programs", "runs", "pins"]
    )


def _tree(rng: random.Random, depth: int) -> Any:
    """A value at random: a scalar, or a list or mapping of such with the documents' own keys."""
    how = rng.randrange(8)
    if how < 2 and depth > 0:
        return [_tree(rng, depth - 1) for _ in range(rng.randint(0, 4))]
    if how < 4 and depth > 0:
        return {_key(rng): _tree(rng, depth - 1) for _ in range(rng.randint(0, 5))}
    return rng.choice(
        [None, True, 0, -1, 1, 0.5, 1e308, -1e308, 1e-320, float("nan"), float("inf"), 10**400,
         rng.uniform(-2000, 2000), rng.randint(-5, 500), odd_text(rng), rng.choice(NUMBERS),
         rng.choice(_keys()), "A1", "left", "long-bench", "peg-20", "panel-tray", "G55", "+x+y"]
    )  # fmt: skip


# Surveys

NUMBER = re.compile(r"-?\d+(\.\d+)?", re.ASCII)


def surveys(rng: random.Random) -> bytes:
    """A survey file: the demo's with numbers, holes, columns or bytes changed."""
    data = (FIXTURES / "long-bench-survey.csv").read_bytes()
    if rng.random() < 0.25:
        return _bytes_changed(rng, data)
    rows = [line.split(",") for line in data.decode().splitlines()[1:]]
    for _ in range(rng.choice([1, 1, 2, 6, 30])):
        row = rng.choice(rows)
        at = rng.randrange(len(row))
        how = rng.randrange(6)
        if how == 0:
            rows.insert(rng.randrange(len(rows) + 1), list(row))
        elif how == 1 and len(rows) > 1:
            rows.remove(row)
        elif how == 2:
            row[at] = rng.choice([*NUMBERS, '"', '"a\nb"', "=1+1", "A" * 200_000, odd_text(rng)])
        elif how == 3 and len(row) > 2:
            row.insert(at, row.pop())
        elif at and NUMBER.fullmatch(row[at]):
            by = rng.choice([1e-6, 0.01, 1, 100, 1e9, 1e300])
            row[at] = repr(float(row[at]) + rng.gauss(0, by))
        else:
            row[0] = rng.choice(["A1", "H5", "O9", "Z99", "a1", "", "B2 ", "A01"])
    if rng.random() < 0.1:
        rows[0] = rng.choice([["hole", "x_in", "y_in"], ["x_mm", "y_mm", "hole"], [""], ["hole"]])
    text = rng.choice(["\n", "\n", "\r\n", "\r"]).join(",".join(row) for row in rows)
    return text.encode("utf-8", "surrogatepass")


# Programs


@cache
def corpus() -> list[bytes]:
    """The demo's programs, and programs of every oddity that the rules of the language have."""
    found: list[bytes] = []

    @settings(
        derandomize=True, max_examples=PROGRAMS_MADE, deadline=None, database=None,
        phases=[Phase.generate],
    )  # fmt: skip
    @given(cases(hostile=True))
    def gather(case: Case) -> None:
        found.append(case.text)

    gather()
    return [*(path.read_bytes() for path in sorted((FIXTURES / "programs").glob("*.nc"))), *found]


PIECES = [b"G10 L2 P2 X1 Y1", b"G92 X0", b"G68 X0 Y0 R10", b"G69 (setup rotation off)", b"M98 P1",
          b"#1=[2+3]", b"O100 sub", b"X1e308", b"X99999999999999999999", b"X[1/0]", b"G54.1 P300",
          b"(setup left a EECF-8F5A from here)", b"(MM STAYS ACTIVE, setup EECF-8F5A to here)",
          b"(\x1b[31m)", b"T99999999 M6", b"G2 X1 Y1 I0 J0", b"G83 Z-5 R1 Q0", b"F0", b"N" * 300,
          b"(" * 300, b"%", b"/" * 50, b"G91 G28 Z0", b"G53 G0 Z-5", b"\xff\xfe",
          b"X-" + b"9" * 400,           b"G20", b"M2", b"M30", b"G43 H99", b"S1e9 M3",
          b"\x00" * 20]  # fmt: skip


def programs(rng: random.Random) -> bytes:
    """A program: one of the corpus with lines put in, taken out or mixed, and bytes changed."""
    lines = rng.choice(corpus()).split(b"\n")
    for _ in range(rng.choice([0, 1, 2, 5])):
        at = rng.randrange(len(lines) + 1)
        if rng.random() < 0.3:
            lines[at:at] = rng.choice(corpus()).split(b"\n")[: rng.randint(1, 20)]
        else:
            lines.insert(at, rng.choice(PIECES))
    data = rng.choice([b"\n", b"\n", b"\r\n"]).join(lines)
    return _bytes_changed(rng, data) if rng.random() < 0.5 else data


# Registries


def registries(rng: random.Random, good: bytes, file: Path) -> None:
    """Write a damaged registry: bytes flipped, cut, pages swapped, rows spoilt, or another file."""
    data = bytearray(good)
    page = 4096
    pages = len(data) // page
    how = rng.randrange(8)
    if how == 0:
        for _ in range(rng.choice([1, 3, 30, 300])):
            data[rng.randrange(len(data))] ^= 1 << rng.randrange(8)
    elif how == 1:
        del data[rng.choice([0, 1, 16, 50, 100, 512, page, rng.randrange(len(data))]) :]
    elif how == 2:
        a, b = rng.sample(range(pages), 2)
        one, other = (data[n * page : (n + 1) * page] for n in (a, b))
        data[a * page : (a + 1) * page], data[b * page : (b + 1) * page] = other, one
    elif how == 3:
        at = rng.randrange(pages) * page
        data[at : at + page] = rng.choice([bytes(page), rng.randbytes(page)])
    elif how == 4:
        data[rng.randrange(100)] = rng.randrange(256)
    elif how == 5:
        others = (
            b"",
            b"bees\n",
            b"SQLite format 3\x00",
            rng.randbytes(5000),
            b"%PDF-1.4\n",
            b"PK\x03\x04",
        )
        data[:] = rng.choice(others)
    file.write_bytes(data)
    if how >= 6:
        with closing(sqlite3.connect(file)) as connection, connection:
            connection.execute(rng.choice(SPOILT))


SPOILT = [
    "UPDATE revision SET body = '{' WHERE key = 'left'",
    "UPDATE revision SET body = '[]' WHERE kind = 'bed'",
    "UPDATE revision SET body = substr(body, 1, length(body) / 2) WHERE kind = 'station'",
    "UPDATE revision SET body = replace(body, '20', '1e999') WHERE kind = 'pin'",
    "UPDATE revision SET body = CAST(x'ff00fe' AS TEXT) WHERE kind = 'jig'",
    "UPDATE revision SET body = x'00ff' WHERE kind = 'machine'",
    "UPDATE revision SET kind = 'hive' WHERE kind = 'run'",
    "UPDATE revision SET name = 'a' || char(27) || '[31mb' WHERE key = 'left'",
    "UPDATE revision SET change_id = 99 WHERE key = 'left'",
    "DELETE FROM revision WHERE kind = 'pin'",
    "DELETE FROM change",
    "UPDATE change SET at = 'yesterday'",
    "UPDATE change SET at = ''",
    "UPDATE change SET who = char(27) || '[2J', why = char(8238) || 'x'",
    "UPDATE log SET path = char(27) || 'c', nest = 'zz'",
    "UPDATE log SET x_mm = 'far'",
    "UPDATE registry SET display_units = 'furlong'",
    "UPDATE alembic_version SET version_num = '9999'",
    "UPDATE alembic_version SET version_num = '0000'",
    "DELETE FROM alembic_version",
    "DELETE FROM registry",
    "DELETE FROM bed_hole",
    "UPDATE station_hole SET label = 'Z99' WHERE role = 'stop'",
    "DELETE FROM reference",
    "DROP TABLE log",
    "DROP TABLE reference",
    "DROP TABLE change",
    "ALTER TABLE revision RENAME COLUMN body TO text",
]
