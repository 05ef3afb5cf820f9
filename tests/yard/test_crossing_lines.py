"""Two lines whose ways cross: one goes under or over with room for a bed between, or round; where neither can be had a check fails.

Level lawn at 30 m, no house. A starts under full cover at 30 - 0.305 - 0.104 = 29.591 and runs 22 m south to its outlet, B starts
lower and runs 10 m east across it. Each is drawn by itself at first, as lines are that different searches lay.
"""

from __future__ import annotations

import importlib.util
from pathlib import Path

import numpy as np
import pytest
import shapely

from siteplan.books.prices import DEFAULT_PRICES
from siteplan.checks.judge import findings
from siteplan.routes.outlets import named_outlets
from siteplan.units import INCH
from siteplan.values import LaidOut, Plan
from siteplan.yard.apart import parted
from siteplan.yard.direct import direct_tree
from siteplan.yard.groups import _crossing_notes, _lines_of, _scene, _tree_cost

_spec = importlib.util.spec_from_file_location("drawn_yards", Path(__file__).parents[1] / "routes" / "drawn_yards.py")
yards = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(yards)

OD = 4.215 * INCH  # of the 4 in sewer-grade pipe that lies outside the outlet zones


def laid(a_outlet, b_start, b_outlet, **more):
    site = yards.drawn(
        ("downspout", (20.0, 25.0), {"name": "A"}), ("downspout", (16.0, 14.0), {"name": "B", "invert": b_start}),
        ("curb_outlet", (20.0, 3.0), {"invert": a_outlet}), ("curb_outlet", (26.0, 14.0), {"invert": b_outlet}),
        house=None, ground=lambda x, y: np.full(np.shape(x), 30.0), **more,
    )  # fmt: skip
    named = named_outlets(site)
    scene = _scene(site, named, (), yards.PIPE, DEFAULT_PRICES)
    drawn = [direct_tree(scene, source, outlet) for source, outlet in zip(site.sources, named, strict=True)]
    assert all(drawn)
    trees = parted(scene, drawn, named, _tree_cost)
    lines = _lines_of(scene, trees)
    notes = _crossing_notes(scene, trees)
    return site, LaidOut(lines=lines, outlets=named, candidates=(), notes=tuple(notes))


def judged(site, plan):
    whole = Plan(
        site_name="drawn", crs="local", length_unit="m", elevation_unit="m", accuracy=site.accuracy, stamp=None, inputs=(),
        sources=site.sources, outlets=plan.outlets, lines=plan.lines, low_spots=(), candidates=plan.candidates, findings=(), assumptions=(), cautions=(),
    )  # fmt: skip
    return [one for one in findings(whole, site) if one.rule == "lines-cross"]


def crossings(plan):
    """Inverts of the two lines at each place where they cross, read off their vertices."""
    ways = [
        (shapely.LineString([(v.x, v.y) for v in line.vertices]), [v.station for v in line.vertices], [v.invert for v in line.vertices])
        for line in plan.lines
    ]  # fmt: skip
    (one, s1, z1), (two, s2, z2) = ways
    met = shapely.get_coordinates(one.intersection(two))
    return [
        (float(np.interp(one.project(shapely.Point(p)), s1, z1)), float(np.interp(two.project(shapely.Point(p)), s2, z2)))
        for p in met
    ]  # fmt: skip


@pytest.mark.parametrize("turned", [0.0, 31.0])
def test_the_lower_line_goes_under_with_room_for_a_bed(turned):
    site, plan = laid(29.36, 29.47, 29.10, turned=turned)
    assert yards.served(plan) == {"S1", "S2"}
    assert len(plan.lines) == 2
    for a, b in crossings(plan):
        assert abs(a - b) >= OD + 3 * INCH - 1e-3
    assert [f for f in yards.faults(site, plan) if "cross" not in f] == []
    assert [one.status for one in judged(site, plan)] == ["pass"] * len(crossings(plan))


@pytest.mark.parametrize("mirrored", [False, True])
def test_a_line_goes_round_where_neither_can_go_under(mirrored):
    site, plan = laid(29.30, 29.42, 29.30, mirrored=mirrored)
    assert yards.served(plan) == {"S1", "S2"}
    assert crossings(plan) == []
    assert yards.faults(site, plan) == []
    assert judged(site, plan) == []


def test_where_nothing_parts_them_the_check_fails_and_the_notes_say_so():
    site, plan = laid(29.36, 29.47, 29.35)
    assert yards.served(plan) == {"S1", "S2"}
    ((a, b),) = crossings(plan)
    assert abs(a - b) < OD + 3 * INCH
    (said,) = judged(site, plan)
    assert said.status == "fail"
    assert said.value == pytest.approx(abs(a - b) - OD, abs=0.002)
    assert any("no way to part them was found" in note for note in plan.notes)


def test_a_line_to_a_found_daylight_point_clears_the_line_to_the_curb_that_it_crosses():
    """B is a hand too low for the curb, and its way to the bank in the north crosses A's line a hand lower than that one lies."""
    site = yards.drawn(
        ("downspout", (14.0, 20.0), {"name": "A"}), ("downspout", (20.0, 10.0), {"name": "B", "invert": 29.5}),
        ("curb_outlet", (39.0, 20.0), {"invert": 29.3}), house=None,
        ground=lambda x, y: 30.0 - 0.5 * np.clip(np.asarray(y, float) - 23, 0, 4) + 0 * np.asarray(x),
    )  # fmt: skip
    plan = yards.laid_out(site)
    assert yards.served(plan) == {"S1", "S2"}
    assert {line.end for line in plan.lines} == {"O1", "D1"}
    assert [one for one in yards.faults(site, plan) if "cross" not in one] == []
    for a, b in crossings(plan):
        assert abs(a - b) >= OD + 3 * INCH - 1e-3
    assert not [one for one in judged(site, plan) if one.status != "pass"]
