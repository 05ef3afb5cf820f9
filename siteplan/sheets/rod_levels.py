"""A line's row in; the elevations that a rod is held to there, and lengths as they are printed, out.

Cut sheet and map page read the same.
"""

from __future__ import annotations

import math

from siteplan import units
from siteplan.values.lines import Line, Row

PRINTED_DIGITS = {"ft": 2, "us-ft": 2, "m": 3}


def printed(value: float, unit: str) -> float:
    """A length as it is printed, half away from the last digit upward.

    Parameters
    ----------
    value : float
        Length [m].
    unit : str
        'ft', 'us-ft' (two digits) or 'm' (three).

    Returns
    -------
    float
        The printed length [m].
    """
    return units.to_metres(units.rounded(units.from_metres(value, unit), PRINTED_DIGITS[unit]), unit)


def printed_ticks(value: float, unit: str) -> int:
    """A length in whole hundredths of a foot or millimetres, as it is printed.

    Parameters
    ----------
    value : float
        Length [m].
    unit : str
        'ft', 'us-ft' or 'm'.

    Returns
    -------
    int
        Ticks of the last printed digit.
    """
    return round(units.from_metres(printed(value, unit), unit) * 10.0 ** PRINTED_DIGITS[unit])


def printed_drop(high: float, low: float, unit: str, elevation_unit: str) -> float:
    """How far one height stands over another, as a pencil finds it from what is printed.

    Parameters
    ----------
    high, low : float
        Heights [m].
    unit, elevation_unit : str
        That of small heights, and that in which these two are printed: 'ft', 'us-ft' or 'm'.

    Returns
    -------
    float
        [m]; where the units differ the drop itself, as printed. NaN where one of them is not known.
    """
    if not math.isfinite(high - low):
        return math.nan
    return printed(high, unit) - printed(low, unit) if unit == elevation_unit else printed(high - low, unit)


def under_invert(line: Line, row: Row) -> float:
    """Depth of the trench bottom below the invert; a row on unknown ground takes it from one that knows its ground.

    Parameters
    ----------
    line : Line
        The line.
    row : Row
        One of its rows.

    Returns
    -------
    float
        [m]; NaN where no row knows its ground.
    """
    for one in (row, *line.rows):
        if math.isfinite(one.ground) and math.isfinite(one.cut):
            return one.cut - (one.ground - one.invert)
    return math.nan


def rod_levels(line: Line, row: Row) -> tuple[float, float]:
    """Outside top of the pipe and trench bottom at a row.

    Parameters
    ----------
    line : Line
        The line.
    row : Row
        One of its rows.

    Returns
    -------
    tuple of float
        Elevations [m]; the second NaN where no row knows its ground.
    """
    return row.invert + line.pipe_at(row.station).rise, row.invert - under_invert(line, row)
