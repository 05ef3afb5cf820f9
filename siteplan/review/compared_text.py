"""A comparison of two plans in; the words for a terminal and the record for programs out."""

from __future__ import annotations

import json
from collections.abc import Sequence

from siteplan import units
from siteplan.review.compared import Broken, Change, Comparison, Value
from siteplan.review.one_site import LOTS_IN_COMMON, SiteLikeness
from siteplan.sheets.doubt_words import chance_text
from siteplan.sheets.states import STATES, state_word
from siteplan.sheets.terminal import fitted
from siteplan.sheets.wording import counted, one_line, quantity, titled

_CALLED = {
    "site": "name of the site",
    "file": "input file",
    "rule": "limit in force",
    "source": "source",
    "flow": "flow",
    "outlet": "outlet",
    "control": "lowest invert at the outlet",
    "served-by": "drains to",
    "state": "state",
    "line": "line",
    "way": "way moved by",
    "length": "length",
    "invert": "invert",
    "grade": "flattest grade",
    "pipe": "pipe",
    "deepest-cut": "deepest cut at a stake",
    "least-cover": "least cover",
    "spare": "fall to spare",
    "chance": "chance to hold its least grade",
    "fails": "fails",
    "flags": "flags",
    "trench": "length of trench in all",
}


def compared_as_json(found: Comparison) -> str:
    """For programs.

    Parameters
    ----------
    found : Comparison
        From `compared`.

    Returns
    -------
    str
        JSON: same_site, lots_in_common, changed, breaks, mends.
    """
    record = {
        "same_site": found.site.same,
        "lots_in_common": _rounded(found.site.lots_in_common),
        "changed": [
            {
                "what": one.what,
                "subject": one.subject,
                "before": _rounded(one.before),
                "after": _rounded(one.after),
                "unit": one.unit,
                "station": _rounded(one.station),
            }
            for one in found.changed
        ],
        "breaks": [{"rule": one.rule, "subject": one.subject} for one in found.breaks],
        "mends": [{"rule": one.rule, "subject": one.subject} for one in found.mends],
    }
    return json.dumps(record, indent=2, ensure_ascii=False)


def compared_as_text(found: Comparison) -> str:
    """For people: that these are two sites where they are, what the second plan breaks first, then what it mends.

    Then every change.

    Parameters
    ----------
    found : Comparison
        From `compared`.

    Returns
    -------
    str
        At most 80 columns; no newline at the end.
    """
    first, second = titled(found.first), titled(found.second)
    apart = "" if found.site.same else two_sites_text(found.site)
    out = [*(fitted(apart) if apart else []), *fitted(f"Before: {first}"), *fitted(f"After:  {second}")]
    if not (found.changed or found.breaks or found.mends):
        return "\n".join([*out, "Nothing that a crew or an inspector reads is changed."])
    if apart:
        out += fitted(f"{counted(len(found.changed), 'difference')} between the two")
    else:
        out += fitted(f"{counted(len(found.changed), 'change')}; {_broken_count(found.breaks)}")
    out += _listed("BREAKS", found.breaks) + _listed("MENDS", found.mends)
    for one in found.changed:
        out += fitted(_change_text(one, found.second.length_unit))
    return "\n".join(out)


def two_sites_text(site: SiteLikeness) -> str:
    """That two plans are of two sites, and what tells it.

    Parameters
    ----------
    site : SiteLikeness
        Of two that are not the same.

    Returns
    -------
    str
        Two sentences.
    """
    if site.lots_in_common is None:
        why = "their lots cannot be laid over one another, and neither name nor any file agrees"
    elif site.lots_in_common < LOTS_IN_COMMON:
        why = "their lots have no ground in common"
    else:
        why = (
            "on their assumed grids the lots lie over one another, but neither name, nor any file, source or "
            "outlet agrees"
        )
    return (
        f"TWO SITES, not two plans of one: {why}. What follows is no revision; a rule is broken on one lot and "
        "kept on another."
    )


def _broken_count(breaks: Sequence[Broken]) -> str:
    return (
        f"{counted(len(breaks), 'rule')} broken that was kept before"
        if breaks
        else "no rule broken that was kept before"
    )


def _listed(head: str, broken: Sequence[Broken]) -> list[str]:
    return [line for one in broken for line in fitted(f"{head} {one.rule}: {one_line(one.subject)}")]


def _change_text(one: Change, unit: str) -> str:
    called = _CALLED[one.what]
    who = "" if one.subject == "plan" else f"{one_line(one.subject)}: "
    where = "" if one.station is None else f", station {units.station_text(one.station, unit)}"
    if one.what == "way":
        return f"{who}{called} up to {_said(one, one.after, unit)}{where}"
    if isinstance(one.before, float) and isinstance(one.after, float) and one.unit in {"m", "percent"}:
        sign = "+" if one.after > one.before else "-"
        by = f" ({sign}{quantity(abs(one.after - one.before), one.unit, unit)})"
    else:
        by = ""
    return f"{who}{called}{where}: {_said(one, one.before, unit)} -> {_said(one, one.after, unit)}{by}"


def change_row(one: Change, unit: str) -> tuple[str, str, str, str, str]:
    """A change as a row of a table.

    Parameters
    ----------
    one : Change
        From `compared`.
    unit : str
        The site's length unit.

    Returns
    -------
    tuple of str
        Whose, what, at which station, before, after.
    """
    where = "" if one.station is None else units.station_text(one.station, unit)
    before = "" if one.what == "way" else _said(one, one.before, unit)
    return (
        "the plan" if one.subject == "plan" else one_line(one.subject),
        _CALLED[one.what],
        where,
        before,
        _said(one, one.after, unit),
    )


def _said(one: Change, value: Value, unit: str) -> str:
    if value is None:
        return {"served-by": "not drained", "state": "not drained", "flow": "not known", "chance": "not known"}.get(
            one.what, "none"
        )
    if isinstance(value, str):
        return next((state_word(state) for state in STATES if one.what == "state" and state == value), one_line(value))
    if one.unit == "share":
        return chance_text(value)
    return f"{value:g}" if not one.unit else quantity(value, one.unit, unit)


def _rounded(value: Value) -> Value:
    return round(value, 6) + 0.0 if isinstance(value, float) else value
