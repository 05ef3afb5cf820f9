"""Plan and Site in; the bytes of plan.json out, with the names that the contract fixes.

Metres, grades in percent, flows in litres a second. Lengths, limits and figures are written to a micrometre: a
reviewer works grades out again from inverts a foot apart. Rings of low spots are written to 0.1 mm. A number that
is not known is null; one that must be known and is not stops the writing.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping
from typing import Any

from siteplan.books.fittings import fitting_words
from siteplan.books.rules import MIN_GRADE, InForce, outward
from siteplan.sheets.choice_words import asked_record, layout_record, left_record
from siteplan.sheets.coordinates import survey_places, survey_system
from siteplan.sheets.cure_words import attempt_record
from siteplan.sheets.doubt_words import doubt_record, shots_wanted_words
from siteplan.sheets.ground_json import ground_json
from siteplan.sheets.own_json import own_json
from siteplan.sheets.pumped_json import pumped_record
from siteplan.sheets.states import line_state
from siteplan.sheets.water_json import water_json
from siteplan.site import Site
from siteplan.stored.plan_of import FORMAT, VERSION
from siteplan.units import LITRE
from siteplan.values.drawn_shapes import PlanFeature
from siteplan.values.forecasts import LowSpot
from siteplan.values.lines import Crossing, Line, Margin, Row, Vertex
from siteplan.values.told import Finding
from siteplan.values.tried import Candidate, SearchResult, Sharing
from siteplan.values.water_ends import Outlet, Source
from siteplan.values.whole_plan import Plan

LENGTH_DIGITS = 6
_RING_DIGITS = 4
FINE_DIGITS = 6
PIPE_DIGITS = 9  # a book gives thousandths of an inch
GAP_DIGITS = 4  # percent
SURVEY_DIGITS = 9  # a survey may stand in degrees


def plan_json(plan: Plan, site: Site) -> bytes:
    """The plan as others read it.

    Parameters
    ----------
    plan : Plan
        The plan.
    site : Site
        The site it was made from, for the rules in force.

    Returns
    -------
    bytes
        UTF-8, one record a line, a newline at the end; the same for the same input.

    Raises
    ------
    ValueError
        If a coordinate, station or invert is no finite number.
    """
    system = survey_system(plan)
    record = {
        "format": FORMAT,
        "version": VERSION,
        "site": {
            "name": plan.site_name,
            "crs": plan.crs,
            "unit": "m",
            "survey_crs": system.crs,
            "survey_unit": system.unit,
            "length_unit": plan.length_unit,
            "elevation_unit": plan.elevation_unit,
            "accuracy": _fine(plan.accuracy),
            "stamp": plan.stamp,
            "inputs": [{"file": entry.file, "sha256": entry.sha256} for entry in plan.inputs],
        },
        "rules": [rule_record(entry) for entry in site.rules.values()],
        "sources": [_source(source, plan.inflows.of(source.id)) for source in plan.sources],
        "outlets": [_outlet(outlet) for outlet in plan.outlets],
        "features": [_surveyed(feature) for feature in plan.features],
        "own_pipes": {label: dict(table) for label, table in site.laying.own_pipes.items()},
        "lines": [_line(plan, line) for line in plan.every_line],
        "low_spots": [_low_spot(spot) for spot in plan.low_spots],
        "water": water_json(plan.water),
        "candidates": [_candidate(candidate) for candidate in plan.candidates],
        "attempts": [attempt_record(plan, attempt) for attempt in plan.attempts],
        "checks": [_check(finding) for finding in plan.findings],
        "missing": [{"part": one.part, "subject": one.subject, "fault": one.fault} for one in plan.missing],
        "barred_sizes": [
            {
                "line": one.line,
                "asked": one.asked,
                "laid": one.laid,
                "source": one.source,
                "outlet": one.outlet,
                "short_by": _may(one.short_by),
                "reason": one.reason,
            }
            for one in plan.barred_sizes
        ],
        "quantities": [
            {
                "what": one.what,
                "kind": one.kind,
                "pipe": one.sort.pipe,
                "nominal": one.sort.nominal,
                "angle": _may(one.sort.angle),
                "onto": list(one.sort.onto or ()),
                "word": one.sort.word,
                "amount": _must(one.amount, 3),
                "unit": one.unit,
                "unit_price": _may(one.price),
                "price_basis": one.basis,
            }
            for one in plan.quantities
        ],
        "search": [_search(one) for one in plan.search],
        "sharing": [_sharing(one) for one in plan.sharing],
        "own_lines": [own_json(one) for one in plan.own],
        "what_if": {
            "without": list(plan.what_if.without),
            "only": list(plan.what_if.only),
            "settings": [{"key": key, "value": value} for key, value in plan.what_if.settings],
        },
        "choices_asked": asked_record(plan.choices_asked),
        "layouts": [layout_record(plan, one) for one in plan.layouts],
        "layouts_left": [left_record(plan, one) for one in plan.layouts_left],
        "assumptions": list(plan.assumptions),
        "cautions": list(plan.cautions),
        "reach_note": list(plan.reach_note),
        "shots_wanted": [
            {"line": line.id, "x": _must(shot.x), "y": _must(shot.y), "place": shot.place}
            for line, shot in shots_wanted_words(plan)
        ],
    }
    return _written(record)


def _must(value: float, digits: int = LENGTH_DIGITS) -> float:
    if not math.isfinite(value):
        raise ValueError(f"a figure of the plan is {value}, not a number")
    return round(float(value), digits) + 0.0  # + 0.0: never -0.0


def _may(value: float | None, digits: int = LENGTH_DIGITS) -> float | None:
    return None if value is None or not math.isfinite(value) else _must(value, digits)


def _fine(value: float | None) -> float | None:
    return _may(value, FINE_DIGITS)


def _flow(value: float | None) -> float | None:
    return None if value is None else _may(value / LITRE)


def rule_record(entry: InForce) -> dict[str, Any]:
    """A rule as plan.json states it.

    Parameters
    ----------
    entry : InForce
        Limit and source in force.

    Returns
    -------
    dict
        Limit in metres, percent or degrees, as its unit says.
    """
    limit, unit = outward(entry)
    return {
        "id": entry.rule.id,
        "title": entry.rule.title,
        "limit": _fine(limit),
        "unit": unit,
        "source": entry.source,
        "sense": entry.rule.sense,
        "authority": entry.rule.authority,
        "dated": entry.rule.dated,
        "broken": entry.rule.broken,
        "applies": entry.rule.applies,
        "caution": entry.rule.caution,
        "replaced": entry.replaced,
    }


def _source(source: Source, flow: float | None) -> dict[str, Any]:
    east, north, ground = source.pit or (source.x, source.y, source.ground)
    return {
        "id": source.id,
        "kind": source.kind,
        "name": source.name,
        "x": _must(east),
        "y": _must(north),
        "flow_lps": _flow(flow),
        "ground": _may(ground),
        "ground_known": source.ground_known,
        "invert_limit": _may(source.invert_limit),
        "roof_area": _may(source.roof_area),
        "pump_rate_lps": _flow(source.pump_rate),
        "note": source.note,
        "lifted_to": None if source.pit is None else [_must(source.x), _must(source.y), _must(source.ground)],
    }


def _surveyed(feature: PlanFeature) -> dict[str, Any]:
    return {
        "kind": feature.kind,
        "name": feature.name,
        "shape": feature.shape,
        "rings": [[[_must(x), _must(y)] for x, y in ring] for ring in feature.rings],
        "told": [
            {"key": key, "value": _fine(value) if isinstance(value, float) else value} for key, value in feature.told
        ],
    }


def _outlet(outlet: Outlet) -> dict[str, Any]:
    return {
        "id": outlet.id,
        "kind": outlet.kind,
        "name": outlet.name,
        "x": _must(outlet.x),
        "y": _must(outlet.y),
        "invert": _may(outlet.invert),
        "size_m": _may(outlet.size),
        "takes_lps": _flow(outlet.takes),
        "control": _must(outlet.control),
        "ground": _may(outlet.ground),
        "basis": outlet.basis,
        "found": outlet.found,
        "note": outlet.note,
    }


def _line(plan: Plan, line: Line) -> dict[str, Any]:
    pipe = line.pipe
    survey = survey_places(plan, [row.x for row in line.rows], [row.y for row in line.rows])
    return {
        "id": line.id,
        "sources": list(line.sources),
        "from": line.start,
        "to": line.end,
        "state": line_state(plan, line).state,
        "length": _must(line.length),
        "kind": "gravity" if line.pumped is None else "pressure",
        "pumped": pumped_record(line.pumped),
        "own": line.own,
        "spare": _may(line.spare),
        "binding": line.binding,
        "cost": _may(line.cost),
        "doubt": doubt_record(line.doubt),
        "margins": [margin_record(margin) for margin in line.margins],
        "pipe": {
            "kind": pipe.kind,
            "nominal": pipe.nominal,
            "od_m": _must(pipe.od, PIPE_DIGITS),
            "id_m": _must(pipe.bore, PIPE_DIGITS),
            "wall_m": _must(pipe.wall, PIPE_DIGITS),
            "manning_n": _may(pipe.roughness, PIPE_DIGITS),
            "title": pipe.title,
            "source": pipe.source,
        },
        "vertices": [_vertex(vertex) for vertex in line.vertices],
        "stations": [
            _row(row, east, north)
            for row, east, north in zip(line.rows, survey[0].tolist(), survey[1].tolist(), strict=True)
        ],
        "crossings": [_crossing(crossing) for crossing in line.crossings],
        "low_spots": [
            {"id": passage.id, "station_from": _must(passage.station_from), "station_to": _must(passage.station_to)}
            for passage in line.low_spots
        ],
        **ground_json(line),
    }


def margin_record(margin: Margin) -> dict[str, Any]:
    """A margin as plan.json states it.

    Parameters
    ----------
    margin : Margin
        Of a line.

    Returns
    -------
    dict
        In metres, of grades in percent.
    """
    grade = margin.rule == MIN_GRADE.id
    by = 100 if grade else 1
    return {
        "rule": margin.rule,
        "held": _must(margin.held * by),
        "asked": _must(margin.asked * by),
        "unit": "percent" if grade else "m",
        "cost": _must(margin.cost),
        "station": _may(margin.station),
        "short_of": margin.short_of,
    }


def _vertex(vertex: Vertex) -> dict[str, Any]:
    return {
        "x": _must(vertex.x),
        "y": _must(vertex.y),
        "station": _must(vertex.station),
        "invert": _must(vertex.invert),
        "ground": _may(vertex.ground),
        "bend_deg": _may(vertex.bend),
        "fitting": fitting_words(vertex.fittings),
        "fittings": [{"kind": one.kind.value, "angle_deg": _may(one.angle)} for one in vertex.fittings],
    }


def _row(row: Row, east: float, north: float) -> dict[str, Any]:
    return {
        "station": _must(row.station),
        "x": _must(row.x),
        "y": _must(row.y),
        "survey_x": _must(east, SURVEY_DIGITS),
        "survey_y": _must(north, SURVEY_DIGITS),
        "ground": _may(row.ground),
        "invert": _must(row.invert),
        "cut": _may(row.cut),
        "cover": _may(row.cover),
        "pipe_top": None if row.pipe_top is None else _may(row.pipe_top),
        "grade_percent": _may(row.grade * 100),
        "note": row.note,
        "ground_doubt": _fine(row.ground_doubt),
    }


def _crossing(crossing: Crossing) -> dict[str, Any]:
    return {
        "kind": crossing.kind,
        "name": crossing.name,
        "station_from": _must(crossing.station_from),
        "station_to": _must(crossing.station_to),
        "angle_deg": _may(crossing.angle),
        "cover_min": _may(crossing.cover_min),
        "cover_from": _may(crossing.cover_from),
        "cover_to": _may(crossing.cover_to),
        "sleeve": crossing.sleeve,
        "depth": _may(crossing.depth),
        "service": crossing.service,
        "hand_dig": _may(crossing.hand_dig),
    }


def _low_spot(spot: LowSpot) -> dict[str, Any]:
    return {
        "id": spot.id,
        "kind": spot.kind,
        "depth": _may(spot.depth),
        "area": _may(spot.area),
        "volume": _may(spot.volume),
        "spill_elevation": _may(spot.spill_elevation),
        "spill": None if spot.spill is None else [_must(spot.spill[0]), _must(spot.spill[1])],
        "catchment": _may(spot.catchment),
        "certain": spot.certain,
        # outer ring, then holes, as a GeoJSON polygon has them
        "polygon": [[[_must(x, _RING_DIGITS), _must(y, _RING_DIGITS)] for x, y in ring] for ring in spot.rings],
    }


def _candidate(candidate: Candidate) -> dict[str, Any]:
    who: Mapping[str, Any] = (
        {"source": candidate.sources[0]} if len(candidate.sources) == 1 else {"group": list(candidate.sources)}
    )
    return {
        **who,
        "outlet": candidate.outlet,
        "feasible": candidate.feasible,
        "fall_available": _fine(candidate.fall_available),
        "fall_needed": _fine(candidate.fall_needed),
        "margin": _fine(candidate.margin),
        "length": _may(candidate.length),
        "reason": candidate.reason,
        "chosen": candidate.chosen,
        "cost": _may(candidate.cost),
        "ends_fall": _fine(candidate.ends_fall),
        "doubt": _fine(candidate.doubt),
        "chance": _may(candidate.chance),
    }


def _search(one: SearchResult) -> dict[str, Any]:
    return {
        "sources": one.sources,
        "cost": _must(one.cost),
        "delivered": _may(one.delivered),
        "bound": _must(one.bound),
        "gap_percent": _must(100 * one.gap, GAP_DIGITS),
        "bundles": one.steps,
        "stopped": one.stopped,
        "gap_asked_percent": _must(100 * one.gap_asked),
        "bundles_asked": one.steps_asked,
        "seconds_asked": _may(one.seconds_asked),
    }


def _sharing(one: Sharing) -> dict[str, Any]:
    return {
        "sources": list(one.sources),
        "others": list(one.others),
        "outlet": one.outlet,
        "why": one.why,
        "cost": _must(one.cost),
        "instead": _may(one.instead),
        "flow_lps": _flow(one.flow),
        "size": one.size,
    }


def _check(finding: Finding) -> dict[str, Any]:
    return {
        "rule": finding.rule,
        "subject": finding.subject,
        "value": _fine(finding.value),
        "limit": _fine(finding.limit),
        "unit": finding.unit,
        "status": finding.status,
        "where": finding.where,
        "message": finding.message,
        "doubt": _fine(finding.doubt),
        "place": None
        if finding.place is None
        else {
            "line": finding.place.line,
            "from": _fine(finding.place.station_from),
            "to": _fine(finding.place.station_to),
        },
    }


def _written(record: Mapping[str, Any]) -> bytes:
    """One record a line, so that two plans can be compared line by line."""
    parts = [f"{_compact(key)}: {_block(value)}" for key, value in record.items()]
    return ("{\n" + ",\n".join(parts) + "\n}\n").encode("utf-8", "replace")


def _block(value: Any) -> str:
    if isinstance(value, list) and value:
        return "[\n" + ",\n".join(f" {_entry(item)}" for item in value) + "\n]"
    return _compact(value)


def _entry(item: Any) -> str:
    """A record; its own lists of records go one a line too."""
    if not isinstance(item, dict):
        return _compact(item)
    parts: Iterable[str] = (
        f"{_compact(key)}: [\n" + ",\n".join(f"  {_compact(inner)}" for inner in value) + "]"
        if isinstance(value, list) and value and isinstance(value[0], dict)
        else f"{_compact(key)}: {_compact(value)}"
        for key, value in item.items()
    )
    return "{" + ", ".join(parts) + "}"


def _compact(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False)
