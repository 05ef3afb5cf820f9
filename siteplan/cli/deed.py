"""`siteplan deed CALLS`: corners, area and closure of a lot by a deed's calls."""

from __future__ import annotations

import argparse
from pathlib import Path


def declare(parser: argparse.ArgumentParser) -> None:
    """Declare the options.

    Parameters
    ----------
    parser : ArgumentParser
        That of this command.
    """
    from siteplan.deeds.calls import CLOSINGS, DEED_UNITS

    parser.epilog = (
        "A call a line: N 45°30'15\" E 120.50 ft; AZ 45.504 120.50 ft; curve right, radius 50 ft, arc 78.54 ft, "
        "chord N 45°00'00\" E 70.71 ft."
    )
    add = parser.add_argument
    add("calls", metavar="CALLS", type=Path, help="text of the calls, one a line or parted by 'thence'")
    add("--unit", choices=DEED_UNITS, metavar="U", help="of lengths without one: ft, us-ft, m, chain, rod, link")
    add(
        "--close",
        choices=CLOSINGS,
        help="compass-rule spreads a misclosure over the calls; nothing is spread without it",
    )
    add("--json", action="store_true", help="metres and degrees, for programs")


def run(options: argparse.Namespace) -> int:
    """Lay the deed out.

    Parameters
    ----------
    options : Namespace
        As declared.

    Returns
    -------
    int
        1 where the calls miss their start by more than their last digits explain and nobody asked to spread it.
    """
    from siteplan.deeds.deed_text import deed_as_json, deed_as_text, deed_from_file
    from siteplan.sheets.terminal import fitted_page

    deed, traverse = deed_from_file(options.calls, options.unit, options.close)
    print(deed_as_json(deed, traverse) if options.json else fitted_page(deed_as_text(deed, traverse)))
    return 0 if traverse.misclosure.by_rounding or deed.close else 1
