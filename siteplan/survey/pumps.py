"""Sumps that are lifted through a line under pressure in.

Each tied to the discharge point or outlet that it names, out.

A sump lifted to a discharge point has its line by gravity from there: for whatever is laid by gravity it stands there,
and its pit stands apart. One pumped all the way to an outlet has no line by gravity.
"""

from __future__ import annotations

import difflib
import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType
from typing import Any, NamedTuple

import numpy as np

from siteplan import units
from siteplan.books.kinds import OUTLET_KINDS, Kind, pumped
from siteplan.books.practice import NEAREST_GROUND, OFF_LOT_LINE
from siteplan.books.pumping import PIT_BELOW_GROUND, RUN_OUT, SHUT_OFF, pit_storage
from siteplan.errors import InputError, raise_gathered
from siteplan.site import Feature, Grid, ground_near, heights
from siteplan.survey.files import said
from siteplan.values.water_ends import Pump, Source
from siteplan.values.whole_plan import Lift

_OF_THE_GAP = ("rim", "invert")  # what a discharge point says of the place where the line by gravity starts


NO_LIFTS: Mapping[str, Lift] = MappingProxyType({})


class TiedPumps(NamedTuple):
    """Features and sources with the lifted ones in their new places; those pumped all the way; pumps.

    What was assumed.
    """

    features: tuple[Feature, ...]
    sources: tuple[Source, ...]
    lifted: tuple[Source, ...]
    pumps: tuple[Pump, ...]
    notes: tuple[str, ...]


def tied_pumps(
    features: Sequence[Feature],
    sources: Sequence[Source],
    places: Mapping[tuple[str, int], str],
    grid: Grid,
    length_unit: str,
    elevation_unit: str,
    chosen: Mapping[str, Lift] = NO_LIFTS,
) -> TiedPumps:
    """Sumps with a `discharge`, tied to it.

    Parameters
    ----------
    features : sequence of Feature
        Of the site, in the plan's frame.
    sources : sequence of Source
        As they stand.
    places : mapping
        File and number of a feature to where it stands, for messages.
    grid : Grid
        Ground at discharge points.
    length_unit, elevation_unit : str
        The site's.
    chosen : mapping of str to Lift
        Where the planner lifts sumps without a `discharge`, by name of the sump.

    Returns
    -------
    TiedPumps
        Without any `discharge` the features and sources as they were.

    Raises
    ------
    InputError, InputErrors
        For a discharge that no discharge point or outlet has for a name, two pumps at one point, a point where the
        ground is not known or that lies off the lot, a pump that stops above the ground.
    """
    lot = next(one.geometry for one in features if one.kind == Kind.LOT)
    ends = {one.name: one for one in features if one.kind in {Kind.DISCHARGE_POINT, *OUTLET_KINDS} and one.name}
    boxes = _boxes(chosen)
    ends |= {one.name: one for one in boxes if one.name not in ends}
    by_name = {one.name: one for one in features if pumped(one.kind)}
    faults: list[InputError] = []
    notes: list[str] = []
    kept: list[Source] = []
    lifted: list[Source] = []
    pumps: list[Pump] = []
    moved: dict[str, Mapping[str, Any]] = {}
    used: dict[str, str] = {}
    for source in sources:
        feature = by_name.get(source.name) if pumped(source.kind) else None
        own = None if feature is None else feature.attributes.get("discharge")
        named = chosen.get(source.name)
        discharge = own or (named.to if named is not None and named.to in ends else None)
        if feature is None or discharge is None:
            kept.append(source)
            continue
        place = places.get((feature.file, feature.number), said(source.name, 60))
        try:
            end = _end(discharge, ends, place)
            if end.kind == Kind.DISCHARGE_POINT and end.name in used:
                raise InputError(  # noqa: TRY301 - gathered like any other fault of this sump
                    place,
                    f"is lifted to {said(end.name, 60)}, where {said(used[end.name], 60)} is lifted to already",
                    "Draw a discharge point for each pump.",
                )
            used[end.name] = source.name
            pump, said_of = _pump(source, feature.attributes, end, place, length_unit, elevation_unit)
            if own is None:
                pump = replace(pump, chosen=True, box=end in boxes)
                at = ", a place found here for a box: draw a discharge_point where it is to be" if pump.box else ""
                said_of.append(
                    f"{source.name}: no line by gravity serves it, and its pump lifts it to {end.name} by the "
                    f"plan's own choice{at}; write discharge at it to have it lifted elsewhere"
                )
            if pump.to_outlet:
                lifted.append(source)
            else:
                ground = _ground(end, grid, lot, places.get((end.file, end.number), said(end.name, 60)), length_unit)
                # how high the pump's own pipe leaves the wall says nothing of where the line by gravity starts
                invert = end.attributes.get("invert")
                kept.append(
                    replace(
                        source,
                        x=end.geometry.x,
                        y=end.geometry.y,
                        ground=ground,
                        ground_known=True,
                        invert_limit=invert,
                        pit=(source.x, source.y, source.ground),
                    )
                )
                told = {key: value for key, value in feature.attributes.items() if key not in _OF_THE_GAP}
                told |= {key: end.attributes[key] for key in _OF_THE_GAP if key in end.attributes}
                if "rim" not in told:
                    told["rim"] = ground
                    said_of.append(
                        f"{end.name}: its rim is not given; water that cannot get away is taken to come out "
                        f"at the ground there, {units.length_text(ground, elevation_unit)}"
                    )
                moved[source.name] = MappingProxyType(told)
        except InputError as fault:
            faults.append(fault)
            continue
        pumps.append(pump)
        notes += said_of
    raise_gathered(faults)
    if not pumps:
        return TiedPumps(tuple(features), tuple(sources), (), (), ())
    changed = tuple(
        replace(one, attributes=moved[one.name]) if pumped(one.kind) and one.name in moved else one for one in features
    )
    placed = tuple(one for one in boxes if one.name in used)
    return TiedPumps((*changed, *placed), tuple(kept), tuple(lifted), tuple(pumps), tuple(notes))


def _boxes(chosen: Mapping[str, Lift]) -> list[Feature]:
    """Boxes that a plan placed, as if they had been drawn."""
    from shapely.geometry import Point

    return [
        Feature(
            kind=Kind.DISCHARGE_POINT,
            name=one.to,
            geometry=Point(one.box),
            attributes=MappingProxyType({}),
            file="",
            number=k,
        )
        for k, one in enumerate(chosen.values(), 1)
        if one.box is not None
    ]


def _end(name: str, ends: Mapping[str, Feature], place: str) -> Feature:
    if name in ends:
        return ends[name]
    near = difflib.get_close_matches(name, ends, n=1, cutoff=0.5)
    mend = (
        f"Did you mean {said(near[0], 60)}?"
        if near
        else f"Name one of {said(', '.join(ends), 200)}."
        if ends
        else "Draw a point of kind discharge_point, or an outlet, and name it."
    )
    raise InputError(f"{place}, discharge", f'"{said(name, 60)}" is no discharge point or outlet of this site', mend)


def _ground(end: Feature, grid: Grid, lot: Any, place: str, unit: str) -> float:
    away = lot.distance(end.geometry)
    if away > OFF_LOT_LINE:
        raise InputError(
            place,
            f"is a discharge point {units.length_text(away, unit, 1)} off the lot",
            "Move it onto the lot; an outlet may stand off it.",
        )
    known = float(heights(grid, np.array([end.geometry.x]), np.array([end.geometry.y]))[0])
    if math.isfinite(known):
        return known
    near = ground_near(grid, end.geometry.x, end.geometry.y, NEAREST_GROUND)
    if near is None:
        raise InputError(place, "is a discharge point where the ground is not known", "Move it onto known ground.")
    return near[0]


def _pump(
    source: Source, told: Mapping[str, Any], end: Feature, place: str, length_unit: str, elevation_unit: str
) -> tuple[Pump, list[str]]:
    notes = []
    curve = told.get("pump_curve", ())
    if "pump_point" in told:
        curve = (told["pump_point"],)
        notes.append(
            f"{source.name}: one rated point of its pump is given; its curve is taken to begin at "
            f"{SHUT_OFF.typed:.2f} of that head and to end at {RUN_OUT.typed:g} times that flow, falling as a "
            "parabola"
        )
    off = told.get("off_level")
    if off is None:
        off = source.ground - PIT_BELOW_GROUND
        notes.append(
            f"{source.name}: no off_level is given; its pump is taken to stop "
            f"{units.length_text(PIT_BELOW_GROUND, length_unit)} under the ground at the wall, at "
            f"{units.length_text(off, elevation_unit)}: measure it before a pump is bought"
        )
    elif off >= source.ground:
        raise InputError(
            f"{place}, off_level",
            f"is {units.length_text(off, elevation_unit)}, at or above the ground there",
            "Give the elevation at which the pump stops, in the pit.",
        )
    if "check_valve" not in told:
        notes.append(
            f"{source.name}: a check valve is taken to stand in its pump's line; write check_valve = false "
            "where none does"
        )
    storage = pit_storage(told)
    return Pump(
        source=source.id,
        name=source.name,
        x=source.x,
        y=source.y,
        ground=source.ground,
        discharge=end.name,
        to_outlet=end.kind != Kind.DISCHARGE_POINT,
        curve=tuple(curve),
        off_level=float(off),
        off_level_given="off_level" in told,
        check_valve=told.get("check_valve", True),
        invert=told.get("invert"),
        bore=told.get("diameter"),
        storage=storage,
        inflow=storage / told["refill_s"] if storage and "refill_s" in told else None,
        wanted=told.get("pump_rate"),
    ), notes
