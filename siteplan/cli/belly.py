"""`siteplan belly PLAN_DIR`: what each kind of pipe would do on the ground under a plan's lines, side by side."""

from __future__ import annotations

import argparse
from pathlib import Path

from siteplan.cli.typed import day, out_file, typed_number


def declare(parser: argparse.ArgumentParser) -> None:
    """Declare the options.

    Parameters
    ----------
    parser : ArgumentParser
        That of this command.
    """
    parser.add_argument("plan", type=Path, metavar="PLAN_DIR", help="folder that siteplan plan wrote")
    parser.add_argument("--line", metavar="ID", help="only this line, such as L1")
    parser.add_argument(
        "--wet",
        nargs=2,
        type=typed_number,
        metavar=("FROM", "TO"),
        help="try wet ground between two stations of --line, in the site's unit",
    )
    parser.add_argument(
        "--chart", type=out_file, metavar="FILE", help="write a chart (SVG) of standing water by kind of pipe"
    )
    parser.add_argument(
        "--date", type=day, metavar="YYYY-MM-DD", help="date to print on the chart; that of the plan when absent"
    )
    parser.add_argument("--json", action="store_true", help="SI figures, for programs")


def run(options: argparse.Namespace) -> int:
    """Compare; 1 when the plan's own pipe is likely to hold more water than is asked, 0 otherwise.

    Parameters
    ----------
    options : Namespace
        As declared.

    Returns
    -------
    int
        0 or 1.
    """
    import json

    from siteplan.books.practice import POOL_LIMIT
    from siteplan.books.stock import stocks
    from siteplan.errors import InputError
    from siteplan.stored.folder_of import read_plan
    from siteplan.trench.sides import as_record, sides_as_text, sides_of, wet_added
    from siteplan.units import to_metres

    stored = read_plan(options.plan)
    plan = stored.plan
    lines = [line for line in plan.lines if options.line in {None, line.id}]
    if options.line is not None and not lines:
        known = ", ".join(line.id for line in plan.lines) or "none"
        raise InputError("--line", f"{options.line!r} is no line of this plan", f"Its lines: {known}.")
    if options.wet:
        if options.line is None:
            raise InputError("--wet", "needs --line", "Name the line that it lies under.")
        first, last = (to_metres(station, plan.length_unit) for station in options.wet)
        lines = [wet_added(line, first, last) for line in lines]
    own = stored.record.get("own_pipes") or {}
    book = stocks(own if isinstance(own, dict) else {}, "plan.json")
    found = [sides_of(line, book, plan.length_unit, stored.limit("belly-risk", POOL_LIMIT)) for line in lines]
    if options.chart:
        from siteplan.sheets.belly_chart import belly_chart
        from siteplan.sheets.writing import write_file

        write_file(
            options.chart,
            belly_chart(found, plan.length_unit, named=plan.site_name, date=options.date or plan.stamp or "").encode(
                "utf-8"
            ),
        )
    print(json.dumps(as_record(found), indent=1) if options.json else sides_as_text(found, plan.length_unit))
    return int(any(side.own and side.forecast.depth.likely > side.limit for one in found for side in one.sides))
