"""A site with a source or an outlet moved in.

What each pair has to spare, the line that would be laid, and where else water could come out.

It is the planner's own arithmetic, on the usual net while a hand moves and on the fine one at rest: the page has none
of its own.
"""

from __future__ import annotations

import math
import threading
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from siteplan import units
from siteplan.books.kinds import OUTLET_KINDS, SOURCE_KINDS, Kind
from siteplan.books.practice import NEAREST_GROUND
from siteplan.errors import InputError, InputErrors, SiteplanError
from siteplan.site import Feature, Site, ground_near, heights
from siteplan.table.checked import RefusedSettingError
from siteplan.table.folder_state import SheetOfPaper
from siteplan.table.own_answers import own_told
from siteplan.values.forecasts import LowSpot
from siteplan.values.laid_pipe import Pipe
from siteplan.values.water_ends import Outlet, Source

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from siteplan.survey.frame import Move
    from siteplan.table.session import TableSession
    from siteplan.yard.trees import Tree, YardScene

_MOST_DOTS = 2600  # of the layer of reach
_MOST_PAIRS = 200
_ROWS = 160  # places of a profile
_MOST_BENDS = 400

PlaceOf = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SurveyedFolder:
    """A folder read once for many answers. `fault` stands where it cannot be planned yet."""

    version: int
    site: Site | None
    spots: tuple[LowSpot, ...]
    pipe: Pipe | None
    onto: Move | None  # from the plan's frame to the paper
    into: Move | None
    fault: InputError | InputErrors | None


class Answering:
    """Answers for one session, one at a time.

    Parameters
    ----------
    session : TableSession
        The site.
    """

    def __init__(self, session: TableSession) -> None:
        self._session = session
        self._lock = threading.Lock()
        self._read: SurveyedFolder | None = None
        self._base: tuple[int, YardScene] | None = None  # the saved site's yard, by its version

    def surveyed(self) -> SurveyedFolder:
        """The folder as it is saved, read once a version.

        Returns
        -------
        SurveyedFolder
        """
        version = self._session.version
        if self._read is None or self._read.version != version:
            self._read = _surveyed(self._session, version)
        return self._read

    def answer(self, body: Mapping[str, Any]) -> dict[str, Any]:
        """What a place has to spare.

        Parameters
        ----------
        body : mapping
            moved: list of {id, xy} on the paper, not saved yet; about: id of the source or outlet asked about, or null;
            quick: true while a hand moves.

        Returns
        -------
        dict
            faults (what keeps the site from being planned), or pairs, each with its figures; the lines of the best
            ones; reach.
        """
        with self._lock:
            held = self.surveyed()
            if held.site is None or held.pipe is None or held.onto is None or held.into is None:
                return {
                    "version": held.version,
                    "faults": told_faults(held.fault),
                    "pairs": [],
                    "reach": None,
                    "own": [],
                }
            numbers = self._session.numbers()
            moved = _moved(body.get("moved"), numbers, held.into)
            about = numbers.get(str(body.get("about")))
            try:
                site = site_moved(held.site, moved)
                quick = bool(body.get("quick"))
                scene = self._scene(held, site, moved) if quick and site.sources else None
                found = _answer(site, held, about, quick=quick, scene=scene)
            except InputError as fault:
                return {"version": held.version, "faults": told_faults(fault), "pairs": [], "reach": None, "own": []}
            return {"version": held.version, "faults": [], **found}

    def _scene(
        self, held: SurveyedFolder, site: Site, moved: Mapping[tuple[str, int], Sequence[PlaceOf]]
    ) -> YardScene | None:
        """The yard with what moved, of which what did not is not worked out again; None where it all must be.

        A source on the lot changes its own reach alone, and an outlet on the lot its own last runs: the ground that
        lines may run on is the same. An outlet beyond the lot line opens another strip of street.
        """
        from siteplan.routes.outlets import named_outlets
        from siteplan.yard.groups import yard_scene

        assert held.site is not None
        assert held.pipe is not None
        features = {(one.file, one.number): one for one in held.site.features}
        points = [features[key] for key in moved if key in features]
        if not all(one.kind in {*SOURCE_KINDS, *OUTLET_KINDS} for one in points):
            return None
        if self._base is None or self._base[0] != held.version:
            named = named_outlets(held.site)
            self._base = held.version, yard_scene(held.site, named, held.spots, held.pipe, held.site.laying.prices)
        return _scene_moved(self._base[1], site, {one.name for one in points})


def _scene_moved(base: YardScene, site: Site, names: Collection[str]) -> YardScene | None:
    import shapely

    from siteplan.routes.ends import end_of, start_of
    from siteplan.routes.outlets import named_outlets
    from siteplan.yard.candidates import swept

    outlets = named_outlets(site)
    before = {one.id: one for one in named_outlets(base.site)}
    starts, reaches, ends = dict(base.starts), dict(base.reaches), dict(base.ends)
    lot = site.lot
    for outlet in outlets:
        if outlet.name in names:
            was = before[outlet.id]
            if not all(shapely.contains_xy(lot, one.x, one.y) for one in (outlet, was)):
                return None
            ends[outlet.id] = end_of(site, base.yard, outlet, base.terms, base.prices)
    for source in site.sources:
        if source.name in names:
            starts[source.id] = start_of(site, base.yard, source, base.terms, base.prices)
            reaches[source.id] = swept(base.yard, starts[source.id], base.terms)
    return replace(base, site=site, starts=starts, reaches=reaches, ends=ends)


def told_faults(fault: SiteplanError | None) -> list[dict[str, str]]:
    """Faults as the page shows them.

    Parameters
    ----------
    fault : SiteplanError or None
        One or several.

    Returns
    -------
    list of dict
        where, what, mend; key, of a setting that is refused.
    """
    several = fault.faults if isinstance(fault, InputErrors) else (fault,) if isinstance(fault, InputError) else ()
    return [
        {"where": one.where, "what": one.what, "mend": one.mend}
        | ({"key": one.key} if isinstance(one, RefusedSettingError) else {})
        for one in several
    ]


def _surveyed(session: TableSession, version: int) -> SurveyedFolder:
    from siteplan.ground.hollows import low_spots
    from siteplan.survey.gathered import site_or_every_fault
    from siteplan.waterworks.sizing import on_offer

    try:
        site = site_or_every_fault(session.folder)
    except (InputError, InputErrors) as fault:
        return SurveyedFolder(version=version, site=None, spots=(), pipe=None, onto=None, into=None, fault=fault)
    into, onto = frame_moves(session.state.paper, site)
    return SurveyedFolder(
        version=version,
        site=site,
        spots=low_spots(site),
        pipe=on_offer(site.sizing)[0],
        onto=onto,
        into=into,
        fault=None,
    )


def frame_moves(paper: SheetOfPaper, site: Site) -> tuple[Move, Move]:
    """What takes places of the paper to the plan's frame, and back.

    Parameters
    ----------
    paper : SheetOfPaper
        What is drawn on.
    site : Site
        As surveyed.

    Returns
    -------
    tuple of callable
        Arrays of shape (n,) in and out.
    """
    from siteplan.survey.frame import crs_of, mover

    if paper.crs is None or site.crs == "local":
        scale = paper.metres
        return mover(None, None, scale), lambda x, y: (np.asarray(x) / scale, np.asarray(y) / scale)
    frame = crs_of(site.crs, "the plan's frame")
    return mover(paper.crs, frame), mover(frame, paper.crs)


def _moved(listed: Any, numbers: Mapping[str, tuple[str, int]], into: Move) -> dict[tuple[str, int], list[PlaceOf]]:
    found: dict[tuple[str, int], list[PlaceOf]] = {}
    for one in listed if isinstance(listed, list) else ():
        key = numbers.get(str(one.get("id"))) if isinstance(one, Mapping) else None
        xy = one.get("xy") if isinstance(one, Mapping) else None
        if key is None or not isinstance(xy, list) or not 1 <= len(xy) <= _MOST_BENDS:
            continue
        if not all(isinstance(p, list) and len(p) == 2 and all(map(_finite, p)) for p in xy):
            continue
        x, y = into(np.array([float(p[0]) for p in xy]), np.array([float(p[1]) for p in xy]))
        if np.isfinite(x).all() and np.isfinite(y).all():
            found[key] = [(float(a), float(b)) for a, b in zip(x, y, strict=True)]
    return found


def _finite(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)


def site_moved(site: Site, moved: Mapping[tuple[str, int], Sequence[PlaceOf]]) -> Site:
    """A site with some of its points, or the bends of its drawn lines, elsewhere.

    Parameters
    ----------
    site : Site
        As surveyed.
    moved : mapping
        File and number of a feature to its new places [m].

    Returns
    -------
    Site
        With the ground under moved sources and outlets.

    Raises
    ------
    InputError
        Where no ground is known near the new place.
    """
    from shapely.geometry import Point

    if not moved:
        return site
    features: list[Feature] = []
    sources = {source.name: source for source in site.sources}
    for one in site.features:
        places = moved.get((one.file, one.number))
        if places is not None and one.kind == Kind.DRAIN and len(places) > 1:
            features.append(replace(one, geometry=_bent(one.geometry, places)))
            continue
        if places is None or one.geometry.geom_type != "Point":
            features.append(one)
            continue
        place = places[0]
        if one.kind in {*SOURCE_KINDS, *OUTLET_KINDS}:
            ground, known = _ground(site, place, one.name)
            if one.name in sources:
                sources[one.name] = replace(
                    sources[one.name], x=place[0], y=place[1], ground=ground, ground_known=known
                )
        features.append(replace(one, geometry=Point(*place)))
    return replace(site, features=tuple(features), sources=tuple(sources[one.name] for one in site.sources))


def _bent(before: BaseGeometry, places: Sequence[PlaceOf]) -> BaseGeometry:
    """A drawn line with its bends as moved: its ends stay at what they are tied to, and it runs the way it ran."""
    from shapely.geometry import LineString

    first, last = before.coords[0], before.coords[-1]
    there = math.dist(places[0], first) + math.dist(places[-1], last)
    turned = math.dist(places[0], last) + math.dist(places[-1], first)
    way = list(places) if there <= turned else list(places)[::-1]
    line: BaseGeometry = LineString([first, *way[1:-1], last])
    return line


def _ground(site: Site, place: tuple[float, float], name: str) -> tuple[float, bool]:
    here = float(heights(site.grid, np.array([place[0]]), np.array([place[1]]))[0])
    if math.isfinite(here):
        return here, True
    near = ground_near(site.grid, *place, NEAREST_GROUND)
    if near is None:
        raise InputError(name, "stands where no ground is known", "Move it onto the survey, or type heights around it.")
    return near[0], False


def _answer(
    site: Site, held: SurveyedFolder, about: tuple[str, int] | None, *, quick: bool, scene: YardScene | None = None
) -> dict[str, Any]:
    from siteplan.routes.outlets import named_outlets
    from siteplan.yard.groups import yard_scene
    from siteplan.yard.nets import fine_scene

    assert held.pipe is not None
    outlets = named_outlets(site)
    if not site.sources:
        return {"pairs": [], "reach": None, "own": []}
    subject = next((one for one in site.features if about == (one.file, one.number)), None)
    asked_source = subject is not None and subject.kind in SOURCE_KINDS
    asked_outlet = subject is not None and subject.kind in OUTLET_KINDS
    name = subject.name if subject is not None else ""
    asked_drain = subject is not None and subject.kind == Kind.DRAIN
    own: list[dict[str, Any]] = []
    if site.of_kind(Kind.DRAIN) and (asked_drain or not quick):
        own = own_told(site, outlets, held.spots, held.pipe, lambda places: _onto(places, held))
    if asked_drain:
        return {"pairs": [], "reach": None, "own": own}
    if scene is None:
        scene = yard_scene(site, outlets, held.spots, held.pipe, site.laying.prices)
    pairs = [
        (source, outlet)
        for source in site.sources
        for outlet in outlets
        if (not asked_source or source.name == name) and (not asked_outlet or outlet.name == name)
    ][:_MOST_PAIRS]
    fine = None if quick or not pairs else fine_scene(scene, outlets)
    told = [_pair(scene, fine, source, outlet, held) for source, outlet in pairs]
    for source in site.sources:  # the line of the outlet that leaves a source most
        best = max(
            (one for one in told if one["source"] == source.name and one["spare"] is not None), key=_spare, default=None
        )
        if best is not None:
            best["best"] = True
    wanted = next((one for one in site.sources if asked_source and one.name == name), None)
    reach = None if quick or wanted is None else _reach(scene, wanted, held)
    return {"pairs": told, "reach": reach, "own": own}


def _spare(one: Mapping[str, Any]) -> float:
    return float(one["spare"])


def _pair(
    scene: YardScene, fine: YardScene | None, source: Source, outlet: Outlet, held: SurveyedFolder
) -> dict[str, Any]:
    from siteplan.yard.candidates import arrival_spare
    from siteplan.yard.closer import fine_way
    from siteplan.yard.direct import along_chain
    from siteplan.yard.pairs import tried_pair

    unit = scene.site.length_unit
    told: dict[str, Any] = {"source": source.name, "outlet": outlet.name, "best": False, "quick": fine is None}
    if fine is None:
        amount = arrival_spare(scene.reaches[source.id], scene.ends[outlet.id], outlet, scene.terms)
        return {**told, **_figures(amount, None, None, "", unit), "way": _line_of(None, held)}
    tried = tried_pair(scene, source, outlet, fine)
    tree = tried.tree
    if tree is None and tried.spare is not None and tried.spare >= 0:
        for net in (scene, fine):  # the usual net's line is found ten times sooner; the fine one's where it has none
            way = fine_way(net, source, outlet) if tree is None else None
            tree = along_chain(net, way, source, outlet) if way is not None else tree
    why = tried.why
    length = None if tree is None else float(tree.laid[0].trace.station[-1])
    if length is None and why is not None:
        length = why.length
    needed = None if length is None else scene.terms.grade * length
    shown = _line_of(tree, held)
    if tree is None and why is not None and why.way is not None:
        shown = {"xy": _onto(why.way, held), "profile": None, "laid": False}
    return {**told, **_figures(tried.spare, needed, length, "" if why is None else why.reason, unit), "way": shown}


def _figures(spare: float | None, needed: float | None, length: float | None, reason: str, unit: str) -> dict[str, Any]:
    """Figures in metres, and as they are said."""
    available = None if spare is None or needed is None else needed + spare
    return {
        "spare": spare,
        "needed": needed,
        "available": available,
        "length": length,
        "serves": spare is not None and spare >= 0 and not reason,
        "spare_mark": "" if spare is None else _mark(spare, unit),
        "spare_text": reason
        if spare is None and reason
        else "no way found on the quick net"
        if spare is None
        else units.spare_text(spare, unit),
        "needed_text": "" if needed is None else units.drop_text(needed, unit),
        "available_text": "" if available is None else units.drop_text(available, unit),
        "length_text": "" if length is None else units.length_text(length, unit, 1),
        "reason": reason,
    }


def _mark(spare: float, unit: str) -> str:
    """Fall to spare as short as it can be said, with its sign.

    Beside a source on the drawing, and before its words in the panel.
    """
    said, least = units.short_text(abs(spare), unit, 1), units.short_text(0.0, unit, 1)
    if spare < 0:
        return f"\u2212{said}" if said != least else f"less than {'1 mm' if unit == 'm' else '0.1 in'} short"
    return f"+{said}"


def _onto(places: Sequence[tuple[float, float]], held: SurveyedFolder) -> list[list[float]]:
    assert held.onto is not None
    xy = np.array(places, float)
    x, y = held.onto(xy[:, 0], xy[:, 1])
    return [[round(float(a), 4), round(float(b), 4)] for a, b in zip(x, y, strict=True)]


def _line_of(tree: Tree | None, held: SurveyedFolder) -> dict[str, Any] | None:
    """The line in plan, source first, and its profile in the site's units of length and elevation."""
    if tree is None or held.site is None:
        return None
    from siteplan.fall.band import invert_at

    laid, profile = tree.laid[0], tree.profiles[0]
    along = laid.trace
    every = max(1, math.ceil(len(along.station) / _ROWS))
    pick = np.unique(np.append(np.arange(0, len(along.station), every), len(along.station) - 1))
    length, high = units.LENGTH[held.site.length_unit], units.LENGTH[held.site.elevation_unit]
    inverts = invert_at(profile, along.station[pick])
    return {
        "xy": _onto([*reversed(along.corners)], held),
        "laid": True,
        "profile": {
            "station": np.round(along.station[pick] / length, 3).tolist(),
            "ground": _told_heights(along.ground[pick], high),
            "invert": np.round(inverts / high, 4).tolist(),
            "ceiling": _told_heights(along.ceiling[pick], high),
        },
    }


def _told_heights(values: Any, high: float) -> list[float | None]:
    """Heights in the site's unit; None where there is none: JSON knows no NaN and no infinity."""
    return [round(float(z) / high, 4) if math.isfinite(z) else None for z in values]


def _reach(scene: YardScene, source: Source, held: SurveyedFolder) -> dict[str, Any]:
    """Where a source's water could come to daylight on the lot, and how far over the ground there.

    The height to spare.
    """
    from siteplan.routes.daylight import last_runs

    yard, inverts = scene.yard, scene.reaches[source.id].inverts
    nodes = np.flatnonzero(yard.is_open)
    every = max(1, math.ceil(math.sqrt(len(nodes) / _MOST_DOTS)))
    row, col = np.divmod(nodes, yard.cols)
    nodes = nodes[(row % every == 0) & (col % every == 0)]
    _, free = last_runs(yard, inverts, scene.terms, nodes)
    spare = free - (yard.ground[nodes] + scene.terms.daylight_allowance)
    use = np.isfinite(spare) & (spare >= 0)
    places, spare = yard.places(nodes[use]), spare[use]
    unit = scene.site.length_unit
    scale = units.LENGTH[unit]
    xy = _onto([(float(x), float(y)) for x, y in places], held) if len(places) else []
    return {
        "source": source.name,
        "metres": yard.cell * every,
        "dots": [[x, y, round(float(z) / scale, 3)] for (x, y), z in zip(xy, spare, strict=True)],
        "most_text": units.drop_text(float(spare.max()), unit) if len(spare) else "",
    }
