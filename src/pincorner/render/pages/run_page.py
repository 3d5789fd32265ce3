"""One page for a run, and the drawing of what moves and where hands are."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from markupsafe import Markup

from pincorner.characters import visible
from pincorner.geometry.outline import Box, bounds
from pincorner.render.blocks.block import pins_in_words
from pincorner.render.drawing.bed import Looks, draw, draw_bed
from pincorner.render.drawing.canvas import Canvas, Look
from pincorner.render.drawing.scene import jig_shape
from pincorner.render.templating.templates import render_page
from pincorner.render.text.runs import CAUTIONS, OVERLAP, code_cells, distance_cells
from pincorner.render.text.timelines import clock, timeline_drawing
from pincorner.runs.keep_clear import KeepClear, gap_figure
from pincorner.runs.plan import RunPlan
from pincorner.setups.setup import Setup
from pincorner.units import told_size

_SWEPT = Look(0.5, fill="#999", opacity=0.4)
_ZONE = Look(0.5, dashes=(1.6, 1.0))
_RUNNING: Looks = {"jig": Look(0.8)}
_OTHER: Looks = {"jig": Look(0.4, fill="#fff", opacity=0.6)}
_WIDE_MM = 180.0


def sweep_drawing(plan: RunPlan, runs: str, paper_mm: float) -> Markup:
    """The bed while one station runs: the sweep grey, loading zones dashed, gaps written in."""
    setups = {each[0].facts.station.name: each[0] for each in plan.stations}
    rows = [row for row in plan.table if row.runs == runs]
    running = setups[runs]
    sweep = running.bed_in_machine.inverse().points(rows[0].sweep.outline) if rows else ()
    canvas = Canvas(_window(running, plan.table), paper_mm, f"while {runs} runs")
    draw_bed(canvas, running.facts.bed)
    if sweep:
        canvas.polygon(sweep, _SWEPT)
    for name, setup in setups.items():
        jig = jig_shape(setup)
        draw(canvas, [jig], _RUNNING if name == runs else _OTHER)
        canvas.text(bounds(jig.outline).middle, name, 3.0, bold=name == runs)
    for row in rows:
        canvas.polygon(row.zone, _ZONE)
        x, y = bounds(setups[row.loaded].footprint_in_bed()).middle
        told = OVERLAP if row.gap_mm < 0 else f"{gap_figure(row.gap_mm, plan.unit)} {plan.unit}"
        canvas.text((x, y - 4.2 * canvas.scale), told, 2.8)
    return canvas.svg()


def _window(setup: Setup, rows: Sequence[KeepClear]) -> Box:
    """The bed with all loading zones around it."""
    box = setup.facts.bed.box
    for row in rows:
        zone = bounds(row.zone)
        box = Box(
            min(box.left, zone.left), min(box.front, zone.front), max(box.right, zone.right),
            max(box.back, zone.back),
        )  # fmt: skip
    return box.grown(15.0)


def render_run_page(plan: RunPlan, paper: str, overrides: Path | None) -> str:
    """The page of a run. Raises BadInput where a shop's own template has a fault."""
    line = plan.timelines[-1]
    count = len(plan.stations)
    columns = 2 if count == 4 else min(count, 3)
    return render_page(
        "run.html.j2",
        overrides,
        run=visible(plan.run.name),
        note=visible(plan.run.note or ""),
        paper=paper,
        stations=[_station(plan, at) for at in range(count)],
        codes=[[visible(cell) for cell in code_cells(each)] for each in plan.codes],
        rows=[[visible(cell) for cell in distance_cells(row, plan.unit)] for row in plan.table],
        unit=plan.unit,
        reach=told_size(plan.reach_mm, plan.unit),
        drawings=[
            (visible(name), sweep_drawing(plan, name, _WIDE_MM / columns - 4.0))
            for name in line.order
            if len(plan.stations) > 1
        ],
        columns=columns,
        timeline=timeline_drawing(line, _WIDE_MM),
        totals=[
            {
                "stations": ", ".join(map(visible, each.order)),
                "round": clock(each.round_s),
                "total": clock(each.total_s),
                "hourly": f"{each.parts_per_hour:.1f}",
                "spindle": f"{each.spindle_share * 100:.0f} %",
                "operator": f"{each.operator_share * 100:.0f} %",
            }
            for each in plan.timelines
        ],
        parts=str(line.parts),
        attended=clock(line.attended_s) if line.attended_s else "",
        quicker=", ".join(map(visible, plan.quicker.order)) if plan.quicker else "",
        assumed=[visible(text) for text in plan.assumed],
        # what is swept stands in the table and the drawings
        findings=[visible(f.text) for f in plan.findings if f.code != "zone-swept"],
        cautions=CAUTIONS,
    )


def _station(plan: RunPlan, at: int) -> dict[str, str]:
    setups, work = plan.stations[at], plan.works[at]
    first = setups[0]
    return {
        "number": str(at + 1),
        "name": visible(first.facts.station.name),
        "jig": visible(first.facts.holder.name),
        "pins": pins_in_words(first),
        "program": visible(first.facts.program.name if first.facts.program else "-"),
        "fingerprints": ", ".join(setup.fingerprint for setup in setups),
        "load": clock(work.load_s),
        "cut": clock(work.spindle_s),
        "parts": str(work.parts),
        "access": first.facts.station.access or "all round",
    }
