"""A registry that version 0.1.0 made, upgraded: the past stays, and one change is told.

On SQLite, and on PostgreSQL where test_postgres.py runs.
"""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Any, NamedTuple

import pytest
import yaml
from conftest import Run, quietly
from old_registries import (
    AS_BEFORE_PAPERS,
    LAST_MOMENT,
    MADE_BY_0_1_0,
    NEW_FIRST,
    OLD_FIRST,
    a_change,
    bodies,
    engine_of,
    on_postgres,
    on_sqlite,
    run_sql,
)
from postgres import empty_schema, needs_server
from rows import DERIVED, Rows, rebuilt, rows
from sqlalchemy import inspect, text
from worlds import make_registry, shipped_dialects

from pincorner.documents.kinds import KINDS
from pincorner.documents.machines import Dialect
from pincorner.documents.writing import from_json, to_json
from pincorner.errors import RegistryOlder
from pincorner.registry import times
from pincorner.registry.reader import Reader
from pincorner.registry.store import Registry
from pincorner.registry.tables import change, log, metadata, paper, registry, revision, verification
from pincorner.registry.versions import SCHEMA_VERSION
from pincorner.setups.transform import make_setups
from pincorner.work.session import Library

TOLD = (
    f"""\
upgraded from 0002 to {SCHEMA_VERSION}
dialect extended: first is G40 G17 G49 G80 G94 G98, no longer G17 G40 G80
dialect keyed: first is G40 G17 G49 G80 G94 G98, no longer G17 G40 G80
dialect ngc: it is called rs274 now, and ngc is retired; first is G40 G17 G49 G80 G94 G98, \
no longer G17 G40 G80
dialect ngc-r: it is called rs274-turned now, and ngc-r is retired; \
first is G40 G17 G49 G80 G94 G98, no longer G17 G40 G80
dialect six: first is G40 G17 G49 G80 G94 G98, no longer G17 G40 G80
machine gantry-1: dialect is rs274, no longer ngc
machine gantry-2: dialect is rs274-turned, no longer ngc-r
machine gantry-2: not known any more: beam and carriage, which counted as none and 0; \
load the machine with what is meant
machine gantry-3: not known any more: beam and carriage, which counted as none and 0; \
load the machine with what is meant
copies and blocks made before are stale: see pincorner status
"""
    + "".join(
        f"station {name}: pins_pressed is false, as it was computed so far: the jig is laid "
        "against its pins; say true if it is pushed\n"
        for name in ("left", "right", "roof", "shelf", "spare")
    )
    + """\
pages printed of runs (monday-sides, three-sides) are not on record, so nothing tells when they \
are void: print them anew with pincorner sheet --run NAME
notes in blocks of version 0.1.0 and in files of repeat were not kept, so nothing tells when they \
are otherwise: write those anew
"""
)
Bodies = dict[tuple[str, str, int], dict[str, Any] | None]
SIDES = ("left", "right", "front", "back")
DATABASES = ["sqlite", pytest.param("postgresql", marks=needs_server)]


on_sqlite_alone = pytest.mark.parametrize("upgraded", ["sqlite"], indirect=True)


@pytest.fixture(autouse=True, scope="module")
def _soon_after() -> Iterator[None]:
    """The clock shows the day after: years later each command would ask whether it is right."""
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(times, "now_text", lambda: "2026-11-30T12:00:00.000000Z")
        yield


@pytest.fixture(params=DATABASES)
def location(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """Where the registry is, as 0.1.0 left it."""
    if request.param == "sqlite":
        yield on_sqlite(tmp_path / "r.sqlite")
    else:
        with empty_schema() as url:
            yield on_postgres(url, tmp_path / "r.sqlite")


@pytest.fixture
def old(tmp_path: Path) -> str:
    """The same on SQLite alone."""
    return on_sqlite(tmp_path / "r.sqlite")


class Upgraded(NamedTuple):
    """A registry as `upgrade` left it, with what was there before; it is not to be changed."""

    location: str
    refused: str
    told: str
    rows: Rows
    bodies: Bodies


@pytest.fixture(scope="module", params=DATABASES)
def upgraded(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory, _soon_after: None
) -> Iterator[Upgraded]:
    """The registry of 0.1.0, upgraded by anna."""
    folder = tmp_path_factory.mktemp("upgraded")
    with ExitStack() as stack:
        location = on_sqlite(folder / "r.sqlite")
        if request.param == "postgresql":
            location = on_postgres(stack.enter_context(empty_schema()), folder / "from.sqlite")
        with pytest.raises(RegistryOlder) as refused, Registry(location).reading():
            pytest.fail("it was opened")
        before, old = held(location), bodies(location)
        told = quietly(folder, ("--db", location, "upgrade", "--by", "anna"))
        yield Upgraded(location, str(refused.value), told, before, old)


def held(location: str) -> Rows:
    """All rows of all tables but those of a later schema, and the version."""
    engine = engine_of(location)
    with engine.connect() as connection:
        version = connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
        there = set(inspect(connection).get_table_names())
        found = rows(connection, *(each for each in metadata.sorted_tables if each.name in there))
    engine.dispose()
    return {**found, "version": [(version,)]}


def documents(run: Run, location: str, *more: str) -> dict[tuple[str, str], dict[str, Any]]:
    """What a dump holds, by kind and name, as a YAML reader sees it that knows nothing of it."""
    ran = run("--db", location, "dump", *more)
    assert (ran.code, ran.err) == (0, "")
    content = yaml.safe_load(ran.out)
    return {
        (word, values["name"]): values
        for word, kind in KINDS.items()
        for values in content.get(kind.list_key, ())
    }


def newest(found: Bodies) -> dict[tuple[str, str], dict[str, Any]]:
    """Copies of the bodies that count now, by kind and key."""
    return {(kind, key): dict(body or {}) for (kind, key, _), body in sorted(found.items())}


def test_told_and_done(upgraded: Upgraded, run: Run) -> None:
    """Every document that changes is told in a line; edits stay, machines follow."""
    old, location = newest(upgraded.bodies), upgraded.location
    assert "pincorner upgrade" in upgraded.refused
    assert upgraded.told == TOLD
    now = documents(run, location)
    assert {name for kind, name in now if kind == "dialect"} == {
        "extended", "keyed", "own", "rs274", "rs274-turned", "six",
    }  # fmt: skip
    want = {place: body for place, body in old.items() if place[1] not in ("ngc", "ngc-r")}
    want["dialect", "rs274"] = {**old["dialect", "ngc"], "name": "rs274"}
    want["dialect", "rs274-turned"] = {**old["dialect", "ngc-r"], "name": "rs274-turned"}
    for (kind, _), body in want.items():
        if kind == "station":
            body.update(stated_of(kind, body))
    want["machine", "gantry-1"] = {**old["machine", "gantry-1"], "dialect": "rs274"}
    want["machine", "gantry-2"] = {**old["machine", "gantry-2"], "dialect": "rs274-turned"}
    assert now == want
    assert want["dialect", "rs274"]["line_length"] == 120
    assert want["dialect", "own"]["first"] == ["G17", "G40"]
    with Registry(location).reading() as reader:
        firsts = {each.name: list(each.first) for each in reader.all(Dialect)}
    assert firsts.pop("own") == ["G17", "G40"]
    assert set(map(tuple, firsts.values())) == {tuple(NEW_FIRST)}


def stated_of(kind: str, body: dict[str, Any] | None) -> dict[str, Any]:
    """Defaults of that day that a body leaned on: they are written out."""
    stated = {
        "dialect": {"first": OLD_FIRST},
        "machine": {"beam": "none", "carriage": dict.fromkeys(SIDES, 0)},
        "station": {} if "round" in (body or {}).get("pins", {}) else {"pins_pressed": False},
    }.get(kind, {})
    return {key: value for key, value in stated.items() if key not in (body or {})}


def test_the_past_is_as_it_was(upgraded: Upgraded, run: Run) -> None:
    """A dump as of before the upgrade is what 0.1.0 had, its default of that day written out."""
    old, location = newest(upgraded.bodies), upgraded.location
    for (kind, _), body in old.items():
        body.update(stated_of(kind, body))
    assert documents(run, location, "--as-of", LAST_MOMENT) == old
    first = documents(run, location, "--as-of", "2026-11-29T18:28:52Z")
    assert first["dialect", "ngc"]["first"] == OLD_FIRST
    assert "line_length" not in first["dialect", "ngc"] and ("dialect", "own") not in first
    shown = run("--db", location, "show", "ngc", "--as-of", LAST_MOMENT)
    assert shown.code == 0 and "first: [G17, G40, G80]" in shown.out


OFFSET = ("x_mm", "y_mm", "z_mm", "angle_deg", "u95_worst_mm", "repeat95_worst_mm")


@on_sqlite_alone
def test_offsets_stay(upgraded: Upgraded, run: Run) -> None:
    """Offsets are to the last bit what they were, and what 0.1.0 put on its own papers."""
    old = upgraded.location
    now = run("--db", old, "offsets", "--json").json["offsets"]
    before = run("--db", old, "offsets", "--json", "--as-of", LAST_MOMENT).json["offsets"]
    assert [[row[key] for key in OFFSET] for row in now] == [
        [row[key] for key in OFFSET] for row in before
    ]
    with Registry(old).reading() as reader:
        library = Library(reader)
        setups = [s for each in library.stations(()) for s in make_setups(library.facts(each))]
        first = {(s.facts.station.name, s.nest.name): s.fingerprint_by(1) for s in setups}
        papers = {
            (p["station_key"], p["nest"]): (p["fingerprint"], p["x_mm"], p["y_mm"])
            for p in reader.papers()
        }
        found = [(v["computed_x_mm"], v["computed_y_mm"]) for v in reader.verifications()]
    places = {
        (row["station"], row["nest"]): (
            first[row["station"], row["nest"]], row["x_mm"], row["y_mm"],
        )
        for row in now
    }  # fmt: skip
    assert papers == places and len(papers) == 7
    assert found == [places["left", "a"][1:]]


def test_nothing_else_is_touched(upgraded: Upgraded) -> None:
    """One change is added; papers, verifications and all but dialects' old bodies stay."""
    before, old = upgraded.rows, upgraded.bodies
    after, new = held(upgraded.location), bodies(upgraded.location)
    assert after["version"] == [(SCHEMA_VERSION,)] and before["version"] == [("0002",)]
    for table in (registry, verification):
        assert after[table.name] == before[table.name]
    assert after[log.name] == [(*row, None, 1, None) for row in before[log.name]]
    assert after[paper.name] == [] and paper.name not in before
    (added,) = set(after[change.name]) - set(before[change.name])
    assert set(before[change.name]) < set(after[change.name])
    assert (added[0], *added[2:4]) == (6, "anna", "upgrade")
    assert added[4] == (
        "mode words left out are G40 G17 G49 G80 G94 G98 now; dialect ngc is called rs274; "
        "dialect ngc-r is called rs274-turned; "
        "what was left out of what moves counts as not known now"
    )
    assert added[1] > before[change.name][-1][1]
    assert {place for place in new if place not in old} == {
        *(("dialect", name, 6) for name in (
            "extended", "keyed", "ngc", "ngc-r", "rs274", "rs274-turned", "six")),
        ("machine", "gantry-1", 6), ("machine", "gantry-2", 6), ("machine", "gantry-3", 6),
    }  # fmt: skip
    for place, body in old.items():
        stated = stated_of(place[0], body)
        assert new[place] == (None if body is None else {**stated, **body}), place


def test_every_body_is_canonical(old: str, run: Run) -> None:
    """Each revision is written as the program writes it, so that loading its dump is no change."""
    told = json.dumps({"name": "told", "work_offsets": ["G54"], "first": NEW_FIRST})
    told = told.replace(", ", ",").replace(": ", ":")
    some = '{"name":"some","dialect":"own","carriage":{"right":12},"nose":64}'
    run_sql(old, *a_change(6, ("dialect", "told", told), ("machine", "some", some)))
    assert run("--db", old, "upgrade").code == 0
    with Registry(old).reading() as reader:
        found = [(row["kind"], row["body"]) for row in reader.changes() if row["body"] is not None]
        assert [
            body for kind, body in found if to_json(from_json(KINDS[kind].model, body)) != body
        ] == []
        assert reader.body("dialect", "told") == '{"name":"told","work_offsets":["G54"]}'
        assert reader.body("machine", "some") == some
        past = Reader(reader.connection, 6).body("machine", "some")
        assert past == (
            '{"name":"some","dialect":"own","beam":"none",'
            '"carriage":{"left":0,"right":12,"front":0,"back":0},"nose":64}'
        )


@on_sqlite_alone
def test_loading_its_dump_changes_nothing(upgraded: Upgraded, run: Run, tmp_path: Path) -> None:
    """The dump of an upgraded registry holds it as it is."""
    old = upgraded.location
    assert run("--db", old, "dump", "-o", tmp_path / "all.yaml").code == 0
    same = f"0 new, 0 changed, {len(documents(run, old))} as before\n"
    assert run("--db", old, "load", tmp_path / "all.yaml").out == same


@on_sqlite_alone
def test_again_is_no_change(upgraded: Upgraded, run: Run) -> None:
    """A second upgrade says that all is up to date, and writes nothing."""
    old = upgraded.location
    before = held(old)
    ran = run("--db", old, "upgrade")
    assert (ran.code, ran.out, ran.err) == (0, "up to date already\n", "")
    assert held(old) == before


def test_derived_tables_follow(upgraded: Upgraded) -> None:
    """The tables beside the truth are what they are when made anew from it."""
    with Registry(upgraded.location).reading() as reader:
        assert rows(reader.connection, *DERIVED) == rebuilt(reader)
        assert [row["key"] for row in reader.needed_by("dialect", "rs274")] == ["gantry-1"]
        assert reader.needed_by("dialect", "ngc") == []


OWN_RS274 = '{"name":"RS274","work_offsets":["G54"],"first":["G17"]}'
OWN_TURNED = '{"name":"rs274-turned","work_offsets":["G55"]}'


@pytest.mark.parametrize(
    ("location", "name", "body", "old_name"),
    [
        ("sqlite", "RS274", OWN_RS274, "ngc"),
        ("sqlite", "rs274-turned", OWN_TURNED, "ngc-r"),
        pytest.param("postgresql", "RS274", OWN_RS274, "ngc", marks=needs_server),
    ],
    indirect=["location"],
)
def test_a_name_that_is_taken(location: str, run: Run, name: str, body: str, old_name: str) -> None:
    """Where the shop has a dialect of a new name, a line says what to do; nothing is written."""
    run_sql(location, *a_change(6, ("dialect", name, body)))
    before, file = held(location), Path(location)
    content = file.read_bytes() if file.is_file() else None
    ran = run("--db", location, "upgrade")
    assert (ran.code, ran.out) == (3, "") and ran.err.count("\n") == 1
    wanted = f"dialect {old_name} is to be called {name.lower()}, but the registry has a dialect"
    assert ran.err.startswith(wanted) and "under another name" in ran.err
    assert held(location) == before
    assert (file.read_bytes() if file.is_file() else None) == content


def test_a_name_that_was_retired(old: str, run: Run) -> None:
    """A retired dialect of the new name is no obstacle, and its own past stays."""
    run_sql(
        old,
        *a_change(6, ("dialect", "rs274", OWN_TURNED.replace("rs274-turned", "rs274"))),
        *a_change(7, ("dialect", "rs274", None)),
    )
    ran = run("--db", old, "upgrade")
    assert (ran.code, ran.out) == (0, TOLD)
    assert documents(run, old)["dialect", "rs274"]["line_length"] == 120
    own = bodies(old)["dialect", "rs274", 6]
    assert own == {"name": "rs274", "work_offsets": ["G55"], "first": OLD_FIRST}


def test_what_is_not_in_use_is_not_renewed(old: str, run: Run) -> None:
    """A dialect that was retired before stays so, and its name is given to no other."""
    run_sql(
        old,
        *a_change(6, ("machine", "gantry-2", None), ("dialect", "ngc-r", None)),
        "DELETE FROM reference WHERE key = 'gantry-2'",
    )
    ran = run("--db", old, "upgrade")
    assert ran.code == 0 and "ngc-r" not in ran.out and "rs274-turned" not in ran.out
    names = {name for kind, name in documents(run, old) if kind == "dialect"}
    assert names == {"extended", "keyed", "own", "rs274", "six"}


@on_sqlite_alone
def test_from_the_first_schema(upgraded: Upgraded, run: Run, tmp_path: Path) -> None:
    """From schema 0001 the same documents come out, and the table that it lacked is there."""
    other, old = on_sqlite(tmp_path / "first.sqlite"), upgraded.location
    run_sql(other, "DROP TABLE verification", "UPDATE alembic_version SET version_num = '0001'")
    assert run("--db", other, "upgrade").out == TOLD.replace("0002", "0001")
    assert documents(run, other) == documents(run, old)
    assert bodies(other) == bodies(old)
    found = held(other)
    assert found["verification"] == [] and found["version"] == [(SCHEMA_VERSION,)]


def test_nothing_to_renew(tmp_path: Path, run: Run) -> None:
    """Where no dialect in use leans on what changed, only the number goes up."""
    path = tmp_path / "r.sqlite"
    Registry.create(str(path), "mm", (), "tester")
    back = "UPDATE alembic_version SET version_num = '0002'"
    run_sql(str(path), *AS_BEFORE_PAPERS, back)
    assert run("--db", path, "upgrade").out == f"upgraded from 0002 to {SCHEMA_VERSION}\n"
    assert held(str(path))[revision.name] == held(str(path))[change.name] == []


def test_backup_and_restore(location: str, run: Run, tmp_path: Path) -> None:
    """A backup of an upgraded registry brings all of it back; one made before is upgraded."""
    early, copy = tmp_path / "early.sqlite", tmp_path / "copy.sqlite"
    on_sqlite(early)
    assert run("--db", location, "upgrade").code == 0
    before = held(location)
    assert run("--db", location, "backup", copy).code == 0
    assert run("--db", location, "retire", "run", "three-sides").code == 0
    assert held(location) != before
    ran = run("--db", location, "restore", early, "--force")
    assert ran.code == 0 and ran.out.startswith(TOLD)
    assert run("--db", location, "restore", copy, "--force").code == 0
    now = held(location)
    assert now["change"].pop()[3] == "restore"  # by id
    assert now == before


def test_programs_and_papers_are_left_alone(
    tmp_path: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An upgrade writes no file but the registry."""
    shop = tmp_path / "shop"
    (shop / "fixtures_db").mkdir(parents=True)
    on_sqlite(shop / "fixtures_db" / "registry.sqlite")
    papers = sorted(MADE_BY_0_1_0.glob("*.nc"))
    for each in papers:
        shutil.copy(each, shop)
    monkeypatch.chdir(shop)
    monkeypatch.delenv("PINCORNER_DB", raising=False)
    assert run("upgrade").out == TOLD
    assert [path.read_bytes() for path in sorted(shop.glob("*.*"))] == [
        paper.read_bytes() for paper in papers
    ]


MACHINE = "format: 1\nmachines: [{name: m, dialect: NGC}]\n"


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("show", "ngc"), "no document is named ngc; it is called rs274 now"),
        (("show", "NGC-R", "--kind", "dialect"), "no dialect is named NGC-R; it is called rs274-t"),
        (("retire", "dialect", "ngc"), "no dialect is named ngc; it is called rs274 now"),
        (("history", "ngc"), "no document is named ngc; it is called rs274 now"),
        (("load", "m.yaml"), "dialect (m): no dialect is named NGC; it is called rs274 now"),
        (("load", "m.yaml", "--dry-run"), "no dialect is named NGC; it is called rs274 now"),
    ],
)  # fmt: skip
def test_the_old_name_is_answered(
    tmp_path: Path, run: Run, arguments: tuple[str, ...], told: str
) -> None:
    """Whoever asks a new registry for ngc is told what it is called, exit code 2."""
    make_registry(tmp_path / "r.sqlite", None)
    (tmp_path / "m.yaml").write_text(MACHINE, encoding="utf-8")
    words = [tmp_path / each if each == "m.yaml" else each for each in arguments]
    ran = run("--db", tmp_path / "r.sqlite", *words)
    assert ran.code == 2 and told in ran.err and ran.err.count("\n") == 1
    other = run("--db", tmp_path / "r.sqlite", "show", "ngc", "--kind", "pin")
    assert "called" not in other.err


@on_sqlite_alone
def test_a_dump_brings_its_own_names(upgraded: Upgraded, run: Run, tmp_path: Path) -> None:
    """A dump of the past loads with the dialects it brings, and no name in it is changed."""
    old = upgraded.location
    file, new = tmp_path / "old.yaml", tmp_path / "new.sqlite"
    assert run("--db", old, "dump", "--as-of", LAST_MOMENT, "-o", file).code == 0
    Registry.create(str(new), "mm", shipped_dialects(), "tester")
    assert run("--db", new, "load", file).code == 0
    now = documents(run, str(new))
    assert now["machine", "gantry-1"]["dialect"] == "ngc"
    assert now["dialect", "ngc"]["first"] == OLD_FIRST
    assert run("--db", new, "upgrade").out == "up to date already\n"
    assert documents(run, str(new)) == now
