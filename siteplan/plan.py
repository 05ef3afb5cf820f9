"""The spine: a site folder in, a plan out. Reads like a table of contents.

survey -> ground -> yard (routes, fall) -> trench -> waterworks -> stored -> checks; the sheets print what it returns.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from siteplan import units
from siteplan.books.rules import MIN_GRADE, TRENCH_DEPTHS, needed
from siteplan.optional import gathering, optional
from siteplan.site import Site
from siteplan.values import NOTHING_ASKED, Inflows, LaidOut, Line, LowSpot, MissingPart, Pipe, Plan, WhatIf

if TYPE_CHECKING:
    from siteplan.water.sizes import Basis
    from siteplan.waterworks.sizing import SizedYard
    from siteplan.yard.gauges import SizesAsked


PUMPED_CAUTIONS = (
    "Pump: it stops with the power, and the storm that fills the pit takes the power too. An alarm, and a second pump or a battery, are the usual answer; ask what floods when it stands still.",
    "Pump wiring, and any joint to a sewer, are a licensed trade's work; nobody reaches into a pit with the pump plugged in.",
    "Under pressure a leak does not show in the pit: it shows as wet ground along the line, or as a pump that runs on. Test the line before it is covered, and look again after the first winter.",
    "The pump's figures are those the site states; its own curve at the head that it meets decides. Time a full pit once it runs.",
)


def cautions(unit: str, *, pumped: bool = False) -> tuple[str, ...]:
    """The usual cautions, with the depths of the trench standard in the site's unit.

    Parameters
    ----------
    unit : str
        'ft', 'us-ft' or 'm'.
    pumped : bool
        Whether a pump lifts through a line under pressure.

    Returns
    -------
    tuple of str
        One sentence or two each; metric depths are rounded down, to the safe side.

    References
    ----------
    US federal trench standard, 29 CFR 1926.651(c)(2), 1926.651(j)(2) and 1926.652(a)(1): way out at 4 ft, spoil 2 ft
    back, protection at 5 ft.
    """
    ladder, protection, back = TRENCH_DEPTHS["m" if unit == "m" else "ft"]
    return (
        "Planning aid: not a survey, an engineered design or an approval. The rules shown are the ones loaded; local code and licensed practice decide.",
        "Before digging: request public locates and wait for them; find private lines (irrigation, lights, septic, gas) separately. Marks show no depth: expose crossings by hand first.",
        f"Trench: nobody enters past {ladder} without a ladder or past {protection} without protection, sooner in wet, sandy or loaded ground; spoil {back} back. A competent person decides.",
        "Permission: work in a curb, walk or street needs the road owner's permit; an easement is not consent; ask before aiming water at a lot line.",
        "Traffic: keep vehicles off the line until it is bedded and covered; shallow crossings crush.",
        "Flooding and frost: an outlet that freezes or drowns backs up to the house; see where the water comes out first and check the outlet each autumn and after the first freeze.",
        "The survey is the weakest number here. Shoot the outlet and the starts again before ordering pipe, and photograph and shoot the pipe before backfill.",
        *(PUMPED_CAUTIONS if pumped else ()),
    )


def plan_site(
    folder: Path, *, stamp: str | None = None, asked: WhatIf = NOTHING_ASKED, debug: bool = False
) -> tuple[Plan, Site]:
    """Lay out and prove a site.

    Parameters
    ----------
    folder : Path
        The site folder, as docs/site-folder.md describes it.
    stamp : str, optional
        Date printed on the sheets; none is printed when absent.
    asked : WhatIf
        What is asked beside the site's own words.
    debug : bool
        True: a part that fails by a fault of ours ends the plan, so that it can be seen where.

    Returns
    -------
    tuple of Plan and Site
        The plan with its findings, and the site as surveyed.

    Raises
    ------
    InputError, InputErrors
        If the folder cannot be used.
    """
    with gathering(debug=debug) as missing:
        return _planned(folder, stamp, asked, missing)


def _planned(folder: Path, stamp: str | None, asked: WhatIf, missing: list[MissingPart]) -> tuple[Plan, Site]:
    """The spine; `missing` grows while it runs."""
    from siteplan.checks.judge import findings
    from siteplan.ground.hollows import assumptions as ground_assumptions
    from siteplan.ground.hollows import low_spots
    from siteplan.ground.runoff import runoff_surface
    from siteplan.routes.outlets import named_outlets
    from siteplan.sheets.missing_words import missing_text
    from siteplan.sheets.plan_json import plan_json
    from siteplan.sheets.search_words import search_text
    from siteplan.sheets.wording import what_if_text
    from siteplan.stored.plan_of import plan_as_stored
    from siteplan.survey.folder import read_site
    from siteplan.trench.quantities import quantities_of
    from siteplan.trench.reaches import pipe_assumptions, with_pipes
    from siteplan.waterworks.inflows import inflows_told, inlet_flows, with_rates
    from siteplan.waterworks.sizing import on_offer, unweighed_notes, weighable
    from siteplan.waterworks.works import water_of
    from siteplan.yard.as_written import (
        candidates_as_written,
        lines_as_written,
        low_spots_as_written,
        outlets_as_written,
    )
    from siteplan.yard.cures import attempts_of
    from siteplan.yard.doubts import with_doubt, with_ends_fall
    from siteplan.yard.held import with_margins_held
    from siteplan.yard.pressed import pressed_lines, rates_of, with_expected_rates
    from siteplan.yard.spares import with_spares
    from siteplan.yard.taken import as_taken

    site = read_site(Path(folder), asked)
    pipe = on_offer(site.sizing)[0]
    surface = optional("surface-water", lambda: runoff_surface(site), None)
    spots = optional("low-spots", lambda: low_spots(site, surface=surface), ())
    site = optional("pumped", partial(with_expected_rates, site, spots, named_outlets(site)), site)
    inflows = optional("inflows", lambda: inflows_told(site), Inflows())
    inlet_notes: tuple[str, ...] = ()
    if surface is not None:
        inflows, inlet_notes = optional(
            "inlet-flows", partial(inlet_flows, site, surface, inflows), (inflows, inlet_notes)
        )

    sized = _laid_in_sizes(site, inflows, spots, pipe)
    laid_out = sized.laid
    outlets, laid = outlets_as_written(laid_out.outlets), lines_as_written(laid_out.lines)
    spots = low_spots_as_written(spots)
    reached = {line.id: line for line in with_pipes(weighable(site, laid), site, inflows, spots, outlets)}
    laid = tuple(reached.get(line.id, line) for line in laid)

    laid = tuple(optional("stakes", partial(_staked, line, site.length_unit), line, line.id) for line in laid)
    written = lines_as_written(laid)
    spared = optional("doubt", lambda: with_spares(written, site, outlets, spots), written)
    doubted = optional("doubt", lambda: with_doubt(spared, site, outlets, spots), spared)
    lines = optional("margins", lambda: with_margins_held(doubted, site, outlets, spots), doubted)
    listed = candidates_as_written(as_taken(laid_out.candidates, lines, site.sources, needed(site.rules, MIN_GRADE)))
    candidates = optional("chances", lambda: with_ends_fall(listed, site, outlets, pipe, lines), listed)
    attempts = optional("attempts", lambda: attempts_of(site, outlets, spots, pipe, candidates, lines), ())
    pressed, pressed_notes = optional("pumped", lambda: pressed_lines(site, spots, lines, outlets), ((), ()))
    site, inflows = site.with_rates(rates_of(pressed)), with_rates(inflows, rates_of(pressed))
    water = None
    if surface is not None:
        water = optional("water", lambda: water_of(site, inflows, surface, spots, lines, outlets), None)
    assumptions = (
        *((f"What if: {what_if_text(asked)}. Not the site as surveyed.",) if asked else ()),
        *site.assumptions,
        f"Pipe: {units.size_text(pipe.nominal, pipe.od, site.length_unit)} {pipe.title}, its top {units.length_text(pipe.rise, site.length_unit, 3)} above the invert, unless a line's flow asks for more.",
        *(() if water is None else (f"Rain: {water.rain}.", f"Capacity: {water.basis}.")),
        *inlet_notes,
        *_notes(lambda: unweighed_notes(site, lines)),
        *(() if water is None else water.notes),
        *(f"{outlet.name}: {outlet.basis}." for outlet in outlets),
        *_notes(lambda: ground_assumptions(site)),
        "Stations run from the outlet (0) upstream; lengths are in plan.",
        "Routes are ranked by relative prices of our own (docs/costs.md), not money.",
        *_notes(lambda: _margin_note(site)),
        *_notes(lambda: search_text(laid_out.search)),
        *laid_out.notes,
        *(f"{note}." for note in pressed_notes),
        *_notes(lambda: pipe_assumptions(site, lines)),
    )
    plan = Plan(
        site_name=site.name, crs=site.crs, length_unit=site.length_unit, elevation_unit=site.elevation_unit,
        accuracy=site.accuracy, stamp=stamp, inputs=site.inputs, sources=site.every_source, outlets=outlets, lines=lines,
        low_spots=spots, candidates=candidates, findings=(), assumptions=assumptions, cautions=cautions(site.length_unit, pumped=bool(pressed)),
        reach_note=_notes(lambda: _longest_reach(site, pipe)), water=water, attempts=attempts, survey_crs=site.survey_crs, survey_unit=site.survey_unit,
        barred_sizes=sized.barred, what_if=asked, quantities=optional("quantities", lambda: quantities_of(site, (*lines, *pressed), outlets), ()),
        inflows=inflows, search=laid_out.search, sharing=laid_out.sharing, pressed=pressed,
    )  # fmt: skip
    # judged, printed and handed on as its own plan.json states it: a reviewer has no other figures
    plan = plan_as_stored(plan_json(plan, site))
    plan = replace(plan, findings=findings(plan, site))
    plan = replace(
        plan, missing=tuple(missing), assumptions=(*(f"{missing_text(part)}." for part in missing), *plan.assumptions)
    )
    return plan_as_stored(plan_json(plan, site)), site


def _staked(line: Line, unit: str) -> Line:
    from siteplan.yard.rows import stakes_apart

    return replace(line, rows=stakes_apart(line.rows, line.vertices, unit))


def _laid_in_sizes(site: Site, inflows: Inflows, spots: tuple[LowSpot, ...], pipe: Pipe) -> SizedYard:
    """The yard laid out, each line in the size that its water asks for; in the smallest where that cannot be told."""
    from siteplan.routes.outlets import named_outlets
    from siteplan.waterworks.sizing import SizedYard, laid_to_fit
    from siteplan.yard.gauges import sizes_asked
    from siteplan.yard.groups import lay_beside
    from siteplan.yard.own_lines import laid_with_own

    def laid_with(pipe: Pipe, sizes: SizesAsked | None = None) -> LaidOut:
        if not site.sources:  # every source is pumped all the way
            return LaidOut(lines=(), outlets=named_outlets(site), candidates=(), notes=())
        return laid_with_own(site, named_outlets(site), spots, pipe, site.laying.prices, sizes)

    def laid_beside(pipe: Pipe, there: LaidOut) -> LaidOut:
        return lay_beside(site, named_outlets(site), spots, pipe, site.laying.prices, there)

    def laid_in_sizes(flows: Mapping[str, float | None], pipes: Sequence[Pipe], basis: Basis) -> LaidOut:
        return laid_with(pipe, sizes_asked(site, flows, pipes, basis, site.laying.prices))

    def fitted() -> SizedYard:
        return laid_to_fit(site, inflows, laid_with, laid_beside, laid_in_sizes)

    return optional("sizes", fitted, None) or SizedYard(laid=laid_with(pipe))


def _notes(make: Callable[[], tuple[str, ...]]) -> tuple[str, ...]:
    return optional("notes", make, ())


def _longest_reach(site: Site, pipe: Pipe) -> tuple[str, ...]:
    """How far a line can run on flat ground before it is too deep."""
    from siteplan.routes.terms import terms

    asked = terms(site.rules, pipe)
    far = max(0.0, (asked.depth - asked.cover - asked.rise) / asked.grade)
    grade, length = units.grade_text(asked.grade), units.length_text(far, site.length_unit, 0)
    deepest = units.length_text(asked.depth, site.length_unit)
    return (f"On flat ground a line at {grade} reaches {length} before it is deeper than {deepest}.",)


def _margin_note(site: Site) -> tuple[str, ...]:
    """How far lines stay under the height that least cover asks for."""
    from siteplan.fall.margins import margin_for

    certainty = site.laying.certainty
    margin = margin_for(site.accuracy, certainty)
    if margin <= 0:
        return ()
    deeper = units.drop_text(margin, site.length_unit)
    return (
        f"Where there is fall to spare for it, lines lie {deeper} deeper than least cover asks: {100 * certainty:g} % sure of the survey ([trench] certainty).",
    )
