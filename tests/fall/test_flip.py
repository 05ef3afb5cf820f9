"""What would make a line fit: each change is run again here by hand, and is the smallest of its kind."""

import numpy as np
import pytest

from siteplan import units
from siteplan.fall.band import Band, Profile, Shortfall, pinned
from siteplan.fall.flip import flips
from siteplan.fall.highest import highest_profile

COVER = 0.4


def fits(band, grade=0.01, grade_max=None):
    return isinstance(highest_profile(band, grade=grade, grade_max=grade_max), Profile)


def changed(band, flip, by=0.0):
    """The band with a flip's change made in plain arithmetic, `by` short of it."""
    station, ceiling, floor = band.station.copy(), band.ceiling.copy(), band.floor.copy()
    amount = flip.amount - by
    if flip.kind == "cover-start":
        ceiling[station >= station[-1] - 3.048] += amount
    elif flip.kind == "cover":
        ceiling += amount
    elif flip.kind == "outlet":
        floor[0] -= amount
    elif flip.kind == "length":
        station *= 1 - amount / station[-1]
    return Band(station=station, ceiling=ceiling, floor=floor)


def test_every_flip_makes_it_and_a_little_less_does_not(random_band):
    rng = np.random.default_rng(6)
    seen = {}
    for case in range(250):
        band = random_band(rng, 8, jumps=case % 2 == 0)
        grade_max = None if case % 3 else 0.08
        answer = flips(band, grade=0.01, grade_max=grade_max, cover=COVER)
        if fits(band, 0.01, grade_max):
            assert answer == ()
            continue
        assert [f.kind for f in answer if f.kind != "pump"]
        for flip in answer:
            if flip.amount is None or not flip.makes_it:
                assert not flip.makes_it
                assert flip.amount is None
                continue
            seen[flip.kind] = seen.get(flip.kind, 0) + 1
            if flip.kind == "pump":
                continue
            if flip.kind == "grade":
                assert fits(band, flip.amount, grade_max)
                assert not fits(band, flip.amount + 1e-6, grade_max)
                continue
            assert fits(changed(band, flip, -1e-9), 0.01, grade_max), flip
            assert not fits(changed(band, flip, 1e-6), 0.01, grade_max), flip
    assert all(seen.get(kind, 0) >= 8 for kind in ("cover", "grade", "outlet", "length", "cover-start")), seen


def test_a_tight_line_is_asked_for_more_spare():
    band = Band(station=[0, 30], ceiling=[9.9, 9.62], floor=[9.3, 8.0])
    assert flips(band, grade=0.01, cover=COVER) == ()
    answer = flips(band, grade=0.01, cover=COVER, unit="m", wanted=0.05)
    assert [f.kind for f in answer] == ["cover-start", "cover", "outlet", "grade", "length"]
    assert [f.share for f in answer[:3]] == pytest.approx([0.03 / 0.4] * 3)
    assert [f.share for f in answer[3:]] == pytest.approx([0.1, 0.1])
    assert answer[0].sentence == (
        "0.030 m less cover at the start: leaves 0.370 m of 0.400 m, over the first 3.05 m from the source."
    )
    assert answer[3].sentence == "A grade of 0.90 % instead of 1.00 %."
    assert answer[2].left == pytest.approx(9.32)


def test_a_start_that_is_held_cannot_give_up_cover():
    band = Band(station=[0, 30], ceiling=[9.9, 9.5], floor=[9.3, 8.0])
    free = {f.kind: f for f in flips(band, grade=0.01, cover=COVER)}
    held = {f.kind: f for f in flips(band, grade=0.01, cover=COVER, start_limit=9.55)}
    assert free["cover-start"].makes_it
    assert not held["cover-start"].makes_it
    assert not held["cover"].makes_it
    assert held["cover"].sentence == "Less cover along the whole line alone does not make it."
    assert held["outlet"].makes_it


def test_bounds_of_what_practice_bears():
    band = Band(station=[0, 30], ceiling=[9.9, 9.4], floor=[9.3, 8.0])  # 0.20 m short, a third of the grade
    answer = {f.kind: f for f in flips(band, grade=0.01, cover=COVER, unit="m", lowest_outlet=9.2)}
    assert answer["cover-start"].sane  # half of the cover stays, exactly
    assert not answer["grade"].sane
    assert answer["grade"].sentence == "A grade of 0.33 % instead of 1.00 %, which is too flat to lay."
    assert not answer["outlet"].sane
    assert answer["outlet"].sentence == "An outlet 0.200 m lower, at 9.100 m; this outlet cannot go under 9.200 m."
    assert not answer["length"].sane
    assert "pump" not in answer
    stricter = flips(band, grade=0.01, cover=COVER, unit="m", lowest_outlet=9.2, least_cover=0.25)
    assert stricter[-1].kind == "pump"
    assert stricter[-1].makes_it
    assert stricter[-1].amount == 0.0  # downhill, but too flat: only friction to overcome


def test_a_pump_does_not_help_where_the_line_cannot_be_buried():
    band = Band(station=[0, 10, 20], ceiling=[9, 9, 9], floor=[9.5, 9.5, 8])
    answer = flips(band, grade=0.01, cover=0.1)
    assert answer[-1].kind == "pump"
    assert not answer[-1].makes_it
    assert "Not even a pumped line" in answer[-1].sentence


def test_a_pinned_end_goes_down_with_its_pin():
    band = pinned(Band(station=[0, 30], ceiling=[9.9, 9.5], floor=[9.3, 8.0]), 9.3)
    answer = {f.kind: f for f in flips(band, grade=0.01, cover=COVER, unit="m")}
    assert answer["outlet"].makes_it
    assert answer["outlet"].left == pytest.approx(9.2)
    assert answer["cover"].amount == pytest.approx(0.1)


def test_sentences_speak_the_sites_unit():
    foot = units.FOOT
    band = Band(station=[0, 78 * foot], ceiling=[98.0 * foot, 97.759 * foot], floor=[97.3 * foot, 90 * foot])
    sentences = [f.sentence for f in flips(band, grade=0.01, cover=foot, unit="ft")]
    assert sentences[0] == (
        "0.32 ft (0'-3 7/8\") less cover at the start: leaves 0.68 ft (0'-8 1/8\") of 1.00 ft (1'-0\"), "
        "over the first 10.0 ft from the source."
    )


@pytest.mark.parametrize("cover", [0.0, -1.0, float("nan")])
def test_cover_must_be_above_nothing(cover):
    with pytest.raises(ValueError, match="cover"):
        flips(Band(station=[0, 30], ceiling=[9, 9], floor=[8, 8]), grade=0.01, cover=cover)


def test_shortfall_is_what_flips_answer():
    band = Band(station=[0, 30], ceiling=[9.9, 9.5], floor=[9.3, 8.0])
    short = highest_profile(band, grade=0.01)
    assert isinstance(short, Shortfall)
    assert flips(band, grade=0.01, cover=COVER)[0].amount == pytest.approx(short.missing)


def test_less_cover_does_not_move_a_pin():
    # At 20 the floor asks for 6.05. The ceiling gives 5.95, and 5 % up from the pin gives 6.0: cover alone is not enough.
    band = pinned(Band(station=[0, 10, 20], ceiling=[9, 9, 5.95], floor=[5, 5, 6.05]), 5.0)
    answer = {f.kind: f for f in flips(band, grade=0.01, grade_max=0.05, cover=COVER)}
    assert not answer["cover"].makes_it
    assert not answer["cover-start"].makes_it
