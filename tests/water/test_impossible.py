"""Hydraulics that cannot be: one line that says what and how to mend, never NaN."""

from __future__ import annotations

import math

import pytest

from siteplan.books.pipes import pipe
from siteplan.water import capacity, curb, inflow, links, section, sizes, standing
from siteplan.water.hyetograph import Hyetograph
from siteplan.water.overflow import OverflowEntry, PitPump, shares_taken
from siteplan.water.rain import Rainfall, read_rain
from siteplan.water.run_flow import run_water
from siteplan.water.storm import run_storm
from siteplan.water.surface import SurfaceRun, hydraulic_grade_line

NAN, INF = math.nan, math.inf
RUN = SurfaceRun(id="a", into=None, length=20.0, invert_up=10.2, invert_down=10.0, bore=0.1, roughness=0.011)
RAIN = Rainfall(durations=None, intensities=(4e-5,), source="x")
PIT = {"rate": 0.003, "volume": 0.05, "reserve": 0.1, "inflow": 0.001}


def run_with(**changes):
    return SurfaceRun(
        **{
            "id": "a",
            "into": None,
            "length": 20.0,
            "invert_up": 10.2,
            "invert_down": 10.0,
            "bore": 0.1,
            "roughness": 0.011,
            **changes,
        }
    )


CASES = {
    "zero roughness": (
        lambda: capacity.full_flow(0.1, 0.01, 0.0),
        "roughness is 0 and must be above 0: give Manning n",
    ),
    "negative roughness": (lambda: run_water(0.001, 0.1, 0.01, -0.011), "roughness is -0.011"),
    "roughness no number": (lambda: run_water(0.001, 0.1, 0.01, NAN), "roughness is nan"),
    "zero bore": (lambda: capacity.full_flow(0.0, 0.01, 0.011), "bore is 0"),
    "infinite bore": (lambda: capacity.full_flow(INF, 0.01, 0.011), "bore is inf"),
    "zero grade": (lambda: capacity.full_flow(0.1, 0.0, 0.011), "a pipe without fall carries nothing by gravity"),
    "grade no number": (lambda: run_water(0.001, 0.1, NAN, 0.011), "grade is nan"),
    "infinite grade": (lambda: run_water(0.001, 0.1, INF, 0.011), "grade is inf"),
    "negative flow": (lambda: run_water(-0.001, 0.1, 0.01, 0.011), "flow is -0.001"),
    "flow no number": (lambda: capacity.normal_depth(NAN, 0.1, 0.01, 0.011), "flow is nan"),
    "fill above 1": (lambda: capacity.design_share(1.2, "depth"), "design fill is 1.2"),
    "depth above bore": (lambda: capacity.part_full(1.1), "depth over bore is 1.1"),
    "negative area": (lambda: inflow.runoff(-1.0, 1e-5), "area is -1 and must be 0 or above"),
    "area no number": (lambda: inflow.area_inflow("D", NAN, RAIN, 300.0), "area is nan"),
    "area known, rain unknown, area negative": (lambda: inflow.area_inflow("D", -4.0, None, 300.0), "area is -4"),
    "coefficient above 1": (lambda: inflow.runoff(1.0, 1e-5, 1.5), "runoff coefficient is 1.5"),
    "no duration": (lambda: read_rain(RAIN, 0.0), "rainfall duration is 0"),
    "negative rain": (
        lambda: Rainfall(durations=None, intensities=(-1e-5,), source="x"),
        "rainfall intensity is -1e-05",
    ),
    "no pump rate": (lambda: inflow.pump_inflow("S", 0.0), "pump rate is 0"),
    "negative depth": (lambda: section.flow_area(section.Circle(bore=0.1), -0.1), "depth is -0.1"),
    "channel with no area": (lambda: section.Trapezoid(bottom=0.0, side=0.0), "has no area"),
    "no length": (lambda: run_with(length=0.0), "length of run a is 0"),
    "run of no bore": (lambda: run_with(bore=-0.1), "bore of run a is -0.1"),
    "run of no roughness": (lambda: run_with(roughness=0.0), "roughness of run a is 0"),
    "invert no number": (lambda: run_with(invert_up=NAN), "upper invert of run a is nan"),
    "tail-water no number": (lambda: hydraulic_grade_line([RUN], {"a": 0.001}, NAN), "tail-water is nan"),
    "run without a flow": (lambda: hydraulic_grade_line([RUN], {}, None), "run a has no flow"),
    "run with a negative flow": (lambda: hydraulic_grade_line([RUN], {"a": -1e-3}, None), "flow of run a is -0.001"),
    "step of nothing": (lambda: hydraulic_grade_line([RUN], {"a": 1e-3}, None, step=0.0), "step is 0"),
    "tail-water above the rim": (
        lambda: shares_taken([RUN], [OverflowEntry(source="S", run="a", rim=10.4)], {"S": 0.001}, 10.4),
        "the water outside at 10.4 m stands at or above the rim of S",
    ),
    "rim below the pipe": (
        lambda: shares_taken([RUN], [OverflowEntry(source="S", run="a", rim=10.1)], {"S": 0.001}, None),
        "lies below the invert",
    ),
    "source on no run": (
        lambda: shares_taken([RUN], [OverflowEntry(source="S", run="z", rim=11.0)], {"S": 0.001}, None),
        "no run here",
    ),
    "source twice": (
        lambda: run_storm(
            [RUN],
            [OverflowEntry(source="S", run="a", rim=11.0)] * 2,
            Hyetograph(ends=(60.0,), intensities=(1e-5,), source="x"),
        ),
        "appears twice",
    ),
    "pit of nothing": (lambda: PitPump(**{**PIT, "volume": 0.0}), "pit volume is 0"),
    "pit more than full": (lambda: PitPump(**{**PIT, "start": 0.2}), "the pit begins with 0.2 m3 and holds 0.15"),
    "curb of no height": (lambda: curb.concrete_left(0.0, 0.1), "curb height is 0"),
    "hole that passes nothing": (
        lambda: curb.curb_holes(0.001, 0.0, wide=0.09, curb_length=1, between=0.1),
        "capacity of one hole is 0",
    ),
    "lid that does not lift": (lambda: links.popup_level(10.0, 0.1, 0.001, lid_lift=0.0), "lift of the lid is 0"),
    "leader more than full": (lambda: links.leader_flow(0.1, 1.2), "ring of water is 1.2"),
    "opening without elevation": (lambda: standing.Opening(name="DS1", run="a", rim=INF), "rim of DS1 is inf"),
    "size at no grade": (lambda: sizes.capacity_by(sizes.Basis(), pipe(), 0.0), "carries nothing by gravity"),
}


@pytest.mark.parametrize("name", CASES)
def test_it_is_said_in_one_line(name):
    call, words = CASES[name]
    with pytest.raises(ValueError) as caught:  # noqa: PT011 the words are compared below
        call()
    text = str(caught.value)
    assert words in text
    assert "\n" not in text
    assert ":" in text  # what is wrong: how to mend it
    assert len(text) < 220


def test_tail_water_above_the_pit_in_a_storm():
    full_pit = PitPump(**{**PIT, "start": 0.05})
    storm = Hyetograph(ends=(60.0,), intensities=(1e-5,), source="x")
    with pytest.raises(ValueError, match="stands at or above the rim of S"):
        run_storm([RUN], [OverflowEntry(source="S", run="a", rim=10.4, pump=full_pit)], storm, 11.0)
