"""Why a pair of source and outlet fails, in figures that can be checked by hand."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import numpy as np
import pytest

_spec = importlib.util.spec_from_file_location("drawn_yards", Path(__file__).parents[1] / "routes" / "drawn_yards.py")
yards = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(yards)


def why(*features, **more):
    plan = yards.laid_out(yards.drawn(*features, **more))
    return next(c for c in plan.candidates if c.outlet == "O1" and len(c.sources) == 1)


def plane(x, y):
    """1.5 % to the east and a curb face 0.3 m high."""
    return 30 - 0.015 * np.asarray(x, float) - np.where(np.asarray(x) > 40.2, 0.3, 0.0) + 0 * y


def nearly_level(x, y):
    """0.5 % to the east: less than a line must fall, so that its start decides."""
    return 30 - 0.005 * np.asarray(x, float) + 0 * y


def test_short_of_fall_by_what_is_missing():
    """On an even slope: start ground - cover - pipe, less 1 % of the way, against the outlet's invert.

    By hand: ground 30 - 0.005 x 24 = 29.880; less 12 in of cover (0.3048) and 0.341 ft of pipe (0.1039) 29.4713; 0.0287
    under the outlet; 0.168 are needed over 16.8 m.
    """
    start, end = (24.0, 14.0), (40.8, 14.0)
    found = why(("downspout", start), ("curb_outlet", end, {"invert": 29.5}), ground=nearly_level, house=None)
    assert not found.feasible
    assert found.fall_available == pytest.approx(-0.0287, abs=0.001)
    assert found.fall_needed == pytest.approx(0.168, abs=0.001)
    assert found.margin == pytest.approx(-0.1967, abs=0.001)
    assert "short of fall by 0.197 m" in found.reason


def test_what_is_missing_is_what_would_mend_it():
    base = {"ground": plane, "house": None}
    start, end = ("downspout", (24.0, 14.0)), (40.8, 14.0)
    found = why(start, ("curb_outlet", end, {"invert": 29.2}), **base)
    assert not why(start, ("curb_outlet", end, {"invert": 29.2 + found.margin + 0.01}), **base).feasible
    assert why(start, ("curb_outlet", end, {"invert": 29.2 + found.margin - 0.01}), **base).feasible


def test_no_open_way():
    found = why(
        ("downspout", (24.0, 14.0)),
        ("curb_outlet", (40.8, 14.0)),
        ("no_dig", yards.box(30, -1, 1, 32)),
        ground=plane,
        house=None,
    )
    assert (found.feasible, found.margin) == (False, None)
    assert "no open way" in found.reason


def test_too_deep_under_a_hill():
    def hill(x, y):
        return plane(x, y) + 3.0 * np.exp(-((np.asarray(x) - 32) ** 2) / 4)

    found = why(("downspout", (24.0, 14.0)), ("curb_outlet", (40.8, 14.0)), ground=hill, house=None)
    assert not found.feasible
    assert "too deep" in found.reason


def test_cover_under_a_driveway_is_named():
    drive = ("driveway", yards.box(33, -1, 3, 32), {"name": "Drive"})
    asked = {"min_cover_pavement_m": 0.9, "min_cover_pavement_heavy_m": 0.9}
    free = why(
        ("downspout", (30.5, 14.0)),
        ("curb_outlet", (40.8, 14.0), {"invert": 28.8}),
        ground=plane,
        house=None,
        asked=asked,
    )
    assert free.feasible
    found = why(
        ("downspout", (30.5, 14.0)),
        ("curb_outlet", (40.8, 14.0), {"invert": 28.8}),
        drive,
        ground=plane,
        house=None,
        asked=asked,
    )
    assert not found.feasible
    assert "under the driveway Drive" in found.reason


def test_a_source_that_no_line_can_leave():
    found = why(("downspout", (16.0, 14.0)), ("curb_outlet", (40.8, 14.0)))
    assert "no line can leave the source" in found.reason


def test_what_is_feasible_has_fall_to_spare():
    plan = yards.laid_out(
        yards.drawn(("downspout", (22.3, 8.3)), ("curb_outlet", (40.8, 5.0)), ("curb_outlet", (40.8, 15.0)))
    )
    for candidate in plan.candidates:
        if len(candidate.sources) == 1 and candidate.outlet.startswith("O"):
            assert candidate.feasible
            assert candidate.margin == pytest.approx(candidate.fall_available - candidate.fall_needed)
    assert sum(c.chosen for c in plan.candidates if len(c.sources) == 1) == 1
    lost = next(c for c in plan.candidates if not c.chosen and c.outlet.startswith("O"))
    assert "than the outlet taken" in lost.reason or "times as much" in lost.reason
