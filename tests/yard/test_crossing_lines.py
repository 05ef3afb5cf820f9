"""Two lines whose ways cross: one joins the other, goes under or over with room for a bed between, or round.

Lines to one outlet join before they meet. Lines to two outlets pass each other where they can, and join where they
cannot; where no wye can be had either, one of them is not laid: no plan has lines that cannot both lie where drawn.

Level lawn at 30 m, no house. A starts under full cover at 30 - 0.305 - 0.104 = 29.591 and runs 22 m south to its
outlet, B starts lower and runs 10 m east across it. Each is drawn by itself at first, as lines are that different
searches lay.
"""

from __future__ import annotations

import importlib.util
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely

from siteplan.books.prices import DEFAULT_PRICES
from siteplan.checks.judge import findings
from siteplan.routes.lines import Laid, cornered, fittings_of, with_wyes
from siteplan.routes.outlets import named_outlets
from siteplan.routes.trace import trace
from siteplan.units import INCH
from siteplan.values.tried import LaidOut
from siteplan.values.whole_plan import Plan
from siteplan.yard import apart
from siteplan.yard.apart import parted
from siteplan.yard.direct import along_chain, direct_tree
from siteplan.yard.groups import _crossing_notes, lay_beside, lay_out, lines_of_trees, tree_cost, yard_scene
from siteplan.yard.trees import settled_tree

_spec = importlib.util.spec_from_file_location("drawn_yards", Path(__file__).parents[1] / "routes" / "drawn_yards.py")
yards = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(yards)

OD = 4.215 * INCH  # of the 4 in sewer-grade pipe that lies outside the outlet zones


def laid(a_outlet, b_start, b_outlet, **more):
    site = yards.drawn(
        ("downspout", (20.0, 25.0), {"name": "A"}),
        ("downspout", (16.0, 14.0), {"name": "B", "invert": b_start}),
        ("curb_outlet", (20.0, 3.0), {"invert": a_outlet}),
        ("curb_outlet", (26.0, 14.0), {"invert": b_outlet}),
        house=None,
        ground=lambda x, y: np.full(np.shape(x), 30.0),
        **more,
    )
    named = named_outlets(site)
    scene = yard_scene(site, named, (), yards.PIPE, DEFAULT_PRICES)
    drawn = [direct_tree(scene, source, outlet) for source, outlet in zip(site.sources, named, strict=True)]
    assert all(drawn)
    trees = parted(scene, drawn, named, tree_cost)
    lines = lines_of_trees(scene, trees)
    notes = _crossing_notes(scene, trees)
    return site, LaidOut(lines=lines, outlets=named, candidates=(), notes=tuple(notes))


def to_one_hole(*chains, branch=None):
    """Two lines drawn along bends, each from its own source to one hole at (20, 3), and parted.

    A third may join the second.
    """
    starts = [chain[0] for chain in chains] + ([] if branch is None else [branch[0]])
    site = yards.drawn(
        *(("downspout", place, {"name": f"DS-{k}"}) for k, place in enumerate(starts, start=1)),
        ("curb_outlet", (20.0, 3.0), {"invert": 29.20}),
        house=None,
        ground=lambda x, y: np.full(np.shape(x), 30.0),
    )
    named = named_outlets(site)
    scene = yard_scene(site, named, (), yards.PIPE, DEFAULT_PRICES)
    trees = [
        along_chain(scene, (*chain, (20.0, 3.0)), source, named[0])
        for chain, source in zip(chains, site.sources, strict=False)
    ]
    assert all(trees)
    if branch is not None:
        trees[1] = with_branch(scene, trees[1], site.sources[2], branch)
    before = [c for c in apart.crossed(scene, trees) if c.one_outlet]
    assert before
    lines = lines_of_trees(scene, parted(scene, trees, named, tree_cost))
    return site, LaidOut(lines=lines, outlets=named, candidates=(), notes=())


def with_branch(scene, tree, source, chain):
    trunk, yard, terms = tree.laid[0], scene.yard, scene.terms
    corners, trunk = cornered(scene.site, yard, trunk, tuple(reversed(chain)), terms)
    along = trace(scene.site, yard.grounds, corners, source, None, terms)
    trunk = replace(trunk, carried=(*trunk.carried, source))
    branch = Laid(
        source=source,
        carried=(source,),
        parent=0,
        outlet=None,
        trace=along,
        fittings=fittings_of(corners),
        straight=True,
    )
    return settled_tree(scene, tuple(with_wyes([trunk, branch])), tree.outlet)


def judged(site, plan):
    whole = Plan(
        site_name="drawn",
        crs="local",
        length_unit="m",
        elevation_unit="m",
        accuracy=site.accuracy,
        stamp=None,
        inputs=(),
        sources=site.sources,
        outlets=plan.outlets,
        lines=plan.lines,
        low_spots=(),
        candidates=plan.candidates,
        findings=(),
        assumptions=(),
        cautions=(),
    )
    return [one for one in findings(whole, site) if one.rule == "lines-cross"]


def crossings(plan):
    """Inverts of the two lines at each place where they cross, read off their vertices."""
    ways = [
        (
            shapely.LineString([(v.x, v.y) for v in line.vertices]),
            [v.station for v in line.vertices],
            [v.invert for v in line.vertices],
        )
        for line in plan.lines
    ]
    (one, s1, z1), (two, s2, z2) = ways
    met = shapely.get_coordinates(one.intersection(two))
    return [
        (
            float(np.interp(one.project(shapely.Point(p)), s1, z1)),
            float(np.interp(two.project(shapely.Point(p)), s2, z2)),
        )
        for p in met
    ]


@pytest.mark.parametrize("turned", [0.0, 31.0])
def test_the_lower_line_goes_under_with_room_for_a_bed(turned):
    site, plan = laid(29.36, 29.47, 29.10, turned=turned)
    assert yards.served(plan) == {"S1", "S2"}
    assert len(plan.lines) == 2
    assert crossings(plan)
    for a, b in crossings(plan):
        assert abs(a - b) >= OD + 3 * INCH - 1e-3
    (told,) = plan.notes
    assert told.startswith("L2 at station ")
    assert "passes under L1" in told
    assert [f for f in yards.faults(site, plan) if "cross" not in f] == []
    assert [one.status for one in judged(site, plan)] == ["pass", "pass"] * len(crossings(plan))


@pytest.mark.parametrize("mirrored", [False, True])
def test_a_line_goes_round_where_neither_can_go_under(mirrored):
    site, plan = laid(29.30, 29.42, 29.30, mirrored=mirrored)
    assert yards.served(plan) == {"S1", "S2"}
    assert crossings(plan) == []
    assert yards.faults(site, plan) == []
    assert judged(site, plan) == []


def test_lines_to_two_outlets_join_where_neither_can_pass_the_other():
    """B lies a few millimetres under A where they cross, and its way to the curb east of it is as high as A's.

    A falls into it.
    """
    site, plan = laid(29.36, 29.47, 29.35)
    assert yards.served(plan) == {"S1", "S2"}
    assert sorted(line.end for line in plan.lines) == ["L1", "O2"]
    assert yards.faults(site, plan) == []
    assert judged(site, plan) == []


def test_where_no_wye_can_be_had_either_one_line_is_laid_and_the_other_source_is_left(monkeypatch):
    monkeypatch.setattr(apart, "led_in", lambda *_: iter(()))
    site, plan = laid(29.36, 29.47, 29.35)
    assert len(plan.lines) == 1
    assert len(yards.served(plan)) == 1
    assert judged(site, plan) == []


def test_lines_to_one_hole_that_cross_before_it_join():
    """Each has one bend past the other's line: they cross 9 m before the hole."""
    site, plan = to_one_hole([(14.0, 22.0), (21.0, 8.0)], [(26.0, 22.0), (19.0, 8.0)])
    assert yards.served(plan) == {"S1", "S2"}
    assert sorted(line.end for line in plan.lines) == ["L1", "O1"]
    assert yards.faults(site, plan) == []
    assert judged(site, plan) == []


def test_lines_to_one_hole_go_round_each_other_where_no_wye_can_be_had(monkeypatch):
    """One is laid anew with the other's trench barred, but for the place of the hole that both come to."""
    monkeypatch.setattr(apart, "led_in", lambda *_: iter(()))
    site, plan = to_one_hole([(14.0, 22.0), (21.0, 8.0)], [(26.0, 22.0), (19.0, 8.0)])
    assert yards.served(plan) == {"S1", "S2"}
    assert [line.end for line in plan.lines] == ["O1", "O1"]
    assert yards.faults(site, plan) == []
    assert judged(site, plan) == []


def test_lines_to_one_hole_that_run_in_one_trench_without_meeting_join():
    """Straight to the hole, never 0.3 m apart over the last 11 m: no line crosses, and one trench holds both pipes."""
    site, plan = to_one_hole([(19.85, 14.0)], [(20.15, 24.0)])
    assert yards.served(plan) == {"S1", "S2"}
    assert sorted(line.end for line in plan.lines) == ["L1", "O1"]
    assert yards.faults(site, plan) == []


def test_what_fell_into_the_cut_part_of_a_line_goes_on_down_the_old_trench():
    """B is led into A; C joined B below the place where it is cut."""
    site, plan = to_one_hole(
        [(14.0, 22.0), (21.0, 8.0)], [(26.0, 22.0), (19.0, 8.0)], branch=[(14.0, 10.0), (19.4, 6.0)]
    )
    assert yards.served(plan) == {"S1", "S2", "S3"}
    assert yards.faults(site, plan) == []
    assert judged(site, plan) == []


@pytest.mark.slow
def test_a_line_to_a_found_daylight_point_clears_the_line_to_the_curb_that_it_crosses():
    """B is a hand too low for the curb.

    Also its way to the bank in the north crosses A's line a hand lower than that one lies.
    """
    site = yards.drawn(
        ("downspout", (14.0, 20.0), {"name": "A"}),
        ("downspout", (20.0, 10.0), {"name": "B", "invert": 29.5}),
        ("curb_outlet", (39.0, 20.0), {"invert": 29.3}),
        house=None,
        ground=lambda x, y: 30.0 - 0.5 * np.clip(np.asarray(y, float) - 23, 0, 4) + 0 * np.asarray(x),
    )
    plan = yards.laid_out(site)
    assert yards.served(plan) == {"S1", "S2"}
    assert {line.end for line in plan.lines} == {"O1", "D1"}
    assert [one for one in yards.faults(site, plan) if "cross" not in one] == []
    for a, b in crossings(plan):
        assert abs(a - b) >= OD + 3 * INCH - 1e-3
    assert not [one for one in judged(site, plan) if one.status != "pass"]


def test_what_a_layout_leaves_out_is_laid_beside_it_and_numbered_on():
    site = yards.drawn(
        ("downspout", (10.0, 12.0), {"name": "A"}),
        ("downspout", (10.0, 13.0), {"name": "B"}),
        ("curb_outlet", (34.0, 12.0), {"invert": 29.2}),
        ("curb_outlet", (34.0, 14.0), {"invert": 29.2}),
        house=None,
        ground=lambda x, y: np.full(np.shape(x), 30.0),
    )
    named = named_outlets(site)
    first = lay_out(replace(site, sources=site.sources[:1]), named[:1], (), yards.PIPE, DEFAULT_PRICES)
    both = lay_beside(site, named, (), yards.PIPE, DEFAULT_PRICES, first)
    assert both.lines[0] == first.lines[0]
    assert [(line.id, line.sources, line.end) for line in both.lines] == [("L1", ("S1",), "O1"), ("L2", ("S2",), "O2")]
    one, two = (shapely.LineString([(v.x, v.y) for v in line.vertices]) for line in both.lines)
    assert one.distance(two) > 12 * INCH
    assert yards.faults(site, both) == []
    assert {(row.sources, row.outlet) for row in both.candidates if row.chosen} == {(("S1",), "O1"), (("S2",), "O2")}
