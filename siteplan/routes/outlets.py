"""Site in; outlets out: where a line may lawfully end, and the lowest invert it may end at there."""

from __future__ import annotations

import numpy as np

from siteplan import units
from siteplan.books import rules
from siteplan.books.kinds import OUTLET_KINDS, at_curb, into_pipe
from siteplan.books.pipes import smallest
from siteplan.books.practice import GUTTER_SEARCH
from siteplan.routes.gutters import flow_line_at, shown_by
from siteplan.site import Feature, Site, ground_near, heights
from siteplan.values.laid_pipe import Pipe
from siteplan.values.water_ends import Outlet

_KNOWN_WITHIN = 2.0  # m, as the survey asks of sources and outlets


def named_outlets(site: Site) -> tuple[Outlet, ...]:
    """Every outlet in play that the site names, with its control elevation.

    A curb outlet ends at the invert given, or above the gutter flow line by the curb allowance; the flow line is
    the lowest ground within 0.6 m when only a grid is known. A daylight outlet ends at the invert given, or above
    the ground at its face by the daylight allowance. A tie-in ends where the smallest pipe laid here is level with the
    old pipe at the share of both depths that the rules ask for; larger pipe may come in lower.

    Parameters
    ----------
    site : Site
        The surveyed site.

    Returns
    -------
    tuple of Outlet
        Ids O1, O2, ... in the order read; elevations [m].
    """
    features = [one for one in site.of_kind(*OUTLET_KINDS) if site.what_if.plays(one.name)]
    return tuple(_outlet(site, feature, number) for number, feature in enumerate(features, start=1))


def _outlet(site: Site, feature: Feature, number: int) -> Outlet:
    x, y = float(feature.geometry.x), float(feature.geometry.y)
    ground = _ground_at(site, x, y)
    given = feature.attributes.get("invert")
    unit = site.elevation_unit
    if into_pipe(feature.kind):
        control, basis = _join_level(site, feature)
    elif given is not None:
        control, basis = float(given), "invert given by the site"
    elif at_curb(feature.kind):
        allowance = rules.needed(site.rules, rules.CURB_ALLOWANCE)
        flow_line = flow_line_at(site, x, y, ground)
        control = flow_line + allowance
        basis = (
            f"gutter flow line taken as the lowest ground within {units.length_text(GUTTER_SEARCH, site.length_unit)} "
            f"({units.length_text(flow_line, unit)}) plus {units.length_text(allowance, unit)}; "
            f"{shown_by(site, x, y, flow_line)}"
        )
    else:
        allowance = rules.needed(site.rules, rules.DAYLIGHT_ALLOWANCE)
        control = ground + allowance
        basis = f"ground at the face ({units.length_text(ground, unit)}) plus {units.length_text(allowance, unit)}"
    return Outlet(
        id=f"O{number}",
        kind=feature.kind,
        name=feature.name,
        x=x,
        y=y,
        ground=ground,
        control=control,
        basis=basis,
        invert=None if given is None else float(given),
        note=str(feature.attributes.get("note", "")),
        size=feature.attributes.get("diameter") if into_pipe(feature.kind) else None,
        takes=feature.attributes.get("takes_flow"),
    )


def _join_level(site: Site, feature: Feature) -> tuple[float, str]:
    """Lowest invert at which the smallest pipe laid here comes into an old pipe, and how it is found."""
    given, bore = float(feature.attributes["invert"]), feature.attributes.get("diameter")
    unit, share = site.elevation_unit, rules.needed(site.rules, rules.TIE_IN_LEVEL)
    old = f"the old pipe's invert given by the site ({units.length_text(given, unit)})"
    if bore is None:
        return given, f"{old}; its diameter is not known, so the line may have to come in higher"
    laid = smallest(site.sizing.pipe, site.sizing.smallest, site.sizing.own_pipes)
    lift = share * max(0.0, float(bore) - laid.bore)
    level = units.size_text(laid.nominal, laid.od, site.length_unit)
    return (
        given + lift,
        f"{old} plus {units.length_text(lift, unit)}, where {level} pipe is level with it at {share:g} of the depth",
    )


def end_level(site: Site, outlet: Outlet, laid: Pipe) -> float:
    """The lowest invert at which a line in a given pipe may end at an outlet.

    Parameters
    ----------
    site : Site
        For the rules in force.
    outlet : Outlet
        Of the plan.
    laid : Pipe
        The line's.

    Returns
    -------
    float
        Elevation [m]: the outlet's own, or higher where smaller pipe than the smallest laid here comes into an old one.
    """
    if outlet.size is None or outlet.invert is None:
        return outlet.control
    share = rules.needed(site.rules, rules.TIE_IN_LEVEL)
    return max(outlet.control, outlet.invert + share * max(0.0, outlet.size - laid.bore))


def lowest_control(site: Site, outlet: Outlet) -> float:
    """The lowest invert that an outlet could have: what it pours on, and the rules' allowance over it.

    Parameters
    ----------
    site : Site
        The surveyed site.
    outlet : Outlet
        Of the plan.

    Returns
    -------
    float
        Elevation [m].
    """
    if into_pipe(outlet.kind):
        return outlet.control
    if at_curb(outlet.kind):
        return flow_line_at(site, outlet.x, outlet.y, outlet.ground) + rules.needed(site.rules, rules.CURB_ALLOWANCE)
    return outlet.ground + rules.needed(site.rules, rules.DAYLIGHT_ALLOWANCE)


def _ground_at(site: Site, x: float, y: float) -> float:
    here = heights(site.grid, np.array([x]), np.array([y]))[0]
    if np.isfinite(here):
        return float(here)
    near = ground_near(site.grid, x, y, _KNOWN_WITHIN)
    assert near is not None, "the survey refuses an outlet with no ground near it"
    return near[0]
