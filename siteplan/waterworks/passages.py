"""A line, its outlet and its flow in.

Every place its water must pass, the weakest of them, and the water outside, out.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from siteplan import units
from siteplan.books.kinds import SOURCES, Flow, at_curb, into_pipe
from siteplan.books.practice import LEADER_SHARE, POPUP_LIFT, SAME_SIZE
from siteplan.books.rules import CURB_CONCRETE, CURB_HOLE, OUTLET_ZONE, needed
from siteplan.site import Site
from siteplan.values.flows_worked import WeakLink
from siteplan.values.lines import Line
from siteplan.values.water_ends import Inflows, Outlet
from siteplan.water.capacity import full_flow
from siteplan.water.curb import concrete_left, curb_holes, holes_for
from siteplan.water.links import leader_flow, outlet_funnel_flow, popup_level, submerged_outlet
from siteplan.waterworks.carried import FlowNetwork, Piece


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
            flow = comes_to(outlet.id, lines, net)
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
    site: Site,
    inflows: Inflows,
    line: Line,
    lines: Sequence[Line],
    outlet: Outlet | None,
    net: FlowNetwork,
    tails: Mapping[str, float],
    rim: float | None,
) -> tuple[tuple[WeakLink, ...], WeakLink | None]:
    """Every place that a line's water must pass, tightest first, and the weakest.

    Parameters
    ----------
    site : Site
        For diameters, curb heights and rims.
    inflows : Inflows
        What its sources bring.
    line : Line
        As laid.
    lines : sequence of Line
        All lines, for what else comes to its outlet.
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
        text = (
            f"{units.size_text(tight.pipe.nominal, tight.pipe.od, unit)} at {units.grade_text(tight.run.grade)} "
            f"passes {units.flow_text(full[tight.run.id], unit)} flowing full"
        )
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
    links += _at_start(site, inflows, line, net, rim)
    if outlet is not None and pieces:
        links += _at_outlet(site, line, lines, outlet, net, tails)
    ordered = sorted(links, key=lambda link: (link.capacity is None, -_load(link), link.capacity or 0.0, link.kind))
    return tuple(ordered), ordered[0] if ordered and ordered[0].capacity is not None else None


def _load(link: WeakLink) -> float:
    return 0.0 if link.flow is None or not link.capacity else link.flow / link.capacity


def _at_start(site: Site, inflows: Inflows, line: Line, net: FlowNetwork, rim: float | None) -> list[WeakLink]:
    source = next((source for source in site.sources if source.id == line.start), None)
    pieces = net.of_line(line.id)
    if source is None or SOURCES[source.kind].flow is not Flow.ROOF or not pieces:
        return []
    unit, top = site.length_unit, pieces[-1].run
    links = []
    width = site.told_of(source).get("diameter")
    if width is not None:
        passes = leader_flow(float(width), LEADER_SHARE)
        text = (
            f"a round leader of {units.length_text(float(width), unit)} passes {units.flow_text(passes, unit)} "
            "with water on 7/24 of its area"
        )
        links.append(
            WeakLink(
                kind="leader",
                name=source.name,
                flow=inflows.of(source.id),
                capacity=passes,
                tail_water=None,
                statement=text,
            )
        )
    head = (rim or 0.0) - (top.invert_up + top.bore)
    if head > 0:
        passes = outlet_funnel_flow(top.bore, head)
        text = (
            f"an open adaptor of the pipe's bore passes {units.flow_text(passes, unit)} under the "
            f"{units.length_text(head, unit)} from the top of pipe to the rim"
        )
        links.append(
            WeakLink(
                kind="downspout adaptor",
                name=source.name,
                flow=inflows.of(source.id),
                capacity=passes,
                tail_water=None,
                statement=text,
            )
        )
    return links


def comes_to(outlet: str, lines: Sequence[Line], net: FlowNetwork) -> float | None:
    """What all lines that end at an outlet bring there.

    Parameters
    ----------
    outlet : str
        Its id.
    lines : sequence of Line
        As laid.
    net : FlowNetwork
        For the flows.

    Returns
    -------
    float or None
        Sum of the flows of their lowest runs [m3/s]; None where one of them is not known.
    """
    flows = [net.flows[net.roots[line.id]] for line in lines if line.end == outlet and line.id in net.roots]
    known = [flow for flow in flows if flow is not None]
    return math.fsum(known) if len(known) == len(flows) else None


def _at_outlet(
    site: Site, line: Line, lines: Sequence[Line], outlet: Outlet, net: FlowNetwork, tails: Mapping[str, float]
) -> list[WeakLink]:
    unit, root = site.length_unit, net.roots[line.id]
    lowest = next(piece for piece in net.pieces if piece.run.id == root)
    run, told, flow = lowest.run, site.told_of(outlet), comes_to(outlet.id, lines, net)
    links = []
    narrow = float(told["diameter"]) if "diameter" in told else run.bore
    if into_pipe(outlet.kind):
        links += _old_pipe(site, outlet, flow)
    elif at_curb(outlet.kind):
        links += _through_curb(site, line, lines, outlet, net)
    elif run.grade > 0 and narrow < run.bore:
        passes = full_flow(narrow, run.grade, run.roughness)
        text = (
            f"{units.length_text(narrow, unit)} inside passes {units.flow_text(passes, unit)} "
            f"full{_pool(site, narrow, lowest)}"
        )
        links.append(
            WeakLink(kind="reducer", name=outlet.name, flow=flow, capacity=passes, tail_water=None, statement=text)
        )
    rim = popup_at(site, outlet)
    if rim is not None:
        text = (
            f"pop-up: the line stands at its rim, {units.length_text(rim, site.elevation_unit)}, before any water "
            "leaves"
        )
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


def _old_pipe(site: Site, outlet: Outlet, flow: float | None) -> list[WeakLink]:
    """What an old pipe can still take."""
    if outlet.takes is None:
        text = "what the old pipe can still take is not given: ask its owner"
    else:
        text = f"the old pipe can still take {units.flow_text(outlet.takes, site.length_unit)}"
    return [
        WeakLink(kind="old pipe", name=outlet.name, flow=flow, capacity=outlet.takes, tail_water=None, statement=text)
    ]


def _pool(site: Site, narrow: float, lowest: Piece) -> str:
    """What a concentric reducer at the end of a line would leave standing; nothing where the end is no narrower."""
    run = lowest.run
    if narrow >= run.bore * (1 - SAME_SIZE) or run.grade <= 0:
        return ""
    pool = units.length_text((run.bore - narrow) / 2 / run.grade, site.length_unit, 1)
    return f"; a concentric reducer before it would leave {pool} of line standing, a flat-bottom one does not"


def _through_curb(site: Site, line: Line, lines: Sequence[Line], outlet: Outlet, net: FlowNetwork) -> list[WeakLink]:
    """The holes that a line's water goes through at a curb, with the other lines whose water does."""
    unit, told, piece = site.length_unit, site.told_of(outlet), line.curb_piece
    ends = [one for one in lines if one.end == outlet.id and one.id in net.roots]
    each = len(ends) > 1 and int(told.get("holes", 1)) == len(ends)
    whose = [line] if each else ends
    # a hole through a curb is inches long: a last steep piece before it is not its grade
    grade = min(_zone_grade(site, net, one) for one in whose)
    if grade <= 0:
        return []
    lowest = net.of_line(line.id)[0]
    pipe = lowest.pipe if piece is None else piece.pipe
    narrow = min(float(told.get("diameter", pipe.bore)), pipe.bore)
    passes_each = full_flow(narrow, grade, lowest.run.roughness)
    number = holes_for(told.get("holes"), len(ends)) if piece is None else piece.number
    flow = net.flows[net.roots[line.id]] if each else comes_to(outlet.id, lines, net)
    together = ", ".join(one.id for one in whose)
    size = units.length_text(narrow, unit)
    text = (
        f"{f'{number} times ' if number > 1 else ''}{size} inside passes "
        f"{units.flow_text(number * passes_each, unit)} full"
    )
    text += f", for {together} together" if len(whose) > 1 else ""
    text += "" if piece is not None and piece.fitting == "box" else _pool(site, narrow, lowest)
    wide, bottom = narrow + (pipe.od - pipe.bore), lowest.run.invert_down - pipe.below
    left = _concrete(site, outlet, wide, bottom)
    capacity: float | None = number * passes_each
    if left is None:
        text += "; curb height not given, so the concrete over the hole is not known"
    elif left + float(told.get("curb_height_doubt", 0.0)) < (site.rules[CURB_CONCRETE.id].limit or 0.0):
        # what would pass a hole that the face does not take is none to count on
        capacity = None
        text = (
            f"a hole of {size} inside leaves {units.length_text(left, unit)} of concrete over it, too little: "
            "what the face takes is said in the findings"
        )
    else:
        needed_here, fitting = _how_many(site, outlet, flow, passes_each, wide)
        text += (
            f"; {needed_here} hole{'s' if needed_here > 1 else ''} needed, {fitting} fit the curb as drawn, "
            f"{units.length_text(left, unit)} of concrete left over each"
        )
    return [WeakLink(kind="curb hole", name=outlet.name, flow=flow, capacity=capacity, tail_water=None, statement=text)]


def _zone_grade(site: Site, net: FlowNetwork, line: Line) -> float:
    """The least grade of a line inside its outlet zone."""
    zone = needed(site.rules, OUTLET_ZONE)
    return min(piece.run.grade for piece in net.of_line(line.id) if piece.station_from <= zone)


def _concrete(site: Site, outlet: Outlet, high: float, bottom: float) -> float | None:
    """Concrete left over a hole of a height, its bottom at an elevation [m]; None where the face is not known."""
    height = site.told_of(outlet).get("curb_height")
    if height is None:
        return None
    lift = max(bottom - (outlet.control - (site.rules["curb-allowance"].limit or 0.0)), 0.0)
    return concrete_left(float(height), high, lift=lift)


def _how_many(site: Site, outlet: Outlet, flow: float | None, each: float, wide: float) -> tuple[int, int]:
    """How many holes the flow asks for, and how many fit the curb as drawn."""
    from shapely.geometry import Point

    curbs = [one.geometry for one in site.of_kind("curb")]
    length = min(curbs, key=lambda one: one.distance(Point(outlet.x, outlet.y))).length if curbs else wide
    return curb_holes(flow or 0.0, each, wide=wide, curb_length=length, between=site.rules[CURB_HOLE.id].limit or 0.0)
