"""Declared units against what the site itself shows: sizes of lot, house and roof, rain, pump, relief, inverts.

Feet declared as metres (or the other way) make a plan that looks like some other small lot. A single strong sign, or
two weak ones, stop the reading with the signs listed; `confirm_units = true` in site.toml lets it pass.
The limits are common practice, no source: what a house lot never shows in one unit and always in the other.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from siteplan import units
from siteplan.errors import InputError
from siteplan.site import Feature, Grid, Site, heights
from siteplan.survey.frame import Floats

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

STRONG, WEAK = 2, 1
_MOST_SAMPLED = 40_000


class Sign(NamedTuple):
    """One sign against a declared unit."""

    weight: int
    text: str


def challenges(site: Site, *, coordinates_in: str | None) -> list[InputError]:
    """Declared units that the site's own figures speak against.

    Parameters
    ----------
    site : Site
        As read, in metres.
    coordinates_in : str or None
        Unit of the coordinates, 'ft', 'us-ft' or 'm', that the declaration or the CRS gives; None when
        they are degrees, which cannot be mistaken.

    Returns
    -------
    list of InputError
        At most one for lengths and one for elevations; empty when nothing speaks against them.
    """
    faults = []
    lot = site.lot.area
    local = site.crs == "local"
    attribute_signs = _attribute_signs(site)
    size_signs = _size_signs(site, coordinates_in) if coordinates_in else []
    signs = [*size_signs, *attribute_signs]
    if sum(sign.weight for sign in signs) >= STRONG:
        other = "ft" if site.length_unit == "m" else "m"
        key = "length_unit" if local or attribute_signs else "crs"
        value = f' = "{site.length_unit}"' if key == "length_unit" else ""
        mend = (
            f"Set {key} to {other if key == 'length_unit' else 'that of the data'} if that is what was measured, "
            "or add confirm_units = true to site.toml if these are right."
        )
        faults.append(
            InputError(
                f"site.toml, {key}{value}",
                f"does not fit a house lot ({_area(lot, site.length_unit)}): {'; '.join(sign.text for sign in signs)}",
                mend,
            )
        )
    signs = _height_signs(site)
    if signs:
        other = "ft" if site.elevation_unit == "m" else "m"
        mend = (
            f'Set elevation_unit to "{other}" or correct the data, or add confirm_units = true to site.toml if '
            "these are right."
        )
        faults.append(
            InputError(
                f'site.toml, elevation_unit = "{site.elevation_unit}"',
                f"does not fit this lot: {'; '.join(sign.text for sign in signs)}",
                mend,
            )
        )
    return faults


def _area(area: float, unit: str) -> str:
    return f"{area / units.LENGTH[unit] ** 2:,.0f} {'m2' if unit == 'm' else 'sq ft'}"


def _size(length: float, unit: str) -> str:
    return f"{length / units.LENGTH[unit]:,.1f} {'m' if unit == 'm' else 'ft'}"


def _size_signs(site: Site, coordinates_in: str) -> list[Sign]:
    """Sizes drawn on the map. Metres may be feet, which draws all too large; feet may be metres, all too small."""
    unit = site.length_unit
    lot = site.lot.area
    buildings = [feature for feature in site.of_kind("building") if feature.geometry.intersects(site.lot)]
    largest = max(buildings, key=lambda feature: feature.geometry.area, default=None)
    signs = []
    if lot < 25:
        signs.append(Sign(STRONG, f"the whole lot covers {_area(lot, unit)}"))
    elif lot < 100 and coordinates_in != "m":
        signs.append(Sign(WEAK, f"the whole lot covers {_area(lot, unit)}"))
    if largest is not None:
        covered = largest.geometry.area
        short, long = _sides(largest.geometry)
        text = f"the building is {_size(short, unit)} x {_size(long, unit)} ({_area(covered, unit)})"
        if coordinates_in == "m" and (short > 22 or covered > 1000):
            signs.append(Sign(STRONG, text))
        elif coordinates_in == "m" and (short > 16 or covered > 400):
            signs.append(Sign(WEAK, text))
        elif coordinates_in != "m" and covered < 40:
            signs.append(Sign(STRONG if covered < 20 else WEAK, text))
    for kind, narrow, wide in (("driveway", 1.6, 9.0), ("walk", 0.5, 2.5)):
        widths = [_strip_width(feature.geometry) for feature in site.of_kind(kind)]
        if widths and (
            (coordinates_in == "m" and min(widths) > wide) or (coordinates_in != "m" and max(widths) < narrow)
        ):
            signs.append(Sign(WEAK, f"the {kind} is {_size(widths[0], unit)} wide"))
    return signs


def _attribute_signs(site: Site) -> list[Sign]:
    """Roof areas against the buildings and by themselves, pump rates, rain."""
    unit = site.length_unit
    metric = unit == "m"
    signs = []
    roofs = [source.roof_area for source in site.sources if source.roof_area]
    covered = sum(feature.geometry.area for feature in site.of_kind("building"))
    if roofs:
        total, mean = sum(roofs), sum(roofs) / len(roofs)
        ratio = total / covered if covered else 1.0
        if ratio > 4:
            signs.append(
                Sign(
                    STRONG,
                    (
                        f"roof areas add up to {_area(total, unit)} over buildings of {_area(covered, unit)}, "
                        f"{ratio:.1f} times as much (10.8 sq ft make a m2)"
                    ),
                )
            )
        elif ratio < 0.2 and mean < 8:
            signs.append(
                Sign(
                    STRONG,
                    (
                        f"roof areas add up to {_area(total, unit)} over buildings of {_area(covered, unit)}, "
                        f"{ratio:.3f} of it (10.8 sq ft make a m2)"
                    ),
                )
            )
        elif total > site.lot.area:
            signs.append(Sign(STRONG, f"roof areas add up to {_area(total, unit)}, more than the lot"))
        if metric and mean > 200:
            signs.append(
                Sign(STRONG if mean > 500 else WEAK, f"a downspout takes {_area(mean, unit)} of roof on average")
            )
        elif not metric and mean < 6:
            signs.append(Sign(WEAK, f"a downspout takes {_area(mean, unit)} of roof on average"))
    pumps = [source.pump_rate for source in site.sources if source.pump_rate]
    if pumps and metric and max(pumps) > 15 * units.LITRE:
        signs.append(Sign(WEAK, f"a sump pumps {max(pumps) / units.LITRE:.1f} L/s"))
    elif pumps and not metric and max(pumps) < 0.35 * units.LITRE:
        signs.append(Sign(WEAK, f"a sump pumps {max(pumps) / units.GALLON_PER_MINUTE:.1f} gpm"))
    if site.rainfall is not None:
        per_hour = site.rainfall * units.HOUR
        if metric and per_hour < 12 * units.MILLIMETRE:
            signs.append(Sign(WEAK, f"the rain is {per_hour / units.MILLIMETRE:.1f} mm/h"))
        elif not metric and per_hour > 14 * units.INCH:
            signs.append(
                Sign(STRONG if per_hour > 25 * units.INCH else WEAK, f"the rain is {per_hour / units.INCH:.1f} in/h")
            )
    return signs


def _height_signs(site: Site) -> list[Sign]:
    """Relief against the size of the lot, and given inverts against the ground."""
    unit = site.elevation_unit
    signs = []
    x, y, z = cells_inside(site.grid, site.lot)
    west, south, east, north = site.lot.bounds
    across = float(np.hypot(east - west, north - south))
    if len(z) >= 3:
        relief = float(np.subtract(*np.percentile(z, [99, 1])))
        slope = _plane_slope(x, y, z)
        if relief > across:
            signs.append(Sign(STRONG, f"the lot would rise {_size(relief, unit)} over {_size(across, unit)}"))
        elif slope > 0.6:
            signs.append(
                Sign(
                    STRONG,
                    (
                        f"the lot would slope at {slope * 100:.0f} %, rising {_size(relief, unit)} over "
                        f"{_size(across, unit)}"
                    ),
                )
            )
    for feature in site.features:
        invert = feature.attributes.get("invert")
        if invert is None or feature.geometry.geom_type != "Point":
            continue
        ground = _ground_at(site, feature)
        if ground is None:
            continue
        ratio = abs(invert / ground) if abs(ground) > 3 else 1.0
        if abs(invert - ground) > 10 or any(abs(ratio * factor - 1) < 0.03 for factor in (units.FOOT, 1 / units.FOOT)):
            signs.append(
                Sign(
                    STRONG,
                    (
                        f'the invert of "{feature.name}" is {_size(invert, unit)} where the ground is at '
                        f"{_size(ground, unit)}"
                    ),
                )
            )
    return signs


def _ground_at(site: Site, feature: Feature) -> float | None:
    where = (np.array([feature.geometry.x]), np.array([feature.geometry.y]))
    known = float(heights(site.grid, *where)[0])
    if np.isfinite(known):
        return known
    return next((source.ground for source in site.sources if source.name == feature.name), None)


def cells_inside(grid: Grid, polygon: BaseGeometry) -> tuple[Floats, Floats, Floats]:
    """Known cell centres inside a polygon, thinned evenly when there are very many.

    Parameters
    ----------
    grid : Grid
        The elevation grid.
    polygon : shapely geometry
        In the plan's frame [m].

    Returns
    -------
    x, y, z : ndarray, shape (n,) [m]
        Places and heights; n may be 0.
    """
    import shapely

    rows, cols = grid.z.shape
    edge = shapely.get_coordinates(
        shapely.segmentize(polygon.exterior if polygon.geom_type == "Polygon" else polygon, 20 * max(grid.cell, 0.5))
    )
    r, c = grid.to_index(edge[:, 0], edge[:, 1])
    nothing = np.zeros(0)
    if not np.isfinite(r).all() or not np.isfinite(c).all():
        return nothing, nothing, nothing
    r0, r1 = (int(np.clip(v, 0, rows)) for v in (np.floor(r.min()), np.ceil(r.max()) + 1))
    c0, c1 = (int(np.clip(v, 0, cols)) for v in (np.floor(c.min()), np.ceil(c.max()) + 1))
    count = (r1 - r0) * (c1 - c0)
    if count <= 0:
        return nothing, nothing, nothing
    step = max(1, int(np.ceil(np.sqrt(count / _MOST_SAMPLED))))
    ii, jj = np.meshgrid(np.arange(r0, r1, step), np.arange(c0, c1, step), indexing="ij")
    z = grid.z[ii, jj].ravel()
    x, y = grid.to_plan(ii.ravel().astype(float), jj.ravel().astype(float))
    keep = np.isfinite(z) & shapely.contains_xy(polygon, x, y)
    return x[keep], y[keep], z[keep]


def _plane_slope(x: Floats, y: Floats, z: Floats) -> float:
    """Slope of the best plane through the cells, by least squares [-]."""
    design = np.column_stack([x - x.mean(), y - y.mean()])
    fit, *_ = np.linalg.lstsq(design, z - z.mean(), rcond=None)
    return float(np.hypot(*fit))


def _sides(polygon: BaseGeometry) -> tuple[float, float]:
    """Short and long side of the smallest rectangle about a polygon [m]."""
    import shapely

    corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(polygon))
    sides = sorted(np.hypot(*np.diff(corners[:3], axis=0).T))
    return float(sides[0]), float(sides[-1])


def _strip_width(polygon: BaseGeometry) -> float:
    """Short side of the rectangle of the same area and perimeter: the width of a strip, bent or straight [m]."""
    quarter = polygon.length / 4
    return float(quarter - np.sqrt(max(quarter**2 - polygon.area, 0.0)))


def signs_text(faults: Sequence[InputError]) -> tuple[str, ...]:
    """Challenges that `confirm_units` let pass, as assumptions.

    Parameters
    ----------
    faults : sequence of InputError
        From `challenges`.

    Returns
    -------
    tuple of str
        One sentence each.
    """
    return tuple(
        f"confirm_units in site.toml: {fault.where.removeprefix('site.toml, ')} was confirmed although it {fault.what}"
        for fault in faults
    )
