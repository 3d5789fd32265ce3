"""How long a program cuts at the least: lengths over feeds."""

from __future__ import annotations

import numpy as np

from pincorner.program.reader.motions import ARC, AXES_OF_PLANE, FEED, Floats, Motions


def lengths_mm(motions: Motions) -> Floats:
    """Length of each motion's path; NaN where an end is not known. A helix by Pythagoras."""
    way = motions.end - motions.start
    lengths: Floats = np.sqrt(np.einsum("ij,ij->i", way, way))
    rows = np.flatnonzero(motions.is_arc)
    arcs, at = motions.rows(rows), np.arange(len(rows))
    axes = np.array(AXES_OF_PLANE)[arcs.plane]
    radius = np.hypot(*(arcs.start[at, axes[:, i]] - arcs.centre[:, i] for i in (0, 1)))
    climb = arcs.end[at, axes[:, 2]] - arcs.start[at, axes[:, 2]]
    lengths[rows] = np.hypot(radius * arcs.sweep_rad, climb)
    return lengths


def seconds_of(motions: Motions, lengths: Floats) -> Floats:
    """Time of each motion at its stated feed, 0 for rapids and where feed or place is not known.

    `lengths`: of `lengths_mm`.
    """
    cuts = (motions.kind == FEED) | (motions.kind == ARC)
    with np.errstate(invalid="ignore", divide="ignore"):
        seconds = lengths / motions.feed * 60.0
    found: Floats = np.where(cuts & np.isfinite(seconds), seconds, 0.0)
    return found
