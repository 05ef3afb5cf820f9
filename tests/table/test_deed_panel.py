"""Calls typed on the page.

Laid out as `siteplan deed` lays them, from the corner that is given, and nothing spread unasked.
"""

from __future__ import annotations

import math

import pytest

_CALLS = "N 0\u00b000'00\" E 200.00\nS 90\u00b000'00\" E 100.00\nS 0\u00b000'00\" E 200.00\nN 90\u00b000'00\" W 99.00"


def test_corners_stand_where_the_calls_lead(alder):
    """Alder Court is drawn in US survey feet: a foot of the deed, international, is a little shorter on the paper."""
    status, told = alder.post("deed", {"text": _CALLS, "unit": "ft", "start": [1210000, 205000]})
    assert status == 200, told
    foot = 0.3048 / (1200 / 3937)
    wanted = [(0, 0), (0, 200), (100, 200), (100, 0)]
    assert [(x - 1210000, y - 205000) for x, y in told["xy"]] == [
        pytest.approx((x * foot, y * foot), abs=1e-5) for x, y in wanted
    ]
    assert not told["closes"]
    assert told["missed"] == pytest.approx(1.0)
    assert "1 in 599" in told["told"]
    assert "Nothing is spread" in told["told"]
    spread = alder.post("deed", {"text": _CALLS, "unit": "ft", "start": [0, 0], "spread": True})[1]
    assert math.dist(spread["xy"][2], (100 * foot, 200 * foot)) > 0.3  # 300 of 599 ft of the way round: half a foot
    assert "spread over the calls by the compass rule, as asked" in spread["told"]


def test_a_call_that_cannot_be_made_out_is_an_error(alder, bytes_of):
    before = bytes_of(alder.folder)
    for body in (
        {"text": "N 95 E 20", "unit": "ft"},
        {"text": _CALLS},
        {"text": _CALLS, "unit": "cubit"},
        {"text": 7, "unit": "ft"},
        {"text": "<b>" * 9000, "unit": "ft"},
        {},
    ):
        status, told = alder.post("deed", body)
        assert status == 422
        assert told["faults"]
    assert bytes_of(alder.folder) == before
