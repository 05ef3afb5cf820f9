"""`siteplan cutsheet PLAN_DIR --hi H`: what the rod must read, station by station."""

from __future__ import annotations

import argparse

from siteplan.books.phrases import LANGUAGES
from siteplan.cli.typed import day, out_file


def declare(parser: argparse.ArgumentParser) -> None:
    """Declare the options.

    Parameters
    ----------
    parser : ArgumentParser
        That of this command.
    """
    add = parser.add_argument
    add("plan", metavar="PLAN_DIR", help="plan folder")
    add("--hi", metavar="H", help="today's height of instrument")
    add("--benchmark", metavar="ELEV", help="elevation of the mark, with --backsight")
    add("--backsight", metavar="R", help="rod on the mark")
    add("--line", metavar="ID", help="this line alone")
    add(
        "--stake",
        metavar="STA,SIDE,DIST,HUB",
        action="append",
        help="an offset stake: L1:0+30,left,3,98.62; may be repeated",
    )
    add("--stakes", metavar="FILE", help="offset stakes as CSV: line,station,side,distance,hub (or rod)")
    add("--offset", metavar="SIDE,DIST", help="a stake at every station, hubs to be shot: left,3")
    add("--to", metavar="WHAT", help="what cuts on stakes are to: INV (default) or TRENCH")
    add("--stations-from", metavar="END", help="outlet (default) or start")
    add("--date", metavar="YYYY-MM-DD", type=day, help="date to print on the sheet; that of the plan when absent")
    add("--language", choices=LANGUAGES, default=LANGUAGES[0], help="of the words; names and figures stay as they are")
    add("--card", action="store_true", help="print the field card, 40 characters wide")
    add("--html", metavar="FILE", type=out_file, help="write a page to print (letter or A4) and to read on a phone")
    add("--json", action="store_true", help="figures in metres, for programs")


def run(options: argparse.Namespace) -> int:
    """Work out and print.

    Parameters
    ----------
    options : Namespace
        As declared.

    Returns
    -------
    int
        0, or 1 when some target is out of the rod's reach.
    """
    from siteplan.sheets.writing import write_file
    from siteplan.stakeout.cutsheet_page import cut_page
    from siteplan.stakeout.cutsheet_text import as_card, cutsheet_as_json, cutsheet_as_text
    from siteplan.stakeout.cutsheet_typed import sheet_from_typed

    sheet = sheet_from_typed(vars(options))
    if options.html is not None:
        write_file(options.html, cut_page(sheet))
    print(cutsheet_as_json(sheet) if options.json else as_card(sheet) if options.card else cutsheet_as_text(sheet))
    return 1 if any(target.reach for line in sheet.lines for target in line.targets) else 0
