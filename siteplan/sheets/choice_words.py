"""The layouts of a plan in; their names, table, who wins by what, and their records, out.

Said here once for every sheet.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Any, NamedTuple

from siteplan import units
from siteplan.sheets.doubt_words import chance_text
from siteplan.sheets.wording import counted, names, one_line
from siteplan.values.asked_for import ChoicesAsked
from siteplan.values.other_layouts import Aim, Layout, LayoutLeft, LayoutLine
from siteplan.values.whole_plan import Plan

ENOUGH = 3  # layouts; fewer are explained


class Column(NamedTuple):
    """One figure of a layout; `text` is without a unit, which the head names once where it is a length."""

    key: str
    head: str
    text: Callable[[Layout, Plan], str]
    figure: Callable[[Layout], float | None]  # the less the better
    best: str  # how the best by it is called
    is_length: bool = False


def _length(value: float | None, plan: Plan, digits: int = 1) -> str:
    return "not known" if value is None else units.length_figure(value, plan.length_unit, digits)


COLUMNS: tuple[Column, ...] = (
    Column("cost", "cost", lambda one, _: f"{one.cost:.1f}", lambda one: one.cost, "cheapest"),
    Column(
        "length",
        "length",
        lambda one, plan: _length(one.length, plan),
        lambda one: one.length,
        "shortest",
        is_length=True,
    ),
    Column(
        "cut",
        "deepest cut at a stake",
        lambda one, plan: _length(one.deepest_cut, plan, 2),
        lambda one: one.deepest_cut,
        "shallowest",
        is_length=True,
    ),
    Column(
        "ladder",
        "trench deep enough to need a way out",
        lambda one, plan: _length(one.over_ladder, plan),
        lambda one: one.over_ladder,
        "least trench that needs a way out",
        is_length=True,
    ),
    Column(
        "protection",
        "trench deep enough to need protection",
        lambda one, plan: _length(one.over_protection, plan),
        lambda one: one.over_protection,
        "least trench that needs protection",
        is_length=True,
    ),
    Column(
        "paved",
        "under pavement",
        lambda one, plan: _length(one.pavement, plan),
        lambda one: one.pavement,
        "least under pavement",
        is_length=True,
    ),
    Column(
        "spare",
        "fall to spare",
        lambda one, plan: _length(one.spare, plan, 2),
        lambda one: -one.spare,
        "most fall to spare",
        is_length=True,
    ),
    Column(
        "chance",
        "chance of it",
        lambda one, _: _chance(one.chance),
        lambda one: None if one.chance is None else -one.chance,
        "surest",
    ),
    Column(
        "bellies",
        "lines where water may stand",
        lambda one, _: f"{one.bellies}",
        lambda one: float(one.bellies),
        "fewest lines where water may stand",
    ),
    Column("flags", "flags", lambda one, _: f"{one.flags}", lambda one: float(one.flags), "fewest flags"),
    Column("fails", "fails", lambda one, _: f"{one.fails}", lambda one: float(one.fails), "fewest fails"),
)
SAID_OF_SPARE = "Fall to spare and its chance are of each layout's worst line."


def _chance(value: float | None) -> str:
    return "not known" if value is None else chance_text(value)


def layout_title(plan: Plan, aim: Aim) -> str:
    """What a layout is called: what it was laid for.

    Parameters
    ----------
    plan : Plan
        For the names of outlets.
    aim : Aim
        Of a layout, or of one that was tried in vain.

    Returns
    -------
    str
        One phrase, without what it achieved: the table says that.
    """
    if aim.what == "outlet":
        return f"without {names(plan).get(aim.outlet, aim.outlet)}"
    if aim.what == "fall":
        return f"for more fall, {units.grade_text(aim.grade or 0.0)} and up"
    return {
        "cost": "for least cost",
        "pavement": "to go round pavement",
        "apart": "a line of its own for each source",
        "depth": "for shallow trenches",
    }[aim.what]


def ends_text(layout: Layout, plan: Plan) -> str:
    """Where a layout's sources leave, and how many lines it has: 'Curb hole 3, Rear slope 2; 4 lines'.

    Parameters
    ----------
    layout : Layout
        One of the plan's.
    plan : Plan
        For names.

    Returns
    -------
    str
        Outlets with the number of sources that leave there.
    """
    told = []
    for end in layout.ends:
        sources = {key for line in layout.lines if line.end == end.id for key in line.sources}
        told.append(f"{one_line(end.name) or names(plan).get(end.id, end.id)} {len(sources)}")
    return f"{', '.join(told)}; {counted(len(layout.lines), 'line')}"


def wins(layouts: Sequence[Layout]) -> dict[int, tuple[str, ...]]:
    """What each layout is best by.

    Parameters
    ----------
    layouts : sequence of Layout
        All of a plan.

    Returns
    -------
    dict of int to tuple of str
        By number; a figure in which all are alike is nobody's, one that several share is each one's.
    """
    told: dict[int, list[str]] = {one.number: [] for one in layouts}
    for column in COLUMNS:
        figures = {one.number: column.figure(one) for one in layouts}
        known = {number: round(value, 3) for number, value in figures.items() if value is not None}
        if len(known) < len(layouts) or len(set(known.values())) < 2:
            continue
        best = min(known.values())
        for number, value in known.items():
            if value == best:
                told[number].append(column.best)
    return {number: tuple(words) for number, words in told.items()}


def laid_for(plan: Plan, layout: Layout) -> str:
    """What a layout is, in one sentence: what it was laid for, where its water leaves, what it is best by.

    Parameters
    ----------
    plan : Plan
        With its layouts.
    layout : Layout
        One of them.

    Returns
    -------
    str
        Without a full stop.
    """
    return f"{layout_title(plan, layout.aim)}: {ends_text(layout, plan)}. Best by: {wins_text(plan, layout)}"


def choose_text(plan: Plan) -> str:
    """Which layout the plan is, and how to take another.

    Parameters
    ----------
    plan : Plan
        With its layouts.

    Returns
    -------
    str
        One sentence or two.
    """
    taken = next((one.number for one in plan.layouts if one.chosen), None)
    said = f"This plan is layout {taken}" if taken else "This plan is none of them"
    if len(plan.layouts) < 2:
        alone = plan.choices_asked.count == 1 and any(one.chosen and one.fails for one in plan.layouts)
        more = " It fails, and no other was looked for: another may keep what it breaks (leave out --layouts 1)."
        return f"{said}.{more if alone else ''}"
    return (
        f"{said}; siteplan plan --choose N takes another. {''.join(f'{one} ' for one in _cheaper(plan))}{SAID_OF_SPARE}"
    )


def _cheaper(plan: Plan) -> Iterator[str]:
    """Why layouts that cost less are not the one taken, where nobody asked for it by number."""
    taken = next((one for one in plan.layouts if one.chosen), None)
    if taken is None or plan.choices_asked.choose is not None:
        return
    named = names(plan)
    for one in plan.layouts[: taken.number - 1]:
        doubtful = [named.get(key, key) for key in taken.sure if key not in one.sure]
        strange = [end.name or end.id for end in one.ends if end.found and end.id not in {e.id for e in taken.ends}]
        if one.fails > taken.fails:
            yield f"Layout {one.number} costs less and fails more rules."
        elif doubtful:
            yield f"Layout {one.number} costs less and leaves {', '.join(doubtful)} in doubt, where this one is sure."
        elif strange:
            yield f"Layout {one.number} costs less and ends where no outlet was asked for ({', '.join(strange)})."


def wins_text(plan: Plan, layout: Layout) -> str:
    """What a layout is best by, in words; 'nothing' where another is as good or better everywhere.

    Parameters
    ----------
    plan : Plan
        With its layouts.
    layout : Layout
        One of them.

    Returns
    -------
    str
        One phrase.
    """
    if len(plan.layouts) < 2:
        return "it is the only one"
    return ", ".join(wins(plan.layouts)[layout.number]) or "nothing"


def left_text(plan: Plan, left: LayoutLeft) -> str:
    """Why a layout that was tried is none to choose.

    Parameters
    ----------
    plan : Plan
        For names.
    left : LayoutLeft
        Of the plan.

    Returns
    -------
    str
        One sentence without a full stop.
    """
    title = layout_title(plan, left.aim)
    if left.why == "same":
        return f"{title}: drawn like layout {left.like}"
    if left.why == "unserved":
        return f"{title}: {names(plan).get(left.source, left.source)} would have no line"
    if left.why == "drawn":
        return f"{title}: the line drawn from {names(plan).get(left.source, left.source)} would not be followed"
    return f"{title}: could not be made, by a fault of ours"


def few_text(plan: Plan) -> str:
    """Why there are fewer layouts than three; empty where there are as many, or were not asked for.

    Parameters
    ----------
    plan : Plan
        With its layouts.

    Returns
    -------
    str
        One sentence.
    """
    if not plan.layouts or len(plan.layouts) >= min(ENOUGH, plan.choices_asked.count):
        return ""
    there = "no other layout differs from it" if len(plan.layouts) == 1 else f"only {len(plan.layouts)} layouts differ"
    tried = "; ".join(left_text(plan, one) for one in plan.layouts_left)
    return (
        f"Of the ways tried {there}: {tried}."
        if tried
        else (
            "No other layout was tried: no outlet in use can be done without, no pavement is crossed, no "
            "trench is shared and no steeper grade serves all."
        )
    )


def front(layouts: Sequence[Layout]) -> tuple[Layout, ...]:
    """The layouts that no other beats in both cost and fall to spare.

    Parameters
    ----------
    layouts : sequence of Layout
        All of a plan.

    Returns
    -------
    tuple of Layout
        By cost.
    """
    best: list[Layout] = []
    for one in sorted(layouts, key=lambda one: (one.cost, -one.spare, one.number)):
        if not best or one.spare > best[-1].spare:
            best.append(one)
    return tuple(best)


def front_text(plan: Plan) -> str:
    """Which layouts no other beats in both cost and fall to spare; empty where that was not asked for.

    Parameters
    ----------
    plan : Plan
        With its layouts.

    Returns
    -------
    str
        One sentence.
    """
    if not plan.choices_asked.front or not plan.layouts:
        return ""
    told = ", ".join(f"{one.number}" for one in front(plan.layouts))
    return f"Of the layouts tried none beats these in both cost and fall to spare: {told}."


def layout_record(plan: Plan, layout: Layout) -> dict[str, Any]:
    """A layout for plan.json.

    Parameters
    ----------
    plan : Plan
        For names.
    layout : Layout
        One of its layouts.

    Returns
    -------
    dict
        Metres and percent.
    """
    return {
        "number": layout.number,
        "chosen": layout.chosen,
        "title": layout_title(plan, layout.aim),
        "aim": aim_record(layout.aim),
        "cost": _fine(layout.cost),
        "length": _fine(layout.length),
        "deepest_cut": _fine(layout.deepest_cut),
        "over_ladder": _fine(layout.over_ladder),
        "over_protection": _fine(layout.over_protection),
        "pavement": _fine(layout.pavement),
        "spare": _fine(layout.spare),
        "chance": _fine(layout.chance),
        "bellies": layout.bellies,
        "flags": layout.flags,
        "fails": layout.fails,
        "sure": list(layout.sure),
        "wins": list(wins(plan.layouts)[layout.number]),
        "ends": [
            {"id": end.id, "name": end.name, "x": _fine(end.x), "y": _fine(end.y), "found": end.found}
            for end in layout.ends
        ],
        "lines": [_line_record(line) for line in layout.lines],
    }


def _line_record(line: LayoutLine) -> dict[str, Any]:
    return {
        "id": line.id,
        "sources": list(line.sources),
        "from": line.start,
        "to": line.end,
        "nominal": line.nominal,
        "length": _fine(line.length),
        "spare": _fine(line.spare),
        "chance": _fine(line.chance),
        "deepest_cut": _fine(line.deepest_cut),
        "vertices": [
            {"x": _fine(v.x), "y": _fine(v.y), "station": _fine(v.station), "invert": _fine(v.invert)}
            for v in line.vertices
        ],
    }


def aim_record(aim: Aim) -> dict[str, Any]:
    """What a layout was laid for, for plan.json.

    Parameters
    ----------
    aim : Aim
        As a value.

    Returns
    -------
    dict
        The grade in percent.
    """
    return {
        "what": aim.what,
        "outlet": aim.outlet,
        "grade_percent": None if aim.grade is None else _fine(100 * aim.grade),
    }


def left_record(plan: Plan, left: LayoutLeft) -> dict[str, Any]:
    """A layout tried in vain, for plan.json.

    Parameters
    ----------
    plan : Plan
        For names.
    left : LayoutLeft
        Of the plan.

    Returns
    -------
    dict
        With its sentence.
    """
    return {
        "aim": aim_record(left.aim),
        "why": left.why,
        "like": left.like,
        "source": left.source,
        "text": left_text(plan, left),
    }


def asked_record(asked: ChoicesAsked) -> dict[str, Any]:
    """What was asked of layouts, for plan.json.

    Parameters
    ----------
    asked : ChoicesAsked
        As typed.

    Returns
    -------
    dict
        Number chosen, how many were looked for, and whether the front was asked for.
    """
    return {"choose": asked.choose, "count": asked.count, "front": asked.front}


def _fine(value: float | None) -> float | None:
    return None if value is None else round(value, 6) + 0.0
