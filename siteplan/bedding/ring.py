"""A pipe's ring under load: change of diameter, and the least cover that keeps it in bounds."""

from __future__ import annotations

from dataclasses import dataclass

from siteplan import units
from siteplan.bedding.loads import prism_pressure, wheel_pressure
from siteplan.books.stock import PipeStock
from siteplan.books.vehicles import Vehicle

LAG = 1.5  # soil load grows over the years; Buried Pipe Design (Moser), ch. 3
BEDDING_CONSTANT = 0.1  # the usual choice; table 3.3 of the same book runs from 0.083 to 0.110
USUAL_LIMIT = 0.05  # accepted after laying
LEAST_UNDER_WHEELS = 12 * units.INCH  # whatever the sum says; AASHTO LRFD 12.6.6.3, from memory
_DEEPEST = 60 * units.INCH  # of the search
_STEP = units.INCH / 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Cover:
    """Least cover of a pipe under a wheel."""

    by_sum: float | None  # least cover that passes [m]; None: none down to `DEEPEST`
    least: float | None  # the same, never under 12 in; None where the ring does not pass there either


def deflection_of_ring(
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
    `deflection_of_ring`, `wheel_pressure`.
    """
    live = wheel_pressure(wheel, cover, stock.pipe.bore) if wheel else 0.0
    return deflection_of_ring(stock.stiffness, reaction, prism_pressure(cover, unit_weight), live)


def ring_limit(stock: PipeStock) -> float:
    """Greatest change of diameter that is accepted after laying.

    Parameters
    ----------
    stock : PipeStock
        The pipe.

    Returns
    -------
    float
        Change over diameter [-]: `USUAL_LIMIT`, or the pipe's own where that is less.
    """
    return min(USUAL_LIMIT, stock.ring_limit)


def minimum_cover(stock: PipeStock, wheel: Vehicle, *, unit_weight: float, reaction: float) -> Cover:
    """Least cover that keeps a pipe's ring within its limit under a wheel on unpaved ground, by search.

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

    Returns
    -------
    Cover
        By the sum, and never under 12 in.

    References
    ----------
    `deflection_under`. Soil load grows and wheel load falls with cover, so the first cover that passes is sought
    from the top in steps of 1/8 in, then halved down.
    """
    bound = ring_limit(stock)

    def change(cover: float) -> float:
        return deflection_under(stock, cover, unit_weight, reaction, wheel)

    for step in range(1, round(_DEEPEST / _STEP) + 1):
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
        return Cover(by_sum=cover, least=least if change(least) <= bound else None)
    return Cover(by_sum=None, least=None)
