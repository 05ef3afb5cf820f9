"""A plan in; stake-out points for an instrument out: number, place, height, description, in an order of choice."""

from __future__ import annotations

import csv
import io

from siteplan import units
from siteplan.books.fittings import fitting_words
from siteplan.exchange.formats import COLUMN_ORDERS
from siteplan.sheets.coordinates import DEGREE, survey_places, survey_system
from siteplan.sheets.schedule import safe_cell
from siteplan.values.whole_plan import Plan

_DIGITS = {"ft": 3, "us-ft": 3, "m": 4, DEGREE: 9}


def stakeout_points(plan: Plan, order: str = "north-first") -> bytes:
    """Every stake of every line, at the invert.

    Parameters
    ----------
    plan : Plan
        As stored.
    order : str
        One of COLUMN_ORDERS.

    Returns
    -------
    bytes
        Comma separated, no head, as instruments read them; places in the survey's own system, heights of the invert in
        its unit of heights. A name that an office program would take for a formula has an apostrophe before it.

    Raises
    ------
    KeyError
        For another order.
    """
    columns = COLUMN_ORDERS[order]
    system = survey_system(plan)
    digits, level = _DIGITS.get(system.unit, 4), _DIGITS[plan.elevation_unit]
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    number = 0
    for line in plan.every_line:
        made = {round(vertex.station, 6): vertex.fittings for vertex in line.vertices}
        east, north = survey_places(plan, [row.x for row in line.rows], [row.y for row in line.rows])
        for row, x, y in zip(line.rows, east, north, strict=True):
            number += 1
            said = f"{line.id} {units.station_text(row.station, plan.length_unit)} INV"
            if fitted := fitting_words(made.get(round(row.station, 6), ())):
                said += f" {fitted}"
            cells = {
                "number": str(number),
                "north": f"{y:.{digits}f}",
                "east": f"{x:.{digits}f}",
                "height": f"{units.rounded(units.from_metres(row.invert, plan.elevation_unit), level):.{level}f}",
                "description": safe_cell(said),
            }
            writer.writerow([cells[column] for column in columns])
    return text.getvalue().encode()
