"""A site folder in; what can be read of it and every fault of all stages of reading out.

For who tells what a folder lacks.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from siteplan import units
from siteplan.errors import InputError, InputErrors, NotGiven, read_or_gather
from siteplan.site import Site
from siteplan.survey.deed_file import DEED_ENDING
from siteplan.survey.features import Drawn, drawn_features
from siteplan.survey.folder import read_site
from siteplan.survey.frame import axis_unit, crs_of, horizontal, mover
from siteplan.survey.grids import read_grid
from siteplan.survey.ground_settings import GroundFiles
from siteplan.survey.pointlist_signs import Clues
from siteplan.survey.pumps import NO_LIFTS
from siteplan.survey.records import LON_LAT, VectorFile
from siteplan.survey.settings import SITE_FILE, Settings, settings_with_faults, told_keys
from siteplan.survey.shots import read_ground_shots
from siteplan.survey.vectors import read_vectors
from siteplan.values.asked_for import NOTHING_ASKED, WhatIf
from siteplan.values.whole_plan import Lift

if TYPE_CHECKING:
    from pyproj import CRS


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GatheredSite:
    """What a folder gives.

    Attributes
    ----------
    settings : Settings
        As far as site.toml can be read.
    drawn : tuple of Drawn
        Features that can be read, in their files' coordinates.
    site : Site or None
        None where anything stands in the way of reading it.
    faults : tuple of InputError
        All that stands in the way, each once: settings first, then files, features, ground, places.
    crs : CRS or None
        The site's; None for an assumed grid, and where it is not told.
    told : frozenset of (str, str)
        Section ('' for the head) and key of all that site.toml gives.
    """

    settings: Settings
    drawn: tuple[Drawn, ...]
    site: Site | None
    faults: tuple[InputError, ...]
    crs: CRS | None
    told: frozenset[tuple[str, str]]

    def places(self, features: tuple[Drawn, ...]) -> tuple[tuple[float, float], ...]:
        """The middles of features in the site's own coordinates [its unit]; a place that has none there is left out."""
        found = []
        for one in features:
            middle = one.geometry.centroid
            x, y = mover(one.crs or self.crs, self.crs)(np.array([middle.x]), np.array([middle.y]))
            if np.isfinite([x[0], y[0]]).all():
                found.append((float(x[0]), float(y[0])))
        return tuple(found)


def gathered_site(folder: Path) -> GatheredSite:
    """Read a folder as far as it goes.

    Parameters
    ----------
    folder : Path
        The site folder.

    Returns
    -------
    GatheredSite
        With the site where nothing stands in the way.

    Raises
    ------
    InputError
        If there is no folder with a site.toml that is TOML: nothing can be told then.
    """
    settings, first = settings_with_faults(folder)
    faults = list(first)
    crs = _crs(settings, faults)
    of_files: list[InputError] = []
    files = _files(folder, settings, crs, of_files)
    faults += of_files
    unread = set(settings.features) - {one.paths[0] for one in files}
    # a deed that asks a question holds a lot all the same
    broken = any(path.suffix.lower() == DEED_ENDING for path in unread) or (
        bool(unread) and any(not isinstance(one, NotGiven) for one in of_files)
    )
    drawn: tuple[Drawn, ...] = ()
    found: list[InputError] = []
    made = read_or_gather(lambda: drawn_features(files, settings.length_unit, settings.elevation_unit), found)
    drawn = made[0] if made is not None else ()
    # what a file that cannot be read may hold is not missing
    faults += [one for one in found if not (broken and isinstance(one, NotGiven))]
    faults += _shots(folder, settings, crs, features=bool(drawn))
    site = None
    if not faults:
        site = read_or_gather(lambda: read_site(folder), faults)
    kept = {(one.where, one.what): one for one in faults}
    return GatheredSite(
        settings=settings,
        drawn=drawn,
        site=site,
        faults=tuple(kept.values()),
        told=told_keys(folder),
        crs=None if isinstance(crs, _Untold) else crs,
    )


def site_or_every_fault(folder: Path, asked: WhatIf = NOTHING_ASKED, lifts: Mapping[str, Lift] = NO_LIFTS) -> Site:
    """A site as `read_site` reads it.

    Where it cannot, what stands in the way at every stage and not at the first alone.

    Parameters
    ----------
    folder, asked, lifts
        See `folder.read_site`.

    Returns
    -------
    Site

    Raises
    ------
    InputError, InputErrors
        What `read_site` says is among them.
    """
    try:
        return read_site(folder, asked, lifts)
    except (InputError, InputErrors) as fault:
        faults = list(fault.faults) if isinstance(fault, InputErrors) else [fault]
    beside = read_or_gather(lambda: gathered_site(folder).faults, []) or ()
    # of a place that both speak of the whole reading knows more: it had the features to judge by
    known = {one.where for one in faults}
    every = [*faults, *(one for one in beside if one.where not in known)]
    raise every[0] if len(every) == 1 else InputErrors(every)


class _Untold:
    """Stands for a system that is not told."""


_UNTOLD = _Untold()


def _crs(settings: Settings, faults: list[InputError]) -> CRS | _Untold | None:
    if not settings.crs:
        return _UNTOLD
    if settings.crs == "local":
        return None
    where = f"{SITE_FILE}, crs"
    return read_or_gather(lambda: horizontal(crs_of(settings.crs, where), where), faults) or _UNTOLD


def _files(folder: Path, settings: Settings, crs: CRS | _Untold | None, faults: list[InputError]) -> list[VectorFile]:
    """Feature files and the grid, read as if what is not told yet were no matter."""
    home = folder.resolve()
    local = crs is None
    own = settings.length_unit if crs is None else "m" if isinstance(crs, _Untold) else axis_unit(crs)
    files = []
    for path in settings.features:
        shown = path.relative_to(home).as_posix()
        metres = None if own is None else units.LENGTH[own]
        read = read_or_gather(partial(read_vectors, path, shown, local=local, metres=metres), faults)
        if read is not None:
            files.append(read)
    grid = settings.ground.grid
    if grid is not None:
        told = ("", "elevation_unit") in told_keys(folder)
        stand_in = crs_of(LON_LAT, SITE_FILE) if isinstance(crs, _Untold) else crs
        shown = grid.relative_to(home).as_posix()
        confirmed = settings.confirm_units or not told
        unit = settings.elevation_unit
        read_or_gather(
            partial(read_grid, grid, shown, site_crs=stand_in, elevation_unit=unit, confirmed=confirmed), faults
        )
    return files


def _shots(folder: Path, settings: Settings, crs: CRS | _Untold | None, *, features: bool) -> list[InputError]:
    """Faults of the shots by themselves; a question that features may answer is asked only where there are none.

    The site's own units answer for those of its list, as `plan` takes them: while they are not told they alone are
    asked for.
    """
    if settings.ground.shots is None:
        return []
    told = told_keys(folder)
    own = settings.length_unit if ("", "length_unit") in told else None
    unit = own if crs is None else None if isinstance(crs, _Untold) else axis_unit(crs)
    plane = isinstance(crs, _Untold) or (crs is None and own is None)
    clues = Clues(length_unit=unit, elevation_unit=settings.elevation_unit if ("", "elevation_unit") in told else None)
    later = {"points_unit": plane, "points_elevation_unit": plane or ("", "elevation_unit") not in told}
    faults: list[InputError] = []
    ground = settings.ground
    for _ in range(len(_ANSWERS) + 1):
        found: list[InputError] = []
        read_or_gather(partial(read_ground_shots, ground, folder.resolve(), clues), found)
        question = next((one for one in found if isinstance(one, NotGiven) and one.key in _ANSWERS), None)
        if question is None:
            return [*faults, *found]
        if not features and not later.get(question.key, False):
            faults.append(question)
        ground = _ANSWERS[question.key](ground)
    return faults


# to read on with, never kept
_ANSWERS: Mapping[str, Callable[[GroundFiles], GroundFiles]] = {
    "points_order": lambda ground: replace(ground, order="north-first"),
    "points_unit": lambda ground: replace(ground, unit="m"),
    "points_elevation_unit": lambda ground: replace(ground, elevation_unit="m"),
}
