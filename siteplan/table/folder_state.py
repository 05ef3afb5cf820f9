"""A site folder as the drawing table holds it in.

Its texts with their digests, the features and heights on one plane out.

Read leniently: a folder that `siteplan plan` would refuse yet, for want of a lot or of ground, can be drawn on.
"""

from __future__ import annotations

import hashlib
import os
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from siteplan import units
from siteplan.books.kinds import SHAPE_OF
from siteplan.errors import InputError, SiteplanError
from siteplan.survey.files import TEXT_LIMIT, said
from siteplan.survey.settings import SITE_FILE
from siteplan.table.drawn_file import DrawnFile, new_file, places_of, taken_apart
from siteplan.table.heights_file import HEIGHTS_FILE, TypedHeight, heights_in

if TYPE_CHECKING:
    from pyproj import CRS

    from siteplan.survey.frame import Move

DRAWING_FILE = "drawn.geojson"
FIRST_FILE = "features.geojson"


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetOfPaper:
    """The plane that is drawn on: the site's own coordinates, or metres about the lot where those are degrees.

    Attributes
    ----------
    crs : CRS or None
        None for plain site coordinates.
    metres : float
        Metres in one unit of the plane.
    told : str
        'local', an authority code or a name.
    """

    crs: CRS | None
    metres: float
    told: str


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldFile:
    """One file of features.

    Its parts where it can be written to, and how its coordinates come to the plane and back.
    """

    name: str
    drawn: DrawnFile | None  # None: shown, and not written to from here
    onto: Move
    back: Move
    shown: tuple[Mapping[str, Any], ...] = ()  # features of a file that is not written to


@dataclass(frozen=True, slots=True, kw_only=True)
class FolderState:
    """What the table holds of a folder."""

    folder: Path
    texts: Mapping[str, str]  # of the files that may be written, as read; '' where there is none yet
    digests: Mapping[str, str | None]  # of every file named; None: not there
    settings: Mapping[str, Any]  # site.toml
    paper: SheetOfPaper
    files: tuple[HeldFile, ...]
    target: str  # the file that new features go to
    heights: tuple[TypedHeight, ...]
    heights_file: str | None  # where heights typed go; None: the site's list has a form that is not written to
    troubles: tuple[str, ...] = field(default=())


def digest(path: Path) -> str | None:
    """Digest of a file's bytes; None where there is no such file.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    str or None
        SHA-256 in hex.
    """
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except (FileNotFoundError, IsADirectoryError, NotADirectoryError):
        return None


def read_folder(folder: Path) -> FolderState:
    """A site folder as it lies on the disk.

    Parameters
    ----------
    folder : Path
        With a site.toml.

    Returns
    -------
    FolderState
        What cannot be read of it is left alone and told in `troubles`.

    Raises
    ------
    InputError
        If there is no folder, no site.toml, or it is no TOML.
    """
    folder = folder.resolve()
    if not folder.is_dir():
        raise InputError(said(folder, 200), "no such folder", "siteplan new makes one.")
    text = _text_of(folder / SITE_FILE)
    if text is None:
        raise InputError(said(folder, 200), f"holds no {SITE_FILE}", "siteplan new makes a site folder.")
    try:
        settings = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        raise InputError(SITE_FILE, f"is no TOML: {said(error, 160)}", "Correct that line.") from error
    troubles: list[str] = []
    crs = site_system(settings, troubles)
    texts: dict[str, str] = {SITE_FILE: text}
    digests: dict[str, str | None] = {SITE_FILE: digest(folder / SITE_FILE)}
    held: list[HeldFile] = []
    paper = _paper(settings, crs, folder)
    for name in named_files(settings):
        try:
            path = _inside(folder, name)
            one, said_text = held_file(path, name, paper, crs)
        except SiteplanError as error:
            troubles.append(str(error))
            continue
        held.append(one)
        digests[name] = digest(path)
        if said_text is not None:
            texts[name] = said_text
    target = next((one.name for one in held if one.drawn is not None), None)
    if target is None:
        target = FIRST_FILE if not held and not (folder / FIRST_FILE).exists() else DRAWING_FILE
        held.append(_empty(target, paper))
        texts[target], digests[target] = "", digest(folder / target)
    heights_file, heights = _heights(folder, settings, paper, texts, digests, troubles)
    for key in ("grid", "levels"):
        other = _section(settings, "ground").get(key)
        if isinstance(other, str) and other:
            digests[other] = _quiet_digest(folder, other)
    return FolderState(
        folder=folder,
        texts=texts,
        digests=digests,
        settings=settings,
        paper=paper,
        files=tuple(held),
        target=target,
        heights=heights,
        heights_file=heights_file,
        troubles=tuple(troubles),
    )


def _section(settings: Mapping[str, Any], name: str) -> Mapping[str, Any]:
    found = settings.get(name)
    return found if isinstance(found, Mapping) else {}


def named_files(settings: Mapping[str, Any]) -> list[str]:
    """Files of features that a site names.

    Parameters
    ----------
    settings : mapping
        site.toml.

    Returns
    -------
    list of str
        Each once.
    """
    files = _section(settings, "features").get("files")
    return list(dict.fromkeys(one for one in files if isinstance(one, str) and one)) if isinstance(files, list) else []


def _inside(folder: Path, name: str) -> Path:
    try:
        path = (folder / name).resolve()
    except (OSError, RuntimeError, ValueError):  # no path at all, or links in a circle
        path = folder
    if folder not in path.parents:
        raise InputError(said(name), "lies outside the site folder", "Copy it into the folder.")
    return path


def _quiet_digest(folder: Path, name: str) -> str | None:
    try:
        return digest(_inside(folder, name))
    except (InputError, OSError):
        return None


def _text_of(path: Path) -> str | None:
    """Text of a file, its line ends as they stand; None where there is none."""
    try:
        data = path.read_bytes()
    except FileNotFoundError:
        return None
    except OSError as error:
        raise InputError(path.name, f"cannot be read ({os.strerror(error.errno or 0)})", "Check its rights.") from error
    if len(data) > TEXT_LIMIT:
        raise InputError(path.name, "is too large", "Keep what belongs to this lot.")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(path.name, "is no UTF-8 text", "Save it again as UTF-8.") from error


def site_system(settings: Mapping[str, Any], troubles: list[str]) -> CRS | None:
    """The system of a site.

    Parameters
    ----------
    settings : mapping
        site.toml.
    troubles : list of str
        Grows where it names one that nobody knows.

    Returns
    -------
    CRS or None
        None for plain site coordinates.
    """
    from siteplan.survey.frame import crs_of, horizontal

    text = settings.get("crs")
    if not isinstance(text, str) or not text.strip() or text.strip().lower() == "local":
        return None
    try:
        return horizontal(crs_of(text, f"{SITE_FILE}, crs"), f"{SITE_FILE}, crs")
    except InputError as error:
        troubles.append(str(error))
        return None


def _paper(settings: Mapping[str, Any], crs: CRS | None, folder: Path) -> SheetOfPaper:
    from siteplan.survey.frame import axis_unit, choose_frame

    unit = settings.get("length_unit")
    if crs is None:
        return SheetOfPaper(crs=None, metres=units.LENGTH.get(str(unit), 1.0), told="local")
    if crs.is_geographic:
        place = _first_place(settings, folder)
        frame = choose_frame(crs, *place, str(unit) if unit in units.SITE_UNITS else "m")
        return SheetOfPaper(crs=frame.crs, metres=1.0, told=said(frame.text, 60))
    axis = axis_unit(crs)
    code = crs.to_authority(min_confidence=100)
    return SheetOfPaper(
        crs=crs, metres=units.LENGTH[axis] if axis else 1.0, told=":".join(code) if code else said(crs.name, 60)
    )


def _first_place(settings: Mapping[str, Any], folder: Path) -> tuple[float, float]:
    for name in named_files(settings):
        try:
            text = _text_of(_inside(folder, name))
            for item in taken_apart(text or "", name).items:
                places = places_of(item.value)
                if places:
                    return places[1][0][0], places[1][0][1]
        except InputError:
            continue
    return 0.0, 0.0


def held_file(path: Path, name: str, paper: SheetOfPaper, site_crs: CRS | None) -> tuple[HeldFile, str | None]:
    """One file of features.

    Parameters
    ----------
    path : Path
        Inside the folder.
    name : str
        As messages have it.
    paper : SheetOfPaper
        What is drawn on.
    site_crs : CRS or None
        The site's; None for plain site coordinates.

    Returns
    -------
    tuple of HeldFile and str or None
        With its text, where it can be written to.

    Raises
    ------
    InputError
        If it cannot be read.
    """
    from siteplan.survey.frame import crs_of, horizontal, mover

    if path.suffix.lower() in {".geojson", ".json"}:
        text = _text_of(path)
        if text is None or not text.strip():
            return _empty(name, paper), text or ""
        drawn = taken_apart(text, name)
        own = site_crs
        member = None if drawn.crs is None else drawn.crs.get("properties")
        if site_crs is not None and isinstance(member, Mapping):
            own = horizontal(crs_of(str(member.get("name")), f"{name}, crs"), f"{name}, crs")
        elif site_crs is not None and _degrees(drawn):
            own = crs_of("EPSG:4326", name)
        onto, back = mover(own, paper.crs), mover(paper.crs, own)
        return HeldFile(name=name, drawn=drawn, onto=onto, back=back), text
    from siteplan.survey.vectors import read_vectors

    read = read_vectors(path, name, local=site_crs is None)
    own = read.crs or site_crs
    shown = tuple(
        {
            "type": "Feature",
            "properties": {
                key: value for key, value in record.properties.items() if isinstance(value, str | int | float)
            },
            "geometry": record.geometry.__geo_interface__,
        }
        for record in read.records
        if record.geometry is not None
    )
    return HeldFile(name=name, drawn=None, onto=mover(own, paper.crs), back=mover(paper.crs, own), shown=shown), None


def _degrees(drawn: DrawnFile) -> bool:
    places = [xy for item in drawn.items if (found := places_of(item.value)) for xy in found[1]]
    return bool(places) and all(abs(x) <= 180 and abs(y) <= 90 for x, y in places)


def _empty(name: str, paper: SheetOfPaper) -> HeldFile:
    from siteplan.survey.frame import mover

    same = mover(None, None)
    crs = None
    if paper.crs is not None:
        code = paper.crs.to_authority(min_confidence=100)
        crs = f"urn:ogc:def:crs:{code[0]}::{code[1]}" if code else str(paper.crs.to_wkt())
    return HeldFile(name=name, drawn=new_file(crs), onto=same, back=same)


def _heights(
    folder: Path,
    settings: Mapping[str, Any],
    paper: SheetOfPaper,
    texts: dict[str, str],
    digests: dict[str, str | None],
    troubles: list[str],
) -> tuple[str | None, tuple[TypedHeight, ...]]:
    """Where heights typed go, and those that stand there."""
    if paper.crs is not None and paper.told != "local" and paper.crs.is_geographic:
        return None, ()
    name = _section(settings, "ground").get("shots")
    if not isinstance(name, str) or not name:
        name = HEIGHTS_FILE if not (folder / HEIGHTS_FILE).exists() else "heights.csv"
        texts[name], digests[name] = _text_of(folder / name) or "", digest(folder / name)
        return name, heights_in(texts[name]) or ()
    try:
        path = _inside(folder, name)
        digests[name] = digest(path)
        text = _text_of(path) if path.suffix.lower() in {".csv", ".txt"} else None
    except InputError as error:
        troubles.append(str(error))
        return None, ()
    if digests[name] is None:
        texts[name] = ""
        return name, ()
    found = None if text is None else heights_in(text)
    if found is None or text is None:
        return None, ()
    texts[name] = text
    return name, found


def on_paper_places(places: Sequence[Sequence[float]], move: Move) -> list[list[float]] | None:
    """Places taken to the plane or back.

    Parameters
    ----------
    places : sequence of pairs
        Coordinates.
    move : callable
        Of a `HeldFile`.

    Returns
    -------
    list or None
        None where one has no image.
    """
    xy = np.array([[one[0], one[1]] for one in places], float)
    x, y = move(xy[:, 0], xy[:, 1])
    if not (np.isfinite(x).all() and np.isfinite(y).all()):
        return None
    return [[a, b] for a, b in zip(x.tolist(), y.tolist(), strict=True)]


def known_kind(value: Mapping[str, Any]) -> str | None:
    """Kind of a feature, where it is one that is drawn, and drawn as that kind is.

    Parameters
    ----------
    value : mapping
        A GeoJSON feature.

    Returns
    -------
    str or None
    """
    properties = value.get("properties")
    kind = properties.get("kind") if isinstance(properties, Mapping) else None
    return kind if isinstance(kind, str) and kind in SHAPE_OF else None
