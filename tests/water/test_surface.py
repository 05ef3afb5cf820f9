from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from siteplan.units import GALLON_PER_MINUTE, INCH
from siteplan.water.capacity import full_flow, normal_depth, pressure_velocity_head
from siteplan.water.section import GRAVITY, Circle, critical_depth, first_moment, flow_area, top_width
from siteplan.water.steps import bend_loss, wye_loss
from siteplan.water.surface import SurfaceRun, hydraulic_grade_line

GPM = GALLON_PER_MINUTE
BORE, N = 3.975 * INCH, 0.011
PIPE = Circle(bore=BORE)


def line(grade, length=24.0, **more):
    return SurfaceRun(
        **{
            "id": "a",
            "into": None,
            "length": length,
            "invert_up": 10 + grade * length,
            "invert_down": 10.0,
            "bore": BORE,
            "roughness": N,
            **more,
        }
    )


def gradient(flow, grade, depth):
    """Slope of depth going upstream in a part-full circle, by its own arithmetic."""
    angle = 2 * math.acos(1 - 2 * depth / BORE)
    area, wet, width = BORE**2 / 8 * (angle - math.sin(angle)), BORE * angle / 2, BORE * math.sin(angle / 2)
    friction = (flow * N) ** 2 * wet ** (4 / 3) / area ** (10 / 3)
    return -(grade - friction) / (1 - flow**2 * width / (GRAVITY * area**3))


def runge_kutta(flow, grade, depth, length, count):
    h = length / count
    for _ in range(count):
        k1 = gradient(flow, grade, depth)
        k2 = gradient(flow, grade, depth + h / 2 * k1)
        k3 = gradient(flow, grade, depth + h / 2 * k2)
        k4 = gradient(flow, grade, depth + h * k3)
        depth += h / 6 * (k1 + 2 * k2 + 2 * k3 + k4)
    return depth


@pytest.mark.parametrize(
    ("grade", "gpm", "start"), [(0.003, 30, 0.095), (0.003, 30, 0.080), (0.006, 45, 0.098), (0.0, 15, 0.070)]
)
def test_backwater_in_a_pipe_against_fine_integration(grade, gpm, start):
    """Standard steps of 0.25 m against Runge-Kutta steps of 1 mm, over 8 m."""
    flow, length = gpm * GPM, 8.0
    surface = hydraulic_grade_line([line(grade, length)], {"a": flow}, 10 + start)["a"]
    assert surface.points[0].depth == pytest.approx(start)
    assert surface.points[-1].depth == pytest.approx(runge_kutta(flow, grade, start, length, 8000), abs=2e-4)
    assert surface.points[-1].regime == "slow"


def test_shorter_steps_close_in_on_the_fine_integration():
    flow, exact = 30 * GPM, runge_kutta(30 * GPM, 0.003, 0.095, 8.0, 8000)
    errors = [
        abs(hydraulic_grade_line([line(0.003, 8.0)], {"a": flow}, 10.095, step=step)["a"].points[-1].depth - exact)
        for step in (2.0, 1.0, 0.5)
    ]
    assert errors[0] > 3 * errors[1] > 9 * errors[2]


def test_steep_free_line_runs_rapid_at_normal_depth():
    flow = 50 * GPM
    surface = hydraulic_grade_line([line(0.0125)], {"a": flow}, None)["a"]
    assert {point.regime for point in surface.points} == {"rapid"}
    assert surface.points[0].depth == pytest.approx(normal_depth(flow, BORE, 0.0125, N) or 0, abs=1e-5)
    assert surface.points[-1].depth == pytest.approx(critical_depth(PIPE, flow))
    assert surface.jump is None
    assert surface.full_length == 0.0


def test_mild_free_line_runs_at_normal_depth_from_the_start():
    flow = 30 * GPM
    even = normal_depth(flow, BORE, 0.003, N)
    assert even is not None
    assert even > critical_depth(PIPE, flow)
    surface = hydraulic_grade_line([line(0.003)], {"a": flow}, None)["a"]
    assert {round(point.depth - even, 6) for point in surface.points} == {0.0}
    assert {point.regime for point in surface.points} == {"slow"}


def test_drowned_steep_line_has_a_jump_where_the_forces_meet():
    flow = 50 * GPM
    surface = hydraulic_grade_line([line(0.0125)], {"a": flow}, 10.2, step=0.05)["a"]
    assert surface.jump is not None
    place = next(k for k, point in enumerate(surface.points) if point.station == surface.jump)
    below, above = surface.points[place - 1], surface.points[place]
    assert (below.regime, above.regime) == ("slow", "rapid")

    def force(depth):
        return flow**2 / (GRAVITY * flow_area(PIPE, min(depth, BORE))) + first_moment(PIPE, depth)

    assert force(below.depth) == pytest.approx(force(above.depth), rel=0.02)
    assert below.energy < above.energy + 0.05 * 0.0125
    assert above.depth == pytest.approx(normal_depth(flow, BORE, 0.0125, N) or 0, abs=2e-4)
    assert 0 < surface.full_length < surface.jump


def test_surcharge_builds_at_s_times_the_ratio_squared_and_bends_cost_heads():
    flow = 1.3 * full_flow(BORE, 0.01, N)
    plain = hydraulic_grade_line([line(0.01)], {"a": flow}, None)["a"]
    assert plain.points[-1].level - plain.points[-1].crown == pytest.approx(24 * 0.01 * 0.69, rel=1e-9)
    assert plain.full_length == pytest.approx(24.0)
    half = [
        line(0.01, 12.0),
        SurfaceRun(
            id="b",
            into="a",
            length=12.0,
            invert_up=10.24,
            invert_down=10.12,
            bore=BORE,
            roughness=N,
            loss=bend_loss(90.0),
        ),
    ]
    bent = hydraulic_grade_line(half, {"a": flow, "b": flow}, None)["b"]
    assert bent.points[-1].level - plain.points[-1].level == pytest.approx(
        bend_loss(90.0) * pressure_velocity_head(flow, BORE), rel=1e-9
    )
    end = hydraulic_grade_line([line(0.01, loss=2.0)], {"a": flow}, 11.0)["a"].points[0]
    assert end.level - 11.0 == pytest.approx(2.0 * pressure_velocity_head(flow, BORE), rel=1e-9)


def test_losses_of_fittings():
    assert bend_loss(45.0, sharp=True) == pytest.approx(0.3)
    assert bend_loss(90.0, sharp=True) == pytest.approx(0.9)
    assert bend_loss(0.0) == bend_loss(0.0, sharp=True) == 0.0
    assert wye_loss() == 0.5
    assert wye_loss(90.0) == wye_loss(120.0) == 1.0


def test_a_tree_shares_its_trunk():
    runs = [
        line(0.01, 12.0),
        SurfaceRun(id="b", into="a", length=10.0, invert_up=10.3, invert_down=10.12, bore=BORE, roughness=N, loss=0.5),
        SurfaceRun(id="c", into="a", length=10.0, invert_up=10.25, invert_down=10.12, bore=BORE, roughness=N),
    ]
    flows = {"a": 130 * GPM, "b": 90 * GPM, "c": 40 * GPM}
    surface = hydraulic_grade_line(runs, flows, None)
    assert list(surface) == ["a", "b", "c"]
    assert surface["b"].points[0].station == pytest.approx(12.0)
    trunk = surface["a"].points[-1]
    for name, loss in (("b", 0.5), ("c", 0.0)):
        foot = surface[name].points[0]
        head = foot.velocity**2 / (2 * GRAVITY)
        assert foot.energy == pytest.approx(trunk.energy + loss * head, rel=1e-9)
    alone = hydraulic_grade_line(runs, {"a": 40 * GPM, "b": 0.0, "c": 40 * GPM}, None)
    assert alone["c"].points[-1].level < surface["c"].points[-1].level
    assert alone["b"].points[-1].regime == "dry"


def test_still_water_is_level():
    surface = hydraulic_grade_line([line(0.01)], {"a": 0.0}, 10.15)["a"]
    levels = {round(point.level, 9) for point in surface.points if point.depth > 0}
    assert levels == {10.15}
    assert surface.points[0].regime == "full"
    assert surface.points[-1].regime == "dry"


def test_a_level_or_rising_pipe_still_has_a_water_surface():
    for grade in (0.0, -0.005):
        surface = hydraulic_grade_line([line(grade)], {"a": 30 * GPM}, None)["a"]
        assert all(math.isfinite(point.level) for point in surface.points)
        assert surface.points[0].depth == pytest.approx(critical_depth(PIPE, 30 * GPM))
        assert surface.points[-1].level > surface.points[0].level


@settings(max_examples=40, derandomize=True, deadline=None)
@given(st.floats(0.0005, 0.03), st.floats(0.0, 0.015), st.floats(9.9, 10.5), st.floats(0, 0.005))
def test_law_more_flow_never_lowers_the_energy_nor_water_outside_the_level(grade, flow, outside, more):
    runs = [line(grade, 6.0)]
    low = hydraulic_grade_line(runs, {"a": flow}, outside)["a"]
    high = hydraulic_grade_line(runs, {"a": flow + more}, outside)["a"]
    raised = hydraulic_grade_line(runs, {"a": flow}, outside + 0.1)["a"]
    for before, pushed, lifted in zip(low.points, high.points, raised.points, strict=True):
        assert pushed.energy >= before.energy - 2e-4  # its level may fall: more water sweeps a jump out
        assert lifted.level >= before.level - 2e-4
    for point in low.points:
        assert math.isfinite(point.energy)
        assert point.level >= point.invert
    for below, above in zip(low.points, low.points[1:], strict=False):
        assert above.energy >= below.energy - 1e-6  # water never gains energy on its way down
    assert top_width(PIPE, BORE / 2) == pytest.approx(BORE)
