"""`siteplan check SITE`: what a site folder still lacks, and the shots to take first."""

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
    parser.add_argument("site", metavar="SITE", type=Path, help="site folder with a site.toml")
    parser.add_argument("--json", action="store_true", help="ready, missing and shots, for programs")


def run(options: argparse.Namespace) -> int:
    """Check and report.

    Parameters
    ----------
    options : Namespace
        As declared.

    Returns
    -------
    int
        1 where no plan can be made yet.
    """
    from siteplan.begin.check_text import check_as_json, check_as_text
    from siteplan.begin.lacking import check_site
    from siteplan.cli.plan import bar_on_screen
    from siteplan.progress import telling
    from siteplan.sheets.terminal import fitted_page

    with telling(bar_on_screen()):
        found = check_site(options.site, debug=options.debug)
    print(check_as_json(found) if options.json else fitted_page(check_as_text(found)))
    return 0 if found.ready else 1
