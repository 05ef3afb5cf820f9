"""A stored plan in; for each line a sheet on which an inspector writes what is measured beside what was planned, out."""

from __future__ import annotations

from siteplan import units
from siteplan.books.fittings import fitting_words
from siteplan.books.phrases import Language, phrase
from siteplan.planset.asked import PlanSetAsked
from siteplan.planset.texts.flow import BlankLine, Block, Prose, TextTable, flowed, section_head
from siteplan.planset.texts.stated_rules import StatedRule, measure_text, spare_measure, stated_rules
from siteplan.plotting.shapes import Page
from siteplan.sheets.hold_points import line_holds, usual_holds
from siteplan.sheets.rod_levels import printed
from siteplan.sheets.stakes import pipes_words
from siteplan.sheets.states import line_state
from siteplan.sheets.wording import STATUS_RANK, names, one_line, way
from siteplan.values import Finding, Line, Plan


def check_sheet_pages(asked: PlanSetAsked) -> list[Page]:
    """The inspector's sheets.

    Parameters
    ----------
    asked : PlanSetAsked
        The plan, its paper and the language of instructions.

    Returns
    -------
    list of Page
        For each line what is checked, then inverts, hold points and signatures, usually two. The line's id stands in each title.
    """
    rules = {one.id: one for one in stated_rules(asked.stored)}
    found: list[Page] = []
    for line in asked.plan.every_line:
        title = f"{phrase('checks.title', asked.language)} {line.id}"
        found += flowed(asked.paper, title, _blocks(asked, line, rules))
    return found


def _blocks(asked: PlanSetAsked, line: Line, rules: dict[str, StatedRule]) -> list[Block]:
    plan, language = asked.plan, asked.language
    unit = plan.length_unit
    # what is said of the source at its start stands on the line that begins there
    own = sorted(
        (one for one in plan.findings if one.subject.partition(":")[0] in {line.id, line.start}),
        key=lambda one: (STATUS_RANK[one.status], one.value is None),
    )
    head = f"{line.id}: {way(line, names(plan), language)}, {pipes_words(line, unit, language)}, {units.length_text(line.length, unit, 1)}. {line_state(plan, line).text_in(language)}"
    measured = [one for one in own if one.value is not None and one.unit != "verdict"]
    said = [one for one in own if one.value is None or one.unit == "verdict"]
    blocks: list[Block] = [
        Prose(text=head, size=3.2, bold=True),
        Prose(text=f"{phrase('checks.how', language)} plan.json {asked.digest or asked.identity}"),
    ]
    sources: dict[str, int] = {}

    def source(one: Finding) -> str:
        words = rules[one.rule].source if one.rule in rules else ""
        return f"{sources.setdefault(words, len(sources) + 1)}" if words else ""

    if measured:
        heads = _heads(("rule", "planned", "limit", "spare", "doubt", "place", "measured", "source"), language)
        rows: list[tuple[str, ...]] = []
        for one in measured:
            rows.append((*_row(one, rules, plan, language), source(one)))
            if one.limit is None:  # why there is none is what was found: the finding's own sentence
                rows.append((f"{one.rule}: {one_line(one.message)}",))
        blocks.append(TextTable(head=heads, rows=tuple(rows), strong=(0,), blank=(6,), blank_wide=26.0))
    if said:
        heads = _heads(("rule", "found", "place", "seen", "source"), language)
        found = tuple((_rule_cell(one), one_line(one.message), one_line(one.where), "", source(one)) for one in said)
        blocks.append(TextTable(head=heads, rows=found, strong=(0,), blank=(3,), blank_wide=22.0))
    numbered = "; ".join(f"({number}) {words}" for words, number in sources.items())
    blocks += [section_head(phrase("checks.inverts", language)), _inverts(plan, line, language)]
    holds = (*usual_holds(unit, language), *line_holds(line, unit, language), phrase("checks.water", language))
    heads = _heads(("hold", "date", "initials"), language)
    blocks += [
        section_head(phrase("hold.head", language)),
        TextTable(head=heads, rows=tuple((text, "", "") for text in holds), blank=(1, 2), least=5.6),
    ]
    signed = ("sign.inspector", "sign.contractor")
    names_ = tuple(phrase("sign.line", language, who=phrase(who, language)) for who in signed)
    blocks.append(BlankLine(names=names_, high=13.0))
    blocks.append(Prose(text=f"{phrase('checks.source', language)}: {numbered}."))
    return blocks


def _heads(words: tuple[str, ...], language: Language) -> tuple[str, ...]:
    return tuple(phrase(f"checks.{word}", language) for word in words)


def _rule_cell(one: Finding) -> str:
    """The rule's id as on the map, what of the line it speaks of, and a status that is no pass."""
    part = one.subject.partition(":")[2].strip()
    return " ".join(text for text in (one.rule, part, "" if one.status == "pass" else one.status.upper()) if text)


def _row(one: Finding, rules: dict[str, StatedRule], plan: Plan, language: Language) -> tuple[str, ...]:
    rule, unit = rules.get(one.rule), plan.length_unit
    sense = "" if rule is None else rule.sense
    limit = phrase("checks.no_limit", language) if one.limit is None else measure_text(one.limit, one.unit, unit)
    if one.limit is not None and sense in {"at least", "at most"}:
        limit = f"{sense} {limit}"
    doubt = "" if one.doubt is None else f"\u00b1{measure_text(one.doubt, one.unit, unit)}"
    return (
        _rule_cell(one), measure_text(one.value, one.unit, unit), limit, spare_measure(one, sense, unit), doubt, one_line(one.where), "",
    )  # fmt: skip


def _inverts(plan: Plan, line: Line, language: Language) -> TextTable:
    """Every structure with the invert it should have, and room for the one it has."""
    level = units.UNIT_NAMES[plan.elevation_unit]
    heads = tuple(
        ", ".join(part for part in (phrase(f"checks.{word}", language), of) if part)
        for word, of in (
            ("station", ""),
            ("structure", ""),
            ("invert", level),
            ("measured", level),
            ("difference", level),
        )
    )
    rows = tuple(
        (
            units.station_text(one.station, plan.length_unit),
            fitting_words(one.fittings, language) or phrase("checks.start" if one is line.vertices[-1] else "checks.outlet" if one is line.vertices[0] else "checks.bend", language),
            units.length_text(printed(one.invert, plan.elevation_unit), plan.elevation_unit), "", "",
        )
        for one in line.vertices
    )  # fmt: skip
    return TextTable(head=heads, rows=rows, right=(2,), blank=(3, 4), strong=(0,), least=4.8, blank_wide=28.0)
