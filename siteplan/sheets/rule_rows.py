"""A rule in force in; its one row out, as map, check sheet, terminal and docs print it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from siteplan import units
from siteplan.books.rules import SHEET, Authority, InForce, Rule, declared_text, outward
from siteplan.checks.judge import PARAMETERS
from siteplan.sheets.wording import one_line, quantity

HEADS = ("Rule", "Limit", "When broken", "Standing", "Source")
STANDINGS: Mapping[Authority, str] = {
    "code": "law",
    "local": "local rules, which differ",
    "practice": "practice",
    "unknown": "standing not known",
}
OWN = "set by this site"


class RuleRow(NamedTuple):
    """A rule as printed; `source` is empty where nobody gave one."""

    id: str
    title: str
    limit: str
    broken: str
    standing: str
    source: str


def rule_row(entry: InForce, length_unit: str = "") -> RuleRow:
    """The row of a rule.

    Parameters
    ----------
    entry : InForce
        The rule with its limit in force.
    length_unit : str
        The site's: 'ft', 'us-ft' or 'm'; '' where there is no site: limits in the unit they are declared in.

    Returns
    -------
    RuleRow
        Words, not escaped.
    """
    rule = entry.rule
    source = "" if entry.source == SHEET else f"{one_line(entry.source)}, {one_line(rule.dated)}"
    if entry.replaced is not None:
        source += f"; replaces {one_line(entry.replaced)}"
    return RuleRow(
        rule.id,
        rule.title,
        _limit(entry, length_unit),
        _broken(rule),
        OWN if entry.own else STANDINGS[rule.authority],
        source,
    )


def _broken(rule: Rule) -> str:
    return "used by others" if rule.id in PARAMETERS else rule.broken


def _limit(entry: InForce, length_unit: str) -> str:
    rule = entry.rule
    if rule.dimension == "none":
        return "no limit"
    if entry.limit is None:
        return "not known"
    value, unit = outward(entry)
    if rule.dimension == "verdict":
        return quantity(value, unit, length_unit)
    if not length_unit:
        return f"{rule.sense} {declared_text(entry)}"
    text = units.drop_text(entry.limit, length_unit) if unit == "m" else quantity(value, unit, length_unit)
    return f"{rule.sense} {text}"
