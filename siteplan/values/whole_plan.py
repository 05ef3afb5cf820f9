"""The plan: everything that is kept of it."""

from __future__ import annotations

from dataclasses import dataclass, field

from siteplan.values.asked_for import NOTHING_ASKED, USUAL_CHOICES, ChoicesAsked, InputFile, WhatIf
from siteplan.values.drawn_shapes import PlanFeature
from siteplan.values.flows_worked import Water
from siteplan.values.forecasts import LowSpot
from siteplan.values.lines import Line
from siteplan.values.other_layouts import Layout, LayoutLeft
from siteplan.values.own_drawn import OwnLines
from siteplan.values.quantities_taken import Quantity
from siteplan.values.told import BarredSize, Finding, MissingPart
from siteplan.values.tried import Attempt, Candidate, SearchResult, Sharing
from siteplan.values.water_ends import Inflows, Outlet, Source


@dataclass(frozen=True, slots=True, kw_only=True)
class Lift:
    """Where the planner lifts a sump to that gravity serves nowhere.

    To an outlet or a discharge point by name, or to a box that it places.
    """

    to: str
    box: tuple[float, float] | None = (
        None  # where it places the box, in the plan's frame [m]; None: the survey has the place
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """Everything a sheet prints and a person may rely on."""

    site_name: str
    crs: str  # 'local', or an authority code or WKT that pyproj reads; metres
    length_unit: str  # the user's: ft | us-ft | m
    elevation_unit: str
    accuracy: float  # one standard deviation of a ground elevation
    stamp: str | None  # date given by argument
    inputs: tuple[InputFile, ...]
    sources: tuple[Source, ...]
    outlets: tuple[Outlet, ...]
    lines: tuple[Line, ...]
    low_spots: tuple[LowSpot, ...]
    candidates: tuple[Candidate, ...]
    findings: tuple[Finding, ...]
    assumptions: tuple[str, ...]
    cautions: tuple[str, ...]
    reach_note: tuple[str, ...] = field(default=())  # plain statements of where a line could go
    water: Water | None = None
    survey_crs: str = ""  # the survey's own system: 'local', an authority code or WKT; '' the plan's
    survey_unit: str = ""  # of its coordinates: ft | us-ft | m | degree, or another by its name; '' the plan's
    attempts: tuple[Attempt, ...] = ()  # of sources that no line serves
    missing: tuple[MissingPart, ...] = ()  # what is not known by a fault of the program
    barred_sizes: tuple[BarredSize, ...] = ()
    what_if: WhatIf = field(default=NOTHING_ASKED)
    quantities: tuple[Quantity, ...] = ()
    inflows: Inflows = field(default=Inflows())
    search: tuple[SearchResult, ...] = ()
    sharing: tuple[Sharing, ...] = ()
    own: tuple[OwnLines, ...] = ()  # drawn by a person
    pressed: tuple[Line, ...] = ()  # lines under pressure, which no rule of falling water judges
    features: tuple[PlanFeature, ...] = ()  # of the site, as drawn on every sheet
    choices_asked: ChoicesAsked = field(default=USUAL_CHOICES)
    layouts: tuple[Layout, ...] = ()  # by number; empty where nothing is laid
    layouts_left: tuple[LayoutLeft, ...] = ()

    @property
    def pumped_rates(self) -> dict[str, float]:
        """What comes through lines under pressure, by id of the sump [m3/s].

        None for a pump that does not lift so high.
        """
        return {one.start: one.pumped.flow for one in self.pressed if one.pumped is not None and one.pumped.flow > 0}

    @property
    def lifts_chosen(self) -> dict[str, Lift]:
        """Sumps that the planner itself chose to lift, by name, and where to."""
        sources = {one.id: one for one in self.sources}
        return {
            sources[one.start].name: Lift(
                to=told.lift_to, box=(sources[one.start].x, sources[one.start].y) if told.box else None
            )
            for one in self.pressed
            if (told := one.pumped) is not None and told.chosen and told.lift_to and one.start in sources
        }

    @property
    def every_line(self) -> tuple[Line, ...]:
        """Lines by gravity, then those under pressure."""
        return (*self.lines, *self.pressed)
