"""The spine: a site folder in, a plan out. Reads like a table of contents.

survey -> ground -> yard (routes, fall) -> proving (trench, waterworks) -> layouts beside it -> stored -> checks; the
sheets print what it returns.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from siteplan import units
from siteplan.errors import InputError
from siteplan.optional import gathering, optional
from siteplan.sheets.caution_words import cautions
from siteplan.site import Site
from siteplan.values.asked_for import NOTHING_ASKED, USUAL_CHOICES, ChoicesAsked, WhatIf
from siteplan.values.laid_pipe import Pipe
from siteplan.values.lines import Line
from siteplan.values.told import BarredSize, Finding, MissingPart
from siteplan.values.tried import LaidOut
from siteplan.values.water_ends import Inflows, Outlet
from siteplan.values.whole_plan import Lift, Plan

if TYPE_CHECKING:
    from siteplan.layouts import OneLayout
    from siteplan.proving import Proven, Surveyed
    from siteplan.waterworks.sizing import SizedYard


def plan_site(
    folder: Path,
    *,
    stamp: str | None = None,
    asked: WhatIf = NOTHING_ASKED,
    choices: ChoicesAsked = USUAL_CHOICES,
    debug: bool = False,
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
    choices : ChoicesAsked
        Which layout to take, and how many to set beside it.
    debug : bool
        True: a part that fails by a fault of ours ends the plan, so that it can be seen where.

    Returns
    -------
    tuple of Plan and Site
        The plan with its findings, and the site as surveyed.

    Raises
    ------
    InputError, InputErrors
        If the folder cannot be used, or there is no layout of the number chosen.
    """
    with gathering(debug=debug) as missing:
        return _planned(folder, stamp, asked, choices, missing)


def _planned(
    folder: Path, stamp: str | None, asked: WhatIf, choices: ChoicesAsked, missing: list[MissingPart]
) -> tuple[Plan, Site]:
    """The spine; `missing` grows while it runs."""
    from siteplan.layouts import Weighed, weighed
    from siteplan.proving import judged, laid_in_sizes, proven
    from siteplan.sheets.missing_words import missing_text
    from siteplan.sheets.plan_json import plan_json
    from siteplan.stored.plan_of import plan_as_stored
    from siteplan.yard.lifts import lifts_of

    def laid(lifts: Mapping[str, Lift]) -> tuple[Surveyed, SizedYard, Proven]:
        held = _surveyed(folder, stamp, asked, lifts)
        sized = laid_in_sizes(held, held.site, held.site.laying.prices)
        return held, sized, proven(held, sized.laid)

    first = laid({})
    held, sized, made = first
    lifts = optional("pumped", lambda: lifts_of(held.site, held.spots, made.lines, made.outlets, held.pipe), {})
    if lifts:
        # read anew with its pumps lifted, so that all that follows, and a review, sees what it would see had the survey
        # said so
        before = tuple(missing)
        missing.clear()
        held, sized, made = optional("pumped", lambda: laid(lifts), first)
        if held is first[0]:
            missing[:0] = before
    barred = sized.barred
    plan = judged(_whole(held, made, barred, choices), made.site)
    others = optional(
        "layouts", lambda: weighed(held, sized, made, plan, missing, choices), Weighed(layouts=(), left=())
    )
    number = _chosen(choices, others.layouts)
    taken = next((one for one in others.layouts if one.layout.number == number), None)
    if taken is not None and taken.made is not made:
        made, barred = _other(held, made, taken), taken.barred
        plan = judged(_whole(held, made, barred, choices), made.site)
    plan = _with_mends(held, made, plan) if plan.own else plan
    plan = replace(
        plan,
        layouts=tuple(replace(one.layout, chosen=one.layout.number == number) for one in others.layouts),
        layouts_left=others.left,
        missing=tuple(missing),
        assumptions=(
            *(f"{missing_text(part)}." for part in missing),
            *(() if choices.choose is None else (f"Layout {number} was chosen among those weighed.",)),
            *plan.assumptions,
        ),
    )
    return plan_as_stored(plan_json(plan, made.site)), made.site


def _surveyed(folder: Path, stamp: str | None, asked: WhatIf, lifts: Mapping[str, Lift]) -> Surveyed:
    """What every layout starts from; `lifts` are sumps that are lifted by the plan's own choice."""
    from siteplan.ground.hollows import low_spots
    from siteplan.ground.runoff import runoff_surface
    from siteplan.proving import Surveyed
    from siteplan.routes.outlets import named_outlets
    from siteplan.survey.gathered import site_or_every_fault
    from siteplan.waterworks.inflows import inflows_told, inlet_flows
    from siteplan.waterworks.sizing import on_offer
    from siteplan.yard.pressed import with_expected_rates

    site = site_or_every_fault(Path(folder), asked, lifts)
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
    return Surveyed(
        site=site, pipe=pipe, surface=surface, spots=spots, inflows=inflows, inlet_notes=inlet_notes, stamp=stamp
    )


def _with_mends(held: Surveyed, made: Proven, plan: Plan) -> Plan:
    """The plan with what its drawn lines break and what mends them.

    Each change laid, proven and judged as the plan was.
    """
    from siteplan.proving import judged, plan_of, proven
    from siteplan.routes.outlets import named_outlets
    from siteplan.sheets.own_words import mends_text, own_text
    from siteplan.yard.own_lines import DrawnAmong
    from siteplan.yard.own_mends import with_mends

    def found(changed: tuple[Line, ...]) -> tuple[Finding, ...]:
        other = proven(held, LaidOut(lines=changed, outlets=made.outlets, candidates=(), notes=()))
        return judged(plan_of(held, other, (), ()), other.site).findings

    site = held.site
    given = DrawnAmong(site, named_outlets(site), held.spots, held.pipe, site.laying.prices)
    costs = {line.id: line.cost for line in plan.lines}  # at the site's own prices, whatever the layout was laid at
    own = tuple(
        replace(one, cost=math.fsum(costs[each.line] for each in one.drawn if each.line is not None))
        if one.cost is not None
        else one
        for one in plan.own
    )
    plan = replace(plan, own=own)
    own = optional("mends", lambda: with_mends(given, plan, made.laid.lines, found), own)
    told = _notes(lambda: own_text(own, plan.outlets, plan.sources, plan.length_unit))
    return replace(
        plan, own=own, assumptions=(*plan.assumptions, *told, *_notes(lambda: mends_text(own, plan.length_unit)))
    )


def _chosen(choices: ChoicesAsked, layouts: Sequence[OneLayout]) -> int:
    """Number of the layout to take; 0 where there are none and none was asked for."""
    from siteplan.layouts import usual

    if choices.choose is None:
        return usual(layouts)
    if not any(one.layout.number == choices.choose for one in layouts):
        there = f"the layouts are 1 to {len(layouts)}" if len(layouts) > 1 else "there is no other layout to choose"
        raise InputError(
            "--choose", f"there is no layout {choices.choose}: {there}", "Plan without --choose to see them."
        )
    return choices.choose


def _other(held: Surveyed, plain: Proven, taken: OneLayout) -> Proven:
    """A layout that was chosen, with the ways weighed for the site as surveyed."""
    from siteplan.routes.outlets import named_outlets
    from siteplan.yard.as_written import outlets_as_written
    from siteplan.yard.layouts import as_candidates, missed_ways

    named = outlets_as_written(named_outlets(held.site))
    mine = {one.id for one in named}
    laid = replace(
        taken.made.laid,
        candidates=as_candidates(plain.laid, taken.made.laid, named, [one.id for one in held.site.sources]),
        missed=missed_ways(plain.laid, taken.made.laid, named),
        search=(),  # its bound and its reasons are of the yard that this layout was laid for
        sharing=(),
    )
    outlets = (*named, *(one for one in taken.made.outlets if one.id not in mine))
    return replace(taken.made, laid=laid, outlets=outlets)


def _whole(held: Surveyed, made: Proven, barred: tuple[BarredSize, ...], choices: ChoicesAsked) -> Plan:
    """The plan of a layout with all that stands beside it, not judged yet."""
    from siteplan.ground.hollows import assumptions as ground_assumptions
    from siteplan.proving import candidates_of, plan_of
    from siteplan.sheets.search_words import search_text
    from siteplan.sheets.wording import what_if_text
    from siteplan.trench.quantities import quantities_of
    from siteplan.trench.reaches import pipe_assumptions
    from siteplan.waterworks.sizing import unweighed_notes
    from siteplan.yard.cures import attempts_of
    from siteplan.yard.doubts import with_ends_fall

    site, pipe, lines, outlets, water = made.site, held.pipe, made.lines, made.outlets, made.water
    listed = candidates_of(held, made)
    candidates = optional("chances", lambda: with_ends_fall(listed, site, outlets, pipe, lines), listed)
    attempts = optional(
        "attempts",
        lambda: attempts_of(site, outlets, made.spots, pipe, candidates, lines, made.laid.missed, _weigher(held, made)),
        (),
    )
    asked = site.what_if
    assumptions = (
        *((f"What if: {what_if_text(asked)}. Not the site as surveyed.",) if asked else ()),
        *site.assumptions,
        (
            f"Pipe: {units.size_text(pipe.nominal, pipe.od, site.length_unit)} {pipe.title}, its top "
            f"{units.length_text(pipe.rise, site.length_unit, 3)} above the invert, unless a line's flow asks for "
            "more."
        ),
        *(() if water is None else (f"Rain: {water.rain}.", f"Capacity: {water.basis}.")),
        *held.inlet_notes,
        *_notes(lambda: unweighed_notes(site, lines)),
        *(() if water is None else water.notes),
        *(f"{outlet.name}: {outlet.basis}." for outlet in outlets),
        *_notes(lambda: ground_assumptions(site)),
        "Stations run from the outlet (0) upstream; lengths are in plan.",
        "Routes are ranked by relative prices of our own (docs/costs.md), not money.",
        *_notes(lambda: _margin_note(site)),
        *_notes(lambda: search_text(made.laid.search)),
        *made.laid.notes,
        *(f"{note}." for note in made.pressed_notes),
        *_notes(lambda: pipe_assumptions(site, lines)),
    )
    return replace(
        plan_of(held, made, candidates, barred),
        assumptions=assumptions,
        cautions=cautions(site.length_unit, pumped=bool(made.pressed)),
        reach_note=_notes(lambda: _longest_reach(site, pipe)),
        attempts=attempts,
        quantities=optional("quantities", lambda: quantities_of(site, (*lines, *made.pressed), outlets), ()),
        choices_asked=choices,
    )


def _weigher(held: Surveyed, made: Proven) -> Callable[[Site, Outlet, Line | None], tuple[str, ...]]:
    """What a changed plan breaks of the rules on its water that the plan as it is does not.

    A line to an outlet beside its own, or a lift.
    """
    from siteplan.books import rules
    from siteplan.proving import judged, plan_of, proven

    water = frozenset(
        one.id
        for one in (
            rules.WEAKEST_LINK,
            rules.CURB_CONCRETE,
            rules.CURB_HOLE,
            rules.OUTLET_TAKES,
            rules.TIE_IN_SIZE,
            rules.TIE_IN_TAKES,
        )
    )

    def fails(site: Site, outlets: tuple[Outlet, ...], lines: tuple[Line, ...]) -> frozenset[tuple[str, str, str]]:
        other = proven(replace(held, site=site), LaidOut(lines=lines, outlets=outlets, candidates=(), notes=()))
        found = judged(plan_of(replace(held, site=site), other, (), ()), other.site).findings
        return frozenset((one.rule, one.subject, one.message) for one in found if one.status == "fail")

    @functools.cache
    def before() -> frozenset[tuple[str, str, str]]:
        return fails(made.site, made.laid.outlets, made.laid.lines)

    def weigh(site: Site, outlet: Outlet, line: Line | None) -> tuple[str, ...]:
        outlets = (*(one for one in made.laid.outlets if one.id != outlet.id), outlet)
        more = () if line is None else (replace(line, id=f"L{len(made.laid.lines) + 1}"),)
        after = fails(site, outlets, (*made.laid.lines, *more))
        return tuple(sorted({rule for rule, *_ in after - before() if rule in water}))

    return weigh


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
        (
            f"Where there is fall to spare for it, lines lie {deeper} deeper than least cover asks: "
            f"{100 * certainty:g} % sure of the survey ([trench] certainty)."
        ),
    )
