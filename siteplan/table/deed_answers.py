"""Calls of a deed typed on the page in; the corners on the paper, what closes and what does not, out."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from siteplan import units
from siteplan.deeds.calls import DEED_UNITS, read_deed
from siteplan.deeds.deed_text import deed_as_text
from siteplan.deeds.traverse import laid_out, ring_of
from siteplan.errors import InputError
from siteplan.table.folder_state import SheetOfPaper

_MOST_TEXT = 20_000
_PLACES = 6  # decimals of a corner


def deed_on_paper(body: Mapping[str, Any], paper: SheetOfPaper) -> dict[str, Any]:
    """Calls laid out from a place of the paper.

    Parameters
    ----------
    body : mapping
        text; unit of bare lengths; start, a pair of east and north on the paper; spread: true where the misclosure is
        to be spread by the compass rule.
    paper : SheetOfPaper
        What is drawn on.

    Returns
    -------
    dict
        xy, corners once each with curves drawn through; told: rows of calls, area and closure as `siteplan deed` says
        them; closes.

    Raises
    ------
    InputError, InputErrors
        For a call that cannot be made out.
    """
    text, unit, start = body.get("text"), body.get("unit"), body.get("start")
    if not isinstance(text, str) or len(text) > _MOST_TEXT:
        raise InputError("calls", "are no text of a deed", "Write one call a line: N 45°30'15\" E 120.50.")
    if unit not in DEED_UNITS:
        raise InputError("unit", "of the calls is not given", f"Choose one of {', '.join(DEED_UNITS)}.")
    spread = body.get("spread") is True
    deed = read_deed(text, "calls", unit=str(unit))
    traverse = laid_out(deed.calls, spread=spread)
    east, north = _start(start, deed.start)
    xy = [
        [round(east + x / paper.metres, _PLACES), round(north + y / paper.metres, _PLACES)]
        for x, y in ring_of(traverse)
    ]
    if len(xy) > 1 and xy[0] == xy[-1]:
        xy = xy[:-1]
    return {
        "xy": xy,
        "told": deed_as_text(deed, traverse),
        "closes": traverse.misclosure.by_rounding,
        "missed": traverse.misclosure.length / units.DEED_LENGTH[str(unit)],
        "name": deed.name,
    }


def _start(given: Any, written: tuple[float, float] | None) -> tuple[float, float]:
    """East and north of the first corner: as typed, else as the deed says, else the paper's own 0, 0."""
    if isinstance(given, list) and len(given) == 2 and all(isinstance(v, int | float) for v in given):
        return float(given[0]), float(given[1])
    return (0.0, 0.0) if written is None else (written[1], written[0])
