"""A survey and a yard laid on it in.

The lines with pipe, stakes, spare and doubt, the water in them, and the plan judged, out.

The plan and every layout set beside it go this way, so that what is compared was made and judged by the same code.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from siteplan.books.rules import MIN_GRADE, needed
from siteplan.optional import optional
from siteplan.site import Site
from siteplan.values.flows_worked import Water
from siteplan.values.forecasts import LowSpot
from siteplan.values.laid_pipe import Pipe
from siteplan.values.lines import Line
from siteplan.values.told import BarredSize
from siteplan.values.tried import Candidate, LaidOut
from siteplan.values.water_ends import Inflows, Outlet
from siteplan.values.whole_plan import Plan

if TYPE_CHECKING:
    from siteplan.books.prices import Prices
    from siteplan.ground.runoff import Surface
    from siteplan.water.sizes import Basis
    from siteplan.waterworks.sizing import SizedYard
    from siteplan.yard.gauges import SizesAsked


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Surveyed:
    """What every layout of a site starts from."""

    site: Site
    pipe: Pipe  # smallest on offer
    surface: Surface | None  # where surface water runs; None: not known
    spots: tuple[LowSpot, ...]
    inflows: Inflows
    inlet_notes: tuple[str, ...]
    stamp: str | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Proven:
    """A layout ready to be judged."""

    laid: LaidOut
    lines: tuple[Line, ...]
    outlets: tuple[Outlet, ...]
    spots: tuple[LowSpot, ...]  # as written
    water: Water | None
    pressed: tuple[Line, ...]  # lines under pressure
    pressed_notes: tuple[str, ...]
    site: Site  # with what comes through these
    inflows: Inflows


def laid_in_sizes(held: Surveyed, site: Site, prices: Prices) -> SizedYard:
    """The yard laid out, each line in the size that its water asks for; in the smallest where that cannot be told.

    Parameters
    ----------
    held : Surveyed
        The survey, for flows and wet ground.
    site : Site
        The site as the planner takes it.
    prices : Prices
        Relative prices that it takes.

    Returns
    -------
    SizedYard
        Lines and outlets.
    """
    from siteplan.routes.outlets import named_outlets
    from siteplan.waterworks.sizing import SizedYard, laid_to_fit
    from siteplan.yard.gauges import sizes_asked
    from siteplan.yard.groups import lay_beside
    from siteplan.yard.own_lines import laid_with_own

    spots = held.spots

    def laid_with(pipe: Pipe, sizes: SizesAsked | None = None) -> LaidOut:
        if not site.sources:  # every source is pumped all the way
            return LaidOut(lines=(), outlets=named_outlets(site), candidates=(), notes=())
        return laid_with_own(site, named_outlets(site), spots, pipe, prices, sizes)

    def laid_beside(pipe: Pipe, there: LaidOut) -> LaidOut:
        return lay_beside(site, named_outlets(site), spots, pipe, prices, there)

    def sized(flows: Mapping[str, float | None], pipes: Sequence[Pipe], basis: Basis) -> LaidOut:
        return laid_with(held.pipe, sizes_asked(site, flows, pipes, basis, prices))

    def fitted() -> SizedYard:
        return laid_to_fit(site, held.inflows, laid_with, laid_beside, sized)

    return optional("sizes", fitted, None) or SizedYard(laid=laid_with(held.pipe))


def proven(held: Surveyed, laid: LaidOut) -> Proven:
    """A layout's lines given pipe, stakes, spare and doubt, each figure as it is written, and the water in them.

    Parameters
    ----------
    held : Surveyed
        The survey.
    laid : LaidOut
        Lines in their sizes.

    Returns
    -------
    Proven
        Parts that fail by a fault of ours are left out and named, as `optional` says.
    """
    from siteplan.trench.reaches import with_pipes
    from siteplan.waterworks.inflows import with_rates
    from siteplan.waterworks.sizing import weighable
    from siteplan.waterworks.works import water_of
    from siteplan.yard.as_written import lines_as_written, low_spots_as_written, outlets_as_written
    from siteplan.yard.doubts import with_doubt
    from siteplan.yard.held import with_margins_held
    from siteplan.yard.pressed import pressed_lines, rates_of
    from siteplan.yard.rows import stakes_apart
    from siteplan.yard.spares import with_spares

    site, inflows = held.site, held.inflows
    outlets, lines = outlets_as_written(laid.outlets), lines_as_written(laid.lines)
    spots = low_spots_as_written(held.spots)
    reached = {line.id: line for line in with_pipes(weighable(site, lines), site, inflows, spots, outlets)}
    lines = tuple(reached.get(line.id, line) for line in lines)

    def staked(line: Line) -> Line:
        return replace(line, rows=stakes_apart(line.rows, line.vertices, site.length_unit))

    def staked_or_not(line: Line) -> Line:
        return optional("stakes", lambda: staked(line), line, line.id)

    written = lines_as_written(tuple(staked_or_not(line) for line in lines))
    spared = optional("doubt", lambda: with_spares(written, site, outlets, spots), written)
    doubted = optional("doubt", lambda: with_doubt(spared, site, outlets, spots), spared)
    lines = optional("margins", lambda: with_margins_held(doubted, site, outlets, spots), doubted)
    pressed, notes = optional("pumped", lambda: pressed_lines(site, spots, lines, outlets), ((), ()))
    site, inflows = site.with_rates(rates_of(pressed)), with_rates(inflows, rates_of(pressed))
    water, surface = None, held.surface
    if surface is not None:
        water = optional("water", lambda: water_of(site, inflows, surface, spots, lines, outlets), None)
    return Proven(
        laid=laid,
        lines=lines,
        outlets=outlets,
        spots=spots,
        water=water,
        pressed=pressed,
        pressed_notes=notes,
        site=site,
        inflows=inflows,
    )


def candidates_of(held: Surveyed, made: Proven) -> tuple[Candidate, ...]:
    """The ways weighed, those taken with the figures of their lines.

    Parameters
    ----------
    held : Surveyed
        The survey.
    made : Proven
        The layout.

    Returns
    -------
    tuple of Candidate
        Without doubt and chance.
    """
    from siteplan.yard.as_written import candidates_as_written
    from siteplan.yard.taken import as_taken

    least = needed(held.site.rules, MIN_GRADE)
    return candidates_as_written(as_taken(made.laid.candidates, made.lines, held.site.sources, least))


def plan_of(held: Surveyed, made: Proven, candidates: Sequence[Candidate], barred: Sequence[BarredSize]) -> Plan:
    """A plan of a layout, as far as checks look at it.

    Parameters
    ----------
    held : Surveyed
        The survey.
    made : Proven
        The layout.
    candidates : sequence of Candidate
        The ways weighed.
    barred : sequence of BarredSize
        Sizes that could not be laid.

    Returns
    -------
    Plan
        Without findings, assumptions, cautions and whatever is tried beside it.
    """
    site = made.site
    from siteplan.yard.as_written import features_as_written

    return Plan(
        site_name=site.name,
        crs=site.crs,
        length_unit=site.length_unit,
        elevation_unit=site.elevation_unit,
        accuracy=site.accuracy,
        stamp=held.stamp,
        inputs=site.inputs,
        sources=site.every_source,
        outlets=made.outlets,
        lines=made.lines,
        low_spots=made.spots,
        candidates=tuple(candidates),
        findings=(),
        assumptions=(),
        cautions=(),
        water=made.water,
        survey_crs=site.survey_crs,
        survey_unit=site.survey_unit,
        barred_sizes=tuple(barred),
        what_if=site.what_if,
        inflows=made.inflows,
        search=made.laid.search,
        sharing=made.laid.sharing,
        pressed=made.pressed,
        own=made.laid.own,
        features=features_as_written(site.features),
    )


def judged(plan: Plan, site: Site) -> Plan:
    """A plan with its findings, judged as its own plan.json states it: a reviewer has no other figures.

    Parameters
    ----------
    plan : Plan
        As laid.
    site : Site
        As surveyed.

    Returns
    -------
    Plan
        As stored.
    """
    from siteplan.checks.judge import findings
    from siteplan.sheets.plan_json import plan_json
    from siteplan.stored.plan_of import plan_as_stored

    plan = plan_as_stored(plan_json(plan, site))
    return replace(plan, findings=findings(plan, site))
