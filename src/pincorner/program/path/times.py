"""How long a program cuts at the least: lengths over feeds."""

from __future__ import annotations

import numpy as np

from pincorner.program.reader.motions import ARC, AXES_OF_PLANE, FEED, Floats, Motions


def lengths_mm(motions: Motions) -> Floats:
    """Length of each motion's path; NaN where an end is not known. A helix by Pythagoras."""
    lengths: Floats = np.linalg.norm(motions.end - motions.start, axis=1)
    rows = np.flatnonzero(motions.is_arc)
    arcs, at = motions.rows(rows), np.arange(len(rows))
    axes = np.array(AXES_OF_PLANE)[arcs.plane]
    radius = np.hypot(*(arcs.start[at, axes[:, i]] - arcs.centre[:, i] for i in (0, 1)))
    climb = arcs.end[at, axes[:, 2]] - arcs.start[at, axes[:, 2]]
    lengths[rows] = np.hypot(radius * arcs.sweep_rad, climb)
    return lengths


def cutting_seconds(motions: Motions) -> float:
    """Time of the cuts at their stated feeds: a lower bound of what the machine takes.

    Rapids, acceleration, dwells, tool changes, and cuts without a known feed or place are left out.
    """
    cuts = (motions.kind == FEED) | (motions.kind == ARC)
    with np.errstate(invalid="ignore", divide="ignore"):
        seconds = lengths_mm(motions)[cuts] / motions.feed[cuts] * 60.0
    return float(np.sum(seconds[np.isfinite(seconds)]))
