"""Stories S2 and S3 of the acceptance scenarios, their water, as a master answers them. Feet."""

from __future__ import annotations

import pytest

from siteplan.books.pipes import pipe
from siteplan.units import FOOT, GALLON_PER_MINUTE, RAIN
from siteplan.water.inflow import area_inflow, pump_inflow
from siteplan.water.rain import Rainfall
from siteplan.water.run_flow import run_water
from siteplan.water.standing import Blocked, Opening, blocked_outlet, standing_length
from siteplan.water.surface import SurfaceRun, hydraulic_grade_line

GPM = GALLON_PER_MINUTE
SEWER = pipe()


def line(start, end, length):
    return SurfaceRun(
        id="L",
        into=None,
        length=length * FOOT,
        invert_up=start * FOOT,
        invert_down=end * FOOT,
        bore=SEWER.bore,
        roughness=SEWER.roughness,
    )


def test_s2_the_roof_fits_the_line_to_the_easement():
    rain = Rainfall(durations=None, intensities=(6.2 * RAIN["in/h"],), source="the story")
    flow = area_inflow("DSE", 950 * FOOT**2, rain, 300.0).flow
    assert flow is not None
    assert flow / GPM == pytest.approx(61.2, abs=0.05)
    run = line(99.71, 98.73, 78.4)
    assert run.grade == pytest.approx(0.0125, abs=2e-5)
    water = run_water(flow, run.bore, run.grade, run.roughness)
    assert water.full is not None
    assert round(water.full / GPM) == 111
    assert water.depth is not None  # it passes part-full
    surface = hydraulic_grade_line([run], {"L": flow}, None)
    assert surface["L"].full_length == 0.0
    assert 101.20 * FOOT - surface["L"].points[-1].level > 1.2 * FOOT  # at the wall


def test_s2_a_full_swale_drowns_the_outlet_and_the_line_still_carries():
    surface = hydraulic_grade_line([line(99.71, 98.73, 78.4)], {"L": 61.2 * GPM}, 99.40 * FOOT)["L"]
    assert surface.points[0].regime == "full"
    assert surface.jump is not None
    assert surface.points[-1].level < 101.20 * FOOT


def test_s3_daylight_at_sixty_feet():
    rate = pump_inflow("SP", 42 * GPM).flow
    assert rate is not None
    run = line(98.25, 97.35, 60.0)
    assert run.grade == pytest.approx(0.015)
    water = run_water(rate, run.bore, run.grade, run.roughness)
    assert water.full is not None
    assert round(water.full / GPM) == 122
    assert water.depth is not None  # it passes part-full
    assert standing_length(run.length, run.invert_up, run.invert_down, 97.35 * FOOT) == 0.0
    frozen = blocked_outlet(
        [run], [Opening(name="air gap", run="L", rim=99.85 * FOOT, source="SP")], outlet="L", inflow=rate
    )
    assert isinstance(frozen, Blocked)
    assert frozen.first.source == "SP"  # it comes out at the wall, not in the pit
    assert frozen.filled_in is not None
    assert frozen.filled_in == pytest.approx(
        60 * FOOT * 3.14159265 / 4 * SEWER.bore**2 / rate, rel=1e-6
    )  # under a minute


def test_s3_the_new_popup_works_under_head_and_stands_full():
    run = line(98.26, 97.84, 42.0)
    rim = 99.00 * FOOT
    surface = hydraulic_grade_line([run], {"L": 42 * GPM}, rim)
    assert 0.7 * FOOT < 99.85 * FOOT - surface["L"].points[-1].level < 0.85 * FOOT  # at the air gap it "works"
    assert standing_length(run.length, run.invert_up, run.invert_down, rim) == pytest.approx(42 * FOOT)


def test_s5_corrugated_lowers_the_capacity():
    smooth = run_water(None, SEWER.bore, 0.01, 0.011).full
    rough = run_water(None, pipe("pe_corr_single", "4 in").bore, 0.01, 0.016).full
    assert smooth is not None
    assert rough is not None
    assert (round(smooth / GPM), round(rough / GPM)) == (99, 69)
