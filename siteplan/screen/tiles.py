"""Elevation in one file or many tiles in; heights of a window out. No raster is ever read whole.

A virtual raster is taken for the list of tiles that it names: each is opened for itself, as a GeoTIFF and as nothing
else, and lies where its own head says.
"""

from __future__ import annotations

import math
import warnings
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree as ET

import numpy as np
from numpy.typing import NDArray

from siteplan import units
from siteplan.errors import InputError
from siteplan.survey.files import said, text_of
from siteplan.survey.frame import Floats, crs_of, horizontal, quiet
from siteplan.survey.grids import HIGHEST, LOWEST, UNIT_WORDS, Raster, units_named

if TYPE_CHECKING:
    from pyproj import CRS

_OPEN = 16  # files held open by one process
_MOST_WINDOW = 4_000_000  # cells of one lot and its surroundings
_ALIGNED = 1e-3  # of a cell


@dataclass(frozen=True, slots=True, kw_only=True)
class Tile:
    """One file: its place in the common grid, in cells."""

    path: str
    row: int
    col: int
    rows: int
    cols: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TileSet:
    """Tiles on one grid. `west`, `north` are the outer corner of row 0, column 0.

    Cells are `east` by `south` of the system's unit.
    """

    tiles: tuple[Tile, ...]
    boxes: NDArray[
        np.int64
    ]  # first and last row, first and last column of each, shape (n, 4); the last ones are not its own
    west: float
    north: float
    east: float
    south: float
    crs: CRS
    unit: str
    notes: tuple[str, ...]

    def window(self, bounds: tuple[float, float, float, float]) -> Raster | None:
        """Heights within bounds (west, south, east, north) in the tiles' own system; None where no tile lies there.

        Raises
        ------
        InputError
            If the window is too large, or a tile cannot be read.
        """
        c0, c1 = (
            math.floor((bounds[0] - self.west) / self.east) - 1,
            math.ceil((bounds[2] - self.west) / self.east) + 1,
        )
        r0, r1 = (
            math.floor((self.north - bounds[3]) / self.south) - 1,
            math.ceil((self.north - bounds[1]) / self.south) + 1,
        )
        if (r1 - r0) * (c1 - c0) > _MOST_WINDOW:
            raise InputError(
                "--parcels",
                f"a parcel asks for a window of {r1 - r0} x {c1 - c0} cells",
                "Leave parcels that are no lots out of the layer.",
            )
        z = np.full((r1 - r0, c1 - c0), np.nan)
        met = False
        box = self.boxes
        for k in np.flatnonzero((box[:, 0] < r1) & (box[:, 1] > r0) & (box[:, 2] < c1) & (box[:, 3] > c0)):
            tile = self.tiles[k]
            a, b = max(r0, tile.row), min(r1, tile.row + tile.rows)
            c, d = max(c0, tile.col), min(c1, tile.col + tile.cols)
            met = True
            part = _read(tile.path, a - tile.row, b - tile.row, c - tile.col, d - tile.col)
            here = z[a - r0 : b - r0, c - c0 : d - c0]
            here[:] = np.where(
                np.isfinite(here), here, part
            )  # where tiles lap over one another the first one named holds
        if not met:
            return None
        z *= units.LENGTH[self.unit]
        z[(z < LOWEST) | (z > HIGHEST)] = np.nan
        z.setflags(write=False)
        matrix = (self.east, 0.0, self.west + c0 * self.east, 0.0, -self.south, self.north - r0 * self.south)
        return Raster(z=z, transform=matrix, crs=self.crs, paths=(), assumptions=())


def _read(path: str, r0: int, r1: int, c0: int, c1: int) -> Floats:
    from rasterio.errors import RasterioError
    from rasterio.windows import Window

    try:
        with quiet(), warnings.catch_warnings():
            warnings.simplefilter("ignore")
            source = _opened(path)
            band = source.read(1, window=Window(c0, r0, c1 - c0, r1 - r0), masked=True)
    except (RasterioError, OSError, ValueError, MemoryError) as fault:
        raise InputError(Path(path).name, "cannot be read", "Copy it again, or make it again.") from fault
    z: Floats = np.ma.filled(band.astype(np.float64), np.nan)
    scale, offset = float(source.scales[0]), float(source.offsets[0])
    return z if (scale, offset) == (1.0, 0.0) else z * scale + offset


@lru_cache(maxsize=_OPEN)
def _opened(path: str) -> Any:
    import rasterio

    return rasterio.open(path, driver="GTiff")


def close_tiles() -> None:
    """Let go of every tile that this process holds open."""
    _opened.cache_clear()


def tile_set(elevation: Path, unit: str | None) -> TileSet:
    """The tiles of an elevation.

    Parameters
    ----------
    elevation : Path
        A GeoTIFF, a folder of them, or a virtual raster (.vrt) of GeoTIFFs that lie beside or below it.
    unit : str or None
        'm', 'ft' or 'us-ft'; None: as the tiles, or the virtual raster over them, say.

    Returns
    -------
    TileSet
        Only heads are read.

    Raises
    ------
    InputError
        If there is none, one cannot be opened, they do not share one system and one grid that runs east and south, or
        no unit of height is said or two are.
    """
    paths = _paths(elevation)
    over = _unit_of_virtual(elevation) if elevation.suffix.lower() == ".vrt" and elevation.is_file() else None
    tiles: list[Tile] = []
    first: dict[str, Any] = {}
    for path in paths:
        head = _head(path)
        _settle_unit(head, path.name, over, unit)
        first = first or head
        if "m" in {head["unit"], first["unit"]} and head["unit"] != first["unit"]:
            raise InputError(
                path.name,
                (
                    f"has heights in {units.UNIT_NAMES[head['unit']]}, and {paths[0].name} in "
                    f"{units.UNIT_NAMES[first['unit']]}"
                ),
                "Bring all tiles into one unit of height.",
            )
        if not head["crs"].equals(first["crs"], ignore_axis_order=True):
            raise InputError(
                path.name, f"stands in another system than {paths[0].name}", "Bring all tiles into one system."
            )
        col, row = (head["west"] - first["west"]) / first["east"], (first["north"] - head["north"]) / first["south"]
        same = math.isclose(head["east"], first["east"], rel_tol=1e-6) and math.isclose(
            head["south"], first["south"], rel_tol=1e-6
        )
        if not same or abs(col - round(col)) > _ALIGNED or abs(row - round(row)) > _ALIGNED:
            raise InputError(
                path.name,
                f"has cells that do not lie on those of {paths[0].name}",
                "Resample the tiles onto one grid, or name one of them.",
            )
        tiles.append(Tile(path=str(path), row=round(row), col=round(col), rows=head["rows"], cols=head["cols"]))
    held = unit or first["unit"]
    how = "as --elevation-unit says" if unit else "as the files say"
    notes = (f"Elevations are in {units.UNIT_NAMES[held]}, {how}.",)
    return TileSet(
        tiles=tuple(tiles),
        boxes=np.array([(one.row, one.row + one.rows, one.col, one.col + one.cols) for one in tiles], np.int64),
        west=first["west"],
        north=first["north"],
        east=first["east"],
        south=first["south"],
        crs=first["crs"],
        unit=held,
        notes=notes,
    )


def _head(path: Path) -> dict[str, Any]:
    import rasterio
    from rasterio.errors import RasterioError

    try:
        with quiet(), warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with rasterio.open(path, driver="GTiff") as source:
                a, b, c, d, e, f = tuple(source.transform)[:6]
                crs, rows, cols, bands = source.crs, source.height, source.width, source.count
                said_by = units_named(source, crs_of(crs.to_wkt(), path.name) if crs else None) if bands else []
    except (RasterioError, OSError, ValueError) as fault:
        raise InputError(
            path.name, "is no GeoTIFF that can be read", "Name a GeoTIFF, a folder of them, or a .vrt that lists them."
        ) from fault
    if bands != 1:
        raise InputError(
            path.name, f"has {bands} bands, expected one of elevations", "Export the elevation band alone."
        )
    if crs is None:
        raise InputError(path.name, "names no coordinate system", "Write it into the file: a county has no local grid.")
    if b or d or a <= 0 or e >= 0:
        raise InputError(path.name, "has cells that do not run east and south", "Resample it north up.")
    plain = horizontal(crs_of(crs.to_wkt(), path.name), path.name)
    return {
        "west": c,
        "north": f,
        "east": a,
        "south": -e,
        "rows": rows,
        "cols": cols,
        "crs": plain,
        "said_by": said_by,
    }


def _settle_unit(head: dict[str, Any], shown: str, over: str | None, asked: str | None) -> None:
    """Write into a head the unit of its heights: one that is said, never a guess.

    Feet of both kinds agree (2 parts in a million).
    """
    said_by = list(head["said_by"]) or ([(over, f'the virtual raster says "{over}"')] if over else [])
    head["unit"] = asked or (said_by[0][0] if said_by else None)
    if head["unit"] is None:
        raise InputError(
            shown,
            "does not say which unit its heights are in",
            "Give --elevation-unit m, ft or us-ft: it is never guessed.",
        )
    for unit, evidence in said_by:
        if unit != head["unit"] and "m" in {unit, head["unit"]}:
            other = "--elevation-unit" if asked else said_by[0][1]
            raise InputError(
                shown,
                f"{evidence}, against {other}" + (f" {asked}" if asked else ""),
                "Give the unit that holds, or mend the file.",
            )


def _unit_of_virtual(path: Path) -> str | None:
    """The unit that a virtual raster says for its band; it is known to be a plain mosaic."""
    root = ET.fromstring(text_of(path, path.name))  # noqa: S314 - read before, without declarations
    word = next((one.text or "" for one in root.iter("UnitType")), "")
    return UNIT_WORDS.get(word.strip().lower())


def _paths(elevation: Path) -> list[Path]:
    if elevation.is_dir():
        found = sorted(one for one in elevation.iterdir() if one.suffix.lower() in {".tif", ".tiff"} and one.is_file())
        if not found:
            raise InputError(said(elevation, 200), "holds no GeoTIFF", "Name the folder that the tiles lie in.")
        return [one.resolve() for one in found]
    if not elevation.is_file():
        raise InputError(
            said(elevation, 200), "is no file and no folder", "Name a GeoTIFF, a folder of them, or a .vrt."
        )
    return list(_named_in(elevation)) if elevation.suffix.lower() == ".vrt" else [elevation.resolve()]


def _named_in(path: Path) -> Iterator[Path]:
    """Files that a virtual raster names, in its order; each lies beside or below it, and is a plain file."""
    text = text_of(path, path.name)
    mend = "Make it again from GeoTIFFs that lie beside or below it, without resampling or arithmetic."
    if "<!" in text.replace("<!--", ""):
        raise InputError(path.name, "declares entities, which no virtual raster needs", mend)
    try:
        root = ET.fromstring(text)  # noqa: S314 - without declarations there is nothing to expand
    except ET.ParseError as fault:
        raise InputError(path.name, "is no virtual raster (its XML cannot be read)", mend) from fault
    odd = {one.tag for one in root.iter()} & {
        "PixelFunctionType",
        "PixelFunctionCode",
        "KernelFilteredSource",
        "GDALWarpOptions",
        "ScaleRatio",
        "LUT",
    }
    if root.tag != "VRTDataset" or odd:
        raise InputError(path.name, f"is no plain mosaic ({', '.join(sorted(odd)) or root.tag})", mend)
    home = path.resolve().parent
    seen: set[Path] = set()
    for one in root.iter("SourceFilename"):
        name = (one.text or "").strip()
        tile = Path(name) if Path(name).is_absolute() else home / name
        # whatever else it may be elsewhere, here it is a path, and it is looked for below the raster alone
        if not name or not name.isprintable() or not tile.resolve().is_relative_to(home):
            raise InputError(path.name, f'names "{said(name)}", which does not lie beside or below it', mend)
        if not tile.is_file():
            raise InputError(path.name, f'names "{said(name)}", which is not there', mend)
        if tile.resolve() not in seen:
            seen.add(tile.resolve())
            yield tile.resolve()
    if not seen:
        raise InputError(path.name, "names no tile", mend)
