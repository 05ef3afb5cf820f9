"""Reading, proving and tidying profiles: jumps, drops, digging."""

import numpy as np
import pytest

from siteplan.fall.band import (
    Band,
    Profile,
    closed,
    collapsed,
    digging,
    invert_at,
    is_pinned,
    pinned,
    thinned_band,
    worst_breach,
)


def line(station, invert):
    return Profile(station=station, invert=invert)


FLAT = Band(station=[0, 10, 10, 20], ceiling=[5.0, 5.0, 6.0, 6.0], floor=[3.0, 3.0, 4.5, 4.5])


@pytest.mark.parametrize(
    ("station", "invert", "breach"),
    [
        ([0, 20], [4.6, 4.9], 0.0),  # inside everywhere
        ([0, 20], [4.8, 5.2], 0.0),  # at the jump exactly the lower ceiling
        ([0, 20], [4.8, 5.3], 0.05),  # through the lower ceiling at the jump
        ([0, 20], [4.3, 4.6], 0.05),  # under the higher floor at the jump
        ([0, 10, 10, 20], [4.9, 5.0, 5.8, 6.0], 0.0),  # a drop from above the lower ceiling down to it
        ([0, 10, 10, 20], [4.9, 5.1, 5.8, 6.0], 0.1),  # its foot stands too high
        ([0, 10, 10, 20], [3.1, 3.2, 4.4, 4.7], 0.1),  # its head stands too low
        ([0, 10, 10, 20], [3.1, 3.2, 5.9, 6.1], 0.1),
        ([0, 5, 5, 20], [3.1, 3.2, 5.1, 5.3], 1 / 6),  # a drop where there is no jump: 5.1 + 0.2 / 3 under 5.0 at 10
    ],
)
def test_worst_breach_at_jumps_and_drops(station, invert, breach):
    found = worst_breach(line(station, invert), FLAT, grade=0.001)
    if breach > 0:
        assert found == pytest.approx(breach, abs=1e-9)
    else:
        assert found <= 1e-12


def test_worst_breach_sees_grades():
    band = Band(station=[0, 10, 20], ceiling=[9, 9, 9], floor=[0, 0, 0])
    assert worst_breach(line([0, 10, 20], [5, 5.1, 5.15]), band, grade=0.01) == pytest.approx(0.05)
    assert worst_breach(line([0, 10, 20], [5, 5.1, 5.2]), band, grade=0.01) == pytest.approx(0, abs=1e-12)
    assert worst_breach(line([0, 10, 20], [5, 5.1, 5.6]), band, grade=0.01, grade_max=0.02) == pytest.approx(0.3)


def test_worst_breach_looks_between_the_bands_samples():
    band = Band(station=[0, 20], ceiling=[5, 6], floor=[4, 5])
    assert worst_breach(line([0, 10, 20], [4.5, 5.7, 5.9]), band, grade=0.0) == pytest.approx(0.2)
    assert worst_breach(line([0, 10, 20], [4.1, 4.3, 5.5]), band, grade=0.0) == pytest.approx(0.2)


def test_worst_breach_at_the_ends_of_the_line():
    band = pinned(Band(station=[0, 20], ceiling=[5.5, 6], floor=[5, 4]), 5.0)
    assert worst_breach(line([0, 20], [5.0, 5.6]), band, grade=0.01) <= 1e-12
    assert worst_breach(line([0, 0, 20], [5.0, 5.3, 5.6]), band, grade=0.01) <= 1e-12
    assert worst_breach(line([0, 20], [5.2, 5.6]), band, grade=0.01) == pytest.approx(0.2)
    assert worst_breach(line([0, 20], [4.9, 5.6]), band, grade=0.01) == pytest.approx(0.1)
    assert worst_breach(line([0, 0, 20], [4.9, 5.3, 5.6]), band, grade=0.01) == pytest.approx(0.1)
    start = Band(station=[0, 20, 20], ceiling=[5.5, 6, 5.6], floor=[4, 4, 5.5])
    assert worst_breach(line([0, 20], [5, 5.7]), start, grade=0.01) == pytest.approx(0.1)
    assert worst_breach(line([0, 20], [5, 5.3]), start, grade=0.01) == pytest.approx(0.2)
    assert worst_breach(line([0, 20, 20], [5, 5.3, 5.6]), start, grade=0.01) <= 1e-12
    assert worst_breach(line([0, 20, 20], [5, 5.3, 5.8]), start, grade=0.01) == pytest.approx(0.2)


def test_a_profile_of_another_length_is_refused():
    with pytest.raises(ValueError, match="length"):
        worst_breach(line([0, 10], [5, 6]), FLAT, grade=0.01)


def test_closed_and_collapsed():
    station, ceiling, floor = closed(FLAT)
    assert station.tolist() == [0, 10, 10, 10, 20]
    assert ceiling.tolist() == [5, 5, 5, 6, 6]
    assert floor.tolist() == [3, 3, 4.5, 4.5, 4.5]
    station, ceiling, floor = collapsed(FLAT, [15, 5, 10, 25, -1])
    assert station.tolist() == [0, 5, 10, 15, 20]
    assert ceiling.tolist() == [5, 5, 5, 6, 6]
    assert floor.tolist() == [3, 3, 4.5, 4.5, 4.5]


def test_pins():
    band = Band(station=[0, 10], ceiling=[5.5, 6], floor=[5.2, 4])
    held = pinned(band, 5.1)
    assert is_pinned(held)
    assert not is_pinned(band)
    assert (held.control, held.floor[1], held.ceiling[1]) == (5.1, 5.1, 5.5)
    again = pinned(held, 5.0)
    assert again.station.tolist() == [0, 0, 10]
    assert again.control == 5.0


def test_inverts_are_read_on_both_sides_of_a_drop():
    profile = line([0, 10, 10, 20], [5.0, 5.1, 5.8, 6.0])
    assert invert_at(profile, [0, 5, 10, 15, 20]).tolist() == pytest.approx([5, 5.05, 5.1, 5.9, 6])
    assert invert_at(profile, [0, 5, 10, 15, 20], side="upper").tolist() == pytest.approx([5, 5.05, 5.8, 5.9, 6])
    with pytest.raises(ValueError, match="off the line"):
        invert_at(profile, [20.1])


def test_digging_is_the_area_between():
    profile = line([0, 10, 10, 20], [5.0, 5.1, 5.8, 6.0])
    # 10 m x mean (1.0, 0.9) and 10 m x mean (0.2, 0.0)
    assert digging(profile, [0, 20], [6.0, 6.0]) == pytest.approx(9.5 + 1.0)
    assert digging(profile, FLAT.station, FLAT.ceiling) == pytest.approx(-0.5 + 1.0)


def test_reduced_keeps_the_shape_and_drops_what_is_straight():
    station = [0, 1, 2, 3, 3, 4, 5, 5, 6]
    invert = [0, 1, 2, 3, 4, 4.5, 5, 5, 5.5]
    plain = thinned_band(line(station, invert))
    assert plain.station.tolist() == [0, 3, 3, 6]
    assert plain.invert.tolist() == [0, 3, 4, 5.5]
    rng = np.random.default_rng(1)
    for _ in range(50):
        knots = np.concatenate(([0.0], np.cumsum(rng.uniform(0.5, 3, 5))))
        heights = np.concatenate(([0.0], np.cumsum(rng.uniform(0, 1, 5))))
        at = np.union1d(knots, rng.uniform(0, knots[-1], 40))
        dense = line(at, np.interp(at, knots, heights))
        plain = thinned_band(dense)
        assert plain.station.tolist() == pytest.approx(knots.tolist())
        assert np.abs(invert_at(plain, at) - dense.invert).max() <= 1e-10
