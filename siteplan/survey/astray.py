"""Features in the plan's frame in.

Those that lie where no feature of this lot lies, with what would bring them onto it, out.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from siteplan import units
from siteplan.books.kinds import OUTLET_KINDS, SOURCE_KINDS, Kind, pumped
from siteplan.site import Feature, Floats
from siteplan.survey.features import Drawn
from siteplan.survey.files import said
from siteplan.survey.frame import Move
from siteplan.survey.questions import Oddity

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

STREET = 30.0  # the far side of a street: what lies nearer may well be meant [m]
TURNED = 3.0  # off the lot by more than this, and on it with x and y changed over: asked about [m]
MOSTLY = 0.6  # share of a shape that must come to lie on the lot for the change to be its explanation
TOUCHING = 0.3  # drawing accuracy [m]
FROM_CURB = 1.5  # a hole is in the curb's face [m]
FROM_HOUSE = 8.0  # a downspout stands at a wall, or at that of a shed nobody drew [m]
TWICE = 0.05  # two downspouts nearer than this are one drawn twice [m]
TINY = 0.1  # a line or polygon smaller than this is a slip, or in another unit [m]
# a sump alone may stand inside a house
_OUTSIDE_A_HOUSE = (*(kind for kind in SOURCE_KINDS if not pumped(kind)), Kind.TREE, Kind.SPRINKLER, *OUTLET_KINDS)
_DANGEROUS = ("utility", "no_dig", "wet_area", "easement", "wall", "sprinkler", "tree")
_ASKED = (
    "utility",
    "no_dig",
    "wet_area",
    "easement",
    "wall",
    "curb",
)  # seldom drawn beside the lot, and costly when lost
_OUTSIDE = ("neighbour",)  # a kind that lies off the lot by its nature


def name_of(feature: Feature | Drawn) -> str:
    """How a person calls a feature: its name, or its kind and number in the file.

    Parameters
    ----------
    feature : Feature or Drawn
        Any.

    Returns
    -------
    str
        One line.
    """
    return feature.name or f"{feature.kind} {feature.number}"


def astray(
    drawn: Sequence[Drawn], features: Sequence[Feature], lot: BaseGeometry, moves: Mapping[str, Move], unit: str
) -> list[Oddity]:
    """Features whose place is doubtful.

    Parameters
    ----------
    drawn, features : sequence
        As drawn, and the same in the plan's frame.
    lot : shapely geometry
        In the plan's frame [m].
    moves : mapping of str to callable
        File to what takes its coordinates to the plan's frame.
    unit : str
        Of lengths in sentences: 'ft', 'us-ft' or 'm'.

    Returns
    -------
    list of Oddity
        In the order of the features.
    """
    found: list[Oddity] = []
    aside: dict[str, list[str]] = {}
    for one, feature in zip(drawn, features, strict=True):
        if feature.kind in ("lot", *_OUTSIDE):
            continue
        off = float(lot.distance(feature.geometry))
        if off <= TOUCHING or feature.kind in SOURCE_KINDS:
            continue
        oddity = _off_lot(one, off, lot, moves, unit)
        if oddity is not None:
            found.append(oddity)
        elif feature.kind in _DANGEROUS:
            aside.setdefault(feature.kind, []).append(f'"{name_of(feature)}" ({units.length_text(off, unit, 1)})')
    for kind, names in aside.items():
        listed = ", ".join(names[:6]) + (f" and {len(names) - 6} more" if len(names) > 6 else "")
        found.append(
            Oddity(
                key=f"{kind}, place",
                where=kind.replace("_", " "),
                what=f"wholly off the lot, so no line of this plan was held to it: {listed}",
                mend="Check their places if any of them should be on the lot.",
                asks=False,
            )
        )
    found += _files_elsewhere(drawn, features, lot, moves, unit)
    return found


def _off_lot(one: Drawn, off: float, lot: BaseGeometry, moves: Mapping[str, Move], unit: str) -> Oddity | None:
    west, south, east, north = lot.bounds
    far = max(STREET, float(np.hypot(east - west, north - south)))
    # near the lot only the order of coordinates is asked about: a figure near nought, scaled, lies anywhere
    would = _trial(one, lot, moves[one.file], scaled=off > far)
    if off <= far and (would is None or off <= TURNED):
        return None
    hint = f"; {would} it would lie on it" if would else ""
    mend = "Correct its coordinates, or the crs of its file" if would else "Move it, or take it out"
    return Oddity(
        key=f"{said(name_of(one))}, place",
        where=one.place,
        what=f"is {units.with_article(one.kind.replace('_', ' '))} that lies {_away(off, unit)} off the lot{hint}",
        mend=f"{mend}.",
        asks=off > far or one.kind in _ASKED or (one.kind in OUTLET_KINDS and off > STREET / 3),
    )


def _trial(one: Drawn, lot: BaseGeometry, move: Move, *, scaled: bool) -> str | None:
    """What would bring a feature onto the lot: its order of coordinates or its unit."""
    import shapely

    around = lot.buffer(TURNED)
    trials: list[tuple[str, Callable[[Floats], Floats]]] = [("with x and y changed over", lambda xy: xy[:, ::-1])]
    if scaled and (one.crs is None or not one.crs.is_geographic):
        trials += [
            ("with its feet as metres", lambda xy: xy / units.FOOT),
            ("with its metres as feet", lambda xy: xy * units.FOOT),
        ]
    for text, change in trials:
        tried = shapely.transform(one.geometry, lambda xy, change=change: np.column_stack(move(*change(xy).T)))
        if not np.isfinite(shapely.get_coordinates(tried)).all() or not lot.intersects(tried):
            continue
        # a street's curb or main, turned, would cross the lot and go on beyond it
        whole, within = (
            (tried.area, tried.intersection(around).area)
            if tried.area
            else (tried.length, tried.intersection(around).length)
        )
        if within >= MOSTLY * whole:
            return text
    return None


def _files_elsewhere(
    drawn: Sequence[Drawn], features: Sequence[Feature], lot: BaseGeometry, moves: Mapping[str, Move], unit: str
) -> list[Oddity]:
    """Files of which nothing lies on the lot: one feature may stand in the street, a whole layer seldom does."""
    found = []
    for file in moves:
        pairs = [(one, feature) for one, feature in zip(drawn, features, strict=True) if one.file == file]
        if len(pairs) < 2 or any(feature.kind in ("lot", *_OUTSIDE) for _, feature in pairs):
            continue
        nearest = min(float(lot.distance(feature.geometry)) for _, feature in pairs)
        if nearest <= TURNED:
            continue
        hints = [hint for one, _ in pairs if (hint := _trial(one, lot, moves[file], scaled=True))]
        hint = f"; {hints[0]} it would lie on it" if hints else ""
        found.append(
            Oddity(
                key=f"{file}, place",
                where=file,
                what=(
                    f"holds {len(pairs)} features, none of them on the lot; the nearest lies "
                    f"{_away(nearest, unit)} off{hint}"
                ),
                mend="Correct its crs or its coordinates, or take it off [features] files.",
                asks=True,
            )
        )
    return found


def _away(distance: float, unit: str) -> str:
    if distance < 10_000:
        return units.length_text(distance, unit, 1)
    return f"{units.from_metres(distance, unit):,.0f} {units.UNIT_NAMES[unit]}"


def misplaced(
    features: Sequence[Feature], places: Mapping[tuple[str, int], str], lot: BaseGeometry, unit: str
) -> list[Oddity]:
    """Features that do not stand as their kind stands: off the curb, off the house, twice in one place.

    Parameters
    ----------
    features : sequence of Feature
        In the plan's frame.
    places : mapping
        File and number to how an error names the feature.
    lot : shapely geometry
        In the plan's frame [m].
    unit : str
        Of lengths in sentences.

    Returns
    -------
    list of Oddity
        In a fixed order.
    """
    return [
        *_off_curb(features, places, unit),
        *_off_house(features, places, lot, unit),
        *_twice(features, places),
        *_strange_shapes(features, places, lot, unit),
    ]


def _said(
    feature: Feature, places: Mapping[tuple[str, int], str], key: str, what: str, mend: str, *, asks: bool = False
) -> Oddity:
    return Oddity(
        key=f"{said(name_of(feature))}, {key}",
        where=places[feature.file, feature.number],
        what=what,
        mend=mend,
        asks=asks,
    )


def _off_curb(features: Sequence[Feature], places: Mapping[tuple[str, int], str], unit: str) -> list[Oddity]:
    curbs = [feature for feature in features if feature.kind == "curb"]
    found = []
    for outlet in (feature for feature in features if feature.kind == "curb_outlet"):
        if not curbs:
            continue
        away = min(float(curb.geometry.distance(outlet.geometry)) for curb in curbs)
        if away > FROM_CURB:
            found.append(
                _said(
                    outlet,
                    places,
                    "curb",
                    f"is a curb outlet {_away(away, unit)} from the nearest curb that is drawn",
                    "Check on which side of the street or lot the curb and the outlet lie.",
                )
            )
    return found


def _off_house(
    features: Sequence[Feature], places: Mapping[tuple[str, int], str], lot: BaseGeometry, unit: str
) -> list[Oddity]:
    houses = [feature for feature in features if feature.kind == "building"]
    found = []
    if houses and not any(house.geometry.intersects(lot) for house in houses):
        found.append(
            _said(
                houses[0],
                places,
                "place",
                "no building that is drawn stands on the lot",
                "Check the places of lot and buildings.",
            )
        )
        return found
    for feature in features:
        if not houses:
            break
        away = min(float(house.geometry.distance(feature.geometry)) for house in houses)
        inside = max(
            float(house.geometry.exterior.distance(feature.geometry))
            if house.geometry.contains(feature.geometry)
            else 0.0
            for house in houses
        )
        if feature.kind == Kind.DOWNSPOUT and away > FROM_HOUSE:
            found.append(
                _said(
                    feature,
                    places,
                    "house",
                    f"is a downspout {_away(away, unit)} from the nearest building",
                    "Check its place.",
                )
            )
        elif feature.kind in _OUTSIDE_A_HOUSE and inside > TURNED / 2:
            found.append(
                _said(
                    feature,
                    places,
                    "house",
                    f"is {units.with_article(feature.kind.replace('_', ' '))} {_away(inside, unit)} inside a building",
                    "Check its place.",
                )
            )
    return found


def _twice(features: Sequence[Feature], places: Mapping[tuple[str, int], str]) -> list[Oddity]:
    """Sources that stand in one place, and shapes drawn twice: their water, or their land, would count twice."""
    import shapely

    found = []
    sources = [feature for feature in features if feature.kind in SOURCE_KINDS]
    if len(sources) > 1:
        x, y = (np.array([getattr(feature.geometry, axis) for feature in sources]) for axis in "xy")
        for at in range(1, len(sources)):
            away = np.hypot(x[:at] - x[at], y[:at] - y[at])
            near = int(np.argmin(away))
            if away[near] < TWICE and sources[near].kind == sources[at].kind:
                found.append(
                    _said(
                        sources[at],
                        places,
                        "twice",
                        (
                            f'stands where "{name_of(sources[near])}" stands, so its water would count twice if '
                            f"it is the same {sources[at].kind}"
                        ),
                        "Take one of the two out, or move them apart.",
                        asks=True,
                    )
                )
    seen: dict[tuple[str, bytes], Feature] = {}
    for feature in features:
        if feature.geometry.geom_type == "Point" or feature.kind == "lot":
            continue
        shape = shapely.to_wkb(shapely.normalize(shapely.set_precision(feature.geometry, 0.001, mode="pointwise")))
        other = seen.setdefault((feature.kind, shape), feature)
        if other is not feature:
            found.append(
                _said(
                    feature,
                    places,
                    "twice",
                    f'is drawn exactly as "{name_of(other)}"',
                    "Take one of the two out if they are the same.",
                )
            )
    return found


def _strange_shapes(
    features: Sequence[Feature], places: Mapping[tuple[str, int], str], lot: BaseGeometry, unit: str
) -> list[Oddity]:
    found = []
    shares: dict[str, float] = {}
    for feature in features:
        shape = feature.geometry
        if shape.geom_type != "Point":
            west, south, east, north = shape.bounds
            size = float(np.hypot(east - west, north - south))
            if size < TINY:
                found.append(
                    _said(
                        feature,
                        places,
                        "size",
                        (
                            f"is {units.with_article(feature.kind.replace('_', ' '))} only "
                            f"{units.length_text(size, unit, 3)} across"
                        ),
                        "Check the unit and crs of its file.",
                        asks=True,
                    )
                )
        if shape.geom_type == "Polygon" and feature.kind in ("building", "no_dig", "wet_area", "driveway", "paving"):
            shares[feature.kind] = shares.get(feature.kind, 0.0) + shape.intersection(lot).area / lot.area
        if feature.kind == "curb":
            within = shape.intersection(lot.buffer(-3.0)).length if shape.intersects(lot) else 0.0
            if within > TURNED:
                found.append(
                    _said(
                        feature,
                        places,
                        "place",
                        f"is a curb that runs {_away(within, unit)} inside the lot",
                        "Check on which side of the lot line it lies.",
                    )
                )
    found += [
        Oddity(
            key=f"{kind}, size",
            where=kind.replace("_", " "),
            what=f"covers {share * 100:.0f} % of the lot",
            mend="Check its outline and the lot's.",
            asks=False,
        )
        for kind, share in shares.items()
        if share > 0.8
    ]
    return found
