"""Standing water in a dip, with no soil modulus: two bounds, and what a rock or a step does to a pipe. Closed forms."""

from __future__ import annotations

import math
from typing import NamedTuple

from siteplan.bedding.beam import characteristic


class Pool(NamedTuple):
    """Standing water in a line."""

    depth: float  # greatest, above the invert [m]
    length: float  # along the line [m]


class Rock(NamedTuple):
    """A pipe lifted off its bed by one rock."""

    force: float  # on the rock [N]
    reach: float  # length off the bed, each way [m]
    moment: float  # over the rock [N m]


def sharp_pool(drop: float, length: float, grade: float) -> Pool:
    """Upper bound: a limp pipe in a dip with sharp edges.

    Parameters
    ----------
    drop : float
        Settlement of the bed against the ground beside it [m], 0 or above.
    length : float
        Length of the dip along the line [m].
    grade : float
        Grade laid [-], 0 or above.

    Returns
    -------
    Pool
        Depth is the drop; length is that of the dip or drop/grade, whichever is less. Wherever a pipe is stiffer
        the pool is shallower, but for 5 % of the settlement.

    Raises
    ------
    ValueError
        If drop, length or grade is below 0.

    References
    ----------
    Geometry: the pool's surface is level from the downstream edge of the dip. A dip that climbs out of its own
    drop (grade times length above the drop) holds a wedge as deep as the drop still.
    """
    if min(drop, length, grade) < 0:
        raise ValueError("drop, length and grade are 0 or above")
    if drop == 0 or length == 0:
        return Pool(0.0, 0.0)
    return Pool(drop, length if grade == 0 else min(length, drop / grade))


def bowl_pool(drop: float, length: float, grade: float) -> Pool:
    """Lower bound: a dip like one wave of a cosine, which any pipe can follow.

    Parameters
    ----------
    drop : float
        Settlement in the middle of the dip [m], 0 or above.
    length : float
        Length of the dip along the line [m].
    grade : float
        Grade laid [-], 0 or above.

    Returns
    -------
    Pool
        Empty when the grade is at or above pi drop/length.

    Raises
    ------
    ValueError
        If drop, length or grade is below 0.

    References
    ----------
    r = g L/(pi d); depth = d (sqrt(1 - r^2) - r acos r). Derived: crest where the slope of the bowl equals the
    grade.
    """
    if min(drop, length, grade) < 0:
        raise ValueError("drop, length and grade are 0 or above")
    if drop == 0 or length == 0:
        return Pool(0.0, 0.0)
    r = grade * length / (math.pi * drop)
    if r >= 1:
        return Pool(0.0, 0.0)
    depth = drop * (math.sqrt(1 - r * r) - r * math.acos(r))

    def invert(t: float) -> float:
        return grade * t - drop / 2 * (1 - math.cos(2 * math.pi * t / length))

    crest = length / (2 * math.pi) * math.asin(r)
    low, high = length / 2 - crest, length
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if invert(middle) < invert(crest) else (low, middle)
    return Pool(depth, high - crest)


def emptying_grade(drop: float, length: float) -> float:
    """Grade that empties a smooth dip.

    Parameters
    ----------
    drop : float
        Settlement in the middle of the dip [m].
    length : float
        Length of the dip along the line [m], above 0.

    Returns
    -------
    float
        Grade [-].

    References
    ----------
    pi drop/length: the steepest place of a cosine bowl.
    """
    return math.pi * drop / length


def step_slope(bending: float, modulus: float, step: float) -> float:
    """Slope of a pipe over a sudden step of its bed, over and above the grade.

    Parameters
    ----------
    bending : float
        EI of the pipe [N m2].
    modulus : float
        Stiffness of the ground per length of pipe [Pa].
    step : float
        Height of the step [m].

    Returns
    -------
    float
        Slope at the step [-]; an upper bound, since ground cannot pull.

    References
    ----------
    Beam on springs that also pull: step lambda/2. Derived from Hetenyi's solution.
    """
    return step * characteristic(bending, modulus) / 2


def step_moment(bending: float, modulus: float, step: float) -> float:
    """Greatest moment in a pipe over a sudden step of its bed.

    Parameters
    ----------
    bending : float
        EI of the pipe [N m2].
    modulus : float
        Stiffness of the ground per length of pipe [Pa].
    step : float
        Height of the step [m].

    Returns
    -------
    float
        Moment [N m], at pi/(4 lambda) from the step; an upper bound.

    References
    ----------
    EI s lambda^2 e^(-pi/4) sin(pi/4) = 0.3224 EI s lambda^2. Derived from Hetenyi's solution.
    """
    return math.exp(-math.pi / 4) * math.sin(math.pi / 4) * bending * step * characteristic(bending, modulus) ** 2


def rock_under(bending: float, load: float, height: float) -> Rock:
    """A pipe over one rock that stands proud of a hard bed.

    Parameters
    ----------
    bending : float
        EI of the pipe [N m2].
    load : float
        Load on the pipe per length [N/m].
    height : float
        Rock above the bed [m].

    Returns
    -------
    Rock
        Force on the rock, length off the bed, moment.

    References
    ----------
    Beam that lifts off a rigid bed: L = (72 EI d/q)^(1/4), R = 4 q L/3, M = q L^2/6. Derived.
    """
    reach = (72 * bending * height / load) ** 0.25
    return Rock(4 * load * reach / 3, reach, load * reach**2 / 6)
