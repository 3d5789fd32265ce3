"""The reports' JSON against their own schemas, by a validator that knows nothing of them."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
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
load fixtures_db/beehive.yaml --dry-run
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
sheet left end-bars -o papers
register bench --bed long-bench --jig panel-tray --pin peg-20 --pins B2,E2,A4
register bench --bed long-bench --jig panel-tray --pin peg-20 --corner C6 --toward +x+y --replace
check hand-hold --station left
check hand-hold --station roof
check no-tool.nc --station left
check unread.nc --station left
stamp hand-hold --station left -o new.nc
stamp unread.nc --station left -o unread-2.nc --accept no-offset --accept not-read --note known
repeat roof-groove --stations roof --retract -5 -o two.nc
survey long-bench two.csv
survey long-bench survey.csv --accept
resurface long-bench --depth 0.4
resurface long-bench --surface -121 --slat L1
verify left --x 295.03 --y 185.02
verify left --x 295.03 --y 185.02 --z -80
status
run monday-sides
run three-sides
place panel-tray --bed long-bench
place end-bar-cradle --bed long-bench --pin peg-20 --count 2
place --stock 2000,200,18 --bed long-bench --pin peg-12
history
history left
offsets
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
place "drawer tray" --bed oak --pin dowel --count 2
show left
status
"""

REFUSED = """
load good.yaml
offsets
offsets hanging apart hole-less
show hanging
list
place pair --bed long --pin peg-20 --count 2
status
history
"""

MAPS = {"fingerprints", "work_offset_extents_mm", "tools", "waits_s"}
"""Keys of reports whose own keys are names, codes or numbers of the shop."""

ANYTHING = {"work_offsets", "tools", "homes", "codes"}
"""The same of documents; what else is optional there is tested with their schema."""


@cache
def validator(command: str) -> Draft202012Validator:
    """What judges a command's report."""
    return Draft202012Validator(report_schema(command))


@pytest.fixture
def demo_files(shop: Path) -> Path:
    """The demo's shop with some files more."""
    (shop / "more.yaml").write_text(
        "format: 1\npins: [{name: peg-8, shank: 8, body: 8, height: 12}]\n", encoding="utf-8"
    )
    (shop / "no-tool.nc").write_text("G21 G90\nG1 X5 Y5 Z-1 F100\nM30\n", encoding="utf-8")
    (shop / "unread.nc").write_text("G21 G90\nX#5\nG0 Z5\nM30\n", encoding="utf-8")
    shutil.copy(SHOPS / "demo" / "survey.csv", shop)
    (shop / "two.csv").write_text("hole,x_mm,y_mm,z_mm\nA1,60.1,55,-120\nO1,1460,55.1,-120.1\n")
    return shop


def new_shop(name: str, folder: Path, run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    """A shop of the recordings, as the working folder; its documents are not loaded yet."""
    shutil.copytree(SHOPS / name, folder / name)
    monkeypatch.chdir(folder / name)
    monkeypatch.delenv("PINCORNER_DB", raising=False)
    assert run("init", ".", *(("--units", "in") if name == "inch" else ())).code == 0
