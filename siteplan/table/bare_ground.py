"""A folder with ground and no lot yet in; that ground as a site of nothing else, for the page to draw on, out."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from siteplan.errors import InputError, InputErrors
from siteplan.site import Grid, Shot, Site
from siteplan.units import LENGTH, SITE_UNITS

if TYPE_CHECKING:
    from siteplan.table.folder_state import FolderState

_MOST_ACROSS = 400.0  # m of a grid that are shown before there is a lot


def bare_site(state: FolderState) -> tuple[Site, tuple[float, float, float, float]] | None:
    """The ground that a folder names, where nothing but it can be read.

    Parameters
    ----------
    state : FolderState
        The folder.

    Returns
    -------
    tuple of Site and tuple of float, or None
        With its grid or its shots, in the plan's frame, and what of it is shown: west, south, east, north [m]. None
        where there is no ground, or it leaves a question open that the rest of the folder answers.
    """
    from siteplan.survey.frame import choose_frame

    length, height = state.settings.get("length_unit"), state.settings.get("elevation_unit")
    ground = state.settings.get("ground")
    if length not in SITE_UNITS or height not in SITE_UNITS or not isinstance(ground, dict):
        return None
    try:
        found = _grid(state, ground, str(length), str(height)) if ground.get("grid") else _shots(state, str(length))
        if found is None:
            return None
        grid, shots, box, (x, y) = found
        frame = choose_frame(state.paper.crs, x, y, str(length))
    except (InputError, InputErrors, OSError):
        return None
    return Site(
        name="",
        crs=frame.text,
        length_unit=str(length),
        elevation_unit=str(height),
        accuracy=0.0,
        grid=grid,
        features=(),
        sources=(),
        rules={},
        rainfall=None,
        inputs=(),
        shots=shots,
    ), box


_Found = tuple[Grid, tuple[Shot, ...], tuple[float, float, float, float], tuple[float, float]]


def _grid(state: FolderState, ground: dict[str, object], length: str, height: str) -> _Found | None:
    from siteplan.survey.files import path_inside
    from siteplan.survey.frame import choose_frame, mover
    from siteplan.survey.grids import grid_in_plan, read_grid

    path = path_inside(state.folder, ground["grid"], "site.toml, [ground] grid")
    raster = read_grid(path, path.name, site_crs=state.paper.crs, elevation_unit=height, confirmed=True)
    a, b, c, d, e, f = raster.transform
    rows, cols = raster.z.shape
    middle = np.array([a * cols / 2 + b * rows / 2 + c]), np.array([d * cols / 2 + e * rows / 2 + f])
    x, y = mover(raster.crs or state.paper.crs, state.paper.crs)(*middle)
    frame = choose_frame(state.paper.crs, float(x[0]), float(y[0]), length)
    grid = grid_in_plan(raster, frame, 0.0, 0.0)
    edge = np.array([0, rows - 1, rows - 1, 0]), np.array([0, 0, cols - 1, cols - 1])
    px, py = grid.to_plan(*edge)
    cx, cy = float(px.mean()), float(py.mean())
    half = _MOST_ACROSS / 2
    box = (
        max(float(px.min()), cx - half),
        max(float(py.min()), cy - half),
        min(float(px.max()), cx + half),
        min(float(py.max()), cy + half),
    )
    return grid_in_plan(raster, frame, cx, cy), (), box, (float(x[0]), float(y[0]))


def _shots(state: FolderState, length: str) -> _Found | None:
    """Shots as listed; no surface is drawn through them before there is a lot."""
    from siteplan.survey.frame import axis_unit
    from siteplan.survey.pointlist_signs import Clues
    from siteplan.survey.settings import read_settings
    from siteplan.survey.shots import read_ground_shots

    settings = read_settings(state.folder)
    if settings.ground.shots is None:
        return None
    crs = state.paper.crs
    declared = length if crs is None else axis_unit(crs)  # as a plan takes it
    listed = read_ground_shots(
        settings.ground, state.folder, Clues(length_unit=declared, elevation_unit=settings.elevation_unit)
    )
    shots = tuple(
        Shot(
            number=one.number, x=one.easting, y=one.northing, z=one.elevation, accuracy=0.0, description=one.description
        )
        for one in listed.points
        if one.elevation is not None
    )
    if not shots:
        return None
    xs, ys = [one.x for one in shots], [one.y for one in shots]
    unit = LENGTH[length] if crs is None else state.paper.metres
    flat = Grid(
        z=np.full((2, 2), np.nan),
        to_index=lambda x, y: (x * 0, y * 0),
        to_plan=lambda r, c: (r * 0.0, c * 0.0),
        cell=1.0,
    )
    return flat, shots, (min(xs), min(ys), max(xs), max(ys)), (float(np.mean(xs)) / unit, float(np.mean(ys)) / unit)
