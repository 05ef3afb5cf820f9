"""What a crew reads at each stake: hand dig, reducers, fittings of grade breaks, pipe in words.

No stakes an inch apart.
"""

from __future__ import annotations

import csv
import io
import itertools
from dataclasses import replace

import pytest

from siteplan.books.pipes import pipe
from siteplan.sheets.map_page import map_page
from siteplan.sheets.schedule import trench_schedule
from siteplan.stakeout.cutsheet import cut_sheet
from siteplan.units import FOOT, INCH
from siteplan.values.laid_pipe import Bedding
from siteplan.values.lines import Crossing, Reach
from siteplan.yard.rows import stakes_apart


def points(plan, name="L1"):
    rows = csv.DictReader(io.StringIO(trench_schedule(plan).decode("utf-8-sig")))
    return {row["station"]: row["point"] for row in rows if row["line"] == name}


def cut_notes(plan, name="L1"):
    sheet = next(line for line in cut_sheet(plan, 31.5).lines if line.line == name)
    return "; ".join(target.note for target in sheet.targets)


def with_line(plan, **changes):
    return replace(plan, lines=(replace(plan.lines[0], **changes), *plan.lines[1:]))


@pytest.fixture(scope="module")
def crossed(yard):
    plan, site = yard
    gas = Crossing(
        kind="utility",
        name="Old main",
        station_from=40 * FOOT,
        station_to=40 * FOOT,
        angle=90.0,
        cover_from=0.5,
        cover_to=0.5,
        cover_min=0.5,
        depth=2.5 * FOOT,
        service="gas",
        hand_dig=24 * INCH,
    )
    return with_line(plan, crossings=(gas,)), site


def test_a_utility_is_a_hand_dig_stake_with_its_depth(crossed):
    plan, site = crossed
    said = "HAND DIG 0+38.0 to 0+42.0, 24.0 in each side: Old main (gas or oil), 2.50 ft deep"
    assert points(plan)["0+40.0"].startswith(said)
    assert said in cut_notes(plan)
    assert said in map_page(plan, site).decode().replace("\u00a0", " ")


def test_a_depth_nobody_knows_is_said_and_never_read_out_of_a_name(crossed):
    plan, _ = crossed
    named = replace(plan.lines[0].crossings[0], name="Main, depth 3 ft", depth=None, service="")
    told = points(with_line(plan, crossings=(named,)))["0+40.0"]
    assert "Main, depth 3 ft (kind not stated), depth NOT KNOWN" in told


def test_every_pipe_that_lies_there_is_named_in_words(yard):
    plan, site = yard
    line, heavy = plan.lines[0], pipe("pvc_sch40")
    zone = 15 * FOOT
    common = {"why": "", "bedding": Bedding.FIRM, "cover_min": 0.3}
    reaches = (
        Reach(station_from=0.0, station_to=zone, place="outlet zone", pipe=heavy, coupling="adapter", **common),
        Reach(station_from=zone, station_to=line.length, place="lawn", pipe=line.pipe, **common),
    )
    laid = with_line(plan, reaches=reaches)
    page = map_page(laid, site).decode().replace("\u00a0", " ")
    both = "4 in schedule 40 PVC to 0+15.0, then 4 in SDR 35 PVC"
    assert page.count(both) >= 2  # the article and the map's card
    sheet = cut_sheet(laid, 31.5)
    assert sheet.lines[0].pipe == both
    assert "pvc_" not in trench_schedule(laid).decode()
    # the wall under the invert is that of the pipe that lies there: 0.237 in of schedule 40, 0.120 in of SDR 35
    assert "0.020 ft of wall (4 in schedule 40 PVC)" in sheet.below
    assert "0.010 ft of wall (4 in SDR 35 PVC)" in sheet.below


def test_a_change_of_size_is_a_reducer(yard):
    plan, _ = yard
    big = pipe("pvc_sdr35", "6 in")
    told = with_line(plan, pipe=big)
    assert points(told)["0+55.8"].startswith("REDUCING WYE 6 in x 4 in: L2 joins L1")
    assert points(told, "L2")["0+00.0"].startswith("REDUCING WYE 6 in x 4 in: L2 joins L1")
    assert "REDUCING WYE" in cut_notes(told)
    assert not any("REDUC" in text for text in points(plan).values())


@pytest.mark.parametrize(
    ("rise", "said"),
    [
        (0.012, ""),  # a break of 0.1 degrees
        (0.060, "spread it over 2 joints"),  # 2.7 degrees against a joint that takes 2 or so
        (0.42, "22.5\u00b0 bend laid on edge"),
        (0.27, "more than a joint takes: flexible coupling rated for it, or a 22.5\u00b0 bend rolled to suit"),
    ],
)
def test_a_grade_break_that_no_joint_turns_names_its_fitting(yard, rise, said):
    plan, _ = yard
    low, mid, high = plan.lines[0].vertices
    run = high.station - mid.station
    told = points(with_line(plan, vertices=(low, mid, replace(high, invert=mid.invert + rise * run))))["0+55.8"]
    assert (said in told) if said else ("turns" not in told)


def test_no_two_stakes_stand_an_inch_apart_and_no_word_is_lost(yard):
    plan, _ = yard
    line = plan.lines[0]
    row = next(row for row in line.rows if abs(row.station - 20 * FOOT) < 1e-6)
    near = replace(row, station=row.station + INCH, note="edge of the walk")
    beside = replace(line.rows[-1], station=line.rows[-1].station - INCH, note="cleanout")
    close = sorted((*line.rows, near, beside), key=lambda one: one.station)
    kept = stakes_apart(close, line.vertices, "ft")
    shown = [row.station for row in kept]
    assert min(b - a for a, b in itertools.pairwise(shown)) >= 0.1
    assert (shown[0], shown[-1]) == (0.0, line.length)
    apart = with_line(plan, rows=kept)
    assert points(apart)["0+20.0"] == "0+20.1: edge of the walk"
    assert points(apart)["0+70.7"].endswith("0+70.6: cleanout")
    assert "edge of the walk" in cut_notes(apart)
    # every vertex but one that stands as near to another has its stake
    assert all(min(abs(vertex.station - at) for at in shown) < 0.1 for vertex in line.vertices)


def test_a_planned_line_has_no_stakes_an_inch_apart(sample_plan):
    """On this lot a wye stands 28 mm from a grade break: both were a stake once."""
    for line in sample_plan("alder-court").plan.lines:
        stations = [row.station for row in line.rows]
        assert min(b - a for a, b in itertools.pairwise(stations)) >= 0.1
