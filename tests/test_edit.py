"""`edit`: a document in somebody's editor, loaded when it is saved, all or nothing."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest
from conftest import Run

from pincorner.documents.fields import WholeDocument
from pincorner.documents.kinds import kind_of
from pincorner.documents.reading import read_files, read_text
from pincorner.documents.writing import values_in
from pincorner.errors import BadInput, UnknownName
from pincorner.render.text.commented import commented
from pincorner.units import Unit
from pincorner.work.first.editing import Editor, edit, editor_of_theirs
from pincorner.work.session import open_session

ROOT = Path(__file__).resolve().parent.parent
FILES = ["beehive.yaml", "example-mm.yaml", "example-in.yaml", "dialects.yaml"]


def documents(file: str) -> list[WholeDocument]:
    """The shipped documents of a file that are documents as they stand."""
    text = (ROOT / "fixtures_db" / file).read_text(encoding="utf-8")
    return [entry.document for entry in read_text(text, file)[1]]


@pytest.mark.parametrize("unit", ["mm", "in"])
@pytest.mark.parametrize("file", FILES)
def test_files_of_either_unit_say_the_same(file: str, unit: Unit) -> None:
    """A document written in mm or in inches, with its comments, comes back to the last bit."""
    for document in documents(file):
        text = commented(kind_of(document), values_in(document, unit), unit)
        tree, entries = read_text(text, file)
        assert tree.problems == [] and [each.document for each in entries] == [document], text


def test_inches_are_written_as_inches() -> None:
    """A length that an inch file said comes back as it was said; others say their mm."""
    (text,) = [
        commented("pin", values_in(each, "in"), "in")
        for each in documents("example-in.yaml")
        if each.name == "peg"
    ]
    assert "\n    shank: 0.75 " in text and "\n    body_tolerance: 0.0005" in text
    metric = next(each for each in documents("beehive.yaml") if each.name == "long-bench")
    assert values_in(metric, "in")["thickness"] == "36 mm"
    assert values_in(metric, "mm")["grid"]["pitch"] == [100, 100]


def changing(*changes: tuple[str, str]) -> Editor:
    """Somebody who makes one change after the other, an editor each, and then none."""
    left = list(changes)

    def edit(file: Path) -> None:
        if left:
            old, new = left.pop(0)
            text = file.read_text(encoding="utf-8")
            assert old in text, text
            file.write_text(text.replace(old, new), encoding="utf-8")

    return edit


def test_a_change_is_loaded(shop: Path, run: Run) -> None:
    """What is saved is loaded, with a line in the history, and nothing stays beside it."""
    edited = edit(open_session(None, "edit"), "station", "left", changing(("G55", "G58")))
    assert edited.loaded is not None and edited.loaded.summary.changed == [("station", "left")]
    assert "G58" in run("offsets", "left").out
    assert list(shop.glob("edit-*")) == []


def test_no_change_loads_nothing(shop: Path) -> None:
    """An editor that is closed without a change changes nothing."""
    assert edit(open_session(None, "edit"), "bed", "LONG-BENCH", changing()).loaded is None
    assert list(shop.glob("edit-*")) == []


def test_what_is_wrong_stands_beside_its_line(shop: Path, run: Run) -> None:
    """A wrong key is told below its line; mended in the same text, the change is loaded."""
    seen = []

    def look(file: Path) -> None:
        seen.append(file.read_text(encoding="utf-8"))
        changes = [("#access: front", "acess: front"), ("acess: front", "access: front")]
        changing(*changes[len(seen) - 1 : len(seen)])(file)

    edited = edit(open_session(None, "edit"), "station", "left", look)
    assert edited.loaded is not None and edited.loaded.summary.changed
    lines = seen[1].splitlines()
    at = next(number for number, line in enumerate(lines) if "acess: front" in line)
    assert lines[at + 1].strip() == (
        "#! stations[0].acess: unknown key; did you mean access? (in left)"
    )
    assert "access: front" in run("show", "left", "--kind", "station").out


def test_the_text_is_kept(shop: Path, run: Run) -> None:
    """Who gives up keeps the text, with its mistake beside it; the registry is as it was."""
    before = run("dump").out
    with pytest.raises(BadInput, match=r"the text is kept in .*edit-pin-peg-20\.yaml"):
        edit(open_session(None, "edit"), "pin", "peg-20", changing(("body: 20 ", "body: wide ")))
    kept = (shop / "edit-pin-peg-20.yaml").read_text(encoding="utf-8")
    assert "body: wide" in kept and "#! pins[0].body: expected a length" in kept
    assert run("dump").out == before


def test_a_document_of_the_shop_is_edited_itself(shop: Path, run: Run) -> None:
    """Where a file in `documents` holds it, that text is edited, and says the same after."""
    folder = shop / "documents"
    folder.mkdir()
    text = "# ours\nformat: 1\npins: [{name: peg-9, shank: 9, body: 9, height: 9}]\n"
    (folder / "pin.yaml").write_text(text, encoding="utf-8")
    assert run("load", "documents/pin.yaml").code == 0
    edited = edit(open_session(None, "edit"), "pin", "peg-9", changing(("height: 9", "height: 8")))
    assert edited.file is not None
    assert edited.file.read_text(encoding="utf-8") == text.replace("height: 9", "height: 8")
    assert read_files([edited.file])[0].document.model_dump()["height"] == 8


def test_a_station_whose_pins_were_chosen_is_edited_in_its_file(shop: Path, run: Run) -> None:
    """Pins that were chosen need not stand in the file; one that says otherwise is named."""
    folder = shop / "documents"
    folder.mkdir()
    text = (
        "format: 1\nunits: mm\nstations: [{name: nook, bed: long-bench, stock: [150, 100, 18], "
        "pin: peg-20, corner: K7, toward: +x+y, work_offsets: {a: G59.3}}]\n"
    )
    file = folder / "station.yaml"
    file.write_text(text, encoding="utf-8")
    assert run("load", "documents/station.yaml", "--yes").code == 0
    longer = ("[150, 100, 18]", "[160, 100, 18]")
    edited = edit(open_session(None, "edit"), "station", "nook", changing(longer))
    assert edited.file is not None and edited.otherwise is None
    assert file.read_text(encoding="utf-8") == text.replace(*longer)
    file.write_text(text, encoding="utf-8")  # as it was before, by hand
    edited = edit(open_session(None, "edit"), "station", "nook", changing(("160", "170")))
    assert (edited.file, edited.otherwise) == (None, file.resolve())


def test_somebody_else_meanwhile(shop: Path, run: Run) -> None:
    """A document that was changed while it was edited is not written over."""

    def other(file: Path) -> None:
        changing(("G55", "G58"))(file)
        assert run("retire", "run", "monday-sides").code == 0
        (shop / "o.yaml").write_text(run("show", "left", "--kind", "station").out.replace(
            "G55", "G59.3"), encoding="utf-8")  # fmt: skip
        assert run("load", "o.yaml", "--yes").code == 0

    first = [other]
    with pytest.raises(BadInput, match="changed by somebody else meanwhile"):
        edit(
            open_session(None, "edit"), "station", "left",
            lambda file: first.pop()(file) if first else None,
        )  # fmt: skip
    assert "G59.3" in run("offsets", "left").out


def test_another_name(shop: Path) -> None:
    """A document under another name is a new one; the old one stays, and that is told."""
    edited = edit(
        open_session(None, "edit"), "pin", "peg-12", changing(("peg-12   #", "peg-13   #"))
    )
    assert edited.before == "peg-12" and edited.loaded is not None
    assert edited.loaded.summary.added == [("pin", "peg-13")]


def test_who_is_not_there(shop: Path) -> None:
    """A name that is not on file is told with the nearest one."""
    with pytest.raises(UnknownName, match="did you mean left"):
        edit(open_session(None, "edit"), "station", "lefd", changing())


def test_editors(shop: Path, run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    """VISUAL comes before EDITOR; a command with options is taken; one that fails is told."""
    script = shop / "an editor.py"
    script.write_text(
        "import sys, pathlib\np = pathlib.Path(sys.argv[-1])\n"
        "p.write_text(p.read_text(encoding='utf-8').replace('G55', sys.argv[1]), encoding='utf-8')",
        encoding="utf-8",
    )
    monkeypatch.setenv("EDITOR", "no-such-editor")
    assert "the editor no-such-editor cannot be run" in run("edit", "station", "left").err
    monkeypatch.setenv("VISUAL", f'"{sys.executable}" "{script}" G58')
    ran = run("edit", "station", "left")
    assert ran.code == 0 and "changed station left" in ran.out, ran.err
    monkeypatch.setenv("VISUAL", f'"{sys.executable}" -c "raise SystemExit(3)"')
    assert "ended with 3; nothing is loaded" in run("edit", "station", "left").err


def test_no_terminal_and_no_editor(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without a terminal nothing is opened by itself; Windows has an editor of its own."""
    monkeypatch.delenv("EDITOR", raising=False)
    monkeypatch.delenv("VISUAL", raising=False)
    with pytest.raises(BadInput, match="set EDITOR"):
        editor_of_theirs(at_a_terminal=False)
    called: list[list[str]] = []

    class Done:
        returncode = 0

    def ran(words: list[str], **_: object) -> Done:
        called.append(words)
        return Done()

    monkeypatch.setattr("pincorner.work.first.editing.IS_WINDOWS", True)
    monkeypatch.setattr("subprocess.run", ran)
    editor_of_theirs(at_a_terminal=True)(Path("x.yaml"))
    assert called == [["notepad", "x.yaml"]]
    monkeypatch.setenv("EDITOR", r'"C:\Program Files\pen\pen.exe" -wait')
    editor_of_theirs(at_a_terminal=True)(Path("x.yaml"))
    assert called[1] == [r"C:\Program Files\pen\pen.exe", "-wait", "x.yaml"]
