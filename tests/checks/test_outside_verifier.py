"""Whatever the independent verifier finds broken in a plan, the checks have reported: random plans, good and bad.

The verifier lives outside the repository; the test is skipped where it is not at hand.
"""

from __future__ import annotations

import importlib.util
import json
import random
from pathlib import Path

import numpy as np
import pytest
import shapely

from siteplan.books import rules
from siteplan.checks.judge import findings

VERIFIER = Path(__file__).parents[3] / "shared" / "check" / "verify_plan.py"
needs_verifier = pytest.mark.skipif(not VERIFIER.exists(), reason="the independent verifier is not at hand")


@pytest.fixture(scope="module")
def verify():
    spec = importlib.util.spec_from_file_location("outside_verifier", VERIFIER)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module.verify


def _site_folder(folder: Path, site, told) -> None:
    import rasterio
    from rasterio.transform import from_origin

    folder.mkdir()
    west, _, _, north = told["extent"]
    cell = site.grid.cell
    with rasterio.open(
        folder / "ground.tif",
        "w",
        driver="GTiff",
        width=site.grid.z.shape[1],
        height=site.grid.z.shape[0],
        count=1,
        dtype="float64",
        nodata=-9999.0,
        transform=from_origin(west - cell / 2, north + cell / 2, cell, cell),
        crs="EPSG:3857",
    ) as file:
        file.write(np.nan_to_num(site.grid.z, nan=-9999.0), 1)
    (folder / "site.toml").write_text(
        'name = "s"\ncrs = "local"\nlength_unit = "m"\nelevation_unit = "m"\n[ground]\ngrid = '
        '"ground.tif"\n[features]\nfiles = ["features.geojson"]\n'
    )
    features = [
        {
            "type": "Feature",
            "properties": {"kind": feature.kind},
            "geometry": json.loads(shapely.to_geojson(feature.geometry)),
        }
        for feature in site.features
    ]
    (folder / "features.geojson").write_text(json.dumps({"type": "FeatureCollection", "features": features}))


def _plan_json(plan, site, found) -> dict:
    limits = [(entry, *rules.outward(entry)) for entry in site.rules.values()]
    return {
        "format": "siteplan-plan",
        "version": 1,
        "site": {"crs": "local"},
        "rules": [{"id": entry.rule.id, "limit": limit, "unit": unit} for entry, limit, unit in limits],
        "sources": [{"id": source.id} for source in plan.sources],
        "outlets": [{"id": o.id, "kind": o.kind, "x": o.x, "y": o.y, "invert": o.invert} for o in plan.outlets],
        "lines": [
            {
                "id": line.id,
                "sources": list(line.sources),
                "from": line.start,
                "to": line.end,
                "pipe": {"od_m": line.pipe.od, "id_m": line.pipe.bore},
                "vertices": [{"x": v.x, "y": v.y, "station": v.station, "invert": v.invert} for v in line.vertices],
                "stations": [
                    {"station": r.station, "x": r.x, "y": r.y, "ground": r.ground, "invert": r.invert, "cover": r.cover}
                    for r in line.rows
                ],
                "crossings": [
                    {"kind": c.kind, "station_from": c.station_from, "station_to": c.station_to} for c in line.crossings
                ],
            }
            for line in plan.lines
        ],
        "checks": [{"rule": one.rule, "subject": one.subject, "status": one.status} for one in found],
    }


def _told(seed: int) -> dict:
    """A lot with a random ground and one random line, more often bad than good."""
    dice = random.Random(seed)
    knots = [[x, 9.6 + 0.02 * x + dice.uniform(-0.3, 0.3)] for x in range(-20, 81, 5)]
    more = [{"kind": "driveway", "name": "Drive", "box": [x, 0.0, x + 4.0, 40.0]} for x in [dice.uniform(12, 30)]]
    if dice.random() < 0.5:
        more.append({"kind": "no_dig", "name": "Field", "box": [dice.uniform(12, 30), 18.0, 31.0, 30.0]})
    if dice.random() < 0.5:
        more.append({"kind": "building", "name": "Shed", "box": [dice.uniform(12, 30), 20.2, 31.0, 30.0]})
    middle = [
        [x, dice.choice([20.0, 21.0, 28.0, 40.2, 41.0])]
        for x in sorted(dice.sample(range(12, 39), dice.choice([0, 1, 2])))
    ]
    path = [[10.0, 20.0], *middle, [40.0, 20.0]]
    line = {
        "id": "L1",
        "start": "S1",
        "end": "O1",
        "path": path,
        "grade": dice.choice([0.008, 0.01, 0.015, 0.02, 0.03]),
    }
    line["lift"] = dice.choice([0.0, 0.0, -0.02, -0.2])
    if dice.random() < 0.3:
        line["grade"] = dice.choice([-0.001, 0.0])
    return {
        "knots": knots,
        "more": more,
        "lines": [line] if dice.random() < 0.95 else [],
        "outlets": [
            {"id": "O1", "kind": dice.choice(["daylight_outlet", "curb_outlet"]), "name": "OUT", "at": [10.0, 20.0]}
        ],
        "boxes": [{"box": [20.0, 15.0, dice.uniform(20.0, 23.0), 25.0]}] if dice.random() < 0.3 else [],
    }


@needs_verifier
@pytest.mark.filterwarnings("ignore::PendingDeprecationWarning")  # of the raster library's own transforms
def test_what_the_verifier_finds_is_reported(scenes, verify, tmp_path):
    broken = 0
    for seed in range(40):
        told = _told(seed)
        plan, site = scenes.build(**told)
        found = findings(plan, site)
        folder = tmp_path / str(seed)
        _site_folder(folder, site, {**scenes.BASE, **told})
        (folder / "plan.json").write_text(json.dumps(_plan_json(plan, site, found)))
        errors, _ = verify(folder, folder / "plan.json")
        assert errors == [], (seed, errors)
        (folder / "plan.json").write_text(json.dumps(_plan_json(plan, site, ())))
        errors, _ = verify(folder, folder / "plan.json")
        broken += bool(errors)  # without the findings the same plans are refused: the test can fail
    assert broken > 30
