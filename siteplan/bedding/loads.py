"""What presses on a pipe: soil prism, trench load and wheels. Pressures on top of the pipe [Pa]."""

from __future__ import annotations

from siteplan import units
from siteplan.books.vehicles import Vehicle


# The common H-20 table: cover [ft], pressure [psi]; live load spread by a rigid pavement 12 in thick. From memory.
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
