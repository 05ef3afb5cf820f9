"""Control elevations of the outlets a site names."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import numpy as np
import pytest

from siteplan.routes.outlets import named_outlets
from siteplan.units import FOOT

_spec = importlib.util.spec_from_file_location("drawn_yards", Path(__file__).with_name("drawn_yards.py"))
yards = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(yards)


def curb(x, y):
    """Level street behind a curb face at x = 40.5, the gutter 0.15 m below the lawn."""
    return np.where(x > 40.4, 29.0 - 0.01 * (y - 5), 29.15) + 0 * y


def test_a_curb_outlet_stands_above_the_gutter():
    (outlet,) = named_outlets(yards.drawn(("curb_outlet", (40.3, 5.0)), ground=curb, cell=0.1))
    # lowest ground within 0.6 m: 0.6 m along the gutter at most
    assert outlet.control == pytest.approx(29.0 - 0.01 * 0.58 + 0.04 * FOOT, abs=1e-3)
    assert outlet.id == "O1"
    assert "gutter flow line" in outlet.basis


def test_a_daylight_outlet_stands_above_the_ground_at_its_face():
    (outlet,) = named_outlets(yards.drawn(("daylight_outlet", (30.0, 5.0))))
    assert outlet.control == pytest.approx(yards.falling(30.0, 5.0) + 0.05 * FOOT, abs=1e-6)


def test_a_given_invert_is_the_control():
    outlets = named_outlets(
        yards.drawn(
            ("daylight_outlet", (30.0, 5.0), {"invert": 27.125}), ("curb_outlet", (40.8, 9.0), {"invert": 26.5})
        )
    )
    assert [(o.id, o.control, o.invert) for o in outlets] == [("O1", 27.125, 27.125), ("O2", 26.5, 26.5)]


def test_unknown_ground_takes_the_nearest_known_height():
    site = yards.drawn(("daylight_outlet", (38.9, 5.0)), ground=lambda x, y: np.where(x > 38.1, np.nan, 29.0 - 0.1 * x))
    (outlet,) = named_outlets(site)
    assert outlet.ground == pytest.approx(29.0 - 3.8, abs=0.06)


@pytest.mark.parametrize("turned", [90.0, 33.0])
def test_a_curb_turned_has_the_same_control(turned):
    plain, other = (
        named_outlets(yards.drawn(("curb_outlet", (40.3, 5.0)), ground=curb, cell=0.1, turned=angle))[0]
        for angle in (0.0, turned)
    )
    assert other.control == pytest.approx(plain.control, abs=5e-4)
