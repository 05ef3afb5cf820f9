"""A GeoTIFF of elevations in; heights in metres and its place, in its own CRS, out.

`grid_in_plan` puts it into the plan's frame.
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from siteplan import units
from siteplan.errors import InputError
from siteplan.site import Grid
from siteplan.survey.files import said
from siteplan.survey.frame import Floats, Frame, crs_of, horizontal, mover, quiet, unit_of_factor

if TYPE_CHECKING:
    from pyproj import CRS

_MOST_CELLS = 25_000_000
LOWEST, HIGHEST = -500.0, 9000.0  # no dry land lies beyond; what does is a no-data value nobody declared [m]

UNIT_WORDS = {
    "m": "m",
    "metre": "m",
    "metres": "m",
    "meter": "m",
    "meters": "m",
    "ft": "ft",
    "foot": "ft",
    "feet": "ft",
    "international foot": "ft",
    "intl ft": "ft",
    "us-ft": "us-ft",
    "ftus": "us-ft",
    "us survey foot": "us-ft",
    "us survey feet": "us-ft",
    "foot_us": "us-ft",
    "us_survey_foot": "us-ft",
}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Raster:
    """An elevation grid as its file holds it, heights in metres."""

    z: Floats  # (rows, cols), NaN where not known, read-only [m]
    transform: tuple[
        float, float, float, float, float, float
    ]  # x = a col + b row + c, y = d col + e row + f, at cell corners
    crs: CRS | None
    paths: tuple[Path, ...]
    assumptions: tuple[str, ...]


def read_grid(path: Path, shown: str, *, site_crs: CRS | None, elevation_unit: str, confirmed: bool) -> Raster:
    """Heights of an elevation grid.

    Parameters
    ----------
    path : Path
        An existing file.
    shown : str
        Its name in errors.
    site_crs : CRS or None
        The site's horizontal CRS, for a grid that names none; None for local coordinates.
    elevation_unit : str
        'ft', 'us-ft' or 'm', as site.toml declares.
    confirmed : bool
        Whether site.toml confirms its units although the file says otherwise.

    Returns
    -------
    Raster
        Heights in metres; no-data, masked, infinite and impossible ones as NaN.

    Raises
    ------
    InputError
        If it is no GeoTIFF of one band that has a place, is too large, names another unit of height,
        stands on a CRS although the site is local, or knows no height at all.
    """
    import rasterio
    from rasterio.errors import RasterioError

    with quiet(), warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            # a text file that says it is a raster may name other files and addresses: GeoTIFF alone is let in
            with rasterio.open(path, driver="GTiff") as source:
                _check_header(source, shown)
                crs = _crs(source, shown)
                notes = _check_unit(source, crs, shown, elevation_unit, confirmed=confirmed)
                band = source.read(1, masked=True)
                scale, offset = float(source.scales[0]), float(source.offsets[0])
                matrix = tuple(float(v) for v in tuple(source.transform)[:6])
                beside = [Path(name) for name in source.files]
        except InputError:
            raise
        except (RasterioError, OSError, ValueError, MemoryError) as error:
            raise InputError(
                shown,
                "is no GeoTIFF that can be read, whatever its name says",
                "Export the elevations again as a GeoTIFF.",
            ) from error
    if not (np.isfinite([scale, offset]).all() and scale):
        raise InputError(
            shown,
            f"has a band scale of {scale:g} and offset of {offset:g}",
            "Export the elevations again without them.",
        )
    z = np.ma.filled(band.astype(np.float64), np.nan)
    if (scale, offset) != (1.0, 0.0):
        z = z * scale + offset
        notes.append(f"{shown}: the band's scale {scale:g} and offset {offset:g} were applied")
    z *= units.LENGTH[elevation_unit]
    z[~np.isfinite(z)] = np.nan
    odd = (z < LOWEST) | (z > HIGHEST)
    if odd.any():
        values = np.unique(z[odd])
        sample = ", ".join(f"{value / units.LENGTH[elevation_unit]:.6g}" for value in values[:3])
        notes.append(
            f"{shown}: {int(odd.sum())} cells with impossible heights "
            f"({sample}{', ...' if len(values) > 3 else ''} {units.UNIT_NAMES[elevation_unit]}) were taken as "
            "not known"
        )
        z[odd] = np.nan
    if not np.isfinite(z).any():
        raise InputError(
            shown,
            "knows no height at all: every cell is no-data",
            "Export the elevations again, and check the no-data value.",
        )
    plain, more = _horizontal(crs, site_crs, shown)
    z.setflags(write=False)
    home = path.parent
    inside = [
        path,
        *sorted(
            p for p in (entry.resolve() for entry in beside) if p != path and p.is_relative_to(home) and p.is_file()
        ),
    ]
    return Raster(z=z, transform=matrix, crs=plain, paths=tuple(inside), assumptions=(*notes, *more))  # type: ignore[arg-type]


def grid_in_plan(raster: Raster, frame: Frame, x: float, y: float) -> Grid:
    """The grid with the way between its cells and the plan's coordinates. Heights are not resampled.

    Parameters
    ----------
    raster : Raster
        As read.
    frame : Frame
        The plan's.
    x, y : float
        The middle of the lot, where the cell size is taken [m].

    Returns
    -------
    Grid
        See `site.Grid`.
    """
    a, b, c, d, e, f = raster.transform
    det = a * e - b * d
    if raster.crs is None and frame.crs is None:
        # whole numbers of site units become metres in the matrix itself
        a, b, c, d, e, f = (value * frame.unit for value in (a, b, c, d, e, f))
        det *= frame.unit**2
        there = back = mover(None, None)
    else:
        there, back = mover(frame.crs, raster.crs), mover(raster.crs, frame.crs)

    def to_index(x: Floats, y: Floats) -> tuple[Floats, Floats]:
        east, north = there(x, y)
        dx, dy = east - c, north - f
        with np.errstate(invalid="ignore"):
            return (a * dy - d * dx) / det - 0.5, (e * dx - b * dy) / det - 0.5

    def to_plan(row: Floats, col: Floats) -> tuple[Floats, Floats]:
        i, j = np.asarray(row, float) + 0.5, np.asarray(col, float) + 0.5
        return back(a * j + b * i + c, d * j + e * i + f)

    row, col = to_index(np.array([x]), np.array([y]))
    if not np.isfinite([row[0], col[0]]).all():
        row, col = (np.array([n / 2]) for n in raster.z.shape)
    row = np.clip(row, -1.0, raster.z.shape[0])
    col = np.clip(col, -1.0, raster.z.shape[1])
    px, py = to_plan(np.concatenate([row, row + 1, row]), np.concatenate([col, col, col + 1]))
    cell = float(np.sqrt(abs((px[1] - px[0]) * (py[2] - py[0]) - (px[2] - px[0]) * (py[1] - py[0]))))
    return Grid(z=raster.z, to_index=to_index, to_plan=to_plan, cell=cell)


def _check_header(source: Any, shown: str) -> None:
    """Refuse by the header alone, before anything is read or allocated."""
    cells = source.width * source.height
    block = max((rows * cols for rows, cols in source.block_shapes), default=0)
    if cells > _MOST_CELLS or block > 4 * _MOST_CELLS:
        raise InputError(
            shown,
            f"has {source.width} x {source.height} cells; at most {_MOST_CELLS // 1_000_000} million can be used",
            "Crop it to around the lot.",
        )
    if source.count != 1:
        raise InputError(
            shown, f"has {source.count} bands, expected one band of elevations", "Export the elevation band alone."
        )
    if np.dtype(source.dtypes[0]).kind not in "iuf":
        raise InputError(shown, f"holds {source.dtypes[0]} values", "Export elevations as integers or floats.")
    if min(source.width, source.height) < 2:
        raise InputError(shown, f"has {source.width} x {source.height} cells", "A grid needs at least 2 x 2.")
    a, b, c, d, e, f = tuple(source.transform)[:6]
    if (a, b, c, d, e, f) == (1, 0, 0, 0, 1, 0):
        raise InputError(
            shown, "is a picture without a place: it has no geotransform", "Export it as a GeoTIFF with its position."
        )
    det = a * e - b * d
    if not (np.isfinite([a, b, c, d, e, f]).all() and abs(det) > 1e-12 * (a * a + b * b + d * d + e * e)):
        raise InputError(shown, "has a geotransform that gives its cells no area", "Export it again with its position.")


def _crs(source: Any, shown: str) -> CRS | None:
    return crs_of(source.crs.to_wkt(), shown) if source.crs else None


def grid_says(path: Path, shown: str) -> tuple[CRS | None, tuple[tuple[str, str], ...]]:
    """What a grid's head says of itself.

    Parameters
    ----------
    path : Path
        An existing GeoTIFF.
    shown : str
        Its name in errors.

    Returns
    -------
    tuple
        Its horizontal CRS, where it names one, and each unit of height that it names ('ft', 'us-ft' or 'm') with the
        evidence.

    Raises
    ------
    InputError
        If it is no GeoTIFF that can be read.
    """
    import rasterio
    from rasterio.errors import RasterioError

    with quiet(), warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            with rasterio.open(path, driver="GTiff") as source:
                crs = _crs(source, shown)
                heights_in = tuple(units_named(source, crs))
        except (RasterioError, OSError, ValueError) as error:
            raise InputError(shown, "is no GeoTIFF that can be read", "Export the elevations as a GeoTIFF.") from error
    usable = crs is not None and (crs.is_geographic or crs.is_projected or crs.is_compound or crs.is_bound)
    return horizontal(crs, shown) if crs is not None and usable else None, heights_in


def units_named(source: Any, crs: CRS | None) -> list[tuple[str, str]]:
    """Units of height that a file names, by its vertical CRS or its band, with the evidence.

    Parameters
    ----------
    source : rasterio dataset
        Open.
    crs : CRS or None
        Its system, whole.

    Returns
    -------
    list of tuple of str
        'ft', 'us-ft' or 'm', and what says so; the vertical CRS first.
    """
    said_by: list[tuple[str, str]] = []
    if crs is not None and crs.is_compound:
        for part in crs.sub_crs_list:
            if part.is_vertical and part.axis_info:
                vertical = unit_of_factor(part.axis_info[0].unit_conversion_factor)
                if vertical:
                    said_by.append(
                        (vertical, f'its vertical CRS "{said(part.name)}" is in {units.UNIT_NAMES[vertical]}')
                    )
    word = source.units[0]
    unit = UNIT_WORDS.get(str(word).strip().lower()) if word else None
    if unit:
        said_by.append((unit, f'its band is in "{said(word)}"'))
    return said_by


def _check_unit(source: Any, crs: CRS | None, shown: str, declared: str, *, confirmed: bool) -> list[str]:
    """The unit of height that the file names, by its band or its vertical CRS, against the declared one."""
    notes = []
    for unit, evidence in units_named(source, crs):
        if unit == declared:
            continue
        if "m" not in {unit, declared} or confirmed:
            notes.append(
                f"{shown}: {evidence}, but elevation_unit {declared} of site.toml was used"
                + ("" if "m" in {unit, declared} else " (2 parts in a million apart)")
            )
            continue
        mend = f'Set elevation_unit = "{unit}", or add confirm_units = true if the file is wrong.'
        raise InputError(shown, f'{evidence}, but site.toml says elevation_unit = "{declared}"', mend)
    return notes


def _horizontal(crs: CRS | None, site_crs: CRS | None, shown: str) -> tuple[CRS | None, list[str]]:
    if crs is not None and (crs.is_geographic or crs.is_projected or crs.is_compound or crs.is_bound):
        plain = horizontal(crs, shown)
        if site_crs is None:
            raise InputError(
                shown,
                f'is in "{said(plain.name)}" but site.toml says crs = "local"',
                f"Give site.toml the CRS of the data, or save {shown} in plain site coordinates without a CRS.",
            )
        return plain, []
    if site_crs is None:
        return None, []
    return site_crs, [f"{shown} names no CRS: it is taken to be in the site's crs, {said(site_crs.name)}"]
