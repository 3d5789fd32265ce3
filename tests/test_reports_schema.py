"""The reports' JSON against their own schemas, by a validator that knows nothing of them."""

from __future__ import annotations

import re
import shlex
import shutil
import subprocess
import sys
from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path
from typing import Any

import pytest
import typer
from conftest import Run
from jsonschema import Draft202012Validator

from pincorner.cli.main import app
from pincorner.documents.schema import documents_schema
from pincorner.render.outputs.catalogue import REPORTS
from pincorner.render.outputs.schema import report_schema
from pincorner.render.outputs.shapes import UNITS

ROOT = Path(__file__).resolve().parent.parent
SHOPS = ROOT / "tests" / "recordings" / "shops"

DEMO = """
load more.yaml --dry-run
load more.yaml
list
list stations
show left
show long-bench
show panel-tray
show gantry-1
show FINGERPRINT
offsets
offsets left right
block left
block end-bars
sheet left -o papers
map long-bench
register bench --bed long-bench --jig panel-tray --pin peg-20 --pins B2,E2,A4
register bench --bed long-bench --jig panel-tray --pin peg-20 --corner C6 --toward +x+y --replace
check hand-hold --station left
check hand-hold --station roof
check no-tool.nc --station left
check unread.nc --station left
stamp hand-hold --station left -o new.nc
stamp unread.nc --station left -o unread-2.nc --accept no-offset --accept not-read --accept no-cut \
--note known
repeat roof-groove --stations roof --retract -5 -o two.nc
survey long-bench two.csv
survey long-bench survey.csv --accept
resurface long-bench --depth 0.4
show DAY
verify left --x 295.03 --y 185.02
verify left --x 295.03 --y 185.02 --z -80
verify left --strike 2 --note "another jig"
status
refresh
run three-sides
place end-bar-cradle --bed long-bench --pin peg-20
place end-bar-cradle --bed long-bench --pin peg-20 --count 2
place --stock 2000,200,18 --bed long-bench --pin peg-12
history
history left
offsets
adopt old.csv --bed long-bench
offsets old
"""

INCH = """
load shop.yaml
offsets
block left
check front --station left
repeat front --stations left,right --retract -0.5 --accept outside-stock --accept cuts-seat \
--note known -o two.nc
survey oak survey.csv
verify left --x 3.882 --y 7.371
run both
place "drawer tray" --bed oak --pin dowel --count 1
show left
status
"""

REFUSED = """
load good.yaml lost.yaml
offsets
offsets hanging apart hole-less
resurface long --surface -117 --slat L3
show hanging
list
check groove --station hanging
run both
status
history
"""

DOCUMENTS = documents_schema()
"""Checked against its edition by test_schema.py."""

SHOWN = {"demo": DEMO, "inch": INCH, "refused": REFUSED}

NAMED_BY_THE_SHOP = {
    "fingerprints", "work_offset_extents_mm", "tools", "waits_s", "work_offsets"
}  # fmt: skip
"""Keys under which names, codes or numbers of the shop are keys."""

PURE_NUMBERS = {
    "format", "k", "chi2", "chi2_limit", "dof", "points", "count", "number", "line",
    "change", "columns", "rows",
    "last_line", "lines",
    "parts", "spindle_share", "operator_share", "slope_x", "slope_y", "ways", "found", "asked",
    "most", "left_out", "gain"}  # fmt: skip
"""Keys of numbers that have no unit."""


def report_of(line: str) -> str:
    """The report that a line prints: its command's, or that of an option which has its own."""
    own = {tuple(home.line.split()): name for name, home in REPORTS.items() if home.line}
    command, *words = shlex.split(line)
    return next((own[command, word] for word in words if (command, word) in own), command)


@cache
def validator(command: str) -> Draft202012Validator:
    """What judges a command's report."""
    return Draft202012Validator(report_schema(command))


def enter(name: str, folder: Path, demo: Path, run: Run) -> None:
    """Make a shop in a folder that is the working folder, its own documents not yet loaded."""
    if name != "demo":
        shutil.copytree(SHOPS / name, folder, dirs_exist_ok=True)
        assert run("init", ".", "--units", "in" if name == "inch" else "mm").code == 0
        return
    shutil.copytree(demo, folder, dirs_exist_ok=True)
    shutil.copy(SHOPS / "demo" / "survey.csv", folder)
    for file, text in {
        "more.yaml": "format: 1\npins: [{name: peg-8, shank: 8, body: 8, height: 12}]\n",
        "no-tool.nc": "G21 G90\nG1 X5 Y5 Z-1 F100\nM30\n",
        "unread.nc": "G21 G90\nX#5\nG0 Z5\nM30\n",
        "old.csv": "station,x,y,z,jig\nold,295,185,-42,panel-tray\n",
        "two.csv": "hole,x_mm,y_mm,z_mm\nA1,60.1,55,-120\nO1,1460,55.1,-120.1\n",
    }.items():
        (folder / file).write_text(text, encoding="utf-8")


def objects(value: Any, path: str = "", key: str = "") -> Iterator[tuple[str, dict[str, Any]]]:
    """Every object with keys of ours, and where it stands; entries of a list are one place."""
    if isinstance(value, list):
        for each in value:
            yield from objects(each, f"{path}[]", key)
    elif isinstance(value, dict):
        ours = key not in NAMED_BY_THE_SHOP
        if ours:
            yield path, value
        for inner, each in value.items():
            yield from objects(each, f"{path}.{inner if ours else '*'}", inner if ours else "")


def open_places(schema: Any, path: str = "") -> Iterator[str]:
    """Where a schema says nothing of a value, or takes objects with keys that it does not name."""
    if not schema.keys() & {"type", "const", "enum", "anyOf", "$ref"}:
        yield path
    if "object" in str(schema.get("type")):
        named = schema.get("additionalProperties")
        if named is not False and (not isinstance(named, dict) or "properties" in schema):
            yield path
        if isinstance(named, dict):
            yield from open_places(named, f"{path}.*")
    for key, each in schema.get("properties", {}).items():
        yield from open_places(each, f"{path}.{key}")
    if "array" in str(schema.get("type")):
        for each in (schema.get("items", {}), *schema.get("prefixItems", ())):
            if each is not False:
                yield from open_places(each, f"{path}[]")
    for each in schema.get("anyOf", ()):
        yield from open_places(each, path)


def tampered(report: dict[str, Any]) -> Iterator[str]:
    """The report with one key renamed, or one more, at each place once; put right again behind."""
    seen: set[str] = set()
    for path, each in objects(report):
        for key in list(each):
            if f"{path}.{key}" not in seen:
                seen.add(f"{path}.{key}")
                each[f"{key}_"] = each.pop(key)
                yield f"{path}.{key} renamed"
                each[key] = each.pop(f"{key}_")
        if path not in seen:
            seen.add(path)
            each["unknown"] = None
            yield f"{path}.unknown"
            del each["unknown"]


@pytest.mark.parametrize("name", SHOWN)
def test_reports_are_as_their_schemas_say(
    name: str, tmp_path: Path, demo_once: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What a command prints its schema takes, with its keys in that order; of the shop in inches
    it refuses what is printed with any key renamed or unknown."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("PINCORNER_DB", raising=False)
    enter(name, tmp_path, demo_once, run)
    asked = {
        "FINGERPRINT": lambda run: run("offsets", "--json").json["offsets"][0]["fingerprint"],
        "DAY": lambda run: run("list", "surveys", "--json").json["documents"][-1]["name"],
    }
    faults: list[str] = []
    for line in SHOWN[name].strip().splitlines():
        command, *words = shlex.split(line)
        shown = report_of(line)
        words = [asked[word](run) if word in asked else word for word in words]
        ran = run(command, *words, "--json")
        assert ran.code in (0, 1), f"{line}: {ran.err}"
        report, judge = ran.json, validator(shown)
        wrong = [f"{line}: {each.json_path}: {each.message}" for each in judge.iter_errors(report)]
        faults += wrong
        if list(report) != list(judge.schema["properties"]):
            faults.append(f"{line}: the keys come in another order")
        if name == "inch" and shown not in ("load", "run"):
            faults += [
                f"{line}: {told} taken" for told in tampered(report) if judge.is_valid(report)
            ]
    assert faults == []


def test_every_report_is_shown() -> None:
    """The demo's lines above print every report."""
    assert {report_of(line) for line in DEMO.strip().splitlines()} == set(REPORTS)


def test_every_command_with_json_has_a_report() -> None:
    """The table of reports has each command that takes --json and no other, as help lists them."""
    commands: Mapping[str, Any] = typer.main.get_command(app).commands  # type: ignore[attr-defined]
    wanted = [
        name
        for name, command in commands.items()
        if any("--json" in parameter.opts for parameter in command.params)
    ]
    assert [name for name, home in REPORTS.items() if not home.line] == wanted
    for command, option in (home.line.split() for home in REPORTS.values() if home.line):
        assert any(option in parameter.opts for parameter in commands[command].params)


@pytest.mark.parametrize("command", REPORTS)
def test_schema_tells_everything(command: str, run: Run) -> None:
    """A report's schema, which `schema --of` prints, is of the 2020-12 edition; objects are closed,
    so that no key is taken that they do not name, and keys told, with units."""
    schema = report_schema(command)
    assert run("schema", "--of", command).json == schema
    assert schema["$schema"] == Draft202012Validator.META_SCHEMA["$id"]
    assert list(open_places(schema)) == []
    documents = DOCUMENTS["$defs"]
    own = {name: each for name, each in schema["$defs"].items() if documents.get(name) != each}
    assert [name for name, each in own.items() if list(open_places(each))] == []
    Draft202012Validator.check_schema({**schema, "$defs": own})
    assert len(own) == len(schema["$defs"]) - (len(documents) if command == "show" else 0)
    for name, each in {"": schema, **own}.items():
        assert each["description"] and each["additionalProperties"] is False
        optional = set(each["properties"]) - set(each["required"])
        assert optional == ({"x", "y", "z"} if name in ("ChartLimits", "ChartSees") else set())
        for key, value in each["properties"].items():
            assert "const" in value or value["description"], key
            if re.search("number|integer", str(value.get("type"))) and name not in (
                "Extent",
                "Scale",
                "Deviation",
                "ChartSees",
            ):
                assert ("x-unit" in value) != (key in PURE_NUMBERS), key


def test_schema_of_nothing_known(run: Run) -> None:
    """An unknown report is one line that names those that there are; none are the documents."""
    ran = run("schema", "--of", "nobody")
    assert (ran.code, ran.out) == (2, "")
    assert ran.err == f"there is no report nobody; reports are {', '.join(REPORTS)}\n"
    assert run("schema").json == DOCUMENTS


def test_units_are_found_by_the_longest_ending() -> None:
    """No ending of a key's name stands before one that it is the end of."""
    endings = list(UNITS)
    for at, ending in enumerate(endings):
        assert not any(later.endswith(ending) for later in endings[at + 1 :]), ending


LOADS: dict[str, set[str]] = {
    "list": set(),
    "history left": set(),
    "offsets": set(),
    "block left": set(),
    "verify left --strike 1 --note none": set(),
    "retire station nobody": {"yaml"},
    "show left": {"yaml"},
    "explain left": {"yaml", "jinja2"},
    "status": {"yaml", "jinja2", "numpy", "shapely"},
    "offsets --json": {"yaml", "jinja2", "numpy", "shapely"},
}
"""What commands have loaded of what takes long, each behind those above it."""


def test_a_command_loads_what_it_works_with(in_demo: Path) -> None:
    """Commands load the large libraries that they work with, and none looks at a program, a run or
    places for jigs where it has none; the types of reports are those of the command, where one is
    printed."""
    code = (
        "import sys\nfrom pincorner.cli.main import main\n"
        f"for line in {list(LOADS)}:\n"
        "    main(line.split())\n    print('loaded', *sys.modules, file=sys.stderr)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, encoding="utf-8", check=True
    )
    told = [line.split() for line in done.stderr.splitlines() if line.startswith("loaded ")]
    loaded = dict(zip(LOADS, map(set, told), strict=True))
    assert {line: found & {"alembic", *LOADS["status"]} for line, found in loaded.items()} == LOADS
    parts = re.compile(r"pincorner\.(?:program\.reader|runs|places|render\.outputs)\..*")
    reports = {f"pincorner.render.outputs.{name}" for name in ("catalogue", "shapes", "stations")}
    assert {line: set(filter(parts.fullmatch, found)) for line, found in loaded.items()} == {
        **{line: set() for line in LOADS},
        "offsets --json": reports,
    }


def test_charts_are_drawn_and_the_report_is_printed(shop: Path, run: Run) -> None:
    """`history -o FILE --json` draws the charts, and what it prints is JSON all the same."""
    assert run("verify", "left", "--x", "295.03", "--y", "185.02").code in (0, 1)
    plain, drawn = run("history", "left", "--json"), run("history", "left", "-o", "c.svg", "--json")
    assert drawn.json == plain.json and (shop / "c.svg").is_file()
    assert run("history", "left", "-o", "d.svg").out == "d.svg\n"
