"""What presses on a pipe: soil prism, trench load and wheels. Pressures on top of the pipe [Pa]."""

from __future__ import annotations

import math
from itertools import pairwise

from siteplan import units
from siteplan.books.vehicles import Vehicle, vehicle

_ROUND_CORNER = 1e-9

# The common H-20 table: cover [ft], pressure [psi]; live load spread by a rigid pavement 12 in thick. From memory.
_PAVED_H20 = ((1.0, 12.5), (2.0, 5.56), (3.0, 4.17), (5.0, 1.74), (6.0, 1.39))


def prism_pressure(cover: float, unit_weight: float) -> float:
    """Pressure of the soil column over a pipe.

    Parameters
    ----------
    cover : float
        Ground minus outside top of pipe [m].
    unit_weight : float
        Unit weight of the soil [N/m3].

    Returns
    -------
    float
        Pressure [Pa].

    References
    ----------
    Buried Pipe Design (Moser), eq. 2.11; the load to design flexible pipe for, which long-term loads approach.
    """
    return unit_weight * cover


def trench_coefficient(depth: float, width: float, friction: float) -> float:
    """Marston's load coefficient of a trench.

    Parameters
    ----------
    depth : float
        Cover over the pipe [m].
    width : float
        Width of the trench at the pipe's top [m], above 0.
    friction : float
        K mu of the fill against the trench wall [-]; see the group trench_friction of the book of soils.

    Returns
    -------
    float
        Coefficient [-].

    References
    ----------
    Cd = (1 - exp(-2 K mu H/B)) / (2 K mu), Marston's theory as in Buried Pipe Design (Moser), ch. 2.
    """
    return -math.expm1(-2 * friction * depth / width) / (2 * friction)


def trench_load(od: float, depth: float, width: float, unit_weight: float, friction: float, *, flexible: bool) -> float:
    """Marston's load on a pipe in a trench, per length.

    Parameters
    ----------
    od : float
        Outside diameter [m].
    depth : float
        Cover over the pipe [m].
    width : float
        Width of the trench at the pipe's top [m].
    unit_weight : float
        Unit weight of the fill [N/m3].
    friction : float
        K mu [-].
    flexible : bool
        True: the sides carry as much as the pipe, so the load is Cd g B D; False: all of it, Cd g B^2.

    Returns
    -------
    float
        Load [N/m].

    References
    ----------
    Marston; Buried Pipe Design (Moser), ch. 2 (flexible: example 2.4) and ch. 5 (rigid).
    """
    coefficient = trench_coefficient(depth, width, friction)
    return coefficient * unit_weight * width * (od if flexible else width)


def impact(cover: float) -> float:
    """Impact factor of a moving wheel, less one, falling with cover.

    Parameters
    ----------
    cover : float
        Cover over the pipe [m].

    Returns
    -------
    float
        Dynamic allowance [-]: 0.33 at the surface, 0 from 8 ft.

    References
    ----------
    AASHTO LRFD 3.6.2.2: 33 (1 - 0.125 H) percent, H in ft; from memory.
    """
    return 0.33 * max(0.0, 1 - 0.125 * cover / units.FOOT)


def wheel_pressure(wheel: Vehicle, cover: float, bore: float) -> float:
    """Pressure of a wheel on a pipe under lawn, gravel or thin asphalt.

    Parameters
    ----------
    wheel : Vehicle
        The wheel that counts.
    cover : float
        Ground minus outside top of pipe [m], above 0.
    bore : float
        Inside diameter of the pipe [m].

    Returns
    -------
    float
        Pressure on top of the pipe with impact [Pa].

    Raises
    ------
    ValueError
        If cover is not above 0.

    References
    ----------
    P (1 + IM) m / ((w + 1.15 H + 0.06 Di)(l + 1.15 H)): form of AASHTO LRFD 3.6.1.2.6 and 3.6.2.2, from memory.
    Agrees with Boussinesq and impact within 30 % from 0.5 to 2 ft. One wheel: patches of two wheels that overlap
    (deeper than about 4 ft) are not added.
    """
    if cover <= 0:
        raise ValueError("a wheel needs cover above 0")
    spread = 1.15 * cover
    area = (wheel.width + spread + 0.06 * bore) * (wheel.length + spread)
    return wheel.wheel * (1 + impact(cover)) * wheel.presence / area


def paved_wheel_pressure(wheel: Vehicle, cover: float) -> float:
    """Pressure of a wheel under a rigid pavement about 12 in thick.

    Parameters
    ----------
    wheel : Vehicle
        The wheel that counts; others than H-20 are taken in proportion.
    cover : float
        Cover over the pipe [m], 1 to 6 ft.

    Returns
    -------
    float
        Pressure on top of the pipe [Pa].

    Raises
    ------
    ValueError
        Outside 1 to 6 ft of cover, where the table states nothing.

    References
    ----------
    The H-20 table of pipe handbooks, from memory. It presumes a pavement that spreads the wheel over 10 ft2 (read in
    an article on the spread of live load). Not for lawn, gravel, thin asphalt or a driveway slab of 4 to 6 in.
    """
    feet = cover / units.FOOT
    if not _PAVED_H20[0][0] - _ROUND_CORNER <= feet <= _PAVED_H20[-1][0] + _ROUND_CORNER:
        raise ValueError("the table for thick pavement states 1 to 6 ft of cover")
    psi = _PAVED_H20[-1][1]
    for (near, high), (far, low) in pairwise(_PAVED_H20):
        if feet <= far:
            share = max(0.0, (feet - near) / (far - near))
            psi = high * (low / high) ** share  # straight on a log scale between the rows
            break
    return psi * units.PSI * wheel.wheel / vehicle("truck").wheel


def boussinesq_coefficient(half_width: float, half_length: float) -> float:
    """Share of a surface pressure's total on a rectangle that reaches a rectangle below its middle.

    Parameters
    ----------
    half_width : float
        Half the rectangle's width over the depth [-].
    half_length : float
        Half its length over the depth [-].

    Returns
    -------
    float
        Load coefficient Cs [-]: four corner integrals.

    References
    ----------
    Newmark's integral of Boussinesq's point load; Buried Pipe Design (Moser), table 2.6 (one entry of which is a
    misprint).
    """
    m, n = half_width, half_length
    v = math.sqrt(m * m + n * n + 1)
    corner = (math.atan(m * n / v) + m * n / v * (1 / (1 + m * m) + 1 / (1 + n * n))) / (2 * math.pi)
    return 4 * corner


def highway_impact(cover: float) -> float:
    """Impact factor of a highway wheel by steps of cover.

    Parameters
    ----------
    cover : float
        Cover over the pipe [m].

    Returns
    -------
    float
        Factor [-]: 1.5 to 1 ft, 1.35 to 2 ft, 1.15 to 3 ft, 1 deeper.

    References
    ----------
    Buried Pipe Design (Moser), table 2.5.
    """
    feet = cover / units.FOOT - _ROUND_CORNER
    return next((factor for limit, factor in ((1, 1.5), (2, 1.35), (3, 1.15)) if feet <= limit), 1.0)


def boussinesq_load(wheel: float, cover: float, od: float, length: float = 3 * units.FOOT) -> float:
    """Load of a wheel on a length of pipe by Boussinesq and Hall: the second look at `wheel_pressure`.

    Parameters
    ----------
    wheel : float
        Load of the wheel, a point on the ground [N].
    cover : float
        Cover over the pipe [m].
    od : float
        Outside diameter [m].
    length : float
        Length of pipe that shares it [m].

    Returns
    -------
    float
        Load with impact, per length [N/m].

    References
    ----------
    W = Cs P F / L, Buried Pipe Design (Moser), eq. 2.13.
    """
    coefficient = boussinesq_coefficient(od / (2 * cover), length / (2 * cover))
    return coefficient * wheel * highway_impact(cover) / length
