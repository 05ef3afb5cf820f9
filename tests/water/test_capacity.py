from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from siteplan.units import GALLON_PER_MINUTE, INCH
from siteplan.water.capacity import (
    depth_ratios,
    design_share,
    full_flow,
    full_friction_slope,
    greatest_flow,
    normal_depth,
    part_full,
)

BORE = 3.975 * INCH


@settings(max_examples=60, derandomize=True, deadline=None)
@given(st.floats(1e-6, 1.0757))
def test_the_lower_of_two_depths_carries_the_flow(ratio):
    lower, upper = depth_ratios(ratio)
    assert lower is not None
    assert lower <= greatest_flow()[0]
    assert part_full(lower).flow == pytest.approx(ratio, rel=1e-9)
    if ratio < 1:
        assert upper is None
    else:
        assert upper is not None
        assert lower <= upper <= 1.0
        assert part_full(upper).flow == pytest.approx(ratio, rel=1e-9)


def test_more_than_the_greatest_flow_has_no_depth():
    assert depth_ratios(1.0758) == (None, None)
    assert depth_ratios(0.0) == (0.0, None)
    full = full_flow(BORE, 0.01, 0.011)
    assert normal_depth(1.08 * full, BORE, 0.01, 0.011) is None
    assert normal_depth(0.0, BORE, 0.01, 0.011) == 0.0


def test_eighty_percent_is_two_different_things():
    assert design_share(0.80, "depth") == pytest.approx(0.9775, abs=5e-5)
    assert design_share(0.80, "flow") == 0.80
    lower, _ = depth_ratios(0.80)
    assert lower == pytest.approx(0.68, abs=0.005)
    assert design_share(0.95, "depth") == 1.0  # would carry more than full; nobody counts on it
    with pytest.raises(ValueError, match="say 'depth'"):
        design_share(0.8, "area")  # type: ignore[arg-type]


@settings(max_examples=40, derandomize=True, deadline=None)
@given(st.floats(0.05, 0.5), st.floats(1e-4, 0.2), st.floats(0.008, 0.03))
def test_capacity_laws(bore, grade, n):
    flow = full_flow(bore, grade, n)
    assert full_flow(bore, 4 * grade, n) == pytest.approx(2 * flow)
    assert full_flow(bore, grade, 2 * n) == pytest.approx(flow / 2)
    assert full_flow(8 * bore, grade, n) == pytest.approx(2**8 * flow)
    assert full_friction_slope(1.4 * flow, bore, n) == pytest.approx(1.96 * grade)


def test_rising_depth_up_to_the_crest_and_falling_after():
    flows = [part_full(place / 1000).flow for place in range(1001)]
    crest = flows.index(max(flows))
    assert crest == 938
    assert flows[: crest + 1] == sorted(flows[: crest + 1])
    assert flows[crest:] == sorted(flows[crest:], reverse=True)
    assert flows[1000] == pytest.approx(1.0)


def test_story_s3_and_practice_on_one_line():
    at = {grade: full_flow(BORE, grade, 0.011) / GALLON_PER_MINUTE for grade in (0.01, 0.0125, 0.015)}
    assert [round(at[grade]) for grade in (0.01, 0.0125, 0.015)] == [99, 111, 122]
    assert math.isclose(at[0.0125] / at[0.01], math.sqrt(1.25))
