"""Lines laid and their site in; how sure the fall of each is, and the shots that would make it surer, out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import partial

import numpy as np

from siteplan import units
from siteplan.books.practice import READING_SPREAD
from siteplan.fall.doubt import chance_above, chances, deciding, fall_doubt, shots_wanted
from siteplan.optional import optional
from siteplan.routes.terms import Terms, terms
from siteplan.site import Floats, Site
from siteplan.survey.surface_doubt import ground_covariance, ground_doubt, surface_covariance
from siteplan.values.forecasts import LineDoubt, LowSpot, WantedShot
from siteplan.values.laid_pipe import Pipe
from siteplan.values.lines import Line
from siteplan.values.tried import Candidate
from siteplan.values.water_ends import Outlet, Source
from siteplan.yard.spares import FoundWay, laid_yard, last_of, way_to_outlet

_APART = 2.0  # shots wanted stand at least this far from one another [m]
PART = 0.25  # of a cell of the survey: limits nearer to one another than that are one
_MOST_PLACES = 24
_SAMPLED = 200


def with_doubt(
    lines: Sequence[Line], site: Site, outlets: Sequence[Outlet], spots: Sequence[LowSpot]
) -> tuple[Line, ...]:
    """The lines with their doubt, and the doubt of the ground at every row of their schedules.

    Parameters
    ----------
    lines : sequence of Line
        As laid out.
    site : Site
        The surveyed site.
    outlets : sequence of Outlet
        The plan's.
    spots : sequence of LowSpot
        Wet ground.

    Returns
    -------
    tuple of Line
        See docs/doubt.md for what each figure means.
    """
    if not lines:
        return ()
    laid = laid_yard(lines, site, outlets, spots)

    def told(line: Line) -> Line:
        way = way_to_outlet(line, laid)
        at = np.array([(row.x, row.y) for row in line.rows]).reshape(-1, 2)
        doubt = ground_doubt(site, at[:, 0], at[:, 1])
        rows = tuple(replace(row, ground_doubt=float(one)) for row, one in zip(line.rows, doubt, strict=True))
        outlet = laid.outlets[last_of(line, laid.lines).end]
        return replace(line, rows=rows, doubt=_doubt(site, way, outlet, laid.sources[line.start], laid.asked[line.id]))

    return tuple(optional("doubt", partial(told, line), line, line.id) for line in lines)


def with_ends_fall(
    candidates: Sequence[Candidate], site: Site, outlets: Sequence[Outlet], pipe: Pipe, lines: Sequence[Line]
) -> tuple[Candidate, ...]:
    """The candidates with the fall between their two ends alone.

    The start as high as its cover allows, the outlet as low as it may.

    Parameters
    ----------
    candidates : sequence of Candidate
        Of the plan.
    site : Site
        The surveyed site.
    outlets : sequence of Outlet
        The plan's.
    pipe : Pipe
        The pipe laid.
    lines : sequence of Line
        With their doubt.

    Returns
    -------
    tuple of Candidate
        Those of one source; the cover along the way may ask for more. With the doubt of that fall, and the chance
        that the margin is there: the line's own where one was laid, else by that doubt.
    """
    asked = terms(site.rules, pipe)
    sources = {source.id: source for source in site.sources}
    ends = {outlet.id: outlet for outlet in outlets}
    told = []
    for candidate in candidates:
        source = sources.get(candidate.sources[0])
        if len(candidate.sources) > 1 or source is None or candidate.outlet not in ends:
            told.append(candidate)
            continue
        start = source.ground - (0.0 if asked.start_zone > 0 else asked.cover) - asked.rise
        if source.invert_limit is not None:
            start = min(start, source.invert_limit)
        outlet = ends[candidate.outlet]
        doubt = _of_ends(site, source, outlet)
        told.append(
            replace(
                candidate,
                ends_fall=start - outlet.control,
                doubt=doubt,
                chance=_chance(candidate, source, lines, doubt),
            )
        )
    return tuple(told)


def _chance(candidate: Candidate, source: Source, lines: Sequence[Line], doubt: float) -> float | None:
    """That of the line taken; of a way that was not laid, by its margin and the doubt of its ends."""
    if candidate.chosen:
        return next((line.doubt.chance_min_grade for line in lines if line.start == source.id and line.doubt), None)
    return None if candidate.margin is None else chance_above(candidate.margin, doubt)


def _of_ends(site: Site, source: Source, outlet: Outlet) -> float:
    """Doubt of the fall between a source and an outlet."""
    covariance = ground_covariance(site, np.array([outlet.x, source.x]), np.array([outlet.y, source.y]))
    if outlet.invert is not None:
        covariance[0, :] = covariance[:, 0] = 0.0
        covariance[0, 0] = _shot(site) ** 2 + site.shared_accuracy**2
    return fall_doubt(
        float(np.sqrt(covariance[1, 1])), float(np.sqrt(covariance[0, 0])), together=float(covariance[0, 1])
    )


def _shot(site: Site) -> float:
    """One standard deviation of what a person measured by itself."""
    return min([one.accuracy for one in site.shots] or [site.accuracy])


def _doubt(site: Site, way: FoundWay, outlet: Outlet, source: Source, asked: Terms) -> LineDoubt:
    shot = _shot(site)
    step = max(1, len(way.x) // _SAMPLED)
    worst = float(ground_doubt(site, way.x[::step], way.y[::step]).max())
    kept = deciding(
        way.station, way.ceiling, outlet.control, grade=asked.grade, doubt=max(worst, shot), apart=PART * site.grid.cell
    )
    kept = np.union1d(kept, [len(way.station) - 1])  # the start is always told of
    station, ceiling, x, y = (each[kept] for each in way[:4])
    covariance = surface_covariance(site, np.append(outlet.x, x), np.append(outlet.y, y))
    if outlet.invert is not None:
        # an invert that the site gives was measured by itself, and may hang on another set-up or datum
        covariance[0, :] = covariance[:, 0] = 0.0
        covariance[0, 0] = shot**2 + site.shared_accuracy**2
    found = chances(station, ceiling, outlet.control, covariance, grade=asked.grade)
    wanted = shots_wanted(
        station,
        ceiling,
        outlet.control,
        covariance,
        grade=asked.grade,
        shot=READING_SPREAD,
        places=_places(station, ceiling - asked.grade * station),
    )
    ends = fall_doubt(
        float(np.sqrt(covariance[-1, -1])), float(np.sqrt(covariance[0, 0])), together=float(covariance[0, -1])
    )
    return LineDoubt(
        fall=found.doubt,
        ends=ends,
        grade=ends / float(station[-1]),
        chance_min_grade=found.holds,
        chance_falls=found.falls,
        method=found.method,
        shots_wanted=tuple(
            WantedShot(
                x=outlet.x if one.place == 0 else float(x[one.place - 1]),
                y=outlet.y if one.place == 0 else float(y[one.place - 1]),
                place=_named(one.place, station, way.below, outlet, source, site.length_unit),
                chance_min_grade=one.holds,
                fall=one.doubt,
            )
            for one in wanted
        ),
    )


def _places(station: Floats, tight: Floats) -> list[int]:
    """The outlet and limits that stand apart, the tightest first."""
    kept: list[int] = []
    for k in np.argsort(tight, kind="stable").tolist():
        if all(abs(station[k] - station[other - 1]) >= _APART for other in kept):
            kept.append(k + 1)
        if len(kept) == _MOST_PLACES:
            break
    return [0, *kept]


def _named(place: int, station: Floats, below: float, outlet: Outlet, source: Source, unit: str) -> str:
    if place == 0:
        return f"outlet {outlet.name}: what its invert hangs on"
    at = float(station[place - 1])
    if float(station[-1]) - at < 1e-6:
        return f"ground at {source.name}, where the line starts"
    if at >= below:
        return f"ground at station {units.station_text(at - below, unit)}"
    return f"ground at station {units.station_text(at, unit)} of the line it joins"
