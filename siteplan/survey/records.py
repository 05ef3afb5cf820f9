"""What a feature file holds, whatever its format: records with their place in it, and the CRS they are in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from siteplan.survey.files import said

if TYPE_CHECKING:
    from pyproj import CRS
    from shapely.geometry.base import BaseGeometry

LON_LAT = "EPSG:4326"
MOST_FEATURES = 20_000
SHAPES = {
    "Point": 0,
    "MultiPoint": 1,
    "LineString": 1,
    "MultiLineString": 2,
    "Polygon": 2,
    "MultiPolygon": 3,
}  # depth of their coordinates


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FeatureRecord:
    """One feature as its file holds it."""

    number: int  # from 1
    place: str  # file, feature or line, name: what an error begins with
    properties: Mapping[str, Any]
    geometry: BaseGeometry | None  # two-dimensional, in the file's coordinates


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class VectorFile:
    """A feature file taken apart. `crs` None: the site's own coordinates."""

    file: str
    paths: tuple[Path, ...]  # the file and its sidecars
    records: tuple[FeatureRecord, ...]
    crs: CRS | None
    assumptions: tuple[str, ...] = field(default=())


def place_of(shown: str, number: int, name: object, *, word: str = "feature") -> str:
    """Where a feature stands, as a person looks for it: points.geojson, feature 3 ("DS-1").

    Parameters
    ----------
    shown : str
        File name.
    number : int
        Number of the feature or line in the file.
    name : object
        The feature's name, if any.
    word : str
        'feature' or 'line'.

    Returns
    -------
    str
        The beginning of an error.
    """
    called = said(name) if isinstance(name, str | int) and not isinstance(name, bool) else ""
    return f'{shown}, {word} {number} ("{called}")' if called else f"{shown}, {word} {number}"
