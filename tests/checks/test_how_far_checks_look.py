"""How far round a place the checks look, and by how little a stated figure may differ: just inside and just outside."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from siteplan.books.pipes import pipe
from siteplan.checks.curb_numbers import curb_mismatches
from siteplan.checks.falling import _cleanouts
from siteplan.checks.judge import findings
from siteplan.checks.outlet_ends import control_of
from siteplan.checks.ponding import _storm_answer
from siteplan.checks.scene import Words, scene_of, stock_of
from siteplan.checks.settled import Weak, _pipes_on, _pool, _springs
from siteplan.units import short_text
from siteplan.values.laid_pipe import CurbPiece, Fitting, FittingKind

CURB = {"id": "O1", "kind": "curb_outlet", "name": "CURB", "at": [10.0, 20.0]}
ALLOWED = (
    0.04 * 0.3048
)  # over the gutter's flow line: the worked line of the project's reference on the trade, section 5


def own_control(scenes, outlet, at=None, **scene):
    plan, site = scenes.build(outlets=[outlet], **scene)
    place = (
        plan.outlets[0]
        if at is None
        else scenes.changed(scenes.changed(plan, "outlets.0.x", by=at), "outlets.0.name", to="")
    )
    return control_of(scene_of(plan, site), place if at is None else place.outlets[0])


@pytest.mark.parametrize(("away", "seen"), [(0.5, True), (0.7, False)])
def test_a_gutter_is_the_lowest_ground_within_six_tenths_of_a_metre(scenes, away, seen):
    """A curb and its gutter are two feet wide (common practice, no source): what is lower beyond is another's."""
    low = {"box": [10.0 + away - 0.01, 19.99, 10.0 + away + 0.01, 20.01], "z": 9.0}
    control, given = own_control(
        scenes, CURB, boxes=[low], cell=0.1, knots=[[-20.0, 9.9], [80.0, 9.9]], extent=[0, 10, 45, 30]
    )
    assert control == pytest.approx((9.0 if seen else 9.9) + ALLOWED, abs=1e-9)
    assert not given


@pytest.mark.parametrize(("away", "found"), [(0.04, True), (0.06, False)])
def test_an_outlet_without_a_name_is_the_surveyed_one_that_stands_in_its_place(scenes, away, found):
    control, given = own_control(scenes, {**CURB, "invert": 9.4}, away)
    assert given == found
    assert (control == 9.4) == found


@pytest.mark.parametrize(
    ("by", "noticed"),
    # more than the recheck finds by what its samples take; less by the wall of a heavier pipe. Ours
    [(0.0015, False), (0.0025, True), (-0.018, False), (-0.022, True)],
)
def test_a_stated_fall_to_spare_is_the_one_that_is_there(scenes, by, noticed):
    plan, site = scenes.build()
    found = scenes.of_rule(findings(scenes.changed(plan, "lines.0.spare", by=by), site), "numbers-agree")
    assert any(one.status == "fail" and "spare" in one.message for one in found) == noticed


@pytest.mark.parametrize(("lift", "out"), [(0.019, False), (0.021, True)])
def test_a_pipe_that_shows_behind_a_curb_stands_out_by_two_centimetres_over_the_least_grade(scenes, lift, out):
    """On the least grade up from the hole the survey is short of the curb.

    Two centimetres over it the line is laid too steep. Ours.
    """
    outlet = {**CURB, "invert": 9.4}
    line = {
        "id": "L1",
        "start": "S1",
        "end": "O1",
        "path": [[10.0, 20.0], [12.0, 20.0], [40.0, 20.0]],
        "grade": 0.01,
        "reaches": [],
    }
    knots = [[-20.0, 9.39], [12.5, 9.42], [13.5, 10.6], [80.0, 11.0]]
    plan, site = scenes.build(outlets=[outlet], lines=[line], knots=knots)
    for vertex in (1, 2):
        plan = scenes.changed(plan, f"lines.0.vertices.{vertex}.invert", by=lift)
    (found,) = scenes.of_rule(findings(plan, site), "daylight-stretch")
    assert ("falls steeply into the hole" in found.message) == out


@pytest.mark.parametrize(
    ("ends", "says", "where"),
    [
        (1.5, None, None),
        (1.5015, None, None),
        (1.5025, "station of the reducer", "stated"),  # two millimetres: what a schedule prints of a station. Ours
        (1.5275, "station of the reducer", "both"),  # five feet and as much: the reference on the trade, section 5
    ],
)
def test_the_smaller_pipe_at_a_curb_ends_where_its_reach_ends_and_within_five_feet(scenes, ends, says, where):
    outlet = {**CURB, "diameter": 0.0779}
    small = {"to": ends if where == "both" else 1.5, "kind": "pvc_sch40", "nominal": "3 in"}
    line = {
        "id": "L1",
        "start": "S1",
        "end": "O1",
        "path": [[10.0, 20.0], [40.0, 20.0]],
        "grade": 0.02,
        "reaches": [small, {"to": 99.0, "kind": "pvc_sch40"}],
    }
    plan, site = scenes.build(outlets=[outlet], lines=[line])
    piece = CurbPiece(pipe=pipe("pvc_sch40", "3 in"), number=1, station_to=ends, fitting="flat-bottom reducer")
    scene = scene_of(replace(plan, lines=(replace(plan.lines[0], curb_piece=piece),)), site)
    found = [what for _, what, *_ in curb_mismatches(scene, scene.walks["L1"])]
    assert any(says in what for what in found) if says else not found


@pytest.mark.parametrize(("long", "looked_at"), [(5.9, 1), (6.1, 2)])
def test_a_pipe_on_a_fourth_of_what_the_other_has_of_the_weak_ground_is_looked_at_too(scenes, long, looked_at):
    """30 m, all of it weak: heavy pipe on 6 m of it beside 24 m of the line's own.

    A few sticks bend as the line round them: ours.
    """
    reaches = [
        {"to": 20.0, "kind": "pvc_sdr35"},
        {"to": 20.0 + long, "kind": "pvc_sch40"},
        {"to": 99.0, "kind": "pvc_sdr35"},
    ]
    line = {"id": "L1", "start": "S1", "end": "O1", "path": [[10.0, 20.0], [40.0, 20.0]], "grade": 0.02}
    plan, site = scenes.build(lines=[{**line, "reaches": reaches}])
    walk = scene_of(plan, site).walks["L1"]
    weak = SimpleNamespace(start=0.0, end=30.0)
    assert len(_pipes_on(walk, (weak,))) == looked_at


@pytest.mark.parametrize(("turn", "back"), [(137.0, False), (142.0, True)])
def test_a_branch_that_runs_back_at_its_trunk_cannot_be_made(scenes, turn, back):
    """A wye's 45 degrees and two fittings of 45 make 135: common practice, no source. The trunk runs west."""
    way = math.radians(180.0 - turn)
    start = [25.0 - 8.0 * math.cos(way), 20.0 + 8.0 * math.sin(way)]
    trunk = {"id": "L1", "start": "S1", "end": "O1", "path": [[10.0, 20.0], [25.0, 20.0], [40.0, 20.0]], "grade": 0.02}
    branch = {"id": "L2", "start": "S2", "end": "L1", "path": [[25.0, 20.0], start], "grade": 0.02, "reaches": []}
    sources = [
        {"id": "S1", "kind": "downspout", "name": "DS-1", "at": [40.0, 20.0], "roof_area": 50.0},
        {"id": "S2", "kind": "downspout", "name": "DS-2", "at": start, "roof_area": 50.0},
    ]
    plan, site = scenes.build(sources=sources, lines=[{**trunk, "reaches": []}, branch])
    found = " ".join(one.message for one in scenes.of_rule(findings(plan, site), "bend", "L2"))
    assert ("No fittings turn water back" in found) == back
    assert ("Turn it in before its wye" in found) != back


@pytest.mark.parametrize(("inside", "runs_in"), [(0.28, False), (0.38, True)])
def test_a_downspout_drawn_on_its_wall_may_lie_a_foot_inside_it(scenes, inside, runs_in):
    """Drawings are no better: 0.3 m past a wall's outline, which itself is known to 0.05 m. Ours.

    The house begins at x = 40.
    """
    at = [40.05 + inside, 20.0]
    source = {"id": "S1", "kind": "downspout", "name": "DS-1", "at": at, "roof_area": 50.0}
    line = {"id": "L1", "start": "S1", "end": "O1", "path": [[10.0, 20.0], at], "grade": 0.02, "reaches": []}
    found = scenes.of_rule(findings(*scenes.build(sources=[source], lines=[line])), "clear-of-building", "L1")
    assert any("runs inside a building" in one.message for one in found) == runs_in


@pytest.mark.parametrize(("away", "astray"), [(0.04, False), (0.06, True)])
def test_a_line_ends_at_its_outlet_to_five_centimetres(scenes, away, astray):
    line = {"id": "L1", "start": "S1", "end": "O1", "path": [[10.0 + away, 20.0], [40.0, 20.0]], "grade": 0.02}
    found = scenes.of_rule(findings(*scenes.build(lines=[{**line, "reaches": []}])), "outlet-control", "L1")
    assert any("away from SLOPE" in one.message for one in found) == astray


@pytest.mark.parametrize(("away", "gone"), [(0.28, False), (0.32, True)])
def test_a_line_takes_the_water_of_a_source_that_it_starts_at(scenes, away, gone):
    line = {"id": "L1", "start": "S1", "end": "O1", "path": [[10.0, 20.0], [40.0 - away, 20.0]], "grade": 0.02}
    found = scenes.of_rule(findings(*scenes.build(lines=[{**line, "reaches": []}])), "served", "S1")
    assert any("away from it" in one.message for one in found) == gone


@pytest.mark.parametrize(("under", "buried"), [(0.005, False), (0.007, True)])
def test_an_end_at_daylight_is_at_the_ground_to_a_printed_digit(scenes, under, buried):
    """0.02 ft is what a schedule prints. The ground at the face is at 9.9 m, and the site gives the invert."""
    outlet = {"id": "O1", "kind": "daylight_outlet", "name": "SLOPE", "at": [10.0, 20.0], "invert": 9.9 - under}
    found = scenes.of_rule(findings(*scenes.build(outlets=[outlet])), "outlet-control", "L1")
    assert any("below the ground at its face" in one.message for one in found) == buried


LIFT = {
    "outlets": [
        {"id": "O1", "kind": "daylight_outlet", "name": "SLOPE", "at": [10.0, 20.0]},
        {"id": "O2", "kind": "daylight_outlet", "name": "BANK", "at": [10.0, 28.0]},
    ],
    "pressed": [
        {"id": "P1", "start": "S9", "end": "O2", "path": [[10.0, 28.0], [30.0, 28.0]], "inverts": [9.915, 10.3]}
    ],
    "pumps": [{"source": "S9", "at": [30.0, 28.0], "discharge": "BANK", "curve": [[0.0, 6.0], [0.004, 3.012]]}],
}


@pytest.mark.parametrize(
    ("figure", "plain", "part"),
    [
        # heads to a centimetre and a part found two ways; what runs back and times to two in a hundred. Ours
        ("static", 0.01, 0.0),
        ("length", 0.01, 0.0),
        ("friction", 0.01, 0.015),
        ("fittings", 0.01, 0.03),
        ("flow", 1e-6, 0.015),
        ("velocity", 0.005, 0.015),
        ("fallen", 1e-4, 0.02),
        ("wanted_flow", 1e-6, 0.015),
        ("wanted_head", 0.02, 0.015),
    ],
)
def test_figures_of_a_lift_are_those_that_are_worked_out_again(scenes, figure, plain, part):
    pumps = [{**LIFT["pumps"][0], "check_valve": figure != "fallen"}]
    plan, site = scenes.build(**{**LIFT, "pumps": pumps})
    stated = getattr(plan.pressed[0].pumped, figure)
    assert stated > 0
    for share, noticed in ((0.95, False), (1.08, True)):
        edited = scenes.changed(plan, f"pressed.0.pumped.{figure}", by=share * (plain + part * stated))
        found = scenes.of_rule(findings(edited, site), "numbers-agree", "P1")
        assert any(one.status == "fail" for one in found) == noticed, share


@pytest.mark.parametrize(("long", "crosses"), [(0.08, False), (0.12, True)])
def test_a_hollows_edge_is_touched_by_less_than_a_decimetre(scenes, long, crosses):
    """Rims are no better known: ours. A strip of a shallow hollow across the line at 20 m."""
    spot = {"id": "LS1", "box": [20.0, 15.0, 20.0 + long, 25.0], "depth": 0.03, "spill": 10.6, "certain": False}
    found = scenes.of_rule(findings(*scenes.build(low_spots=[spot])), "low-spot-crossed", "L1")
    text = " ".join(one.message for one in found)
    assert ("crosses" in text) == crosses
    assert ("touches the edge" in text) != crosses


@pytest.mark.parametrize(
    ("over", "spilt", "told"),
    [
        (0.031, 0.0, "broken"),
        (0.029, 0.0, "cannot tell"),
        (-0.029, 0.0, "cannot tell"),
        (-0.031, 0.0, "kept"),
        (-0.5, 0.01, "broken"),
    ],
)
def test_a_level_three_centimetres_from_the_rim_is_not_told_apart_from_it(over, spilt, told):
    """Two ways of finding the water's level agree to that: ours. What came out in the storm is out."""
    assert _storm_answer(over, spilt) == told


@pytest.mark.parametrize(("under", "cut_in"), [(0.0008, False), (0.0012, True)])
def test_a_hole_no_more_than_a_millimetre_under_the_gutter_is_at_it(scenes, under, cut_in):
    """Nobody bores truer: ours. The gutter lies at 9.9 m.

    The wall of 4 in SDR 35 is 0.12 in thick (ASTM D3034, table 1).
    """
    knots = [[-20.0, 9.9], [12.0, 9.9], [14.0, 10.6], [80.0, 11.9]]
    plan, site = scenes.build(outlets=[CURB], knots=knots)
    laid = 9.9 + 0.12 * 0.0254 - under
    lowered = scenes.changed(plan, "lines.0.vertices.0.invert", by=laid - plan.lines[0].vertices[0].invert)
    found = scenes.of_rule(findings(lowered, site), "curb-concrete")
    assert any("below the flow line of the gutter" in one.message for one in found) == cut_in


@pytest.mark.parametrize("value", [-0.0, -4e-5, -4e-4, 4e-4])
@pytest.mark.parametrize(("unit", "nothing"), [("ft", "0.0 in"), ("us-ft", "0.0 in"), ("m", "0 mm")])
def test_no_cover_is_less_than_nothing_by_nothing(value, unit, nothing):
    """A minus before a nought sends a reader after a fault that is none: 0.4 mm either way is no cover at all."""
    assert Words(unit, unit).small(value) == nothing
    assert short_text(value, unit) == nothing.replace("0.0 in", "0 in")


@pytest.mark.parametrize(("off", "outside"), [(0.34, False), (0.36, True)])
def test_a_line_within_a_foot_of_its_lot_line_is_on_it(scenes, off, outside):
    """Lot lines of a plat are no better drawn, to 0.3 m, and 5 cm of pipe beyond are none: ours.

    The lot begins at y = 0.
    """
    outlet = {"id": "O1", "kind": "daylight_outlet", "name": "SLOPE", "at": [20.0, -off]}
    line = {"id": "L1", "start": "S1", "end": "O1", "path": [[20.0, -off], [20.0, 20.0], [40.0, 20.0]], "grade": 0.02}
    found = scenes.of_rule(
        findings(*scenes.build(outlets=[outlet], lines=[{**line, "reaches": []}])), "inside-lot", "L1"
    )
    assert any("off the lot" in one.message for one in found) == outside


@pytest.mark.parametrize(("apart", "steep"), [(0.0008, False), (0.0012, True)])
def test_two_vertices_within_a_millimetre_are_one_place_and_a_rise_between_them_a_drop(scenes, apart, steep):
    """plan.json writes a micrometre, a crew sets a stake to a centimetre: ours.

    2 cm up in a millimetre is no grade of a pipe.
    """
    path = [[10.0, 20.0], [25.0, 20.0], [25.0 + apart, 20.0], [40.0, 20.0]]
    line = {"id": "L1", "start": "S1", "end": "O1", "path": path, "grade": 0.02, "reaches": []}
    plan, site = scenes.build(lines=[line])
    for vertex in (2, 3):
        plan = scenes.changed(plan, f"lines.0.vertices.{vertex}.invert", by=0.02)
    found = scenes.of_rule(findings(plan, site), "max-grade", "L1")
    assert any(one.status != "pass" for one in found) == steep


@pytest.mark.parametrize(
    ("invert", "load"),
    [
        # at the ground: pipe 2.006 lb/ft and water 62.4 lb/ft3 in 4.026 in, 29.3 + 80.5 N/m
        (10.0, 109.8),
        # 0.5 m deep: 0.391 m of wet soil, 120 lb/ft3, over 4.500 in more
        (9.5, 109.8 + 842.0),
    ],
)
def test_a_level_pipe_ponds_by_what_it_sinks_in_weak_ground(scenes, invert, load):
    """Far from the change of ground a beam on springs sinks by load over stiffness.

    15 m of 0.1 N/mm2 upstream of firm ground of 1000 psi.

    At the change it swings past that by e to the minus pi, 4 in a hundred, held there (Hetenyi, Beams on Elastic
    Foundation, 1946; memory), and by a little more where the firm side lets go of it.
    """
    outlet = {"id": "O1", "kind": "daylight_outlet", "name": "SLOPE", "at": [10.0, 20.0], "invert": invert}
    line = {"id": "L1", "start": "S1", "end": "O1", "path": [[10.0, 20.0], [40.0, 20.0]], "grade": 0.0}
    reaches = [{"to": 99.0, "kind": "pvc_sch40"}]
    level = [[-20.0, 10.0], [80.0, 10.0]]
    plan, site = scenes.build(outlets=[outlet], lines=[{**line, "reaches": reaches}], knots=level)
    scene = scene_of(plan, site)
    stock = stock_of(scene, pipe("pvc_sch40", "4 in"))
    found = _pool(scene, scene.walks["L1"], stock, (Weak(15.0, 30.0, 1e5, 0.0),))
    assert found == pytest.approx(load / 1e5 - load / (1000 * 6894.76), rel=0.08)


@pytest.mark.parametrize(("first", "holds"), [(0.0015, False), (0.0025, True)])
def test_two_millimetres_of_firm_ground_at_an_end_hold_nothing(first, holds):
    """A trench is dug no truer: ours. Weak ground begins so far from the outlet."""
    stiff, _ = _springs(np.array([0.0, 0.05, 0.10]), 0.05, (Weak(first, 0.10, 1e5, 0.0),), 0.10)
    assert (stiff[0] > 1e5 * (1 + 1e-9)) == holds
    assert stiff[1] == pytest.approx(1e5)


@pytest.mark.parametrize(("off", "counts"), [(0.0025, False), (0.0035, True)])
def test_a_cleanout_at_the_outlet_itself_is_none(scenes, off, counts):
    """Three times what makes two vertices one place: ours."""
    path = [[10.0, 20.0], [10.0 + off, 20.0], [40.0, 20.0]]
    line = {"id": "L1", "start": "S1", "end": "O1", "path": path, "grade": 0.02, "reaches": []}
    plan, site = scenes.build(lines=[line])
    fitted = scenes.changed(plan, "lines.0.vertices.1.fittings", to=(Fitting(kind=FittingKind.CLEANOUT),))
    assert len(_cleanouts(scene_of(fitted, site).walks["L1"])) == counts
