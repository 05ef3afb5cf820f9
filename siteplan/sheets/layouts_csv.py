"""The layouts of a plan in; layouts.csv out: a row a layout, its figures in the site's unit."""

from __future__ import annotations

import csv
import io

from siteplan import units
from siteplan.sheets.choice_words import ends_text, layout_title, wins_text
from siteplan.sheets.schedule import safe_cell
from siteplan.values.other_layouts import Layout
from siteplan.values.whole_plan import Plan


def layouts_csv(plan: Plan) -> bytes:
    """What there is to choose from, for a spreadsheet.

    Parameters
    ----------
    plan : Plan
        As stored; one without layouts gives the header row alone.

    Returns
    -------
    bytes
        CSV (RFC 4180) in UTF-8; text that a spreadsheet would take for a formula has an apostrophe before it.
    """
    unit = units.UNIT_NAMES[plan.length_unit]
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(
        [
            "layout",
            "this plan",
            "laid",
            "leaves by",
            "cost (relative)",
            f"length ({unit})",
            f"deepest cut ({unit})",
            f"trench that needs a way out ({unit})",
            f"trench that needs protection ({unit})",
            f"under pavement ({unit})",
            f"fall to spare ({unit})",
            "chance of it (%)",
            "lines where water may stand",
            "flags",
            "fails",
            "best by",
        ]
    )
    for one in plan.layouts:
        writer.writerow([safe_cell(cell) for cell in _row(plan, one)])
    written = text.getvalue()
    return written.encode("ascii") if written.isascii() else b"\xef\xbb\xbf" + written.encode("utf-8", "replace")


def _row(plan: Plan, one: Layout) -> list[str]:
    def length(value: float | None, digits: int = 1) -> str:
        return (
            "" if value is None else f"{units.rounded(units.from_metres(value, plan.length_unit), digits):.{digits}f}"
        )

    return [
        f"{one.number}",
        "yes" if one.chosen else "no",
        layout_title(plan, one.aim),
        ends_text(one, plan),
        f"{one.cost:.1f}",
        length(one.length),
        length(one.deepest_cut, 2),
        length(one.over_ladder),
        length(one.over_protection),
        length(one.pavement),
        length(one.spare, 2),
        "" if one.chance is None else f"{100 * one.chance:.0f}",
        f"{one.bellies}",
        f"{one.flags}",
        f"{one.fails}",
        wins_text(plan, one),
    ]
