"""What a net of places can miss.

Gaps narrower than its step, the last of the fall lost in its steps, and how it happens to lie.
"""

from __future__ import annotations

import importlib.util
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from shapely.geometry import LineString

from siteplan.books.prices import DEFAULT_PRICES
from siteplan.ground.hollows import low_spots
from siteplan.routes.outlets import named_outlets
from siteplan.yard.groups import _lay, yard_scene

ROOT = Path(__file__).parents[2]


def loaded(path):
    spec = importlib.util.spec_from_file_location(path.stem, path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


yards = loaded(ROOT / "tests" / "routes" / "drawn_yards.py")
gaps = loaded(ROOT / "benchmarks" / "gaps.py")


def lines_of(plan):
    return [LineString([(v.x, v.y) for v in one.vertices]) for one in plan.lines if one.end == "O1"]


@pytest.mark.parametrize(
    ("acres", "at"),
    [
        (0.25, 0.9),
        (1.0, -7.3),
        (4.0, 13.1),
        pytest.param(10.0, -17.4, marks=pytest.mark.slow),
        pytest.param(10.0, 26.3, marks=pytest.mark.slow),
    ],
)
def test_a_gap_of_three_feet_is_found_on_a_lot_of_any_size(acres, at):
    site, _ = gaps.lot(acres, at, 0.0, way_round=False)
    plan = yards.laid_out(site)
    assert yards.served(plan) == {"S1"}
    assert yards.faults(site, plan) == []


@pytest.mark.parametrize(("acres", "at"), [(4.0, 13.1), pytest.param(10.0, -17.4, marks=pytest.mark.slow)])
def test_a_gap_is_taken_where_a_longer_way_round_is_open(acres, at):
    site, bars = gaps.lot(acres, at, 0.0, way_round=True)
    (line,) = lines_of(yards.laid_out(site))
    assert all(bar.distance(line) < gaps.GAP for bar in bars), "the line passes between the two bars"


def test_no_way_is_proven_where_none_is_and_only_not_found_where_one_may_be():
    """A gap that leaves 2 cm beside half a trench on each side is narrower than the net.

    One that leaves nothing is closed.
    """
    told = []
    for gap in (0.02, -0.02):
        half = 0.1524 + gap / 2
        site = yards.drawn(
            ("downspout", (5.0, 13.0)),
            ("daylight_outlet", (35.0, 15.0), {"invert": 28.0}),
            ("no_dig", yards.box(24, -1, 2, 15.07 - half)),
            ("no_dig", yards.box(24, 14.07 + half, 2, 20)),
            house=None,
        )
        plan = yards.laid_out(site)
        (row,) = [c for c in plan.candidates if c.outlet == "O1"]
        told.append((bool(lines_of(plan)), row.reason or ""))
    assert "close every path" in told[1][1]
    assert told[0][0] or ("found on a net of 0.150 m" in told[0][1] and "not looked at" in told[0][1])


def test_the_last_of_the_fall_is_not_lost_in_the_steps_of_a_net():
    """A straight way off the net's directions loses up to 2.7 % of its length in steps of the net.

    The line is straight.
    """
    length, grade, turn = 33.0, 0.01, math.radians(11.0)
    end = (3.0 + length * math.cos(turn), 8.0 + length * math.sin(turn))
    high, pipe = 0.3048, 0.341 * 0.3048

    def flat(x, y):
        return 30.0 + 0 * np.asarray(x, float) * np.asarray(y, float)

    for missing in (-0.003, 0.003):
        least = 30.0 - high - pipe - grade * length + missing
        site = yards.drawn(
            ("downspout", (3.0, 8.0)),
            ("daylight_outlet", end, {"invert": least}),
            ground=flat,
            house=None,
            asked={"min_grade_percent": 1.0, "outlet_zone_m": 0.0, "daylight_stretch_m": 0.0},
        )
        plan = yards.laid_out(site)
        (row,) = [c for c in plan.candidates if c.outlet == "O1"]
        assert bool(lines_of(plan)) is (missing < 0)
        if missing > 0:
            assert row.margin == pytest.approx(-missing, abs=0.0015), "what is missing is told of the straight line"


def lying(site, shifted, turned):
    named = named_outlets(site)
    return _lay(
        yard_scene(site, named, low_spots(site), yards.PIPE, DEFAULT_PRICES, shifted=shifted, turned=turned), named
    )


@pytest.mark.parametrize("seed", range(4))
def test_a_verdict_does_not_hang_on_how_the_net_lies(seed):
    rng = np.random.default_rng(seed)
    curb = float(rng.uniform(2, 28))
    site = yards.drawn(
        ("downspout", (22.3, float(rng.uniform(8.3, 19)))),
        ("downspout", (9.7, 19.7)),
        ("curb_outlet", (40.8, curb), {"invert": float(28.45 + 0.01 * curb - rng.uniform(0.0, 0.4))}),
        ("no_dig", yards.box(30, -1, 1.5, float(rng.uniform(5, 25)))),
        ground=yards.rough(seed, 0.15),
    )
    verdicts = []
    for shifted, turned in ((0.0, 0.0), (0.5, 0.0), (0.0, math.radians(30))):
        plan = lying(site, shifted, turned)
        verdicts.append({c.sources: c.feasible for c in plan.candidates if c.outlet == "O1" and len(c.sources) == 1})
        assert yards.served(plan) == {c[0] for c, able in verdicts[-1].items() if able} or any(
            one.end.startswith("D") for one in plan.lines
        )
    assert verdicts[0] == verdicts[1] == verdicts[2]


def test_a_sump_among_the_sources_does_not_move_the_points_of_the_others():
    """A downspout's daylight may lie 5 ft from a foundation, a sump's 10 ft: only the sump's has to."""
    steep = {"ground": lambda x, y: 40 - 0.12 * np.asarray(x, float) + 0 * np.asarray(y, float)}
    alone = yards.laid_out(yards.drawn(("downspout", (22.3, 14.0)), **steep))
    both = yards.laid_out(yards.drawn(("downspout", (22.3, 14.0)), ("sump", (22.3, 17.0)), **steep))
    assert yards.served(both) == {"S1", "S2"}
    by_source = {one.sources[0]: one for one in both.lines}
    assert len(alone.lines) == 1
    assert by_source["S1"].length <= alone.lines[0].length + 8.0


def test_a_hollow_shallower_than_the_survey_can_know_bars_no_daylight():
    site = yards.drawn(
        ("downspout", (22.3, 14.0)), ground=lambda x, y: 40 - 0.12 * np.asarray(x, float) + 0 * np.asarray(y, float)
    )
    named = named_outlets(site)
    free = yards.laid_out(site)
    (point,) = [o for o in free.outlets if o.id == free.lines[0].end]
    ring = tuple((point.x + dx, point.y + dy) for dx, dy in ((-30, -30), (30, -30), (30, 30), (-30, 30)))
    from siteplan.values.forecasts import LowSpot

    spot = LowSpot(
        id="W1",
        kind="hollow",
        depth=0.01,
        area=3600.0,
        volume=1.0,
        spill_elevation=30.0,
        spill=(0.0, 0.0),
        catchment=None,
        certain=False,
        rings=(ring,),
    )
    ends = []
    for certain in (False, True):
        scene = yard_scene(site, named, (replace(spot, certain=certain),), yards.PIPE, DEFAULT_PRICES)
        ends.append([one.end for one in _lay(scene, named).lines])
    assert ends == [["D1"], []]


def test_a_way_round_a_corner_is_pulled_tight_before_it_is_refused():
    """Two straight runs past the corner of barred ground, 8 and 19 degrees off the net.

    Its steps are 2 % longer than they are.
    """
    start, corner, end = (3.0, 8.0), (19.0, 10.2), (35.0, 15.7)
    length = math.dist(start, corner) + math.dist(corner, end)
    least = 30.0 - 0.3048 - 0.341 * 0.3048 - 0.01 * (length + 0.35)
    site = yards.drawn(
        ("downspout", start),
        ("daylight_outlet", end, {"invert": least}),
        ("no_dig", yards.box(corner[0] - 3, corner[1] + 0.16, 3, 8)),
        ground=lambda x, y: 30.0 + 0 * np.asarray(x, float) * np.asarray(y, float),
        house=None,
        asked={"min_grade_percent": 1.0, "outlet_zone_m": 0.0, "daylight_stretch_m": 0.0},
    )
    assert lines_of(yards.laid_out(site)), "0.35 m of length are to spare: a way over the net alone is longer than that"
