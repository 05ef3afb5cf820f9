"""The books in; the forms that the page shows, each field with its unit, its limit in force and its source, out.

What a form does not hold is written in site.toml by hand, and stays there.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from siteplan.books import pipes
from siteplan.books.hydraulics import runoff_book
from siteplan.books.kinds import (
    LINE_KINDS,
    OUTLET_KINDS,
    OUTLETS,
    POLYGON_KINDS,
    SHAPE_OF,
    SOURCE_KINDS,
    SOURCES,
    TITLES,
    Kind,
)
from siteplan.books.rules import RULES, Rule, settings_keys, worded
from siteplan.books.services import SERVICES
from siteplan.units import SITE_UNITS, UNIT_NAMES

STANDING = {
    "code": "law",
    "local": "local rules, which differ",
    "practice": "practice",
    "unknown": "standing not known",
}
_VERDICTS = ("allow", "flag", "fail")
_YES = "yes"  # type of a field that is true or left out
_SITE: Mapping[str, tuple[str, ...]] = {
    "": ("name", "crs", "length_unit", "elevation_unit", "note"),
    "rainfall": ("intensity", "duration", "years", "source"),
    "water": ("pipe", "smallest", "largest"),
    "ground": ("accuracy", "shots_accuracy"),
    "trench": ("frost_depth_in", "frost_depth_mm", "certainty"),
    "plat": ("image", "image_points"),
}
ROWS_KEY = "plat.image_points"  # rows of column, row, easting, northing
_RULE_KEYS = {key for rule in RULES for key in settings_keys(rule)}


def is_setting(name: str) -> bool:
    """Whether a key of site.toml is typed in a form.

    Parameters
    ----------
    name : str
        'key' or 'section.key'.

    Returns
    -------
    bool
    """
    section, dot, key = name.partition(".")
    section, key = (section, key) if dot else ("", name)
    return key in _RULE_KEYS if section == "rules" else key in _SITE.get(section, ())


def settings_told(settings: Mapping[str, Any]) -> dict[str, Any]:
    """The settings of a site that forms hold.

    Parameters
    ----------
    settings : mapping
        site.toml.

    Returns
    -------
    dict
        'key' or 'section.key' to its value; only what the site says.
    """
    found: dict[str, Any] = {}
    for section in (*_SITE, "rules"):
        table = settings if not section else settings.get(section)
        for key, value in table.items() if isinstance(table, Mapping) else ():
            name = f"{section}.{key}" if section else str(key)
            if is_setting(name) and (
                isinstance(value, str | int | float | bool) or (name == ROWS_KEY and isinstance(value, list))
            ):
                found[name] = value
    return found


def forms(settings: Mapping[str, Any]) -> dict[str, Any]:
    """The forms of a site.

    Parameters
    ----------
    settings : mapping
        site.toml, for its units.

    Returns
    -------
    dict
        kinds: what may be drawn, with the fields of each; settings: groups of fields.
    """
    length = settings.get("length_unit")
    unit = length if length in SITE_UNITS else "ft"
    height = settings.get("elevation_unit")
    return {
        "kinds": [_kind(kind, unit, height if height in SITE_UNITS else unit) for kind in SHAPE_OF],
        "settings": _groups(settings, unit, height if height in SITE_UNITS else unit),
    }


def _field(key: str, label: str, unit: str = "", what: str = "number", note: str = "", **more: Any) -> dict[str, Any]:
    return {"key": key, "label": label, "unit": unit, "type": what, "note": note, **more}


def _kind(kind: str, unit: str, height: str) -> dict[str, Any]:
    flow = "L/s" if unit == "m" else "gpm"
    area = "m²" if unit == "m" else "ft²"
    bore = (
        _field("diameter_mm", "Inside diameter", "mm")
        if unit == "m"
        else _field("diameter_in", "Inside diameter", "in")
    )
    known = {
        "roof_area": _field("roof_area", "Roof area, in plan", area),
        "drained_area": _field("drained_area", "Ground that drains to it", area),
        "flow": _field("flow", "Its own flow", flow),
        "cover": _field("cover", "Cover of that ground", what="choice", options=[one.cover for one in runoff_book()]),
        "pump_rate": _field("pump_rate", "Pump rate", flow),
        "pump_flow": _field("pump_flow", "Rated flow", flow, note="rated point, with the head beside it"),
        "pump_head": _field("pump_head", "Rated head", "m" if unit == "m" else "ft"),
        "discharge": _field("discharge", "Pumped to", what="text", note="name of a discharge point or an outlet"),
        "check_valve": _field("check_valve", "Check valve", what=_YES),
        "off_level": _field("off_level", "Pump stops at", height, note="an elevation"),
        "pit_diameter": _field("pit_diameter", "Pit diameter", unit),
        "pit_depth": _field("pit_depth", "Pit depth", unit),
        "pit_rise": _field("pit_rise", "Float travel", unit),
        "refill_s": _field("refill_s", "Refills in", "s", note="with the pump at rest"),
        "air_gap": _field("air_gap", "Gap before the line", what="choice", options=["open", "none"]),
        "curb_height": _field("curb_height", "Curb, gutter to top", unit),
        "holes": _field("holes", "Holes through the curb", note="1 when left out"),
        "hole_spacing": _field("hole_spacing", "Holes apart", unit, note="centre to centre"),
        "takes_flow": _field("takes_lps" if unit == "m" else "takes_gpm", "Can still take", flow),
    }
    invert = (
        _field("invert", "Highest invert it may start at", height)
        if kind in SOURCE_KINDS
        else _field("invert", "Invert the line must reach", height, note="the ground tells it when left out")
    )
    fields: list[dict[str, Any]] = [_field("name", "Name", what="text")]
    if kind in SOURCES:
        fields += [known[key] for key in SOURCES[kind].keys if key in known]
        fields += [invert, _field("rim", "Rim", height, note="where water comes out when the line is full")]
        fields += [_field("own_line", "Nothing else in its line", what=_YES)]
    elif kind in OUTLETS:
        fields += [invert, bore, *(known[key] for key in OUTLETS[kind].keys if key in known)]
        fields += [_field("tail_water", "Water outside", height)]
    elif kind == Kind.UTILITY:
        services = [one.word for one in SERVICES]
        fields += [
            _field("service", "Service", what="choice", options=services),
            _field("depth", "Depth of its top", unit),
            bore,
        ]
    elif kind in {Kind.DRIVEWAY, Kind.PAVING}:
        fields += [_field("vehicle", "Carries", what="choice", options=["car", "truck"])]
    elif kind == Kind.TREE:
        fields += [{**bore, "label": "Trunk"}]
    elif kind == Kind.DRAIN:
        fields += [
            _field("from", "From", what="text", note="name of a source, or another drain"),
            _field("to", "To", what="text", note="name of an outlet, or a drain that it joins"),
            _field("grade_percent", "Grade", "%"),
            _field("mode", "Laid", what="choice", options=["fixed", "guide"]),
            _field("pipe", "Pipe", what="choice", options=list(pipes.kinds())),
        ]
    fields.append(_field("note", "Note", what="text"))
    group = (
        "source" if kind in SOURCE_KINDS
        else "outlet" if kind in OUTLET_KINDS
        else "area" if kind in POLYGON_KINDS
        else "line" if kind in LINE_KINDS
        else "point"
    )  # fmt: skip
    return {"kind": str(kind), "title": TITLES[kind], "shape": str(SHAPE_OF[kind]), "group": group, "fields": fields}


def _groups(settings: Mapping[str, Any], unit: str, height: str) -> list[dict[str, Any]]:
    rain = "mm/h" if unit == "m" else "in/h"
    named = [{"value": one, "label": UNIT_NAMES[one]} for one in SITE_UNITS]
    sizes = sorted(
        {one.nominal for kind in pipes.kinds() for one in pipes.sizes(kind)}, key=lambda text: (len(text), text)
    )
    frost = "frost_depth_mm" if unit == "m" else "frost_depth_in"
    groups = [
        {
            "title": "The site",
            "fields": [
                _field("name", "Name of the lot", what="text"),
                _field("length_unit", "Lengths are in", what="choice", options=named, note="a unit is declared, never guessed"),
                _field("elevation_unit", "Elevations are in", what="choice", options=named),
                _field("crs", "System of the coordinates", what="text", note='"local" for an assumed grid, or a code such as EPSG:6539'),
                _field("ground.accuracy", "One standard deviation of an elevation", height, note="0.05 ft is assumed when left out"),
                _field("trench.certainty", "How sure covers are kept", "of 1", note="0.95 when left out"),
            ],
        },
        {
            "title": "Rain",
            "fields": [
                _field("rainfall.intensity", "Intensity", rain, note="of the usual design storm, as a source beside it says"),
                _field("rainfall.duration", "Over", "minutes"),
                _field("rainfall.years", "Return period", "years"),
                _field("rainfall.source", "Source", what="text", note="printed with every answer"),
            ],
        },
        {
            "title": "Pipe and frost",
            "fields": [
                _field("water.pipe", "Kind of pipe", what="choice", options=list(pipes.kinds()), note="pvc_sdr35 when left out"),
                _field("water.smallest", "Smallest size", what="choice", options=sizes),
                _field("water.largest", "Largest size", what="choice", options=sizes),
                _field(f"trench.{frost}", "Depth of frost", "mm" if unit == "m" else "in"),
            ],
        },
    ]  # fmt: skip
    set_here = settings.get("rules")
    return [
        *groups,
        {"title": "Rules", "fields": [_rule(rule, unit, set_here) for rule in RULES if settings_keys(rule)]},
    ]


def _rule(rule: Rule, unit: str, set_here: object) -> dict[str, Any]:
    """A rule's field: its key is the one that the site uses already, or the one in the site's own unit."""
    said = worded(rule, unit)
    keys = settings_keys(rule)
    own = [key for key in keys if isinstance(set_here, Mapping) and key in set_here]
    stem = rule.id.replace("-", "_")
    key = own[0] if own else f"{stem}_{said.unit}" if f"{stem}_{said.unit}" in keys else keys[0]
    told = key[len(stem) + 1 :].replace("_per_", "/").replace("us_ft", "US survey ft").replace("percent", "%")
    usual = said.limit
    shown: Any = None if usual is None else _VERDICTS[int(usual)] if rule.dimension == "verdict" else usual
    if own and key != f"{stem}_{said.unit}":
        shown = None  # its default is printed in another unit than the field's
    note = f"{said.source}, {said.dated}; {STANDING[rule.authority]}"
    if rule.dimension == "verdict":
        return _field(f"rules.{key}", said.title, "", "choice", note, options=list(_VERDICTS), usual=shown)
    return _field(f"rules.{key}", said.title, told, "number", note, usual=shown)
