"""A plan, or features with no ground yet, in.

The shots to take before all others, in the survey's own coordinates, out.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import NamedTuple

from siteplan import units
from siteplan.books.kinds import OUTLET_KINDS, SOURCE_KINDS, at_curb, into_pipe
from siteplan.sheets.coordinates import crs_name, place_text, survey_places, survey_system
from siteplan.sheets.wording import names
from siteplan.survey.files import said
from siteplan.survey.frame import axis_unit
from siteplan.survey.gathered import GatheredSite
from siteplan.values.whole_plan import Plan

MOST_SHOTS = 3
_APART = 2.0  # shots nearer to one another than that are one [m]
_OPEN = (0.02, 0.98)  # a chance between these is an open verdict


class FirstShot(NamedTuple):
    """A shot to take: where, in the survey's own system, as printed too; and why."""

    x: float
    y: float
    place: str
    why: str


class _Wish(NamedTuple):
    """A place in the plan's frame [m] and why a shot there helps."""

    x: float
    y: float
    why: str


def shots_of_plan(plan: Plan) -> tuple[tuple[FirstShot, ...], str]:
    """The shots that would make a laid-out yard surest.

    At sources that are short by less than the survey can tell, then along the least sure lines.

    Parameters
    ----------
    plan : Plan
        As laid out, with its doubts.

    Returns
    -------
    tuple
        At most three shots, and the survey's system with its unit, as printed.
    """
    chosen: list[_Wish] = []
    for wish in (*_of_open_sources(plan), *_of_lines(plan)):
        if all(math.hypot(wish.x - one.x, wish.y - one.y) >= _APART for one in chosen):
            chosen.append(wish)
        if len(chosen) == MOST_SHOTS:
            break
    system = survey_system(plan)
    east, north = survey_places(plan, [one.x for one in chosen], [one.y for one in chosen])
    shots = tuple(
        FirstShot(float(x), float(y), place_text(plan, one.x, one.y), one.why)
        for one, x, y in zip(chosen, east.tolist(), north.tolist(), strict=True)
    )
    return shots, f"{system.name}, {system.unit_name}"


def _of_open_sources(plan: Plan) -> Iterator[_Wish]:
    """Ends of ways that nobody can call open or closed by this survey, the likeliest first."""
    served = {ident for line in plan.lines for ident in line.sources}
    sources = {one.id: one for one in plan.sources}
    outlets = {one.id: one for one in plan.outlets}
    open_ones = [
        one
        for one in plan.candidates
        if len(one.sources) == 1
        and one.sources[0] in sources
        and one.sources[0] not in served
        and one.outlet in outlets
        and one.chance is not None
        and _OPEN[0] <= one.chance <= _OPEN[1]
    ]
    for one in sorted(open_ones, key=lambda each: (-(each.chance or 0.0), each.sources[0], each.outlet)):
        source, outlet = sources[one.sources[0]], outlets[one.outlet]
        told = f"{source.name} to {outlet.name}: there may be fall and may not, as the survey stands"
        yield _Wish(outlet.x, outlet.y, f"{outlet.name}, {_at_outlet(outlet.kind)}; {told}")
        tried = next((each for each in plan.attempts if (each.source, each.outlet) == (source.id, outlet.id)), None)
        tight = max(tried.line, key=lambda place: place.short, default=None) if tried is not None else None
        if tight is not None and tight.short > 0:
            yield _Wish(tight.x, tight.y, f"ground where that way is tightest; {told}")
        yield _Wish(source.x, source.y, f"ground at {source.name}; {told}")


def _of_lines(plan: Plan) -> Iterator[_Wish]:
    """Shots wanted of the lines, the least sure line first."""
    called = names(plan)
    told = [(line.doubt, line) for line in plan.lines if line.doubt is not None]
    for doubt, line in sorted(told, key=lambda pair: (pair[0].chance_min_grade, pair[1].id)):
        before, name = doubt.fall, called.get(line.start, line.start)
        for wanted in doubt.shots_wanted:
            now, then = _sure(doubt.chance_min_grade), _sure(wanted.chance_min_grade)
            less = [units.length_text(one, plan.length_unit, 3) for one in (before, wanted.fall)]
            gain = f"; with this shot and those before it {then}, if they bear the survey out" if then != now else ""
            if not gain and less[0] != less[1]:
                gain = f"; brings the doubt of it from {less[0]} to {less[1]}"
            why = f"{wanted.place}; line {line.id} from {name} is {now} of its fall now{gain}"
            yield _Wish(wanted.x, wanted.y, why)
            before = wanted.fall


def _sure(chance: float) -> str:
    return "over 99 % sure" if chance > 0.99 else f"{100 * chance:.0f} % sure"


def _at_outlet(kind: str) -> str:
    if at_curb(kind):
        return "the gutter flow line there"
    return "the invert of the old pipe" if into_pipe(kind) else "the ground at daylight"


def shots_of_drawn(found: GatheredSite) -> tuple[tuple[FirstShot, ...], str]:
    """The shots that a plan cannot do without where there is no ground to lay it out on.

    Outlet, farthest source, the ground between.

    Parameters
    ----------
    found : GatheredSite
        The folder as far as it can be read.

    Returns
    -------
    tuple
        At most three shots, and the system with its unit, as printed; none where no feature can be placed.
    """
    outlets = tuple(one for one in found.drawn if one.kind in OUTLET_KINDS)
    sources = tuple(one for one in found.drawn if one.kind in SOURCE_KINDS)
    ends, starts = found.places(outlets), found.places(sources)
    shots: list[tuple[float, float, str]] = []
    if ends and len(ends) == len(outlets):
        shots.append((*ends[0], f"{said(outlets[0].name)}, {_at_outlet(outlets[0].kind)}: what every invert hangs on"))
    if starts and len(starts) == len(sources):
        away = [math.dist(one, ends[0]) if shots else 0.0 for one in starts]
        far = away.index(max(away))
        what = "the source farthest from it" if shots else "the start of a line"
        shots.append((*starts[far], f"ground at {said(sources[far].name)}, {what}"))
    if len(shots) == 2:
        (x0, y0, _), (x1, y1, _) = shots
        shots.append(((x0 + x1) / 2, (y0 + y1) / 2, "ground half way between the two: whether a rise bars the way"))
    if found.crs is None:
        unit = found.settings.length_unit if ("", "length_unit") in found.told else ""
    else:
        unit = axis_unit(found.crs) or "degrees"
    digits = {"m": 3, "degrees": 8}.get(unit, 2)
    system = crs_name(found.settings.crs or "local") if ("", "crs") in found.told else "a system not told yet"
    survey = f"{system}, {units.UNIT_NAMES.get(unit, unit) or 'unit not told yet'}"
    return tuple(FirstShot(x, y, f"N {y:.{digits}f} E {x:.{digits}f}", why) for x, y, why in shots), survey
