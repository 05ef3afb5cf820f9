"""A review in; its comment list, JSON, and the check sheet to print and sign out."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import replace

from siteplan import units
from siteplan.books.phrases import phrase
from siteplan.books.rules import RULES, Rule, outward, rule_book
from siteplan.checks.judge import PARAMETERS
from siteplan.review.reviewed import Reviewed
from siteplan.review.whole import Review
from siteplan.sheets.hold_points import hold_points
from siteplan.sheets.markup import Markup, cited, tag, whole
from siteplan.sheets.paper import listed, page, signatures, table
from siteplan.sheets.rule_rows import STANDINGS, RuleRow, rule_row
from siteplan.sheets.states import line_state
from siteplan.sheets.wording import names, one_line, quantity, titled, way
from siteplan.values.told import Finding

_PARTS = {
    "inputs": "Input files are those the plan was made from",
    "rules-edited": "Limits and sources printed are those in force",
    "verdict-edited": "Verdicts printed are those found again",
    "arithmetic": "Inverts, lengths and slopes follow from one another",
    "what-if": "A question, not the site as surveyed",
    "rules-own": "Limits that the site sets for itself",
    "made-again": "Made again from the same site, the plan says the same",
    "extra-file": "Nothing else lies in the plan folder",
    "low-spots": "Wet low spots are those of the ground",
    "plan-file": "plan.json is as written",
    "schedule": "The trench schedule states what plan.json states",
    "map": "The map shows what plan.json states",
    "sheet": "The other sheets are what plan.json gives",
    "sheet-text": "Cautions and assumptions stand as they were made",
    "sheet-blank": "Nothing on the sheets is left blank",
}
_SOURCE = 400  # letters of a source that a stranger's plan may print


def review_as_json(result: Review) -> str:
    """The review for programs.

    Parameters
    ----------
    result : Review
        The review.

    Returns
    -------
    str
        One JSON object, keys in a fixed order.
    """
    record = {
        "findings": [
            {"rule": one.rule, "subject": one.subject, "status": one.status, "where": one.where, "message": one.message}
            for one in result.findings
        ],
        "counts": result.counts,
        "advice": list(result.advice),
        "hold_points": hold_points(result.stored.plan),
        "site": result.stored.plan.site_name,
        "judged_again": result.site is not None,
        "standing": {key: list(items) for key, _, items in _standing(result)},
    }
    return json.dumps(record, indent=1, ensure_ascii=False, allow_nan=False)


def _standing(result: Review) -> tuple[tuple[str, str, tuple[str, ...]], ...]:
    """Key, title and words of what was worked out again by what, and of what was not."""
    told = result.standing
    return (
        ("independent", "Worked out again by arithmetic of its own", told.independent),
        ("planner", "Worked out again by the planner's own code, mistakes and all", told.planner),
        ("trust", "Not worked out again, taken on trust", told.trust),
    )


def review_as_text(result: Review, *, everything: bool = False) -> str:
    """The comment list as a screen.

    Parameters
    ----------
    result : Review
        The review.
    everything : bool
        Passes too.

    Returns
    -------
    str
        Lines without a trailing newline.
    """
    counts = result.counts
    called = names(result.stored.plan)
    head = f"Review of {titled(result.stored.plan)}: {_counted(counts)}"
    out = [head]
    for one in result.findings:
        if one.status != "pass" or everything:
            who = _of(one, called)
            where = f", {one.where}" if one.where and one.where not in one.message else ""
            out.append(f"{one.status.upper()} {one.rule}, {who}{where}: {one.message}")
    out += ["What would solve it:", *(f"  {text}" for text in result.advice)] if result.advice else []
    for _, title, items in _standing(result):
        out += [f"{title}:", *(f"  {text}" for text in items)] if items else [f"{title}: nothing"]
    out += ["Hold points:", *(f"  {text}" for text in hold_points(result.stored.plan))]
    return "\n".join("".join(c if c.isprintable() else " " for c in line) for line in out)


def _counted(counts: Mapping[str, int]) -> str:
    fails, flags = (f"{counts[key]} {key}{'' if counts[key] == 1 else 's'}" for key in ("fail", "flag"))
    return f"{fails}, {flags}, {counts['pass']} passed"


def check_sheet(result: Review, date: str | None = None) -> bytes:
    """The check sheet: every rule with its source, what the recheck found, a blank for what is measured on site.

    Also signatures.

    Parameters
    ----------
    result : Review
        The review.
    date : str, optional
        Of the recheck, printed.

    Returns
    -------
    bytes
        HTML in UTF-8 for letter and A4.
    """
    plan, counts = result.stored.plan, result.counts
    called = names(plan)
    by_rule: dict[str, list[Reviewed]] = {}
    for one in result.findings:
        by_rule.setdefault(one.rule, []).append(one)
    rows = []
    for rule in RULES:
        row, planned = _row(rule, result), _planned(rule, result)
        rows.append(
            [
                tag("span", tag("b", row.id), tag("br"), whole(row.title)),
                whole(row.limit),
                row.standing,
                whole(planned),
                "",
                *_found(by_rule.get(rule.id, []), called, _idle(rule.id, result)),
                "",
            ]
        )
        if row.source:
            rows.append([cited(f"Source: {row.source}")])
    # each other sheet has a finding, so none means that there is no other
    idle = {"sheet": "there are none", "what-if": "none was asked"}
    parts = [
        [title, *map(whole, _found(by_rule.get(key, []), called, idle.get(key, "not compared")))]
        for key, title in _PARTS.items()
    ]
    shown = [one for one in result.findings if one.status != "pass"]
    comments = [
        [str(n), one.status.upper(), one.rule, _of(one, called), whole(one.where), whole(one.message), ""]
        for n, one in enumerate(shown, 1)
    ]
    verdict = (
        "FAILS"
        if counts["fail"]
        else "no fail found; flags are for the inspector to settle"
        if counts["flag"]
        else "no fail found"
    )
    return page(
        f"Check sheet: {titled(plan)}",
        tag(
            "p",
            (
                f"Date of the recheck: {date or '____________'}. Date of the plan: "
                f"{one_line(plan.stamp or '') or 'none printed'}."
            ),
        ),
        tag("p", f"{_counted(counts)}: {verdict}. What was worked out again, and by what, stands below."),
        tag(
            "p",
            (
                "A planning aid's recheck, not an approval. Local code decides; a rule without a source is one "
                "that nobody gave a source for."
            ),
        ),
        tag("h2", "Lines"),
        table(["Line", "Way", "State"], _lines(result), words=[1, 2]),
        tag("h2", "Comments"),
        table(["No.", "", "Rule", "Of", "Place", "Comment", "Settled"], comments, words=[1, 2, 3, 4, 5], blank=[6]),
        *([tag("h2", "What would solve it"), listed(result.advice)] if result.advice else []),
        tag("h2", "Rules"),
        tag("p", "Planned is the plan's figure nearest its limit, or its least and greatest where there is no limit."),
        table(
            ["Rule", "Limit", "Standing", "Planned", "Measured", "Recheck", "Worst place", "Initials"],
            rows,
            words=[0, 1, 2, 3, 5, 6],
            blank=[4, 7],
        ),
        tag("h2", "The sheets themselves"),
        table(["What", "Recheck", "Where"], parts, words=[0, 1, 2]),
        *(
            part
            for _, title, items in _standing(result)
            for part in (tag("h2", title), listed(items) or tag("p", "nothing"))
        ),
        tag("h2", "The site's files as read"),
        table(
            ["File", "SHA-256", "As the surveyor delivered it"],
            [[one.file, one.sha256, ""] for one in (result.site.inputs if result.site is not None else plan.inputs)],
            words=[0, 1],
            blank=[2],
        ),
        tag("h2", "Hold points"),
        table(
            ["", "Date", "Initials"],
            [[text, "", ""] for text in hold_points(result.stored.plan)],
            words=[0],
            blank=[1, 2],
        ),
        tag("h2", "Not on the plan, to be written in"),
        listed(
            [
                "Permit no. ______________",
                "Locate ticket no. ______________",
                "Easement or road owner's consent ______________",
                "Benchmark used ______________",
            ]
        ),
        signatures(*(phrase("sign.line", who=phrase(who)) for who in ("sign.inspector", "sign.contractor"))),
        running=(titled(plan), "check sheet", f"date: {date or '________'}"),
    )


def _lines(result: Review) -> list[list[str]]:
    """Each line with its state by the recheck: a fail that the plan does not state counts."""
    plan = result.stored.plan
    found = tuple(
        Finding(
            rule=one.rule,
            subject=one.subject,
            value=None,
            limit=None,
            unit="",
            doubt=None,
            status="fail",
            where=one.where,
            message=one.message,
        )
        for one in result.findings
        if one.status == "fail"
    )
    judged = replace(plan, findings=(*plan.findings, *found))
    called = names(plan)
    return [[line.id, way(line, called), line_state(judged, line).text] for line in plan.lines]


def _row(rule: Rule, result: Review) -> RuleRow:
    """The rule as in force, or without a site as the plan prints it: shown, never believed."""
    unit = result.stored.plan.length_unit
    if result.site is not None:
        return rule_row(result.site.rules[rule.id], unit)
    listed = result.stored.record.get("rules", [])
    stated = next((one for one in listed if isinstance(one, dict) and one.get("id") == rule.id), {})
    usual, limit = rule_row(rule_book({})[rule.id], unit), stated.get("limit")
    known = isinstance(limit, int | float) and not isinstance(limit, bool)
    said = (
        f"{rule.sense} {_figure(float(limit or 0.0), outward(rule_book({})[rule.id])[1], unit)}"
        if known
        else "not read"
    )
    return usual._replace(
        limit=usual.limit if rule.dimension == "none" else f"{said} by the plan, not believed",
        standing=next((text for key, text in STANDINGS.items() if key == stated.get("authority")), "not read"),
        source=one_line(str(stated.get("source", ""))[:_SOURCE]),
    )


def _planned(rule: Rule, result: Review) -> str:
    """The figure that the plan states for a rule, worst of all lines, in the measure of the limit."""
    own = [one for one in result.stored.plan.findings if one.rule == rule.id]
    # a figure under a limit of another measure would be held against it with the tape
    said = [one for one in own if one.value is not None and (one.limit is not None or rule.dimension == "none")]
    values = sorted(one.value for one in said if one.value is not None)
    if not values:
        return "no figure" if own else ""
    unit = result.stored.plan.length_unit
    if rule.sense == "none":
        ends = dict.fromkeys(_figure(value, said[0].unit, unit) for value in (values[0], values[-1]))
        return " to ".join(ends)
    return _figure(values[0] if rule.sense == "at least" else values[-1], said[0].unit, unit)


def _figure(value: float, unit: str, length_unit: str) -> str:
    return units.drop_text(value, length_unit) if unit == "m" else quantity(value, unit, length_unit)


def _idle(rule: str, result: Review) -> str:
    """Why a rule has no finding."""
    if result.site is None:
        return "not judged: no site"
    return "enters other rules" if rule in PARAMETERS else "nothing here that it speaks of"


def _of(one: Reviewed, called: Mapping[str, str]) -> str:
    """What a finding is of: the id as plan.json has it, and the name that the map gives it."""
    ident, colon, rest = one.subject.partition(":")
    name = called.get(ident, ident)
    who = ident if name == ident else f"{ident} {name}"
    return one_line(f"{who}: {rest.strip()}" if colon else who)


def _found(findings: Sequence[Reviewed], called: Mapping[str, str], idle: str = "not compared") -> list[str]:
    if not findings:
        return [idle, ""]
    worst = min(findings, key=lambda one: ("fail", "flag", "pass").index(one.status))
    counted = [
        f"{sum(one.status == s for one in findings)} {s}"
        for s in ("fail", "flag", "pass")
        if any(one.status == s for one in findings)
    ]
    place = "" if worst.status == "pass" else f"{_of(worst, called)} {worst.where}".strip()
    return [Markup(tag("b", ", ".join(counted))) if worst.status == "fail" else ", ".join(counted), place]
