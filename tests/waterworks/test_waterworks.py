"""Lines as hydraulics sees them.

Flows that add, wyes that split a trunk, sizes that never shrink, paths over the ground.
"""

from __future__ import annotations

import importlib.util
import math
from dataclasses import replace
from pathlib import Path

import pytest

from siteplan.books.pipes import pipe
from siteplan.site import Rain, Sizing
from siteplan.values.laid_pipe import Bedding
from siteplan.values.lines import Reach
from siteplan.values.tried import LaidOut
from siteplan.values.water_ends import Inflows, Source
from siteplan.waterworks.carried import network
from siteplan.waterworks.inflows import inflows_told, inlet_flows
from siteplan.waterworks.overland import way_of
from siteplan.waterworks.sizing import laid_to_fit, on_offer, run_sizes
from siteplan.waterworks.works import water_of


@pytest.fixture(scope="module")
def scenes():
    place = Path(__file__).parents[1] / "checks" / "scenes.py"
    spec = importlib.util.spec_from_file_location("siteplan_layout_scenes", place)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


BRANCHED = {
    "sources": [
        {"id": "S1", "kind": "downspout", "name": "DS-1", "at": [40.0, 20.0], "roof_area": 50.0},
        {"id": "S2", "kind": "downspout", "name": "DS-2", "at": [40.0, 12.0], "roof_area": 100.0},
        {"id": "S3", "kind": "sump", "name": "SUMP", "at": [30.0, 20.0], "pump_rate": 0.002},
    ],
    "lines": [
        {
            "id": "L1",
            "start": "S1",
            "end": "O1",
            "sources": ["S1", "S2", "S3"],
            "path": [[10.0, 20.0], [25.0, 20.0], [30.0, 20.0], [40.0, 20.0]],
            "grade": 0.02,
        },
        {"id": "L2", "start": "S2", "end": "L1", "path": [[25.0, 20.0], [40.0, 12.0]], "grade": 0.02},
    ],
}


def built(scenes, **more):
    return scenes.build(**{**BRANCHED, **more})


def test_flows_add_at_each_wye_and_each_source(scenes):
    plan, site = built(scenes)
    net = network(plan.lines, plan.outlets, site.sources, plan.inflows, Sizing())
    told = {piece.run.id: (piece.station_from, piece.station_to, net.flows[piece.run.id]) for piece in net.pieces}
    assert told == {
        "L1/1": (0.0, 15.0, pytest.approx(0.0015 + 0.003 + 0.002)),
        "L1/2": (15.0, 20.0, pytest.approx(0.0015 + 0.002)),
        "L1/3": (20.0, 30.0, pytest.approx(0.0015)),
        "L2/1": (0.0, 17.0, pytest.approx(0.003)),
    }
    assert {piece.run.id: piece.run.into for piece in net.pieces} == {
        "L1/1": None,
        "L1/2": "L1/1",
        "L1/3": "L1/2",
        "L2/1": "L1/1",
    }
    assert net.feeds == {"S1": "L1/3", "S2": "L2/1", "S3": "L1/2"}  # the sump drops straight into the line
    assert net.roots == {"L1": "L1/1"}


def test_one_flow_not_known_makes_all_below_it_unknown(scenes):
    plan, site = built(scenes)
    dry = Inflows(flows=tuple(one for one in plan.inflows.flows if one[0] != "S2"))
    flows = network(plan.lines, plan.outlets, site.sources, dry, Sizing()).flows
    assert flows["L1/1"] is None
    assert flows["L2/1"] is None
    assert flows["L1/2"] == pytest.approx(0.0035)


def test_runs_are_split_where_the_pipe_changes(scenes):
    plan, site = built(scenes)
    heavy = pipe("pvc_sch40", "4 in")
    line = plan.lines[0]
    ends = [(0.0, 4.57, heavy), (4.57, line.length, line.pipe)]
    reaches = tuple(
        Reach(station_from=a, station_to=b, place="lawn", pipe=p, why="", bedding=Bedding.FIRM, cover_min=0.3)
        for a, b, p in ends
    )
    lines = (replace(line, reaches=reaches), plan.lines[1])
    net = network(lines, plan.outlets, site.sources, plan.inflows, Sizing())
    own = net.of_line("L1")
    assert [round(piece.station_to, 2) for piece in own] == [4.57, 15.0, 20.0, 30.0]
    assert own[0].run.bore == heavy.bore
    assert own[0].run.invert_up == pytest.approx(own[1].run.invert_down)
    assert next(piece for piece in net.pieces if piece.line == "L2").run.into == "L1/2"


def test_a_drop_in_a_line_is_no_run(scenes):
    plan, site = built(scenes)
    line = plan.lines[0]
    lower = replace(line.vertices[1], invert=line.vertices[1].invert - 0.1)
    dropped = replace(line, vertices=(line.vertices[0], lower, *line.vertices[1:]))
    net = network((dropped, plan.lines[1]), plan.outlets, site.sources, plan.inflows, Sizing())
    first, second = net.of_line("L1")[:2]
    assert second.run.invert_down - first.run.invert_up == pytest.approx(0.1)


def test_age_sets_the_roughness(scenes):
    plan, site = built(scenes)
    taken = {
        age: network(plan.lines, plan.outlets, site.sources, plan.inflows, Sizing(age=age)).pieces[0].run.roughness
        for age in ("design", "new", "aged")
    }
    assert taken == {"design": 0.011, "new": 0.010, "aged": 0.013}


def test_sizes_grow_downstream_and_never_shrink(scenes):
    plan, site = built(scenes, rainfall=8e-5)  # 4, 8 and 2 L/s: the trunk carries 14
    asked = {
        name: size.nominal for name, size in run_sizes(site, plan.inflows, plan.lines, on_offer(site.sizing)).items()
    }
    assert asked == {"L1/1": "6 in", "L1/2": "4 in", "L1/3": "4 in", "L2/1": "4 in"}
    more = {
        name: size.nominal
        for name, size in run_sizes(
            replace(site, sizing=Sizing(smallest="6 in")), plan.inflows, plan.lines, on_offer(Sizing(smallest="6 in"))
        ).items()
    }
    assert set(more.values()) == {"6 in"}


@pytest.mark.parametrize(
    ("kind", "first"), [("pvc_sdr35", "4 in"), ("pvc_metric", "DN 110"), ("pe_corr_single", "4 in")]
)
def test_sizes_on_offer(kind, first):
    names = [one.nominal for one in on_offer(Sizing(pipe=kind))]
    assert names[0] == first
    assert names == [one.nominal for one in sorted(on_offer(Sizing(pipe=kind)), key=lambda one: one.bore)]
    assert [one.nominal for one in on_offer(Sizing(pipe="pe_corr_single", smallest="3 in", largest="6 in"))] == [
        "3 in",
        "4 in",
        "6 in",
    ]


def test_a_larger_pipe_goes_round_again_and_side_lines_keep_the_smaller(scenes):
    plan, site = built(scenes, rainfall=8e-5)
    laid_with = []

    def lay(size):
        laid_with.append(size.nominal)
        again, _ = built(
            scenes, rainfall=8e-5, lines=[{**line, "pipe": [size.kind, size.nominal]} for line in BRANCHED["lines"]]
        )
        return LaidOut(lines=again.lines, outlets=again.outlets, candidates=(), notes=())

    lines = laid_to_fit(site, plan.inflows, lay).laid.lines
    assert laid_with == ["4 in", "6 in"]
    assert [line.pipe.nominal for line in lines] == ["6 in", "4 in"]
    six, four = pipe("pvc_sdr35", "6 in"), pipe("pvc_sdr35", "4 in")
    branch = lines[1]
    for row in branch.rows:
        assert row.cover == pytest.approx(row.ground - row.invert - four.rise)
        assert row.cut == pytest.approx(row.ground - row.invert + four.below + 0.25 * 0.3048)
    assert lines[0].rows[0].cover == pytest.approx(lines[0].rows[0].ground - lines[0].rows[0].invert - six.rise)


def test_a_larger_pipe_that_strands_a_source_is_laid_for_the_others(scenes):
    """L2's own source has no line under 6 in; beside the others it has one in 4 in."""
    wet = [{**BRANCHED["sources"][0], "roof_area": 110.0}, *BRANCHED["sources"][1:]]
    plan, site = built(scenes, rainfall=8e-5, sources=wet)
    alone = replace(plan.lines[1], end="O2")
    trunk = replace(plan.lines[0], sources=("S1", "S3"))

    def lay(size):
        lines = plan.lines if size.nominal == "4 in" else (replace(trunk, pipe=size),)
        return LaidOut(lines=lines, outlets=plan.outlets, candidates=(), notes=())

    def beside(size, there):
        assert size.nominal == "4 in"
        return replace(there, lines=(*there.lines, replace(alone, pipe=size)))

    sized = laid_to_fit(site, plan.inflows, lay, beside)
    assert [(line.sources, line.pipe.nominal) for line in sized.laid.lines] == [
        (("S1", "S3"), "6 in"),
        (("S2",), "4 in"),
    ]
    assert sized.barred == ()


def test_a_larger_pipe_that_strands_a_source_is_not_laid(scenes):
    plan, site = built(scenes, rainfall=8e-5)

    def lay(size):
        lines = plan.lines if size.nominal == "4 in" else ()
        return LaidOut(lines=lines, outlets=plan.outlets, candidates=(), notes=())

    sized = laid_to_fit(site, plan.inflows, lay)
    assert {line.pipe.nominal for line in sized.laid.lines} == {"4 in"}
    assert {(one.line, one.asked, one.laid) for one in sized.barred} == {("L1", "6 in", "4 in")}
    assert {one.source for one in sized.barred} == {"S1", "S2", "S3"}


def water(scenes, **more):
    from siteplan.ground.runoff import runoff_surface

    plan, site = built(scenes, **more)
    return water_of(site, plan.inflows, runoff_surface(site), plan.low_spots, plan.lines, plan.outlets), plan, site


def test_each_line_has_its_runs_links_and_levels(scenes):
    told, plan, site = water(scenes)
    trunk = told.lines[0]
    assert [(run.station_from, run.station_to) for run in trunk.runs] == [(0.0, 15.0), (15.0, 20.0), (20.0, 30.0)]
    assert trunk.runs[0].full == pytest.approx(0.0088571, rel=1e-3)
    assert trunk.runs[0].share == pytest.approx(trunk.runs[0].flow / (0.9775 * trunk.runs[0].full), rel=1e-3)
    stations = [station for station, _ in trunk.levels]
    assert stations == sorted(stations)
    assert stations[0] == 0.0
    assert stations[-1] == pytest.approx(plan.lines[0].length)
    for station, level in trunk.levels:
        assert level > plan.lines[0].vertices[0].invert + 0.02 * station
    assert trunk.rim == site.sources[0].ground
    assert trunk.weakest.kind == "run"
    assert {link.kind for link in trunk.links} == {"run", "downspout adaptor"}
    assert "Manning" in told.basis


@pytest.mark.parametrize(
    ("told", "said"),
    [
        ({"air_gap": "open"}, "The gap at SUMP is open, and its rim is not given"),
        ({"air_gap": "none"}, "No open gap is known at SUMP"),
        ({}, "No open gap is known at SUMP"),
        ({"rim": 11.0, "air_gap": "open"}, None),
    ],
)
def test_a_gap_is_told_as_far_as_it_is_known(scenes, told, said):
    sump = {**BRANCHED["sources"][2], **told}
    notes = [note for note in water(scenes, sources=[*BRANCHED["sources"][:2], sump])[0].notes if "gap" in note]
    assert (notes == []) if said is None else (len(notes) == 1 and notes[0].startswith(said))


def test_weak_links_come_first(scenes):
    sources = [{**BRANCHED["sources"][0], "diameter": 0.05}, *BRANCHED["sources"][1:]]
    told, _, _ = water(scenes, sources=sources)
    assert told.lines[0].weakest.kind == "leader"
    outlets = [
        {"id": "O1", "kind": "curb_outlet", "name": "CURB", "at": [10.0, 20.0], "diameter": 0.06, "curb_height": 0.15}
    ]
    told, _, _ = water(scenes, outlets=outlets)
    weakest = told.lines[0].weakest
    assert (weakest.kind, weakest.name) == ("curb hole", "CURB")
    assert "holes needed" in weakest.statement
    assert "of concrete left" in weakest.statement


def test_a_curb_hole_passes_what_the_line_brings_it_and_not_what_a_steep_last_piece_would(scenes):
    """The last metre falls 10 %, the line 2 %: Manning full in 60 mm at 2 % is (1/n) A (D/4)^(2/3) S^(1/2)."""
    hole = {"id": "O1", "kind": "curb_outlet", "name": "CURB", "at": [10.0, 20.0], "diameter": 0.06}
    steep = [
        {
            **BRANCHED["lines"][0],
            "path": [[10.0, 20.0], [11.0, 20.0], [25.0, 20.0], [30.0, 20.0], [40.0, 20.0]],
            "inverts": [9.912, 10.012, 10.292, 10.392, 10.592],
        },
        BRANCHED["lines"][1],
    ]
    told, plan, _ = water(scenes, outlets=[hole], lines=steep)
    (found,) = [link for link in told.lines[0].links if link.kind == "curb hole"]
    n = plan.lines[0].pipe.roughness
    asked = math.pi * 0.06**2 / 4 * (0.06 / 4) ** (2 / 3) * math.sqrt(0.02) / n
    assert found.capacity == pytest.approx(asked, rel=0.01)  # 0.447 of what 10 % would give


def test_blocked_the_water_stands_at_the_lowest_rim(scenes):
    sources = [*BRANCHED["sources"][:1], {**BRANCHED["sources"][1], "rim": 10.95}, BRANCHED["sources"][2]]
    told, _, _ = water(scenes, sources=sources)
    blocked = told.blocked[0]
    assert (blocked.source, blocked.level) == ("S2", 10.95)
    assert blocked.next_rim == pytest.approx(11.14)
    bore = pipe().bore
    assert blocked.volume == pytest.approx(math.pi * bore**2 / 4 * 47.0, rel=0.01)
    assert blocked.filled_in == pytest.approx(blocked.volume / 0.0065)


def test_a_storm_that_cannot_be_run_says_why(scenes):
    drowned = [{"id": "O1", "kind": "daylight_outlet", "name": "SLOPE", "at": [10.0, 20.0], "tail_water": 12.5}]
    told, _, _ = water(scenes, outlets=drowned)
    assert told.storm is None
    assert any("could not be run" in note and "DS-1" in note for note in told.notes)


def test_a_series_of_the_users_own_is_run(scenes):
    from siteplan.ground.runoff import runoff_surface

    plan, site = built(scenes)
    site = replace(site, rain=Rain(series=((300.0, 1e-5), (600.0, 0.0), (900.0, 4e-5))))
    storm = water_of(site, plan.inflows, runoff_surface(site), (), plan.lines, plan.outlets).storm
    assert storm.depth == pytest.approx(300 * 5e-5)
    roofs = sum(one.inflow for one in storm.sources if one.source != "S3")
    assert roofs == pytest.approx(150.0 * storm.depth)
    assert abs(storm.inflow - storm.outflow - storm.overflow - storm.flooded - storm.stored) <= 1e-9 * storm.inflow


def test_what_water_meets_stands_in_the_order_met(scenes):
    from siteplan.ground.runoff import runoff_surface

    more = [
        {"kind": "walk", "name": "Walk", "box": [6.0, 10.0, 8.0, 30.0]},
        {"kind": "curb", "name": "Curb", "line": [[-5.0, 0.0], [-5.0, 40.0]]},
        {"kind": "neighbour", "name": "West", "box": [-3.0, 0.0, -0.5, 40.0]},
    ]
    _, site = built(scenes, more=more)
    way = way_of(site, runoff_surface(site), (), 10.0, 20.0)
    assert [met.kind for met in way.meets] == ["walk", "lot line", "neighbour", "curb"]
    assert [met.distance for met in way.meets] == pytest.approx([2.0, 10.0, 10.5, 14.5], abs=0.6)
    assert way_of(site, runoff_surface(site), (), 500.0, 20.0).path == ()


def test_an_inlet_takes_the_ground_that_drains_to_it(scenes):
    from siteplan.ground.runoff import runoff_surface

    _, site = built(scenes)
    inlet = Source(id="S9", kind="inlet", name="GRATE", x=20.0, y=20.0, ground=10.7)
    wet = replace(site, sources=(*site.sources, inlet))
    surface = runoff_surface(wet)
    known, notes = inlet_flows(wet, surface, inflows_told(wet))
    row, col = (round(float(v)) for v in site.grid.to_index(20.0, 20.0))
    own = surface.gathered[row - 1 : row + 2, col - 1 : col + 2].max()  # a grate takes what passes beside it
    assert known.of("S9") == pytest.approx(0.22 * 3e-5 * own)
    assert "lawn on heavy soil" in notes[0]
    dry, said = inlet_flows(replace(wet, rainfall=None), surface, Inflows())
    assert dry.of("S9") is None
    assert said == ()
