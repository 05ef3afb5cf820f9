"""A sump that pumps its own water: two pop-ups that send it back or stand full, and the daylight outlet that does not.

The story, its points and its figures are invented; the answers were worked by hand. Feet and gallons a minute.
"""

from __future__ import annotations

import json
import math

import numpy as np
import pytest

from siteplan.plan import plan_site
from siteplan.sheets.plan_json import plan_json
from siteplan.units import FOOT, GALLON_PER_MINUTE

PROFILE = (
    (4990, 98.95),
    (5000, 99.00),
    (5040, 99.70),
    (5078, 99.60),
    (5084, 99.72),
    (5088, 99.65),
    (5098, 99.45),
    (5108, 99.25),
    (5120, 99.00),
    (5128, 98.60),
    (5138, 97.30),
    (5152, 96.60),
    (5162, 96.40),
)  # northing and ground, the same for every easting
EXISTING = {"name": "Existing pop-up", "at": 5084, "invert": 98.15, "rim": 99.72}
NEW = {"name": "New pop-up", "at": 5120, "invert": 97.80, "rim": 99.00}
DAYLIGHT = {"name": "Bank", "at": 5138, "invert": 97.35}
PIT = {"pit_diameter": 1.5, "pit_rise": 8 / 12, "pit_depth": 2.0, "refill_s": 130}


@pytest.fixture
def site(tmp_path):
    def make(outlet, **more):
        return _folder(tmp_path / "lot", outlet, {"pump_rate": 42, "rim": 99.85, **PIT, **more})

    return make


def _folder(folder, outlet, sump):
    import rasterio
    from affine import Affine

    folder.mkdir()
    north, east = np.arange(5160.0, 4992.0, -1.0), np.arange(1992.0, 2084.0)
    at, up = np.array(PROFILE, float).T
    z = np.repeat(np.interp(north, at, up)[:, None], len(east), axis=1)
    with rasterio.open(
        folder / "ground.tif",
        "w",
        driver="GTiff",
        height=len(north),
        width=len(east),
        count=1,
        dtype="float64",
        transform=Affine(1, 0, east[0] - 0.5, 0, -1, north[0] + 0.5),
    ) as file:
        file.write(z, 1)

    def box(south, west, up_north, right):
        ring = [[west, south], [right, south], [right, up_north], [west, up_north], [west, south]]
        return {"type": "Polygon", "coordinates": [ring]}

    def entry(kind, name, geometry, **told):
        return {"type": "Feature", "properties": {"kind": kind, "name": name, **told}, "geometry": geometry}

    told = {key: value for key, value in outlet.items() if key not in {"name", "at"}}
    features = [
        entry("lot", "Lot", box(5000, 2000, 5152, 2075)),
        entry("building", "House", box(5040, 2012, 5077.9, 2060)),
        entry("sump", "Sump", {"type": "Point", "coordinates": [2030, 5078]}, **sump),
        entry("daylight_outlet", outlet["name"], {"type": "Point", "coordinates": [2030, outlet["at"]]}, **told),
    ]
    (folder / "features.geojson").write_text(json.dumps({"type": "FeatureCollection", "features": features}))
    (folder / "site.toml").write_text(
        "name = 'The sump that pumps itself'\ncrs = 'local'\nlength_unit = 'ft'\nelevation_unit = 'ft'\n"
        "[ground]\ngrid = 'ground.tif'\naccuracy = 0.01\n[features]\nfiles = ['features.geojson']\n"
        # the story looks at cover at its points alone; between them it is an inch less just past 15 ft from the bank
        "[rules]\noutlet_zone_ft = 18\n"
    )
    return folder


def found(plan, rule, status):
    return [one for one in plan.findings if one.rule == rule and one.status == status]


def test_the_existing_popup_sends_the_water_back(site):
    plan, _ = plan_site(site(EXISTING))
    assert plan.lines
    assert found(plan, "sump-outlet-foundation", "fail")[0].value == pytest.approx(6 * FOOT, abs=0.06)
    back = found(plan, "sump-way-back", "fail")[0]
    assert "foundation" in back.message
    assert found(plan, "overflow-path", "fail")
    rises = found(plan, "wall-fall", "flag")[0]
    assert rises.value == pytest.approx(-0.12 * FOOT, abs=0.01 * FOOT)  # 0.12 ft up in 6 ft
    assert {met.kind for met in plan.water.paths[0].meets[:2]} == {"own sump", "foundation"}
    assert found(plan, "air-gap", "pass")


def test_a_farther_popup_works_under_head_and_stands_full(site):
    plan, _ = plan_site(site(NEW))
    line, water = plan.lines[0], plan.water.lines[0]
    assert line.length == pytest.approx(42 * FOOT, abs=0.1 * FOOT)
    stands = found(plan, "standing-water", "flag")[0]
    assert stands.value == pytest.approx(line.length, abs=0.01)
    assert water.standing == pytest.approx(line.length, abs=0.01)
    assert 0.72 * FOOT < (99.00 * FOOT - line.vertices[-1].invert) < 0.80 * FOOT  # 0.74 over the highest possible
    clear = found(plan, "tail-water", "pass")[0]
    assert 0.6 * FOOT < clear.value < 0.85 * FOOT  # "works"
    assert water.levels[0][1] > 99.00 * FOOT
    assert water.weakest is not None
    assert [link.kind for link in water.links if link.tail_water] == ["pop-up"]
    assert not found(plan, "sump-way-back", "fail")


def test_daylight_at_sixty_feet(site):
    plan, surveyed = plan_site(site(DAYLIGHT))
    line, water = plan.lines[0], plan.water.lines[0]
    assert line.length == pytest.approx(60 * FOOT, abs=0.1 * FOOT)
    assert line.vertices[0].invert == pytest.approx(97.35 * FOOT, abs=0.002)
    assert line.vertices[-1].invert <= 98.265 * FOOT
    assert water.flow / GALLON_PER_MINUTE == pytest.approx(42, abs=0.001)
    for rule in (
        "pump-fits",
        "sump-way-back",
        "standing-water",
        "air-gap",
        "sump-outlet-foundation",
        "outlet-lot-line",
        "run-capacity",
    ):
        assert found(plan, rule, "pass"), rule
    assert "Regrade" in found(plan, "wall-fall", "flag")[0].message
    assert found(plan, "outlet-lot-line", "pass")[0].value == pytest.approx(14 * FOOT, abs=0.1 * FOOT)
    frozen = plan.water.blocked[0]
    assert frozen.level == pytest.approx(99.85 * FOOT)  # at the open gap, not in the pit
    assert frozen.filled_in < 60
    plan_json(plan, surveyed)


def test_the_pump_cycles_as_the_owner_saw(site):
    plan, _ = plan_site(site(DAYLIGHT))
    storm = plan.water.storm
    volume = math.pi / 4 * (1.5 * FOOT) ** 2 * (8 / 12 * FOOT)
    rate = 42 * GALLON_PER_MINUTE
    cycle = 130 + volume / (rate - volume / 130)
    assert storm.sources[0].starts == math.ceil((storm.duration - 130) / cycle)
    assert storm.inflow == pytest.approx(volume / 130 * storm.duration)
    assert abs(storm.inflow - storm.outflow - storm.stored) <= 1e-9 * storm.inflow
    assert storm.overflow == storm.flooded == 0.0
    # 4 V / Q is 50 s: at half its rate of inflow it would start more often than once a minute
    assert found(plan, "pump-cycle", "flag")[0].value == pytest.approx(4 * volume / rate)


def test_without_an_open_gap_the_plan_says_so(site):
    plan, _ = plan_site(site(DAYLIGHT, rim=None))
    assert "no rim" in found(plan, "air-gap", "flag")[0].message
    assert "no known way out" in found(plan, "overflow-path", "fail")[0].message
    assert plan.water.blocked[0].level is None


def test_a_pump_larger_than_the_pipe_takes_a_larger_pipe(site):
    plan, surveyed = plan_site(site(DAYLIGHT, pump_rate=150))
    assert plan.lines[0].pipe.nominal == "6 in" or any(
        "Sump alone pumps 150.0 gpm" in one.message for one in found(plan, "run-capacity", "fail")
    )
    assert b"NaN" not in plan_json(plan, surveyed)


def test_a_pump_that_no_pipe_carries_is_a_finding(site):
    folder = site(DAYLIGHT, pump_rate=9000)
    written = (folder / "site.toml").read_text(encoding="utf-8")
    (folder / "site.toml").write_text(f'confirm = ["Sump, pump_rate"]\n{written}', encoding="utf-8")
    plan, surveyed = plan_site(folder)
    (told,) = found(plan, "run-capacity", "fail")
    assert "no size of this kind takes it" in told.message
    assert "Sump alone pumps" in told.message
    assert not found(plan, "size-fits", "fail")
    assert b"NaN" not in plan_json(plan, surveyed)
