"""How small errors at the locating contacts move a part, and how far that spreads at its corners.

First-order rigid-body kinematics: a part that moves by (dx, dy, dphi) about a point z moves a
contact c by (dx, dy) + dphi * k x (c - z); along the contact's normal n that must equal the
locator's own displacement w. Three contacts give three equations. Propagation of covariance as in
JCGM 100:2008, 5.1.2 and its matrix form.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def locator_jacobian(contacts_mm: Any, normals: Any, about_mm: Any) -> Array:
    """d(x, y, angle) of the part at `about_mm` by the normal displacements of its contacts.

    contacts_mm, normals (..., 3, 2); about_mm (..., 2); result (..., 3, 3), rows x mm, y mm and
    angle rad, columns one per contact. Contacts that leave the part loose raise LinAlgError.
    """
    contacts, unit = np.asarray(contacts_mm, float), np.asarray(normals, float)
    arms = contacts - np.asarray(about_mm, float)[..., None, :]
    turning = unit[..., 1] * arms[..., 0] - unit[..., 0] * arms[..., 1]
    return np.linalg.inv(np.concatenate([unit, turning[..., None]], axis=-1))


def covariance(jacobian: Array, variances_mm2: Any) -> Array:
    """Covariance (..., 3, 3) of x mm, y mm, angle rad from contact variances (..., 3)."""
    spread = jacobian * np.asarray(variances_mm2, float)[..., None, :]
    result: Array = spread @ np.swapaxes(jacobian, -1, -2)
    return result


def turn_covariance(cov: Array, angle_rad: float) -> Array:
    """The same covariance (..., 3, 3) with its x and y along axes turned by -angle_rad."""
    cos, sin = np.cos(angle_rad), np.sin(angle_rad)
    turn = np.array([[cos, -sin, 0.0], [sin, cos, 0.0], [0.0, 0.0, 1.0]])
    result: Array = turn @ cov @ turn.T
    return result


def worst_sd_at(cov: Array, arms_mm: Any) -> Array:
    """Standard deviation in the worst direction at points of the part, mm.

    cov (..., 3, 3) at the zero; arms_mm (n, 2) from the zero to the points, along the axes of
    `cov`; result (..., n): the root of the larger eigenvalue of the 2 x 2 covariance there.
    """
    arms = np.asarray(arms_mm, float)
    xx, yy, xy = cov[..., 0, 0, None], cov[..., 1, 1, None], cov[..., 0, 1, None]
    xt, yt, tt = cov[..., 0, 2, None], cov[..., 1, 2, None], cov[..., 2, 2, None]
    x, y = arms[:, 0], arms[:, 1]
    var_x = xx - 2 * y * xt + y * y * tt
    var_y = yy + 2 * x * yt + x * x * tt
    both = xy + x * xt - y * yt - x * y * tt
    half_sum, half_difference = (var_x + var_y) / 2, (var_x - var_y) / 2
    worst: Array = np.sqrt(half_sum + np.hypot(half_difference, both))
    return worst
