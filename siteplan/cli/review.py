"""`siteplan review PLAN_DIR [SITE]`: an inspector's recheck that trusts no stored verdict."""

from __future__ import annotations

import argparse
from pathlib import Path

from siteplan.cli.typed import day, out_file


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
        "site",
        metavar="SITE",
        type=Path,
        nargs="?",
        help="the site as surveyed; without it rules cannot be judged again",
    )
    add("--html", metavar="FILE", type=out_file, help="write the check sheet, with lines to sign")
    add(
        "--date",
        metavar="YYYY-MM-DD",
        type=day,
        help="date of the recheck, printed on the check sheet; none without it",
    )
    add("--all", action="store_true", help="print what passes too")
    add("--json", action="store_true", help="findings and counts, for programs")


def run(options: argparse.Namespace) -> int:
    """Recheck and report.

    Parameters
    ----------
    options : Namespace
        As declared.

    Returns
    -------
    int
        1 on any fail.
    """
    from siteplan.review.comments import check_sheet, review_as_json, review_as_text
    from siteplan.review.whole import review
    from siteplan.sheets.writing import write_file

    result = review(options.plan, options.site)
    if options.html is not None:
        write_file(options.html, check_sheet(result, options.date))
    print(review_as_json(result) if options.json else review_as_text(result, everything=options.all))
    return 1 if result.counts["fail"] else 0
