"""Commands and what the registry keeps: which registry, units, notes, the past, odd names."""

from __future__ import annotations

import json
import re
import sys
from pathlib import Path
from subprocess import PIPE
from subprocess import run as run_process
from typing import Any

import pytest
import yaml
from conftest import Run
from plans import change, document
from worlds import make_registry

from pincorner.documents.beds import Pin
from pincorner.documents.fields import WholeDocument, key_of
from pincorner.documents.jigs import Jig
from pincorner.documents.kinds import references
from pincorner.documents.machines import Dialect, Machine
from pincorner.documents.records import Program
from pincorner.documents.stations import Station
from pincorner.registry import store, times
from pincorner.registry.engine import Writing
from pincorner.registry.reader import Reader
from pincorner.registry.store import Registry
from pincorner.setups.transform import offset_rows
from pincorner.work.kept import past
from pincorner.work.kept.past import past_states
from pincorner.work.session import Library

TRAY = ("--bed", "long-bench", "--jig", "panel-tray", "--pin", "peg-20")
PINS = ("--pins", "B2,E2,A4")


OPENINGS = {
    "list": "r",
    "show left": "r",
    "offsets": "r",
    "explain left": "r",
    "block left": "r",
    "check hand-hold --station left -o c.svg": "r",
    "run three-sides": "r",
    "block left -o b.nc": "rw",
    "sheet left right -o s": "rw",
    "map long-bench -o m.html": "rw",
    "disturbed long-bench --note dropped": "w",
    "retire run three-sides": "w",
}
"""What commands open the registry for: to read, to write."""


@pytest.mark.parametrize("line", OPENINGS)
def test_a_command_reads_at_one_moment(
    shop: Path, run: Run, monkeypatch: pytest.MonkeyPatch, line: str
) -> None:
    """All that a command reads before it writes is of one view, and it is written in one change;
    the registry is opened for nothing else."""
    opened: list[str] = []
    transaction = store.transaction

    def counted(engine: Any, location: str, writing: Writing | None = None) -> Any:
        opened.append("r" if writing is None else "w")
        return transaction(engine, location, writing)

    monkeypatch.setattr(store, "transaction", counted)
    assert run(*line.split()).code in (0, 1)
    assert "".join(opened) == OPENINGS[line]


def test_which_registry(tmp_path: Path, run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    """--db comes before PINCORNER_DB, that before the nearest fixtures_db folder upward."""
    deep = tmp_path / "shop" / "a" / "b"
    deep.mkdir(parents=True)
    places = {"outer": tmp_path, "inner": tmp_path / "shop", "stated": tmp_path / "x",
              "said": tmp_path / "y"}  # fmt: skip
    for name, folder in places.items():
        (folder / "fixtures_db").mkdir(parents=True)
        text = f"format: 1\npins: [{{name: {name}, shank: 8, body: 8, height: 9}}]\n"
        make_registry(folder / "fixtures_db" / "registry.sqlite", text)
    file = {name: folder / "fixtures_db" / "registry.sqlite" for name, folder in places.items()}
    monkeypatch.chdir(deep)
    monkeypatch.delenv("PINCORNER_DB", raising=False)
    assert "inner" in run("list", "pins").out
    monkeypatch.setenv("PINCORNER_DB", str(file["stated"]))
    assert "stated" in run("list", "pins").out
    assert "said" in run("--db", file["said"], "list", "pins").out
    url = f"sqlite:///{file['said'].as_posix()}"
    assert "said" in run("--db", url, "list", "pins").out
    monkeypatch.setenv("PINCORNER_DB", url)
    assert "said" in run("list", "pins").out
    monkeypatch.setenv("PINCORNER_DB", "")
    assert "inner" in run("list", "pins").out


def test_display_unit(tmp_path: Path, run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    """Bare lengths are in the unit given to init; a length with its unit is what it says."""
    monkeypatch.chdir(tmp_path)
    assert run("--db", "r.sqlite", "init", "--units", "in").code == 0
    monkeypatch.setenv("PINCORNER_DB", str(tmp_path / "r.sqlite"))
    (tmp_path / "a.yaml").write_text(
        "format: 1\nunits: mm\nmachines: [{name: m, dialect: rs274, units: in}]\n"
        "beds: [{name: b, machine: m,"
        " grid: {columns: 9, rows: 9, pitch: [50, 50], hole: 20}, pose: {x: 0, y: 0, angle: 0}}]\n"
        "pins: [{name: p, shank: 20, body: 20, height: 20}]\n"
    )
    assert run("load", "a.yaml").code == 0
    ran = run("register", "s", "--bed", "b", "--stock", "6, 254 mm, 3/4", "--under", "1/8",
              "--pin", "p", "--pins", "B1,C1,A3", "--work-offset", "a=G55")  # fmt: skip
    assert ran.code == 0 and " in " in ran.out
    document = run("show", "s", "--json").json["documents"][0]["document"]
    assert (document["stock"], document["under"]) == ([152.4, 254, 19.05], 3.175)
    assert "Z0 IS 1.1250 INCH" in run("block", "s", "--stock-thickness", "1").out
    assert "Z0 IS 1.1250 INCH" in run("block", "s", "--stock-thickness", "25.4 mm").out


def test_note_and_by(shop: Path, run: Run) -> None:
    """--note and --by stand in the history, on one line and without marks that turn text."""
    ran = run("register", "s", *TRAY, *PINS, "--note", "new\x1b[31m")
    assert ran.code == 2 and "--note: a note holds no control character" in ran.err
    words = ("--note", "new\nbench", "--by", "Ada\nL\u202e")
    assert run("register", "s", *TRAY, *PINS, *words).code == 0
    assert run("retire", "station", "s", "--note", "worn", "--by", "Bo").code == 0
    lines = run("history", "s").out.splitlines()
    assert [line.split("  ", 1)[1] for line in lines] == [
        "Ada L  register  station s: new (new bench)",
        "Bo  retire  station s: retired (worn)",
    ]
    events = run("history", "s", "--json").json["events"]
    assert [event["why"] for event in events] == ["new\nbench", "worn"]


def test_show_fingerprint_finds_past_states(shop: Path, run: Run) -> None:
    """An old fingerprint shows the old numbers after the bed moved, a new register, a retire."""
    old = run("offsets", "left", "--json").json["offsets"][0]["fingerprint"]
    change(shop, "bed", "long-bench", pose={"x": 60.5, "y": 55, "angle": 0})
    moved = run("offsets", "left", "--json").json["offsets"][0]["fingerprint"]
    assert run("register", "left", *TRAY, *PINS, "--replace").code == 0
    runs = (("run", name) for name in ("monday-sides", "three-sides"))
    for kind, name in (*runs, ("station", "left")):
        assert run("retire", kind, name).code == 0
    assert old != moved
    assert f"# setup {old}: station left, nest a, G55 X294.990 Y" in run("show", old).out
    assert f"# setup {moved}: station left, nest a, G55 X295.490 Y" in run("show", moved).out
    shown = run("show", old.lower(), "--json").json["documents"][0]
    assert shown["fingerprint"] == old and shown["document"]["pins"]["edge"] == ["D2", "G2"]


def test_past_states_look_once_at_what_stays(shop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What stations rest on is looked for once, however many changes touch none of it."""
    looks: list[object] = []

    def counted(document: WholeDocument) -> Any:
        looks.append(document)
        return references(document)

    monkeypatch.setattr(past, "references", counted)
    registry, counts = Registry(str(shop / "fixtures_db" / "registry.sqlite")), list[int]()
    for at in range(6):
        with registry.writing("me", "x") as writer:
            writer.put([Program(name="of no station", file=f"{at}.nc")])
        looks.clear()
        with registry.reading() as reader:
            assert list(past_states(reader))
        counts.append(len(looks))
    assert counts[-1] == counts[1] > 0


def test_past_states_pass_over_what_is_as_it_was(shop: Path, run: Run) -> None:
    """Going back, every station that was otherwise behind a change is named there, by whatever
    document or verification it was; one that nothing touched is not."""
    with Registry(str(shop / "fixtures_db" / "registry.sqlite")).reading() as reader:
        before = reader.last_change

    def put(model: type[WholeDocument], name: str, **keys: object) -> None:
        with Registry(str(shop / "fixtures_db" / "registry.sqlite")).writing("me", "x") as writer:
            writer.put([writer.reader.get(model, name).model_copy(update=keys)])

    put(Station, "left", note="Clean it.")
    put(Pin, "peg-20", height=23.0)
    put(Machine, "gantry-1", max_skew=0.2)
    put(Program, "hand-hold", units="in")
    put(Dialect, "rs274", line_length=200)
    for line in (
        "survey long-bench long-bench-survey.csv --accept",
        "retire run monday-sides",
        "disturbed long-bench --note off",
        "resurface long-bench --depth 0.1",
    ):
        assert run(*line.split(), "--yes").code in (0, 1)
    for station in ("left", "right"):
        row = run("offsets", station, "--json").json["offsets"][0]
        assert run("verify", station, "--x", row["x_mm"], "--y", row["y_mm"]).code in (0, 1)
    put(Station, "roof", note="Clean it.")
    assert run("verify", "left", "--strike", "1", "--note", "a slip").code in (0, 1)
    put(Jig, "panel-tray", height=41.0)
    assert run("retire", "surfacing", "long-bench", "--note", "wrong").code == 0
    with Registry(str(shop / "fixtures_db" / "registry.sqlite")).reading() as reader:
        there, known = dict[int, dict[str, object]](), dict[str, object]()
        for change in sorted({row["id"] for row in reader.changes()}, reverse=True):
            library = Library(Reader(reader.connection, change))
            there[change] = {
                key_of(each.name): [row.setup and row.setup.fingerprint
                                    for row in offset_rows(library.facts(each))]
                for each in library.stations(())
            }  # fmt: skip
        named = dict(past_states(reader))
        mine = list(past_states(reader, {"left"}))
        for change, now in there.items():
            known |= {key: now[key] for key in named.get(change, ())}
            assert {key: known.get(key) for key in now} == now, change
    assert named[before] == ["left"] and named[before + 9] == sorted(there[before + 9])
    assert {key for _, keys in mine for key in keys} == {"left"} and len(named) < len(there)


def test_show_fingerprint_of_todays_stock(shop: Path, run: Run) -> None:
    """The fingerprint on a block that was written for today's stock thickness is found."""
    assert run("block", "left", "--stock-thickness", "19", "-o", "today.nc").code == 0
    printed = re.search(r"[0-9A-F]{4}-[0-9A-F]{4}", (shop / "today.nc").read_text())
    assert printed is not None
    ran = run("show", printed[0])
    assert ran.code == 0 and "left" in ran.out


def test_offsets_as_of(shop: Path, run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    """offsets --as-of a day returns that day's offset after a later change."""
    monkeypatch.setattr(times, "now_text", lambda: "2099-01-04T12:00:00.000000Z")
    moved = {**document(shop, "bed", "long-bench"), "pose": {"x": 61.25, "y": 55, "angle": 0}}
    (shop / "bed.yaml").write_text(json.dumps({"format": 1, "beds": [moved]}), encoding="utf-8")
    assert run("load", "bed.yaml", "--yes").code == 0

    def x_mm(*options: str) -> float:
        return float(run("offsets", "left", *options, "--json").json["offsets"][0]["x_mm"])

    assert x_mm() == pytest.approx(296.24)
    assert x_mm("--as-of", "2099-01-02") == pytest.approx(294.99)
    assert x_mm("--as-of", "2099-01-05") == pytest.approx(296.24)
    assert x_mm("--as-of", "2099-01-04T11:59:59Z") == pytest.approx(294.99)
    assert x_mm("--as-of", "2099-01-04T12:00Z") == pytest.approx(296.24)
    assert "X294.990" in run("block", "left", "--as-of", "2099-01-02").out
    assert x_mm("--as-of", "20990104") == pytest.approx(296.24)


@pytest.mark.parametrize("name", ["-x", "天板", "A.b+c_d 1", "W" * 64])
def test_register_odd_names(shop: Path, run: Run, name: str) -> None:
    """Any name that the rule allows registers, lists, prints and retires."""
    options = [*TRAY, *PINS, "--work-offset", "a=G54"]
    assert run("register", *options, "--", name).code == 0
    assert name in run("offsets", "--", name).out
    for command in ("explain", "block", "sheet", "show", "history"):
        assert run(command, "--", name).code == 0, command
    assert run("retire", "station", "--", name).code == 0


@pytest.mark.skipif(sys.platform != "linux", reason="/dev/full and >&- are of Linux shells")
@pytest.mark.parametrize(("command", "where"), [("offsets --json", "full"), ("offsets", "closed")])
def test_output_that_cannot_be_written(in_demo: Path, command: str, where: str) -> None:
    """A full disk behind standard output, or none at all, is one clear line, not a traceback."""
    words = [sys.executable, "-m", "pincorner", *command.split()]
    if where == "full":
        with Path("/dev/full").open("wb") as full:
            done = run_process(words, stdout=full, stderr=PIPE, check=False)
    else:
        closed = ["/bin/sh", "-c", 'exec "$0" "$@" >&-', *words]
        done = run_process(closed, stderr=PIPE, check=False)
    assert done.returncode == 2
    assert b"Traceback" not in done.stderr and b"a fault in pincorner" not in done.stderr
    assert done.stderr.count(b"\n") == 1


def test_registering_anew_keeps_what_no_option_states(shop: Path, run: Run) -> None:
    """On the same bed with the same jig all that no option states stays; what changed is told."""
    assert run("register", "left", *TRAY, *PINS, "--replace").out.startswith(
        "changed: pins, corner, toward\nkept from before: work_offsets, program, clamps, note\n"
    )
    shown = run("show", "left", "--kind", "station").out
    for kept in ("name: c1", "Recess faces the operator", "a: G55", "program: hand-hold"):
        assert kept in shown


def test_one_option_changes_one_key(shop: Path, run: Run) -> None:
    """`register NAME --program X` alone changes that alone, and so does each other option."""
    before = yaml.safe_load(run("show", "right", "--kind", "station").out)["stations"][0]
    for words, key, value in (
        (("--program", "hand-hold"), "program", "hand-hold"),
        (("--z-zero", "seat"), "z", {"zero": "seat"}),
        (("--program-angle", "0"), "program_angle", None),
        (("--pins", "N3,N5,L2"), "pins", {"edge": ["N3", "N5"], "stop": "L2"}),
    ):
        assert run("register", "right", *words, "--json").json["changed"] == [key]
        now = yaml.safe_load(run("show", "right", "--kind", "station").out)["stations"][0]
        before.pop(key, None)
        assert now == {**before, **({} if value is None else {key: value})}
        before = now
    changes = run("history", "right").out.count(" register ")
    assert run("register", "right", "--z-zero", "seat").out.startswith("nothing changed\n")
    assert run("history", "right").out.count(" register ") == changes


def test_what_register_would_lose_is_asked_for(shop: Path, run: Run) -> None:
    """With another jig nothing unstated can stay: it is named, and a script has to say --yes."""
    bare = ("--bed", "long-bench", "--stock", "150,250,18", "--corner", "A2", "--toward", "+x+y",
            "--pin", "peg-20", "--replace")  # fmt: skip
    refused = run("register", "left", *bare)
    assert refused.code == 2 and refused.out == ""
    assert refused.err == (
        "station left would lose what no option states: work offset G55 of nest a, program "
        "hand-hold, clamp c1, note; if that is right, say --yes\n"
    )
    assert "clamps" in run("show", "left", "--kind", "station").out
    told = run("register", "left", *bare, "--yes", "--json").json
    assert (told["kept"], told["gone"]) == ([], ["work_offsets", "program", "clamps", "note"])
    assert "clamps" not in run("show", "left", "--kind", "station").out


def test_register_names_parts_that_go(shop: Path, run: Run) -> None:
    """Of keys stated in part, the codes of other nests and pins of their own are named as well."""
    tray = ("--jig", "panel-tray", "--pins", "N3,N6,L2", "--turn", "90", "--replace")
    refused = run("register", "end-bars", *tray, "--work-offset", "a=G57", "--z-set", "touch")
    assert (
        "states: work offset G58 of nest b, Z zero at seat, program end-bar-notch; if"
        in refused.err
    )
    own = "register: a pin of its own"
    (shop / "own.yaml").write_text(
        "format: 1\nstations:\n- {name: own, bed: long-bench, jig: panel-tray, pin: peg-20, "
        f"note: '{own}', pins: {{edge: [{{hole: B2, pin: peg-12}}, E2], stop: A4}}}}\n",
        encoding="utf-8",
    )
    assert run("load", "own.yaml").code == 0
    assert run("register", "own", "--pins", "B2,D2,A4").code == 0
    shown = yaml.safe_load(run("show", "own").out)["stations"][0]
    assert shown["pins"]["edge"] == [{"hole": "B2", "pin": "peg-12"}, "D2"]
    refused = run("register", "own", "--pins", "C2,E2,A4")
    assert "would lose what no option states: pin peg-12 in hole B2; if" in refused.err
    assert run("register", "own", "--corner", "B2", "--toward", "+x+y").err == refused.err


def test_pins_that_were_chosen_are_chosen_anew_for_another_place(shop: Path, run: Run) -> None:
    """They stay with the program, and are chosen anew with the quadrant or the kind of pin."""
    assert (
        "pins"
        not in run("register", "spare", "--program", "hand-hold-turned", "--json").json["changed"]
    )
    told = run("register", "spare", "--pin", "peg-12", "--json").json
    assert told["chosen"] and told["changed"][0] == "pin"


def test_a_station_that_is_not_there_needs_its_place(shop: Path, run: Run) -> None:
    """A slip in the name changes nothing: a new station needs bed, pin and jig."""
    ran = run("register", "lefd", "--program", "hand-hold")
    assert ran.code == 2 and "station lefd is not registered yet: say --bed, --pin" in ran.err


BODY = """
format: 1
stations:
  - {name: body, bed: long-bench, stock: [250, 205, 30], stock_zero: [125, 100], pin: peg-20,
     pins: {edge: [B6, C6], stop: A7}, turn: 90, program_angle: 90, pins_pressed: false,
     max_skew: 0.2, under: 3, z: {zero: surface}, work_offsets: {a: G55}, program: roof-groove,
     access: back, load: 3 min, note: by the door,
     clamps: [{name: toe, from: [100, 190], to: [130, 240], top: 50}]}
"""


def test_a_station_like_another_takes_over_all_but_its_place(shop: Path, run: Run) -> None:
    """Every key of the document but place, work offset, note and measured holes; what is stated
    beside comes before it, and the quadrant is the other one's where none is stated."""
    (shop / "body.yaml").write_text(BODY, encoding="utf-8")
    assert run("load", "body.yaml").code == 0
    twin = run("register", "twin", "--like", "body", "--corner", "H6", "--json").json
    assert twin["taken"] == [
        "as station body: bed, stock, pin, toward, stock_zero, turn, pins_pressed, program_angle, "
        "max_skew, under, z, program, access, load, clamps; not its note",
        "work offset of nest a: G59.2, the next that no station of gantry-1 has",
    ]  # G56 to G59.1 are the demo's
    first, second = (
        yaml.safe_load(run("show", name).out)["stations"][0] for name in ("body", "twin")
    )
    assert second.pop("pins")["chosen"] and (second.pop("corner"), second.pop("toward")) == (
        "H6",
        "+x+y",
    )
    assert second.pop("work_offsets") == {"a": "G59.2"}
    gone = {"pins": first.pop("pins"), "note": first.pop("note")}
    assert gone["note"] and first.pop("work_offsets") == {"a": "G55"}
    assert first | {"name": "twin"} == second
    third = ("register", "third", "--like", "twin", "--pins", "L6,M6,K7")
    told = run(*third, "--under", "5", "--work-offset", "G54", "--json").json
    assert len(told["taken"]) == 1 and "under" not in told["taken"][0]
    shown = run("show", "third").out
    assert "  under: 5\n" in shown and "  work_offsets: {a: G54}\n" in shown
    assert "  toward" not in shown and "  - name: toe\n" in shown
    other = ("register", "other", "--like", "body", "--stock", "200,205,30", "--corner", "B2")
    told = run(*other, "--json").json["taken"][0]
    assert told.endswith("; not its stock_zero, clamps, note"), "two count from that corner"
    for words, said in (
        (("fourth", "--like", "body"), "station fourth: where does it lie? Say --corner"),
        (("fourth", "--like", "bodi", "--corner", "H2"), "no station is named bodi; did you mean "),
        (("third", "--like", "body", "--corner", "H2"), "station third is registered already; "),
        (
            ("fourth", "--like", "end-bars", "--corner", "H2"),
            "lie? On dowels say --pins, the round",
        ),
    ):
        ran = run("register", *words)
        assert ran.code == 2 and said in ran.err


def test_a_station_like_another_gets_the_next_free_work_offsets(shop: Path, run: Run) -> None:
    """Nest by nest, behind those of the other one, then from the first; where none is left, that is
    told, and none is taken from another station."""
    like = ("--like", "end-bars", "--pins", "A2,E2", "--json")
    first = run("register", "bars-2", *like).json["offsets"]
    assert [each["work_offset"] for each in first] == ["G59.2", "G59.3"]
    second = run("register", "bars-3", *like).json
    assert [each["work_offset"] for each in second["offsets"]] == ["G54", None]
    assert second["warnings"][0] == (
        "station bars-3: no work offset is left for nest b: dialect rs274 has none that no station "
        "of gantry-1 has; say --work-offset"
    )


def test_the_only_bed_is_taken_and_told(shop: Path, run: Run) -> None:
    """Of a new station whose jig is stated; of several pins one has to be named."""
    at = ("register", "new", "--jig", "panel-tray", "--pins", "B2,E2,A4")
    assert run(*at).err == "station new is not registered yet: say --pin, peg-12, peg-20\n"
    assert run(*at, "--pin", "peg-20").out.startswith("bed long-bench: the only one on file\n")


def test_a_shop_folder_names_its_registry(in_demo: Path, run: Run, tmp_path: Path) -> None:
    """--db takes the folder that `demo` and `init` print as well as the file in it."""
    assert run("--db", str(in_demo), "offsets", "left").out == run("offsets", "left").out
    assert "there is no registry" in run("--db", str(tmp_path), "offsets").err


def test_history_of_a_bed_tells_what_was_recorded_of_it(shop: Path, run: Run) -> None:
    """Its surveys, surfacings and disturbances stand with its own changes, taken back ones too."""
    run("survey", "long-bench", "long-bench-survey.csv", "--accept")
    run("resurface", "long-bench", "--depth", "0.3", "--note", "skimmed")
    run("disturbed", "long-bench", "--note", "somebody hit it")
    run("retire", "surfacing", "long-bench", "--note", "it was another bed")
    told = run("history", "long-bench").out
    for words in ("bed long-bench: new", "survey 20", ": new (skimmed)", "(somebody hit it)",
                  ": retired (it was another bed)"):  # fmt: skip
        assert words in told, told
    assert "surfacing" not in run("history", "left").out


def test_pages_go_where_they_are_named(shop: Path, run: Run) -> None:
    """map and sheet make the folder of a file, a run's page may be a file, places a page."""
    for words, made in (
        (("map", "long-bench", "-o", "new/deep/map.html"), "new/deep/map.html"),
        (("sheet", "--run", "monday-sides", "-o", "papers/run.html"), "papers/run.html"),
        (("sheet", "--run", "monday-sides", "-o", "runs"), "runs/run monday-sides.html"),
        (("place", "panel-tray", "--bed", "long-bench", "-o", "places.html"), "places.html"),
    ):
        assert run(*words).code == 0, words
        assert (shop / made).is_file(), list(shop.rglob("*monday*"))
    page = (shop / "places.html").read_text(encoding="utf-8")
    assert "<h1>Places on bed long-bench</h1>" in page and "<svg" in page


def test_sheets_of_no_stations(tmp_path: Path, run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    """In a shop without stations `sheet --all` says so, and makes no folder."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("PINCORNER_DB", raising=False)
    assert run("init", ".").code == 0
    ran = run("sheet", "--all")
    assert ran.code == 2 and ran.err.startswith("there are no stations yet")
    assert not (tmp_path / "sheets").exists()


def test_help_names_arguments_one_way(run: Run) -> None:
    """NAME, [NAME] where it may be left out, NAME... for several; no types of a language."""
    import typer.main

    from pincorner.cli.main import app

    for name in typer.main.get_command(app).commands:  # type: ignore[attr-defined]
        told = run(name, "--help").out
        assert not re.search(r"<\w+(\[\w+\])?>|\{|\[\[|\.\]\.", told), told
    assert "Usage: pincorner offsets [OPTIONS] [STATION...]" in run("offsets", "--help").out
    assert "Usage: pincorner load [OPTIONS] FILE..." in run("load", "--help").out
