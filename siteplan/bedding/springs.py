"""What is known of soil in; stiffness of the ground per length of pipe out."""

from __future__ import annotations

import math


def modulus_from_subgrade(subgrade: float, width: float) -> float:
    """Line modulus from a modulus of subgrade reaction.

    Parameters
    ----------
    subgrade : float
        Pressure per settlement [N/m3].
    width : float
        Width that bears: the outside diameter [m].

    Returns
    -------
    float
        Force per length per settlement [Pa].

    References
    ----------
    k = ks B; narrow strips are stiffer than plates, so this is on the low side.
    """
    return subgrade * width


def subgrade_from_bearing(bearing: float, safety: float) -> float:
    """Modulus of subgrade reaction from allowable bearing.

    Parameters
    ----------
    bearing : float
        Allowable bearing pressure [Pa].
    safety : float
        Safety factor in it [-].

    Returns
    -------
    float
        Pressure per settlement [N/m3].

    References
    ----------
    Bowles, Foundation Analysis and Design, ch. 9: ks = 40 SF qa, for a settlement of 25 mm.
    """
    return 40 * safety * bearing


def modulus_from_young(young: float, width: float, bending: float, poisson: float = 0.4) -> float:
    """Line modulus from the soil's own modulus.

    Parameters
    ----------
    young : float
        Young's modulus of the soil [Pa].
    width : float
        Outside diameter of the pipe [m].
    bending : float
        EI of the pipe [N m2].
    poisson : float
        Poisson's ratio of the soil [-].

    Returns
    -------
    float
        Force per length per settlement [Pa]. A buried pipe may find up to twice this.

    References
    ----------
    Vesic: 0.65 (E B^4/EI)^(1/12) E/(1 - nu^2); from memory.
    """
    return 0.65 * math.pow(young * width**4 / bending, 1 / 12) * young / (1 - poisson**2)


def plate_bending(modulus: float, radius: float, wall: float, half_depth: float, arc_ratio: float) -> float:
    """EI of a single-wall corrugated pipe as a beam.

    Parameters
    ----------
    modulus : float
        Of the material [Pa].
    radius : float
        Mean radius [m].
    wall : float
        Thickness of the sheet [m].
    half_depth : float
        Half the depth of a corrugation [m].
    arc_ratio : float
        Length of the sheet along a corrugation over its pitch [-].

    Returns
    -------
    float
        EI [N m2], good to a factor 3.

    References
    ----------
    Corrugated plate: stiffness along the pipe E t/((s/p)(1 + 6 (f/t)^2)), f the half depth; EI = that times pi r^3.
    Derived.
    """
    along = modulus * wall / (arc_ratio * (1 + 6 * (half_depth / wall) ** 2))
    return along * math.pi * radius**3
