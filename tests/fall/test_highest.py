"""The highest profile is the linear programme's, to 1e-6, feasible or not; spare means what it says."""

import numpy as np
import pytest

from siteplan.fall.band import Band, Profile, Shortfall, invert_at, pinned, worst_breach
from siteplan.fall.highest import highest_profile, spare


def test_highest_profile_digs_what_the_linear_programme_digs(lp_highest, random_band, plainly_legal):
    rng = np.random.default_rng(20)
    legal = short = 0
    for case in range(240):
        band = random_band(rng, int(rng.integers(3, 16)))
        grade = float(rng.choice([0.0, 0.005, 0.01, 0.02]))
        grade_max = None if case % 2 else grade + float(rng.choice([0.0, 0.01, 0.03, 0.1]))
        result = highest_profile(band, grade=grade, grade_max=grade_max)
        extra = rng.uniform(0, band.length, 4).tolist()
        if isinstance(result, Profile):
            extra += [s for s in result.station.tolist() if s not in band.station]
        area, slack = lp_highest(band, grade, grade_max, sorted(set(extra)))
        if isinstance(result, Shortfall):
            assert area is None
            assert result.missing == pytest.approx(slack, abs=1e-6)
            short += 1
        else:
            assert slack is None
            assert np.trapezoid(result.invert, result.station) == pytest.approx(area, abs=1e-6)
            assert plainly_legal(result, band, grade, grade_max) < 1e-8
            assert worst_breach(result, band, grade=grade, grade_max=grade_max) <= 1e-9
            legal += 1
    assert legal > 60
    assert short > 60


def test_the_profile_bends_between_samples_where_the_carried_height_meets_the_ceiling():
    band = Band(station=[0, 10, 20], ceiling=[5.0, 6.0, 5.5], floor=[0, 0, 0])
    profile = highest_profile(band, grade=0.01)
    # 5.5 at 20 carried down at 1 % meets the ceiling 5 + 0.1 s at 5.3 + 0.01 s = 5 + 0.1 s
    assert profile.station.tolist() == pytest.approx([0, 0.3 / 0.09, 10, 20])
    assert profile.invert.tolist() == pytest.approx([5, 5 + 0.3 / 0.9, 5.4, 5.5])


def test_a_greatest_grade_presses_the_profile_down_upstream_too():
    band = Band(station=[0, 10, 20], ceiling=[5.0, 6.0, 6.0], floor=[0, 0, 0])
    profile = highest_profile(band, grade=0.01, grade_max=0.02)
    assert invert_at(profile, [0, 10, 20]).tolist() == pytest.approx([5.0, 5.2, 5.4])


def test_a_jump_lets_the_line_drop_unless_a_greatest_grade_forbids():
    band = Band(station=[0, 10, 10, 20], ceiling=[5.0, 5.1, 6.0, 6.1], floor=[4.0, 4.0, 4.0, 4.0])
    dropping = highest_profile(band, grade=0.01)
    assert invert_at(dropping, [10]).tolist() == pytest.approx([5.1])
    assert invert_at(dropping, [10], side="upper").tolist() == pytest.approx([6.0])
    sloping = highest_profile(band, grade=0.01, grade_max=0.05)
    assert invert_at(sloping, [10, 20], side="upper").tolist() == pytest.approx([5.1, 5.6])


def test_at_a_jump_the_lower_ceiling_and_the_higher_floor_hold():
    band = Band(station=[0, 10, 10, 20], ceiling=[5.0, 5.0, 6.0, 6.0], floor=[4.0, 4.0, 5.2, 5.2])
    short = highest_profile(band, grade=0.0)
    assert isinstance(short, Shortfall)
    assert (short.missing, short.station, short.against) == (pytest.approx(0.2), 10.0, "depth")
    assert (short.binding, short.binding_station) == ("along", 10.0)


def test_shortfall_names_the_place_that_binds_and_the_place_that_breaks():
    band = Band(station=[0, 10, 20, 30], ceiling=[9, 9, 5.0, 9], floor=[4.9, 0, 0, 0])
    short = highest_profile(band, grade=0.01)
    assert (short.station, short.against) == (0.0, "outlet control")
    assert (short.binding_station, short.binding) == (20.0, "along")
    assert short.missing == pytest.approx(0.1)
    assert short.fall_available == pytest.approx(0.1)
    assert short.fall_needed == pytest.approx(0.2)
    start = highest_profile(Band(station=[0, 20], ceiling=[9, 5.0], floor=[4.9, 0]), grade=0.01)
    assert start.binding == "start"


def test_shortfall_where_the_greatest_grade_has_a_part_in_it():
    band = pinned(Band(station=[0, 10, 20], ceiling=[9, 9, 9], floor=[5, 5, 6.5]), 5.0)
    short = highest_profile(band, grade=0.01, grade_max=0.05)
    assert (short.station, short.binding) == (20.0, "outlet")
    assert short.missing == pytest.approx(0.5)
    assert short.fall_needed - short.fall_available == pytest.approx(0.5)


def test_spare_is_the_most_the_control_can_rise(random_band):
    rng = np.random.default_rng(3)
    seen = 0
    for case in range(150):
        band = random_band(rng, 9)
        grade_max = None if case % 2 else 0.06
        found = spare(band, grade=0.01, grade_max=grade_max)
        assert found.amount == pytest.approx(found.fall_available - found.fall_needed)
        if found.amount < 0:
            assert isinstance(highest_profile(band, grade=0.01, grade_max=grade_max), Shortfall)
            continue
        seen += 1
        for change, kind in ((found.amount - 1e-6, Profile), (found.amount + 1e-6, Shortfall)):
            floor = band.floor.copy()
            floor[0] += change
            raised = Band(station=band.station, ceiling=band.ceiling, floor=floor)
            assert isinstance(highest_profile(raised, grade=0.01, grade_max=grade_max), kind)
    assert seen > 40


def test_spare_of_a_pinned_end_is_what_arrives_above_it():
    band = Band(station=[0, 30], ceiling=[5.8, 5.9], floor=[5.0, 4.0])
    free, held = spare(band, grade=0.01), spare(pinned(band, 5.0), grade=0.01)
    assert free.amount == pytest.approx(0.6)
    assert held.amount == pytest.approx(0.6)
    assert held.binding == "start"
    low = spare(pinned(band, 5.7), grade=0.01)
    assert low.amount == pytest.approx(-0.1)


@pytest.mark.parametrize(("grade", "grade_max"), [(-0.01, None), (float("nan"), None), (0.02, 0.01)])
def test_grades_out_of_order_are_refused(grade, grade_max):
    band = Band(station=[0, 10], ceiling=[5, 5], floor=[4, 4])
    with pytest.raises(ValueError, match="least grade"):
        highest_profile(band, grade=grade, grade_max=grade_max)


@pytest.mark.parametrize(
    "station",
    [[0.0, 5.0, 4.0], [1.0, 5.0, 6.0], [0.0, 0.0, 0.0], [0.0, float("nan"), 6.0]],
)
def test_stations_out_of_order_are_refused(station):
    with pytest.raises(ValueError, match=r"ascend|finite"):
        Band(station=station, ceiling=[5, 5, 5], floor=[4, 4, 4])


def test_bands_cannot_be_changed():
    band = Band(station=[0, 10], ceiling=[5, 5], floor=[4, 4])
    with pytest.raises(ValueError, match="read-only"):
        band.ceiling[0] = 9
