"""A coarse grid and shots on the same ground in; the grid bent smoothly onto the shots out, with what disagreed."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from siteplan import units
from siteplan.errors import InputError
from siteplan.site import Floats, Grid, Shot, heights
from siteplan.survey.files import said

_REACH = 10.0  # how far a shot bends the grid [m]; common practice, no source
FINE = 0.25  # nodes are set this close where the grid is coarser, so that the ground meets every shot [m]
_MOST_NODES = 2_000_000
OTHER_DATUM = 1.0  # a median difference larger than this is a datum, not an error [m]
_FEWEST = 4  # shots from which a common shift is taken
DISAGREES = 3.0  # differences of more than so many standard deviations are listed [-]
_PASSES = 60


def corrected(
    grid: Grid, shots: Sequence[Shot], accuracy: float, *, lift: bool, unit: str, shown: tuple[str, str]
) -> tuple[Grid, tuple[str, ...]]:
    """The grid corrected to agree with the shots.

    The median difference is taken as a shift of the whole grid when four or more shots show it beyond the grid's
    own doubt. What is left bends the ground around each shot and fades to nothing within 10 m.

    Parameters
    ----------
    grid : Grid
        Such as a public lidar grid.
    shots : sequence of Shot
        On the same ground.
    accuracy : float
        One standard deviation of the grid [m].
    lift : bool
        Shift the grid onto the shots however far apart they are.
    unit : str
        Of elevations in sentences.
    shown : tuple of str
        Names of the grid's and the shots' file.

    Returns
    -------
    grid : Grid
        Meets every shot on known ground; finer than the one given where that was coarse.
    notes : tuple of str
        What was done, and where the two disagree.

    Raises
    ------
    InputError
        If the two stand on different datums, or share no ground.

    References
    ----------
    Inverse distance weights that end at a radius: Franke and Little's modified Shepard weights (memory).
    """
    x, y, z = (np.array([getattr(shot, axis) for shot in shots]) for axis in "xyz")
    under = heights(grid, x, y)
    known = np.isfinite(under)
    if not known.any():
        raise InputError(
            shown[1],
            f"has no shot on ground that {shown[0]} knows",
            "Check crs, order and unit of the shots, or leave one of the two out.",
        )
    residual = z - under
    middle = float(np.median(residual[known]))
    if abs(middle) > OTHER_DATUM and not lift:
        raise InputError(
            shown[1],
            (
                f"lies {units.length_text(abs(middle), unit)} {'above' if middle > 0 else 'below'} {shown[0]} "
                f"(median of {int(known.sum())} shots): another datum or unit"
            ),
            (
                'Say datum = "shots" under [ground] to lift the grid onto the shots; else correct elevation_unit '
                "or the files."
            ),
        )
    common = lift or (int(known.sum()) >= _FEWEST and abs(middle) > 2 * accuracy / np.sqrt(known.sum()))
    shift = middle if common else 0.0
    residual = residual - shift
    fine, factor = _refined(grid)
    bent = fine.z + shift
    _bend(fine, bent, x[known], y[known], residual[known])
    _meet(fine, bent, x[known], y[known], z[known])
    bent.setflags(write=False)
    notes = [_told(shift, residual[known], accuracy, unit, shown, common=common)]
    far = np.flatnonzero(known & (np.abs(residual) > DISAGREES * np.hypot(accuracy, [shot.accuracy for shot in shots])))
    if len(far):
        worst = far[np.argsort(-np.abs(residual[far]), kind="stable")]
        listed = ", ".join(
            f"{said(shots[k].number)} {said(shots[k].description, 24)} ({units.length_text(float(residual[k]), unit)})".replace(
                "  ", " "
            )
            for k in worst[:8]
        )
        more = f" and {len(worst) - 8} more" if len(worst) > 8 else ""
        notes.append(
            f"{shown[0]} and {shown[1]} disagree beyond {DISAGREES:g} standard deviations at {listed}{more}; "
            "the shots rule"
        )
    if not known.all():
        notes.append(f"{int((~known).sum())} shots stand where {shown[0]} knows no ground; they do not change it")
    if factor > 1:
        notes.append(
            f"{shown[0]} is carried at {units.length_text(fine.cell, unit)} between nodes, so that the ground "
            "meets every shot"
        )
    return Grid(z=bent, to_index=fine.to_index, to_plan=fine.to_plan, cell=fine.cell), tuple(notes)


def _told(shift: float, left: Floats, accuracy: float, unit: str, shown: tuple[str, str], *, common: bool) -> str:
    spread = float(np.sqrt(np.mean(left**2)))
    moved = f"shifted by {units.length_text(shift, unit)} (median difference), then " if common else ""
    return (
        f"{shown[0]} is {moved}corrected to agree with {len(left)} shots of {shown[1]}: differences "
        f"{units.length_text(spread, unit)} (root mean square), "
        f"accuracy {units.length_text(accuracy, unit)}; the correction fades out "
        f"{units.length_text(_REACH, 'm' if unit == 'm' else unit, 0)} from a shot; along the line the shots "
        "rule"
    )


def _refined(grid: Grid) -> tuple[Grid, int]:
    """The same bilinear ground on nodes a whole number of times closer."""
    rows, cols = grid.z.shape
    factor = max(1, int(np.ceil(grid.cell / FINE - 1e-9)))
    while factor > 1 and ((rows - 1) * factor + 1) * ((cols - 1) * factor + 1) > _MOST_NODES:
        factor -= 1
    if factor == 1:
        return grid, 1
    row, col = np.arange((rows - 1) * factor + 1) / factor, np.arange((cols - 1) * factor + 1) / factor
    r, c = np.minimum(row.astype(int), rows - 2), np.minimum(col.astype(int), cols - 2)
    fr, fc = (row - r)[:, None], (col - c)[None, :]
    z = np.zeros((len(row), len(col)))
    for dr, dc in ((0, 0), (0, 1), (1, 0), (1, 1)):
        weight = np.abs(1 - dr - fr) * np.abs(1 - dc - fc)
        z += np.where(weight == 0, 0.0, weight * grid.z[np.ix_(r + dr, c + dc)])

    def to_index(x: Floats, y: Floats) -> tuple[Floats, Floats]:
        i, j = grid.to_index(x, y)
        return i * factor, j * factor

    def to_plan(row: Floats, col: Floats) -> tuple[Floats, Floats]:
        return grid.to_plan(np.asarray(row, float) / factor, np.asarray(col, float) / factor)

    return Grid(z=z, to_index=to_index, to_plan=to_plan, cell=grid.cell / factor), factor


def _bend(grid: Grid, z: Floats, x: Floats, y: Floats, residual: Floats) -> None:
    """Add the weighted residuals to the nodes near shots."""
    row, col = grid.to_index(x, y)
    around = int(np.ceil(1.5 * _REACH / grid.cell))
    top, bottom = max(int(row.min()) - around, 0), min(int(row.max()) + around + 2, z.shape[0])
    left, right = max(int(col.min()) - around, 0), min(int(col.max()) + around + 2, z.shape[1])
    for start in range(top, bottom, 64):
        ii, jj = np.meshgrid(np.arange(start, min(start + 64, bottom)), np.arange(left, right), indexing="ij")
        px, py = grid.to_plan(ii.ravel().astype(float), jj.ravel().astype(float))
        total, weights = np.zeros(px.size), np.zeros(px.size)
        least = np.full(px.size, np.inf)
        for sx, sy, value in zip(x, y, residual, strict=True):
            away = np.maximum(np.hypot(px - sx, py - sy), 1e-6)
            weight = np.maximum(0.0, 1 / away - 1 / _REACH) ** 2
            total += weight * value
            weights += weight
            least = np.minimum(least, away)
        # the mean of the shots in reach, faded out by the distance to the nearest
        fade = np.clip(1 - (least / _REACH) ** 2, 0.0, 1.0) ** 2
        z[ii.ravel(), jj.ravel()] += np.divide(total, weights, out=np.zeros_like(total), where=weights > 0) * fade


def _meet(grid: Grid, z: Floats, x: Floats, y: Floats, wanted: Floats) -> None:
    """Move the four nodes around each shot by the least that makes the ground meet it, shot by shot until all do."""
    row, col = grid.to_index(x, y)
    row, col = np.clip(row, 0, z.shape[0] - 1), np.clip(col, 0, z.shape[1] - 1)
    r, c = np.minimum(row.astype(int), z.shape[0] - 2), np.minimum(col.astype(int), z.shape[1] - 2)
    fr, fc = row - r, col - c
    weights = np.column_stack([(1 - fr) * (1 - fc), (1 - fr) * fc, fr * (1 - fc), fr * fc])
    nodes = (np.column_stack([r, r, r + 1, r + 1]), np.column_stack([c, c + 1, c, c + 1]))
    for _ in range(_PASSES):
        worst = 0.0
        for k in range(len(x)):
            at = (nodes[0][k], nodes[1][k])
            weight = weights[k]
            off = wanted[k] - float(np.where(weight == 0, 0.0, weight * z[at]).sum())
            worst = max(worst, abs(off))
            z[at] += off * weight / float((weight**2).sum())
        if worst < 1e-9:
            return
