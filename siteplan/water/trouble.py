"""A number that cannot be, said in one line: ValueError for a caller's slip, a Trouble for a fact about the site."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True, kw_only=True)
class Trouble:
    """Something about the water that a person must know; the spine turns it into a Finding.

    Attributes
    ----------
    rule : str
        What kind of trouble: run-capacity, self-cleaning, size-shrinks, tail-water, ...
    subject : str
        Begins with the id of the run, line or source.
    status : str
        flag or fail.
    value, limit : float or None
        What was met and what it was held against, in `unit` (SI).
    unit : str
        m3/s, m/s, m, s, - or empty.
    message : str
        What is wrong and how to mend it, in the user's units.
    """

    rule: str
    subject: str
    status: Literal["flag", "fail"]
    value: float | None
    limit: float | None
    unit: str
    message: str


def above_zero(name: str, value: float, mend: str) -> float:
    """The value itself when it is finite and above 0.

    Parameters
    ----------
    name : str
        What the number is, as the message begins.
    value : float
        The number [any unit].
    mend : str
        What to give instead, as the message ends.

    Returns
    -------
    float
        `value` [same unit].

    Raises
    ------
    ValueError
        One line: name, value and what to give.
    """
    if not (math.isfinite(value) and value > 0):
        raise ValueError(f"{name} is {value:g} and must be above 0: {mend}")
    return value


def at_least_zero(name: str, value: float, mend: str) -> float:
    """The value itself when it is finite and not below 0.

    Parameters
    ----------
    name : str
        What the number is, as the message begins.
    value : float
        The number [any unit].
    mend : str
        What to give instead, as the message ends.

    Returns
    -------
    float
        `value` [same unit].

    Raises
    ------
    ValueError
        One line: name, value and what to give.
    """
    if not (math.isfinite(value) and value >= 0):
        raise ValueError(f"{name} is {value:g} and must be 0 or above: {mend}")
    return value


def finite(name: str, value: float, mend: str) -> float:
    """The value itself when it is a finite number.

    Parameters
    ----------
    name : str
        What the number is, as the message begins.
    value : float
        The number [any unit].
    mend : str
        What to give instead, as the message ends.

    Returns
    -------
    float
        `value` [same unit].

    Raises
    ------
    ValueError
        One line: name, value and what to give.
    """
    if not math.isfinite(value):
        raise ValueError(f"{name} is {value:g} and must be a finite number: {mend}")
    return value


def within_time(name: str, value: float, low: float, high: float, mend: str) -> float:
    """The value itself when it lies between two bounds, both allowed.

    Parameters
    ----------
    name : str
        What the number is, as the message begins.
    value : float
        The number [any unit].
    low, high : float
        The bounds [same unit].
    mend : str
        What to give instead, as the message ends.

    Returns
    -------
    float
        `value` [same unit].

    Raises
    ------
    ValueError
        One line: name, value, bounds and what to give.
    """
    if not (math.isfinite(value) and low <= value <= high):
        raise ValueError(f"{name} is {value:g} and must lie between {low:g} and {high:g}: {mend}")
    return value
