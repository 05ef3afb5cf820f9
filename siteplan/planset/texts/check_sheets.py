"""A stored plan in.

For each line a sheet on which an inspector writes what is measured beside what was planned, out.
"""

from __future__ import annotations

from dataclasses import replace

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
from siteplan.values.lines import Line, Vertex
from siteplan.values.told import Finding
from siteplan.values.whole_plan import Plan

_NO_TAPE = ("verdict", "lps", "m/s")  # units of what nobody measures in a trench


def check_sheet_pages(asked: PlanSetAsked) -> list[Page]:
    """The inspector's sheets.

    Parameters
    ----------
    asked : PlanSetAsked
        The plan, its paper and the language of instructions.

    Returns
    -------
    list of Page
        For each line what is measured on it, its inverts, hold points and signatures, on one page where it has room;
        its id stands in the title. Then what all lines have in common: hold points in words, what is seen without
        measuring, sources by number.
    """
    plan, language = asked.plan, asked.language
    rules = {one.id: one for one in stated_rules(asked.stored)}
    sources = _Sources(rules)
    found: list[Page] = []
    for line in plan.every_line:
        title = f"{phrase('checks.title', language)} {line.id}"
        blocks = _blocks(asked, line, rules, sources)
        lying, standing = (flowed(paper, title, blocks) for paper in (asked.paper, replace(asked.paper, upright=True)))
        found += standing if len(standing) < len(lying) else lying  # one page where either way round holds it
    return [*found, *flowed(asked.paper, phrase("checks.whole", language), _of_all(asked, sources))]


class _Sources:
    """Numbers of the sources, as they come to be named: one for each on all sheets."""

    def __init__(self, rules: dict[str, StatedRule]) -> None:
        self.rules = rules
        self.numbers: dict[str, int] = {}

    def of(self, one: Finding) -> str:
        """The number of a finding's source; '' where its rule has none."""
        words = self.rules[one.rule].source if one.rule in self.rules else ""
        return str(self.numbers.setdefault(words, len(self.numbers) + 1)) if words else ""


def _own(plan: Plan, line: Line) -> list[Finding]:
    """What was found on a line, and of the source at its start, the worst first."""
    own = (one for one in plan.findings if one.subject.partition(":")[0] in {line.id, line.start})
    return sorted(own, key=lambda one: (STATUS_RANK[one.status], not _measured(one)))


def _measured(one: Finding) -> bool:
    """Whether a tape, a rod or a level can be held against it: a figure with a limit.

    A flow and its speed are worked out.
    """
    return one.value is not None and one.limit is not None and one.unit not in _NO_TAPE


def _blocks(asked: PlanSetAsked, line: Line, rules: dict[str, StatedRule], sources: _Sources) -> list[Block]:
    plan, language = asked.plan, asked.language
    unit = plan.length_unit
    head = (
        f"{line.id}: {way(line, names(plan), language)}, {pipes_words(line, unit, language)}, "
        f"{units.length_text(line.length, unit, 1)}. {line_state(plan, line).text_in(language)}"
    )
    own = _own(plan, line)
    rows: list[tuple[str, ...]] = []
    for one in own:
        if _measured(one):
            rows.append((*_row(one, rules, plan, language), sources.of(one)))
        elif one.status != "pass" and one.value is not None and one.unit not in _NO_TAPE:
            # why there is no limit is what was found: the finding's own sentence
            rows += [(*_row(one, rules, plan, language), sources.of(one)), (f"{one.rule}: {one_line(one.message)}",)]
    heads = _heads(("rule", "planned", "limit", "spare", "place", "measured", "source"), language)
    how = (
        f"{phrase('checks.how', language)} plan.json {asked.digest or asked.identity}. "
        f"{phrase('checks.behind', language)}"
    )
    blocks: list[Block] = [Prose(text=head, size=3.0, bold=True), Prose(text=how, above=0.4)]
    if rows:
        blocks.append(TextTable(head=heads, rows=tuple(rows), strong=(0,), blank=(5,), blank_wide=24.0, tight=True))
    poor = [one for one in own if one.status != "pass" and (one.value is None or one.unit in _NO_TAPE)]
    if poor:
        heads = _heads(("rule", "found", "place", "seen", "source"), language)
        told = tuple((_rule_cell(one), one_line(one.message), one_line(one.where), "", sources.of(one)) for one in poor)
        blocks.append(TextTable(head=heads, rows=told, strong=(0,), blank=(3,), blank_wide=22.0, tight=True))
    blocks.append(_inverts(plan, line, language))
    holds = (phrase("checks.passed", language), *"12345", phrase("checks.test", language))
    blocks.append(
        TextTable(head=holds, rows=(("", "", "", "", "", "", ""),), blank=(1, 2, 3, 4, 5, 6), least=6.0, tight=True)
    )
    if mine := line_holds(line, unit, language):
        heads = _heads(("hold", "date", "initials"), language)
        blocks.append(TextTable(head=heads, rows=tuple((text, "", "") for text in mine), blank=(1, 2), tight=True))
    signed = ("sign.inspector", "sign.contractor")
    blocks.append(
        BlankLine(names=tuple(phrase("sign.line", language, who=phrase(who, language)) for who in signed), high=9.5)
    )
    return blocks


def _of_all(asked: PlanSetAsked, sources: _Sources) -> list[Block]:
    """What no line has for itself, and what was found on each that nobody measures."""
    plan, language = asked.plan, asked.language
    holds = (*usual_holds(plan.length_unit, language), phrase("checks.water", language))
    heads = _heads(("hold", "date", "initials"), language)
    blocks: list[Block] = [
        section_head(phrase("hold.head", language)),
        TextTable(head=heads, rows=tuple((text, "", "") for text in holds), blank=(1, 2), least=5.6),
    ]
    rows: list[tuple[str, ...]] = []
    told: set[int] = set()
    for line in plan.every_line:
        for one in _own(plan, line):
            told.add(id(one))
            if not _measured(one):
                rows.append((line.id, _rule_cell(one), one_line(one.message), one_line(one.where), "", sources.of(one)))
    rows += [
        ("", _rule_cell(one), one_line(one.message), one_line(one.where), "", sources.of(one))
        for one in plan.findings
        if id(one) not in told
    ]
    if rows:
        heads = _heads(("line", "rule", "found", "place", "seen", "source"), language)
        table = TextTable(head=heads, rows=tuple(rows), strong=(1,), blank=(4,), blank_wide=18.0, tight=True)
        blocks += [section_head(phrase("checks.unmeasured", language)), table]
    numbered = "; ".join(f"({number}) {words}" for words, number in sources.numbers.items())
    return [*blocks, Prose(text=f"{phrase('checks.source', language)}: {numbered}.")]


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
    doubt = "" if one.doubt is None else f" \u00b1{measure_text(one.doubt, one.unit, unit)}"
    spare = f"{spare_measure(one, sense, unit)}{doubt}".strip()
    return _rule_cell(one), measure_text(one.value, one.unit, unit), limit, spare, one_line(one.where), ""


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
    rows = [
        (
            units.station_text(one.station, plan.length_unit),
            fitting_words(one.fittings, language) or phrase(_place(line, one), language),
            units.length_text(printed(one.invert, plan.elevation_unit), plan.elevation_unit),
            "",
            "",
        )
        for one in line.vertices
    ]
    half = (len(rows) + 1) // 2  # side by side: a line has a dozen
    beside = [*rows[half:], *[("",) * len(heads)] * (2 * half - len(rows))]
    return TextTable(
        head=heads * 2,
        rows=tuple(a + b for a, b in zip(rows[:half], beside, strict=True)),
        right=(2, 7),
        blank=(3, 4, 8, 9),
        strong=(0, 5),
        blank_wide=18.0,
        tight=True,
    )


def _place(line: Line, one: Vertex) -> str:
    if one is line.vertices[-1]:
        return "checks.start"
    return "checks.outlet" if one is line.vertices[0] else "checks.bend"
