"""`siteplan new DIR`: begin a commented site folder from whatever there is."""

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
    from siteplan.units import SITE_UNITS

    add = parser.add_argument
    add("folder", metavar="DIR", type=Path, help="folder to begin; must not exist, or be empty")
    add("--points", metavar="F", type=Path, help="a crew's point list (CSV or text), or LandXML points")
    add("--grid", metavar="F", type=Path, help="elevation grid, a GeoTIFF")
    add("--tin", metavar="F", type=Path, help="surface, a LandXML")
    add(
        "--features",
        metavar="F",
        type=Path,
        action="append",
        default=[],
        help="lot, house, downspouts and the rest: GeoJSON, GeoPackage, Shapefile, CSV of points; may be given again",
    )
    add("--plat", metavar="F", type=Path, help="image of the plat or a photo (PNG, JPEG, PDF) to draw over")
    add("--page", metavar="N", type=int, default=1, help="of a plat that is a PDF (%(default)s)")
    add(
        "--deed",
        metavar="F",
        type=Path,
        help="text of a deed's calls: the lot by bearings and distances (docs/deeds.md)",
    )
    add("--name", metavar="NAME", help="of the lot; the folder's name without it")
    add("--crs", metavar="CODE", help='system of the coordinates: an EPSG code, or "local" for an assumed grid')
    add("--unit", choices=SITE_UNITS, help="of lengths, and of elevations where nothing else tells theirs")
    add("--elevation-unit", choices=SITE_UNITS, help="of elevations")
    add("--order", choices=("north-first", "east-first"), help="of the coordinates in a list of points")
    add("--json", action="store_true", help="files, keys and open questions, for programs")


def run(options: argparse.Namespace) -> int:
    """Write the folder and say what stays open.

    Parameters
    ----------
    options : Namespace
        As declared.

    Returns
    -------
    int
        0; questions that stay open are no fault.
    """
    from siteplan.begin.given import Given
    from siteplan.begin.new_site import new_site
    from siteplan.begin.new_text import new_as_json, new_as_text
    from siteplan.sheets.terminal import fitted_page

    told = vars(options)
    keys = ("points", "grid", "tin", "plat", "deed", "name", "crs", "unit", "elevation_unit", "order", "page")
    given = Given(features=tuple(options.features), **{key: told[key] for key in keys})
    begun = new_site(options.folder, given)
    print(new_as_json(begun) if options.json else fitted_page(new_as_text(begun, str(options.folder))))
    return 0
