"""Plan and Site in; one HTML page out that opens with no network and carries everything it shows.

folium draws the map and is given our own constants, numbers and indices only: it renders its output through a
template engine twice, so a name like '{{ ... }}' would run as code here. What users wrote never enters a folium
object. It goes into the page in two ways: escaped, as static HTML, and as one JSON block that our script reads
and shows as plain text. The page's own policy, written in its head, lets the browser run those scripts alone
and load nothing.
"""

from __future__ import annotations

import base64
import hashlib
import json
import re
from collections.abc import Mapping
from importlib import resources
from typing import Any

from siteplan import units
from siteplan.books.phrases import phrase
from siteplan.books.services import SERVICES, UNSTATED
from siteplan.optional import optional
from siteplan.sheets import drawing, profile
from siteplan.sheets.attempt_chart import NOT_LEGAL
from siteplan.sheets.choices_panel import group_name, others
from siteplan.sheets.markup import Markup, tag
from siteplan.sheets.missing_words import missing_text
from siteplan.sheets.page_data import page_data, shapes
from siteplan.sheets.panel import heading, panel
from siteplan.sheets.panel_parts import both, status_shapes
from siteplan.sheets.profile_beside import beside_of, runs_and_inverts
from siteplan.sheets.readings import Readings, readings
from siteplan.sheets.relief import PictureFrame, Relief, contours, relief, shading_png
from siteplan.sheets.summary import summary
from siteplan.sheets.wording import has_outlet_zone, names, placed, titled, way
from siteplan.site import Site
from siteplan.values.told import MissingPart, PartName
from siteplan.values.whole_plan import Plan

# before anything is laid out: the page looks otherwise where no script runs
_FIRST = 'document.documentElement.className = "scripted";'
# drawn only: a wide stroke over them takes the clicks
_STILL = {
    "attempt",
    "contour",
    "index",
    "halo",
    "line_risk",
    "line_drawn",
    "line",
    "line_unsure",
    "line_fail",
    "line_pressed",
    "line_heavy",
}
_UNSURE = "Hollows too shallow to tell"  # off at first: on fine ground there are hundreds
_REACH, _DEPTH, _DOUBT = "What reaches what", "Depth of cut", "Doubt of the ground"
_OFF = frozenset({_UNSURE, _REACH, _DEPTH, _DOUBT})
# groups of the layer control, bottom first, with the layers in each
_GROUPS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("Contours", ("contour", "index")),
    ("Buildings and paving", ("paving", "building")),
    ("Land", ("neighbour", "easement", "no_dig", "lot")),
    ("Wet low spots", ("low_shallow", "low_middle", "low_deep")),
    (_UNSURE, ("low_unsure",)),
    (
        "Curb, utilities, fences",
        (
            "curb",
            "fence",
            "wall",
            "utility_case",
            *(drawing.utility_layer(one.word) for one in (*SERVICES, UNSTATED)),
            "utility_touch",
        ),
    ),
    ("Trees and marks", ()),
    ("Water after the outlets", ("after",)),
    (NOT_LEGAL, ("attempt", "attempt_touch")),
    (
        "Lines",
        (
            "halo",
            "line_risk",
            "line_drawn",
            "line",
            "line_unsure",
            "line_fail",
            "line_pressed",
            "line_heavy",
            "line_touch",
        ),
    ),
    (_REACH, ()),
    (_DEPTH, ()),
    (_DOUBT, ()),
    ("Stakes and fittings", ()),
    ("Sources and outlets", ()),
)
_SCRIPTS = ("parts.js", "crew.js", "chart.js", "along.js", "heights.js", "page.js")  # the last one calls the others
_STYLES = ("page.css", "parts.css", "print.css")
_CHART_WIDE, _CHART_NARROW = (560, 252), (350, 260)
_READINGS = tuple(f"schedule.{word}" for word in ("station", "ground", "invert", "top", "cover", "cut", "grade"))

_NO_SHEETS = Markup("")


def map_page(plan: Plan, site: Site, printed: Markup = _NO_SHEETS) -> bytes:
    """The page.

    Parameters
    ----------
    plan : Plan
        The plan; it may hold no line.
    site : Site
        The site it was made from: ground, features, rules.
    printed : Markup
        Sheets to scale, printed in place of the screen; without them the screen is.

    Returns
    -------
    bytes
        HTML in UTF-8; the same for the same input.
    """
    frame = _frame(plan, site)
    ground = relief(site, frame)
    levels = contours(ground, plan.elevation_unit, plan.accuracy)
    drawn = shapes(plan, site, ground, levels)
    along = [readings(line, site) for line in plan.every_line]
    layouts = {group_name(one): drawing.layout_layer(one.number) for one in others(plan)}
    map_html, map_script = _folium(
        ground, {layer: [shape.geometry for shape in held] for layer, held in drawn.items()}, layouts
    )
    data = page_data(plan, site, ground, drawn, along, levels)
    said = f"{levels[0]:g} {units.UNIT_NAMES[plan.elevation_unit]}" if levels[0] else "(none: no ground known)"
    body = tag(
        "body",
        drawing.hatches(),
        status_shapes(),
        heading(plan),
        tag("main", Markup(map_html), class_="map"),
        optional("profiles", lambda: _profiles(plan, site, along), _left_out("profiles")),
        panel(plan, site, said),
        printed,
        Markup(f'<script type="application/json" id="plan-data">{_json(data)}</script>'),
        Markup(f"<script>{_asset('leaflet', 'leaflet.js')}</script>"),
        Markup(f"<script>{map_script}</script>"),
    )
    return _page(plan, body).encode("utf-8", "replace")


def _left_out(part: PartName) -> Markup:
    return tag("p", missing_text(MissingPart(part=part, subject="", fault="see --debug")), class_="profiles")


def words_page(plan: Plan, site: Site) -> bytes:
    """The page where the map cannot be drawn by a fault of ours: the verdict in words, as the terminal prints it.

    Parameters
    ----------
    plan : Plan
        The plan.
    site : Site
        The site it was made from.

    Returns
    -------
    bytes
        HTML in UTF-8 without script or picture; the same for the same input.
    """
    said = tag(
        "main",
        tag("h1", titled(plan) or "Site"),
        _left_out("map"),
        tag("pre", summary(plan, site)),
        class_="words",
    )
    return _page(plan, tag("body", said)).encode("utf-8", "replace")


def _page(plan: Plan, body: str) -> str:
    """Head and body, with the policy that names each script and style by its digest."""
    styles = [_asset("leaflet", "leaflet.css"), "".join(_asset("page", name) for name in _STYLES)]
    scripts = [_FIRST, *re.findall(r"<script>(.*?)</script>", body, re.DOTALL)]
    policy = (
        f"default-src 'none'; script-src {_digests(scripts)}; style-src {_digests(styles)}; img-src data:; "
        "base-uri 'none'; form-action 'none'"
    )
    licence = (
        resources.files("siteplan")
        .joinpath("assets", "leaflet", "LICENSE")
        .read_text(encoding="utf-8")
        .replace("--", "- -")
    )
    head = tag(
        "head",
        Markup('<meta charset="utf-8">'),
        Markup(f'<meta http-equiv="Content-Security-Policy" content="{policy}">'),
        Markup('<meta name="viewport" content="width=device-width, initial-scale=1">'),
        Markup('<link rel="icon" href="data:,">'),
        tag("title", f"{titled(plan) or 'Site'} \u2013 drain plan"),
        Markup(f"<!-- The map is drawn by Leaflet, under this licence:\n{licence}-->"),
        Markup(f"<script>{_FIRST}</script>"),
        *[Markup(f"<style>{style}</style>") for style in styles],
    )
    return f'<!DOCTYPE html>\n<html lang="en">\n{head}\n{body}\n</html>\n'


def _digests(blocks: list[str]) -> str:
    return " ".join(
        f"'sha256-{base64.b64encode(hashlib.sha256(block.encode()).digest()).decode()}'" for block in blocks
    )


def _asset(folder: str, name: str) -> str:
    """A script or style we carry, less what would ask for another file."""
    content = resources.files("siteplan").joinpath("assets", folder, name).read_text(encoding="utf-8")
    if name == "leaflet.js":
        content = re.sub(r"\n//# sourceMappingURL=\S*\s*$", "\n", content)
    if name == "leaflet.css":
        content = re.sub(r"url\([^)]*\)", "none", content)
    return content


def _json(data: Any) -> str:
    """JSON that cannot end its script element, whatever the names in it."""
    written = json.dumps(data, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    for mark in "<>&\u2028\u2029":
        written = written.replace(mark, f"\\u{ord(mark):04x}")
    return written


def _frame(plan: Plan, site: Site) -> PictureFrame:
    """A window round the lot and all that the plan places, as far as there is reason to look."""
    from shapely import total_bounds
    from shapely.geometry import MultiPoint

    shown = [*[feature.geometry for feature in site.of_kind("lot", "building")], MultiPoint(placed(plan))]
    west, south, east, north = (float(edge) for edge in total_bounds(shown))
    # square, because the map's window is nearly so on a desk and on a phone alike
    half = 0.5 * max(east - west, north - south)
    half += max(3.0, 0.2 * half)
    x, y = (west + east) / 2, (south + north) / 2
    return PictureFrame(
        west=round(x - half, 2), south=round(y - half, 2), east=round(x + half, 2), north=round(y + half, 2)
    )


def _folium(
    ground: Relief, shapes_of: Mapping[str, list[dict[str, Any]]], layouts: Mapping[str, str]
) -> tuple[str, str]:
    """The map's element and the page's script. Nothing that a user wrote comes in here but as numbers."""
    import folium

    frame = ground.frame

    class Offline(folium.Map):
        default_js: list[tuple[str, str]] = []  # noqa: RUF012 - folium reads it so
        default_css: list[tuple[str, str]] = []  # noqa: RUF012

    width, height = frame.east - frame.west, frame.north - frame.south
    drawn = Offline(
        location=[height / 2, width / 2],
        zoom_start=3,
        tiles=None,
        crs="Simple",
        zoom_snap=0.25,
        zoom_delta=0.5,
        min_zoom=-2,
        max_zoom=8,
        attribution_control=False,
        zoom_control="topleft",
    )
    image = f"data:image/png;base64,{base64.b64encode(shading_png(ground)).decode('ascii')}"
    shade = folium.raster_layers.ImageOverlay(
        image, [[0.0, 0.0], [height, width]], pixelated=False, name="Shading", interactive=False
    )
    shade.add_to(drawn)
    made: dict[str, Any] = {}
    for name, held in _with_layouts(layouts):
        group = folium.FeatureGroup(name=name, show=name not in _OFF and name not in layouts)
        group.add_to(drawn)
        made[name] = group
        for layer in held:
            if layer in shapes_of:
                made[layer] = _geojson(layer, shapes_of[layer])
                made[layer].add_to(group)
    folium.LayerControl(position="topright", collapsed=True).add_to(drawn)
    figure: Any = drawn.get_root()
    _renumber(figure)
    for child in figure._children.values():  # noqa: SLF001 - branca has no other way to fill a figure's parts
        child.render()
    handles = ",".join(f"{json.dumps(name)}:{element.get_name()}" for name, element in made.items())
    ours = "\n".join(_asset("page", name) for name in _SCRIPTS)
    script = f"{figure.script.render()}\n{ours}\nsiteplanPage({drawn.get_name()},{{{handles}}});\n"
    return figure.html.render(), re.sub(r"\n\s+", "\n", script)  # a tenth of the page was indentation


def _with_layouts(layouts: Mapping[str, str]) -> list[tuple[str, tuple[str, ...]]]:
    """The groups, other layouts under the plan's own lines."""
    held = [(name, (layer, f"{layer}_touch")) for name, layer in layouts.items()]
    at = [name for name, _ in _GROUPS].index("Lines")
    return [*_GROUPS[:at], *held, *_GROUPS[at:]]


def _geojson(layer: str, geometries: list[dict[str, Any]]) -> Any:
    import folium

    touch = layer.endswith("_touch")
    style = drawing.leaflet_style("touch" if touch else layer)
    features = [
        {"type": "Feature", "id": number, "properties": {}, "geometry": geometry}
        for number, geometry in enumerate(geometries)
    ]
    return folium.GeoJson(
        {"type": "FeatureCollection", "features": features},
        style_function=lambda _: style,
        name=layer,
        control=False,
        smooth_factor=0.5,
        interactive=touch or not (layer in _STILL or layer.startswith(("utility_", "layout_"))),
    )


def _renumber(root: Any) -> None:
    """Number the elements: branca names them by random bytes, and the same plan must give the same page."""
    waiting, number = [root], 0
    while waiting:
        element = waiting.pop(0)
        number += 1
        element._id = str(number)  # noqa: SLF001 - where branca keeps an element's name
        waiting.extend(element._children.values())  # noqa: SLF001


def _profiles(plan: Plan, site: Site, along: list[Readings]) -> Markup:
    """A chart, a slider and the readings of each line."""
    if not plan.every_line:
        return Markup("")
    spots = {spot.id: spot for spot in plan.low_spots}
    called = names(plan)
    figures: list[Markup] = []
    tabs: list[Markup] = []
    for place, (line, found) in enumerate(zip(plan.every_line, along, strict=True)):
        title = f"{line.id}  {way(line, called)}"
        charts = [
            profile.profile_chart(
                line,
                found,
                spots,
                site.rules,
                plan.length_unit,
                plan.elevation_unit,
                width=width,
                height=height,
                place=place,
                outlet_end=has_outlet_zone(plan, line),
                beside=beside_of(plan, line),
            )
            for width, height in (_CHART_WIDE, _CHART_NARROW)
        ]
        slider = tag(
            "input",
            type="range",
            class_="stations",
            id=f"stations-{place}",
            min=0,
            max=len(found.station) - 1,
            step=1,
            value=0,
            aria_label=f"Station along {line.id}, from the outlet upstream",
        )
        heads = (both("dt", phrase(name), phrase(name, "spanish")) for name in _READINGS)
        cells = [tag("div", head, tag("dd", "\u2013")) for head in heads]
        note = (
            'Dotted, "least cover": the top of pipe must stay under it. Hatched: the ground as surveyed; '
            "grey along it: where it lies "
            "with a chance of 95 %. Thin line in the pipe: the water at the design flow."
        )
        tools = tag(
            "span",
            *[
                tag("button", sign, type="button", class_="zoom", data_zoom=how, aria_label=f"{said} of {line.id}")
                for sign, how, said in (
                    ("\u2212", "out", "Zoom out of the profile"),
                    ("+", "in", "Zoom into the profile"),
                    ("Whole", "whole", "Whole profile"),
                )
            ],
            class_="zooms",
        )
        figures.append(
            tag(
                "figure",
                tag("figcaption", tag("span", tag("b", line.id), f" {way(line, called)}"), tools),
                *charts,
                slider,
                tag("dl", *cells, class_="reading"),
                runs_and_inverts(plan, line),
                tag("p", note, class_="note"),
                class_="profile",
                id=f"profile-{place}",
                data_line=str(place),
                aria_label=title,
            )
        )
        tabs.append(
            tag(
                "button",
                line.id,
                type="button",
                class_="tab",
                data_line=str(place),
                aria_controls=f"profile-{place}",
                aria_pressed="false",
            )
        )
    fold = tag("button", "Profile", type="button", class_="fold", aria_expanded="true", aria_controls="profile-charts")
    bar = tag("div", tag("h2", "Profiles", class_="part-title"), fold, *tabs, class_="tabs")
    held = tag("div", *figures, class_="charts", id="profile-charts")
    return tag("section", bar, held, class_="profiles", aria_label="Profiles of the lines")
