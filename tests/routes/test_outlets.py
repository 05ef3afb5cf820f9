"""Control elevations of the outlets a site names."""

from __future__ import annotations

import importlib.util
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from siteplan.routes.outlets import named_outlets
from siteplan.site import Shot, Tin
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


AT = (40.3, 5.0)
TRIANGLES = Tin(xy=np.zeros((3, 2)), z=np.zeros(3), triangles=np.array([[0, 1, 2]]), breaklines=np.zeros((0, 2), int))


def shot(number, x, y, z, said="FL"):
    return Shot(number=number, x=x, y=y, z=z, accuracy=0.01, description=said)


def on_gutter(number, y):
    """A shot of the flow line of `curb`, 0.2 m off the face."""
    return shot(number, 40.5, y, 29.0 - 0.01 * (y - 5))


@pytest.mark.parametrize(
    ("shots", "tin", "told", "never"),
    [
        ((), None, ("no shot of the flow line within 0.600 m", "a grid does not show a curb", "shoot the flow"), ()),
        ((on_gutter("9", 5.3),), None, ('shot there: point 9 "FL"',), ("grid", "no shot")),
        # shots alone make the ground, and the one of the flow line stands 3.05 m off: there is no grid to speak of
        (
            (on_gutter("9", 8.043),),
            TRIANGLES,
            ("no shot of the flow line", '"FL", is 3.05 m away and is not used', "shots around it"),
            ("grid",),
        ),
        # on both sides along the curb: 5 m up and 3 m down
        (
            (on_gutter("8", 0.0), on_gutter("9", 8.0)),
            TRIANGLES,
            ('the height between point 9 "FL" 3.01 m away and point 8 "FL" 5.00 m away',),
            ("grid", "not used"),
        ),
        # on both sides, and the ground in use lies lower than between them
        (
            (shot("8", 40.5, 0.0, 29.3), shot("9", 40.5, 8.0, 29.2)),
            None,
            ("would be 29.23", "and is not used", "grid does not show a curb"),
            (),
        ),
        # both on one side: no height between
        (
            (on_gutter("8", 8.0), on_gutter("9", 12.0)),
            TRIANGLES,
            ("is 3.01 m away and is not used",),
            ("between point",),
        ),
        # a shot beside it that is no gutter's and stands at the lawn's height says nothing of the flow line
        ((shot("7", 40.2, 5.0, 29.15, "LAWN"),), TRIANGLES, ("no shot of the flow line",), ("shot there", "grid")),
        ((shot("7", 40.5, 5.0, 29.0, "EDGE"),), TRIANGLES, ('shot there: point 7 "EDGE"',), ("no shot",)),
        ((), TRIANGLES, ("no shot of the flow line", "surface file"), ("grid",)),
    ],
)
def test_what_a_flow_line_rests_on_is_told_as_it_is(shots, tin, told, never):
    """A grid was blamed on sites that have none, whose flow line was shot farther off."""
    site = yards.drawn(("curb_outlet", AT), ground=curb, cell=0.1)
    (outlet,) = named_outlets(replace(site, shots=shots, tin=tin))
    for part in told:
        assert part in outlet.basis
    for part in never:
        assert part not in outlet.basis
