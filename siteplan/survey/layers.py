"""A GeoPackage or Shapefile in; its layers as records out, through geopandas, which is imported here alone.

It is slow to start.
"""

from __future__ import annotations

import math
import warnings
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from siteplan.errors import InputError, raise_gathered
from siteplan.survey.files import said
from siteplan.survey.frame import horizontal, quiet
from siteplan.survey.records import MOST_FEATURES, SHAPES, FeatureRecord, VectorFile, place_of

if TYPE_CHECKING:
    from pyproj import CRS
    from shapely.geometry.base import BaseGeometry

_SIDECARS = (".shx", ".dbf", ".prj", ".cpg", ".qix", ".sbn", ".sbx")
_DBF_NAMES = {"diameter_i": "diameter_in", "diameter_m": "diameter_mm"}  # dBASE keeps ten characters


def read_layers(path: Path, shown: str) -> VectorFile:
    """Every layer that has geometry.

    Parameters
    ----------
    path : Path
        A .gpkg or .shp.
    shown : str
        Its name in errors.

    Returns
    -------
    VectorFile
        Records layer by layer, numbered through.

    Raises
    ------
    InputError, InputErrors
        If it is not what its name says, lacks a sidecar, or holds layers in different CRSs.
    """
    magic = b"SQLite format 3\x00" if path.suffix.lower() == ".gpkg" else b"\x00\x00\x27\x0a"
    word = "GeoPackage" if path.suffix.lower() == ".gpkg" else "Shapefile"
    try:
        with path.open("rb") as stream:
            begins = stream.read(len(magic))
    except OSError as error:
        raise InputError(shown, "cannot be read", "Check the right to read it.") from error
    if begins != magic:
        raise InputError(shown, f"is no {word}, whatever its name says", f"Save it again as a {word} or as GeoJSON.")
    if (journal := _journal(path)) is not None:
        # reading would write it into the surveyor's file
        raise InputError(
            shown,
            f"has changes in {said(journal)} beside it that are not in the file yet: a program holds it open",
            "Close that program, and copy the file again.",
        )
    paths = [path]
    if word == "Shapefile":
        beside = [
            entry
            for ending in _SIDECARS
            for entry in (path.with_suffix(ending), path.with_suffix(ending.upper()))
            if entry.is_file()
        ]
        paths += [
            entry for index, entry in enumerate(beside) if not any(entry.samefile(other) for other in beside[:index])
        ]
        missing = [ending for ending in (".shx", ".dbf") if not any(entry.suffix.lower() == ending for entry in paths)]
        if missing:
            raise InputError(
                shown, f"lies there without its {' and '.join(missing)}", "A Shapefile is several files; copy them all."
            )
    records: list[FeatureRecord] = []
    systems: list[CRS | None] = []
    faults: list[InputError] = []
    for layer, frame in _frames(path, shown, word):
        systems.append(_layer_crs(frame, f"{shown}, layer {layer}" if layer else shown))
        names = (
            {key: _DBF_NAMES.get(key, key) for key in frame.columns if key != frame.geometry.name}
            if word == "Shapefile"
            else {}
        )
        columns = [key for key in frame.columns if key != frame.geometry.name]
        where = f"{shown}, layer {layer}" if layer else shown
        for number, (geometry, *cells) in enumerate(
            zip(frame.geometry, *(frame[key] for key in columns), strict=True), 1
        ):
            properties = {said(names.get(key, key)): _plain(cell) for key, cell in zip(columns, cells, strict=True)}
            place = place_of(where, number, properties.get("name"))
            try:
                flat = _two_dimensional(geometry, place)
            except InputError as fault:
                faults.append(fault)
                continue
            records.append(FeatureRecord(number=len(records) + 1, place=place, properties=properties, geometry=flat))
    raise_gathered(faults)
    if len({None if system is None else system.to_wkt() for system in systems}) > 1:
        raise InputError(shown, "has layers in different CRSs", "Save them in one CRS, or as files of their own.")
    crs = systems[0] if systems else None
    return VectorFile(file=shown, paths=tuple(paths), records=tuple(records), crs=crs)


def _journal(path: Path) -> str | None:
    """A journal with something in it, beside a table that is one file."""
    beside = (path.with_name(path.name + ending) for ending in ("-wal", "-journal"))
    return next((entry.name for entry in beside if entry.is_file() and entry.stat().st_size), None)


def _frames(path: Path, shown: str, word: str) -> Iterator[tuple[str, Any]]:
    """Layer name ('' when it is the only one) and its table."""
    import geopandas

    try:
        with quiet(), warnings.catch_warnings():
            warnings.simplefilter("ignore")
            listed = geopandas.list_layers(path)
            layers = [
                str(name)
                for name, kind in zip(listed["name"], listed["geometry_type"], strict=True)
                if isinstance(kind, str)
            ]
            frames = [
                (name, geopandas.read_file(path, layer=name, engine="pyogrio", rows=MOST_FEATURES + 1))
                for name in layers
            ]
            # a table of notes beside the layers comes back without places: it holds no features
            frames = [(name, frame) for name, frame in frames if isinstance(frame, geopandas.GeoDataFrame)]
    except Exception as error:  # what a broken file makes the drivers raise is not listed anywhere
        raise InputError(shown, f"cannot be read as a {word}", f"Save it again as a {word} or as GeoJSON.") from error
    if sum(len(frame) for _, frame in frames) > MOST_FEATURES:
        raise InputError(
            shown, f"holds more than {MOST_FEATURES} features", "Keep those of this lot and its surroundings."
        )
    for name, frame in frames:
        yield (said(name) if len(frames) > 1 else ""), frame


def _layer_crs(frame: Any, where: str) -> CRS | None:
    if frame.crs is None or frame.crs.is_engineering:
        return None
    return horizontal(frame.crs, where)


def _two_dimensional(geometry: Any, place: str) -> BaseGeometry | None:
    import numpy as np
    import shapely

    if geometry is None or geometry.is_empty:
        return None
    if geometry.geom_type not in SHAPES:
        raise InputError(place, f'has geometry "{geometry.geom_type}"', "Use points, lines or polygons.")
    flat: BaseGeometry = shapely.force_2d(geometry)
    if not np.isfinite(shapely.get_coordinates(flat)).all():
        raise InputError(place, "has a coordinate that is no finite number", "Draw it again.")
    return flat


def _plain(cell: Any) -> Any:
    """A table's cell as JSON would hold it: None for every kind of nothing."""
    import pandas as pd

    if cell is None or cell is pd.NaT or cell is pd.NA:
        return None
    item = getattr(cell, "item", None)
    value = item() if callable(item) and getattr(cell, "ndim", 1) == 0 else cell
    return None if isinstance(value, float) and math.isnan(value) else value
