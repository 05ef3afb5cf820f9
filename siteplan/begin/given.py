"""Files that a site is begun from in; what each of them proves of system, units and order, and what stays open, out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from siteplan import units
from siteplan.begin.corners import CornerOutline, corner_outlines
from siteplan.deeds.calls import read_deed
from siteplan.errors import InputError, NotGiven, raise_gathered, read_or_gather
from siteplan.survey.deed_file import DEED_ENDING
from siteplan.survey.files import said, text_of
from siteplan.survey.frame import axis_unit, crs_of, horizontal, quiet
from siteplan.survey.grids import Raster, grid_says, read_grid
from siteplan.survey.landxml import read_landxml
from siteplan.survey.pointlist_signs import Clues
from siteplan.survey.pointlists import PointList, read_points
from siteplan.survey.records import LON_LAT, VectorFile
from siteplan.survey.vectors import read_vectors
from siteplan.underlay.image_size import image_size
from siteplan.underlay.page_image import page_png, pages_can_be_read

if TYPE_CHECKING:
    from pyproj import CRS

_LANDXML = (".xml", ".landxml")
_LENGTHS = frozenset(
    (
        "roof_area",
        "drained_area",
        "depth",
        "radius",
        "curb_height",
        "hole_spacing",
        "pit_diameter",
        "pit_depth",
        "pit_rise",
    )
)  # attributes that length_unit decides
Extent = tuple[str, tuple[float, float, float, float]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Given:
    """What a site is begun from, as a person names it; all optional.

    Attributes
    ----------
    points, grid, tin, plat, deed : Path or None
        Files.
    features : tuple of Path
        Vector files.
    name, crs, unit, elevation_unit, order : str or None
        Answers: the site's name, its system, unit of lengths, of elevations, 'north-first' or 'east-first'.
    page : int
        Of a plat that is a PDF, from 1.
    """

    points: Path | None = None
    grid: Path | None = None
    tin: Path | None = None
    plat: Path | None = None
    deed: Path | None = None
    features: tuple[Path, ...] = ()
    name: str | None = None
    crs: str | None = None
    unit: str | None = None
    elevation_unit: str | None = None
    order: str | None = None
    page: int = 1


class Proof(NamedTuple):
    """A value of a key and what proves it, one sentence.

    Also the file, where it was asked for by an option of its own.
    """

    value: str
    why: str
    file: Path | None = None


class Copy(NamedTuple):
    """A file as it is copied into the folder: under which name, from where."""

    name: str
    path: Path


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Found:
    """What the files prove.

    Attributes
    ----------
    copies : tuple of Copy
        Every file with what belongs to it, its first name first.
    proofs : mapping of str to tuple of Proof
        By key: crs, coordinates (unit of northing and easting), elevation_unit, points_order.
    questions : mapping of str to NotGiven
        By key: what a list of points leaves open.
    attributes : frozenset of str
        Of the features.
    extents : tuple of (str, (west, south, east, north))
        Of the grid and the features that name a system: its code, and where they lie in it [its unit].
    places : tuple of (float, float)
        Points of the list as it has them, either order [its unit].
    page_image : bytes or None
        The page of a plat that is a PDF, as a PNG, where it can be made.
    outlines : tuple of CornerOutline
        By corners that the list of points names, as it has them; none while its order is open.
    """

    copies: Mapping[str, tuple[Copy, ...]] = field(default_factory=dict)
    proofs: Mapping[str, tuple[Proof, ...]] = field(default_factory=dict)
    questions: Mapping[str, NotGiven] = field(default_factory=dict)
    attributes: frozenset[str] = frozenset()
    extents: tuple[Extent, ...] = ()
    places: tuple[tuple[float, float], ...] = ()
    page_image: bytes | None = None
    outlines: tuple[CornerOutline, ...] = ()

    @property
    def lengths_written(self) -> bool:
        """Whether a feature bears a figure that length_unit decides."""
        return bool(self.attributes & _LENGTHS)


def found_in(given: Given) -> Found:
    """Read every file that a site is begun from, as `plan` would.

    Parameters
    ----------
    given : Given
        What a person named.

    Returns
    -------
    Found
        Nothing in it is guessed: a proof is what a file says of itself, or unanimous evidence of `survey`.

    Raises
    ------
    InputError, InputErrors
        For what cannot be read; all files' faults together.
    """
    faults: list[InputError] = []
    copies: dict[str, tuple[Copy, ...]] = {}
    proofs: dict[str, list[Proof]] = {"crs": [], "coordinates": [], "elevation_unit": [], "points_order": []}
    questions: dict[str, NotGiven] = {}
    extents: list[Extent] = []
    places: list[tuple[float, float]] = []
    outlines: list[CornerOutline] = []
    page_image: bytes | None = None
    for key in ("points", "grid", "tin", "plat", "deed"):
        _there(getattr(given, key), key, faults)
    for path in given.features:
        _there(path, "features", faults)
    with quiet():
        if given.grid is not None and given.grid.is_file():
            read_or_gather(lambda: _grid(given, copies, proofs, extents), faults)
        for key, listed in (("points", given.points), ("tin", given.tin)):
            if listed is not None and listed.is_file():
                landxml = key == "tin" or listed.suffix.lower() in _LANDXML
                read = _landxml if landxml else _points
                places += (
                    read_or_gather(partial(read, listed, key, given, copies, proofs, questions, outlines), faults) or []
                )
        vectors = [read_or_gather(partial(_vectors, path, given), faults) for path in given.features if path.is_file()]
        if given.deed is not None and given.deed.is_file():
            read_or_gather(lambda: _deed(given.deed, copies), faults)
        if given.plat is not None and given.plat.is_file():
            page_image = read_or_gather(lambda: _plat(given, copies), faults)
    raise_gathered(faults)
    files = [one for one in vectors if one is not None]
    _features(files, given.features, copies, proofs, extents)
    return Found(
        copies=copies,
        proofs={key: tuple(rows) for key, rows in proofs.items() if rows},
        questions=questions,
        extents=tuple(extents),
        places=tuple(places),
        page_image=page_image,
        outlines=tuple(outlines),
        attributes=frozenset(str(key) for file in files for record in file.records for key in record.properties),
    )


def _there(path: Path | None, option: str, faults: list[InputError]) -> None:
    if path is not None and not path.is_file():
        what = "is a folder" if path.is_dir() else "is no file" if path.exists() else "no such file"
        faults.append(InputError(f"--{option} {said(path, 200)}", what, "Check the name."))


def _grid(
    given: Given, copies: dict[str, tuple[Copy, ...]], proofs: dict[str, list[Proof]], extents: list[Extent]
) -> None:
    assert given.grid is not None
    shown = said(given.grid.name)
    crs, heights_in = grid_says(given.grid, shown)
    named = next(iter(heights_in), None)
    unit = given.elevation_unit or (named[0] if named else "m")
    read = read_grid(
        given.grid, shown, site_crs=crs_of(LON_LAT, shown), elevation_unit=unit, confirmed=not given.elevation_unit
    )
    copies["grid"] = _copies("ground", given.grid, read.paths)
    if crs is not None:
        extents.append((_code(crs), _bounds(read)))
        proofs["crs"].append(Proof(_code(crs), f"the grid {shown} is in {said(crs.name)}"))
    for word, why in heights_in:
        proofs["elevation_unit"].append(Proof(word, f"{shown}: {why}"))


def _bounds(raster: Raster) -> tuple[float, float, float, float]:
    a, b, c, d, e, f = raster.transform
    rows, cols = raster.z.shape
    x = [a * col + b * row + c for col in (0, cols) for row in (0, rows)]
    y = [d * col + e * row + f for col in (0, cols) for row in (0, rows)]
    return min(x), min(y), max(x), max(y)


def _code(crs: CRS) -> str:
    code = crs.to_authority(min_confidence=100)
    return ":".join(code) if code else str(crs.to_wkt())


def _points(
    path: Path,
    key: str,
    given: Given,
    copies: dict[str, tuple[Copy, ...]],
    proofs: dict[str, list[Proof]],
    questions: dict[str, NotGiven],
    outlines: list[CornerOutline],
) -> list[tuple[float, float]]:
    shown = said(path.name)
    answers: dict[str, str | None] = {"order": given.order, "unit": None, "elevation_unit": None}
    listed: PointList | None = None
    plane = _plane_unit(given)
    while listed is None:
        try:
            listed = read_points(
                path,
                order=answers["order"],
                unit=answers["unit"],
                elevation_unit=answers["elevation_unit"],
                clues=Clues(length_unit=plane, elevation_unit=given.elevation_unit),
                shown=shown,
            )
        except NotGiven as question:
            asked = question.key.removeprefix("points_")
            if answers.get(asked) is not None or asked not in answers:
                raise
            questions[question.key] = question
            answers[asked] = "north-first" if asked == "order" else "m"  # to read on, never kept
    copies[key] = _copies("shots", path, (path,))
    kinds = (
        ("coordinates", "points_unit", listed.unit),
        ("elevation_unit", "points_elevation_unit", listed.elevation_unit),
    )
    for (name, kind, value), why in zip(kinds, listed.of_units, strict=False):
        if kind not in questions and "points_unit" not in questions:
            proofs[name].append(Proof(value, f"{shown}: {why}", path))
    if "points_order" not in questions:
        proofs["points_order"].append(Proof(listed.order, f"{shown}: {listed.of_order}", path))
    unit = units.LENGTH[listed.unit]
    if "points_order" not in questions:
        outlines += corner_outlines(listed.points, unit)
    return [(one.easting / unit, one.northing / unit) for one in listed.points]


def _plane_unit(given: Given) -> str | None:
    """The unit that answers declare for coordinates: a system's own; that of lengths where no system is named."""
    if given.crs is None or given.crs.lower() == "local":
        return given.unit
    return axis_unit(horizontal(crs_of(given.crs, "--crs"), "--crs"))


def _landxml(
    path: Path,
    key: str,
    given: Given,
    copies: dict[str, tuple[Copy, ...]],
    proofs: dict[str, list[Proof]],
    questions: dict[str, NotGiven],
    outlines: list[CornerOutline],
) -> list[tuple[float, float]]:
    del given, questions, outlines  # the file names its units, the standard its order
    shown = said(path.name)
    read = read_landxml(path, shown)
    copies[key] = (Copy("surface.xml" if key == "tin" else "shots.xml", path),)
    proofs["coordinates"].append(Proof(read.unit, f"{shown} names its unit"))
    proofs["elevation_unit"].append(Proof(read.elevation_unit, f"{shown} names its unit of elevations"))
    unit = units.LENGTH[read.unit]
    return [(one.easting / unit, one.northing / unit) for one in read.points]


def _vectors(path: Path, given: Given) -> VectorFile:
    return read_vectors(path, said(path.name), local=given.crs == "local", metres=1.0)


def _features(
    files: Sequence[VectorFile],
    paths: Sequence[Path],
    copies: dict[str, tuple[Copy, ...]],
    proofs: dict[str, list[Proof]],
    extents: list[Extent],
) -> None:
    rows: list[Copy] = []
    for number, (file, path) in enumerate(zip(files, paths, strict=True), 1):
        stem = "features" if len(files) == 1 else f"features-{number}"
        rows += _copies(stem, path, file.paths)
        if file.crs is not None and axis_unit(file.crs) is not None:
            boxes = [record.geometry.bounds for record in file.records if record.geometry is not None]
            if boxes:
                west, south, east, north = zip(*boxes, strict=True)
                extents.append((_code(file.crs), (min(west), min(south), max(east), max(north))))
            proofs["crs"].append(Proof(_code(file.crs), f"the features {file.file} are in {said(file.crs.name)}"))
    if rows:
        copies["features"] = tuple(rows)


def _deed(path: Path | None, copies: dict[str, tuple[Copy, ...]]) -> None:
    assert path is not None
    read_deed(text_of(path, said(path.name)), said(path.name), unit="m")
    copies["deed"] = (Copy(f"lot{DEED_ENDING}", path),)


def _plat(given: Given, copies: dict[str, tuple[Copy, ...]]) -> bytes | None:
    path = given.plat
    assert path is not None
    kind = image_size(path, said(path.name)).kind
    copies["plat"] = (Copy({"png": "plat.png", "jpeg": "plat.jpg", "pdf": "plat.pdf"}[kind], path),)
    if kind != "pdf" or not pages_can_be_read():
        return None
    return page_png(path.read_bytes(), given.page, said(path.name))


def _copies(stem: str, path: Path, paths: Sequence[Path]) -> tuple[Copy, ...]:
    """A file and what belongs to it under names of our own: a stranger's name is never a path here."""
    first = f"{stem}{path.suffix.lower()}"
    found = {first: path}
    for other in paths:
        if other.resolve() == path.resolve():
            continue
        ending = other.name[len(path.name) :] if other.name.startswith(path.name) else other.suffix.lower()
        head = first if other.name.startswith(path.name) else stem
        if ending and all(c.isalnum() or c == "." for c in ending):
            found.setdefault(f"{head}{ending}", other)
    return tuple(Copy(name, one) for name, one in found.items())
