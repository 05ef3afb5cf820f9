"""A plan in; what is said of its lot where many stand in one list, out.

What makes it what it is, and what would change that.
"""

from __future__ import annotations

from siteplan import units
from siteplan.books.rules import RuleBook
from siteplan.sheets.cure_words import cure_text
from siteplan.sheets.doubt_words import wanted_line
from siteplan.sheets.states import line_state, source_states
from siteplan.sheets.wording import losing, names, one_line, quantity, subject, way, worst_first
from siteplan.values.lines import Line
from siteplan.values.told import Finding
from siteplan.values.whole_plan import Plan


def lot_margin(plan: Plan) -> float | None:
    """Least fall to spare of all sources.

    Parameters
    ----------
    plan : Plan
        As stored.

    Returns
    -------
    float or None
        [m]; under 0: a source that no line serves is short by so much at the outlet nearest to serving it; None: one
        cannot be measured, or there is no source.
    """
    found = [line.spare for line in plan.lines]
    for source in _unserved(plan):
        short = [one.margin for one in losing(plan, source) if one.margin is not None and not one.feasible]
        if not short:
            return None
        found.append(min(0.0, max(short)))
    return min(found, default=None)


def lot_why(plan: Plan, rules: RuleBook) -> str:
    """What makes a lot what it is, in one sentence.

    Parameters
    ----------
    plan : Plan
        As stored.
    rules : RuleBook
        In force.

    Returns
    -------
    str
        What the outlet nearest to serving a source that nothing drains is short of; else the worst fail; else the least
        sure line; else the line with the least fall to spare.
    """
    called = names(plan)
    for source in _unserved(plan):
        near = next((one for one in losing(plan, source) if one.reason), None)
        if near is not None:
            return one_line(f"{called[source]} to {called.get(near.outlet, near.outlet)}: {near.reason}")
    worst = _worst(plan, rules)
    if worst is not None:
        return one_line(f"{subject(worst, called)}: {worst.message} ({worst.rule})")
    unsure = _least_sure(plan)
    if unsure is not None:
        return one_line(f"{way(unsure, called)}: {line_state(plan, unsure).text}")
    tight = _tightest(plan)
    if tight is None:
        return "No line by gravity."
    return one_line(f"{way(tight, called)}: {units.spare_text(tight.spare, plan.length_unit)}")


def lot_flip(plan: Plan, rules: RuleBook) -> str:
    """The smallest change that would make another answer of it, in one sentence.

    Parameters
    ----------
    plan : Plan
        As stored.
    rules : RuleBook
        In force.

    Returns
    -------
    str
        What would serve a source that nothing drains; how much is missing of what a check asks; shots that would settle
        a line in doubt; how much less fall would spoil a sure one; empty where none is known.
    """
    for source in _unserved(plan):
        for tried in losing(plan, source):
            attempt = next((one for one in plan.attempts if (one.source, one.outlet) == (source, tried.outlet)), None)
            serving = () if attempt is None else tuple(cure for cure in attempt.cures if not cure.fails)
            if attempt is not None and serving:
                return one_line(cure_text(serving[0], plan, attempt))
    worst = _worst(plan, rules)
    if worst is not None:
        if worst.value is None or worst.limit is None or worst.rule not in rules or worst.unit == "verdict":
            return ""
        by = quantity(abs(worst.limit - worst.value), worst.unit, plan.length_unit)
        return f"{by} {'more' if worst.value < worst.limit else 'less'} ({rules[worst.rule].rule.title})"
    if _least_sure(plan) is not None:
        return one_line(wanted_line(plan))
    tight = _tightest(plan)
    return "" if tight is None else f"{units.small_text(tight.spare, plan.length_unit)} less fall would spoil it"


def _worst(plan: Plan, rules: RuleBook) -> Finding | None:
    return next((one for one in worst_first(plan, rules) if one.status == "fail"), None)


def _unserved(plan: Plan) -> list[str]:
    return [source for source, state in source_states(plan).items() if state is None]


def _least_sure(plan: Plan) -> Line | None:
    unsure = [line for line in plan.every_line if line_state(plan, line).state != "sure"]
    return min(unsure, key=lambda line: -1.0 if line.doubt is None else line.doubt.chance_min_grade, default=None)


def _tightest(plan: Plan) -> Line | None:
    return min(plan.lines, key=lambda line: line.spare, default=None)
