"""A stored plan in; its rules as it states them, and what its findings say of a line against them, as printed, out."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import NamedTuple

from siteplan import units
from siteplan.sheets.rule_rows import STANDINGS
from siteplan.sheets.wording import one_line, quantity
from siteplan.stored.folder_of import StoredPlan
from siteplan.values.told import Finding


class StatedRule(NamedTuple):
    """A rule as plan.json states it; `limit` as printed."""

    id: str
    title: str
    limit: str
    sense: str
    standing: str
    broken: str
    source: str
    caution: str


def stated_rules(stored: StoredPlan) -> list[StatedRule]:
    """The rules that a plan lists.

    Parameters
    ----------
    stored : StoredPlan
        With its record.

    Returns
    -------
    list of StatedRule
        In the plan's order.
    """
    listed = stored.record.get("rules")
    unit = stored.plan.length_unit
    return [
        _stated(one, unit)
        for one in (listed if isinstance(listed, list) else [])
        if isinstance(one, Mapping) and isinstance(one.get("id"), str)
    ]


def _stated(record: Mapping[str, object], unit: str) -> StatedRule:
    def text(key: str) -> str:
        value = record.get(key)
        return one_line(value) if isinstance(value, str) else ""

    limit, sense = record.get("limit"), text("sense")
    figure = float(limit) if isinstance(limit, int | float) and not isinstance(limit, bool) else None
    said = (
        "no limit" if sense == "none" else "not known" if figure is None else measure_text(figure, text("unit"), unit)
    )
    if figure is not None and sense in {"at least", "at most"} and text("unit") != "verdict":
        said = f"{sense} {said}"
    standing = next((words for authority, words in STANDINGS.items() if authority == text("authority")), "")
    source = ", ".join(part for part in (text("source"), text("dated")) if part)
    if replaced := text("replaced"):
        source += f"; replaces {replaced}"
    return StatedRule(text("id"), text("title"), said, sense, standing, text("broken"), source, text("caution"))


def measure_text(value: float | None, unit: str, length_unit: str) -> str:
    """A finding's or a rule's figure as a person with a tape reads it.

    Parameters
    ----------
    value : float or None
        As plan.json carries it [unit].
    unit : str
        'm', 'percent', 'deg', 'lps', 'm/s', 's', 'verdict' or ''.
    length_unit : str
        The site's.

    Returns
    -------
    str
        A dash where there is none.
    """
    if unit == "m" and value is not None and math.isfinite(value):
        return units.drop_text(value, length_unit)
    return quantity(value, unit, length_unit)


def spare_measure(finding: Finding, sense: str, length_unit: str) -> str:
    """How far a finding's figure stands on the good side of its limit.

    Parameters
    ----------
    finding : Finding
        As stored.
    sense : str
        Of its rule: 'at least', 'at most' or 'none'.
    length_unit : str
        The site's.

    Returns
    -------
    str
        Below 0: that much too little or too much; '' where there is no such figure.
    """
    if (
        finding.value is None
        or finding.limit is None
        or sense not in {"at least", "at most"}
        or finding.unit == "verdict"
    ):
        return ""
    off = finding.value - finding.limit if sense == "at least" else finding.limit - finding.value
    return measure_text(off, finding.unit, length_unit)
