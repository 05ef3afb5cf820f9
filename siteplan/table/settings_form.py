"""The declared keys of site.toml and the rules in.

The forms that the page shows, each field with unit, limits, usual value and source, out.

What a form does not hold is written in site.toml by hand, and stays there.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any, Literal

from siteplan.books import pipes
from siteplan.books.kinds import SHAPE_OF
from siteplan.books.profiles import RuleProfile
from siteplan.books.rules import RULES, Rule, rule_unit_text, settings_keys, settings_units, worded
from siteplan.survey.profile_file import site_profile
from siteplan.survey.settings import SITE_FILE
from siteplan.survey.site_keys import BY_NAME, KEYS, SECTION_NOTES, SECTION_TITLES, SiteKey, unit_said, usual_said
from siteplan.table.kind_form import form_field, kind_form
from siteplan.units import SITE_UNITS, UNIT_NAMES

STANDING = {
    "code": "law",
    "local": "local rules, which differ",
    "practice": "practice",
    "unknown": "standing not known",
}
_VERDICTS = ("allow", "flag", "fail")
ROWS_KEY = "plat.image_points"  # rows of column, row, easting, northing; picked on the picture
PICTURE_KEYS = ("plat.image", ROWS_KEY)
_RULE_KEYS = {key for rule in RULES for key in settings_keys(rule)}
_LISTS = ("texts", "numbers", "rows")


def is_setting(name: str) -> bool:
    """Whether a key of site.toml is set on the page.

    Parameters
    ----------
    name : str
        'key' or 'section.key'.

    Returns
    -------
    bool
    """
    if name.startswith("rules."):
        return name.removeprefix("rules.") in _RULE_KEYS
    return name in PICTURE_KEYS or (name in BY_NAME and BY_NAME[name].written != "by hand")


def is_list(name: str) -> bool:
    """Whether a key holds a list.

    Parameters
    ----------
    name : str
        Of a setting.

    Returns
    -------
    bool
    """
    return name == ROWS_KEY or (name in BY_NAME and BY_NAME[name].written in _LISTS)


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
    _gather(settings, "", found)
    return found


def _gather(table: Mapping[str, Any], before: str, found: dict[str, Any]) -> None:
    for key, value in table.items():
        name = f"{before}{key}"
        if isinstance(value, Mapping):
            if before.count(".") < 2:
                _gather(value, f"{name}.", found)
        elif is_setting(name) and isinstance(value, list if is_list(name) else str | int | float | bool):
            found[name] = value


def forms(folder: Path, settings: Mapping[str, Any]) -> dict[str, Any]:
    """The forms of a site.

    Parameters
    ----------
    folder : Path
        The site folder, for the rules of the place that it may name.
    settings : mapping
        site.toml, for its units and what it says already.

    Returns
    -------
    dict
        kinds: what may be drawn, with the fields of each; settings: groups of fields.
    """
    length = settings.get("length_unit")
    unit = length if length in SITE_UNITS else "ft"
    told = settings.get("elevation_unit")
    height = told if told in SITE_UNITS else unit
    _, profile = site_profile(folder, settings, SITE_FILE, [], [])
    own = settings.get("rules")
    rules = [_rule(rule, unit, own, profile) for rule in RULES if settings_keys(rule)]
    groups = [_section(section, settings, unit, height) for section in SECTION_TITLES]
    return {
        "kinds": [kind_form(kind, unit, height) for kind in SHAPE_OF],
        "settings": [*groups, {"title": "Rules", "note": "", "fields": rules, "by_hand": []}],
    }


def _section(section: str, settings: Mapping[str, Any], unit: str, height: str) -> dict[str, Any]:
    told = settings_told(settings)
    here = [one for one in KEYS if one.shown_in == section]
    shown = [one for one in here if one.written != "by hand" and _in_a_unit(one, told, unit)]
    return {
        "title": SECTION_TITLES[section],
        "note": SECTION_NOTES.get(section, ""),
        "fields": [_field(one, settings, unit, height) for one in shown],
        "by_hand": [
            f"{one.name} ({one.title}{f': {one.source}' if one.source else ''})"
            for one in here
            if one.written == "by hand"
        ],
    }


def _in_a_unit(one: SiteKey, told: Mapping[str, Any], unit: str) -> bool:
    """Whether a key is the one of its family that is shown.

    The site's own, else the one in the unit that its people use.
    """
    if not one.family:
        return True
    family = [other for other in KEYS if (other.section, other.family) == (one.section, one.family)]
    own = next((other for other in family if other.name in told), None)
    return one == own if own else one.unit == ("mm" if unit == "m" else "in")


def _field(one: SiteKey, settings: Mapping[str, Any], unit: str, height: str) -> dict[str, Any]:
    limits = f"{one.limits}; " if one.limits and one.source else one.limits
    options: list[Any] = list(one.choices)
    if one.choices == SITE_UNITS:
        options = [{"value": name, "label": UNIT_NAMES[name]} for name in SITE_UNITS]
    elif one.offers:
        options = list(_on_offer(one.offers, settings))
    usual = usual_said(one, height)
    more = {"options": options} if one.written == "choice" else {}
    return form_field(
        one.name, one.title, unit_said(one, unit, height), one.written, f"{limits}{one.source}", usual=usual, **more
    )


def _on_offer(what: Literal["kinds", "sizes"], settings: Mapping[str, Any]) -> tuple[str, ...]:
    """Kinds of pipe, or the sizes of the one that is laid, the site's own among them."""
    own, water = settings.get("pipes"), settings.get("water")
    try:
        tables = own if isinstance(own, Mapping) else {}
        kinds = pipes.kinds(tables)
        if what == "kinds":
            return tuple(kinds)
        asked = water.get("pipe") if isinstance(water, Mapping) else None
        kind = asked if asked in kinds else BY_NAME["water.pipe"].usual
        return tuple(one.nominal for one in pipes.sizes(str(kind), tables))
    except (
        ValueError,
        KeyError,
        TypeError,
        AttributeError,
    ):  # tables of one's own that are none are told by the answer
        return tuple(pipes.kinds()) if what == "kinds" else ()


def _rule(rule: Rule, unit: str, set_here: object, profile: RuleProfile | None) -> dict[str, Any]:
    """A rule's field: its key is the one that the site uses already, or the one in the site's own unit.

    Its limit that of the place, if it says one.
    """
    theirs = None if profile is None else profile.rules.get(rule.id)
    said = worded(rule, unit)
    unit_of = settings_units(rule)
    own = [key for key in unit_of if isinstance(set_here, Mapping) and key in set_here]
    key = own[0] if own else next((one for one in unit_of if unit_of[one] == said.unit), next(iter(unit_of)))
    told = "%" if unit_of[key] == "percent" else rule_unit_text(unit_of[key])
    note = f"{said.source}, {said.dated}; {STANDING[rule.authority]}"
    usual: Any = (
        None if said.limit is None else _VERDICTS[int(said.limit)] if rule.dimension == "verdict" else said.limit
    )
    usual_unit = said.unit
    if theirs is not None and profile is not None:
        usual_key = next(one for one in unit_of if one in profile.settings)
        usual, usual_unit = profile.settings[usual_key], unit_of[usual_key]
        note = f"{theirs.source}, {theirs.dated}; {STANDING[theirs.authority]}, by {profile.name}"
    if unit_of[key] != usual_unit and usual is not None:  # printed in another unit than the field's
        usual = f"{usual} {rule_unit_text(usual_unit)}"
    if rule.dimension == "verdict":
        return form_field(f"rules.{key}", said.title, "", "choice", note, options=list(_VERDICTS), usual=usual)
    return form_field(f"rules.{key}", said.title, told, "number", note, usual=usual)
