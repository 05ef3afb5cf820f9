"""The figures of a site in; those that no house lot shows out, with what a slipped unit or point would make of them.

Every limit is common practice, no source: what stands in a code is judged by the rules, not here.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping
from typing import NamedTuple

import numpy as np

from siteplan import units
from siteplan.books.kinds import KEYS, OUTLET_KINDS, PAVEMENT_KINDS, SOURCE_KINDS, at_curb, into_pipe
from siteplan.books.practice import DEEPEST
from siteplan.site import Feature, Site, heights
from siteplan.survey.astray import name_of
from siteplan.survey.files import said
from siteplan.survey.questions import Oddity


class _Range(NamedTuple):
    """What is usual and what is asked about, in SI: below `least` or above `most` asks.

    Outside `low` to `high` is said.
    """

    least: float
    low: float
    high: float
    most: float
    mend: str


_EVERYWHERE: Mapping[str, _Range] = {
    "roof_area": _Range(1.0, 4.0, 400.0, 2000.0, "Give the roof that this downspout takes, seen from above."),
    "drained_area": _Range(1.0, 4.0, 400.0, 2000.0, "Give the area that this drain takes, seen from above."),
    "pump_rate": _Range(
        0.2 * units.LITRE,
        0.4 * units.LITRE,
        10 * units.LITRE,
        20 * units.LITRE,
        "Gallons a minute on a site in feet, litres a second on one in metres.",
    ),
    "flow": _Range(
        0.02 * units.LITRE,
        0.05 * units.LITRE,
        20 * units.LITRE,
        60 * units.LITRE,
        "Gallons a minute on a site in feet, litres a second on one in metres.",
    ),
    "depth": _Range(-1.0, 0.05, 3.0, 5.0, "It is in the length unit of site.toml, not in inches."),
    "radius": _Range(0.0, 0.05, 15.0, 30.0, "It is in the length unit of site.toml."),
    "curb_height": _Range(0.02, 0.075, 0.25, 0.45, "It is in the length unit of site.toml, not in inches."),
    "pit_diameter": _Range(0.15, 0.3, 1.5, 3.0, "It is in the length unit of site.toml."),
    "pit_depth": _Range(0.1, 0.3, 2.5, 5.0, "It is in the length unit of site.toml."),
    "pit_rise": _Range(0.01, 0.05, 1.0, 3.0, "It is in the length unit of site.toml."),
    "refill_s": _Range(1.0, 5.0, 3600.0, 86400.0, "It is in seconds."),
}
_DIAMETERS: Mapping[str, _Range] = {
    "utility": _Range(0.004, 0.009, 0.65, 1.6, "diameter_in is in inches, diameter_mm in millimetres."),
    "tree": _Range(0.0, 0.0, 1.5, 4.0, "diameter_in is in inches, diameter_mm in millimetres."),
}
_HOLE = _Range(0.02, 0.045, 0.32, 0.65, "diameter_in is in inches, diameter_mm in millimetres.")
MANY = 1000  # from here a figure is printed in full, not to three digits
_RAIN = _Range(
    5 * units.MILLIMETRE / units.HOUR,
    20 * units.MILLIMETRE / units.HOUR,
    300 * units.MILLIMETRE / units.HOUR,
    650 * units.MILLIMETRE / units.HOUR,
    "Give the intensity of a short, hard rain, 5 minutes long.",
)
_About = tuple[tuple[float, float], tuple[float, float]]
# how far above (first) and below (second) its ground an elevation may lie: said, asked [m]
_ABOUT_GROUND: Mapping[str, _About] = {
    "invert": ((0.15, 1.0), (3.0, 6.0)),  # of an old pipe, a utility: sewers lie so deep
    "rim": ((1.5, 3.0), (3.0, 5.0)),
    "tail_water": ((0.6, 3.0), (3.0, 10.0)),
    "elevation": ((1.5, 1.5), (3.0, 3.0)),  # of a benchmark: a nail in a post, a bolt on a hydrant
}
# of an invert, by what an outlet opens into: a hole lies in its curb's face, daylight where the ground is; a line
# starts in a trench
_INVERT_OF: Mapping[str, _About] = {
    **dict.fromkeys(SOURCE_KINDS, ((0.15, 1.0), (2.0, DEEPEST))),
    **{kind: ((0.15, 1.0), (0.6, 1.5)) for kind in OUTLET_KINDS if at_curb(kind)},
    **{kind: ((0.15, 1.0), (0.9, 2.0)) for kind in OUTLET_KINDS if not at_curb(kind) and not into_pipe(kind)},
}
_FAR = 1.0  # m off its ground from which a slip that explains it asks
_READ_BY: Mapping[str, tuple[str, ...]] = {
    **KEYS,
    "tail_water": OUTLET_KINDS,
    "vehicle": PAVEMENT_KINDS,
    "invert": (*SOURCE_KINDS, *OUTLET_KINDS, "utility"),
    "rim": (*SOURCE_KINDS, *OUTLET_KINDS),
}


def implausible(site: Site, places: Mapping[tuple[str, int], str]) -> list[Oddity]:
    """Figures that no house lot shows.

    Parameters
    ----------
    site : Site
        As read, in metres.
    places : mapping
        File and number to how an error names the feature.

    Returns
    -------
    list of Oddity
        In the order of the features; rain, accuracy and roofs as a whole last.
    """
    found: list[Oddity] = []
    for feature in site.features:
        place = places[feature.file, feature.number]
        for key, value in feature.attributes.items():
            if not isinstance(value, float):
                continue
            found += _figure(feature, key, value, place, site.length_unit)
        found += _elevations(site, feature, place)
        found += _unread(feature, place)
        has = feature.attributes
        if "pit_rise" in has and "pit_depth" in has and has["pit_rise"] > has["pit_depth"]:
            found.append(
                _odd(
                    feature,
                    "pit_rise",
                    place,
                    "rises more than its pit is deep",
                    "Correct pit_rise or pit_depth.",
                    asks=True,
                )
            )
    return [*found, *_rain(site), *_accuracy(site), *_roofs(site)]


def _odd(feature: Feature, key: str, place: str, what: str, mend: str, *, asks: bool = False) -> Oddity:
    return Oddity(key=f"{said(name_of(feature))}, {key}", where=f"{place}, {key}", what=what, mend=mend, asks=asks)


def _figure(feature: Feature, key: str, value: float, place: str, unit: str) -> Iterator[Oddity]:
    limits = _EVERYWHERE.get(key)
    if key == "diameter":
        limits = _DIAMETERS.get(feature.kind, _HOLE)
    if limits is None or limits.low <= value <= limits.high:
        return
    shown = _shown(key, value, unit)
    word = "little" if value < limits.low else "much"
    what = (
        f"is {shown}, which is {word} for "
        f"{units.with_article(feature.kind.replace('_', ' '))}{_slip(key, value, limits, unit)}"
    )
    asks = not limits.least <= value <= limits.most
    yield _odd(feature, key, place, what, limits.mend, asks=asks)


def _shown(key: str, value: float, unit: str) -> str:
    if key in ("roof_area", "drained_area"):
        return f"{value / units.LENGTH[unit] ** 2:,.1f} {'m2' if unit == 'm' else 'sq ft'}"
    if key in ("pump_rate", "flow"):
        return units.flow_text(value, unit)
    if key == "refill_s":
        return f"{value:g} s"
    if key == "diameter":
        return f"{value / units.MILLIMETRE:g} mm" if unit == "m" else f"{value / units.INCH:.4g} in"
    return units.length_text(value, unit)


def _slip(key: str, value: float, limits: _Range, unit: str) -> str:
    """What the same figure would be in the unit it is most often written in by mistake."""
    trials: tuple[tuple[str, float], ...] = ()
    if key in ("pump_rate", "flow"):
        trials = (
            (("gpm", units.GALLON_PER_MINUTE / units.LITRE),)
            if unit == "m"
            else (("L/s", units.LITRE / units.GALLON_PER_MINUTE),)
        )
    elif key == "diameter":
        trials = (("mm", units.MILLIMETRE / units.INCH), ("in", units.INCH / units.MILLIMETRE))
    elif key in ("roof_area", "drained_area"):
        trials = (("sq ft", units.FOOT**2),) if unit == "m" else (("m2", units.FOOT**-2),)
    elif key in ("depth", "radius", "curb_height", "pit_diameter", "pit_depth", "pit_rise"):
        trials = (("mm", units.MILLIMETRE),) if unit == "m" else (("in", units.INCH / units.FOOT),)
    for name, factor in trials:
        if limits.low <= value * factor <= limits.high:
            return f"; as {name} it would be usual"
    return ""


def _elevations(site: Site, feature: Feature, place: str) -> Iterator[Oddity]:
    """Rims, inverts and tail-water against the ground where they stand."""
    if feature.geometry.geom_type != "Point":
        return
    given = [key for key in _ABOUT_GROUND if key in feature.attributes]
    if not given:
        return
    ground = _ground(site, feature)
    if ground is None:
        return
    unit = site.elevation_unit
    for key in given:
        over = feature.attributes[key] - ground
        limits = _ABOUT_GROUND[key]
        if key == "invert":
            limits = _INVERT_OF.get(feature.kind, limits)
        (said_above, asked_above), (said_below, asked_below) = limits
        if -said_below <= over <= said_above:
            continue
        way = "above" if over > 0 else "below"
        slip = _elevation_slip(feature.attributes[key], unit, (ground - said_below, ground + said_above))
        what = (
            f"is {units.length_text(feature.attributes[key], unit)}, {units.length_text(abs(over), unit)} {way} "
            f"the ground there ({units.length_text(ground, unit)}){slip}"
        )
        asks = over > asked_above or over < -asked_below or (bool(slip) and abs(over) > _FAR)
        yield _odd(
            feature,
            key,
            place,
            what,
            "It is an elevation in the site's datum, not a height over the ground.",
            asks=asks,
        )


def _elevation_slip(value: float, unit: str, usual: tuple[float, float]) -> str:
    """What an elevation would be with two neighbouring digits changed over, where that is usual [m]."""
    typed = f"{value / units.LENGTH[unit]:.3f}".rstrip("0")
    digits = [at for at, mark in enumerate(typed) if mark.isdigit()]
    for left, right in itertools.pairwise(digits):
        marks = list(typed)
        marks[left], marks[right] = marks[right], marks[left]
        other = float("".join(marks)) * units.LENGTH[unit]
        if usual[0] <= other <= usual[1]:
            return f"; with two digits changed over it would be {units.length_text(other, unit)}"
    return ""


def _ground(site: Site, feature: Feature) -> float | None:
    known = float(heights(site.grid, np.array([feature.geometry.x]), np.array([feature.geometry.y]))[0])
    if np.isfinite(known):
        return known
    return next((source.ground for source in site.sources if source.name == feature.name), None)


def _unread(feature: Feature, place: str) -> Iterator[Oddity]:
    for key, kinds in _READ_BY.items():
        if key in feature.attributes and feature.kind not in kinds:
            yield _odd(
                feature,
                key,
                place,
                f"is not read on {units.with_article(feature.kind.replace('_', ' '))}",
                f"It is read on {', '.join(kind.replace('_', ' ') for kind in kinds)}.",
            )


def _rain(site: Site) -> Iterator[Oddity]:
    if site.rainfall is None or _RAIN.low <= site.rainfall <= _RAIN.high:
        return
    word = "little" if site.rainfall < _RAIN.low else "much"
    unit, other = ("mm/h", "in/h") if site.length_unit == "m" else ("in/h", "mm/h")
    value = site.rainfall / units.RAIN[unit]
    slip = _RAIN.low <= value * units.RAIN[other] <= _RAIN.high
    asks = slip or not _RAIN.least <= site.rainfall <= _RAIN.most
    shown = f"{value:.3g} {unit}" if value < MANY else f"{value:,.0f} {unit}"
    yield Oddity(
        key="rainfall",
        where="site.toml, [rainfall]",
        what=(
            f"gives {shown} to size for, which is {word} for a short, hard "
            f"rain{f'; as {other} it would be usual' if slip else ''}"
        ),
        mend=f"{_RAIN.mend} In in/h on a site in feet, in mm/h on one in metres.",
        asks=asks,
    )


def _accuracy(site: Site) -> Iterator[Oddity]:
    if site.accuracy < 0.5 * units.MILLIMETRE:
        yield Oddity(
            key="accuracy",
            where="site.toml, [ground] accuracy",
            what=f"is {site.accuracy / units.MILLIMETRE:.3g} mm, better than any survey of ground",
            mend="Give one standard deviation of an elevation.",
            asks=False,
        )
    elif site.accuracy > 1.0:
        yield Oddity(
            key="accuracy",
            where="site.toml, [ground] accuracy",
            what=f"is {units.length_text(site.accuracy, site.elevation_unit)}, too coarse to tell whether a line falls",
            mend="Shoot the starts and the outlet.",
            asks=False,
        )


def _roofs(site: Site) -> Iterator[Oddity]:
    """Roof areas as a whole against the buildings on the lot."""
    covered = sum(
        float(feature.geometry.area) for feature in site.of_kind("building") if feature.geometry.intersects(site.lot)
    )
    roofs = [source.roof_area for source in site.sources if source.roof_area]
    if not covered or not roofs:
        return
    ratio = sum(roofs) / covered
    if 0.25 <= ratio <= 1.8:
        return
    why = (
        "a downspout may be missing, or a roof typed too small"
        if ratio < 1
        else "a downspout may be drawn twice, or a roof typed too large"
    )
    yield Oddity(
        key="roof areas",
        where="roof areas",
        what=f"add up to {ratio * 100:.0f} % of the buildings on the lot: {why}",
        mend="Compare them with the roof plan.",
        asks=False,
    )
