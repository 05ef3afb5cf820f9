"""What was tried for a source, read back from plan.json in a frame whose coordinates are far from nought."""

import pytest

from siteplan.errors import InputError
from siteplan.stored.attempts_of import attempt
from siteplan.stored.record_of import PlanRecord

EAST, NORTH = 461_000.25, 5_101_000.5  # a place in EPSG:3794, as its zone prints it


def told(**cure):
    cures = [
        {"kind": "pop-up", "amount": 0.2, "held": 0.0, "spare": 0.01, "length": 12.0, "cut": 0.5, "way": [], **cure}
    ]
    return PlanRecord({"source": "S1", "outlet": "O1", "short_by": 0.05, "tried": True, "cures": cures}, "attempts 1")


def test_a_pop_up_far_from_the_origin_is_read():
    (cure,) = attempt(told(x=EAST, y=NORTH, invert=290.1)).cures
    assert (cure.x, cure.y, cure.invert) == (EAST, NORTH, 290.1)


def test_fill_far_from_the_origin_is_read():
    (cure,) = attempt(told(kind="fill", way=[{"x": EAST, "y": NORTH, "ground": 290.4}])).cures
    assert cure.way == ((EAST, NORTH, 290.4),)


@pytest.mark.parametrize("key", ["invert", "length", "spare"])
def test_a_length_as_great_as_a_coordinate_is_still_refused(key):
    with pytest.raises(InputError, match=key):
        attempt(told(**{key: NORTH}))
