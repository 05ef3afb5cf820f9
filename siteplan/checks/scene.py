"""Plan and site in; what every check looks at out: the walked lines, areas by kind, and words in the user's units."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple, Self

import numpy as np

from siteplan import units
from siteplan.books import rules
from siteplan.books.kinds import DRIVEN_KINDS, PAVEMENT_KINDS, POLYGON_KINDS, into_pipe
from siteplan.books.pipes import strength
from siteplan.books.rules import InForce, Rule
from siteplan.books.stock import PipeStock
from siteplan.checks.walk import Flags, Floats, Walk, can_be_walked, walked
from siteplan.site import Feature, Site
from siteplan.values.laid_pipe import Pipe
from siteplan.values.lines import Line
from siteplan.values.told import OnLine
from siteplan.values.water_ends import Inflows, Outlet
from siteplan.values.whole_plan import Plan

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry


class SaidPlace(str):
    """A place on a line in words that keep their stations beside them.

    `line` is empty where the finding's subject names it.
    """

    __slots__ = ("line", "stretch")
    line: str
    stretch: tuple[float, float]

    def __new__(cls, text: str, start: float, end: float, line: str = "") -> Self:
        """Words and the stations that they say [m]."""
        said = super().__new__(cls, text)
        said.stretch, said.line = (float(start), float(end)), line
        return said

    def of(self, line: str) -> SaidPlace:
        """The same on a line that is named: 'L1, station 0+12.0'."""
        return SaidPlace(f"{line}, {self}", *self.stretch, line)

    def value(self, subject: str) -> OnLine:
        """The same as a value, of the line that the subject begins with where none is named."""
        return OnLine(
            line=self.line or subject.partition(":")[0], station_from=self.stretch[0], station_to=self.stretch[1]
        )


class Words(NamedTuple):
    """Prints lengths in the user's units."""

    length_unit: str
    elevation_unit: str

    def small(self, value: float) -> str:
        """A cover or clearance: 13.2 in, 335 mm."""
        if self.length_unit == "m":
            return f"{round(units.from_metres(value, 'mm')) + 0.0:.0f} mm"
        return f"{round(units.from_metres(value, 'in'), 1) + 0.0:.1f} in"

    def size(self, pipe: Pipe) -> str:
        """A pipe's size: 4 in, on a metric site 4 in (107 mm outside)."""
        return units.size_text(pipe.nominal, pipe.od, self.length_unit)

    def drop(self, value: float) -> str:
        """A height as a crew reads it: 0.42 ft (0'-5")."""
        return units.drop_text(value, self.length_unit)

    def spare(self, value: float, doubt: float) -> str:
        """Fall to spare with its doubt, as every sheet says it."""
        return units.spare_text(value, self.length_unit, doubt)

    def seen(self, value: float) -> str:
        """A height as `drop`, never printed as nought."""
        return units.small_text(value, self.length_unit)

    def far(self, value: float) -> str:
        """A distance on the ground: 12.3 ft."""
        return units.length_text(value, self.length_unit, 1)

    def elevation(self, value: float) -> str:
        """An elevation: 97.41 ft."""
        return units.length_text(value, self.elevation_unit)

    def percent(self, value: float) -> str:
        """A grade: 1.25 %."""
        return units.grade_text(value)

    def flow(self, value: float) -> str:
        """A flow: 61.2 gpm, 3.86 L/s."""
        return units.flow_text(value, self.length_unit)

    def speed(self, value: float) -> str:
        """A velocity: 2.43 ft/s."""
        return f"{units.length_text(value, self.length_unit)}/s"

    def volume(self, value: float) -> str:
        """A volume of water: 42 gal, 159 L."""
        return units.volume_text(value, self.length_unit)

    def minutes(self, value: float) -> str:
        """A duration of rain [s]."""
        return f"{value / 60:g} min"

    def seconds(self, value: float) -> str:
        """A time: 62 s."""
        return f"{value:.0f} s"

    def degrees(self, value: float) -> str:
        """An angle: 67.5 degrees."""
        return f"{value:.1f} degrees"

    def station(self, value: float) -> SaidPlace:
        """A place on a line: station 0+12.0."""
        return SaidPlace(f"station {units.station_text(value, self.length_unit)}", value, value)

    def stations(self, start: float, end: float) -> SaidPlace:
        """A stretch of a line: station 0+12.0 to 0+15.5."""
        first, last = (units.station_text(value, self.length_unit) for value in (start, end))
        return SaidPlace(f"station {first}" if first == last else f"station {first} to {last}", start, end)

    def stretches(self, each: Sequence[tuple[float, float]]) -> str:
        """Stretches of a line, one after the other; as a value they run from the first to the last."""
        text = ", ".join(self.stations(*one) for one in each)
        if not each:
            return text
        return SaidPlace(text, min(start for start, _ in each), max(end for _, end in each))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Scene:
    """What every check looks at."""

    plan: Plan
    site: Site
    words: Words
    areas: Mapping[str, BaseGeometry]  # polygons of a kind as one; 'vehicles' is pavement that carries them
    walks: Mapping[str, Walk]  # by line id, in the plan's order; lines that cannot be walked are absent
    lines: Mapping[str, Line]
    outlets: Mapping[str, Outlet]
    inflows: Inflows  # of inlets whose ground has to be gathered; of all others the checks work it out themselves

    def entry(self, rule: Rule) -> InForce:
        """The rule with the limit in force."""
        return self.site.rules[rule.id]

    def limit(self, rule: Rule) -> float | None:
        """Limit in force; None: not known."""
        return self.site.rules[rule.id].limit

    def way_out(self, line: Line) -> tuple[Outlet | None, tuple[Line, ...]]:
        """The outlet that a line's water ends at, None when it ends nowhere, and the lines on the way.

        Its own first.
        """
        way = [line]
        while way[-1].end in self.lines and self.lines[way[-1].end] not in way:
            way.append(self.lines[way[-1].end])
        return self.outlets.get(way[-1].end), tuple(way)

    def feature_of(self, outlet: Outlet) -> Feature | None:
        """The surveyed feature that an outlet stands for; None when there is none (one the tool found by itself)."""
        near = [
            feature
            for feature in self.site.of_kind(outlet.kind)
            if np.hypot(feature.geometry.x - outlet.x, feature.geometry.y - outlet.y) < 0.05  # m
        ]
        named = [feature for feature in self.site.of_kind(outlet.kind) if feature.name and feature.name == outlet.name]
        return next(iter(named or near), None)


def scene_of(plan: Plan, site: Site, inflows: Inflows | None = None) -> Scene:
    """What every check looks at, from the plan and the site as surveyed.

    Parameters
    ----------
    plan : Plan
        The plan to be judged.
    site : Site
        The site as surveyed.
    inflows : Inflows, optional
        What inlets take from the ground about them; as the plan states it when absent.

    Returns
    -------
    Scene
        Lines that are walkable are walked once, for all checks.
    """
    import shapely

    # a line by gravity below a pump is judged by what the plan says comes through it, which is judged by itself
    site = site.with_rates(plan.pumped_rates)
    areas: dict[str, BaseGeometry] = {}
    for kind in POLYGON_KINDS:
        if shapes := [feature.geometry for feature in site.of_kind(kind)]:
            areas[kind] = shapely.union_all(shapely.make_valid(shapes))
    if bearing := [feature.geometry for feature in site.of_kind(*DRIVEN_KINDS) if _carries_vehicles(feature)]:
        areas["vehicles"] = shapely.union_all(shapely.make_valid(bearing))
    for area in areas.values():
        shapely.prepare(area)
    lines = {line.id: line for line in plan.lines}
    outlets = {outlet.id: outlet for outlet in plan.outlets}
    buried = {outlet.id for outlet in plan.outlets if into_pipe(outlet.kind)}
    pavement = {kind: area for kind, area in areas.items() if kind in {*PAVEMENT_KINDS, "vehicles"}}
    return Scene(
        plan=plan,
        site=site,
        words=Words(plan.length_unit, plan.elevation_unit),
        areas=areas,
        lines=lines,
        outlets=outlets,
        inflows=plan.inflows if inflows is None else inflows,
        walks={
            line.id: walked(line, site, pavement, free=line.end not in lines and line.end not in buried)
            for line in plan.lines
            if can_be_walked(line)
        },
    )


def pavement_asked(scene: Scene, walk: Walk) -> Floats:
    """Cover asked for under vehicles at the samples of a line, were it all under vehicles.

    Parameters
    ----------
    scene : Scene
        For the rules in force.
    walk : Walk
        The walked line.

    Returns
    -------
    ndarray, shape (n,) [m]
        Heavy pipe's limit where heavy pipe lies, the plain one elsewhere; NaN where it is not known.
    """
    plain, relieved = rules.pavement_covers(scene.site.rules)
    asked = np.full(len(walk.s), np.nan if plain is None else plain)
    if relieved is not None:
        asked[heavy_at(scene, walk)] = relieved
    return asked


def heavy_at(scene: Scene, walk: Walk) -> Flags:
    """Where heavy pipe lies along a line.

    Parameters
    ----------
    scene : Scene
        For the book of pipes with the site's own.
    walk : Walk
        The walked line.

    Returns
    -------
    ndarray of bool, shape (n,)
        At the samples; a line whose plan names no reaches has its own pipe all the way. Where two pipes meet, the
        lighter one counts.
    """
    if not walk.line.reaches:
        return np.full(len(walk.s), stock_is_heavy(scene, walk.line.pipe))
    strong = [reach for reach in walk.line.reaches if stock_is_heavy(scene, reach.pipe)]
    weak = [reach for reach in walk.line.reaches if not stock_is_heavy(scene, reach.pipe)]
    return walk.within(strong) & ~walk.within(weak)


def stock_is_heavy(scene: Scene, pipe: Pipe) -> bool:
    """Whether a pipe counts as heavy, by the book and not by what the plan says of it.

    Parameters
    ----------
    scene : Scene
        For the site's own pipes.
    pipe : Pipe
        Its kind and size are looked up.

    Returns
    -------
    bool
        False for a pipe that no book holds.
    """
    found = stock_of(scene, pipe)
    return found is not None and found.is_heavy


def stock_of(scene: Scene, pipe: Pipe) -> PipeStock | None:
    """A pipe's entry in the book of pipes or among the site's own.

    Parameters
    ----------
    scene : Scene
        For the site's own pipes.
    pipe : Pipe
        Its kind and size are looked up.

    Returns
    -------
    PipeStock or None
        None when there is none.
    """
    return strength(pipe.kind, pipe.nominal, scene.site.laying.own_pipes)


def _carries_vehicles(feature: Feature) -> bool:
    return feature.kind == "driveway" or bool(feature.attributes.get("vehicle"))
