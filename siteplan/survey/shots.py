"""A site's shots in (point list or LandXML, heights from level notes where given).

Listed points with the evidence out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from siteplan import units
from siteplan.books.practice import MISCLOSED
from siteplan.errors import InputError
from siteplan.survey.files import said
from siteplan.survey.ground_settings import GroundFiles
from siteplan.survey.landxml import read_landxml
from siteplan.survey.pointlist_signs import Clues
from siteplan.survey.pointlists import ListedPoint, read_points


@dataclass(frozen=True, slots=True, kw_only=True)
class ShotList:
    """Shots as listed, in metres. `faces` and `breaklines` number the points from 0; a point list has none."""

    points: tuple[ListedPoint, ...]
    faces: tuple[tuple[int, int, int], ...]
    breaklines: tuple[tuple[int, int], ...]
    evidence: tuple[str, ...]
    paths: tuple[Path, ...]


def read_ground_shots(files: GroundFiles, home: Path, clues: Clues) -> ShotList:
    """The shots that [ground] names.

    Parameters
    ----------
    files : GroundFiles
        With `shots`, and `levels` where rod readings give the heights.
    home : Path
        The resolved site folder, for names in messages.
    clues : Clues
        What else is known of the lot; see `pointlists.read_points`.

    Returns
    -------
    ShotList
        In the order of the list.

    Raises
    ------
    InputError, InputErrors
        If a file cannot be read, the evidence leaves order or unit open, the plan would be mirrored, or the
        level notes do not close.
    """
    assert files.shots is not None
    shown = files.shots.relative_to(home).as_posix()
    if files.shots.suffix.lower() in {".xml", ".landxml"}:
        listed = _from_landxml(files, shown, clues)
    else:
        found = read_points(
            files.shots,
            order=files.order,
            unit=files.unit,
            elevation_unit=files.elevation_unit,
            clues=clues,
            shown=shown,
        )
        evidence = tuple(f"{shown}: {text}" for text in found.evidence)
        listed = ShotList(points=found.points, faces=(), breaklines=(), evidence=evidence, paths=(files.shots,))
    return _with_levels(listed, files, home) if files.levels is not None else listed


def _from_landxml(files: GroundFiles, shown: str, clues: Clues) -> ShotList:
    """The standard's order stands unless the other features speak against it; a person may turn it."""
    assert files.shots is not None
    found = read_landxml(files.shots, shown)
    points, told = found.points, list(found.evidence)
    if files.order == "east-first":
        points = tuple(replace(one, northing=one.easting, easting=one.northing) for one in points)
        told.append(f"{shown}: easting taken before northing, against the standard, as points_order in site.toml says")
    if _covers(points, clues, turned=True) and not _covers(points, clues, turned=False):
        other = "east-first" if files.order != "east-first" else "north-first"
        raise InputError(
            shown,
            (
                "is mirrored: as read its points lie away from the other features, with the two coordinates "
                "changed over they lie about them"
            ),
            f'Say points_order = "{other}" under [ground] if so; else correct the features.',
        )
    return ShotList(
        points=points, faces=found.faces, breaklines=found.breaklines, evidence=tuple(told), paths=(files.shots,)
    )


def _covers(points: Sequence[ListedPoint], clues: Clues, *, turned: bool) -> bool:
    """Whether the middle of the other features lies within the points' extent."""
    if not clues.boxes:
        return True
    extents = np.array(clues.boxes)
    x, y = (extents[:, :2].min(axis=0) + extents[:, 2:].max(axis=0)) / 2
    xy = np.array([(p.northing, p.easting) if turned else (p.easting, p.northing) for p in points])
    (west, south), (east, north) = xy.min(axis=0), xy.max(axis=0)
    return bool(west <= x <= east and south <= y <= north)


def _with_levels(listed: ShotList, files: GroundFiles, home: Path) -> ShotList:
    """Heights from the level notes for points of the same name; a level rules over a shot's own height."""
    from siteplan.survey.levels import reduce_book
    from siteplan.survey.levels_book import point_key, read_level_book

    assert files.levels is not None
    shown = files.levels.relative_to(home).as_posix()
    book = read_level_book(files.levels, shown=shown)
    result = reduce_book(book, rod=files.rod, benchmarks=dict(files.benchmarks))
    if not result.accepted:
        also = f"; {result.suspect.text}" if result.suspect is not None and result.suspect.text != result.reason else ""
        raise InputError(
            shown,
            f"is refused: {result.reason}{also}",
            "Correct the notes, or level it again; try siteplan levels on it.",
        )
    heights = {point_key(level.point): level.elevation for level in result.points}
    doubts = {point_key(level.point): level.doubt for level in result.points}
    if len(heights) < len(result.points):
        twice = sorted(
            {
                level.point
                for level in result.points
                if sum(point_key(o.point) == point_key(level.point) for o in result.points) > 1
            }
        )
        raise InputError(
            shown,
            f"has several points called {said(twice[0])}",
            "Give each point of the notes the number it has in the shots.",
        )
    points, used, differ = [], set(), []
    for point in listed.points:
        key = point_key(point.number)
        if key not in heights:
            points.append(point)
            continue
        used.add(key)
        if point.elevation is not None and abs(point.elevation - heights[key]) > MISCLOSED:
            differ.append(f"{said(point.number)} ({units.length_text(heights[key] - point.elevation, 'm', 2)})")
        points.append(replace(point, elevation=heights[key], doubt=doubts[key]))
    if not used:
        raise InputError(
            shown,
            f"shares no point with {files.shots.name if files.shots else 'the shots'}",
            "Call the points by the same numbers in both.",
        )
    notes = [
        (
            f"{shown}: {len(used)} of {len(result.points)} levelled points stand in the point list and give its "
            f"heights, from {result.setups} set-ups"
        )
        + (
            ""
            if result.misclosure is None
            else (
                f", misclosure {units.length_text(result.misclosure, 'm', 3)}, allowed "
                f"{units.length_text(result.allowed, 'm', 3)}"
            )
        ),
        (
            f"{shown}: the rod was read to {units.length_text(result.resolution, 'm', 3)}, which with the set-ups "
            f"makes up to {units.length_text(max(doubts.values()), 'm', 3)} of doubt in a height (one standard "
            "deviation)"
        ),
        *(f"{shown}: {note}" for note in result.notes),
    ]
    if differ:
        notes.append(f"{shown}: levels differ from the point list at {', '.join(differ[:8])}; the levels rule")
    return replace(
        listed, points=tuple(points), evidence=(*listed.evidence, *notes), paths=(*listed.paths, files.levels)
    )
