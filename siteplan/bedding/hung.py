"""A pipe on hangers in a basement or under a deck: spacing in; sag and stress out, and the spacing to use."""

from __future__ import annotations

import math
from typing import Literal, NamedTuple

from siteplan import units
from siteplan.bedding.weight import weight_in_air
from siteplan.books.stock import PipeStock

CODE_SPACING = (
    4 * units.FOOT
)  # horizontal PVC: IRC 2024 P2605, read as a summary; Canadian NPC 2020 2.3.4.5 gives 1.2 m
SAG_SHARE = 0.001  # of the span, long term; our reading of what the usual spacing grants, common practice, no source
TENSILE = 7450 * units.PSI  # PVC at once, typical of a property sheet (read)
_STEP = 0.5 * units.FOOT


class Hung(NamedTuple):
    """One span between hangers, full of water."""

    span: float  # [m]
    sag_short: float  # at once [m]
    sag_long: float  # after 50 years [m]
    stress: float | None  # [Pa]; None for a corrugated wall
    slope: float  # at the hangers, long term [-]; a grade below this holds water


class Spacing(NamedTuple):
    """Hanger spacing by the sums. None: below half a foot, carry it on a tray."""

    use: float | None  # whole half feet, never over the code's [m]
    by_sag: float  # where long-term sag is 1/1000 of the span [m]
    by_grade: float  # where the grade no longer empties the span [m]
    by_stress: float | None  # where bending stress reaches the long-term limit [m]


def hang(stock: PipeStock, span: float, *, held: Literal["simple", "fixed"] = "simple", fill: float = 1.0) -> Hung:
    """Sag and stress of a pipe between two hangers.

    Parameters
    ----------
    stock : PipeStock
        The pipe.
    span : float
        Distance of the hangers [m], above 0.
    held : str
        'simple': the pipe turns freely over the hangers, the worst; 'fixed': it does not.
    fill : float
        Share of the bore that holds water [-].

    Returns
    -------
    Hung
        Sag, stress, slope.

    Raises
    ------
    ValueError
        If the span is not above 0.

    References
    ----------
    Standard beams: 5 q L^4/(384 EI), q L^2/8, q L^3/(24 EI); fixed: q L^4/(384 EI), q L^2/12, no slope.
    Not for: sag above a tenth of the span, where the pipe has failed or become a chain.
    """
    if span <= 0:
        raise ValueError("a span is above 0")
    load = weight_in_air(stock, fill)
    sag, moment, slope = (5 / 384, 1 / 8, 1 / 24) if held == "simple" else (1 / 384, 1 / 12, 0.0)
    stress = None
    if stock.plain_wall:
        section = stock.bending_short / stock.modulus_short / (stock.pipe.od / 2)
        stress = moment * load * span**2 / section
    return Hung(
        span=span,
        sag_short=sag * load * span**4 / stock.bending_short,
        sag_long=sag * load * span**4 / stock.bending_long,
        stress=stress,
        slope=slope * load * span**3 / stock.bending_long,
    )


def hanger_spacing(stock: PipeStock, grade: float = 0.01) -> Spacing:
    """Hanger spacing for a pipe full of water.

    Parameters
    ----------
    stock : PipeStock
        The pipe.
    grade : float
        Grade it hangs at [-], above 0.

    Returns
    -------
    Spacing
        The spacing to use and what bounds it.

    References
    ----------
    `hang`, simple spans, long-term modulus. The sag share is chosen so that the usual pipe (4 in solid-wall PVC)
    comes out at the usual 4 ft; it is common practice, no source. Codes set 4 ft for PVC of every size.
    """
    load = weight_in_air(stock, 1.0)
    by_sag = (SAG_SHARE * 384 * stock.bending_long / (5 * load)) ** (1 / 3)
    by_grade = (grade * 24 * stock.bending_long / load) ** (1 / 3)
    by_stress = None
    if stock.plain_wall and stock.stress_limit is not None:
        section = stock.bending_short / stock.modulus_short / (stock.pipe.od / 2)
        by_stress = math.sqrt(8 * section * stock.stress_limit / load)
    least = min(by_sag, by_grade, CODE_SPACING, math.inf if by_stress is None else by_stress)
    halves = math.floor(least / _STEP + 1e-9)
    return Spacing(halves * _STEP if halves else None, by_sag, by_grade, by_stress)


def breaking_span(stock: PipeStock, strength: float = TENSILE) -> float | None:
    """Span in air, full of water, at which a plain pipe breaks at once.

    Parameters
    ----------
    stock : PipeStock
        The pipe.
    strength : float
        Tensile strength [Pa].

    Returns
    -------
    float or None
        Span [m]; None for a corrugated wall.

    References
    ----------
    q L^2/8 over the section, simple span.
    """
    if not stock.plain_wall:
        return None
    section = stock.bending_short / stock.modulus_short / (stock.pipe.od / 2)
    return math.sqrt(8 * section * strength / weight_in_air(stock, 1.0))


def thermal_movement(stock: PipeStock, length: float, warming: float) -> float:
    """How far the free end of a pipe moves when it warms.

    Parameters
    ----------
    stock : PipeStock
        The pipe.
    length : float
        Length that is free [m].
    warming : float
        Change of temperature [K].

    Returns
    -------
    float
        Movement [m].

    References
    ----------
    Expansion times length times change; expansion of PVC 2.9e-5 per F from a property sheet (read).
    """
    return stock.expansion * length * warming


def thermal_stress(stock: PipeStock, warming: float) -> float:
    """Stress along a pipe held fast at both ends when it warms or cools.

    Parameters
    ----------
    stock : PipeStock
        The pipe.
    warming : float
        Change of temperature [K].

    Returns
    -------
    float
        Stress [Pa].

    References
    ----------
    E times expansion times change, short-term modulus; creep lowers it.
    """
    return stock.modulus_short * stock.expansion * warming
