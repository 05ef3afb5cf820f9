"""`siteplan screen --parcels F --elevation F --out DIR`: which of many lots could drain by gravity at all."""

from __future__ import annotations

import argparse
from pathlib import Path

from siteplan.cli.typed import day, typed_number

_MOST_WORKERS = 256


def declare(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument(
        "--parcels", type=Path, required=True, metavar="F", help="layer of lots (gpkg, shp, geojson, fgb)"
    )
    parser.add_argument(
        "--elevation",
        type=Path,
        required=True,
        metavar="F",
        help="GeoTIFF, a folder of tiles, or a .vrt that lists them",
    )
    parser.add_argument("--buildings", type=Path, metavar="F", help="layer of buildings; a house is assumed without it")
    parser.add_argument(
        "--streets", type=Path, metavar="F", help="layer of street lines; only the rear is looked at without it"
    )
    parser.add_argument(
        "--out",
        type=Path,
        required=True,
        metavar="DIR",
        help="folder to write; replaced only by a complete new one, and gone on with after a stop",
    )
    parser.add_argument("--name", metavar="FIELD", help="column of the parcels' names (name, where there is one)")
    parser.add_argument(
        "--elevation-unit", choices=("m", "ft", "us-ft"), help="of the heights, where the files do not say it"
    )
    parser.add_argument(
        "--accuracy",
        metavar="A",
        type=typed_number,
        help="one standard deviation of a height, in --accuracy-unit (0.30 ft: public lidar, a figure of practice)",
    )
    parser.add_argument("--accuracy-unit", choices=("ft", "m"), default="ft", help="unit of --accuracy (ft)")
    parser.add_argument(
        "--half-street",
        metavar="M",
        type=typed_number,
        help="metres from a street line to its gutter (4); 0: the lines are the gutters",
    )
    parser.add_argument(
        "--min-grade", metavar="PERCENT", type=typed_number, help="least grade in percent (the default rule's)"
    )
    parser.add_argument(
        "--workers", type=int, metavar="N", choices=range(_MOST_WORKERS + 1), help="processes (one a core); 0: this one"
    )
    parser.add_argument("--scheduler", metavar="ADDRESS", help="of a running Dask scheduler in their place")
    parser.add_argument("--date", metavar="YYYY-MM-DD", type=day, help="date to print")
    parser.add_argument("--json", action="store_true", help="print the counts for programs")


def run(options: argparse.Namespace) -> int:
    """Screen and report; 1 when a lot is short of fall, 3 after a fault of ours."""
    import json
    import sys

    from siteplan import units
    from siteplan.errors import InputError
    from siteplan.pool.processes import usual_workers
    from siteplan.screen.asked import HALF_STREET, PUBLIC_ELEVATION_FT, ScreenAsked
    from siteplan.screen.run import run_screen
    from siteplan.screen.text import screen_text

    accuracy = PUBLIC_ELEVATION_FT if options.accuracy is None else options.accuracy
    half = HALF_STREET if options.half_street is None else options.half_street
    for name, value, least in (("--accuracy", accuracy, 0.001), ("--half-street", half, 0.0)):
        if not least <= value <= 100:
            raise InputError(name, f"is {value:g}, expected {least:g} to 100", "Give the figure in its unit.")
    if options.scheduler is not None and options.workers is not None:
        raise InputError("--workers", "is given beside --scheduler", "Give one: the scheduler has workers of its own.")

    def whole(path: Path | None) -> str | None:
        return None if path is None else str(path.absolute())

    asked = ScreenAsked(
        parcels=str(options.parcels.absolute()),
        elevation=str(options.elevation.absolute()),
        buildings=whole(options.buildings),
        streets=whole(options.streets),
        name_field=options.name,
        elevation_unit=options.elevation_unit,
        accuracy=accuracy * units.LENGTH[options.accuracy_unit],
        half_street=half,
        min_grade=options.min_grade,
    )
    workers = usual_workers() if options.workers is None else options.workers
    try:
        done = run_screen(asked, options.out, workers=workers, scheduler=options.scheduler, stamp=options.date)
    except KeyboardInterrupt:
        print("siteplan: stopped; what is worked out is kept, and the same command goes on from there", file=sys.stderr)
        return 130
    if options.json:
        print(
            json.dumps(
                {"lots": done.counts, "judged": done.judged, "faults": done.faults, "notes": done.notes}, indent=2
            )
        )
    else:
        print(screen_text(done, str(options.out)))
    return done.code
