"""How fast the answer follows a hand.

What one move of a source or an outlet takes, beside one sweep of the reach over the same net.

    python benchmarks/drag.py [--side 200] [--moves 30]

The lot is a square of `side` ft on ground that falls to its street, with a house, four downspouts, an outlet in the
curb and one on the lot. What is asked is what the page asks while something moves; every answer is compared with one
for which nothing was kept from before.
"""

from __future__ import annotations

import argparse
import json
import statistics
import tempfile
import time
from pathlib import Path

from siteplan.table import answers as room
from siteplan.table.session import TableSession


def site_folder(folder: Path, side: float) -> Path:
    """The lot, its ground by shots on a lattice."""

    def feature(kind: str, name: str, shape: str, coordinates: object) -> dict[str, object]:
        return {
            "type": "Feature",
            "properties": {"kind": kind, "name": name},
            "geometry": {"type": shape, "coordinates": coordinates},
        }

    def ring(west: float, south: float, east: float, north: float) -> list[list[list[float]]]:
        return [[[west, south], [east, south], [east, north], [west, north], [west, south]]]

    a, b = 0.35 * side, 0.65 * side
    drawn = [
        feature("lot", "Lot", "Polygon", ring(0, 0, side, side)),
        feature("building", "House", "Polygon", ring(a, a, b, b)),
        *(
            feature("downspout", f"DS-{k}", "Point", list(p))
            for k, p in enumerate([(a - 1, a - 1), (b + 1, a - 1), (b + 1, b + 1), (a - 1, b + 1)], 1)
        ),
        feature("curb_outlet", "Curb", "Point", [side / 2, -8]),
        feature("daylight_outlet", "Lawn", "Point", [side / 2, 0.1 * side]),
    ]
    (folder / "features.geojson").write_text(json.dumps({"type": "FeatureCollection", "features": drawn}))
    rows = [
        (x, y, 100 + 0.03 * y + 0.2 * ((x // 20 + y // 20) % 2))
        for x in range(-20, int(side) + 21, 20)
        for y in range(-20, int(side) + 21, 20)
    ]
    (folder / "shots.csv").write_text(
        "point,northing,easting,elevation,description\n"
        + "".join(f"{k},{y},{x},{z:.3f},\n" for k, (x, y, z) in enumerate(rows, 1))
    )
    (folder / "site.toml").write_text(
        'name = "Square"\ncrs = "local"\nlength_unit = "ft"\nelevation_unit = "ft"\n[ground]\nshots = '
        '"shots.csv"\n[features]\nfiles = ["features.geojson"]\n'
    )
    return folder


def spares(told: dict[str, object]) -> list[object]:
    """Figures of an answer."""
    return [(one["source"], one["outlet"], one["spare"]) for one in told["pairs"]]


def measured(side: float, moves: int) -> dict[str, float]:
    """Processor time of one move by what moves [s], and of one sweep.

    Raises where an answer differs from one worked out whole.
    """
    with tempfile.TemporaryDirectory() as where:
        session = TableSession(site_folder(Path(where), side))
        asking = room.Answering(session)
        asking.answer({"quick": True})
        found: dict[str, float] = {}
        for kind, name, way in (
            ("downspout", "DS-3", (0.02, 0.3)),
            ("daylight_outlet", "Lawn", (0.4, 0.02)),
            ("curb_outlet", "Curb", (0.4, 0.0)),
        ):
            one = next(f for f in session.document()["features"] if f["properties"]["name"] == name)
            times = []
            for k in range(1, moves + 1):
                x, y = one["xy"][0]
                question = {
                    "quick": True,
                    "about": one["id"],
                    "moved": [{"id": one["id"], "xy": [[x + way[0] * k, y + way[1] * k]]}],
                }
                start = time.process_time()
                told = asking.answer(question)
                times.append(time.process_time() - start)
                if k % 5 == 0:
                    kept, room._scene_moved = room._scene_moved, lambda *_: None  # noqa: SLF001
                    whole = asking.answer(question)
                    room._scene_moved = kept  # noqa: SLF001
                    if spares(told) != spares(whole):
                        raise SystemExit(f"{kind}: {spares(told)} is not {spares(whole)}")
            found[kind] = statistics.median(times)
        from siteplan.yard.candidates import swept

        scene = asking._base[1]  # noqa: SLF001
        start = time.process_time()
        for _ in range(20):
            swept(scene.yard, scene.starts["S1"], scene.terms)
        found["sweep"] = (time.process_time() - start) / 20
        found["places"] = float(scene.yard.is_open.size)
        return found


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("--side", type=float, default=200.0)
    parser.add_argument("--moves", type=int, default=30)
    options = parser.parse_args()
    result = measured(options.side, options.moves)
    print(f"{result['places']:.0f} places of the net; one sweep {1000 * result['sweep']:.2f} ms")
    for what in ("downspout", "daylight_outlet", "curb_outlet"):
        print(f"{what:<16} {1000 * result[what]:7.1f} ms a move, {result[what] / result['sweep']:6.1f} sweeps")
