"""A house with lawn all round.

A line flagged for lying in loose fill that the plan could have kept out of is the plan's own doing.
"""

from __future__ import annotations

import json
import math

import pytest
import shapely

from siteplan.cli.main import main

LOT = [(-20, -20), (60, -20), (60, 50), (-20, 50)]
HOUSE = [(10, 8), (22, 8), (22, 20), (10, 20)]
RING = shapely.Polygon(HOUSE).buffer(10 * 0.3048, quad_segs=64)


@pytest.mark.parametrize("spout", [(9.7, 20.3), (9.7, 7.7), (16, 20.3)], ids=["far corner", "near corner", "rear wall"])
def test_a_line_keeps_out_of_it_where_there_is_room(site, sites, tmp_path, spout):
    features = [
        sites.feature("lot", LOT, "Lot"),
        sites.feature("building", HOUSE, "House"),
        sites.feature("downspout", spout, "DS-1", roof_area=72),
        sites.feature("curb_outlet", (50, 5), "BOX", invert=26.7),
    ]
    folder = site(
        features=features,
        heights=lambda x, y: 30.0 - 0.05 * x + 0.01 * y,
        bounds=(-30, -30, 70, 60),
        shape=(180, 200),
    )
    main(["plan", str(folder), "--out", str(tmp_path / "plan")])
    plan = json.loads((tmp_path / "plan" / "plan.json").read_text(encoding="utf-8"))
    (line,) = plan["lines"]
    (told,) = [check for check in plan["checks"] if check["rule"] == "foundation-backfill"]
    inside = (
        shapely.LineString([(v["x"], v["y"]) for v in line["vertices"]]).intersection(_in_frame(plan, spout)).length
    )
    straight = 10 * 0.3048 - math.dist(
        spout,
        shapely.Polygon(HOUSE)
        .exterior.interpolate(shapely.Polygon(HOUSE).exterior.project(shapely.Point(spout)))
        .coords[0],
    )
    assert inside < 1.5 * straight
    assert told["status"] == "pass"


def _in_frame(plan, spout):
    """The ring of loose fill in the plan's own frame, in which the source stands at the same place."""
    (source,) = plan["sources"]
    return shapely.affinity.translate(RING, source["x"] - spout[0], source["y"] - spout[1])
