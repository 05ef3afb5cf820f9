"""Plan in; the words that every sheet says the same way out: who, from where to where, worst first, how many."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping

from siteplan import units
from siteplan.books.kinds import TITLES, into_pipe
from siteplan.books.phrases import Language, phrase
from siteplan.books.rules import RULES, VERDICTS, RuleBook
from siteplan.values.asked_for import WhatIf
from siteplan.values.flows_worked import RunFlow, Water
from siteplan.values.lines import Line
from siteplan.values.told import Finding
from siteplan.values.tried import Candidate
from siteplan.values.water_ends import Outlet, Source
from siteplan.values.whole_plan import Plan

KIND_TITLES = {**TITLES, "hollow": "Hollow"}
STATUS_RANK = {"fail": 0, "flag": 1, "pass": 2}
_SAME = 0.004  # stations closer than this are one [m]
_RULE_RANK = {rule.id: number for number, rule in enumerate(RULES)}


def names(plan: Plan) -> dict[str, str]:
    """What to call each source, outlet and line.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    dict of str to str
        Id to the user's name, or to its kind and id where it has none; a line is called by its id.
    """
    called = {line.id: line.id for line in plan.every_line}
    places: tuple[Source | Outlet, ...] = (*plan.sources, *plan.outlets)
    for place in places:
        called[place.id] = one_line(place.name) or f"{KIND_TITLES.get(place.kind, place.kind)} {place.id}"
    return called


def one_line(text: str) -> str:
    """User text on one line, control and other unprintable characters taken out.

    Parameters
    ----------
    text : str
        Anything a user wrote.

    Returns
    -------
    str
        Printable characters, single spaces.
    """
    plain = text if text.isprintable() else "".join(mark if mark.isprintable() else " " for mark in text)
    return " ".join(plain.split())


def what_if_text(asked: WhatIf) -> str:
    """What a plan was asked beside its site's own words.

    Parameters
    ----------
    asked : WhatIf
        The question; not empty.

    Returns
    -------
    str
        'without Curb; min_cover_in = 10', one line.
    """
    parts = [
        *(f"without {one_line(name)}" for name in asked.without),
        *([f"only {', '.join(one_line(name) for name in asked.only)}"] if asked.only else []),
        *(f"{one_line(key)} = {one_line(value)}" for key, value in asked.settings),
    ]
    return "; ".join(parts)


def titled(plan: Plan) -> str:
    """The name of a plan at the head of a sheet: the site's, and what was asked where it is not the site as surveyed.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    str
        One line.
    """
    name = one_line(plan.site_name)
    return f"{name} (what if: {what_if_text(plan.what_if)})" if plan.what_if else name


def way(line: Line, called: Mapping[str, str], language: Language = "english") -> str:
    """From where to where a line runs: 'Downspout 1 to Curb', 'joins L1', or 'Pit pumped into L3'.

    Parameters
    ----------
    line : Line
        The line.
    called : mapping of str to str
        From `names`.
    language : str
        Of the words: 'english' or 'spanish'.

    Returns
    -------
    str
        One phrase.
    """
    start, end = called.get(line.start, line.start), called.get(line.end, line.end)
    joins = called.get(line.end) == line.end
    if line.pumped is not None:
        return phrase("way.pumped_into" if joins else "way.pumped_to", language, start=start, end=end)
    return phrase("way.joins" if joins else "way.to", language, start=start, end=end)


def grades(line: Line) -> tuple[float, float]:
    """Least and greatest grade of a line's rows.

    Parameters
    ----------
    line : Line
        The line; the row at its outlet has no run downstream and is left out.

    Returns
    -------
    tuple of float
        Least and greatest [-]; NaN where the line has one row or none.
    """
    inner = [row.grade for row in line.rows if row.station > 0]
    return (min(inner), max(inner)) if inner else (math.nan, math.nan)


def grades_text(line: Line) -> str:
    """Grades of a line as printed: '1.25 %', or '1.00 to 2.40 %'.

    Parameters
    ----------
    line : Line
        The line.

    Returns
    -------
    str
        Percent.
    """
    if line.pumped is not None:
        return "follows the ground, no fall asked"
    low, high = grades(line)
    if not math.isfinite(low):
        return "no grade"
    first, last = units.grade_text(low), units.grade_text(high)
    return first if first == last else f"{first.removesuffix(' %')} to {last}"


def has_outlet_zone(plan: Plan, line: Line) -> bool:
    """Whether a line comes to the surface at its end; one that joins another line or an old pipe has no outlet zone.

    Parameters
    ----------
    plan : Plan
        The plan.
    line : Line
        One of its lines.

    Returns
    -------
    bool
        True at a curb and at daylight.
    """
    return any(outlet.id == line.end and not into_pipe(outlet.kind) for outlet in plan.outlets)


def least_cover(plan: Plan, rules: RuleBook, line: Line) -> tuple[float, float] | None:
    """Least cover among a line's rows, and its station; at an outlet, past the outlet zone where it may run out.

    Parameters
    ----------
    plan : Plan
        The plan, for its outlets.
    rules : RuleBook
        The rules in force, for the outlet zone.
    line : Line
        One of its lines.

    Returns
    -------
    tuple of float, or None
        Cover over the pipe that lies there [m] and station [m]; None where no row there knows its ground.
    """
    zone = (rules["outlet-zone"].limit or 0.0) if has_outlet_zone(plan, line) else 0.0
    known = [(row.cover, row.station) for row in line.rows if math.isfinite(row.cover) and row.station >= zone - _SAME]
    return min(known) if known else None


def worst_first(plan: Plan, rules: RuleBook) -> list[Finding]:
    """Findings in the order a reader needs them: fails, flags, passes; the worst of each first.

    Among fails and flags those without a number (not served, no fall) lead, in the order of the rules;
    then by how far past the limit, as a share of it.

    Parameters
    ----------
    plan : Plan
        The plan.
    rules : RuleBook
        The rules in force, for the sense of each limit.

    Returns
    -------
    list of Finding
        Every finding once.
    """

    def key(finding: Finding) -> tuple[float, ...]:
        past = -math.inf
        if finding.value is not None and finding.limit is not None and finding.rule in rules:
            over = finding.value - finding.limit
            if rules[finding.rule].rule.sense == "at least":
                over = -over
            past = round(-over / max(abs(finding.limit), 1e-9), 4)  # what rounding alone tells apart keeps its order
        return STATUS_RANK[finding.status], past, _RULE_RANK.get(finding.rule, len(_RULE_RANK))

    return sorted(plan.findings, key=key)


def subject(finding: Finding, called: Mapping[str, str]) -> str:
    """What a finding speaks of, by name: 'L2: walk', 'Front right'.

    Parameters
    ----------
    finding : Finding
        The finding; its subject begins with an id.
    called : mapping of str to str
        From `names`.

    Returns
    -------
    str
        The subject with its id replaced by the name.
    """
    ident, colon, rest = finding.subject.partition(":")
    return one_line(f"{called.get(ident, ident)}{colon}{rest}")


def counts(findings: Iterable[Finding]) -> dict[str, int]:
    """How many findings of each status.

    Parameters
    ----------
    findings : iterable of Finding
        Any.

    Returns
    -------
    dict of str to int
        Keys fail, flag, pass.
    """
    found = {"fail": 0, "flag": 0, "pass": 0}
    for finding in findings:
        found[finding.status] += 1
    return found


def counted(number: int, noun: str) -> str:
    """A count with its noun: '1 fail', '3 flags', 'no lines'.

    Parameters
    ----------
    number : int
        How many.
    noun : str
        Singular, plural by an s.

    Returns
    -------
    str
        Two words.
    """
    return f"{number or 'no'} {noun}{'' if number == 1 else 's'}"


def served_text(plan: Plan) -> tuple[set[str], list[str]]:
    """Ids of the sources that a line carries, and of those that none does.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    tuple
        Set of served ids; list of the others in the plan's order.
    """
    carried = {source for line in plan.every_line for source in line.sources}
    return carried, [source.id for source in plan.sources if source.id not in carried]


def losing(plan: Plan, source: str) -> list[Candidate]:
    """What was tried for one source and lost, nearest miss first.

    Parameters
    ----------
    plan : Plan
        The plan.
    source : str
        Id of a source.

    Returns
    -------
    list of Candidate
        Feasible ones first, then by margin, greatest first; unknown margins last.
    """
    tried = [c for c in plan.candidates if source in c.sources and not c.chosen]
    return sorted(tried, key=lambda c: (not c.feasible, -(round(c.margin, 4) if c.margin is not None else -math.inf)))


def depth_text(depth: float | None, unit: str, language: Language = "english") -> str:
    """How deep a utility lies, as printed.

    Parameters
    ----------
    depth : float or None
        Of its top below the ground [m]; None: not known.
    unit : str
        The site's length unit.
    language : str
        Of the words: 'english' or 'spanish'.

    Returns
    -------
    str
        '4.00 ft deep', or that it is not known.
    """
    if depth is None:
        return phrase("depth.unknown", language)
    return phrase("depth.deep", language, depth=units.length_text(depth, unit))


def quantity(value: float | None, unit: str, length_unit: str) -> str:
    """A finding's or rule's number as printed in the site's units.

    Parameters
    ----------
    value : float or None
        Number [unit]; None is not known.
    unit : str
        'm', 'percent', 'deg', 'lps', 'm/s', 's' or '' as plan.json carries them.
    length_unit : str
        The site's: 'ft', 'us-ft' or 'm'.

    Returns
    -------
    str
        Number and unit, or a dash.
    """
    if value is None or not math.isfinite(value):
        return "\u2013"
    if unit == "m":
        return units.length_text(value, length_unit)
    if unit == "percent":
        return units.grade_text(value / 100)
    if unit == "verdict":
        return VERDICTS[int(value)]
    if unit in {"deg", "s"}:
        return f"{value + 0.0:.0f}" + ("\u00b0" if unit == "deg" else " s")
    if unit == "lps":
        return flow_or_unknown(value * units.LITRE, length_unit)
    if unit == "m/s":
        return f"{units.length_text(value, length_unit)}/s"
    return f"{value + 0.0:g}"


def cover_said(value: float, unit: str) -> str:
    """A cover as the findings print it, so that heads and findings compare; or 'not known'.

    Parameters
    ----------
    value : float
        Cover [m]; NaN is not known.
    unit : str
        The site's length unit: 'ft', 'us-ft' or 'm'.

    Returns
    -------
    str
        Tenths of an inch or whole millimetres.

    Examples
    --------
    >>> cover_said(0.3048, "ft"), cover_said(0.3048, "m")
    ('12.0 in', '305 mm')
    """
    if not math.isfinite(value):
        return "not known"
    if unit == "m":
        return f"{units.from_metres(value, 'mm') + 0.0:.0f} mm"
    return f"{units.from_metres(value, 'in') + 0.0:.1f} in"


def level_text(value: float, unit: str) -> str:
    """An elevation or a cover as printed, or 'not known'.

    Elevations are printed in the site's elevation unit, every other length in its length unit.

    Parameters
    ----------
    value : float
        Height [m]; NaN is not known.
    unit : str
        The unit that is due: 'ft', 'us-ft' or 'm'.

    Returns
    -------
    str
        Number and unit, or 'not known'.
    """
    return units.length_text(value, unit) if math.isfinite(value) else "not known"


def flow_or_unknown(flow: float | None, length_unit: str) -> str:
    """A flow as printed: gallons a minute for feet sites, litres a second for metric ones.

    Parameters
    ----------
    flow : float or None
        Flow [m3/s]; None is not known.
    length_unit : str
        The site's: 'ft', 'us-ft' or 'm'.

    Returns
    -------
    str
        Number and unit, or 'not known'.
    """
    if flow is None or not math.isfinite(flow):
        return "not known"
    if length_unit == "m":
        return f"{flow / units.LITRE:.2f} L/s"
    return f"{flow / units.GALLON_PER_MINUTE:.1f} gpm"


def area_text(area: float, length_unit: str) -> str:
    """An area as printed in the site's unit.

    Parameters
    ----------
    area : float
        Area [m2].
    length_unit : str
        The site's: 'ft', 'us-ft' or 'm'.

    Returns
    -------
    str
        Number and unit.
    """
    if length_unit == "m":
        return f"{area:.1f} m\u00b2"
    return f"{area / units.LENGTH[length_unit] ** 2:.0f} sq ft"


def volume_or_unknown(volume: float, length_unit: str) -> str:
    """A volume as printed in the site's unit.

    Parameters
    ----------
    volume : float
        Volume [m3].
    length_unit : str
        The site's: 'ft', 'us-ft' or 'm'.

    Returns
    -------
    str
        Number and unit.
    """
    if length_unit == "m":
        return f"{volume:.2f} m\u00b3"
    return f"{volume / units.LENGTH[length_unit] ** 3:.0f} cu ft"


def placed(plan: Plan) -> list[tuple[float, float]]:
    """Every point that the plan places: sources, outlets, vertices.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    list of tuple of float
        East, north [m].
    """
    points = [(source.x, source.y) for source in plan.sources] + [(outlet.x, outlet.y) for outlet in plan.outlets]
    return points + [(vertex.x, vertex.y) for line in plan.every_line for vertex in line.vertices]


def held_to(water: Water, run: RunFlow) -> str:
    """What gave the figure that a run is held to: a formula, or a row of a printed table.

    Parameters
    ----------
    water : Water
        All of a plan's water, for the basis asked for.
    run : RunFlow
        One of its runs.

    Returns
    -------
    str
        'Manning', 'Prandtl-Colebrook, kb 1 mm', 'upc, row at 2.08 %', or 'Manning: the book holds none of upc'.
    """
    if run.printed is not None:
        return f"{one_line(water.code)}, row at {units.grade_text(run.printed)}"
    if run.capacity_from == "prandtl-colebrook":
        return "Prandtl-Colebrook" + ("" if water.kb is None else f", kb {water.kb / units.MILLIMETRE:g} mm")
    if water.kb is not None:
        return "Manning: kb is of smooth pipe"
    return "Manning" if water.code == "manning" else f"Manning: the book holds none of {one_line(water.code)}"
