"""A pipe's ring under load: change of diameter, wall stress, and the least cover that keeps both in bounds."""

from __future__ import annotations

import math
from dataclasses import dataclass

from siteplan import units
from siteplan.bedding.loads import prism_pressure, wheel_pressure
from siteplan.books.stock import PipeStock
from siteplan.books.vehicles import Vehicle

LAG = 1.5  # soil load grows over the years; Buried Pipe Design (Moser), ch. 3
BEDDING_CONSTANT = 0.1  # the usual choice; table 3.3 of the same book runs from 0.083 to 0.110
USUAL_LIMIT = 0.05  # accepted after laying
LEAST_UNDER_WHEELS = 12 * units.INCH  # whatever the sum says; AASHTO LRFD 12.6.6.3, from memory
DEEPEST = 60 * units.INCH  # of the search
_STEP = units.INCH / 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Cover:
    """Least cover of a pipe under a wheel."""

    by_sum: float | None  # least cover that passes [m]; None: none down to `DEEPEST`
    least: float | None  # the same, never under 12 in
    ring: float | None  # change of diameter there [-]
    limit: float


def ring_deflection(
    stiffness: float, reaction: float, soil: float, live: float, *, constant: float = BEDDING_CONSTANT, lag: float = LAG
) -> float:
    """Change of a flexible pipe's diameter over its diameter.

    Parameters
    ----------
    stiffness : float
        Pipe stiffness at 5 % [Pa].
    reaction : float
        Modulus of soil reaction E' of the embedment [Pa]; half the listed value at shallow cover.
    soil : float
        Pressure of the soil [Pa].
    live : float
        Pressure of the wheel [Pa].
    constant : float
        Bedding constant K [-].
    lag : float
        Lag factor on the soil's share [-].

    Returns
    -------
    float
        Change over diameter [-]. Above 0.10 it is only a sign that the pipe fails.

    References
    ----------
    Modified Iowa formula, Buried Pipe Design (Moser), eq. 3.4: K (DL Pe + PL) / (0.149 PS + 0.061 E').
    Good to 2 points of percent over 100 installations (ch. 3). It takes a wheel as a long strip: safe side at
    shallow cover.
    """
    return constant * (lag * soil + live) / (0.149 * stiffness + 0.061 * reaction)


def hoop_stress(od: float, wall: float, pressure: float) -> float:
    """Compression of the wall by an even pressure.

    Parameters
    ----------
    od : float
        Outside diameter [m].
    wall : float
        Thickness [m].
    pressure : float
        On top of the pipe [Pa].

    Returns
    -------
    float
        Stress [Pa].

    References
    ----------
    Thrust p D/2 over the wall.
    """
    return pressure * od / (2 * wall)


def ring_stress(od: float, wall: float, modulus: float, change: float) -> float:
    """Bending stress of a plain wall whose ring is flattened.

    Parameters
    ----------
    od : float
        Outside diameter [m].
    wall : float
        Thickness [m].
    modulus : float
        Of the material [Pa]; short term for a wheel, long term for soil.
    change : float
        Change of diameter over diameter [-].

    Returns
    -------
    float
        Greatest stress [Pa].

    References
    ----------
    Thin ring between two plates, the worst shape: M = W r/pi and change = 0.149 W r^3/EI give
    stress = 4.27 E (t/D)(change), D the mean diameter. An ellipse gives 3 in place of 4.27. Derived.
    """
    return 4.27 * modulus * wall / (od - wall) * change


def unsupported_stress(od: float, wall: float, pressure: float) -> float:
    """Bending stress of a stiff wall that the ground beside it does not help: loose or wet haunches.

    Parameters
    ----------
    od : float
        Outside diameter [m].
    wall : float
        Thickness [m].
    pressure : float
        On top of the pipe [Pa].

    Returns
    -------
    float
        Greatest stress, an upper bound [Pa].

    References
    ----------
    Thin ring between two line loads: M = W r/pi with W = p D; stress = 6 M/t^2.
    """
    radius = (od - wall) / 2
    return 6 * (pressure * od * radius / math.pi) / wall**2


def deflection_under(
    stock: PipeStock, cover: float, unit_weight: float, reaction: float, wheel: Vehicle | None
) -> float:
    """Change of a pipe's diameter under soil and, if given, an unpaved wheel.

    Parameters
    ----------
    stock : PipeStock
        The pipe.
    cover : float
        Ground minus outside top of pipe [m], above 0.
    unit_weight : float
        Unit weight of the soil [N/m3].
    reaction : float
        Modulus of soil reaction E' of the embedment [Pa].
    wheel : Vehicle or None
        What drives over it.

    Returns
    -------
    float
        Change over diameter [-].

    References
    ----------
    `ring_deflection`, `wheel_pressure`.
    """
    live = wheel_pressure(wheel, cover, stock.pipe.bore) if wheel else 0.0
    return ring_deflection(stock.stiffness, reaction, prism_pressure(cover, unit_weight), live)


def minimum_cover(
    stock: PipeStock, wheel: Vehicle, *, unit_weight: float, reaction: float, limit: float | None = None
) -> Cover:
    """Least cover that keeps a pipe's ring in bounds under a wheel on unpaved ground, by search.

    Parameters
    ----------
    stock : PipeStock
        The pipe.
    wheel : Vehicle
        What drives over it.
    unit_weight : float
        Unit weight of the soil [N/m3].
    reaction : float
        Modulus of soil reaction E' of the embedment [Pa].
    limit : float, optional
        Allowed change of diameter [-]; 0.05, or the pipe's own limit if that is less.

    Returns
    -------
    Cover
        By the sum, and never under 12 in.

    References
    ----------
    `deflection_under`. Soil load grows and wheel load falls with cover, so the first cover that passes is sought
    from the top in steps of 1/8 in, then halved down.
    """
    bound = min(USUAL_LIMIT, stock.ring_limit) if limit is None else limit

    def change(cover: float) -> float:
        return deflection_under(stock, cover, unit_weight, reaction, wheel)

    for step in range(1, round(DEEPEST / _STEP) + 1):
        cover = step * _STEP
        if change(cover) > bound:
            continue
        low = cover - _STEP
        for _ in range(30):
            middle = (low + cover) / 2
            if middle > 0 and change(middle) > bound:
                low = middle
            else:
                cover = middle
        least = max(cover, LEAST_UNDER_WHEELS)
        passes = change(least) <= bound
        return Cover(by_sum=cover, least=least if passes else None, ring=change(least), limit=bound)
    return Cover(by_sum=None, least=None, ring=None, limit=bound)


@dataclass(frozen=True, slots=True, kw_only=True)
class RingState:
    """A pipe under one cover and one wheel."""

    change: float  # of diameter over diameter [-]
    limit: float
    compression: float | None  # of the wall [Pa]; None for a corrugated wall
    bending: float | None  # of the wall, at once [Pa]
    unsupported: float | None  # of the wall where the ground beside it gives no help [Pa]
    passes: bool
    note: str


def ring_state(
    stock: PipeStock, cover: float, *, unit_weight: float, reaction: float, wheel: Vehicle | None
) -> RingState:
    """Change of diameter and wall stress under soil and, if given, an unpaved wheel.

    Parameters
    ----------
    stock : PipeStock
        The pipe.
    cover : float
        Ground minus outside top of pipe [m], above 0.
    unit_weight : float
        Unit weight of the soil [N/m3].
    reaction : float
        Modulus of soil reaction E' of the embedment [Pa].
    wheel : Vehicle or None
        What drives over it.

    Returns
    -------
    RingState
        Passes when the change is within 5 % (or the pipe's own limit), and there is 12 in of cover under wheels.

    References
    ----------
    `deflection_under`, `hoop_stress`, `ring_stress`, `unsupported_stress`.
    """
    limit = min(USUAL_LIMIT, stock.ring_limit)
    change = deflection_under(stock, cover, unit_weight, reaction, wheel)
    pressure = prism_pressure(cover, unit_weight)
    pressure += wheel_pressure(wheel, cover, stock.pipe.bore) if wheel else 0.0
    thin = wheel is not None and cover < LEAST_UNDER_WHEELS - 1e-9
    note = ""
    if change > 0.10:
        note = "above 10 % the sum is only a sign that the ring fails"
    elif thin:
        note = "under 12 in of cover under wheels the sum is outside its evidence"
    od, wall = stock.pipe.od, stock.pipe.wall
    plain = stock.plain_wall
    return RingState(
        change=change,
        limit=limit,
        compression=hoop_stress(od, wall, pressure) if plain else None,
        bending=ring_stress(od, wall, stock.modulus_short, change) if plain else None,
        unsupported=unsupported_stress(od, wall, pressure) if plain else None,
        passes=change <= limit and not thin,
        note=note,
    )
