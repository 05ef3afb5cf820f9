"""The site's CRS and where the lot is in; the plan's frame out: metres, true to scale at the lot, east and north.

pyproj does every conversion between systems, so the two kinds of feet and every datum come out as their definitions
say.
"""

from __future__ import annotations

import contextlib
import functools
import logging
import warnings
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from siteplan import units
from siteplan.errors import InputError
from siteplan.remembered import remembered
from siteplan.survey.files import said

if TYPE_CHECKING:
    from pyproj import CRS, Transformer

Floats = NDArray[np.float64]
Move = Callable[[Floats, Floats], tuple[Floats, Floats]]

MOST_DISTORTION = 0.002  # a 30 m line is then true to 6 cm, and its grade to a 500th of itself
_FEW, _MANY = 4096, 400_000  # places of a line, and of a net: moves of so many are remembered
CENTRE_STEP = 0.01  # degrees; about 1 km, over which a transverse Mercator of scale 1 stretches by 1e-8
_NOISY = ("rasterio", "pyogrio", "fiona", "pyproj")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Frame:
    """The plan's frame. `crs` None: local metres, site coordinates times `unit`."""

    crs: CRS | None
    site: CRS | None
    unit: float  # metres in one unit of local coordinates
    text: str  # 'local', an authority code or WKT
    assumptions: tuple[str, ...]

    @property
    def survey_crs(self) -> str:
        """The system that the survey's own coordinates stand in: 'local', an authority code or WKT."""
        if self.site is None:
            return "local"
        code = self.site.to_authority(min_confidence=100)
        return ":".join(code) if code else str(self.site.to_wkt())

    @property
    def survey_unit(self) -> str:
        """Unit of the survey's own coordinates: 'ft', 'us-ft', 'm', 'degree', another by its name.

        '' for an assumed grid.
        """
        if self.site is None:
            return ""
        return "degree" if self.site.is_geographic else axis_unit(self.site) or said(self.site.axis_info[0].unit_name)


@contextlib.contextmanager
def quiet() -> Iterator[None]:
    """Keep what the drivers below would log on stderr to ourselves: our one line says it.

    Yields
    ------
    None
        The loggers are as before when it ends.
    """
    loggers = [logging.getLogger(name) for name in _NOISY]
    before = [(logger.propagate, logger.disabled) for logger in loggers]
    handler = logging.NullHandler()
    for logger in loggers:
        logger.propagate = False
        logger.addHandler(handler)
    try:
        yield
    finally:
        for logger, (propagate, disabled) in zip(loggers, before, strict=True):
            logger.propagate, logger.disabled = propagate, disabled
            logger.removeHandler(handler)


def crs_of(text: str, where: str) -> CRS:
    """The CRS that a text names.

    Parameters
    ----------
    text : str
        Anything pyproj reads: authority code, URN, WKT, PROJ string.
    where : str
        File and key named in the error.

    Returns
    -------
    CRS
        As named; see `horizontal`.

    Raises
    ------
    InputError
        If nothing is known by that name.
    """
    from pyproj import CRS
    from pyproj.exceptions import ProjError

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return CRS.from_user_input(text)
    except (ProjError, ValueError, TypeError, OverflowError) as error:
        raise InputError(
            where,
            f'"{said(text, 60)}" names no CRS known here',
            'Write an EPSG code such as "EPSG:6539"; in site.toml also "local".',
        ) from error


def horizontal(crs: CRS, where: str) -> CRS:
    """The two-dimensional part of a CRS, in which places on a map are told.

    Parameters
    ----------
    crs : CRS
        Any.
    where : str
        Named in the error.

    Returns
    -------
    CRS
        Geographic or projected; by its authority code where it has one, so that one system is one value.

    Raises
    ------
    InputError
        If it has no such part (heights, earth-centred, an assumed grid).
    """
    from pyproj import CRS
    from pyproj.exceptions import ProjError

    plain = crs.sub_crs_list[0] if crs.is_compound and crs.sub_crs_list else crs
    plain = plain.source_crs if plain.is_bound and plain.source_crs is not None else plain
    if not (plain.is_geographic or plain.is_projected):
        raise InputError(
            where,
            f'"{said(crs.name)}" is no geographic or projected CRS',
            "Name the CRS that the eastings and northings are in.",
        )
    plain = plain.to_2d()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        lon_lat = CRS.from_epsg(4326)
        if plain.is_geographic and plain.equals(lon_lat, ignore_axis_order=True):
            return lon_lat  # OGC:CRS84 is the same system, yet PROJ takes other ways from it to other datums
        code = plain.to_authority(min_confidence=100)
        if code is not None:
            try:
                coded = CRS.from_authority(*code)
            except ProjError:
                return plain
            if coded.equals(plain, ignore_axis_order=True):
                return coded
    return plain


def axis_unit(crs: CRS) -> str | None:
    """Unit of a projected CRS's coordinates.

    Parameters
    ----------
    crs : CRS
        Horizontal.

    Returns
    -------
    str or None
        'ft', 'us-ft' or 'm'; None for degrees and everything else.
    """
    if crs.is_geographic or not crs.axis_info:
        return None
    return unit_of_factor(crs.axis_info[0].unit_conversion_factor)


def unit_of_factor(factor: float) -> str | None:
    """The site unit that has so many metres.

    Parameters
    ----------
    factor : float
        Metres in one unit [m].

    Returns
    -------
    str or None
        'ft', 'us-ft' or 'm'; the two feet are 2 parts in a million apart and are told apart.
    """
    for unit in units.SITE_UNITS:
        if abs(factor / units.LENGTH[unit] - 1) < 2e-7:
            return unit
    return None


def mover(source: CRS | None, target: CRS | None, unit: float = 1.0) -> Move:
    """What takes coordinates of one system to another.

    Parameters
    ----------
    source, target : CRS or None
        Horizontal systems; both None for local coordinates.
    unit : float
        Metres in one local unit; used when both are None [m].

    Returns
    -------
    callable (x, y) -> (x, y)
        Arrays of shape (n,), easting or longitude first; the very same numbers when nothing is to do,
        inf where a place has no image.
    """
    if source is None or target is None:
        if unit == 1.0:
            return lambda x, y: (np.asarray(x, float), np.asarray(y, float))
        return lambda x, y: (np.asarray(x, float) * unit, np.asarray(y, float) * unit)
    if source.equals(target, ignore_axis_order=True):
        return lambda x, y: (np.asarray(x, float), np.asarray(y, float))
    transform = _transformer(source, target).transform

    @remembered(_few_places, most=256)
    @remembered(_many_places, most=6)
    def moved(x: Floats, y: Floats) -> tuple[Floats, Floats]:
        east, north = transform(np.asarray(x, float), np.asarray(y, float))
        return np.asarray(east, float), np.asarray(north, float)

    def move(x: Floats, y: Floats) -> tuple[Floats, Floats]:
        east, north = moved(x, y)
        return east.copy(), north.copy()

    return move


def _few_places(x: Floats, y: Floats) -> tuple[bytes, bytes] | None:
    """What a move depends on; None for more places than a line has."""
    return _content(x, y) if np.size(x) <= _FEW else None


def _many_places(x: Floats, y: Floats) -> tuple[bytes, bytes] | None:
    return _content(x, y) if _FEW < np.size(x) <= _MANY else None


def _content(x: Floats, y: Floats) -> tuple[bytes, bytes] | None:
    east, north = np.asarray(x, float), np.asarray(y, float)
    return (east.tobytes(), north.tobytes()) if east.ndim == 1 and east.shape == north.shape else None


@functools.lru_cache(maxsize=32)
def _transformer(source: CRS, target: CRS) -> Transformer:
    """Kept, for between datums PROJ weighs up to a hundred ways, a sixth of a second each time."""
    from pyproj import Transformer

    return Transformer.from_crs(source, target, always_xy=True)


def scale_error(crs: CRS, x: float, y: float) -> float:
    """How far lengths measured in a projected CRS at a place are off the ground's, as a ratio.

    Parameters
    ----------
    crs : CRS
        Projected.
    x, y : float
        A place in its coordinates [axis unit].

    Returns
    -------
    float
        Largest of map length over true length less 1, over four directions; inf where undefined [-].

    References
    ----------
    By definition of the point scale factor: 100 m on the map against the geodesic on the ellipsoid (pyproj Geod).
    """
    geod = crs.get_geod()
    if geod is None:
        return float("inf")
    back = mover(crs, crs.geodetic_crs)
    step = 100.0 / crs.axis_info[0].unit_conversion_factor
    a = np.array([0, np.pi / 4, np.pi / 2, 3 * np.pi / 4])
    half_x, half_y = np.cos(a) * step / 2, np.sin(a) * step / 2
    ends = [back(x - half_x, y - half_y), back(x + half_x, y + half_y)]
    if not np.isfinite(np.array(ends)).all():
        return float("inf")
    degree = crs.geodetic_crs.axis_info[0].unit_conversion_factor * 180 / np.pi if crs.geodetic_crs else 1.0
    (lon0, lat0), (lon1, lat1) = ((lon * degree, lat * degree) for lon, lat in ends)
    _, _, true = geod.inv(lon0, lat0, lon1, lat1)
    with np.errstate(divide="ignore"):  # no length at all: a place far beyond the projection
        return float(np.abs(100.0 / np.asarray(true) - 1).max())


def choose_frame(site: CRS | None, x: float, y: float, length_unit: str, where: str = "site.toml, crs") -> Frame:
    """The plan's frame for a lot.

    Parameters
    ----------
    site : CRS or None
        The site's horizontal CRS; None for local coordinates.
    x, y : float
        The middle of the lot in it [its unit].
    length_unit : str
        Of local coordinates, and told apart from the CRS's own unit: 'ft', 'us-ft' or 'm'.
    where : str
        Named in errors.

    Returns
    -------
    Frame
        Local metres; or the site's CRS when it is in metres, runs east and north, and is true to
        0.2 % at the lot; or else a transverse Mercator of scale 1 about the lot on the same datum.

    Raises
    ------
    InputError
        If the lot has no place on the earth in that CRS.
    """
    unit = units.LENGTH[length_unit]
    if site is None:
        name = units.UNIT_NAMES[length_unit]
        metres = "in metres" if length_unit == "m" else f"in {name}, times {unit:.10g} to metres"
        return Frame(
            crs=None,
            site=None,
            unit=unit,
            text="local",
            assumptions=(f"plan frame: local, site coordinates {metres}, no place on the earth",),
        )
    own, notes = axis_unit(site), []
    if own in {"ft", "us-ft"} and length_unit in {"ft", "us-ft"} and own != length_unit:
        notes.append(
            f"coordinates in {said(site.name)} are in {units.UNIT_NAMES[own]}, as that CRS says; length_unit "
            f"{length_unit} in site.toml holds for attributes only (the two feet are 2 parts in a million "
            "apart)"
        )
    error = float("nan")
    if site.is_projected:
        error = scale_error(site, x, y)
        directions = [axis.direction.lower() for axis in site.axis_info[:2]]
        if own == "m" and error < MOST_DISTORTION and sorted(directions) == ["east", "north"]:
            code = site.to_authority(min_confidence=100)
            text = ":".join(code) if code else site.to_wkt()
            notes.insert(
                0,
                (
                    f"plan frame: the site's own crs, {said(site.name)}; it is in metres and its lengths are true "
                    f"to {error * 100:.3f} % at the lot"
                ),
            )
            return Frame(crs=site, site=site, unit=1.0, text=text, assumptions=tuple(notes))
    if site.is_geographic:
        why = "the site's crs is in degrees"
    elif own != "m":
        named = units.UNIT_NAMES[own] if own else site.axis_info[0].unit_name
        why = f"the site's crs is in {named}"
    elif error >= MOST_DISTORTION:
        why = f"lengths in the site's crs are {error * 100:.1f} % off at the lot"
    else:
        why = "the axes of the site's crs do not run east and north"
    local = _about(site, x, y, where)
    notes.insert(
        0,
        (
            "plan frame: a transverse Mercator of scale 1 about the lot, in metres, on the datum of "
            f"{said(site.name)}, because {why}"
        ),
    )
    return Frame(crs=local, site=site, unit=1.0, text=local.to_wkt(), assumptions=tuple(notes))


def _about(site: CRS, x: float, y: float, where: str) -> CRS:
    """A transverse Mercator of scale 1 whose centre is the lot's place, rounded so that small edits keep the frame."""
    from pyproj.crs import ProjectedCRS
    from pyproj.crs.coordinate_operation import TransverseMercatorConversion

    geodetic = site.geodetic_crs
    assert geodetic is not None
    base = geodetic.to_2d()
    degree = base.axis_info[0].unit_conversion_factor * 180 / np.pi
    lon, lat = (x, y) if site.is_geographic else _transformer(site, base).transform(x, y)
    lon, lat = lon * degree, lat * degree
    if not (np.isfinite([lon, lat]).all() and abs(lat) <= 90 and abs(lon) <= 360):
        raise InputError(
            where, f"the lot has no place on the earth in {said(site.name)}", "Check crs and the lot's coordinates."
        )
    lon0, lat0 = (round(round(value / CENTRE_STEP) * CENTRE_STEP, 6) + 0.0 for value in (lon, lat))
    return ProjectedCRS(
        name=f"siteplan lot frame {lat0:.2f} {lon0:.2f}",
        conversion=TransverseMercatorConversion(
            latitude_natural_origin=lat0, longitude_natural_origin=lon0, scale_factor_natural_origin=1.0
        ),
        geodetic_crs=base,
    )


def datum_note(source: CRS, frame: Frame, shown: str, x: float, y: float) -> str | None:
    """A sentence when a file stands on another datum than the plan, naming the way between them.

    Parameters
    ----------
    source : CRS
        The file's horizontal CRS.
    frame : Frame
        The plan's.
    shown : str
        File name.
    x, y : float
        A place in the file's coordinates [its unit].

    Returns
    -------
    str or None
        None when both stand on one datum.
    """
    from pyproj.exceptions import ProjError

    if frame.crs is None:
        return None
    names = [_datum(crs) for crs in (source, frame.crs)]
    if names[0] == names[1]:
        return None
    transformer = _transformer(source, frame.crs)
    transformer.transform(x, y)
    way, accuracy = "", -1.0
    with contextlib.suppress(ProjError):
        used = transformer.get_last_used_operation()
        steps = [
            step for step in used.description.split(" + ") if step != "unknown" and not step.startswith("axis order")
        ]
        way, accuracy = " + ".join(steps), used.accuracy
    sure = f"stated accuracy {accuracy:g} m" if accuracy is not None and accuracy >= 0 else "accuracy not stated"
    named = f' by "{said(way, 160)}"' if way else ""
    return (
        f"{shown} stands on datum {names[0]} and was brought to {names[1]}{named}, {sure}; against the grid its "
        "features may be off by that much"
    )


def _datum(crs: CRS) -> str:
    datum = crs.datum
    name = datum.name if datum is not None else "unknown"
    return said(name.removesuffix(" ensemble").replace("_", " "))
