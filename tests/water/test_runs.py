from __future__ import annotations

import pytest

from siteplan.units import FOOT, GALLON_PER_MINUTE, INCH
from siteplan.water.capacity import full_flow
from siteplan.water.runs import run_water
from siteplan.water.section import Circle, flow_area

BORE, N = 3.975 * INCH, 0.011
GPM = GALLON_PER_MINUTE


def test_a_run_that_fits_says_both_limits():
    run = run_water("L1", 42 * GPM, BORE, 0.015, N)
    assert run.troubles == ()
    assert run.full / GPM == pytest.approx(
        121.6, abs=0.05
    )  # by hand: 1.486/0.011 0.08618 ft2 (0.08281 ft)^(2/3) 0.015^(1/2) = 0.2709 ft3/s
    assert run.design == pytest.approx(0.97747 * run.full, rel=1e-4)
    assert run.depth is not None
    assert run.velocity is not None
    assert run.velocity * flow_area(Circle(bore=BORE), run.depth) == pytest.approx(42 * GPM, rel=1e-9)
    assert 0.39 < run.depth / BORE < 0.42
    assert run.rapid is True


def test_between_design_fill_and_full_it_is_a_flag_and_above_full_a_fail():
    full = full_flow(BORE, 0.01, N)
    between = run_water("L1", 0.99 * full, BORE, 0.01, N)
    assert [(t.rule, t.status) for t in between.troubles] == [("run-capacity", "flag")]
    assert "design fill carries 97.0 gpm" in between.troubles[0].message
    above = run_water("L1", 1.05 * full, BORE, 0.01, N)
    assert [(t.rule, t.status) for t in above.troubles] == [("run-capacity", "fail")]
    assert above.depth is not None  # it may pass part-full, but nobody counts on it
    pressed = run_water("L1", 1.3 * full, BORE, 0.01, N)
    assert pressed.depth is None
    assert pressed.velocity == pytest.approx(1.3 * (pressed.velocity_full or 0))
    assert "Take a larger pipe" in pressed.troubles[0].message


def test_design_fill_of_flow_is_stricter():
    full = full_flow(BORE, 0.01, N)
    assert run_water("L1", 0.9 * full, BORE, 0.01, N).troubles == ()
    strict = run_water("L1", 0.9 * full, BORE, 0.01, N, fill=0.8, fill_of="flow")
    assert [t.status for t in strict.troubles] == ["flag"]


def test_corrugated_at_one_percent_does_not_clean_itself():
    run = run_water("L1", 10 * GPM, 4 * INCH, 0.01, 0.018)
    assert [t.rule for t in run.troubles] == ["self-cleaning"]
    assert "1.61 %" in run.troubles[0].message
    assert run_water("L1", 10 * GPM, 4 * INCH, 0.0162, 0.018).troubles == ()


def test_no_fall_is_a_result_not_an_error():
    for grade in (0.0, -0.01):
        run = run_water("L1", 1 * GPM, BORE, grade, N)
        assert run.full is None
        assert run.depth is None
        assert [(t.rule, t.status) for t in run.troubles] == [("continuous-fall", "fail")]
        assert "Lower its outlet end" in run.troubles[0].message


def test_unknown_flow_leaves_the_capacity_known():
    run = run_water("L1", None, BORE, 0.01, N)
    assert run.full is not None
    assert run.depth is None
    assert run.troubles == ()


def test_messages_speak_the_users_unit():
    feet = run_water("L1", 0.02, BORE, 0.01, N).troubles[0].message
    metres = run_water("L1", 0.02, BORE, 0.01, N, unit="m").troubles[0].message
    assert "gpm" in feet
    assert "L/s" in metres
    assert "gpm" not in metres
    fast = run_water("L1", 0.06, 0.2, 0.20, N)
    assert [t.rule for t in fast.troubles] == ["top-velocity"]
    assert fast.velocity is not None
    assert fast.velocity > 15 * FOOT
