"""A plan's findings and the chances of its lines in; whether each line is sure, cannot be told, or fails, out.

One judgement for every sheet: the map's head, labels and line style, the schedule, the terminal and plan.json.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from siteplan.sheets.doubt_words import chance_text
from siteplan.values import Finding, Line, Plan

State = Literal["sure", "cannot-tell", "fails"]
SURE = 0.95  # chance from which a line is called sure; ours, no source [-]
# what says whether water runs: doubt about these is doubt about the line
_FALL_RULES = frozenset({"continuous-fall", "min-grade", "outlet-control", "served"})
WORDS: dict[State, str] = {"sure": "sure", "cannot-tell": "cannot tell", "fails": "FAILS"}
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
    """

    state: State
    falls: float | None
    least_grade: float | None

    @property
    def word(self) -> str:
        """The state in one or two words."""
        return WORDS[self.state]

    @property
    def chance(self) -> str:
        """The chance that decides, short enough for a label: 'falls: 33 %'."""
        if self.falls is None or self.least_grade is None:
            return "chance not known"
        if self.falls < SURE or self.least_grade >= SURE:
            return f"falls: {chance_text(self.falls)}"
        return f"least grade: {chance_text(self.least_grade)}"

    @property
    def text(self) -> str:
        """State and chance: 'cannot tell (falls: 33 %)'."""
        return f"{self.word} ({self.chance})"


def line_state(plan: Plan, line: Line) -> LineState:
    """How one line stands, by its findings and its chance of falling.

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
        In between, and where the chances are not known, nobody can tell.
    """
    own = [finding for finding in plan.findings if finding.subject.partition(":")[0] == line.id]
    falls = None if line.doubt is None else line.doubt.chance_falls
    least = None if line.doubt is None else line.doubt.chance_min_grade
    state: State = "sure"
    if any(finding.status == "fail" for finding in own) or (falls is not None and falls < 1 - SURE):
        state = "fails"
    elif falls is None or least is None or min(falls, least) < SURE or any(_doubtful(finding) for finding in own):
        state = "cannot-tell"
    return LineState(state=state, falls=falls, least_grade=least)


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
    for line in plan.lines:
        state = line_state(plan, line).state
        for source in line.sources:
            before = found.get(source)
            found[source] = state if before is None or _RANK[state] > _RANK[before] else before
    return found


def verdict(plan: Plan) -> str:
    """What became of the sources: '4 sources: 2 sure to drain, 1 cannot tell (falls: 33 %), 1 not drained'.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    str
        One phrase; a plan without lines says so.
    """
    states = source_states(plan)
    total = len(states)
    count = {state: sum(one == state for one in states.values()) for state in (*WORDS, None)}
    worst = [one for line in plan.lines if (one := line_state(plan, line)).state == "cannot-tell"]
    least = min(
        worst, key=lambda one: -1.0 if one.falls is None else min(one.falls, one.least_grade or 0.0), default=None
    )
    parts = [
        f"{count['sure']} sure to drain" if count["sure"] else "",
        f"{count['cannot-tell']} cannot tell ({least.chance})" if count["cannot-tell"] and least is not None else "",
        f"{count['fails']} on a line that FAILS a check" if count["fails"] else "",
        f"{count[None]} NOT DRAINED" if count[None] else "",
    ]
    said = ", ".join(part for part in parts if part) or "none"
    head = f"{total} source{'' if total == 1 else 's'}: {said}"
    return head if plan.lines else f"{head}: no line can be laid"
