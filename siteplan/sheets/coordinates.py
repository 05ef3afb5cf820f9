"""Places of the plan in; the same places in the survey's own system and unit, as crews set instruments up in it, out.

Inside, a plan stands in metres and often in a frame about the lot that nobody else has. No sheet prints that frame.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from siteplan import units
from siteplan.values.whole_plan import Plan

Floats = NDArray[np.float64]
DEGREE = "degree"
_DIGITS = {"ft": 2, "us-ft": 2, "m": 3, DEGREE: 8}  # a hundredth of a foot, a millimetre
_MARKS = {"ft": "ft", "us-ft": "us_ft", "m": "m", DEGREE: "deg"}


@dataclass(frozen=True, slots=True, kw_only=True)
class SurveySystem:
    """The system that the survey's coordinates stand in.

    Attributes
    ----------
    crs : str
        'local', an authority code or WKT.
    unit : str
        'ft', 'us-ft', 'm', 'degree', or another unit by its own name.
    name : str
        As printed: 'EPSG:6539', a name, or 'the site's own grid'.
    """

    crs: str
    unit: str
    name: str

    @property
    def unit_name(self) -> str:
        """The unit as printed."""
        return "degrees" if self.unit == DEGREE else units.UNIT_NAMES.get(self.unit, self.unit)

    @property
    def digits(self) -> int:
        """Printed after the point."""
        return _DIGITS.get(self.unit, 3)

    @property
    def axes(self) -> tuple[str, str]:
        """What its two numbers are called."""
        return ("longitude", "latitude") if self.unit == DEGREE else ("east", "north")

    @property
    def heads(self) -> tuple[str, str]:
        """Names of two columns, with unit and system: east_us_ft_EPSG_6539."""
        mark = _MARKS.get(self.unit) or _plain(self.unit)
        system = "site_grid" if self.crs == "local" else _plain(self.name)
        return tuple(f"{axis}_{mark}_{system}" for axis in self.axes)  # type: ignore[return-value]


def survey_system(plan: Plan) -> SurveySystem:
    """The survey's own system; a plan that names none stands in it already.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    SurveySystem
        With its printed name.
    """
    crs = plan.survey_crs or plan.crs
    unit = plan.survey_unit or (plan.length_unit if crs == "local" else "m")
    return SurveySystem(crs=crs, unit=unit, name=crs_name(crs))


def survey_places(plan: Plan, x: ArrayLike, y: ArrayLike) -> tuple[Floats, Floats]:
    """Places in the survey's own system and unit.

    Parameters
    ----------
    plan : Plan
        For its frame and the survey's.
    x, y : array_like, shape (n,)
        Places in the plan's frame [m].

    Returns
    -------
    tuple of ndarray, shape (n,)
        Easting and northing, or longitude and latitude [the survey's unit].
    """
    from siteplan.survey.frame import crs_of, mover

    system = survey_system(plan)
    east, north = np.asarray(x, float), np.asarray(y, float)
    if plan.crs == "local" or system.crs == "local":
        return east / units.LENGTH[system.unit], north / units.LENGTH[system.unit]
    if system.crs == plan.crs:
        return east, north
    return mover(crs_of(plan.crs, "plan.json, crs"), crs_of(system.crs, "plan.json, survey_crs"))(east, north)


def place_text(plan: Plan, x: float, y: float) -> str:
    """A place as a crew finds it: 'N 230412.35 E 981204.10'.

    Parameters
    ----------
    plan : Plan
        For its frame and the survey's.
    x, y : float
        In the plan's frame [m].

    Returns
    -------
    str
        Without the system, which its head names.
    """
    system = survey_system(plan)
    (east,), (north,) = survey_places(plan, [x], [y])
    names = ("lat", "lon") if system.unit == DEGREE else ("N", "E")
    return f"{names[0]} {north:.{system.digits}f} {names[1]} {east:.{system.digits}f}"


def crs_name(crs: str) -> str:
    """What people call a coordinate system.

    Parameters
    ----------
    crs : str
        'local', an authority code or WKT.

    Returns
    -------
    str
        The code, or the system's own name: WKT is for programs.
    """
    if crs == "local":
        return "the site's own grid"
    if re.fullmatch(r"[A-Za-z]{2,12}:[A-Za-z0-9]{1,12}", crs):
        return crs
    from siteplan.survey.files import said
    from siteplan.survey.frame import crs_of

    return said(crs_of(crs, "plan.json, survey_crs").name)


def _plain(text: str) -> str:
    return re.sub(r"[^A-Za-z0-9]+", "_", text).strip("_") or "system"
