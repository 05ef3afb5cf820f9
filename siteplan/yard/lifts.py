"""Sumps that gravity serves nowhere and whose pump is stated in; where the plan lifts each of them to, out.

All the way to an outlet, to a discharge point that nobody lifts to yet, or to a box from which gravity goes on, at a
place found here.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from siteplan.books import rules
from siteplan.books.kinds import Kind, pumped
from siteplan.books.pumping import LEAST_PUMPED, pit_storage
from siteplan.routes.daylight import found_outlets
from siteplan.routes.sharing import may_end, most_lines
from siteplan.site import Site, heights
from siteplan.values.forecasts import LowSpot
from siteplan.values.laid_pipe import Pipe
from siteplan.values.lines import Line
from siteplan.values.water_ends import Outlet, Source
from siteplan.values.whole_plan import Lift
from siteplan.yard.groups import lay_out, yard_scene
from siteplan.yard.pairs import tried_pair
from siteplan.yard.pressed import lifted_line, line_to_box

_APART = 4.0  # m between places for a box that are looked at
_LOOKED = 24  # of them
_TRIED = 4  # of them laid out whole
_DIGITS = 3  # of a box's place: a crew sets it no nearer than a millimetre


def lifts_of(
    site: Site, spots: tuple[LowSpot, ...], lines: Sequence[Line], outlets: Sequence[Outlet], pipe: Pipe
) -> dict[str, Lift]:
    """Where sumps are lifted to that no line by gravity serves and that have a pump.

    Though no discharge is named for it.

    Parameters
    ----------
    site : Site
        As surveyed.
    spots : tuple of LowSpot
        Wet ground.
    lines : sequence of Line
        By gravity, as laid.
    outlets : sequence of Outlet
        Of these only named ones that take a sump's water and are in play.
    pipe : Pipe
        The smallest on offer, for what goes on by gravity.

    Returns
    -------
    dict of str to Lift
        By name of the sump: of those ends to which its pump brings what comes to the pit, the one that costs least with
        the line by gravity from it, and one with a hole left before others. A box is looked for only where no outlet
        and no drawn point is one. A sump whose pump reaches none is not among them.
    """
    drained = {source for line in lines for source in line.sources}
    named = tuple(one for one in outlets if not one.found and site.what_if.plays(one.name))
    chosen: dict[str, Lift] = {}
    for source in site.sources:
        if source.id in drained or source.pit is not None or not _may_lift(site, source):
            continue
        ranked = [*_all_the_way(site, spots, lines, named, source, chosen)]
        ranked += _to_points(site, spots, named, source, pipe, chosen)
        if not ranked:
            ranked += _to_boxes(site, spots, named, source, pipe, chosen)
        if ranked:
            chosen[source.name] = min(ranked, key=lambda one: (one[0], round(one[1], 6), one[2].to, one[2].box or ()))[
                2
            ]
    return chosen


_Ranked = tuple[bool, float, Lift]  # whether its end is full, its cost, where to


def _all_the_way(
    site: Site,
    spots: Sequence[LowSpot],
    lines: Sequence[Line],
    named: Sequence[Outlet],
    source: Source,
    chosen: dict[str, Lift],
) -> Iterator[_Ranked]:
    for outlet in named:
        if not may_end(site, source, outlet):
            continue
        line = lifted_line(site, spots, source, outlet)
        if _serves(site, source, line):
            assert line is not None
            most = most_lines(site, outlet)
            ends = sum(one.end == outlet.id for one in lines) + sum(one.to == outlet.name for one in chosen.values())
            yield most is not None and ends >= most, line.cost, Lift(to=outlet.name)


def _to_points(
    site: Site,
    spots: tuple[LowSpot, ...],
    named: tuple[Outlet, ...],
    source: Source,
    pipe: Pipe,
    chosen: dict[str, Lift],
) -> Iterator[_Ranked]:
    """Discharge points that are drawn and that nobody lifts to."""
    used = {one.discharge for one in site.pumps} | {one.to for one in chosen.values()}
    for one in site.of_kind(Kind.DISCHARGE_POINT):
        if not one.name or one.name in used:
            continue
        box = _at(site, source, (one.geometry.x, one.geometry.y))
        if box is None:
            continue
        cost = _cost(
            site, spots, named, source, replace(box, invert_limit=one.attributes.get("invert")), pipe, one.name
        )
        if cost is not None:
            yield False, cost, Lift(to=one.name)


def _to_boxes(
    site: Site,
    spots: tuple[LowSpot, ...],
    named: tuple[Outlet, ...],
    source: Source,
    pipe: Pipe,
    chosen: dict[str, Lift],
) -> Iterator[_Ranked]:
    """A box at a place found here: near the pit, and farther off from a foundation than a sump's water may come out."""
    boxes = sum(one.box is not None for one in chosen.values())
    called = {one.name for one in site.features}
    name = next(text for k in range(1, 10**6) if (text := f"found box {boxes + k}") not in called)
    for box in _likely(site, spots, named, source, pipe):
        cost = _cost(site, spots, named, source, box, pipe, name)
        if cost is not None:
            yield False, cost, Lift(to=name, box=(box.x, box.y))


def _likely(
    site: Site, spots: tuple[LowSpot, ...], named: tuple[Outlet, ...], source: Source, pipe: Pipe
) -> list[Source]:
    """The places nearest to the pit from which gravity reaches a named outlet.

    Else a daylight place that the rules allow.
    """
    import shapely

    bare = _bare(site, ())
    scene = yard_scene(bare, named, spots, pipe, site.laying.prices)
    places = scene.yard.places(np.flatnonzero(scene.yard.is_open))
    off = rules.limit(site.rules, rules.SUMP_OUTLET_FOUNDATION) or 0.0
    houses = shapely.union_all([one.geometry for one in site.of_kind(Kind.BUILDING)])
    points = shapely.points(places)
    places = places[shapely.covers(site.lot, points) & (shapely.distance(points, houses) >= off)]
    far = np.hypot(places[:, 0] - source.x, places[:, 1] - source.y)
    kept: list[Source] = []
    for x, y in places[np.lexsort((places[:, 1], places[:, 0], np.round(far, 6)))].round(_DIGITS).tolist():
        if all(math.dist((x, y), (one.x, one.y)) >= _APART for one in kept):
            box = _at(site, source, (x, y))
            kept += [] if box is None else [replace(box, id=f"{source.id}-{len(kept)}")]
        if len(kept) >= _LOOKED:
            break
    if not kept:
        return []
    every = yard_scene(_bare(site, tuple(kept)), named, spots, pipe, site.laying.prices)
    falls = [one for one in kept if any(tried_pair(every, one, outlet).why is None for outlet in named)]
    if not falls and not site.what_if.only:
        falls = [
            one
            for one in kept
            if found_outlets(
                every.site,
                every.yard,
                [every.reaches[one.id].inverts],
                spots,
                every.terms,
                sumps=[True],
                walls=[source.ground],
                everywhere=False,
            )
        ]
    return [replace(one, id=source.id) for one in falls[:_TRIED]]


def _at(site: Site, source: Source, place: tuple[float, float]) -> Source | None:
    """The sump as it stands to gravity when lifted to a place; None where the ground is not known there."""
    ground = float(heights(site.grid, np.array([place[0]]), np.array([place[1]]))[0])
    if not math.isfinite(ground):
        return None
    return replace(source, x=place[0], y=place[1], ground=ground, ground_known=True, invert_limit=None)


def _bare(site: Site, sources: tuple[Source, ...]) -> Site:
    return replace(
        site,
        sources=sources,
        lifted=(),
        pumps=(),
        features=tuple(one for one in site.features if one.kind != Kind.DRAIN),
    )


def _cost(
    site: Site,
    spots: tuple[LowSpot, ...],
    named: tuple[Outlet, ...],
    source: Source,
    box: Source,
    pipe: Pipe,
    name: str,
) -> float | None:
    """What a lift to a box and the lines from it cost.

    None where the pump does not bring its water there or gravity does not go on.
    """
    line = line_to_box(site, spots, source, box, name)
    if not _serves(site, source, line):
        return None
    assert line is not None
    on = lay_out(_bare(site, (box,)), named, spots, pipe, site.laying.prices).lines
    if not on:
        return None
    return line.cost + math.fsum(one.cost for one in on)


def _serves(site: Site, source: Source, line: Line | None) -> bool:
    least = max(LEAST_PUMPED, _inflow(site, source))
    return line is not None and line.pumped is not None and line.pumped.flow >= least


def _may_lift(site: Site, source: Source) -> bool:
    told = site.told_of(source)
    stated = "pump_curve" in told or "pump_point" in told
    return pumped(source.kind) and stated and told.get("off_level", -math.inf) < source.ground


def _inflow(site: Site, source: Source) -> float:
    told = site.told_of(source)
    storage = pit_storage(told)
    return storage / told["refill_s"] if storage and "refill_s" in told else 0.0
