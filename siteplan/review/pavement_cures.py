"""A stored plan and its site in.

For each pavement crossed with too little cover, what would and what would not solve it, out.
"""

from __future__ import annotations

import math

import numpy as np

from siteplan import units
from siteplan.books import rules
from siteplan.books.kinds import DRIVEN_KINDS
from siteplan.books.pipes import HEAVY, strength
from siteplan.books.practice import ADVISED_PAST_PAVEMENT
from siteplan.ground.on_lines import ground_on
from siteplan.site import Site
from siteplan.survey.files import said
from siteplan.values.laid_pipe import Pipe
from siteplan.values.lines import Crossing, Line
from siteplan.values.whole_plan import Plan


def pavement_advice(plan: Plan, site: Site) -> tuple[str, ...]:
    """Whether flattening the line, or heavier pipe, gives a pavement its cover.

    Parameters
    ----------
    plan : Plan
        As it stands.
    site : Site
        As surveyed.

    Returns
    -------
    tuple of str
        Plain statements; empty where every pavement has its cover.

    References
    ----------
    Cover at a place is ground less invert less the pipe's rise; the rest is arithmetic.
    """
    asked = site.rules[rules.MIN_COVER_PAVEMENT.id].limit
    heavy_entry = site.rules.get("min-cover-pavement-heavy")
    heavy_asked = heavy_entry.limit if heavy_entry is not None else None
    least = rules.needed(site.rules, rules.MIN_GRADE)
    if asked is None:
        return ()
    return tuple(
        text
        for line in plan.lines
        for crossing in line.crossings
        if crossing.kind in DRIVEN_KINDS
        if (text := _advice(line, crossing, site, plan, asked, heavy_asked, least))
    )


def _advice(
    line: Line, crossing: Crossing, site: Site, plan: Plan, asked: float, heavy_asked: float | None, least: float
) -> str:
    s = np.linspace(crossing.station_from, crossing.station_to, 41)
    _, _, _, ground, invert = ground_on(line, site.grid, s)
    rise = np.array([line.pipe_at(float(one)).rise for one in s])
    heavy = _heavy(line.pipe.nominal)
    if not np.isfinite(ground).all() or (heavy is not None and float(rise.min()) >= heavy.rise - 1e-6):
        return ""  # unknown ground, or heavy pipe lies there: judged by its own rule
    cover = ground - invert - rise
    worst = int(np.argmin(cover))
    if cover[worst] >= asked - 0.0005:
        return ""
    unit = plan.length_unit

    def small(value: float) -> str:
        return f"{value / units.MILLIMETRE:.0f} mm" if unit == "m" else f"{value / units.INCH:.1f} in"

    where = units.station_text(float(s[worst]), unit)
    text = (
        f"{line.id} under {said(crossing.name) or crossing.kind}: {small(float(cover[worst]))} of cover at "
        f"{where}, {small(asked)} asked. "
    )
    first = line.vertices[0]
    bound = (ground - asked - rise - first.invert) / np.maximum(s, 0.01)
    steepest = float(bound.min())
    if steepest < least:
        text += (
            f"Flattening cannot solve it: the grade could be at most {math.floor(steepest * 1e4) / 100:.2f} %, "
            f"least is {units.grade_text(least)}. "
        )
    else:
        text += f"A grade of {math.floor(steepest * 1e4) / 100:.2f} % or less from the same outlet would give it. "
    if heavy is not None and heavy_asked is not None:
        own = float((ground - invert - heavy.rise).min())
        a, b = (
            units.station_text(min(max(edge, 0.0), line.length), unit)
            for edge in (s[0] - ADVISED_PAST_PAVEMENT, s[-1] + ADVISED_PAST_PAVEMENT)
        )
        verdict = "and has" if own >= heavy_asked - 0.0005 else "and still has only"
        text += (
            f"Heavy pipe ({units.size_text(heavy.nominal, heavy.od, unit)} {heavy.title}) from {a} to {b} needs "
            f"{small(heavy_asked)} {verdict} {small(own)} at this grade."
        )
    return text.strip()


def _heavy(nominal: str) -> Pipe | None:
    known = strength(HEAVY, nominal)
    return None if known is None else known.pipe
