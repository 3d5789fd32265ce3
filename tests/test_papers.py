"""Papers: whole files or none, never over an existing one, recorded with path and fingerprint."""

from __future__ import annotations

import json
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import pytest
import yaml
from conftest import Run
from plans import put
from worlds import BASE, setups

from pincorner.registry.writer import Writer
from pincorner.render.outputs.maps import map_json
from pincorner.render.pages.maps import MapFacts, SheetOfMap, render_map_page
from pincorner.setups.setup import OffsetRow
from pincorner.work.papers import file_stem

WRITERS = {
    "block": ("block", "left", "-o", "new.nc"),
    "sheet": ("sheet", "left", "-o", "new"),
    "map": ("map", "long-bench", "-o", "new.svg"),
    "map page": ("map", "long-bench", "-o", "new.html"),
    "dump": ("dump", "-o", "new.yaml"),
}
each_writer = pytest.mark.parametrize("line", WRITERS.values(), ids=WRITERS)
each_paper = pytest.mark.parametrize(
    "line", [words for words in WRITERS.values() if words[0] != "dump"]
)


def state(shop: Path) -> dict[str, bytes]:
    """Every file below a folder with its bytes."""
    return {
        path.relative_to(shop).as_posix(): path.read_bytes()
        for path in sorted(shop.rglob("*"))
        if path.is_file()
    }


def register(shop: Path, *names: str) -> None:
    """Put stations with those names on file."""
    lines = [
        f"  - {{name: {json.dumps(name, ensure_ascii=False)}, bed: long-bench, "
        f"stock: [150, 250, 18], pin: peg-20, pins: {{edge: [{a}3, {a}4], stop: {b}2}}, "
        "work_offsets: {a: G54}}"
        for name, (a, b) in zip(names, pairwise("BCDEFGHIJK"), strict=False)
    ]
    put(shop, "\n".join(["stations:", *lines, ""]))


@each_writer
def test_never_over_an_existing_file(shop: Path, run: Run, line: tuple[str, ...]) -> None:
    """A second run without --force exits 2 and changes nothing; with --force it replaces."""
    assert run(*line).code == 0
    target = shop / line[-1]
    target = target / "left.html" if target.is_dir() else target
    whole = target.read_bytes()
    target.write_bytes(b"mine")
    before = state(shop)
    ran = run(*line)
    assert (ran.code, ran.out) == (2, "")
    assert ran.err.endswith("exists; choose another name, or say --force to replace it\n")
    assert state(shop) == before
    assert run(*line, "--force").code == 0
    assert target.read_bytes() == whole


@each_writer
def test_replace_that_fails_leaves_nothing(
    shop: Path, run: Run, line: tuple[str, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    """When the file cannot be put in place there is no file, no staged file and no log entry."""

    def replace(self: Path, target: Path) -> Path:
        raise PermissionError(13, "Permission denied")

    before = state(shop)
    monkeypatch.setattr(Path, "replace", replace)
    monkeypatch.setattr(Path, "hardlink_to", replace)
    ran = run(*line)
    assert (ran.code, ran.out) == (2, "")
    assert "cannot be written: Permission denied" in ran.err
    assert state(shop) == before


@pytest.mark.parametrize("force", [False, True])
def test_third_sheet_that_fails_takes_the_others_back(
    shop: Path, run: Run, monkeypatch: pytest.MonkeyPatch, force: bool
) -> None:
    """When one sheet of many cannot be put in place, none is new and none is recorded."""
    before = state(shop)
    place: Callable[[Path, Path], Path] = Path.replace

    def replace(self: Path, target: Path) -> Path:
        if Path(target).name == "right.html":
            raise PermissionError(13, "Permission denied")
        return place(self, target)

    def hardlink_to(self: Path, target: Path) -> None:
        raise OSError(95, "Operation not supported")  # then files are renamed

    monkeypatch.setattr(Path, "replace", replace)
    monkeypatch.setattr(Path, "hardlink_to", hardlink_to)
    folder = ("-o", "sheets", "--paper", "letter", "--force") if force else ("-o", "new")
    assert run("sheet", "--all", *folder).code == 2
    assert state(shop) == before


@each_paper
@pytest.mark.parametrize("when", ["recording", "committing"])
def test_registry_that_fails_leaves_nothing(
    shop: Path, run: Run, line: tuple[str, ...], when: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """When the registry fails midway there is no file, no staged file and no log entry."""
    from sqlalchemy.engine import RootTransaction
    from sqlalchemy.exc import OperationalError

    def fail(*_: object) -> None:
        raise OperationalError("COMMIT", {}, Exception("database or disk is full"))

    before = state(shop)
    if when == "recording":
        monkeypatch.setattr(Writer, "record", fail)
    else:
        commit = RootTransaction.commit

        def maybe(self: RootTransaction) -> None:
            if self.connection.get_execution_options().get("writes"):
                fail()
            commit(self)

        monkeypatch.setattr(RootTransaction, "commit", maybe)
    ran = run(*line)
    assert (ran.code, ran.out) == (3, "")
    assert "disk is full" in ran.err and ran.err.count("\n") == 1
    monkeypatch.undo()
    assert state(shop) == before


@each_writer
def test_disk_that_fills_up_leaves_nothing(
    shop: Path, run: Run, line: tuple[str, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A staged file that cannot be opened is one line with exit code 2, and nothing is left."""
    place = Path.open

    def opened(self: Path, mode: str = "r", *rest: object, **options: object) -> object:
        if "x" in mode:
            raise OSError(28, "No space left on device")
        return place(self, mode, *rest, **options)  # type: ignore[call-overload]

    before = state(shop)
    monkeypatch.setattr(Path, "open", opened)
    ran = run(*line)
    assert (ran.code, ran.out) == (2, "")
    assert "cannot be written: No space left on device" in ran.err
    assert state(shop) == before


@each_writer
@pytest.mark.parametrize("place", ["none", "file"])
def test_folder_that_is_not_there(shop: Path, run: Run, line: tuple[str, ...], place: str) -> None:
    """A folder that is missing, or is a file, is one line with exit code 2 (sheets and maps make
    theirs)."""
    (shop / "file").write_text("mine", encoding="utf-8")
    before = state(shop)
    ran = run(*line[:-1], f"{place}/{line[-1]}")
    if line[0] == "sheet" and place == "none":
        assert ran.code == 0 and (shop / "none" / "new" / "left.html").is_file()
        return
    if line[0] == "map" and place == "none":
        assert ran.code == 0 and (shop / "none" / line[-1]).is_file()
        return
    assert (ran.code, ran.out) == (2, "")
    assert "fault" not in ran.err and ran.err.startswith(f"{Path(place)}")
    assert ran.err.count("\n") == 1
    assert state(shop) == before


def test_papers_are_recorded(shop: Path, run: Run) -> None:
    """History tells every paper's station, nest, fingerprint and path from the shop folder."""
    codes = [run("block", "end-bars", "-o", "p.nc"), run("sheet", "end-bars", "-o", "p"),
             run("map", "long-bench", "-o", "p/m.svg"), run("block", "end-bars", "-o",
             shop.parent / "out.nc")]  # fmt: skip
    assert [ran.code for ran in codes] == [0] * 4
    rows = run("offsets", "end-bars", "--json").json["offsets"]
    prints = {row["nest"]: row["fingerprint"] for row in rows}
    events = run("history", "end-bars", "--json").json["events"]
    told = [each["what"] for each in events if each["document_kind"] == "paper"]
    outside = (shop.parent / "out.nc").resolve().as_posix()
    expected = [f"{event} {prints[nest]} nest {nest} in {path}"
                for event, path in (("block", "p.nc"), ("sheet", "p/end-bars.html"),
                                    ("map", "p/m.svg"), ("block", outside))
                for nest in ("a", "b")]  # fmt: skip
    assert told[-8:] == expected


def test_standard_output_never_writes(shop: Path, run: Run) -> None:
    """What prints to standard output leaves the registry byte for byte as it was."""
    before = state(shop)
    for line in ("block left", "block end-bars --json", "explain left", "offsets", "dump", "list",
                 "show left", "show EECF-8F5A", "history", "schema", "load none.yaml",
                 "upgrade"):  # fmt: skip
        run(*line.split())
        assert state(shop) == before, line


def test_file_names() -> None:
    """Papers of odd names have names that every system takes, all different without case."""
    names = ["CON", "station-con", "lpt1.x", "a b", "a-b", "Straße", "κόσμος", "天板", "x" * 64]
    stems = [file_stem(name) for name in names]
    assert len({stem.casefold() for stem in stems}) == len(names)
    assert stems[3:] == names[3:]
    reserved = {"con", "prn", "aux", "nul", *(f"{a}{n}" for a in ("com", "lpt") for n in "123")}
    assert not [stem for stem in stems if stem.split(".")[0].lower() in reserved]


def test_names_that_differ_in_case_are_one_station(shop: Path, run: Run) -> None:
    """Straße and STRASSE are one name, so that their papers cannot overwrite each other."""
    register(shop, "Straße")
    ran = run("register", "STRASSE", "--bed", "long-bench", "--stock", "150,250,18",
              "--pin", "peg-20", "--corner", "B2", "--toward", "+x+y")  # fmt: skip
    assert ran.code == 2 and "is registered already" in ran.err


def test_a_sheet_never_replaces_another_stations(shop: Path, run: Run) -> None:
    """Even with --force a sheet does not take the file of a station with a similar name."""
    register(shop, "a b", "a-b")
    first, second = (run("sheet", name, "-o", "p", "--force").out for name in ("a b", "a-b"))
    assert first != second
    register(shop, "CON")
    assert run("sheet", "CON", "-o", "p").out == "p/station~CON.html\n"


@pytest.mark.parametrize("name", ["天" * 64, "𠀀" * 64])
def test_long_names_of_wide_letters(shop: Path, run: Run, name: str) -> None:
    """A name of 64 letters of three or four bytes each still gets its sheet."""
    register(shop, name)
    ran = run("sheet", name, "-o", "p")
    assert (ran.code, ran.err) == (0, "")


def test_one_sheet_for_a_station_named_twice(shop: Path, run: Run) -> None:
    """A station named twice on the command line gets one sheet."""
    assert run("sheet", "left", "LEFT", "-o", "p", "--json").json["files"] == ["p/left.html"]


def test_dump_to_file(shop: Path, run: Run) -> None:
    """dump -o writes the same UTF-8 text with LF that dump prints, and it loads again."""
    register(shop, "κόσμος")
    assert run("dump", "-o", "all.yaml").code == 0
    data = (shop / "all.yaml").read_bytes()
    assert data.decode("utf-8") == run("dump").out and b"\r" not in data
    assert yaml.safe_load(data)["format"] == 1
    ran = run("load", "all.yaml")
    assert ran.code == 0 and ran.out.startswith("0 new, 0 changed")


def test_pdf_in_the_way_is_told_before_anything_is_written(shop: Path, run: Run) -> None:
    """sheet --pdf that would replace a PDF writes no HTML page either."""
    (shop / "p").mkdir()
    (shop / "p" / "left.pdf").write_bytes(b"mine")
    before = state(shop)
    ran = run("sheet", "left", "-o", "p", "--pdf")
    assert ran.code == 2 and "left.pdf exists" in ran.err
    assert state(shop) == before


def test_a_shop_keeps_to_its_paper(shop: Path, run: Run) -> None:
    """Where no paper is named, sheets come on that of the newest sheet on record, else on A4."""
    assert "size: A4" in (shop / "sheets" / "left.html").read_text(encoding="utf-8")
    assert run("sheet", "left", "--paper", "letter", "-o", "one").code == 0
    assert run("sheet", "right", "-o", "two").code == 0
    assert "size: Letter" in (shop / "two" / "right.html").read_text(encoding="utf-8")
    assert run("sheet", "right", "--paper", "a4", "-o", "three").code == 0
    assert run("sheet", "left", "-o", "four").code == 0
    assert "size: A4" in (shop / "four" / "left.html").read_text(encoding="utf-8")


def test_the_map_tells_pins_to_take_out(shop: Path, run: Run) -> None:
    """`map --json` names pins of others that a jig would lie on."""
    over = ("--bed", "long-bench", "--stock", "500,230,18", "--pin", "peg-12")
    assert run("register", "board", *over, "--pins", "G6,J6,F8").code == 0
    told = run("map", "long-bench", "--json").json["stations"]
    (board,) = [each for each in told if each["station"] == "board"]
    assert board["take_out"] == ["I8"]


def test_the_map_tells_holes_and_stations(in_demo: Path, run: Run) -> None:
    """`map --json` has each hole with whose pin it is, and stations with the table's own rows."""
    told = run("map", "long-bench", "--json").json
    holes = {each["hole"]: each for each in told["holes"]}
    assert len(holes) == told["columns"] * told["rows"] == 135
    assert holes["D2"]["state"] == "used" and holes["D2"]["pins_of"] == ["left"]
    assert holes["C2"]["empty_for"] == ["left"] and holes["C2"]["pins_of"] == []
    assert holes["H5"]["state"] == "unusable" and holes["A1"]["state"] == "free"
    stations = {each["station"]: each for each in told["stations"]}
    assert [pin["hole"] for pin in stations["left"]["pins"]] == ["D2", "G2", "C4"]
    assert stations["left"]["take_out"] == [] and stations["left"]["sheet_void"] is False
    rows = run("offsets", "--json").json["offsets"]
    assert [nest for each in told["stations"] for nest in each["nests"]] == rows
    ran = run("map", "long-bench")
    assert ran.code == 2 and ran.err.startswith("-o: name a file")


@pytest.mark.parametrize("void", [True, False])
def test_page_and_json_of_a_map_say_alike_whether_a_sheet_is_void(void: bool) -> None:
    """A sheet of before shows its setup by the definition of then: it is void for no other reason
    than that it shows another setup."""
    (setup,) = setups(BASE)
    mark = "0000-0000" if void else setup.printed.first_fingerprint
    assert mark != setup.fingerprint
    told = MapFacts(sheets={"left": SheetOfMap("left.html", "left.html", (mark,))})
    bed, rows = setup.facts.bed, [OffsetRow(setup.facts, "a", setup)]
    page = render_map_page(bed, rows, None, None, told)
    assert ("shows another setup: void" in page) == void
    assert map_json(bed, rows, told)["stations"][0]["sheet_void"] == void


def test_all_sheets_but_those_of_refused_stations(shop: Path, run: Run) -> None:
    """`sheet --all` prints what it can, names the stations that cannot be located, and exits 1;
    that pages were there is said where some were."""
    ran = run("sheet", "--all", "-o", "new")
    assert ran.code == 0 and "pages that were there" not in ran.out
    assert "pages that were there are as they were" in run("sheet", "--all", "-o", "new").out
    put(shop, (
        "jigs:\n  - {name: panel-tray, footprint: [300, 280], seat: 18, height: 40, nests: "
        "[{name: a, zero: [25, 20], stock: {size: [200, 240, 20]}}]}\n"
    ))  # fmt: skip
    ran = run("sheet", "--all", "-o", "newer")
    assert ran.code == 1 and ran.err == ""
    lines = ran.out.splitlines()
    assert lines[:2] == ["newer/end-bars.html", "newer/roof.html"]
    assert lines[2].startswith("! no sheet: station left: edge pin G2 would touch")
    report = run("sheet", "--all", "-o", "new", "--force", "--json").json
    assert [each["station"] for each in report["refused"]] == ["left", "right", "spare"]
    assert report["files"] == ["new/end-bars.html", "new/roof.html"] and report["kept"] == []
    assert run("sheet", "left", "-o", "none").code == 2


@pytest.mark.parametrize("stated", ["0.0000001", "0", "-1", "0.00000001 in"])
def test_a_thickness_that_is_none(shop: Path, run: Run, stated: str) -> None:
    """A thickness of today that no stock can have is one line, for bare stock too."""
    for station in ("left", "roof"):
        ran = run("block", station, f"--stock-thickness={stated}")
        assert ran.code == 2 and ran.err.count("\n") == 1
        assert ran.err.startswith("--stock-thickness: expected a size above ")
