"""How each kind of thing is drawn, said once: the map's layers and the key's swatches read the same table.

Colours are from a set that colour-blind readers can tell apart (Okabe and Ito, 'Color universal design', 2008; from
memory); dash, width, hatch or shape says the same again.
"""

from __future__ import annotations

from typing import NamedTuple

from siteplan.books.kinds import OUTLETS, SOURCES, Kind
from siteplan.books.services import SERVICES, UNSTATED, Service
from siteplan.sheets.markup import Markup, tag
from siteplan.values.asked_for import MOST_LAYOUTS

BLACK, SKY = "#000000", "#56b4e9"
BLUE, RED, PURPLE = "#0072b2", "#d55e00", "#cc79a7"
VIOLET = "#6a1b80"
GREY, DARK, BROWN = "#6b6b6b", "#2b2b2b", "#7a4a12"


class Style(NamedTuple):
    """How Leaflet draws a path; `hatch` names a pattern of the page."""

    color: str
    weight: float
    dash: str = ""
    fill: str = ""
    opacity: float = 1.0  # of the fill
    hatch: str = ""


class Key(NamedTuple):
    """One row of the key; `letter` stands in the line."""

    style: str
    shape: str  # line | area | a point symbol
    said: str
    letter: str = ""


def utility_layer(service: str) -> str:
    """The layer of a utility.

    Parameters
    ----------
    service : str
        Its word in books.services; '' not stated.

    Returns
    -------
    str
        A name of STYLES.
    """
    return f"utility_{service or 'unknown'}"


def layout_layer(number: int) -> str:
    """The layer of a layout laid over the plan.

    Parameters
    ----------
    number : int
        Of the layout.

    Returns
    -------
    str
        A name of STYLES.
    """
    return f"layout_{number}"


_UTILITIES: tuple[Service, ...] = (*SERVICES, UNSTATED)


STYLES: dict[str, Style] = {
    "contour": Style(BROWN, 0.8),
    "index": Style(BROWN, 1.6),
    "neighbour": Style(GREY, 1.0, "1 5", "#efefef", 0.45),
    "lot": Style(BLACK, 3.0, "18 5 4 5"),
    "easement": Style(PURPLE, 1.8, "9 4", PURPLE, 0.10, "hatch-easement"),
    "paving": Style(GREY, 1.2, "", "#d4d0c8", 0.85),
    "building": Style(DARK, 2.2, "", "#b9b9b9", 0.95, "hatch-building"),
    "no_dig": Style(RED, 2.4, "3 4", RED, 0.10, "hatch-no-dig"),
    "low_shallow": Style(BLUE, 1.4, "", SKY, 0.30, "hatch-wet-1"),
    "low_middle": Style(BLUE, 1.6, "", SKY, 0.50, "hatch-wet-2"),
    "low_deep": Style(BLUE, 2.0, "", BLUE, 0.55, "hatch-wet-3"),
    "low_unsure": Style(BLUE, 1.2, "2 4"),
    "curb": Style(GREY, 4.0),
    # the code's yellow and orange are too faint on paper: a dark case carries the contrast, the letter the kind
    "utility_case": Style("#1a1a1a", 7.0),
    **{utility_layer(one.word): Style(one.shade, 3.6) for one in _UTILITIES},
    "touch": Style(BLACK, 44.0),
    "fence": Style(GREY, 1.4, "2 6"),
    "wall": Style(DARK, 3.2, "1 3"),
    "after": Style(BLUE, 2.6, "2 7"),
    "halo": Style("#ffffff", 10.0),
    "line_risk": Style(BLACK, 15.0, "2.5 7"),
    "line_drawn": Style(BLACK, 9.0),  # under the line: it shows as a dark edge on both sides
    "line": Style(BLUE, 5.0),
    "line_unsure": Style("#8a5a00", 5.0, "16 5"),
    "line_fail": Style(RED, 5.0, "5 5"),
    "line_pressed": Style("#7a3b8f", 5.0, "14 5 3 5"),
    "line_heavy": Style("#ffffff", 1.8),
    "attempt": Style(RED, 3.0, "14 9"),
    "stake": Style(BLACK, 2.2),
    "depth": Style(BROWN, 1.4, "", BROWN, 0.35),
    "doubt": Style(PURPLE, 2.0, "", PURPLE, 0.18),
    "reach_yes": Style("#00684c", 1.8, "10 3"),
    "reach_no": Style(RED, 1.8, "1 6"),
    # a dash and as many dots as its number
    **{layout_layer(k): Style(VIOLET, 4.0, "14 5" + " 2 5" * k) for k in range(1, MOST_LAYOUTS + 1)},
}
# depth from which a hollow is drawn as middling and as deep [m]; drawing only
MIDDLE, DEEP = 0.05, 0.15

_FOUND = " (open: found by the tool)"

LEGEND: tuple[Key, ...] = (
    Key("line", "line", "Line that is sure to fall as the rules ask; arrows point downhill"),
    Key("line_unsure", "line", "Line of which the survey cannot tell"),
    Key("line_fail", "line", "Line that fails a check"),
    Key("line_pressed", "line", "Line under pressure, from a pump; arrows point the way the water goes"),
    Key("line_drawn", "line", "Dark edges: laid as a person drew it"),
    Key("line_heavy", "line", "Heavy pipe: under vehicles, at an outlet"),
    Key("attempt", "line", "NOT LEGAL: the best line that was tried for a source without one"),
    Key(layout_layer(2), "line", "Another layout, off at first; as many dots as its number"),
    Key("line_risk", "line", "Water may stand here: weak ground under the line"),
    Key("after", "line", "Where the water goes after it leaves, down the surveyed ground"),
    *(Key(kind, "point", about.title) for kind, about in SOURCES.items()),
    Key("discharge_point", "point", "Discharge point: a pumped line ends, one by gravity goes on"),
    *(
        Key(kind, "point", about.title + (_FOUND if kind == Kind.DAYLIGHT_OUTLET else ""))
        for kind, about in OUTLETS.items()
    ),
    Key("cleanout", "point", "Cleanout"),
    Key("wye", "point", "Wye: a line joins"),
    Key("bend", "point", "Bend"),
    Key("reducer", "point", "Reducer: the size changes"),
    Key("grade_break", "point", "Grade break"),
    Key("stake", "line", "Stake of the schedule, with its station where there is room"),
    Key("depth", "area", "Depth of cut at the stakes (off at first): the larger the deeper"),
    Key("doubt", "area", "Doubt of the ground at the stakes (off at first), one standard deviation"),
    Key("reach_yes", "line", "This outlet is in reach of this source (off at first); straight, no way is meant"),
    Key("reach_no", "line", "Not in reach"),
    Key("low_shallow", "area", "Wet low spot, marked wet ground, sprinkler"),
    Key("low_middle", "area", "Low spot, deeper"),
    Key("low_deep", "area", "Low spot, deepest"),
    Key("low_unsure", "area", "Hollow shallower than the survey can tell (off at first)"),
    Key("lot", "line", "Lot line"),
    Key("building", "area", "Building"),
    Key("paving", "area", "Driveway, walk, paving"),
    Key("easement", "area", "Easement"),
    Key("no_dig", "area", "No digging"),
    Key("neighbour", "area", "Neighbour's land"),
    Key("curb", "line", "Curb"),
    *(
        Key(
            utility_layer(one.word),
            "line",
            f"Utility: {one.title} ({one.paint}); its name and depth stand at it",
            one.letter,
        )
        for one in _UTILITIES
    ),
    Key("fence", "line", "Fence"),
    Key("wall", "line", "Wall"),
    Key("tree", "point", "Tree"),
    Key("benchmark", "point", "Benchmark"),
    Key("sprinkler", "point", "Sprinkler"),
    Key("shot_wanted", "point", "Shot wanted: would make a line surest"),
    Key("contour", "line", "Contour, each {interval}; thick: every fifth"),
)

# point symbols on a box of 24: outline, then a letter where there is one
SYMBOLS: dict[str, tuple[str, str]] = {
    "downspout": ("M12 2a10 10 0 1 0 0 20a10 10 0 1 0 0-20z", "D"),
    "sump": ("M3 3h18v18H3z", "S"),
    "inlet": ("M7 2h10l5 10-5 10H7L2 12z", "I"),
    "area_drain": ("M7 2h10l5 5v10l-5 5H7l-5-5V7z", "A"),
    "discharge_point": ("M12 1l11 11-11 11L1 12z", "P"),
    "curb_outlet": ("M1 3h22L12 22z", "C"),
    "daylight_outlet": ("M1 3h22L12 22z", ""),
    "tie_in": ("M1 8h22v8H1z", ""),
    "tree": ("M12 4a8 8 0 1 0 0 16a8 8 0 1 0 0-16zM12 10.6a1.4 1.4 0 1 0 0 2.8a1.4 1.4 0 1 0 0-2.8z", ""),
    "benchmark": ("M12 3a9 9 0 1 0 0 18a9 9 0 1 0 0-18zM12 3v18M3 12h18", ""),
    "shot_wanted": ("M12 1v22M1 12h22M12 5a7 7 0 1 0 0 14a7 7 0 1 0 0-14z", ""),
    # what stands in a line: strokes without a ground of their own
    "cleanout": ("M12 4a8 8 0 1 0 0 16a8 8 0 1 0 0-16zM9 9h6v6H9z", ""),
    "wye": ("M12 22V12M12 12L4 3M12 12L20 3", ""),
    "bend": ("M4 21V12L20 5", ""),
    "reducer": ("M4 4L20 9V15L4 20z", ""),
    "grade_break": ("M2 9H12L22 17M12 5V19", ""),
    "sprinkler": ("M12 9a3 3 0 1 0 0 6a3 3 0 1 0 0-6zM12 2v4M12 18v4M2 12h4M18 12h4", ""),
}

_HATCHES: dict[str, tuple[int, str, str]] = {
    "hatch-wet-1": (12, "M0 6h12", BLUE),
    "hatch-wet-2": (8, "M0 4h8", BLUE),
    "hatch-wet-3": (5, "M0 2.5h5", "#003a5d"),
    "hatch-building": (9, "M-2 11L11-2", "#6f6f6f"),
    "hatch-no-dig": (10, "M0 0l10 10M10 0L0 10", RED),
    "hatch-easement": (14, "M-2-2l18 18", PURPLE),
}


def leaflet_style(name: str) -> dict[str, str | float | bool]:
    """Path options for the map.

    Parameters
    ----------
    name : str
        A name of STYLES.

    Returns
    -------
    dict
        Leaflet's path options: constants and numbers only.
    """
    style = STYLES[name]
    options: dict[str, str | float | bool] = {
        "color": style.color,
        "weight": style.weight,
        "opacity": 1.0,
        "lineCap": "butt",
        "fill": bool(style.fill),
    }
    if name == "touch":
        options["opacity"] = 0.0
    if style.dash:
        options["dashArray"] = style.dash
    if style.fill:
        # a hatch carries its own ground colour, so that both show
        options |= (
            {"fillColor": f"url(#{style.hatch})", "fillOpacity": 1.0}
            if style.hatch
            else {"fillColor": style.fill, "fillOpacity": style.opacity}
        )
    return options


def hatches() -> Markup:
    """The page's hatch patterns.

    Returns
    -------
    Markup
        One svg of no size.
    """
    patterns = []
    for style in STYLES.values():
        if style.hatch:
            size, path, color = _HATCHES[style.hatch]
            ground = tag("rect", width=size, height=size, fill=style.fill, fill_opacity=style.opacity)
            strokes = tag("path", d=path, stroke=color, stroke_width=1.1, fill="none")
            patterns.append(
                tag("pattern", ground, strokes, id=style.hatch, width=size, height=size, patternunits="userSpaceOnUse")
            )
    return tag("svg", tag("defs", *patterns), class_="hatches", width=0, height=0, aria_hidden="true")


def symbol(kind: str, *classes: str) -> Markup:
    """A point symbol as svg.

    Parameters
    ----------
    kind : str
        A name of SYMBOLS.
    *classes : str
        More classes, ours.

    Returns
    -------
    Markup
        One svg.
    """
    outline, letter = SYMBOLS[kind]
    inside = [tag("path", d=outline)]
    if letter:
        inside.append(tag("text", letter, x=12, y=16 if kind != "curb_outlet" else 14.5, text_anchor="middle"))
    return tag(
        "svg", *inside, class_=" ".join(("symbol", f"symbol-{kind}", *classes)), viewbox="0 0 24 24", aria_hidden="true"
    )


def swatch(entry: Key) -> Markup:
    """A sample of how something is drawn, for the key.

    Parameters
    ----------
    entry : Key
        A row of the key.

    Returns
    -------
    Markup
        One svg.
    """
    if entry.shape == "point":
        return symbol(entry.style)
    style = STYLES[entry.style]
    drawn: dict[str, str | float | None] = {
        "stroke": style.color,
        "stroke_width": style.weight,
        "stroke_dasharray": style.dash or None,
    }
    if entry.shape == "line":
        inside = [tag("line", x1=1, y1=12, x2=43, y2=12, **drawn)]
        if entry.letter:
            case = STYLES["utility_case"]
            inside = [
                tag("line", x1=1, y1=12, x2=43, y2=12, stroke=case.color, stroke_width=case.weight),
                *inside,
                tag("rect", x=14, y=4, width=16, height=16, rx=2, class_="letter-box"),
                tag("text", entry.letter, x=22, y=16, text_anchor="middle", class_="letter"),
            ]
        if entry.style in {"line_heavy", "line_risk", "line_drawn"}:
            # drawn over the line itself, or under it
            base = tag(
                "line", x1=1, y1=12, x2=43, y2=12, stroke=STYLES["line"].color, stroke_width=STYLES["line"].weight
            )
            inside = [base, *inside] if entry.style == "line_heavy" else [*inside, base]
        if entry.style == "line":
            inside.append(tag("path", d="M26 6l-8 6 8 6z", class_="arrow"))
    else:
        shape: dict[str, str | float | None] = {"x": 2, "y": 3, "width": 40, "height": 18}
        fill = f"url(#{style.hatch})" if style.hatch else style.fill or "none"
        inside = [tag("rect", **shape, fill=fill, fill_opacity=1 if style.hatch else style.opacity, **drawn)]
    return tag("svg", *inside, class_="swatch", viewbox="0 0 44 24", aria_hidden="true")
