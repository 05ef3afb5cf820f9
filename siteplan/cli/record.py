"""`siteplan record PLAN_DIR SHOTS --out DIR`: the as-built record of what was accepted."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from siteplan.cli.typed import day


def declare(parser: argparse.ArgumentParser) -> None:
    """Declare the options.

    Parameters
    ----------
    parser : ArgumentParser
        That of this command.
    """
    from siteplan.cli.asbuilt import declare as declare_check

    declare_check(parser)
    parser.epilog = (
        "Options of siteplan asbuilt hold here too: the shots are checked again before anything is recorded."
    )
    add = parser.add_argument
    add("--out", metavar="DIR", type=Path, required=True, help="folder for record.gpkg, record.html, owner.html")
    add("--site", metavar="SITE", help="site folder, for ties to building corners")
    add("--photos", metavar="FOLDER", help="folder of photographs; their names go into the record")
    add("--date", metavar="YYYY-MM-DD", type=day, help="date of the record; none is printed without it")


def run(options: argparse.Namespace) -> int:
    """Check, and write when accepted.

    Parameters
    ----------
    options : Namespace
        As declared.

    Returns
    -------
    int
        0 written; 1 not accepted, nothing written.
    """
    from siteplan.laid.asbuilt_text import asbuilt_as_json, asbuilt_as_text
    from siteplan.laid.record_folder import write_record
    from siteplan.laid.record_typed import recorded_from_typed

    design, result, files = recorded_from_typed(vars(options))
    if files:
        write_record(options.out, files)
    print(asbuilt_as_json(result, design) if options.json else asbuilt_as_text(result, design))
    if not files:
        print("No record is written: what was laid is not accepted.", file=sys.stderr)
        return 1
    print(f"Written to {options.out}: {', '.join(files)}", file=sys.stderr)
    return 0
