"""Points picked on an image and their known places in; the image's scale, turn and place, with residuals, out.

Standard library only.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Sequence
from typing import NamedTuple

from siteplan.errors import InputError

FEWEST_POINTS, MOST_FIT_POINTS = 2, 50
_LEAST_APART = 0.05  # of the image's diagonal: closer picks say nothing of what lies far from them
_WORST_FIT = 0.1  # of the known places' spread: beyond it points are mistaken for one another

Pair = tuple[float, float]


class Fitted(NamedTuple):
    """Where an image lies: place = origin + scale * turned (column, -row).

    Attributes
    ----------
    scale : float
        Survey units in one pixel.
    turn : float
        Of the image's right-hand direction from east, counter-clockwise [rad].
    origin : tuple of float
        Easting and northing of the image's upper left corner [survey unit].
    residuals : tuple of (float, float)
        Where each pick falls less where it is known to be, east and north [survey unit]; all 0 with two points.
    spread : float
        Root of the mean square of the residuals' lengths, over the figures that two points do not use up [survey unit];
        0 with two.
    corner : float
        How far a pick's slip moves the corner of the image that is moved most, as a multiple of the slip [-].
    """

    scale: float
    turn: float
    origin: Pair
    residuals: tuple[Pair, ...]
    spread: float
    corner: float

    @property
    def checked(self) -> bool:
        """Whether there are more points than it takes, so that the residuals tell something."""
        return len(self.residuals) > FEWEST_POINTS

    def place(self, column: float, row: float) -> Pair:
        """Easting and northing of a place on the image [survey unit]."""
        z = complex(*self.origin) + cmath.rect(self.scale, self.turn) * complex(column, -row)
        return z.real, z.imag


def fitted_image(picks: Sequence[Pair], places: Sequence[Pair], wide: int, high: int, where: str) -> Fitted:
    """Lay an image on known points, keeping its shape: one scale, one turn, one place, by least squares.

    Parameters
    ----------
    picks : sequence of (float, float)
        Column and row of each point on the image, from its upper left corner [pixels].
    places : sequence of (float, float)
        Easting and northing of the same points [survey unit].
    wide, high : int
        The image's size [pixels].
    where : str
        Named in errors.

    Returns
    -------
    Fitted
        Exact with two points; nothing is checked then, for there is nothing left over to check with.

    Raises
    ------
    InputError
        For fewer than two points, points off the image, points that coincide or lie too near to one another, and points
        that no scale and turn bring together.

    References
    ----------
    Similarity by least squares in complex numbers: the sums of moments about the means (any text on adjustment;
    memory).
    """
    if not FEWEST_POINTS <= len(picks) <= MOST_FIT_POINTS or len(picks) != len(places):
        raise InputError(
            where,
            f"gives {len(picks)} known points",
            f"Give {FEWEST_POINTS} to {MOST_FIT_POINTS}; from the third on residuals tell how well they fit.",
        )
    for number, (column, row) in enumerate(picks, 1):
        if not (0 <= column <= wide and 0 <= row <= high):
            raise InputError(
                where,
                f"point {number} is picked at column {column:g}, row {row:g}, off the image of {wide} x {high} pixels",
                "Pick it on the image, from its upper left corner.",
            )
    w = [complex(column, -row) for column, row in picks]
    z = [complex(*place) for place in places]
    middle_w, middle_z = sum(w) / len(w), sum(z) / len(z)
    moment = math.fsum(abs(one - middle_w) ** 2 for one in w)
    of_places = math.fsum(abs(one - middle_z) ** 2 for one in z)
    apart = max(abs(a - b) for a in w for b in w)
    if apart < _LEAST_APART * math.hypot(wide, high) or of_places <= 0:
        what = "stand at one place" if of_places <= 0 else f"lie within {apart:.0f} pixels of one another"
        raise InputError(where, f"its known points {what}", "Pick points far apart, best in opposite corners.")
    k = sum((a - middle_w).conjugate() * (b - middle_z) for a, b in zip(w, z, strict=True)) / moment
    off = [middle_z + k * (a - middle_w) - b for a, b in zip(w, z, strict=True)]
    squares = math.fsum(abs(one) ** 2 for one in off)
    if abs(k) == 0 or squares > _WORST_FIT**2 * of_places:
        raise InputError(
            where,
            (
                "no scale and turn bring its known points together: two are mistaken for one another, or "
                "northing stands where easting should"
            ),
            "Compare the points one by one.",
        )
    left = 2 * len(w) - 4
    corners = [complex(c, -r) for c in (0, wide) for r in (0, high)]
    origin = middle_z - k * middle_w
    return Fitted(
        scale=abs(k),
        turn=cmath.phase(k),
        origin=(origin.real, origin.imag),
        residuals=tuple((one.real, one.imag) for one in off) if left else ((0.0, 0.0),) * len(w),
        spread=math.sqrt(squares / (left / 2)) if left else 0.0,
        corner=max(math.sqrt(1 / len(w) + abs(one - middle_w) ** 2 / moment) for one in corners),
    )
