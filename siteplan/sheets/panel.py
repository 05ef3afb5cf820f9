"""Plan and Site in; the page's written part as static HTML out: verdict, lines, checks, what was tried, the key.

It reads without any script. Status is said by a word and a shape, never by colour alone.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from siteplan import units
from siteplan.books.phrases import phrase
from siteplan.sheets.attempt_chart import attempt_chart
from siteplan.sheets.choices_panel import choices_panel
from siteplan.sheets.coordinates import crs_name
from siteplan.sheets.cure_words import attempt_of, cures_text, miss_text, nearest_misses
from siteplan.sheets.doubt_words import spare_fact, sure_text, wanted_texts
from siteplan.sheets.drawing import LEGEND, swatch, utility_layer
from siteplan.sheets.facts import low_spot_facts
from siteplan.sheets.ground_panel import ground_panel
from siteplan.sheets.margin_words import margin_texts
from siteplan.sheets.markup import Markup, cited, join, tag, whole
from siteplan.sheets.own_words import own_facts
from siteplan.sheets.pumped_words import pumped_facts
from siteplan.sheets.quantities import prices_note, quantity_rows
from siteplan.sheets.rule_rows import HEADS, rule_row
from siteplan.sheets.schedule import printed_rows
from siteplan.sheets.search_words import sharing_text
from siteplan.sheets.stakes import pipes_words
from siteplan.sheets.states import line_state, verdict
from siteplan.sheets.water_panel import storm_panel, water_panel
from siteplan.sheets.wording import (
    KIND_TITLES,
    counted,
    counts,
    cover_said,
    grades_text,
    has_outlet_zone,
    least_cover,
    losing,
    names,
    one_line,
    served_text,
    subject,
    titled,
    way,
    worst_first,
)
from siteplan.site import Site
from siteplan.values import Attempt, Candidate, Finding, Line, LowSpot, Plan

NO_BREAK = "\u00a0"
_SHAPES = {
    "fail": '<path d="M1 1h14v14H1z"/><path class="ink" d="M4.5 4.5l7 7m0-7l-7 7"/>',
    "flag": '<path d="M8 .8L15.6 15H.4z"/><path class="ink" d="M8 5.4v4.4m0 1.6v1.4"/>',
    "pass": '<circle cx="8" cy="8" r="7.2"/><path class="ink" d="M4.6 8.3l2.4 2.4 4.4-5"/>',
}


def status_mark(status: str) -> Markup:
    """The shape of a status: a crossed square fails, a triangle flags, a ticked disc passes.

    Parameters
    ----------
    status : str
        fail, flag or pass.

    Returns
    -------
    Markup
        A small svg, hidden from screen readers (the word stands beside it).
    """
    return Markup(f'<svg class="mark {status}" viewBox="0 0 16 16" aria-hidden="true">{_SHAPES[status]}</svg>')


def heading(plan: Plan) -> Markup:
    """The head of the page: the site's name and the verdict in one line.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    Markup
        One header element.
    """
    found = counts(plan.findings)
    tally = [
        tag("li", status_mark(status), tag("span", f"{found[status]} {word}"), class_=status)
        for status, word in (
            ("fail", "fail" if found["fail"] == 1 else "fails"),
            ("flag", "flag" if found["flag"] == 1 else "flags"),
            ("pass", "passed"),
        )
    ]
    return tag(
        "header",
        tag("h1", titled(plan) or "Site"),
        *([tag("p", one_line(plan.stamp))] if plan.stamp else []),
        tag("p", whole(verdict(plan)), class_="verdict"),
        tag("ul", *tally, class_="tally"),
        class_="top",
    )


def panel(plan: Plan, site: Site, interval: str) -> Markup:
    """The written part below or beside the map.

    Parameters
    ----------
    plan : Plan
        The plan.
    site : Site
        The site it was made from.
    interval : str
        Contour interval as printed, for the key.

    Returns
    -------
    Markup
        One aside element.
    """
    called = names(plan)
    findings = worst_first(plan, site.rules)
    _, unserved = served_text(plan)
    parts: list[str] = []
    if unserved:
        parts.append(_section("Not drained", *[_unserved(plan, source, called) for source in unserved]))
    parts.append(
        _section("Lines", *[_line(plan, site, line, called) for line in plan.every_line])
        if plan.every_line
        else _section("Lines", tag("p", "No line can be laid."))
    )
    if shared := sharing_text(plan):
        parts.append(_section("Joined or apart", _list(tuple(f"{told}." for told in shared))))
    if plan.layouts:
        parts.append(choices_panel(plan))
    parts.append(_checks(site, findings, called))
    if storm := storm_panel(plan):
        parts.append(storm)
    if plan.cautions:
        parts.append(_section(phrase("caution.head"), _list(plan.cautions)))
    parts.append(_tried(plan, called))
    if plan.quantities:
        parts.append(_quantities(plan))
    if plan.low_spots:
        parts.append(_wet(plan))
    parts.append(_section("Key to the map", _key(interval, site)))
    parts.append(
        _section(
            "Taken as given",
            tag(
                "p",
                f"Survey doubt: {units.drop_text(plan.accuracy, plan.length_unit)}, one standard deviation of any elevation.",
            ),
            _list(plan.assumptions),
        )
    )
    if plan.reach_note:
        parts.append(_section("Where a line could go", _list(plan.reach_note)))
    parts += [_rules(site, plan.length_unit), _inputs(plan)]
    return tag("aside", *parts, class_="panel", aria_label="The plan in words")


def _section(title: str, *inside: str) -> Markup:
    return tag("section", tag("h2", title), *inside)


def _quantities(plan: Plan) -> Markup:
    rows = [
        tag(
            "tr",
            tag("td", row.what, *([" ", tag("small", row.kind)] if row.kind else [])),
            tag(
                "td",
                whole(
                    row.amount if row.unit == "pieces" else f"{row.amount}{NO_BREAK}{row.unit.replace(' ', NO_BREAK)}"
                ),
            ),
        )
        for row in quantity_rows(plan)
    ]
    head = tag("thead", tag("tr", tag("th", "What"), tag("th", "How much")))
    return _section(
        "What it takes",
        tag("table", head, tag("tbody", *rows), class_="takes"),
        tag(
            "p",
            f"Volumes as in undisturbed ground; nothing is added for waste or sloped sides. Prices stand in quantities.csv. {prices_note(plan)}",
        ),
    )


def _list(items: tuple[str, ...]) -> Markup:
    return tag("ul", *[tag("li", one_line(item)) for item in items], class_="plain")


def _pairs(*pairs: tuple[str, str]) -> Markup:
    return tag("dl", *[tag("div", tag("dt", name), tag("dd", whole(value))) for name, value in pairs if value])


def _line(plan: Plan, site: Site, line: Line, called: dict[str, str]) -> Markup:
    unit = plan.length_unit
    cover = least_cover(plan, site.rules, line)
    cuts = [(row.cut, row.station) for row in line.rows if math.isfinite(row.cut)]
    deepest = max(cuts) if cuts else None
    place = plan.every_line.index(line)
    stands = line_state(plan, line)
    state = {"fails": "fail", "cannot-tell": "flag", "sure": "pass"}[stands.state]
    title = tag(
        "h3",
        status_mark(state),
        " ",
        tag("a", tag("b", line.id), " ", way(line, called), href=f"#profile-{place}", data_line=str(place)),
        tag("span", f" {stands.text}", class_=f"word {state}"),
    )
    crossed = [
        f"{one_line(c.name) or KIND_TITLES.get(c.kind, c.kind)} at {units.station_text(c.station_from, unit)} to {units.station_text(c.station_to, unit)}, "
        f"{c.angle:.0f}\u00b0, cover at the edges {cover_said(c.cover_from, unit)} and {cover_said(c.cover_to, unit)}, "
        f"least {cover_said(c.cover_min, unit)}" + (f"; sleeve: {one_line(c.sleeve)}" if c.sleeve else "")
        for c in line.crossings
    ]
    wet = [
        f"{p.id} at {units.station_text(p.station_from, unit)} to {units.station_text(p.station_to, unit)}"
        for p in line.low_spots
    ]
    facts = _pairs(
        ("Drawn by a person", ". ".join(own_facts(plan, line))),
        ("Length", units.length_text(line.length, unit, 1)),
        ("Grade", grades_text(line)),
        ("Invert at the start", units.length_text(line.vertices[-1].invert, plan.elevation_unit)),
        ("Invert at the end", units.length_text(line.vertices[0].invert, plan.elevation_unit)),
        *([] if line.pumped is not None else [spare_fact(line, unit)]),
        *pumped_facts(line, unit, plan.elevation_unit),
        (
            "Least cover past the outlet zone" if has_outlet_zone(plan, line) else "Least cover",
            f"{cover_said(cover[0], unit)} at {units.station_text(cover[1], unit)}" if cover else "not known",
        ),
        (
            "Deepest cut",
            f"{units.drop_text(deepest[0], unit)} at {units.station_text(deepest[1], unit)}"
            if deepest
            else "not known",
        ),
        ("Pipe, from the outlet up", pipes_words(line, unit)),
        ("Carries", ", ".join(called.get(source, source) for source in line.sources)),
        ("Tightest place", one_line(line.binding)),
        ("Margins", ". ".join(margin_texts(line, unit))),
        ("How sure", "" if line.doubt is None else sure_text(line.doubt)),
        ("Shots wanted", "; ".join(wanted_texts(line))),
        ("Crosses", "; ".join(crossed)),
        ("Wet ground", "; ".join(wet)),
    )
    return tag(
        "article",
        title,
        facts,
        ground_panel(line, unit),
        water_panel(plan, line.id),
        _schedule(plan, line),
        class_="line",
    )


def _schedule(plan: Plan, line: Line) -> Markup:
    """The trench schedule of a line, as its file prints it; each stake is a card where the window is narrow."""
    unit = plan.length_unit
    name, level = units.UNIT_NAMES[unit], units.UNIT_NAMES[plan.elevation_unit]
    heads = [
        "Station",
        f"Ground {level}",
        f"Invert {level}",
        "Grade down %",
        f"Cover {name}",
        f"Cut {name}",
        *(() if unit == "m" else ("Cut ft-in",)),
    ]
    bodies = []
    for row in printed_rows(plan, line):
        figures = [row.station, row.ground, row.invert, row.grade, row.cover, row.cut]
        figures += [] if unit == "m" else [whole(row.cut_text)]
        cells = [
            tag("td", figure, class_="number", data_head=head) for head, figure in zip(heads, figures, strict=True)
        ]
        note = [tag("tr", tag("td", whole(row.point), colspan=float(len(heads))), class_="said")] if row.point else []
        bodies.append(tag("tbody", tag("tr", *cells), *note))
    table = tag(
        "table",
        tag("caption", f"Trench schedule of {line.id}: {line_state(plan, line).text}"),
        tag("thead", tag("tr", *[tag("th", head, scope="col") for head in heads])),
        *bodies,
        class_="stakes",
    )
    said = "Stations run from the outlet up. Cut is to the trench bottom, cover is over the outside top of pipe."
    return tag(
        "details",
        tag("summary", "Trench schedule"),
        tag("p", said, class_="note"),
        tag("div", table, class_="scroll", tabindex="0", role="group", aria_label="Table"),
    )


def _unserved(plan: Plan, source: str, called: dict[str, str]) -> Markup:
    reasons = [f for f in plan.findings if f.rule == "served" and f.subject.partition(":")[0] == source]
    tried = [
        _candidate(
            candidate,
            plan.length_unit,
            called,
            to_only=True,
            cures=cures_text(plan, attempt_of(plan, source, candidate.outlet)),
        )
        for candidate in losing(plan, source)
    ]
    return tag(
        "article",
        tag("h3", status_mark("fail"), " ", called[source]),
        *[tag("p", one_line(f.message)) for f in reasons],
        *[part for one in nearest_misses(plan) if one.source == source for part in _miss(plan, one, called)],
        tag("ul", *tried, class_="plain"),
        class_="unserved",
    )


def _miss(plan: Plan, one: Attempt, called: dict[str, str]) -> tuple[Markup, Markup]:
    """The best line that was tried, in words and as a profile."""
    said = f"Best line to {called.get(one.outlet, one.outlet)}: {miss_text(plan, one)}."
    return tag("p", whole(said)), attempt_chart(plan, one)


def _candidate(
    candidate: Candidate, unit: str, called: dict[str, str], *, to_only: bool = False, cures: Sequence[str] = ()
) -> Markup:
    outlet = called.get(candidate.outlet, candidate.outlet)
    who = " and ".join(called.get(source, source) for source in candidate.sources)
    verdict = "taken" if candidate.chosen else "possible, not taken" if candidate.feasible else "not possible"
    inside: list[str] = [tag("b", f"to {outlet}" if to_only else f"{who} to {outlet}"), f": {verdict}"]
    if candidate.reason:
        inside.append(f" \u2013 {one_line(candidate.reason)}")
    figures = []
    if candidate.fall_available is not None:
        figures.append(f"fall available {units.length_text(candidate.fall_available, unit)}")
    if candidate.fall_needed is not None:
        figures.append(f"needed {units.length_text(candidate.fall_needed, unit)}")
    if candidate.feasible and candidate.margin is not None:  # what is short says so in its reason
        figures.append(units.spare_text(candidate.margin, unit))
    if candidate.length is not None:
        figures.append(f"length {units.length_text(candidate.length, unit, 1)}")
    if figures:
        inside.append(tag("span", whole(", ".join(figures)), class_="figures"))
    inside += [tag("span", whole(one_line(cure)), class_="flip") for cure in cures]
    return tag("li", *inside, class_="taken" if candidate.chosen else "lost")


def _tried(plan: Plan, called: dict[str, str]) -> Markup:
    if not plan.candidates:
        return _section("What was tried", tag("p", "No outlet was found to try."))
    order = sorted(
        plan.candidates,
        key=lambda c: (not c.chosen, not c.feasible, -(round(c.margin, 4) if c.margin is not None else -math.inf)),
    )
    taken = [_candidate(c, plan.length_unit, called) for c in order if c.chosen]
    lost = [_candidate(c, plan.length_unit, called) for c in order if not c.chosen]
    shown, rest = lost[:8], lost[8:]
    more = (
        [
            tag(
                "details",
                tag("summary", f"{counted(len(rest), 'more')}".removesuffix("s")),
                tag("ul", *rest, class_="plain"),
            )
        ]
        if rest
        else []
    )
    return _section("What was tried", tag("ul", *taken, *shown, class_="plain"), *more)


def _checks(site: Site, findings: list[Finding], called: dict[str, str]) -> Markup:
    poor = [_finding(f, site, called) for f in findings if f.status != "pass"]
    good = [_finding(f, site, called) for f in findings if f.status == "pass"]
    inside: list[str] = (
        [tag("ul", *poor, class_="checks")] if poor else [tag("p", "Nothing fails and nothing is flagged.")]
    )
    if good:
        inside.append(tag("details", tag("summary", f"{len(good)} passed"), tag("ul", *good, class_="checks")))
    return _section("Checks, worst first", *inside)


def _finding(finding: Finding, site: Site, called: dict[str, str]) -> Markup:
    entry = site.rules.get(finding.rule)
    title = entry.rule.title if entry else finding.rule
    place = f", {one_line(finding.where)}" if finding.where else ""
    return tag(
        "li",
        status_mark(finding.status),
        tag("b", finding.status.upper(), class_="word"),
        " ",
        tag("code", finding.rule),
        " ",
        tag("span", title, class_="title"),
        tag("span", f"{subject(finding, called)}{place}", class_="where"),
        tag("span", one_line(finding.message), class_="message"),
        class_=finding.status,
    )


def _wet(plan: Plan) -> Markup:
    """Low spots that are sure, then those that the survey's doubt may have made."""
    sure, unsure = (
        [_low_spot(spot, plan.length_unit, plan.elevation_unit) for spot in plan.low_spots if spot.certain is certain]
        for certain in (True, False)
    )
    inside: list[str] = (
        [tag("ul", *sure, class_="plain")] if sure else [tag("p", "None deeper than the survey can tell.")]
    )
    if unsure:
        said = f"{counted(len(unsure), 'hollow')} shallower than the survey can tell"
        inside.append(tag("details", tag("summary", said), tag("ul", *unsure, class_="plain")))
    return _section("Wet low spots", *inside)


def _low_spot(spot: LowSpot, unit: str, elevation_unit: str) -> Markup:
    facts = "; ".join(f"{name.lower()} {value}" for name, value in low_spot_facts(spot, unit, elevation_unit))
    return tag("li", tag("b", spot.id), f" {facts}")


def _key(interval: str, site: Site) -> Markup:
    here = {utility_layer(one.attributes.get("service", "")) for one in site.of_kind("utility")}
    rows = [
        tag("li", swatch(entry), tag("span", entry.said.replace("{interval}", interval)))
        for entry in LEGEND
        if not entry.letter or entry.style in here
    ]
    return join(
        (
            tag("ul", *rows, class_="key"),
            tag(
                "p",
                "North is the plan's grid north. Shading and contours are drawn from smoothed ground; the figures are not.",
                class_="note",
            ),
        )
    )


def _rules(site: Site, unit: str) -> Markup:
    rows = []
    for entry in site.rules.values():
        row = rule_row(entry, unit)
        cells = [whole(row.limit), row.broken, row.standing, cited(row.source)]
        rows.append(
            tag(
                "tr",
                tag("td", tag("code", row.id), tag("br"), whole(row.title)),
                *[tag("td", cell, data_head=head) for head, cell in zip(HEADS[1:], cells, strict=True)],
                data_rule=row.id,
            )
        )
    head = tag("tr", *[tag("th", head, scope="col") for head in HEADS])
    return tag(
        "details",
        tag("summary", "Rules in force"),
        tag(
            "div",
            tag("table", tag("thead", head), tag("tbody", *rows), class_="cards"),
            class_="scroll",
            tabindex="0",
            role="group",
            aria_label="Table",
        ),
    )


def _inputs(plan: Plan) -> Markup:
    rows = [
        tag("li", tag("b", one_line(entry.file)), " ", tag("code", f"sha256 {entry.sha256[:16]}\u2026"))
        for entry in plan.inputs
    ]
    frame = "an assumed grid" if plan.crs == "local" else crs_name(plan.crs)
    said = f"Coordinates are in {frame}. Full digests are in plan.json."
    return tag(
        "details", tag("summary", "Survey files"), tag("ul", *rows, class_="plain"), tag("p", said, class_="note")
    )
