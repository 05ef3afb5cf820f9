"""Lines that a person drew in; the same laid exactly there, with inverts as given or settled, and set beside the planner's own, out.

Nothing is refused for breaking a rule: a drawn line is laid as it is drawn and the checks say what it breaks. What is told
here is where its inverts come from, and what the planner would lay for the same sources alone.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from siteplan.books.kinds import Kind
from siteplan.books.pipes import sizes
from siteplan.books.prices import Prices
from siteplan.errors import InputError
from siteplan.fall.band import Profile, invert_at
from siteplan.routes.lines import Laid, cornered, fittings_of, with_wyes
from siteplan.routes.outlets import end_level
from siteplan.routes.trace import trace
from siteplan.site import Feature, Site
from siteplan.values import (
    LaidOut,
    Line,
    LowSpot,
    Outlet,
    OwnDrawn,
    OwnInverts,
    OwnLines,
    Pipe,
    PlannersOwn,
    Source,
)
from siteplan.yard.direct import along_chain
from siteplan.yard.gauges import SizesAsked
from siteplan.yard.groups import lay_beside, lay_out, lines_of_tree, yard_scene
from siteplan.yard.trees import Limit, Tree, YardScene, settled_tree

_AT_END = 1e-3  # m: a branch comes to its trunk so exactly


class Drawing(NamedTuple):
    """Drawn lines that end at one outlet together."""

    outlet: Outlet
    features: tuple[Feature, ...]  # trunk before its branches
    parents: tuple[int | None, ...]


class DrawnLines(NamedTuple):
    """A drawing as laid; no lines where a guide cannot be followed."""

    drawing: Drawing
    lines: tuple[Line, ...]
    inverts: tuple[OwnInverts, ...]


class DrawnAmong(NamedTuple):
    """What drawn lines are laid from."""

    site: Site
    named: tuple[Outlet, ...]
    spots: tuple[LowSpot, ...]
    pipe: Pipe
    prices: Prices


def laid_with_own(
    site: Site,
    named: tuple[Outlet, ...],
    spots: tuple[LowSpot, ...],
    pipe: Pipe,
    prices: Prices,
    asked: SizesAsked | None = None,
) -> LaidOut:
    """The yard laid out: lines of one's own where they are drawn, and the planner's for all other sources.

    Parameters
    ----------
    site : Site
        The surveyed site; its lines of kind drain are those of one's own.
    named : tuple of Outlet
        Outlets that the site names.
    spots : tuple of LowSpot
        Wet ground.
    pipe : Pipe
        The pipe laid where a drawn line names none.
    prices : Prices
        Relative prices.
    asked : SizesAsked, optional
        Sizes and flows of the lines that are not drawn.

    Returns
    -------
    LaidOut
        Drawn lines first. No other line comes into their trenches but at an outlet that they share.
    """
    drawings = drawings_of(site, named)
    if not drawings:
        return lay_out(site, named, spots, pipe, prices, asked)
    given = DrawnAmong(site, named, spots, pipe, prices)
    drawn = laid_drawings(given, drawings)
    lines = tuple(line for one in drawn for line in one.lines)
    own = LaidOut(
        lines=lines,
        outlets=named,
        candidates=(),
        notes=(),
        own=tuple(_told(given, one) for one in drawn),
    )
    carried = {key for line in lines for key in line.sources}
    if carried >= {source.id for source in site.sources}:
        return own
    if lines:
        return lay_beside(site, named, spots, pipe, prices, own, shared_ends=True, sizes=asked)
    return replace(lay_out(site, named, spots, pipe, prices, asked), own=own.own)


def drawings_of(site: Site, named: Sequence[Outlet]) -> tuple[Drawing, ...]:
    """Drawn lines, those that lead into one another together.

    Parameters
    ----------
    site : Site
        Its lines of kind drain.
    named : sequence of Outlet
        Those in play; a line to another is out of play, and what joins it.

    Returns
    -------
    tuple of Drawing
        In the order in which their trunks are read.
    """
    drains = site.of_kind(Kind.DRAIN)
    fallen = {one.name for one in site.sources}
    for one in drains:
        if one.attributes["from"] not in fallen:
            raise InputError(
                f"drain {one.name}".strip(),
                f"comes from {one.attributes['from']}, whose water is pumped all the way under pressure",
                "Take out the drain, or the sump's discharge.",
            )
    outlets = {one.name: one for one in named}
    found = []
    for trunk in drains:
        outlet = outlets.get(trunk.attributes["to"])
        if "joins" in trunk.attributes or outlet is None:
            continue
        features, parents = [trunk], list[int | None]([None])
        for at, one in enumerate(features):  # it grows while it is walked
            for branch in drains:
                if one.name and branch.attributes.get("joins") == one.name:
                    features.append(branch)
                    parents.append(at)
        found.append(Drawing(outlet, tuple(features), tuple(parents)))
    return tuple(found)


def laid_drawings(given: DrawnAmong, drawings: Sequence[Drawing]) -> tuple[DrawnLines, ...]:
    """Drawn lines laid where they are drawn, numbered on from one another.

    Parameters
    ----------
    given : DrawnAmong
        The yard.
    drawings : sequence of Drawing
        From `drawings_of`, or changed.

    Returns
    -------
    tuple of DrawnLines
        In the order given.
    """
    found: list[DrawnLines] = []
    for one in drawings:
        before = sum(len(done.lines) for done in found)
        held = scenes_of(given, one)
        tree, inverts = drawn_tree(held, one)
        found.append(DrawnLines(one, () if tree is None else lines_of_tree(held, tree, before), inverts))
    return tuple(found)


def scenes_of(given: DrawnAmong, drawing: Drawing) -> list[YardScene]:
    """The yard as each line of a drawing sees it, in its own pipe.

    Parameters
    ----------
    given : DrawnAmong
        The yard.
    drawing : Drawing
        Drawn lines.

    Returns
    -------
    list of YardScene
        One a line; lines of one pipe share theirs.
    """
    pipes = [pipe_told(given, feature) for feature in drawing.features]
    made = {(pipe.kind, pipe.nominal): pipe for pipe in pipes}
    scenes = {key: yard_scene(given.site, given.named, given.spots, pipe, given.prices) for key, pipe in made.items()}
    return [scenes[pipe.kind, pipe.nominal] for pipe in pipes]


def pipe_told(given: DrawnAmong, feature: Feature) -> Pipe:
    """The pipe of a drawn line: of its kind and size, else of its kind in the size laid, else the one laid.

    Parameters
    ----------
    given : DrawnAmong
        The pipe laid, and the site's own pipes.
    feature : Feature
        The drawn line.

    Returns
    -------
    Pipe
        Of a kind that has not the size laid, its next larger; its largest where there is none.
    """
    told = feature.attributes
    every = sizes(told.get("pipe", given.pipe.kind), given.site.laying.own_pipes)
    size = told.get("nominal")
    if size is not None:
        return next(one for one in every if one.nominal == size)
    same = [one for one in every if one.nominal == given.pipe.nominal]
    wide = [one for one in every if one.bore >= given.pipe.bore]
    return (same or wide or list(every[-1:]))[0]


def _told(given: DrawnAmong, one: DrawnLines) -> OwnLines:
    """A drawing as it is told: what was drawn, what it comes to, and what the planner would lay instead."""
    ids: list[str | None] = [line.id for line in one.lines] or [None] * len(one.drawing.features)
    sources = [source_of(given.site, feature) for feature in one.drawing.features]
    drawn = tuple(
        OwnDrawn(
            line=line, name=feature.name, source=source.id, outlet=one.drawing.outlet.id,
            mode=feature.attributes["mode"], inverts=inverts,
        )
        for line, feature, source, inverts in zip(ids, one.drawing.features, sources, one.inverts, strict=True)
    )  # fmt: skip
    if not one.lines:
        return OwnLines(drawn=drawn, cost=None, length=None)
    return OwnLines(
        drawn=drawn,
        cost=math.fsum(line.cost for line in one.lines),
        length=math.fsum(line.length for line in one.lines),
    )


def planners_own(given: DrawnAmong, drawing: Drawing) -> PlannersOwn | None:
    """What the planner would lay for the sources of a drawing alone, in the smallest pipe.

    Parameters
    ----------
    given : DrawnAmong
        The yard.
    drawing : Drawing
        Drawn lines.

    Returns
    -------
    PlannersOwn or None
        None where a source would have no line.
    """
    sources = [source_of(given.site, one) for one in drawing.features]
    site = given.site
    free = replace(site, sources=tuple(sources), features=tuple(one for one in site.features if one.kind != Kind.DRAIN))
    lines = lay_out(free, given.named, given.spots, given.pipe, given.prices).lines
    if {key for line in lines for key in line.sources} < {source.id for source in sources}:
        return None
    ids, named = {line.id for line in lines}, {one.id for one in given.named}
    ends = dict.fromkeys(line.end for line in lines if line.end not in ids)
    return PlannersOwn(
        cost=math.fsum(line.cost for line in lines),
        length=math.fsum(line.length for line in lines),
        spare=min(line.spare for line in lines),
        outlets=tuple(end if end in named else None for end in ends),
        lines=len(lines),
    )


def source_of(site: Site, feature: Feature) -> Source:
    """The source that a drawn line comes from.

    Parameters
    ----------
    site : Site
        As surveyed.
    feature : Feature
        The drawn line.

    Returns
    -------
    Source
    """
    return next(one for one in site.sources if one.name == feature.attributes["from"])


def drawn_tree(scenes: Sequence[YardScene], drawing: Drawing) -> tuple[Tree | None, tuple[OwnInverts, ...]]:
    """Drawn lines with inverts, and where these come from.

    Parameters
    ----------
    scenes : sequence of YardScene
        One a line, from `scenes_of`.
    drawing : Drawing
        Drawn lines.

    Returns
    -------
    tuple of Tree and tuple of str
        None for a guide that cannot be followed.
    """
    import shapely

    site = scenes[0].site
    chains = [[(float(x), float(y)) for x, y in shapely.get_coordinates(one.geometry)] for one in drawing.features]
    sources = [source_of(site, one) for one in drawing.features]
    if drawing.features[0].attributes["mode"] == "guide":
        tree = along_chain(scenes[0], chains[0], sources[0], drawing.outlet)
        return tree, ("none" if tree is None else "planner",)
    laid: list[Laid] = []
    for k, (chain, source, parent) in enumerate(zip(chains, sources, drawing.parents, strict=True)):
        held, corners = scenes[k], tuple(reversed(chain))
        if parent is not None:
            corners, laid[parent] = cornered(site, held.yard, laid[parent], corners, scenes[parent].terms, near=_AT_END)
        ends_at = drawing.outlet if parent is None else None
        carried = tuple(sources[j] for j in _upstream(drawing.parents, k))
        laid.append(
            Laid(
                source=source, carried=carried, parent=parent, outlet=ends_at,
                trace=trace(site, held.yard.grounds, corners, source, ends_at, held.terms),
                fittings=fittings_of(corners), straight=True, drawn=True,
            )
        )  # fmt: skip
    laid = with_wyes(laid)
    profiles, inverts = _profiles(scenes, drawing, laid)
    return Tree(outlet=drawing.outlet, laid=tuple(laid), profiles=profiles), inverts


def _upstream(parents: Sequence[int | None], k: int) -> list[int]:
    """Numbers of the lines whose water one carries, itself first."""
    return [k, *(j for child, parent in enumerate(parents) if parent == k for j in _upstream(parents, child))]


def _profiles(
    scenes: Sequence[YardScene], drawing: Drawing, laid: Sequence[Laid]
) -> tuple[tuple[Profile, ...], tuple[OwnInverts, ...]]:
    """Inverts of every line: as told, the highest that keep every limit beside those, else straight ones."""
    found: dict[int, Profile] = {}
    told: dict[int, OwnInverts] = {}
    end = end_level(scenes[0].site, drawing.outlet, scenes[0].pipe)
    drawing = drawing._replace(outlet=replace(drawing.outlet, control=end))
    for k, (one, feature) in enumerate(zip(laid, drawing.features, strict=True)):
        inverts = feature.attributes.get("inverts")
        if inverts is not None:
            at = [0.0, *np.cumsum(_lengths(feature)[::-1])]
            at[-1] = one.trace.corner_stations[-1]
            found[k], told[k] = Profile(station=np.asarray(at), invert=np.asarray(inverts[::-1])), "given"
    for k, one in enumerate(laid):
        if k in found:
            continue
        length, grade = one.trace.corner_stations[-1], drawing.features[k].attributes.get("grade")
        low = _joined(laid, found, k) if one.parent is not None else drawing.outlet.control
        if grade is not None and low is not None:
            found[k], told[k] = (
                Profile(station=np.array([0.0, length]), invert=low + grade * np.array([0.0, length])),
                "grade",
            )
        elif grade is None:
            members = _together(drawing, laid, found, k)
            for number, profile in _settled(scenes, drawing, laid, found, members).items():
                found[number], told[number] = profile, "settled"
            if k not in found:
                start = drawing.outlet.control if low is None else low
                top = max(float(one.trace.ceiling[-1]), start)
                found[k], told[k] = Profile(station=np.array([0.0, length]), invert=np.array([start, top])), "straight"
    order = range(len(laid))
    return tuple(found[k] for k in order), tuple(told[k] for k in order)


def _lengths(feature: Feature) -> list[float]:
    import shapely

    xy = shapely.get_coordinates(feature.geometry)
    return [float(one) for one in np.hypot(*np.diff(xy, axis=0).T)]


def _joined(laid: Sequence[Laid], found: Mapping[int, Profile], k: int) -> float | None:
    """Invert of the trunk where a line joins it; None while the trunk has none."""
    parent = laid[k].parent
    if parent is None or parent not in found:
        return None
    return float(invert_at(found[parent], [_station(laid, k)])[0])


def _station(laid: Sequence[Laid], k: int) -> float:
    """Station of its trunk where a line joins it."""
    parent = laid[k].parent
    assert parent is not None
    trunk = laid[parent].trace
    return trunk.corner_stations[trunk.corners.index(laid[k].trace.corners[0])]


def _together(drawing: Drawing, laid: Sequence[Laid], found: Mapping[int, Profile], k: int) -> list[int]:
    """A line without inverts, and the lines without that lead into it by such lines alone."""
    members = [k]
    for j, one in enumerate(laid):
        told = drawing.features[j].attributes
        if j > k and j not in found and one.parent in members and "grade" not in told:
            members.append(j)
    return members


def _settled(
    scenes: Sequence[YardScene],
    drawing: Drawing,
    laid: Sequence[Laid],
    found: Mapping[int, Profile],
    members: list[int],
) -> dict[int, Profile]:
    """The highest inverts of lines that have none, beside those of the lines that have; empty where none keep every limit."""
    first = members[0]
    limits: dict[int, list[Limit]] = {}
    outlet = drawing.outlet
    low = _joined(laid, found, first)
    if laid[first].parent is not None:
        if low is None:
            return {}
        outlet = replace(outlet, kind=Kind.DAYLIGHT_OUTLET, invert=None, control=low)
        limits[0] = [Limit(0.0, math.inf, low)]
    for j, profile in found.items():
        if laid[j].parent in members:  # what is told of a branch holds its trunk down
            at = members.index(laid[j].parent or 0)
            limits.setdefault(at, []).append(Limit(_station(laid, j), float(profile.invert[0]), -math.inf))
    free = tuple(
        replace(laid[j], drawn=False, parent=None if place == 0 else members.index(laid[j].parent or 0))
        for place, j in enumerate(members)
    )
    tree = settled_tree(scenes[first], free, outlet, limits)
    return {} if tree is None else dict(zip(members, tree.profiles, strict=True))
