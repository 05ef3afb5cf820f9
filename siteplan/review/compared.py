"""Two stored plans in.

What changed between them, where, by how much, and which rules the second breaks that the first kept, out.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Literal

from siteplan.errors import InputError
from siteplan.review.one_site import SiteLikeness, site_likeness
from siteplan.sheets.states import source_states
from siteplan.stored.folder_of import StoredPlan, read_plan
from siteplan.values.lines import Line
from siteplan.values.whole_plan import Plan

What = Literal[
    "site",
    "file",
    "rule",
    "source",
    "flow",
    "outlet",
    "control",
    "served-by",
    "state",
    "line",
    "way",
    "length",
    "invert",
    "grade",
    "pipe",
    "deepest-cut",
    "least-cover",
    "spare",
    "chance",
    "fails",
    "flags",
    "trench",
]
Value = float | str | None

_MOVED = 0.05  # m; ways nearer than this are one: what a crew sets a stake to. Common practice, no source
_SEEN = {"m": 5e-4, "percent": 5e-3, "lps": 5e-3, "share": 5e-3, "": 0.5}  # differences that a sheet would not print


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One thing that is not as it was.

    Attributes
    ----------
    what : str
        Kind of change.
    subject : str
        Whose: a rule's id, a file, or the name of a source, an outlet, or a line by its ends.
    before, after : float, str or None
        SI, percent for grades; None where there was or is none.
    unit : str
        'm', 'percent', 'lps', 'share', '' (a count or words) or that of a rule's limit.
    station : float or None
        Where along the line of the second plan it is greatest [m].
    """

    what: What
    subject: str
    before: Value
    after: Value
    unit: str = ""
    station: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Broken:
    """A rule that one plan breaks and the other does not; `subject` by names, as ids change between two plans."""

    rule: str
    subject: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """What two plans differ by. `breaks` are the second's, `mends` the first's alone."""

    first: Plan
    second: Plan
    changed: tuple[Change, ...]
    breaks: tuple[Broken, ...]
    mends: tuple[Broken, ...]
    site: SiteLikeness


def compared(first: Path, second: Path) -> Comparison:
    """Set one plan beside another.

    Parameters
    ----------
    first, second : Path
        Plan folders; the second is asked about.

    Returns
    -------
    Comparison
        In the order site, files, rules, sources, outlets, lines, totals.

    Raises
    ------
    InputError
        If one cannot be read: which.
    """
    a, b = (_read(folder, place) for folder, place in ((first, "first"), (second, "second")))
    before, after = _broken(a.plan), _broken(b.plan)
    return Comparison(
        first=a.plan,
        second=b.plan,
        changed=tuple(_changes(a, b)),
        breaks=tuple(one for one in after if one not in before),
        mends=tuple(one for one in before if one not in after),
        site=site_likeness(a.plan, b.plan),
    )


def _read(folder: Path, place: str) -> StoredPlan:
    try:
        return read_plan(Path(folder))
    except InputError as fault:
        raise InputError(f"the {place} plan, {fault.where}", fault.what, fault.mend) from fault


def _changes(a: StoredPlan, b: StoredPlan) -> Iterator[Change]:
    first, second = a.plan, b.plan
    yield from _differ("site", "plan", first.site_name, second.site_name)
    files = [{one.file: one.sha256[:12] for one in plan.inputs} for plan in (first, second)]
    yield from _tables("file", *files)
    yield from _rules(a.record, b.record)
    flows = [
        {_named(one.kind, one.name): _lps(plan.inflows.of(one.id)) for one in plan.sources} for plan in (first, second)
    ]
    yield from _present("source", *flows)
    yield from _tables("flow", *flows, unit="lps", both=True)
    controls = [{one.name or one.id: one.control for one in plan.outlets} for plan in (first, second)]
    yield from _present("outlet", *controls)
    yield from _tables("control", *controls, unit="m", both=True)
    yield from _tables("served-by", _served(first), _served(second), both=True)
    yield from _tables("state", _states(first), _states(second), both=True)
    yield from _lines(first, second)
    for status in ("fail", "flag"):
        counted = [float(sum(one.status == status for one in plan.findings)) for plan in (first, second)]
        yield from _differ("fails" if status == "fail" else "flags", "plan", *counted)
    yield from _differ(
        "trench", "plan", *(sum(line.length for line in plan.every_line) for plan in (first, second)), unit="m"
    )


def _rules(first: Mapping[str, object], second: Mapping[str, object]) -> Iterator[Change]:
    """Limits in force; a unit of its own each."""
    books: list[dict[str, tuple[Value, str]]] = []
    for record in (first, second):
        listed = record.get("rules")
        rows = [one for one in listed if isinstance(one, Mapping)] if isinstance(listed, list) else []
        books.append({str(one.get("id")): (_value(one.get("limit")), str(one.get("unit") or "")) for one in rows})
    for name in dict.fromkeys([*books[0], *books[1]]):
        (was, unit), (now, now_unit) = (book.get(name, (None, "")) for book in books)
        if was != now or (name in books[0]) != (name in books[1]):
            yield Change(what="rule", subject=name, before=was, after=now, unit=now_unit or unit)


def _lines(first: Plan, second: Plan) -> Iterator[Change]:
    theirs, ours = lines_by_ends(first), lines_by_ends(second)
    for name in dict.fromkeys([*theirs, *ours]):
        old, new = theirs.get(name), ours.get(name)
        if old is None or new is None:
            yield Change(
                what="line",
                subject=name,
                before=old.length if old else None,
                after=new.length if new else None,
                unit="m",
            )
            continue
        aside, station = _farthest(new, old)
        if aside > _MOVED:
            yield Change(what="way", subject=name, before=0.0, after=aside, unit="m", station=station)
        else:
            yield from _inverts(name, old, new)
        yield from _differ("length", name, old.length, new.length, unit="m")
        if old.pumped is None or new.pumped is None:
            yield from _differ("grade", name, _flattest(old), _flattest(new), unit="percent")
        else:
            yield from _differ("flow", name, _lps(old.pumped.flow), _lps(new.pumped.flow), unit="lps")
        yield from _differ("pipe", name, _pipes(old), _pipes(new))
        yield from _differ("deepest-cut", name, _known(max, old, _cut), _known(max, new, _cut), unit="m")
        yield from _differ("least-cover", name, _known(min, old, _cover), _known(min, new, _cover), unit="m")
        yield from _differ("spare", name, old.spare, new.spare, unit="m")
        yield from _differ("chance", name, _chance(old), _chance(new), unit="share")


def _inverts(name: str, old: Line, new: Line) -> Iterator[Change]:
    """Where the inverts of two lines on one way differ most."""
    worst = max(new.vertices, key=lambda v: abs(v.invert - _invert_at(old, v.station)))
    was = _invert_at(old, worst.station)
    if abs(worst.invert - was) > _SEEN["m"]:
        yield Change(what="invert", subject=name, before=was, after=worst.invert, unit="m", station=worst.station)


def _invert_at(line: Line, station: float) -> float:
    for a, b in pairwise(line.vertices):
        if station <= b.station:
            share = (station - a.station) / (b.station - a.station) if b.station > a.station else 0.0
            return a.invert + share * (b.invert - a.invert)
    return line.vertices[-1].invert


def _farthest(one: Line, other: Line) -> tuple[float, float]:
    """How far a vertex of either lies from the other line at most [m], and at which station of the first."""
    there = [(_off(v.x, v.y, other)[0], v.station) for v in one.vertices]
    back = [_off(v.x, v.y, one) for v in other.vertices]
    return max([*there, *back])


def _off(x: float, y: float, line: Line) -> tuple[float, float]:
    """Distance of a place from a line [m], and the station nearest to it."""
    best = (math.inf, 0.0)
    for a, b in pairwise(line.vertices):
        dx, dy = b.x - a.x, b.y - a.y
        span = dx * dx + dy * dy
        along = 0.0 if span == 0 else min(max(((x - a.x) * dx + (y - a.y) * dy) / span, 0.0), 1.0)
        away = math.hypot(x - a.x - along * dx, y - a.y - along * dy)
        best = min(best, (away, a.station + along * (b.station - a.station)))
    return best


def lines_by_ends(plan: Plan) -> dict[str, Line]:
    """Lines by where their water comes from and where it leaves, which two plans have in common; ids change.

    Parameters
    ----------
    plan : Plan
        As stored.

    Returns
    -------
    dict of str to Line
        'DS-1 to Curb hole'.
    """
    return {
        f"{_name(plan, line.start)} to {_way_out(plan, line)}{'' if line.pumped is None else ', under pressure'}": line
        for line in plan.every_line
    }


def _name(plan: Plan, key: str) -> str:
    named = {one.id: one.name for one in plan.sources} | {one.id: one.name for one in plan.outlets}
    return named.get(key) or key


def _way_out(plan: Plan, line: Line) -> str:
    """Name of the outlet that a line's water leaves by."""
    by_id = {one.id: one for one in plan.lines}
    seen: set[str] = set()
    while line.end in by_id and line.end not in seen:
        seen.add(line.end)
        line = by_id[line.end]
    return _name(plan, line.end)


def _served(plan: Plan) -> dict[str, Value]:
    found: dict[str, Value] = {_named(one.kind, one.name): None for one in plan.sources}
    named = {one.id: _named(one.kind, one.name) for one in plan.sources}
    for line in plan.every_line:
        found.update({named[key]: _way_out(plan, line) for key in line.sources if key in named})
    return found


def _states(plan: Plan) -> dict[str, Value]:
    named = {one.id: _named(one.kind, one.name) for one in plan.sources}
    return {named[key]: state for key, state in source_states(plan).items()}


def _broken(plan: Plan) -> list[Broken]:
    """Fails, by names: two plans number their lines each for itself."""
    lines = {line.id: name for name, line in lines_by_ends(plan).items()}
    found = []
    for one in plan.findings:
        if one.status == "fail":
            key, _, rest = one.subject.partition(":")
            name = lines.get(key, _name(plan, key))
            found.append(Broken(rule=one.rule, subject=f"{name}: {rest.strip()}" if rest else name))
    return list(dict.fromkeys(found))


def _present(what: What, before: Mapping[str, object], after: Mapping[str, object]) -> Iterator[Change]:
    for name in dict.fromkeys([*before, *after]):
        if (name in before) != (name in after):
            yield Change(
                what=what,
                subject=name,
                before="there" if name in before else None,
                after="there" if name in after else None,
            )


def _tables(
    what: What, before: Mapping[str, Value], after: Mapping[str, Value], *, unit: str = "", both: bool = False
) -> Iterator[Change]:
    """Where two tables differ; `both`: of what stands in both alone."""
    for name in dict.fromkeys([*before, *after]):
        if not both or (name in before and name in after):
            yield from _differ(what, name, before.get(name), after.get(name), unit=unit)


def _differ(what: What, subject: str, before: Value, after: Value, *, unit: str = "") -> Iterator[Change]:
    if isinstance(before, float) and isinstance(after, float):
        if not (abs(after - before) <= _SEEN.get(unit, 0.0) or (math.isnan(before) and math.isnan(after))):
            yield Change(what=what, subject=subject, before=before, after=after, unit=unit)
    elif before != after:
        yield Change(what=what, subject=subject, before=before, after=after, unit=unit)


def _named(kind: str, name: str) -> str:
    return name or kind


def _lps(flow: float | None) -> float | None:
    return None if flow is None else flow * 1000.0


def _value(value: object) -> Value:
    return (
        float(value)
        if isinstance(value, int | float) and not isinstance(value, bool)
        else None
        if value is None
        else str(value)
    )


def _flattest(line: Line) -> float:
    falls = [
        (b.invert - a.invert) / (b.station - a.station) for a, b in pairwise(line.vertices) if b.station > a.station
    ]
    return 100.0 * min(falls, default=math.nan)


def _pipes(line: Line) -> str:
    """What lies there, outlet first."""
    laid = [reach.pipe for reach in line.reaches] or [line.pipe]
    return ", ".join(dict.fromkeys(f"{pipe.nominal} {pipe.title}" for pipe in laid))


def _cut(line: Line) -> list[float]:
    return [row.cut for row in line.rows]


def _cover(line: Line) -> list[float]:
    return [row.cover for row in line.rows]


def _known(pick: Callable[[Sequence[float]], float], line: Line, of: Callable[[Line], list[float]]) -> float | None:
    known = [value for value in of(line) if math.isfinite(value)]
    return pick(known) if known else None


def _chance(line: Line) -> float | None:
    return None if line.doubt is None else line.doubt.chance_min_grade
