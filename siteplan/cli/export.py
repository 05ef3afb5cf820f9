"""`siteplan export PLAN_DIR --to FORMAT --out FILE`.

The plan for a map, a drawing office, an instrument, a spreadsheet.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from siteplan.cli.typed import day, out_file
from siteplan.exchange.formats import COLUMN_ORDERS, FORMATS


def declare(parser: argparse.ArgumentParser) -> None:
    """Declare the options.

    Parameters
    ----------
    parser : ArgumentParser
        That of this command.
    """
    add = parser.add_argument
    add("plan", metavar="PLAN_DIR", type=Path, help="plan folder")
    add(
        "--to",
        required=True,
        choices=FORMATS,
        help=(
            "gpkg and geojson for maps, svg and landxml for drawing offices, points to stake out, xlsx for spreadsheets"
        ),
    )
    add("--out", metavar="FILE", required=True, type=out_file, help="the file to write")
    add(
        "--order",
        choices=COLUMN_ORDERS,
        default="north-first",
        help="points: which coordinate comes first, and where the number stands",
    )
    add("--scale", metavar="N", type=_scale, help="svg: 1 to N on paper (240 is 1 in = 20 ft)")
    add("--date", metavar="YYYY-MM-DD", type=day, help="written into gpkg, landxml and xlsx; the plan's own without it")


def _scale(text: str) -> int:
    number = int(text) if text.isascii() and text.isdigit() else 0
    if not 1 <= number <= 100_000:
        raise argparse.ArgumentTypeError(
            "a scale is a whole number from 1 to 100000: 240 for 1 in = 20 ft, 200 for 1:200"
        )
    return number


def run(options: argparse.Namespace) -> int:
    """Write the file.

    Parameters
    ----------
    options : Namespace
        As declared.

    Returns
    -------
    int
        0.
    """
    from siteplan.exchange.formats import exported
    from siteplan.sheets.writing import write_file
    from siteplan.stored.folder_of import read_plan

    content = exported(read_plan(options.plan), options.to, date=options.date, scale=options.scale, order=options.order)
    write_file(options.out, content)
    print(f"Written to {options.out}")
    return 0
