"""A pipe, what is in it and what it lies in: net weight per length, and what holds it down.

Down is positive everywhere. Forces are per length of pipe.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from siteplan import units
from siteplan.books import soils
from siteplan.books.stock import PipeStock

_WATER = 62.4 * units.POUND_PER_CUBIC_FOOT  # unit weight of water, the round figure of US handbooks
SAFETY = 1.5  # against flotation; common practice, no source
Surround = Literal["dry", "moist", "saturated", "mud"]
MINERAL, ORGANIC = "mineral", "organic"  # soils of wet ground that a site may tell
_IN_BOOK = {MINERAL: "wet", ORGANIC: "organic"}  # row of the book of soils, group unit_weight
FILLS = (("empty", 0.0), ("half full", 0.5), ("full", 1.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Flotation:
    """Whether cover holds a line down in flooded ground. Forces per length [N/m]."""

    uplift: float  # of the displaced water
    factor: float  # pipe, contents and buoyant soil above, over uplift
    needed: float  # factor asked for
    holds: bool
    cover_needed: float  # that holds an empty line [m]


def weight_in_air(stock: PipeStock, fill: float) -> float:
    """Weight of pipe and water per length.

    Parameters
    ----------
    stock : PipeStock
        The pipe.
    fill : float
        Share of the bore that holds water [-], 0 to 1.

    Returns
    -------
    float
        Weight [N/m].

    Raises
    ------
    ValueError
        If fill is not from 0 to 1.

    References
    ----------
    Weight of the book plus unit weight of water times the bore.
    """
    if not 0 <= fill <= 1:
        raise ValueError("a pipe is filled from 0 to 1")
    return stock.weight + fill * _WATER * math.pi / 4 * stock.pipe.bore**2


def net_weight(
    stock: PipeStock, fill: float, surround: Surround, mud: float = 110 * units.POUND_PER_CUBIC_FOOT
) -> float:
    """Weight less buoyancy, per length: positive presses down, negative lifts.

    Parameters
    ----------
    stock : PipeStock
        The pipe.
    fill : float
        Share of the bore that holds water [-], 0 to 1.
    surround : str
        'dry' or 'moist' ground carries no buoyancy; 'saturated': water stands round the pipe;
        'mud': mud that flows, a heavy liquid.
    mud : float
        Unit weight of such mud [N/m3].

    Returns
    -------
    float
        Net force down [N/m].

    Raises
    ------
    ValueError
        If fill is not from 0 to 1, or the surround is none of these.

    References
    ----------
    Archimedes. Full and under water only the wall displaces: W (1 - 1/SG). Empty: W less water times the displaced
    area. Between the two the force is linear in the water inside.
    """
    air = weight_in_air(stock, fill)
    area = math.pi / 4 * stock.displaced**2
    if surround in {"dry", "moist"}:
        return air
    if surround == "saturated":
        empty = stock.weight - _WATER * area
        full = stock.weight * (1 - 1 / stock.specific_gravity)
        return empty + fill * (full - empty)
    if surround == "mud":
        return air - mud * area
    raise ValueError(f"no surround {surround!r}; dry, moist, saturated or mud")


def soil_replaced(stock: PipeStock, unit_weight: float) -> float:
    """Weight of the soil that the pipe's hole took away, per length.

    Parameters
    ----------
    stock : PipeStock
        The pipe.
    unit_weight : float
        Unit weight of the soil [N/m3].

    Returns
    -------
    float
        Weight [N/m].

    References
    ----------
    Unit weight times the outside circle.
    """
    return unit_weight * math.pi / 4 * stock.pipe.od**2


def bed_load(stock: PipeStock, cover: float, unit_weight: float, fill: float = 1.0) -> float:
    """Load on the bed per length: the soil prism over the pipe, the pipe and its water.

    Parameters
    ----------
    stock : PipeStock
        The pipe.
    cover : float
        Ground minus outside top of pipe [m], 0 or above.
    unit_weight : float
        Unit weight of the soil [N/m3].
    fill : float
        Share of the bore that holds water [-], 0 to 1.

    Returns
    -------
    float
        Load [N/m].

    Raises
    ------
    ValueError
        If cover is below 0.

    References
    ----------
    Prism load, Buried Pipe Design (Moser), eq. 2.11, times the outside diameter.
    """
    if cover < 0:
        raise ValueError("cover is below 0")
    return unit_weight * cover * stock.pipe.od + weight_in_air(stock, fill)


def pipe_share(stock: PipeStock, cover: float, unit_weight: float) -> float:
    """Share of the empty pipe's weight in the load on the bed of a full line.

    Parameters
    ----------
    stock : PipeStock
        The pipe.
    cover : float
        Ground minus outside top of pipe [m].
    unit_weight : float
        Unit weight of the soil [N/m3].

    Returns
    -------
    float
        Share [-].

    References
    ----------
    `bed_load`.
    """
    return stock.weight / bed_load(stock, cover, unit_weight)


def uplift(stock: PipeStock, cover: float, saturated: float, *, fill: float = 0.0, factor: float = SAFETY) -> Flotation:
    """Whether cover holds a line down when water stands at the ground.

    Parameters
    ----------
    stock : PipeStock
        The pipe.
    cover : float
        Ground minus outside top of pipe [m], 0 or above; 0 with nothing over it is a flooded open trench.
    saturated : float
        Unit weight of the saturated soil [N/m3], above that of water.
    fill : float
        Share of the bore that holds water [-]; 0 is the worst.
    factor : float
        Safety asked for [-].

    Returns
    -------
    Flotation
        Forces, the factor reached, and the cover that an empty line needs.

    Raises
    ------
    ValueError
        If cover is below 0, or the soil is no heavier than water.

    References
    ----------
    Form of a published technical note on pipe flotation (2007), read:
    W + (gs - gw)(H D + (1 - pi/4)/2 D^2) >= factor times uplift. Friction at the trench walls is left out.
    """
    if cover < 0:
        raise ValueError("cover is below 0")
    if saturated <= _WATER:
        raise ValueError("the saturated soil is no heavier than water: it holds nothing down")
    od = stock.pipe.od
    uplift = _WATER * math.pi / 4 * stock.displaced**2
    buoyant = saturated - _WATER
    corner = (1 - math.pi / 4) / 2 * od**2
    own = stock.weight + fill * _WATER * math.pi / 4 * stock.pipe.bore**2
    above = buoyant * (cover * od + corner) if cover > 0 else 0.0
    needed = max(0.0, (factor * uplift - stock.weight - buoyant * corner) / (buoyant * od))
    holding = own + above
    return Flotation(
        uplift=uplift,
        factor=holding / uplift,
        needed=factor,
        holds=holding >= factor * uplift,
        cover_needed=needed,
    )


def lightest_wet(told: str) -> float:
    """Unit weight of wet ground that a line must be held down by: the least of its range, for what floats.

    Parameters
    ----------
    told : str
        'mineral' or 'organic', as the site tells its wet soil; '' where it does not: the lightest of all.

    Returns
    -------
    float
        Saturated unit weight [N/m3].

    References
    ----------
    Book of soils, group unit_weight, rows wet and organic; soil mechanics handbooks, from memory.
    """
    rows = [_IN_BOOK[told]] if told else list(_IN_BOOK.values())
    return min(soils.value_range("unit_weight", row).low for row in rows)


def wet_text(told: str, unit: str = "ft") -> str:
    """Which soil a line is held down by, in words, with its unit weight.

    Parameters
    ----------
    told : str
        As for `lightest_wet`.
    unit : str
        The site's length unit.

    Returns
    -------
    str
        'wet mineral soil at its lightest, 110 lbf/ft3'.
    """
    figure = units.unit_weight_text(lightest_wet(told), unit)
    if not told:
        return f"light organic soil at its lightest, {figure}, as the site does not tell its wet soil"
    return f"{'light organic soil' if told == ORGANIC else 'wet mineral soil'} at its lightest, {figure}"


def force_text(force: float, unit: str = "ft") -> str:
    """A net force in words: 0.57 lbf/ft down.

    Parameters
    ----------
    force : float
        Net force, down positive [N/m].
    unit : str
        The site's length unit.

    Returns
    -------
    str
        Two digits after the point; 'none' when it rounds to nothing.
    """
    if round(abs(force) / units.POUND_PER_FOOT, 2) == 0:
        return "none"
    return f"{units.line_load_text(abs(force), unit)} {'down' if force > 0 else 'up'}"


def weight_statements(
    stock: PipeStock, cover: float, unit_weight: float, told: str = "", unit: str = "ft"
) -> tuple[str, ...]:
    """Plain statements about floating and sinking, each force beside the soil's.

    Parameters
    ----------
    stock : PipeStock
        The pipe.
    cover : float
        Ground minus outside top of pipe [m].
    unit_weight : float
        Unit weight of the wet soil that presses on it [N/m3].
    told : str
        Wet soil as the site tells it, for what holds the line down: see `lightest_wet`.
    unit : str
        The site's length unit.

    Returns
    -------
    tuple of str
        Sentences, forces in pounds a foot or newtons a metre.

    References
    ----------
    `net_weight`, `bed_load`, `uplift`.
    """
    deep = units.short_text(cover, unit)
    beside = (
        f"the soil on it, {deep} deep, presses with "
        f"{units.line_load_text(unit_weight * cover * stock.pipe.od, unit, 1)}"
    )
    lines = [
        f"{stock.named(unit)}, {name}: in air and in dry or moist ground "
        f"{force_text(net_weight(stock, fill, 'moist'), unit)}, "
        f"under water {force_text(net_weight(stock, fill, 'saturated'), unit)}, "
        f"in mud that flows {force_text(net_weight(stock, fill, 'mud'), unit)}; {beside}."
        for name, fill in FILLS
    ]
    share = 100 * pipe_share(stock, cover, unit_weight)
    lines.append(f"The pipe itself is {share:.1f} % of the load on the bed.")
    replaced = soil_replaced(stock, unit_weight)
    full = weight_in_air(stock, 1.0)
    lines.append(
        f"Full of water it weighs {units.line_load_text(full, unit)}; "
        f"the wet soil it replaced weighed {units.line_load_text(replaced, unit)}."
    )
    held = uplift(stock, cover, lightest_wet(told))
    lines.append(
        f"Empty in a flooded trench it is lifted with {units.line_load_text(held.uplift, unit)} less its own weight; "
        f"{units.short_text(held.cover_needed, unit, 1)} of soil hold it ({held.needed:g} times; "
        f"{wet_text(told, unit)}); {deep} {'do' if held.holds else 'do not'}. "
        "Before backfill nothing holds it: weight it, or fill it with water."
    )
    return tuple(lines)
