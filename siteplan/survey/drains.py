"""Lines that a person drew in.

Each tied to the source it comes from and the outlet or drawn line it goes to, downhill, out.
"""

from __future__ import annotations

import difflib
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType
from typing import TYPE_CHECKING, NamedTuple

from siteplan import units
from siteplan.books.kinds import OUTLET_KINDS, SOURCE_KINDS, Kind
from siteplan.books.pipes import kinds, sizes
from siteplan.errors import InputError, alike_or, raise_gathered
from siteplan.site import Feature, Sizing
from siteplan.survey.files import said

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

DRAWN_TO = 0.5  # m: an end drawn so near to its source, outlet or trunk is taken to lie there
_SAME_NOMINAL = (
    0.06  # share by which the inside of a size may differ from the diameter that names it: 8 in SDR 35 has 7.67
)


class _Ends(NamedTuple):
    """What drawn lines may come from and go to, by name."""

    sources: Mapping[str, Feature]
    outlets: Mapping[str, Feature]
    drains: Mapping[str, Feature]
    by_source: Mapping[str, Feature]  # drains by the source that they come from


def tied_drains(
    features: Sequence[Feature], places: Mapping[tuple[str, int], str], length_unit: str, sizing: Sizing
) -> tuple[Feature, ...]:
    """The features, with every line of kind drain running from its source to its outlet or to the drawn line it joins.

    Parameters
    ----------
    features : sequence of Feature
        Of the site, in the plan's frame.
    places : mapping
        File and number of a feature to where it stands, for messages.
    length_unit : str
        The site's.
    sizing : Sizing
        The kind of pipe where a line names none, and the site's own pipes.

    Returns
    -------
    tuple of Feature
        Attribute `from` names a source; `to` an outlet or, with `joins` beside it, another drawn line, `joins` being
        the source that one comes from; or, with `meets` beside it, a source whose line the planner lays; the line's
        ends are theirs, but where it meets that line; `mode` is fixed where not told; `nominal` is the size that its
        diameter names.

    Raises
    ------
    InputError, InputErrors
        For an end that is not named or known, a line drawn somewhere else, inverts that are not one for each corner,
        a second line from one source, lines that lead into one another in a ring, a pipe that no book holds.
    """
    drains = [one for one in features if one.kind == Kind.DRAIN]
    if not drains:
        return tuple(features)

    def where(feature: Feature) -> str:
        return places.get((feature.file, feature.number), said(feature.name, 60))

    faults: list[InputError] = []
    named: dict[str, Feature] = {}
    by_source = {one.attributes["from"]: one for one in drains if "from" in one.attributes}
    for one in (one for one in drains if one.name):
        if one.name in named:
            faults.append(
                InputError(where(one), f'is a second drain called "{said(one.name, 60)}"', "Give each its own name.")
            )
        named.setdefault(one.name, one)
    ends = _Ends(
        {one.name: one for one in features if one.kind in SOURCE_KINDS},
        {one.name: one for one in features if one.kind in OUTLET_KINDS},
        named,
        by_source,
    )
    tied, begun = [], set[str]()
    for feature in features:
        if feature.kind != Kind.DRAIN:
            tied.append(feature)
            continue
        place = where(feature)
        try:
            one = _tied(feature, place, ends, length_unit, sizing)
        except InputError as fault:
            faults.append(fault)
            continue
        if one.attributes["from"] in begun:
            faults.append(InputError(place, f"is a second line from {said(one.attributes['from'], 60)}", "Keep one."))
        begun.add(one.attributes["from"])
        tied.append(one)
    raise_gathered(faults)
    raise_gathered(_rings([one for one in tied if one.kind == Kind.DRAIN], where))
    return tuple(tied)


def _tied(feature: Feature, place: str, ends: _Ends, length_unit: str, sizing: Sizing) -> Feature:
    import shapely

    told = dict(feature.attributes)
    source, target = (_end(told, key, place, ends) for key in ("from", "to"))
    if target.kind in SOURCE_KINDS and target.name in ends.by_source:
        target = ends.by_source[target.name]  # its line is drawn too
    if target is feature or target is source:
        raise InputError(f"{place}, to", f'"{said(told["to"], 60)}" is the line itself', "Name what it comes to.")
    trunk = target if target.kind == Kind.DRAIN else None
    meets = target.kind in SOURCE_KINDS
    start = float(source.geometry.x), float(source.geometry.y)
    drawn = [(float(x), float(y)) for x, y in shapely.get_coordinates(feature.geometry)]

    def goal(place_: tuple[float, float]) -> tuple[float, float]:
        if meets:
            return place_
        if trunk is None:
            return float(target.geometry.x), float(target.geometry.y)
        line: BaseGeometry = trunk.geometry
        on = line.interpolate(line.project(shapely.Point(place_)))
        return float(on.x), float(on.y)

    def off(line: Sequence[tuple[float, float]]) -> float:
        return math.dist(line[0], start) + math.dist(line[-1], goal(line[-1]))

    if off(drawn) > off(drawn[::-1]):
        drawn.reverse()
    end = goal(drawn[-1])
    for here, key, there in ((drawn[0], "from", start), (drawn[-1], "to", end)):
        if math.dist(here, there) > DRAWN_TO:
            raise InputError(
                place,
                f"ends {units.length_text(math.dist(here, there), length_unit)} from {said(told[key], 60)}",
                f"Draw it to within {units.length_text(DRAWN_TO, length_unit)}, or name what it comes to.",
            )
    inverts = told.get("inverts")
    if inverts is not None and len(inverts) != len(drawn):
        raise InputError(
            f"{place}, inverts",
            f"has {len(inverts)} elevations for {len(drawn)} corners",
            "Give one for each corner, upstream to downstream.",
        )
    told |= _pipe_told(told, place, length_unit, sizing)
    told.setdefault("mode", "fixed")
    told |= _joined_told(told, target, place)
    line = shapely.LineString([start, *drawn[1:-1], end])
    return replace(feature, geometry=line, attributes=MappingProxyType(told))


def _joined_told(told: Mapping[str, str], target: Feature, place: str) -> dict[str, str]:
    """What is said of a drawn line that joins another.

    The source of the one drawn, or the one whose line the planner lays.
    """
    if target.kind in OUTLET_KINDS:
        return {}
    drawn = target.kind == Kind.DRAIN
    for one, of in ((told, "is a guide that"), (target.attributes if drawn else {}, "comes to a guide and")):
        if one.get("mode") == "guide":
            raise InputError(place, f"{of} joins {said(told['to'], 60)}", "Draw both fixed: a guide may be moved.")
    return {"joins": target.attributes.get("from", "")} if drawn else {"meets": target.name}


def _end(told: Mapping[str, str], key: str, place: str, ends: _Ends) -> Feature:
    """What a drawn line comes from or goes to."""
    called = "source" if key == "from" else "outlet"
    known = ends.sources if key == "from" else {**ends.sources, **ends.drains, **ends.outlets}
    if key not in told:
        raise InputError(
            place,
            f"does not say where it {'comes from' if key == 'from' else 'goes to'}",
            f"Give {key}, the name of a{'n' if called[0] in 'ao' else ''} {called}.",
        )
    name = told[key]
    if name not in known:
        near = difflib.get_close_matches(name, known, n=1, cutoff=0.5)
        offered = ends.sources if key == "from" else ends.outlets
        mend = f"Did you mean {said(near[0], 60)}?" if near else f"Name one of {said(', '.join(offered), 200)}."
        raise InputError(f"{place}, {key}", f'"{said(name, 60)}" is no {called} of this site', mend)
    if key == "to" and name in ends.drains and name in {**ends.outlets, **ends.sources}:
        what = "an outlet" if name in ends.outlets else "a source"
        raise InputError(
            f"{place}, to", f'"{said(name, 60)}" is {what} and a drain', "Give the drain a name of its own."
        )
    return known[name]


def _pipe_told(told: Mapping[str, object], place: str, length_unit: str, sizing: Sizing) -> dict[str, str]:
    """The size that a drawn line's diameter names, in its kind of pipe."""
    offered = kinds(sizing.own_pipes)
    kind = str(told.get("pipe", sizing.pipe))
    if kind not in offered:
        raise InputError(f"{place}, pipe", f'"{said(kind, 40)}" is no kind of pipe here', alike_or(kind, offered))
    wide = told.get("diameter")
    if not isinstance(wide, float):
        return {}
    every = sizes(kind, sizing.own_pipes)
    near_it = [one for one in every if min(abs(size - wide) for size in (one.bore, one.od)) <= _SAME_NOMINAL * wide]
    if not near_it:
        told_sizes = ", ".join(units.size_text(one.nominal, one.od, length_unit) for one in every)
        raise InputError(
            f"{place}, diameter",
            f"is no size of {kind} in the book of pipes",
            f"Give one of {told_sizes}, or the pipe under [pipes] in site.toml.",
        )
    return {"nominal": min(near_it, key=lambda one: (abs(one.bore - wide), one.bore)).nominal}


def _rings(drains: Sequence[Feature], where: Callable[[Feature], str]) -> list[InputError]:
    """Drawn lines that lead into one another and to no outlet."""
    after = {one.attributes["from"]: one.attributes.get("joins") for one in drains}
    called = {one.attributes["from"]: one.name or f"the line of {one.attributes['from']}" for one in drains}
    faults = []
    for one in drains:
        way, name = [one.attributes["from"]], one.attributes.get("joins")
        while name is not None and name not in way:
            way.append(name)
            name = after.get(name)
        if name is not None:
            faults.append(
                InputError(
                    where(one),
                    f"leads by {said(', '.join(called.get(part, part) for part in way[1:]), 120)} to no outlet",
                    "Let one of them go to an outlet.",
                )
            )
    return faults
