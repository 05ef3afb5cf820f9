"""Laws of inverts along a line, on bands nobody chose."""

import numpy as np
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from siteplan import units
from siteplan.fall.band import Band, Profile, Shortfall, digging, invert_at
from siteplan.fall.grades import few_grades
from siteplan.fall.highest import highest_profile, spare
from siteplan.fall.tree import settle

LAW = settings(max_examples=60, derandomize=True, deadline=None, database=None)
STEP = units.to_metres(0.01, "ft")

heights = st.floats(-0.15, 0.15).map(lambda x: round(x, 3))
grades = st.sampled_from([0.0, 0.005, 0.01, 0.02])
steepest = st.sampled_from([None, 0.03, 0.1])


@st.composite
def bands(draw):
    """Ground of any roughness, jumps where two samples share a station, a control anywhere near the floor."""
    steps = draw(st.lists(st.sampled_from([0.0, 0.5, 1.0, 2.5, 6.0]), min_size=1, max_size=9))
    assume(sum(steps) > 0)
    station = np.concatenate(([0.0], np.cumsum(steps)))
    slope = draw(st.sampled_from([-0.005, 0.005, 0.02, 0.05]))
    ceiling = 30 + slope * station + np.array([draw(heights) for _ in station])
    floor = ceiling - draw(st.sampled_from([0.02, 0.2, 0.6])) - np.array([abs(draw(heights)) for _ in station])
    floor[0] = ceiling[0] - draw(st.sampled_from([0.0, 0.05, 0.3]))
    return Band(station=station, ceiling=ceiling, floor=floor)


def dense(band):
    """Stations inside every interval, and there ceiling and floor by plain arithmetic."""
    part = np.array([1e-6, 0.2, 0.5, 0.8, 1 - 1e-6])
    at, top, low = [], [], []
    for k in range(band.station.size - 1):
        width = band.station[k + 1] - band.station[k]
        if width > 0:
            at.append(band.station[k] + width * part)
            top.append(band.ceiling[k] + (band.ceiling[k + 1] - band.ceiling[k]) * part)
            low.append(band.floor[k] + (band.floor[k + 1] - band.floor[k]) * part)
    return np.concatenate(at), np.concatenate(top), np.concatenate(low)


def shifted(band, ceiling=0.0, floor=0.0):
    return Band(station=band.station, ceiling=band.ceiling + ceiling, floor=band.floor + floor)


def amount(band, grade, grade_max):
    return spare(band, grade=grade, grade_max=None if grade_max is None else max(grade_max, grade)).amount


@LAW
@given(bands(), grades, steepest)
def test_inverts_lie_in_the_band_everywhere_and_never_fall_upstream(band, grade, grade_max):
    for profile in (
        highest_profile(band, grade=grade, grade_max=grade_max),
        few_grades(band, grade=grade, grade_max=grade_max, breaks=band.station),
    ):
        if isinstance(profile, Shortfall):
            continue
        at, top, low = dense(band)
        invert = invert_at(profile, at)
        assert (invert <= top + 1e-8).all()
        assert (invert >= low - 1e-8).all()
        assert (np.diff(invert) >= grade * np.diff(at) - 1e-9).all()
        if grade_max is not None:
            assert (np.diff(invert) <= grade_max * np.diff(at) + 1e-9).all()


@LAW
@given(bands(), grades, grades, steepest)
def test_a_stricter_grade_never_makes_a_line_possible(band, one, other, grade_max):
    easy, strict = sorted((one, other))
    if isinstance(highest_profile(band, grade=strict, grade_max=grade_max), Profile):
        assert isinstance(highest_profile(band, grade=easy, grade_max=grade_max), Profile)
    assert amount(band, strict, grade_max) <= amount(band, easy, grade_max) + 1e-9


@LAW
@given(bands(), grades, steepest)
def test_a_smaller_greatest_grade_never_makes_a_line_possible_nor_higher(band, grade, grade_max):
    assume(grade_max is not None)
    free, held = highest_profile(band, grade=grade), highest_profile(band, grade=grade, grade_max=grade_max)
    if isinstance(held, Profile):
        assert isinstance(free, Profile)
        at, _, _ = dense(band)
        assert (invert_at(held, at) <= invert_at(free, at) + 1e-9).all()


@LAW
@given(bands(), grades, steepest, st.lists(st.floats(0, 0.3), min_size=10, max_size=10))
def test_a_higher_ceiling_never_lowers_the_spare(band, grade, grade_max, rises):
    raised = Band(station=band.station, ceiling=band.ceiling + rises[: band.station.size], floor=band.floor)
    assert amount(raised, grade, grade_max) >= amount(band, grade, grade_max) - 1e-9


@LAW
@given(bands(), grades, steepest, st.sampled_from([-200.0, 0.37, 2500.0]))
def test_another_datum_changes_nothing_but_the_datum(band, grade, grade_max, datum):
    moved = shifted(band, datum, datum)
    assert abs(amount(moved, grade, grade_max) - amount(band, grade, grade_max)) < 1e-9
    here = few_grades(band, grade=grade, grade_max=grade_max, breaks=band.station)
    there = few_grades(moved, grade=grade, grade_max=grade_max, breaks=band.station)
    if isinstance(here, Profile) and isinstance(there, Profile) and here.runs == there.runs:
        dug = [digging(p, b.station, b.ceiling) for p, b in ((here, band), (there, moved))]
        assert abs(dug[0] - dug[1]) < 1e-6


@LAW
@given(bands(), grades, steepest)
def test_the_same_asked_twice_is_the_same_to_the_last_bit(band, grade, grade_max):
    one, two = (few_grades(band, grade=grade, grade_max=grade_max, breaks=band.station) for _ in range(2))
    if isinstance(one, Profile):
        assert one.station.tobytes() == two.station.tobytes()
        assert one.invert.tobytes() == two.invert.tobytes()
    else:
        assert one == two


@LAW
@given(bands(), bands(), steepest, st.floats(0, 1))
def test_a_branch_never_raises_its_trunk_and_never_ends_below_it(trunk, branch, grade_max, share):
    station = trunk.length * share
    settled = settle({"t": trunk, "b": branch}, {"b": ("t", station)}, grade=0.01, grade_max=grade_max)
    alone = highest_profile(trunk, grade=0.01, grade_max=grade_max)
    if isinstance(settled["t"], Profile):
        assert isinstance(alone, Profile)
        at, _, _ = dense(trunk)
        assert (invert_at(settled["t"], at) <= invert_at(alone, at) + 1e-9).all()
        if isinstance(settled["b"], Profile):
            assert settled["b"].invert[0] >= invert_at(settled["t"], [station])[0] - 1e-9
