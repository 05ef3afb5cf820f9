"""Bellies and what crosses the line in; whether the pipe was ducked under it, and how high that must go out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from siteplan import units
from siteplan.books.practice import UNDER_PRESSURE_PIPE
from siteplan.errors import InputError
from siteplan.laid.design import Design
from siteplan.laid.verdict_values import AsBuilt
from siteplan.survey.files import said
from siteplan.survey.small_tables import typed_station

_TOUCHES = 0.05 * units.FOOT


@dataclass(frozen=True, slots=True, kw_only=True)
class Crosser:
    """A pipe that crosses the line: its outside top and bottom, and the ground there when known [m]."""

    name: str
    line: str
    station: float
    top: float
    bottom: float
    ground: float | None


def crosser_of(text: str, unit: str) -> Crosser:
    """A crossing pipe as typed: NAME@STATION,TOP,DIAMETER[,GROUND].

    Parameters
    ----------
    text : str
        Such as 'irrigation main@0+40,96.13,1.3in,97.30'; a line's id may stand before the station: L1:0+40.
    unit : str
        'ft', 'us-ft' or 'm' of bare numbers.

    Returns
    -------
    Crosser
        [m]

    Raises
    ------
    InputError
        If it is written otherwise.
    """
    mend = "Write NAME@STATION,TOP,DIAMETER[,GROUND], such as 'water main@0+40,96.13,1.3in,97.30'."
    name, mark, rest = text.rpartition("@")
    parts = [part.strip() for part in rest.split(",")]
    line, _, place = parts[0].rpartition(":")
    station = typed_station(place, unit)
    if not mark or len(parts) not in {3, 4} or station is None:
        raise InputError("--crossing", f"is {said(text)!r}", mend)
    try:
        top, across, *ground = (units.read_length(part, unit) for part in parts[1:])
    except ValueError as error:
        raise InputError("--crossing", str(error).partition(";")[0], mend) from None
    return Crosser(
        name=said(name),
        line=said(line),
        station=station,
        top=top,
        bottom=top - across,
        ground=ground[0] if ground else None,
    )


def ducked(result: AsBuilt, design: Design, crossers: tuple[Crosser, ...]) -> tuple[str, ...]:
    """What crosses at each belly, and how to mend it: the pressure pipe moves, not the drain.

    Parameters
    ----------
    result : AsBuilt
        The check.
    design : Design
        What was to be built.
    crossers : tuple of Crosser
        Pipes that cross, as measured.

    Returns
    -------
    tuple of str
        Plain statements.
    """
    out = []
    unit, high = design.unit, design.elevation_unit
    for line in result.lines:
        if line.fit is None:
            continue
        for belly in line.bellies:
            for one in crossers:
                if one.line not in {"", line.design.id} or not belly.relay_from <= one.station <= belly.relay_to:
                    continue
                laid = (
                    float(np.interp(one.station, line.fit.station, line.fit.shot)) + line.design.wall_at(one.station)[0]
                )
                planned = float(line.design.at(np.array([one.station]))[0]) + line.design.wall_at(one.station)[0]
                under = "the pipe was ducked beneath it" if abs(laid - one.bottom) <= _TOUCHES else "it crosses there"
                need = planned + UNDER_PRESSURE_PIPE
                text = (
                    f"{one.name} at {units.station_text(one.station, unit)}: its bottom "
                    f"{units.length_text(one.bottom, high)}, pipe top as laid "
                    f"{units.length_text(laid, high)}: {under}. "
                )
                if one.bottom >= need:
                    text += "It clears the pipe where it was designed; it need not move."
                else:
                    text += (
                        "Raise it (a pressure pipe may go over, a drain may not go under): bottom at "
                        f"{units.length_text(need, high)} or above, "
                        f"{units.length_text(UNDER_PRESSURE_PIPE, unit)} over the design top "
                        f"{units.length_text(planned, high)}"
                    )
                    if one.ground is not None:
                        left = one.ground - need - (one.top - one.bottom)
                        text += (
                            f"; that leaves about {units.from_metres(left, 'in'):.0f} in of cover over it"
                            if unit != "m"
                            else f"; that leaves {left:.2f} m of cover over it"
                        )
                    text += "."
                out.append(text)
            for name, first, last in line.design.crossings:
                if (
                    last >= belly.relay_from
                    and first <= belly.relay_to
                    and not any(one.name == name for one in crossers)
                ):
                    where = units.station_text((first + last) / 2, unit)
                    out.append(
                        f"{name or 'A utility'} crosses at {where}: was the pipe ducked beneath it? Move the "
                        "pressure pipe, not the drain."
                    )
    return tuple(out)
