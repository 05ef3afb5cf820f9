"""A plan's findings and the chances of its lines in; whether each line is sure, cannot be told, or fails, out.

One judgement for every sheet: the map's head, labels and line style, the schedule, the terminal and plan.json.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Literal, get_args

from siteplan.books.phrases import Language, phrase
from siteplan.books.rules import PUMP_REACHES, RULES
from siteplan.sheets.doubt_words import chance_text
from siteplan.values.lines import Line
from siteplan.values.told import Finding
from siteplan.values.whole_plan import Plan

State = Literal["sure", "cannot-tell", "fails"]
_SURE = 0.95  # chance from which a line is called sure; ours, no source [-]
# what says whether water runs: doubt about these is doubt about the line
_FALL_RULES = frozenset({"continuous-fall", "min-grade", "outlet-control", "served"})
STATES: tuple[State, ...] = get_args(State)
_RANK: dict[State, int] = {"sure": 0, "cannot-tell": 1, "fails": 2}


@dataclass(frozen=True, slots=True, kw_only=True)
class LineState:
    """How a line stands.

    Attributes
    ----------
    state : str
        'sure', 'cannot-tell' or 'fails'.
    falls, least_grade : float or None
        Chances that it falls everywhere, and that it holds its least grade everywhere [-]; None not known.
    rules : tuple of str
        Ids of the rules whose checks make it what it is, the worst first; empty where its chances do.
    by : str
        Id of the line on its way out that makes it what it is; empty where it does itself.
    """

    state: State
    falls: float | None
    least_grade: float | None
    rules: tuple[str, ...] = ()
    by: str = ""
    pressed: bool = False  # under pressure: no chance of falling counts

    @property
    def word(self) -> str:
        """The state in one or two words."""
        return state_word(self.state)

    @property
    def chance(self) -> str:
        """The chance that decides, short enough for a label: 'falls: 33 %'."""
        return self.chance_in("english")

    @property
    def text(self) -> str:
        """State, what makes it so, and chance.

        'cannot tell (falls: 33 %)', 'FAILS (size-fits and 2 more; falls: 70 %)'.
        """
        return self.text_in("english")

    def chance_in(self, language: Language) -> str:
        """The chance that decides, in a language."""
        if self.pressed:
            return phrase("state.pressed", language)
        if self.falls is None or self.least_grade is None:
            return phrase("state.no_chance", language)
        if self.falls < _SURE or self.least_grade >= _SURE:
            return phrase("state.falls", language, chance=chance_text(self.falls, language))
        return phrase("state.least_grade", language, chance=chance_text(self.least_grade, language))

    def text_in(self, language: Language) -> str:
        """State, what makes it so, and chance, in a language; ids of rules and lines stay."""
        why = "; ".join(part for part in (self._cause_in(language), self.chance_in(language)) if part)
        return f"{state_word(self.state, language)} ({why})"

    def _cause_in(self, language: Language) -> str:
        """The rule or the line on its way out that makes it so; empty where its chances do."""
        if self.by:
            return phrase("state.by", language, line=self.by)
        if len(self.rules) > 1:
            return phrase("state.more", language, rule=self.rules[0], count=f"{len(self.rules) - 1}")
        return self.rules[0] if self.rules else ""


def state_word(state: State, language: Language = "english") -> str:
    """A state in one or two words.

    Parameters
    ----------
    state : str
        'sure', 'cannot-tell' or 'fails'.
    language : str
        Of the words: 'english' or 'spanish'.

    Returns
    -------
    str
        'sure', 'cannot tell', 'FAILS'.
    """
    return phrase(f"state.{state}", language)


def line_state(plan: Plan, line: Line) -> LineState:
    """How one line stands: by its findings, its chance of falling, and the lines that take its water on.

    Parameters
    ----------
    plan : Plan
        The plan, for its findings.
    line : Line
        One of its lines.

    Returns
    -------
    LineState
        Fails when a check of it fails, or when it is as good as sure not to fall. Sure when its chances to
        fall and to hold its least grade are known and at least `SURE`, and no check of its fall is in doubt.
        In between, and where the chances are not known, nobody can tell. No line is better than its way out.
    """
    own = _by_itself(plan, line)
    if line.pumped is not None and line.end not in {one.id for one in plan.lines}:
        return own
    by_id = {one.id: one for one in plan.lines}
    seen, at, worst = {line.id}, line, own
    while at.end in by_id and at.end not in seen:
        at = by_id[at.end]
        seen.add(at.id)
        found = _by_itself(plan, at)
        if _RANK[found.state] > _RANK[worst.state]:
            worst = replace(own, state=found.state, rules=(), by=at.id)
    return worst


def _by_itself(plan: Plan, line: Line) -> LineState:
    own = [finding for finding in plan.findings if finding.subject.partition(":")[0] == line.id]
    falls = None if line.doubt is None else line.doubt.chance_falls
    least = None if line.doubt is None else line.doubt.chance_min_grade
    failed = [finding for finding in own if finding.status == "fail"]
    if line.pumped is not None:
        unsure = [finding for finding in own if finding.status == "flag" and finding.rule == PUMP_REACHES.id]
        pressed: State = "fails" if failed else "cannot-tell" if unsure else "sure"
        return LineState(state=pressed, falls=None, least_grade=None, rules=_rules(failed or unsure), pressed=True)
    doubted = [finding for finding in own if _doubtful(finding)]
    if failed or (falls is not None and falls < 1 - _SURE):
        return LineState(state="fails", falls=falls, least_grade=least, rules=_rules(failed))
    if falls is None or least is None or min(falls, least) < _SURE:
        return LineState(state="cannot-tell", falls=falls, least_grade=least)
    state: State = "cannot-tell" if doubted else "sure"
    return LineState(state=state, falls=falls, least_grade=least, rules=_rules(doubted))


def _rules(findings: Iterable[Finding]) -> tuple[str, ...]:
    """Ids of rules, each once, in the order of the book."""
    asked = {finding.rule for finding in findings}
    known = [rule.id for rule in RULES if rule.id in asked]
    return (*known, *sorted(asked - set(known)))


def _doubtful(finding: Finding) -> bool:
    """Whether a check of the fall is flagged because the survey's doubt is larger than the margin."""
    if finding.status != "flag" or finding.rule not in _FALL_RULES:
        return False
    if finding.value is None or finding.limit is None or finding.doubt is None:
        return False
    return abs(finding.value - finding.limit) <= finding.doubt


def source_states(plan: Plan) -> dict[str, State | None]:
    """How each source's way out stands: the worst of the lines that carry its water.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    dict of str to str or None
        By source id; None where no line carries it.
    """
    found: dict[str, State | None] = {source.id: None for source in plan.sources}
    for line in plan.every_line:
        state = line_state(plan, line).state
        for source in line.sources:
            before = found.get(source)
            found[source] = state if before is None or _RANK[state] > _RANK[before] else before
    return found


def verdict(plan: Plan, language: Language = "english") -> str:
    """What became of the sources: '4 sources: 2 sure to drain, 1 cannot tell (falls: 33 %), 1 not drained'.

    Parameters
    ----------
    plan : Plan
        The plan.
    language : str
        Of the words: 'english' or 'spanish'.

    Returns
    -------
    str
        One phrase; a plan without lines says so.
    """
    states = source_states(plan)
    total = len(states)
    count = {state: sum(one == state for one in states.values()) for state in (*STATES, None)}
    worst = [one for line in plan.every_line if (one := line_state(plan, line)).state == "cannot-tell"]
    least = min(
        worst, key=lambda one: -1.0 if one.falls is None else min(one.falls, one.least_grade or 0.0), default=None
    )
    parts = [phrase("verdict.sure", language, count=f"{count['sure']}")] if count["sure"] else []
    if count["cannot-tell"] and least is not None:
        chance = least.chance_in(language)
        parts.append(phrase("verdict.cannot_tell", language, count=f"{count['cannot-tell']}", chance=chance))
    if count["fails"]:
        parts.append(phrase("verdict.fails", language, count=f"{count['fails']}"))
    if count[None]:
        parts.append(phrase("verdict.dry", language, count=f"{count[None]}"))
    said = ", ".join(parts) or phrase("verdict.none", language)
    head = f"{phrase('verdict.source' if total == 1 else 'verdict.sources', language, count=f'{total}')}: {said}"
    return head if plan.every_line else phrase("verdict.no_line", language, head=head)
