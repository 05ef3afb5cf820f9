"""Calls in; the corners they lead to, the area inside and how far they miss their start out.

The miss is spread only where that is asked.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from siteplan.deeds.calls import Call

_SAGITTA = 0.002  # between a curve and the corners that it is drawn through [m]
_MOST_ON_CURVE = 720

Place = tuple[float, float]


class Misclosure(NamedTuple):
    """How far the last call ends from where the first began.

    Attributes
    ----------
    east, north : float
        From the start to the end of the last call [m].
    length, azimuth : float
        Of that [m], clockwise from north [rad].
    perimeter : float
        Length of all calls, along the curves [m].
    slack : float
        What the last digits of the calls can add up to at worst [m].
    """

    east: float
    north: float
    length: float
    azimuth: float
    perimeter: float
    slack: float

    @property
    def ratio(self) -> float | None:
        """Perimeter in one of misclosure [-]; None where it closes to a tenth of a millimetre."""
        return self.perimeter / self.length if self.length > 1e-4 else None

    @property
    def by_rounding(self) -> bool:
        """Whether the last digits of the calls explain it."""
        return self.length <= self.slack + 1e-4


class Traverse(NamedTuple):
    """Calls laid out. Coordinates are east and north of the start [m].

    Attributes
    ----------
    calls : tuple of Call
        As written.
    corners : tuple of (float, float)
        Where each call begins, the start first.
    curves : tuple of float
        Central angle of each call, above 0 to the right, 0 straight [rad].
    misclosure : Misclosure
        Of the calls as written, whatever was done about it.
    spread : bool
        Whether the misclosure was spread by the compass rule; else the last side runs back to the start.
    area : float
        Inside the corners and curves [m2].
    """

    calls: tuple[Call, ...]
    corners: tuple[Place, ...]
    curves: tuple[float, ...]
    misclosure: Misclosure
    spread: bool
    area: float


def laid_out(calls: tuple[Call, ...], *, spread: bool = False) -> Traverse:
    """Where a deed's calls lead.

    Parameters
    ----------
    calls : tuple of Call
        At least two.
    spread : bool
        True: the misclosure is spread over the calls by the compass rule, each by its part of the perimeter; False: the
        corners stand where the calls lead, and the last side runs back to the start.

    Returns
    -------
    Traverse
        A curve keeps its central angle when its ends move.

    References
    ----------
    Latitudes and departures, linear closure and its ratio, compass rule, area by coordinates: J. Mahun, Open Access
    Surveying Library, Traverse Computations, chapters D, G and I (read). Segment between a curve and its chord:
    r2 (delta - sin delta) / 2 by geometry; the same library, COGO, chapter H, equation H-2 (read).
    """
    east = [call.length * math.sin(call.azimuth) for call in calls]
    north = [call.length * math.cos(call.azimuth) for call in calls]
    de, dn = math.fsum(east), math.fsum(north)
    perimeter = math.fsum(call.along for call in calls)
    missed = Misclosure(
        east=de,
        north=dn,
        length=math.hypot(de, dn),
        azimuth=math.atan2(de, dn) % (2 * math.pi),
        perimeter=perimeter,
        slack=math.fsum(call.slack for call in calls),
    )
    if spread:
        east = [e - de * call.along / perimeter for e, call in zip(east, calls, strict=True)]
        north = [n - dn * call.along / perimeter for n, call in zip(north, calls, strict=True)]
    corners = tuple((math.fsum(east[:k]), math.fsum(north[:k])) for k in range(len(calls)))
    curves = tuple(call.turn * call.delta for call in calls)
    return Traverse(calls, corners, curves, missed, spread, _area(corners, curves))


def _area(corners: tuple[Place, ...], curves: tuple[float, ...]) -> float:
    """By coordinates, with the segment of every curve: outside its chord where it bulges out of the ring."""
    after = (*corners[1:], corners[0])
    twice = math.fsum(a[0] * b[1] - b[0] * a[1] for a, b in zip(corners, after, strict=True))
    clockwise = twice < 0
    segments = []
    for a, b, turned in zip(corners, after, curves, strict=True):
        delta = abs(turned)
        if delta:
            radius = math.dist(a, b) / (2 * math.sin(delta / 2))
            # seen along the way, a curve to the right bulges to the left; the inside lies to the right of a clockwise
            # ring
            segments.append((1 if clockwise == (turned > 0) else -1) * radius**2 * (delta - math.sin(delta)) / 2)
    return abs(twice) / 2 + math.fsum(segments)


def ring_of(traverse: Traverse) -> tuple[Place, ...]:
    """The lot's edge as corners, close on curves.

    Parameters
    ----------
    traverse : Traverse
        As laid out.

    Returns
    -------
    tuple of (float, float)
        East and north of the start [m], the first not repeated; no point between lies farther than 2 mm off a curve.
    """
    ring: list[Place] = []
    corners = traverse.corners
    for a, b, turned in zip(corners, (*corners[1:], corners[0]), traverse.curves, strict=True):
        ring.append(a)
        if not turned:
            continue
        delta, turn = abs(turned), math.copysign(1.0, turned)
        chord = math.dist(a, b)
        radius = chord / (2 * math.sin(delta / 2))
        step = 2 * math.acos(max(0.0, 1 - _SAGITTA / radius)) if radius > _SAGITTA else math.pi / 4
        count = min(_MOST_ON_CURVE, max(2, math.ceil(delta / step)))
        way = math.atan2(b[0] - a[0], b[1] - a[1]) - turn * delta / 2  # along the curve at its beginning
        for k in range(1, count):
            part = delta * k / count
            reach = 2 * radius * math.sin(part / 2)
            azimuth = way + turn * part / 2
            ring.append((a[0] + reach * math.sin(azimuth), a[1] + reach * math.cos(azimuth)))
    return tuple(ring)
