"""Lines that a person drew in; each tied to the source and outlet that it names, drawn downhill from the one to the other, out."""

from __future__ import annotations

import difflib
import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType
from typing import TYPE_CHECKING

from siteplan import units
from siteplan.books.kinds import OUTLET_KINDS, SOURCE_KINDS, Kind
from siteplan.books.pipes import kinds
from siteplan.errors import InputError, raise_gathered
from siteplan.site import Feature
from siteplan.survey.files import said

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from siteplan.books.pipes import OwnPipes

DRAWN_TO = 0.5  # m: an end drawn so near to its source or outlet is taken to lie there


def tied_drains(
    features: Sequence[Feature], places: Mapping[tuple[str, int], str], length_unit: str, own_pipes: OwnPipes
) -> tuple[Feature, ...]:
    """The features, with every line of kind drain running from its source to its outlet.

    Parameters
    ----------
    features : sequence of Feature
        Of the site, in the plan's frame.
    places : mapping
        File and number of a feature to where it stands, for messages.
    length_unit : str
        The site's.
    own_pipes : mapping
        The site's own pipes.

    Returns
    -------
    tuple of Feature
        Attributes `from` and `to` name a source and an outlet; the line's ends are theirs; `mode` is fixed where not told.

    Raises
    ------
    InputError, InputErrors
        For an end that is not named or known, a line drawn somewhere else, inverts that are not one for each corner,
        a second line from one source, a kind of pipe that no book holds.
    """
    if all(one.kind != Kind.DRAIN for one in features):
        return tuple(features)
    ends = {
        key: {one.name: one for one in features if one.kind in group}
        for key, group in (("from", SOURCE_KINDS), ("to", OUTLET_KINDS))
    }
    faults: list[InputError] = []
    tied, begun = [], set[str]()
    for feature in features:
        if feature.kind != Kind.DRAIN:
            tied.append(feature)
            continue
        place = places.get((feature.file, feature.number), said(feature.name, 60))
        try:
            one = _tied(feature, place, ends, length_unit, kinds(own_pipes))
        except InputError as fault:
            faults.append(fault)
            continue
        if one.attributes["from"] in begun:
            faults.append(InputError(place, f"is a second line from {said(one.attributes['from'], 60)}", "Keep one."))
        begun.add(one.attributes["from"])
        tied.append(one)
    raise_gathered(faults)
    return tuple(tied)


def _tied(
    feature: Feature, place: str, ends: Mapping[str, Mapping[str, Feature]], length_unit: str, offered: Sequence[str]
) -> Feature:
    import shapely

    told = dict(feature.attributes)
    at: list[tuple[float, float]] = []
    for key, called in (("from", "source"), ("to", "outlet")):
        if key not in told:
            raise InputError(
                place,
                f"does not say where it comes {key}" if key == "from" else "does not say where it goes to",
                f"Give {key}, the name of a{'n' if called[0] in 'ao' else ''} {called}.",
            )
        known = ends[key]
        if told[key] not in known:
            near = difflib.get_close_matches(told[key], known, n=1, cutoff=0.5)
            mend = f"Did you mean {said(near[0], 60)}?" if near else f"Name one of {said(', '.join(known), 200)}."
            raise InputError(f"{place}, {key}", f'"{said(told[key], 60)}" is no {called} of this site', mend)
        geometry: BaseGeometry = known[told[key]].geometry
        at.append((float(geometry.x), float(geometry.y)))
    drawn = [(float(x), float(y)) for x, y in shapely.get_coordinates(feature.geometry)]
    if math.dist(drawn[0], at[0]) + math.dist(drawn[-1], at[1]) > math.dist(drawn[0], at[1]) + math.dist(
        drawn[-1], at[0]
    ):
        drawn.reverse()
    for end, (key, aside) in zip((drawn[0], drawn[-1]), zip(("from", "to"), at, strict=True), strict=True):
        if math.dist(end, aside) > DRAWN_TO:
            raise InputError(
                place,
                f"ends {units.length_text(math.dist(end, aside), length_unit)} from {said(told[key], 60)}",
                f"Draw it to within {units.length_text(DRAWN_TO, length_unit)}, or name what it comes to.",
            )
    inverts = told.get("inverts")
    if inverts is not None and len(inverts) != len(drawn):
        raise InputError(
            f"{place}, inverts",
            f"has {len(inverts)} elevations for {len(drawn)} corners",
            "Give one for each corner, upstream to downstream.",
        )
    if "pipe" in told and told["pipe"] not in offered:
        near = difflib.get_close_matches(told["pipe"], offered, n=1, cutoff=0.0)
        raise InputError(
            f"{place}, pipe", f'"{said(told["pipe"], 40)}" is no kind of pipe here', f"Did you mean {near[0]}?"
        )
    told.setdefault("mode", "fixed")
    line = shapely.LineString([at[0], *drawn[1:-1], at[1]])
    return replace(feature, geometry=line, attributes=MappingProxyType(told))
