"""Closed forms that judge the beam, the forecast and the loads. They use nothing of what they judge.

Tests of the rooms import this module by its name; `tests/conftest.py` puts it there.
"""

import math
from typing import NamedTuple


class Pool(NamedTuple):
    """Standing water in a line: greatest depth above the invert and length along the line [m]."""

    depth: float
    length: float


class Rock(NamedTuple):
    """A pipe lifted off its bed by one rock: force on it [N], length off the bed each way [m], moment over it [N m]."""

    force: float
    reach: float
    moment: float


# ------------------------------------------------------------------ standing water, with no soil modulus


def sharp_pool(drop, length, grade):
    """A limp pipe in a dip with sharp edges: geometry, its water is level from the downstream edge."""
    return Pool(drop, length if grade == 0 else min(length, drop / grade))


def bowl_pool(drop, length, grade):
    """A limp pipe in a dip like one wave of a cosine: r = g L/(pi d), depth d (sqrt(1 - r^2) - r acos r). Derived."""
    r = grade * length / (math.pi * drop)
    if r >= 1:
        return Pool(0.0, 0.0)
    depth = drop * (math.sqrt(1 - r * r) - r * math.acos(r))

    def invert(t):
        return grade * t - drop / 2 * (1 - math.cos(2 * math.pi * t / length))

    crest = length / (2 * math.pi) * math.asin(r)
    low, high = length / 2 - crest, length
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if invert(middle) < invert(crest) else (low, middle)
    return Pool(depth, high - crest)


def emptying_grade(drop, length):
    """Grade that empties such a bowl: pi d/L, its steepest place."""
    return math.pi * drop / length


# ------------------------------------------------------------------ beams


def _lambda(bending, modulus):
    return (modulus / (4 * bending)) ** 0.25


def step_slope(bending, modulus, step):
    """Slope over a sudden step of the bed, springs that also pull: s lambda/2. Derived from Hetenyi's solution."""
    return step * _lambda(bending, modulus) / 2


def step_moment(bending, modulus, step):
    """Greatest moment there: EI s lambda^2 e^(-pi/4) sin(pi/4). Derived from Hetenyi's solution."""
    return math.exp(-math.pi / 4) * math.sin(math.pi / 4) * bending * step * _lambda(bending, modulus) ** 2


def rock_under(bending, load, height):
    """Beam that lifts off a rigid bed over one rock: L = (72 EI d/q)^(1/4), R = 4 q L/3, M = q L^2/6. Derived."""
    reach = (72 * bending * height / load) ** 0.25
    return Rock(4 * load * reach / 3, reach, load * reach**2 / 6)


# ------------------------------------------------------------------ loads


def trench_coefficient(depth, width, friction):
    """Marston's coefficient of a trench: (1 - exp(-2 K mu H/B)) / (2 K mu). Buried Pipe Design (Moser), ch. 2."""
    return -math.expm1(-2 * friction * depth / width) / (2 * friction)


def boussinesq_coefficient(m, n):
    """Newmark's integral of Boussinesq's point load, m and n half width and half length over depth: four corners.

    Buried Pipe Design (Moser), table 2.6.
    """
    v = math.sqrt(m * m + n * n + 1)
    corner = (math.atan(m * n / v) + m * n / v * (1 / (1 + m * m) + 1 / (1 + n * n))) / (2 * math.pi)
    return 4 * corner


def highway_impact(feet):
    """Impact factor of a highway wheel by steps of cover [ft]. Buried Pipe Design (Moser), table 2.5."""
    return next((factor for limit, factor in ((1, 1.5), (2, 1.35), (3, 1.15)) if feet <= limit), 1.0)


def boussinesq_load(wheel, cover_ft, od_ft, length_ft):
    """Load of a wheel on a length of pipe, its unit over feet: W = Cs P F / L, Buried Pipe Design (Moser), eq. 2.13."""
    share = boussinesq_coefficient(od_ft / (2 * cover_ft), length_ft / (2 * cover_ft))
    return share * wheel * highway_impact(cover_ft) / length_ft
