"""Lines and outlets as reckoned in; the same to the micrometre, as plan.json carries them, out.

What follows from them (pipes, doubts, water, checks) is then worked out from the very figures that others read, and a
reviewer who works it out again finds the same: no way of water, no merged run, turns on a digit that was never written.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import fields, is_dataclass, replace
from typing import TypeVar

from siteplan.values import Line, Outlet, Pipe

DIGITS = 6  # of a metre

Value = TypeVar("Value")


def lines_as_written(lines: Sequence[Line]) -> tuple[Line, ...]:
    """Lines with every length to the micrometre.

    Parameters
    ----------
    lines : sequence of Line
        As laid out.

    Returns
    -------
    tuple of Line
        Vertices, rows, crossings and passages rounded; pipes are the book's own.
    """
    return tuple(_written(line) for line in lines)


def outlets_as_written(outlets: Sequence[Outlet]) -> tuple[Outlet, ...]:
    """Outlets with every length to the micrometre.

    Parameters
    ----------
    outlets : sequence of Outlet
        As found.

    Returns
    -------
    tuple of Outlet
        Places, grounds and controls rounded.
    """
    return tuple(_written(outlet) for outlet in outlets)


def _written(value: Value) -> Value:
    if isinstance(value, Pipe):
        return value
    if isinstance(value, float):
        return round(value, DIGITS) + 0.0 if math.isfinite(value) else value  # type: ignore[return-value]
    if isinstance(value, tuple):
        return tuple(_written(item) for item in value)  # type: ignore[return-value]
    if is_dataclass(value) and not isinstance(value, type):
        # a grade is written in percent to six digits, which is two digits more than a length
        return replace(
            value,
            **{
                one.name: _grade(getattr(value, one.name))
                if one.name == "grade"
                else _written(getattr(value, one.name))
                for one in fields(value)
            },
        )
    return value


def _grade(value: float) -> float:
    return round(value * 100, DIGITS) / 100 if math.isfinite(value) else value
