"""A line, its outlet and its flow in; every place its water must pass, the weakest of them, and the water outside, out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from siteplan import units
from siteplan.books.kinds import SOURCES, Flow, at_curb
from siteplan.books.practice import LEADER_SHARE, POPUP_LIFT
from siteplan.books.rules import CURB_CONCRETE, CURB_HOLE, OUTLET_ZONE, needed
from siteplan.site import Site
from siteplan.values import Line, Outlet, WeakLink
from siteplan.water.capacity import full_flow
from siteplan.water.curb import curb_holes
from siteplan.water.links import leader_flow, outlet_funnel_flow, popup_level, submerged_outlet
from siteplan.waterworks.carried import FlowNetwork


def popup_at(site: Site, outlet: Outlet | None) -> float | None:
    """The rim over which an outlet lets its water out.

    Parameters
    ----------
    site : Site
        For the outlet's `rim`.
    outlet : Outlet or None
        An outlet of the plan.

    Returns
    -------
    float or None
        Elevation [m]; None where the pipe ends openly.
    """
    if outlet is None:
        return None
    rim = site.told_of(outlet).get("rim")
    return None if rim is None else float(rim)


def tail_waters(
    site: Site, lines: Sequence[Line], outlets: Mapping[str, Outlet], net: FlowNetwork
) -> tuple[dict[str, float], list[str]]:
    """Water outside every outlet that has any: what the site gives, or what a pop-up's rim makes of the flow.

    Parameters
    ----------
    site : Site
        For `tail_water` and `rim` of outlets.
    lines : sequence of Line
        As laid.
    outlets : mapping of str to Outlet
        By id.
    net : Network
        For the flows.

    Returns
    -------
    tuple of dict and list of str
        Elevation by the outlet's run [m], and what was assumed.

    References
    ----------
    Pop-up: `siteplan.water.links.popup_level`.
    """
    tails: dict[str, float] = {}
    free: list[str] = []
    notes: list[str] = []
    for line in lines:
        root = net.roots.get(line.id)
        outlet = outlets.get(line.end)
        if root is None or outlet is None:
            continue
        told = site.told_of(outlet)
        levels = [float(told["tail_water"])] if "tail_water" in told else []
        rim = popup_at(site, outlet)
        if rim is not None:
            flow = net.flows[root]
            bore = next(piece.run.bore for piece in net.pieces if piece.run.id == root)
            levels.append(rim if flow is None else popup_level(rim, bore, flow, lid_lift=POPUP_LIFT))
            notes.append(
                f"{outlet.name}: its lid is taken to lift {units.length_text(POPUP_LIFT, site.length_unit)} (practice)."
            )
        if levels:
            tails[root] = max(levels)
        elif outlet.name not in free:
            free.append(outlet.name)
    if free:
        notes.append(
            f"No water is taken to stand outside {', '.join(free)}: give tail_water where a gutter or swale runs deep."
        )
    return tails, notes


def links_of(
    site: Site, line: Line, outlet: Outlet | None, net: FlowNetwork, tails: Mapping[str, float], rim: float | None
) -> tuple[tuple[WeakLink, ...], WeakLink | None]:
    """Every place that a line's water must pass, tightest first, and the weakest.

    Parameters
    ----------
    site : Site
        For diameters, curb heights and rims.
    line : Line
        As laid.
    outlet : Outlet or None
        None: it joins another line.
    net : Network
        For runs and flows.
    tails : mapping of str to float
        Water outside by the outlet's run [m].
    rim : float or None
        Where water comes out at its start [m].

    Returns
    -------
    tuple
        Links by flow over capacity, greatest first, those without capacity last; and the first of them.

    References
    ----------
    Each link's formula stands in `siteplan.water.links` and `siteplan.water.curb`.
    """
    unit = site.length_unit
    pieces = net.of_line(line.id)
    links: list[WeakLink] = []
    falling = [piece for piece in pieces if piece.run.grade > 0]
    if falling:
        full = {piece.run.id: full_flow(piece.run.bore, piece.run.grade, piece.run.roughness) for piece in falling}
        tight = max(
            falling, key=lambda piece: ((net.flows[piece.run.id] or 0.0) / full[piece.run.id], -full[piece.run.id])
        )
        where = f"{units.station_text(tight.station_from, unit)} to {units.station_text(tight.station_to, unit)}"
        text = f"{tight.pipe.nominal} at {units.grade_text(tight.run.grade)} passes {units.flow_text(full[tight.run.id], unit)} flowing full"
        links.append(
            WeakLink(
                kind="run",
                name=where,
                flow=net.flows[tight.run.id],
                capacity=full[tight.run.id],
                tail_water=None,
                statement=text,
            )
        )
    links += _at_start(site, line, net, rim)
    if outlet is not None and pieces:
        links += _at_outlet(site, outlet, net, pieces[0].run.id, tails)
    ordered = sorted(links, key=lambda link: (link.capacity is None, -_load(link), link.capacity or 0.0, link.kind))
    return tuple(ordered), ordered[0] if ordered and ordered[0].capacity is not None else None


def _load(link: WeakLink) -> float:
    return 0.0 if link.flow is None or not link.capacity else link.flow / link.capacity


def _at_start(site: Site, line: Line, net: FlowNetwork, rim: float | None) -> list[WeakLink]:
    source = next((source for source in site.sources if source.id == line.start), None)
    pieces = net.of_line(line.id)
    if source is None or SOURCES[source.kind].flow is not Flow.ROOF or not pieces:
        return []
    unit, top = site.length_unit, pieces[-1].run
    links = []
    width = site.told_of(source).get("diameter")
    if width is not None:
        passes = leader_flow(float(width), LEADER_SHARE)
        text = f"a round leader of {units.length_text(float(width), unit)} passes {units.flow_text(passes, unit)} with water on 7/24 of its area"
        links.append(
            WeakLink(
                kind="leader", name=source.name, flow=source.flow, capacity=passes, tail_water=None, statement=text
            )
        )
    head = (rim or 0.0) - (top.invert_up + top.bore)
    if head > 0:
        passes = outlet_funnel_flow(top.bore, head)
        text = f"an open adaptor of the pipe's bore passes {units.flow_text(passes, unit)} under the {units.length_text(head, unit)} from the top of pipe to the rim"
        links.append(
            WeakLink(
                kind="downspout adaptor",
                name=source.name,
                flow=source.flow,
                capacity=passes,
                tail_water=None,
                statement=text,
            )
        )
    return links


def _at_outlet(site: Site, outlet: Outlet, net: FlowNetwork, root: str, tails: Mapping[str, float]) -> list[WeakLink]:
    unit = site.length_unit
    run = next(piece.run for piece in net.pieces if piece.run.id == root)
    pipe = next(piece.pipe for piece in net.pieces if piece.run.id == root)
    told, flow = site.told_of(outlet), net.flows[root]
    links = []
    narrow = float(told["diameter"]) if "diameter" in told else run.bore
    curb = at_curb(outlet.kind)
    number = int(told.get("holes", 1)) if curb else 1
    # a hole through a curb is inches long: a last steep piece before it is not its grade
    grade = _zone_grade(site, net, root) if curb else run.grade
    if grade > 0 and (narrow < run.bore or curb):
        each = full_flow(min(narrow, run.bore), grade, run.roughness)
        passes = number * each
        kind = "curb hole" if curb else "reducer"
        several = f"{number} times " if number > 1 else ""
        text = f"{several}{units.length_text(min(narrow, run.bore), unit)} inside passes {units.flow_text(passes, unit)} full"
        if narrow < run.bore * (1 - 1e-9) and run.grade > 0:
            pool = (run.bore - narrow) / 2 / run.grade
            text += f"; a concentric reducer before it would leave {units.length_text(pool, unit, 1)} of line standing, a flat-bottom one does not"
        if at_curb(outlet.kind):
            text += _holes(
                site, outlet, flow, each, min(narrow, pipe.bore) + (pipe.od - pipe.bore), run.invert_down - pipe.below
            )
        links.append(WeakLink(kind=kind, name=outlet.name, flow=flow, capacity=passes, tail_water=None, statement=text))
    rim = popup_at(site, outlet)
    if rim is not None:
        text = f"pop-up: the line stands at its rim, {units.length_text(rim, site.elevation_unit)}, before any water leaves"
        links.append(
            WeakLink(
                kind="pop-up",
                name=outlet.name,
                flow=flow,
                capacity=None,
                tail_water=tails.get(root, rim),
                statement=text,
            )
        )
    if "tail_water" in told:
        link = submerged_outlet(outlet.name, run.invert_down, run.bore, float(told["tail_water"]), unit=unit)
        links.append(
            WeakLink(
                kind=link.kind,
                name=outlet.name,
                flow=flow,
                capacity=None,
                tail_water=link.tail_water,
                statement=link.statement,
            )
        )
    return links


def _zone_grade(site: Site, net: FlowNetwork, root: str) -> float:
    """The least grade of a line inside its outlet zone."""
    zone = needed(site.rules, OUTLET_ZONE)
    line = next(piece.line for piece in net.pieces if piece.run.id == root)
    return min(piece.run.grade for piece in net.of_line(line) if piece.station_from <= zone)


def _holes(site: Site, outlet: Outlet, flow: float | None, each: float, width: float, bottom: float) -> str:
    """How many holes the flow asks for, how many fit the curb, and the concrete over them."""
    from shapely.geometry import Point

    height = site.told_of(outlet).get("curb_height")
    if height is None:
        return "; curb height not given, so the concrete over the hole is not known"
    allowance = site.rules["curb-allowance"].limit or 0.0
    lift = max(bottom - (outlet.control - allowance), 0.0)
    curbs = [one.geometry for one in site.of_kind("curb")]
    length = min(curbs, key=lambda one: one.distance(Point(outlet.x, outlet.y))).length if curbs else width
    found = curb_holes(
        flow or 0.0,
        each,
        curb_height=float(height),
        opening_height=width,
        opening_width=width,
        curb_length=length,
        between=site.rules[CURB_HOLE.id].limit or 0.0,
        lift=lift,
    )
    left = units.length_text(found.concrete, site.length_unit)
    if found.concrete < (site.rules[CURB_CONCRETE.id].limit or 0.0):
        return f"; a hole for this pipe leaves {left} of concrete over it, too little: what the face takes is said in the findings"
    return f"; {found.needed} hole{'s' if found.needed > 1 else ''} needed, {found.fitting} fit the curb as drawn, {left} of concrete left over each"
