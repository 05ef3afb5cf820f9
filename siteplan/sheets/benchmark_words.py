"""Plan in; what is known of the marks that its heights hang on out, in words.

Name, elevation, datum, and a blank for what nobody gave.
"""

from __future__ import annotations

from siteplan import units
from siteplan.books.kinds import Kind
from siteplan.sheets.wording import one_line
from siteplan.values.drawn_shapes import PlanFeature
from siteplan.values.whole_plan import Plan

BLANK = "____________"


def benchmark_facts(mark: PlanFeature, unit: str) -> tuple[str, str, str]:
    """A mark's name, elevation and datum.

    Parameters
    ----------
    mark : PlanFeature
        A benchmark.
    unit : str
        The site's unit of elevations.

    Returns
    -------
    tuple of str
        'Nail in step', '100.00 ft', 'NAVD 88'; '' for what the survey does not state.
    """
    told = dict(mark.told)
    level, datum = told.get("elevation"), told.get("datum")
    return (
        one_line(mark.name),
        units.length_text(float(level), unit) if isinstance(level, int | float) else "",
        one_line(datum) if isinstance(datum, str) else "",
    )


def benchmark_lines(plan: Plan) -> list[str]:
    """One line a mark, as a sheet prints it, with blanks to fill.

    Parameters
    ----------
    plan : Plan
        With the features of its site.

    Returns
    -------
    list of str
        One line with blanks alone where the survey shows no mark.
    """
    found = []
    for mark in plan.features:
        if mark.kind != Kind.BENCHMARK:
            continue
        name, level, datum = benchmark_facts(mark, plan.elevation_unit)
        blank = f"{BLANK} {units.UNIT_NAMES[plan.elevation_unit]}"
        lacking = [what for what, told in (("elevation", level), ("datum", datum)) if not told]
        note = f" (the survey states no {' and no '.join(lacking)})" if lacking else ""
        found.append(f"Benchmark: {name or 'not named'}, elevation {level or blank}, datum {datum or BLANK}{note}")
    return found or [f"No benchmark in the survey: elevation {BLANK}, datum {BLANK}, place {BLANK}"]


def datums(plan: Plan) -> tuple[str, ...]:
    """The datums of its marks, each once.

    Parameters
    ----------
    plan : Plan
        With the features of its site.

    Returns
    -------
    tuple of str
        As the survey writes them; two of them do not agree.
    """
    marks = [benchmark_facts(one, plan.elevation_unit) for one in plan.features if one.kind == Kind.BENCHMARK]
    return tuple(dict.fromkeys(datum for _, _, datum in marks if datum))
