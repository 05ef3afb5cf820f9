"""Drawn lines that lead into one another in; the same in plan exactly there, with inverts as given or settled, out."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from siteplan.books.kinds import Kind
from siteplan.fall.band import Profile, invert_at
from siteplan.routes.lines import Laid, cornered, fittings_of, with_wyes
from siteplan.routes.outlets import end_level
from siteplan.routes.straight import Place
from siteplan.routes.trace import trace
from siteplan.site import Feature
from siteplan.values.own_drawn import OwnInverts
from siteplan.values.water_ends import Outlet, Source
from siteplan.yard.trees import Limit, YardScene, settled_tree

_AT_END = 1e-3  # m: a branch comes to its trunk so exactly


class Drawing(NamedTuple):
    """Drawn lines that end at one outlet together, or join one line."""

    outlet: Outlet
    features: tuple[Feature, ...]  # trunk before its branches
    parents: tuple[int | None, ...]


def chain_of(feature: Feature) -> list[Place]:
    """Corners of a drawn line.

    Parameters
    ----------
    feature : Feature
        Of kind drain.

    Returns
    -------
    list of tuple
        Upstream to downstream [m].
    """
    import shapely

    return [(float(x), float(y)) for x, y in shapely.get_coordinates(feature.geometry)]


def drawn_lines(
    scenes: Sequence[YardScene], drawing: Drawing, sources: Sequence[Source], *, joins: bool = False
) -> tuple[tuple[Laid, ...], tuple[Profile, ...], tuple[OwnInverts, ...]]:
    """Drawn lines with inverts, and where these come from.

    Parameters
    ----------
    scenes : sequence of YardScene
        One a line.
    drawing : Drawing
        Drawn lines, no guide.
    sources : sequence of Source
        That they come from.
    joins : bool
        True: the first joins a line that is laid already, at the level that the drawing's outlet stands for.

    Returns
    -------
    tuple of Laid, of Profile and of str
        In the order of the drawing.
    """
    laid: list[Laid] = []
    for k, (feature, source, parent) in enumerate(zip(drawing.features, sources, drawing.parents, strict=True)):
        held, corners = scenes[k], tuple(reversed(chain_of(feature)))
        if parent is not None:
            corners, laid[parent] = cornered(
                held.site, held.yard, laid[parent], corners, scenes[parent].terms, near=_AT_END
            )
        ends_at = drawing.outlet if parent is None and not joins else None
        carried = tuple(sources[j] for j in _upstream(drawing.parents, k))
        along = trace(held.site, held.yard.grounds, corners, source, ends_at, held.terms)
        laid.append(
            Laid(
                source=source,
                carried=carried,
                parent=parent,
                outlet=ends_at,
                trace=along,
                fittings=fittings_of(corners),
                straight=True,
                drawn=True,
            )
        )
    laid = with_wyes(laid)
    profiles, inverts = _profiles(scenes, drawing, laid, joins=joins)
    return tuple(laid), profiles, inverts


def _upstream(parents: Sequence[int | None], k: int) -> list[int]:
    """Numbers of the lines whose water one carries, itself first."""
    return [k, *(j for child, parent in enumerate(parents) if parent == k for j in _upstream(parents, child))]


def _profiles(
    scenes: Sequence[YardScene], drawing: Drawing, laid: Sequence[Laid], *, joins: bool
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
            for number, profile in _settled(scenes, drawing, laid, found, members, joins=joins).items():
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
    *,
    joins: bool,
) -> dict[int, Profile]:
    """The highest inverts of lines that have none, beside those of the lines that have.

    Empty where none keep every limit.
    """
    first = members[0]
    limits: dict[int, list[Limit]] = {}
    outlet = drawing.outlet
    low = outlet.control if joins and first == 0 else _joined(laid, found, first)
    if laid[first].parent is not None or joins:
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
