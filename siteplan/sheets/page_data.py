"""Plan and Site in; what the map draws and what the page's script shows out, as shapes, numbers and texts.

Shapes carry no text: the map's own library never sees a word that a user wrote. Texts go with them by number.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np

from siteplan import units
from siteplan.books.kinds import Kind
from siteplan.books.phrases import TAGS, Language, phrase
from siteplan.books.services import service
from siteplan.sheets import drawing
from siteplan.sheets.attempt_chart import attempt_labels, attempt_paths
from siteplan.sheets.choices_panel import layout_paths
from siteplan.sheets.coordinates import DEGREE, place_text, survey_places, survey_system
from siteplan.sheets.crew_cards import crew_cards
from siteplan.sheets.doubt_words import chance_text, shots_wanted_words, spare_fact
from siteplan.sheets.facts import low_spot_facts, outlet_facts, source_facts
from siteplan.sheets.map_marks import depth_and_doubt, fitting_marks, reach_ways
from siteplan.sheets.markup import whole
from siteplan.sheets.packed import packed_heights
from siteplan.sheets.pumped_words import pumped_facts
from siteplan.sheets.readings import Readings, chart_data, reading_texts
from siteplan.sheets.relief import Levels, PictureFrame, Relief
from siteplan.sheets.stakes import pipes_words
from siteplan.sheets.states import line_state, state_word
from siteplan.sheets.ties import corners
from siteplan.sheets.wording import (
    KIND_TITLES,
    depth_text,
    flow_or_unknown,
    grades_text,
    names,
    one_line,
    placed,
    served_text,
    way,
)
from siteplan.site import Feature, Site
from siteplan.values.forecasts import LowSpot
from siteplan.values.lines import Line
from siteplan.values.whole_plan import Plan

_AT_POINT = 0.3  # m: a line that ends so near to a discharge point ends at it

_LAYER_OF = {"driveway": "paving", "walk": "paving", "paving": "paving"}
_WANTED_SHOWN = 9
_WORDS = {"layers": "page.layers", "fit": "page.fit", "sun": "page.sun", "large": "page.large"}
_MARK_KINDS = ("tree", "benchmark", "sprinkler")
_LAND_LINES = ("neighbour", "curb", "utility", "fence", "wall")


class PageShape(NamedTuple):
    """One thing drawn: its layer, its geometry as GeoJSON in the page's metres, and what a click on it shows."""

    layer: str
    geometry: dict[str, Any]
    title: str = ""
    facts: tuple[tuple[str, str], ...] = ()


def shapes(plan: Plan, site: Site, ground: Relief, levels: Levels) -> dict[str, list[PageShape]]:
    """Everything that the map draws as lines and areas, by layer.

    Parameters
    ----------
    plan : Plan
        The plan.
    site : Site
        The site it was made from.
    ground : Relief
        For the page's origin.
    levels : tuple
        Contours, from `relief.contours`.

    Returns
    -------
    dict of str to list of Shape
        Layers that hold something, in drawing order.
    """
    frame = ground.frame
    drawn = [
        *_contours(frame, levels),
        *_features(frame, site),
        *_low_spots(frame, plan),
        *_after(frame, plan),
        *(PageShape(*one) for one in attempt_paths(plan, frame.west, frame.south)),
        *(PageShape(*one) for one in layout_paths(plan, frame.west, frame.south)),
        *_lines(frame, plan),
    ]
    held: dict[str, list[PageShape]] = {}
    for shape in drawn:
        held.setdefault(shape.layer, []).append(shape)
    return held


def _local(geometry: Any, frame: PictureFrame) -> dict[str, Any]:
    """A geometry in metres from the page's own origin, to the centimetre.

    A tenth of a pixel where the map is nearest.
    """
    import shapely

    moved = shapely.transform(geometry, lambda at: np.round(at - (frame.west, frame.south), 2))
    return dict(shapely.geometry.mapping(moved))


def _contours(frame: PictureFrame, levels: Levels) -> Iterator[PageShape]:
    from shapely.geometry import MultiLineString

    interval, lines = levels
    for level, parts in lines:
        kind = "index" if round(level / interval) % 5 == 0 else "contour"
        drawn = MultiLineString([part for part in parts if len(part) > 1]).simplify(0.02)
        yield PageShape(kind, _local(drawn, frame))


def _features(frame: PictureFrame, site: Site) -> Iterator[PageShape]:
    from shapely.geometry import box

    # what lies far outside the window would only make the page heavy
    window = box(frame.west, frame.south, frame.east, frame.north).buffer(30.0)
    for feature in site.features:
        layer = "utility_case" if feature.kind == "utility" else _LAYER_OF.get(feature.kind, feature.kind)
        if layer not in drawing.STYLES or feature.geometry.is_empty:
            continue
        shown = feature.geometry.intersection(window) if feature.kind in _LAND_LINES else feature.geometry
        if shown.is_empty:
            continue
        if feature.kind == "utility":
            yield from _utility(feature, _local(shown, frame), site.length_unit)
            continue
        kind = KIND_TITLES.get(feature.kind, feature.kind)
        note = feature.attributes.get("note")
        facts = (("Kind", kind), ("Note", one_line(note))) if isinstance(note, str) and note else (("Kind", kind),)
        yield PageShape(layer, _local(shown, frame), one_line(feature.name) or kind, facts)


def _utility(feature: Feature, shown: dict[str, Any], unit: str) -> Iterator[PageShape]:
    """A utility: its case, its locate colour over it, and a wide stroke that a thumb can hit."""
    kept = service(feature.attributes.get("service", ""))
    yield PageShape("utility_case", shown)
    yield PageShape(drawing.utility_layer(kept.word), shown)
    facts = [
        ("Kind", f"utility: {kept.title}"),
        ("Depth of its top", depth_text(feature.attributes.get("depth"), unit)),
        ("Near it", "dig by hand; marks show no depth"),
    ]
    if note := feature.attributes.get("note"):
        facts.append(("Note", one_line(note)))
    yield PageShape("utility_touch", shown, one_line(feature.name) or f"Utility, {kept.title}", tuple(facts))


def _utility_labels(site: Site, frame: PictureFrame) -> list[dict[str, Any]]:
    """Letter, name and depth of each utility, and its way: the page places them on what of it is in the window."""
    import shapely
    from shapely.geometry import box

    window = box(frame.west, frame.south, frame.east, frame.north)
    found = []
    for place, feature in enumerate(site.of_kind("utility")):
        kept = service(feature.attributes.get("service", ""))
        for part in shapely.get_parts(feature.geometry.intersection(window)):
            if part.geom_type != "LineString" or part.length < 0.5:
                continue
            found.append(
                {
                    "feature": place,
                    "letter": kept.letter,
                    "name": one_line(feature.name) or f"Utility, {kept.title}",
                    "depth": {
                        tag: whole(depth_text(feature.attributes.get("depth"), site.length_unit, one))
                        for one, tag in TAGS.items()
                    },
                    "unknown": feature.attributes.get("depth") is None,
                    "points": [
                        [round(x - frame.west, 2), round(y - frame.south, 2)] for x, y, *_ in part.simplify(0.05).coords
                    ],
                }
            )
    return found


def _depth_layer(spot: LowSpot) -> str:
    if not spot.certain:
        return "low_unsure"
    if spot.kind != "hollow" or spot.depth < drawing.MIDDLE:
        return "low_shallow"
    return "low_middle" if spot.depth < drawing.DEEP else "low_deep"


def _low_spots(frame: PictureFrame, plan: Plan) -> Iterator[PageShape]:
    for spot in plan.low_spots:
        rings = [[[round(x - frame.west, 2), round(y - frame.south, 2)] for x, y in ring] for ring in spot.rings]
        if rings:
            facts = tuple(low_spot_facts(spot, plan.length_unit, plan.elevation_unit))
            yield PageShape(
                _depth_layer(spot), {"type": "Polygon", "coordinates": rings}, f"Wet low spot {spot.id}", facts
            )


def _lines(frame: PictureFrame, plan: Plan) -> Iterator[PageShape]:
    called = names(plan)
    unit = plan.length_unit
    for line in plan.every_line:
        path = {"type": "LineString", "coordinates": _corners(line, frame)}
        high, low = (
            units.length_text(end.invert, plan.elevation_unit) for end in (line.vertices[-1], line.vertices[0])
        )
        facts = (
            ("State", line_state(plan, line).text),
            ("Length", units.length_text(line.length, unit, 1)),
            ("Grade", grades_text(line)),
            ("Inverts", f"{high} {'down ' if line.pumped is None else ''}to {low}"),
            *([] if line.pumped is not None else [spare_fact(line, unit)]),
            *pumped_facts(line, unit, plan.elevation_unit),
            ("Pipe, from the outlet up", pipes_words(line, unit)),
        )
        yield PageShape("halo", path)
        for kind, start, end in _marked(line):
            yield PageShape(kind, {"type": "LineString", "coordinates": _part(line, frame, start, end)})
        yield PageShape(_layer(plan, line), path)
        yield PageShape("line_touch", path, f"{line.id} {way(line, called)}", facts)


def _after(frame: PictureFrame, plan: Plan) -> Iterator[PageShape]:
    """Where water goes after it leaves each outlet, as far as the page's window."""
    from shapely.geometry import LineString, box

    if plan.water is None:
        return
    called = names(plan)
    window = box(frame.west, frame.south, frame.east, frame.north)
    for path in plan.water.paths:
        if len(path.path) < 2:
            continue
        shown = LineString(path.path).simplify(0.05).intersection(window)
        if shown.is_empty or shown.length == 0:
            continue
        facts = [("Flow", flow_or_unknown(path.flow, plan.length_unit))]
        facts += [
            (
                "Meets",
                f"{met.kind} {one_line(met.name)}".strip()
                + f" after {units.length_text(met.distance, plan.length_unit, 1)}",
            )
            for met in path.meets[:4]
        ]
        yield PageShape(
            "after", _local(shown, frame), f"Water from {called.get(path.outlet, path.outlet)}", tuple(facts)
        )


def _corners(line: Line, frame: PictureFrame) -> list[list[float]]:
    return [[round(v.x - frame.west, 3), round(v.y - frame.south, 3)] for v in line.vertices]


def _marked(line: Line) -> Iterator[tuple[str, float, float]]:
    """Stretches of a line that are drawn apart.

    All of one that a person drew, heavy pipe, and where water may stand.
    """
    if line.own:
        yield "line_drawn", 0.0, line.length
    heavier = [
        reach for reach in line.reaches if reach.pipe.kind != line.pipe.kind and reach.pipe.wall > line.pipe.wall
    ]
    for reach in heavier:
        yield "line_heavy", reach.station_from, reach.station_to
    if line.belly is not None and line.belly.risk:
        for pool in line.belly.pools:
            yield "line_risk", pool.station_from, pool.station_to


def _part(line: Line, frame: PictureFrame, start: float, end: float) -> list[list[float]]:
    """A stretch of a line with its corners."""
    at = [vertex.station for vertex in line.vertices]
    stations = [start, *(station for station in at if start < station < end), end]
    x, y = (np.interp(stations, at, [getattr(vertex, axis) for vertex in line.vertices]).tolist() for axis in "xy")
    return [[round(east - frame.west, 3), round(north - frame.south, 3)] for east, north in zip(x, y, strict=True)]


def _layer(plan: Plan, line: Line) -> str:
    """How a line is drawn: by its state; one under pressure that does not fail in its own way."""
    if line.pumped is not None and line_state(plan, line).state != "fails":
        return "line_pressed"
    return {"sure": "line", "cannot-tell": "line_unsure", "fails": "line_fail"}[line_state(plan, line).state]


def _label(plan: Plan, line: Line, language: Language) -> str:
    """A line's name on the map; one that is not sure says so in words."""
    state = line_state(plan, line)
    return line.id if state.state == "sure" else f"{line.id} {state_word(state.state, language)}"


def page_data(
    plan: Plan,
    site: Site,
    ground: Relief,
    drawn: Mapping[str, Sequence[PageShape]],
    along: Sequence[Readings],
    levels: Levels,
) -> dict[str, Any]:
    """All that the page's script shows, as texts and numbers.

    Parameters
    ----------
    plan : Plan
        The plan.
    site : Site
        The site it was made from.
    ground : Relief
        The sampled ground.
    drawn : mapping of str to sequence of Shape
        From `shapes`.
    along : sequence of Readings
        Of each line, in the plan's order.
    levels : tuple
        Contours, from `relief.contours`.

    Returns
    -------
    dict
        Fit for JSON.
    """
    frame = ground.frame
    unit = plan.length_unit
    lines = [
        {
            "id": line.id,
            "layer": _layer(plan, line),
            "label": {tag: _label(plan, line, one) for one, tag in TAGS.items()},
            "more": grades_text(line) if line.pumped is None else units.flow_text(line.pumped.flow, unit),
            "chance": {tag: line_state(plan, line).chance_in(one) for one, tag in TAGS.items()},
            "points": _corners(line, frame),
            **chart_data(found, frame.west, frame.south),
            "told": reading_texts(line, found, unit, plan.elevation_unit),
        }
        for line, found in zip(plan.every_line, along, strict=True)
    ]
    return {
        "unit": units.UNIT_NAMES[unit],
        "metres": units.LENGTH[unit],
        "elevationUnit": units.UNIT_NAMES[plan.elevation_unit],
        "elevationMetres": units.LENGTH[plan.elevation_unit],
        "grid": _survey_grid(plan, frame),
        "origin": [frame.west, frame.south],
        "size": [round(frame.east - frame.west, 3), round(frame.north - frame.south, 3)],
        "home": _home(plan, site, frame),
        "ground": packed_heights(ground),
        "words": {tag: {name: phrase(ident, one) for name, ident in _WORDS.items()} for one, tag in TAGS.items()},
        "lines": lines,
        "marks": _marks(plan, site, frame),
        "attempts": attempt_labels(plan, frame.west, frame.south),
        "spots": _spot_labels(plan, frame),
        "contours": _contour_labels(frame, levels, site),
        "utilities": _utility_labels(site, frame),
        "fittings": fitting_marks(plan, frame),
        "along": depth_and_doubt(plan, frame),
        "reach": reach_ways(plan, frame),
        "styles": {name: drawing.leaflet_style(name) for name in ("depth", "doubt", "reach_yes", "reach_no")},
        "crew": crew_cards(plan, corners(site), site.of_kind("utility")),
        "popups": {
            layer: [{"title": shape.title, "facts": shape.facts} for shape in held]
            for layer, held in drawn.items()
            if held[0].facts
        },
    }


def _survey_grid(plan: Plan, frame: PictureFrame) -> dict[str, Any]:
    """What the cursor's read-out needs to tell places in the survey's own system.

    Its coordinates at the window's corners.
    """
    system = survey_system(plan)
    corners = [(x, y) for y in (frame.south, frame.north) for x in (frame.west, frame.east)]
    east, north = survey_places(plan, [x for x, _ in corners], [y for _, y in corners])
    digits = system.digits if system.unit == DEGREE else 1 if system.unit != "m" else 2
    return {
        "unit": system.unit_name,
        "system": system.name,
        "digits": digits,
        "letters": [axis[:3].title() if system.unit == DEGREE else axis[0].upper() for axis in system.axes],
        "corners": [[round(e, 9), round(n, 9)] for e, n in zip(east.tolist(), north.tolist(), strict=True)],
    }


def _home(plan: Plan, site: Site, frame: PictureFrame) -> list[float]:
    """What the map shows at first: the lot, and every source, outlet and line."""
    from shapely import total_bounds
    from shapely.geometry import MultiPoint

    shown = [*[feature.geometry for feature in site.of_kind("lot")], MultiPoint(placed(plan))]
    west, south, east, north = (float(edge) for edge in total_bounds(shown))
    corners = (west - frame.west, south - frame.south, east - frame.west, north - frame.south)
    return [round(edge, 2) for edge in corners]


def _marks(plan: Plan, site: Site, frame: PictureFrame) -> list[dict[str, Any]]:
    """Points: sources and outlets with their facts, then trees, benchmarks and sprinklers."""
    called = names(plan)
    _, unserved = served_text(plan)
    taken = {line.end for line in plan.every_line}
    marks = []

    def mark(
        group: str,
        kind: str,
        x: float,
        y: float,
        label: str,
        title: str,
        facts: list[tuple[str, str]],
        state: str = "",
        key: str = "",
    ) -> None:
        outline, letter = drawing.SYMBOLS[kind]
        marks.append(
            {
                "group": group,
                "kind": kind,
                "x": round(x - frame.west, 3),
                "y": round(y - frame.south, 3),
                "outline": outline,
                "letter": letter,
                "label": label,
                "title": title,
                "facts": facts,
                "state": state,
                "key": key,
            }
        )

    for feature in site.of_kind(Kind.DISCHARGE_POINT):
        at, called_so = feature.geometry, one_line(feature.name)
        lifted = [
            called[line.start]
            for line in plan.pressed
            if math.dist((line.vertices[0].x, line.vertices[0].y), (at.x, at.y)) < _AT_POINT
        ]
        mark(
            "Sources and outlets",
            "discharge_point",
            at.x,
            at.y,
            called_so,
            called_so,
            [("Kind", KIND_TITLES[feature.kind]), ("Lifted to it", ", ".join(lifted) or "nothing")],
        )
    for place, source in enumerate(plan.sources):
        east, north = (source.pit or (source.x, source.y))[:2]
        dry = source.id not in unserved
        kind = source.kind if source.kind in drawing.SYMBOLS else "inlet"
        mark(
            "Sources and outlets",
            kind,
            east,
            north,
            called[source.id],
            called[source.id],
            source_facts(plan, place),
            "" if dry else "poor",
            source.id,
        )
    for place, outlet in enumerate(plan.outlets):
        used = outlet.id in taken
        kind = outlet.kind if outlet.kind in drawing.SYMBOLS else "daylight_outlet"
        state = " ".join(word for word, holds in (("found", outlet.found), ("unused", not used)) if holds)
        # an unused place that the tool found itself is not worth a label
        label = called[outlet.id] if used or not outlet.found else ""
        mark(
            "Sources and outlets",
            kind,
            outlet.x,
            outlet.y,
            label,
            called[outlet.id],
            outlet_facts(plan, place),
            state,
            outlet.id,
        )
    for feature in site.of_kind(*_MARK_KINDS):
        if feature.geometry.is_empty:
            continue
        at = feature.geometry.representative_point()
        kind = KIND_TITLES[feature.kind]
        label = one_line(feature.name) if feature.kind == "benchmark" else ""
        facts = [("Kind", kind), *_of_benchmark(feature, plan.elevation_unit)]
        mark("Trees and marks", feature.kind, at.x, at.y, label, one_line(feature.name) or kind, facts)
    for line, shot in list(shots_wanted_words(plan))[:_WANTED_SHOWN]:
        told = [
            ("For", line.id),
            (f"At, {survey_system(plan).name}, {survey_system(plan).unit_name}", place_text(plan, shot.x, shot.y)),
            ("Where", one_line(shot.place)),
            ("If it bears the survey out", f"{chance_text(shot.chance_min_grade)} sure"),
        ]
        mark("Trees and marks", "shot_wanted", shot.x, shot.y, "", f"Shot wanted for {line.id}", told)
    return marks


def _of_benchmark(feature: Feature, unit: str) -> list[tuple[str, str]]:
    if feature.kind != Kind.BENCHMARK:
        return []
    level, datum = feature.attributes.get("elevation"), feature.attributes.get("datum")
    return [
        ("Elevation", "not stated by the survey" if level is None else units.length_text(level, unit)),
        ("Datum", one_line(datum) if datum else "not stated by the survey"),
    ]


def _spot_labels(plan: Plan, frame: PictureFrame) -> list[dict[str, Any]]:
    from shapely import Polygon

    labels = []
    for spot in plan.low_spots:
        if not spot.rings or not spot.certain:
            continue
        at = Polygon(spot.rings[0], spot.rings[1:]).representative_point()
        told = {
            tag: f"{spot.id} {depth_text(spot.depth, plan.length_unit, one)}"
            if spot.kind == "hollow"
            else f"{spot.id} {KIND_TITLES.get(spot.kind, spot.kind).lower()}"
            for one, tag in TAGS.items()
        }
        labels.append({"x": round(at.x - frame.west, 2), "y": round(at.y - frame.south, 2), "text": told})
    return labels


def _contour_labels(frame: PictureFrame, levels: Levels, site: Site) -> list[dict[str, Any]]:
    """Up to three places to write each contour's height, on the lot where it crosses the lot."""
    import shapely

    interval, lines = levels

    lots = [feature.geometry for feature in site.of_kind("lot")]
    lot = shapely.union_all(lots) if lots else None
    if lot is not None:
        lot = lot.difference(shapely.union_all([feature.geometry for feature in site.of_kind("building")]).buffer(1.0))
    digits = (
        0
        if interval >= 1 and math.isclose(interval % 1, 0)
        else 1
        if math.isclose(interval * 10 % 1, 0, abs_tol=1e-9)
        else 2
    )
    labels = []
    for level, parts in lines:
        longest = max(parts, key=len)
        inside = (
            np.flatnonzero(shapely.contains_xy(lot, longest[:, 0], longest[:, 1]))
            if lot is not None
            else np.arange(len(longest))
        )
        if len(inside) < 4:
            inside = np.arange(len(longest))
        places = []
        for share in (0.5, 0.22, 0.78):
            at = int(inside[int(share * (len(inside) - 1))])
            before, after = longest[max(at - 2, 0)], longest[min(at + 2, len(longest) - 1)]
            turn = math.degrees(math.atan2(after[1] - before[1], after[0] - before[0]))
            turn = (turn + 90) % 180 - 90  # never upside down
            places.append(
                [
                    round(float(longest[at, 0]) - frame.west, 2),
                    round(float(longest[at, 1]) - frame.south, 2),
                    round(-turn, 1),
                ]
            )
        labels.append({"text": f"{level:.{digits}f}", "places": places, "index": round(level / interval) % 5 == 0})
    return labels
