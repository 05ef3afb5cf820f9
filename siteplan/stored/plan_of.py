"""A parsed plan.json in; the Plan that it states out. Nothing in it is believed here, only read.

The planner's own sheets are made from what comes out of here, too: what they print is what plan.json says, digit for
digit, and a reviewer who makes them again has the same figures in hand.
"""

from __future__ import annotations

import json
import math
import statistics
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, cast, get_args

from siteplan import units
from siteplan.errors import InputError
from siteplan.stored.attempts_of import attempt
from siteplan.stored.ground_of import ground_of_record, pipe_of_record
from siteplan.stored.layouts_of import choices_asked, layout, layout_left
from siteplan.stored.own_of import own_lines_of
from siteplan.stored.pumped_of import pumped_of_record
from siteplan.stored.record_of import ANY, MEND, PLACE, PLAN_FILE, PlanRecord
from siteplan.stored.search_of import search_result, sharing
from siteplan.stored.water_of import flow_maybe, water_of_record
from siteplan.values.asked_for import NOTHING_ASKED, USUAL_CHOICES, InputFile, WhatIf
from siteplan.values.drawn_shapes import SHAPES, PlanFeature
from siteplan.values.forecasts import LineDoubt, LowSpot, WantedShot
from siteplan.values.laid_pipe import Fitting, FittingKind
from siteplan.values.lines import SHORT_OF, Crossing, Line, Margin, Passage, Row, ShortOf, Vertex
from siteplan.values.quantities_taken import QUANTITIES, Quantity, QuantityUnit, TakenSort
from siteplan.values.told import PARTS, BarredSize, Finding, MissingPart, OnLine, Status
from siteplan.values.tried import Candidate
from siteplan.values.water_ends import Inflows, Outlet, Source
from siteplan.values.whole_plan import Plan

FORMAT = "siteplan-plan"
VERSION = 1
_SPREAD = 2e4  # m: nothing of a lot's plan lies farther from its middle


def parsed(content: bytes) -> dict[str, Any]:
    """A plan.json as JSON.

    Parameters
    ----------
    content : bytes
        UTF-8, with or without a byte order mark.

    Returns
    -------
    dict
        As it stands.

    Raises
    ------
    InputError
        If it is no JSON, holds a key twice or a number that is none, or is no plan of ours.
    """
    try:
        record = json.loads(content.decode("utf-8-sig"), object_pairs_hook=_once, parse_constant=_no_number)
    except InputError:
        raise
    except (ValueError, RecursionError) as error:
        raise InputError(PLAN_FILE, "is no JSON that can be read", MEND) from error
    if not isinstance(record, dict) or record.get("format") != FORMAT:
        raise InputError(PLAN_FILE, f'is no plan of ours (its format is not "{FORMAT}")', MEND)
    if record.get("version") != VERSION:
        shown = str(record.get("version"))[:20]
        raise InputError(
            PLAN_FILE, f"has version {shown!r}; this program reads {VERSION}", "Use the program that wrote it."
        )
    return record


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in names if names.count(name) > 1)
        raise InputError(
            PLAN_FILE, f"holds {twice[:60]!r} twice in one record; readers would not agree on which counts", MEND
        )
    return found


def _no_number(text: str) -> float:
    raise InputError(PLAN_FILE, f"holds {text}, which is no number", MEND)


def stored_plan(record: Mapping[str, Any]) -> Plan:
    """The plan that a plan.json states.

    Parameters
    ----------
    record : mapping
        From `parsed`.

    Returns
    -------
    Plan
        SI; grounds that are not known are NaN.

    Raises
    ------
    InputError
        If a part cannot be read: which part.
    """
    top = PlanRecord(record, "")
    site = top.inside("site")
    lines = tuple(_line(one) for one in top.records("lines"))
    plan = Plan(
        site_name=site.text("name"),
        crs=site.text("crs"),
        length_unit=site.word("length_unit", units.SITE_UNITS, "m"),
        elevation_unit=site.word("elevation_unit", units.SITE_UNITS, "m"),
        accuracy=site.known("accuracy"),
        stamp=site.text_maybe("stamp"),
        inputs=tuple(InputFile(file=one.text("file"), sha256=one.text("sha256")) for one in site.records("inputs")),
        sources=tuple(_source(one) for one in top.records("sources")),
        inflows=_inflows(top.records("sources")),
        outlets=tuple(_outlet(one) for one in top.records("outlets")),
        lines=tuple(line for line in lines if line.pumped is None),
        pressed=tuple(line for line in lines if line.pumped is not None),
        low_spots=tuple(_low_spot(one) for one in top.records("low_spots")),
        candidates=tuple(_candidate(one) for one in top.records("candidates")),
        attempts=tuple(attempt(one) for one in top.records("attempts")) if top.get("attempts") is not None else (),
        findings=tuple(_finding(one) for one in top.records("checks")),
        assumptions=top.texts("assumptions"),
        cautions=top.texts("cautions"),
        reach_note=top.texts("reach_note") if top.get("reach_note") is not None else (),
        water=top.some("water", water_of_record),
        survey_crs=site.text_or("survey_crs"),
        survey_unit=site.text_or("survey_unit"),
        missing=tuple(_missing(one) for one in top.records("missing")) if top.get("missing") is not None else (),
        barred_sizes=tuple(_barred(one) for one in top.records("barred_sizes"))
        if top.get("barred_sizes") is not None
        else (),
        quantities=tuple(_quantity(one) for one in top.records("quantities"))
        if top.get("quantities") is not None
        else (),
        search=tuple(search_result(one) for one in top.records("search")) if top.get("search") is not None else (),
        features=tuple(_surveyed(one) for one in top.records("features")) if top.get("features") is not None else (),
        sharing=tuple(sharing(one) for one in top.records("sharing")) if top.get("sharing") is not None else (),
        own=tuple(own_lines_of(one) for one in top.records("own_lines")) if top.get("own_lines") is not None else (),
        what_if=_what_if(top.inside("what_if")) if top.get("what_if") is not None else NOTHING_ASKED,
        choices_asked=top.some("choices_asked", choices_asked) or USUAL_CHOICES,
        layouts=tuple(layout(one) for one in top.records("layouts")) if top.get("layouts") is not None else (),
        layouts_left=tuple(layout_left(one) for one in top.records("layouts_left"))
        if top.get("layouts_left") is not None
        else (),
    )
    _near_together(plan)
    return plan


_MOST_AMOUNT = 1e8  # m, m2, m3 or pieces; and what one of them may cost


def _quantity(one: PlanRecord) -> Quantity:
    what, unit = one.word("what", QUANTITIES), one.word("unit", get_args(QuantityUnit))
    onto = one.texts("onto") if one.get("onto") else ()
    return Quantity(
        what=next(name for name in QUANTITIES if name == what),
        kind=one.text("kind"),
        sort=TakenSort(
            pipe=one.text_or("pipe"),
            nominal=one.text_or("nominal"),
            angle=None if one.get("angle") is None else one.maybe("angle"),
            onto=(onto[0], onto[1]) if len(onto) == 2 else None,
            word=one.text_or("word"),
        ),
        amount=one.number("amount", _MOST_AMOUNT),
        unit=next(name for name in get_args(QuantityUnit) if name == unit),
        price=one.maybe("unit_price", _MOST_AMOUNT),
        basis=one.text("price_basis"),
    )


def _surveyed(one: PlanRecord) -> PlanFeature:
    shape = one.word("shape", SHAPES)
    return PlanFeature(
        kind=one.text("kind"),
        name=one.text("name"),
        shape=SHAPES[SHAPES.index(shape)],
        rings=one.rings("rings"),
        told=tuple((pair.text("key"), pair.scalar("value")) for pair in one.records("told")),
    )


def _what_if(one: PlanRecord) -> WhatIf:
    return WhatIf(
        without=one.texts("without"),
        only=one.texts("only"),
        settings=tuple((pair.text("key"), pair.text("value")) for pair in one.records("settings")),
    )


def _missing(one: PlanRecord) -> MissingPart:
    part = one.word("part", PARTS)
    return MissingPart(part=PARTS[PARTS.index(part)], subject=one.text("subject"), fault=one.text("fault"))


def _barred(one: PlanRecord) -> BarredSize:
    return BarredSize(
        line=one.text("line"),
        asked=one.text("asked"),
        laid=one.text("laid"),
        source=one.text("source"),
        outlet=one.text_maybe("outlet"),
        short_by=one.maybe("short_by"),
        reason=one.text_maybe("reason"),
    )


def plan_as_stored(content: bytes) -> Plan:
    """The plan that the bytes of a plan.json state.

    Parameters
    ----------
    content : bytes
        As written by `plan_json.plan_json`.

    Returns
    -------
    Plan
        Every figure as it is printed.
    """
    return stored_plan(parsed(content))


def _near_together(plan: Plan) -> None:
    """One place a thousand miles off would make a map of a thousand miles."""
    placed = [*_placed(plan)]
    if not placed:
        return
    middle = statistics.median(x for _, x, _ in placed), statistics.median(y for _, _, y in placed)
    where, x, y = max(placed, key=lambda one: math.dist(one[1:], middle))
    if math.dist((x, y), middle) > _SPREAD:
        raise InputError(
            f"{PLAN_FILE}, {where}", f"lies {math.dist((x, y), middle) / 1000:.0f} km from the rest of the plan", MEND
        )


def _placed(plan: Plan) -> Iterator[tuple[str, float, float]]:
    for number, source in enumerate(plan.sources, 1):
        yield f"sources {number}", source.x, source.y
    for number, outlet in enumerate(plan.outlets, 1):
        yield f"outlets {number}", outlet.x, outlet.y
    for number, line in enumerate(plan.every_line, 1):
        for part in ("vertices", "rows"):
            for k, one in enumerate(getattr(line, part), 1):
                yield f"lines {number} {'stations' if part == 'rows' else part} {k}", one.x, one.y
        for k, shot in enumerate(() if line.doubt is None else line.doubt.shots_wanted, 1):
            yield f"lines {number} shots_wanted {k}", shot.x, shot.y
    yield from _placed_beside(plan)
    for number, spot in enumerate(plan.low_spots, 1):
        for ring in spot.rings:
            for x, y in ring:
                yield f"low_spots {number}", x, y


def _placed_beside(plan: Plan) -> Iterator[tuple[str, float, float]]:
    """What is drawn and is no line of the plan."""
    for number, tried in enumerate(plan.attempts, 1):
        for k, place in enumerate(tried.line, 1):
            yield f"attempts {number} line {k}", place.x, place.y
    for number, each in enumerate(plan.layouts, 1):
        for k, end in enumerate(each.ends, 1):
            yield f"layouts {number} ends {k}", end.x, end.y
        for other in each.lines:
            for k, vertex in enumerate(other.vertices, 1):
                yield f"layouts {number} {other.id} vertices {k}", vertex.x, vertex.y


def _source(one: PlanRecord) -> Source:
    at = one.number("x", PLACE), one.number("y", PLACE), one.known("ground")
    lifted = None if one.get("lifted_to") is None else one.numbers("lifted_to", 3, PLACE)
    if lifted is not None and not all(math.isfinite(number) for number in (*lifted, *at)):
        raise one.fault("lifted_to", "is not 3 numbers that a plan can hold")
    x, y, ground = lifted or at
    return Source(
        id=one.text("id"),
        kind=one.text("kind"),
        name=one.text("name"),
        x=x,
        y=y,
        ground=ground,
        ground_known=one.yes("ground_known", other=True),
        invert_limit=one.maybe("invert_limit"),
        roof_area=one.maybe("roof_area", ANY),
        pump_rate=flow_maybe(one, "pump_rate_lps"),
        note=one.text_or("note"),
        pit=None if lifted is None else at,
    )


def _inflows(sources: Sequence[PlanRecord]) -> Inflows:
    flows = ((one.text("id"), flow_maybe(one, "flow_lps")) for one in sources)
    return Inflows(flows=tuple((name, flow) for name, flow in flows if flow is not None))


def _outlet(one: PlanRecord) -> Outlet:
    return Outlet(
        id=one.text("id"),
        kind=one.text("kind"),
        name=one.text("name"),
        x=one.number("x", PLACE),
        y=one.number("y", PLACE),
        ground=one.known("ground"),
        control=one.number("control"),
        basis=one.text_or("basis"),
        invert=one.maybe("invert"),
        found=one.yes("found", other=False),
        note=one.text_or("note"),
        size=one.maybe("size_m"),
        takes=flow_maybe(one, "takes_lps"),
    )


def _line(one: PlanRecord) -> Line:
    vertices = tuple(_vertex(item) for item in one.records("vertices"))
    if len(vertices) < 2:
        raise one.fault("vertices", "are fewer than two")
    return Line(
        id=one.text("id"),
        sources=one.texts("sources"),
        start=one.text("from"),
        end=one.text("to"),
        pipe=pipe_of_record(one.inside("pipe")),
        vertices=vertices,
        rows=tuple(_row(item) for item in one.records("stations")),
        crossings=tuple(_crossing(item) for item in one.records("crossings")),
        low_spots=tuple(
            Passage(id=item.text("id"), station_from=item.number("station_from"), station_to=item.number("station_to"))
            for item in one.records("low_spots")
        ),
        spare=one.known("spare"),
        binding=one.text_or("binding"),
        cost=one.known("cost", ANY),
        doubt=one.some("doubt", _doubt),
        own=one.yes("own", other=False),
        pumped=one.some("pumped", pumped_of_record),
        margins=tuple(_margin(item) for item in one.records("margins")) if one.get("margins") is not None else (),
        **ground_of_record(one),
    )


def _margin(one: PlanRecord) -> Margin:
    by = {"m": 1.0, "percent": 0.01}[one.word("unit", ("m", "percent"))]
    short = one.text_maybe("short_of")
    return Margin(
        rule=one.text("rule"),
        held=one.number("held") * by,
        asked=one.number("asked") * by,
        cost=one.number("cost", ANY),
        station=one.maybe("station"),
        short_of=None if short is None else cast("ShortOf", one.word("short_of", SHORT_OF)),
    )


def _doubt(one: PlanRecord) -> LineDoubt:
    return LineDoubt(
        fall=one.number("fall"),
        ends=one.number("ends"),
        grade=one.number("grade_percent", ANY) / 100,
        chance_min_grade=one.number("chance_min_grade"),
        chance_falls=one.number("chance_falls"),
        method=one.text("method"),
        shots_wanted=tuple(
            WantedShot(
                x=shot.number("x", PLACE),
                y=shot.number("y", PLACE),
                place=shot.text("place"),
                chance_min_grade=shot.number("chance_min_grade"),
                fall=shot.number("fall"),
            )
            for shot in one.records("shots_wanted")
        ),
    )


def _vertex(one: PlanRecord) -> Vertex:
    return Vertex(
        x=one.number("x", PLACE),
        y=one.number("y", PLACE),
        station=one.number("station"),
        invert=one.number("invert"),
        ground=one.known("ground"),
        bend=one.maybe("bend_deg") or 0.0,
        fittings=tuple(
            Fitting(kind=FittingKind(item.word("kind", [*FittingKind])), angle=item.maybe("angle_deg"))
            for item in one.records("fittings")
        ),
    )


def _row(one: PlanRecord) -> Row:
    return Row(
        station=one.number("station"),
        x=one.number("x", PLACE),
        y=one.number("y", PLACE),
        ground=one.known("ground"),
        invert=one.number("invert"),
        cut=one.known("cut"),
        cover=one.known("cover"),
        grade=one.known("grade_percent", ANY) / 100,
        note=one.text_or("note"),
        pipe_top=one.maybe("pipe_top"),
        ground_doubt=one.maybe("ground_doubt"),
    )


def _crossing(one: PlanRecord) -> Crossing:
    return Crossing(
        kind=one.text("kind"),
        name=one.text("name"),
        station_from=one.number("station_from"),
        station_to=one.number("station_to"),
        angle=one.known("angle_deg"),
        cover_from=one.known("cover_from"),
        cover_to=one.known("cover_to"),
        cover_min=one.known("cover_min"),
        sleeve=one.text_maybe("sleeve"),
        depth=one.maybe("depth"),
        service=one.text_or("service"),
        hand_dig=one.maybe("hand_dig"),
    )


def _low_spot(one: PlanRecord) -> LowSpot:
    spill = None if one.get("spill") is None else one.numbers("spill", 2, PLACE)
    return LowSpot(
        id=one.text("id"),
        kind=one.text_or("kind", "hollow"),
        depth=one.known("depth"),
        area=one.known("area", ANY),
        volume=one.known("volume", ANY),
        spill_elevation=one.maybe("spill_elevation"),
        spill=None if spill is None else (spill[0], spill[1]),
        catchment=one.maybe("catchment", ANY),
        certain=one.yes("certain", other=True),
        rings=one.rings("polygon"),
    )


def _candidate(one: PlanRecord) -> Candidate:
    return Candidate(
        sources=(one.text("source"),) if one.get("source") is not None else one.texts("group"),
        outlet=one.text("outlet"),
        feasible=one.yes("feasible", other=False),
        fall_available=one.maybe("fall_available"),
        fall_needed=one.maybe("fall_needed"),
        margin=one.maybe("margin"),
        length=one.maybe("length"),
        cost=one.maybe("cost", ANY),
        chosen=one.yes("chosen", other=False),
        reason=one.text_maybe("reason"),
        ends_fall=one.maybe("ends_fall"),
        doubt=one.maybe("doubt"),
        chance=one.maybe("chance"),
    )


def _finding(one: PlanRecord) -> Finding:
    stored = one.word("status", ("pass", "flag", "fail"))
    status: Status = "fail" if stored == "fail" else "flag" if stored == "flag" else "pass"
    return Finding(
        rule=one.text("rule"),
        subject=one.text("subject"),
        value=one.maybe("value", ANY),
        limit=one.maybe("limit", ANY),
        unit=one.text_or("unit"),
        doubt=one.maybe("doubt", ANY),
        status=status,
        where=one.text_or("where"),
        message=one.text_or("message"),
        place=_place(one),
    )


def _place(one: PlanRecord) -> OnLine | None:
    """None too in a plan that was written before findings carried theirs."""
    if one.get("place") is None:
        return None
    at = one.inside("place")
    return OnLine(line=at.text("line"), station_from=at.number("from"), station_to=at.number("to"))
