"""`siteplan asbuilt PLAN SHOTS`: what was laid against what was to be laid, before backfill."""

from __future__ import annotations

import argparse


def declare(parser: argparse.ArgumentParser) -> None:
    """Declare the options.

    Parameters
    ----------
    parser : ArgumentParser
        That of this command.
    """
    parser.epilog = (
        "PLAN: a plan folder, somebody's point list, or INVERT@GRADE (95.50@1.00). SHOTS: sta,rod or a point "
        "list; lines like "
        "'# hi = 102.37' in it are read as options."
    )
    add = parser.add_argument
    add("plan", metavar="PLAN", help="what was to be built")
    add("shots", metavar="SHOTS", help="what was shot, as CSV")
    add("--hi", metavar="H", help="height of instrument")
    add("--benchmark", metavar="ELEV", help="elevation of the mark, with --backsight")
    add("--backsight", metavar="R", help="rod on the mark")
    add("--check-back", metavar="R", help="rod on the mark once more, at the end")
    add(
        "--on", metavar="WHAT", help="what the rod stood on: top (of pipe, outside), invert, bottom (of trench) or bell"
    )
    add("--rod", metavar="ROD", help="tenths, inches or metres")
    add(
        "--order",
        metavar="ORDER",
        help=(
            "north-first or east-first: which coordinate a list without a header gives first, PLAN or SHOTS; a "
            "list that names its columns needs none, and a line '# order = east-first' says it for one list alone"
        ),
    )
    add("--pipe", metavar="KIND", help="pipe of a plan that names none; siteplan pipes lists them")
    add("--size", metavar="SIZE", help="its nominal size, such as 4")
    add("--bell-rise", metavar="L", help="top of a bell above the invert, where the book does not know it")
    add("--doubt", metavar="L", help="one standard deviation of a shot; by the shots themselves when absent")
    add(
        "--stick",
        metavar="L",
        help="laying length of the pipe, 10 ft when absent; shots more than one and a half apart prove nothing between",
    )
    add("--unit", metavar="UNIT", help="ft, us-ft or m of a point list and of coordinates")
    add("--line", metavar="ID", help="check this line of the plan alone")
    add(
        "--crossing",
        metavar="NAME@STA,TOP,DIA[,GROUND]",
        action="append",
        help="a pipe that crosses, as measured; may be repeated",
    )
    add("--json", action="store_true", help="figures in metres, for programs")


def run(options: argparse.Namespace) -> int:
    """Check and report.

    Parameters
    ----------
    options : Namespace
        As declared.

    Returns
    -------
    int
        0 for accept and fix-paper, 1 for re-dig and cannot-tell.
    """
    from siteplan.laid.asbuilt_text import asbuilt_as_json, asbuilt_as_text
    from siteplan.laid.asbuilt_typed import checked_from_typed

    design, result = checked_from_typed(vars(options))
    print(asbuilt_as_json(result, design) if options.json else asbuilt_as_text(result, design))
    return 0 if result.verdict in {"accept", "fix-paper"} else 1
