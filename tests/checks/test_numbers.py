"""Every number that a plan stores and the recheck can find is changed in turn; each change must be noticed."""

from __future__ import annotations

import functools
import math

import pytest

from siteplan.checks.judge import findings

# a drive, a gas line and a wall crossed, a hollow on the way, a sump that joins at a wye
RICH = {
    "boxes": [{"box": [30.0, 18.0, 31.0, 22.0], "z": 10.60}],
    "more": [
        {"kind": "driveway", "name": "Drive", "box": [20.0, 0.0, 24.0, 40.0]},
        {"kind": "utility", "name": "Gas", "line": [[28.0, 0.0], [28.0, 40.0]]},
        {"kind": "wall", "name": "Wall", "line": [[15.0, 0.0], [15.0, 40.0]]},
        {"kind": "building", "name": "Shed", "box": [50.0, 2.0, 52.0, 4.0]},
    ],
    "rules": {"min_cover_m": 0.3},
    "sources": [
        {"id": "S1", "kind": "downspout", "name": "DS-1", "at": [40.0, 20.0], "roof_area": 50.0, "invert_limit": 11.0},
        {"id": "S2", "kind": "sump", "name": "SUMP", "at": [40.0, 12.0], "pump_rate": 0.0025},
    ],
    "outlets": [
        {"id": "O1", "kind": "daylight_outlet", "name": "SLOPE", "at": [10.0, 20.0]},
        {"id": "O2", "kind": "curb_outlet", "name": "CURB", "at": [2.0, 5.0], "invert": 9.5},
        {"id": "O3", "kind": "curb_outlet", "name": "CURB 2", "at": [11.0, 5.0]},
    ],
    "lines": [
        {
            "id": "L1",
            "start": "S1",
            "end": "O1",
            "sources": ["S1", "S2"],
            "grade": 0.02,
            "rows": [5.0, 10.0, 14.0],
            "path": [[10.0, 20.0], [26.0, 20.0], [33.0, 19.0], [40.0, 20.0]],
            "spare": 0.07,
        },
        {
            "id": "L2",
            "start": "S2",
            "end": "L1",
            "path": [[26.0, 20.0], [34.0, 12.0], [40.0, 12.0]],
            "grade": 0.02,
            "spare": 0.266,
        },
    ],
    "low_spots": [{"id": "LS1", "box": [29.75, 17.75, 31.25, 22.25], "depth": 0.05, "spill": 10.65, "certain": True}],
    "candidates": [{"available": 0.8, "needed": 0.3}],
}

CHANGES = [
    ("lines.0.vertices.1.x", 0.02, "L1"),
    ("lines.0.vertices.2.y", 0.10, "L1"),
    ("lines.0.vertices.1.station", 0.01, "L1"),
    ("lines.0.vertices.1.invert", 0.01, "L1"),
    ("lines.0.vertices.1.ground", 0.01, "L1"),
    ("lines.0.vertices.1.bend", 2.0, "L1"),
    ("lines.1.vertices.1.bend", -2.0, "L2"),
    ("lines.0.vertices.0.bend", 30.0, "L1"),
    ("lines.0.vertices.3.bend", 30.0, "L1"),
    ("lines.1.vertices.0.bend", 45.0, "L2"),
    ("lines.0.rows.1.station", 0.05, "L1"),
    ("lines.0.rows.1.x", 0.02, "L1"),
    ("lines.0.rows.1.y", -0.02, "L1"),
    ("lines.0.rows.1.ground", 0.01, "L1"),
    ("lines.0.rows.1.invert", -0.01, "L1"),
    ("lines.0.rows.1.cut", 0.01, "L1"),
    ("lines.0.rows.1.cover", 0.01, "L1"),
    ("lines.0.rows.1.grade", 0.001, "L1"),
    ("lines.0.rows.0.grade", 0.001, "L1"),
    ("lines.0.rows.5.station", 0.3, "L1"),
    ("lines.0.crossings.0.station_from", 0.1, "L1"),
    ("lines.0.crossings.0.station_to", 0.1, "L1"),
    ("lines.0.crossings.0.angle", -5.0, "L1"),
    ("lines.0.crossings.0.cover_from", 0.01, "L1"),
    ("lines.0.crossings.0.cover_to", 0.01, "L1"),
    ("lines.0.crossings.0.cover_min", 0.01, "L1"),
    ("lines.0.crossings.1.station_from", -0.5, "L1"),
    ("lines.0.crossings.1.cover_min", 0.01, "L1"),
    ("lines.0.crossings.1.angle", -5.0, "L1"),
    ("lines.0.crossings.2.cover_from", 0.01, "L1"),
    ("lines.0.low_spots.0.station_from", 0.1, "L1"),
    ("lines.0.low_spots.0.station_to", -0.1, "L1"),
    ("lines.0.spare", 0.2, "L1"),
    ("lines.1.spare", 0.3, "L2"),
    ("lines.0.pipe.od", 0.001, "L1"),
    ("lines.0.pipe.bore", 0.001, "L1"),
    ("lines.0.pipe.wall", 0.001, "L1"),
    ("lines.0.pipe.roughness", 0.001, "L1"),
    ("sources.0.x", 0.05, "S1"),
    ("sources.0.y", 0.05, "S1"),
    ("sources.0.ground", 0.01, "S1"),
    ("sources.0.invert_limit", 0.01, "S1"),
    ("sources.0.roof_area", 1.0, "S1"),
    ("inflows.flows.0.1", 1e-5, "S1"),
    ("sources.1.pump_rate", 1e-5, "S2"),
    ("inflows.flows.1.1", 1e-5, "S2"),
    ("outlets.0.x", 0.02, "O1"),
    ("outlets.0.y", 0.02, "O1"),
    ("outlets.0.ground", 0.01, "O1"),
    ("outlets.0.control", 0.03, "O1"),
    ("outlets.1.invert", 0.01, "O2"),
    ("outlets.1.control", 0.01, "O2"),
    ("outlets.2.control", 0.03, "O3"),
    ("low_spots.0.depth", 0.01, "LS1"),
    ("low_spots.0.area", 1.0, "LS1"),
    ("low_spots.0.volume", 0.05, "LS1"),
    ("low_spots.0.spill_elevation", 0.01, "LS1"),
    ("candidates.0.margin", 0.01, "S1"),
    ("candidates.0.fall_needed", 0.01, "S1"),
    ("accuracy", 0.01, "plan"),
]

# no more room than a reader of the plan is told of: millimetres of height, half a centimetre in plan, half a degree
LEAST = [
    ("lines.0.vertices.1.station", 0.0025, "L1"),
    ("lines.0.vertices.1.ground", 0.0025, "L1"),
    ("lines.0.vertices.1.bend", 0.6, "L1"),
    ("lines.0.rows.1.x", 0.006, "L1"),
    ("lines.0.rows.1.y", 0.006, "L1"),
    ("lines.0.rows.1.ground", 0.0025, "L1"),
    ("lines.0.rows.1.invert", 0.0012, "L1"),
    ("lines.0.rows.1.cut", 0.0012, "L1"),
    ("lines.0.rows.1.cover", 0.0012, "L1"),
    ("lines.0.rows.1.grade", 6e-5, "L1"),
    ("lines.0.crossings.0.station_from", 0.06, "L1"),
    ("lines.0.crossings.0.angle", -1.3, "L1"),
    ("lines.0.crossings.0.cover_from", 0.0025, "L1"),
    ("lines.0.crossings.0.cover_min", 0.006, "L1"),
    ("sources.0.ground", 0.0025, "S1"),
    ("sources.0.x", 0.0012, "S1"),
    ("sources.0.invert_limit", 0.0012, "S1"),
    ("sources.0.roof_area", 0.0012, "S1"),
    ("outlets.0.x", 0.0012, "O1"),
    ("outlets.0.ground", 0.0025, "O1"),
    ("outlets.1.control", 0.0012, "O2"),
    ("outlets.2.control", 0.025, "O3"),
    ("low_spots.0.depth", 0.0025, "LS1"),
    ("low_spots.0.area", 0.62, "LS1"),  # of 6.75 m2: a cell of 0.25 m2 and a twentieth
    ("low_spots.0.volume", 0.019, "LS1"),  # of 0.3375 m3: a litre and a twentieth
    ("inflows.flows.0.1", 1.6e-6, "S1"),  # of 1.5 L/s: a thousandth
    ("candidates.0.margin", 0.0012, "S1"),
]

SWAPS = [
    ("lines.0.rows.0.grade", 0.0, "L1"),
    ("lines.0.sources", ("S1", "S2", "S1"), "L1"),
    ("lines.1.sources", ("S2", "S2"), "L2"),
    ("lines.0.crossings.1.name", "Hose", "L1"),
    ("lines.0.crossings.1.service", "irrigation", "L1"),
    ("lines.0.crossings.1.depth", 0.3, "L1"),
    ("lines.0.crossings.1.hand_dig", 0.0, "L1"),
    ("lines.0.crossings.1.hand_dig", None, "L1"),
    ("lines.0.rows", [], "L1"),
    ("lines.0.crossings", (), "L1"),
    ("lines.0.low_spots", (), "L1"),
    ("lines.0.vertices.1.invert", math.nan, "L1"),
    ("lines.0.rows.2.cover", math.nan, "L1"),
    ("lines.0.spare", math.nan, "L1"),
    ("sources.0.ground_known", False, "S1"),
    ("low_spots.0.certain", False, "LS1"),
    ("low_spots.0.spill_elevation", None, "LS1"),
    ("sources", (), "S1"),
    ("outlets.1.name", "ELSEWHERE", "O2"),
]


TWICE = ("sources", "outlets", "low_spots", "candidates", "lines.0.rows", "lines.0.crossings", "lines.0.low_spots")


@pytest.fixture(scope="module")
def rich(scenes):
    return scenes.build(**RICH)


def _failing(scenes, plan, site) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for one in scenes.of_rule(findings(plan, site), "numbers-agree"):
        if one.status == "fail":
            found.setdefault(one.subject.split(":")[0].split(",")[0], []).append(one.message)
    return found


def test_untouched_plan_agrees(scenes, rich):
    assert _failing(scenes, *rich) == {}
    kept = [one.subject for one in scenes.of_rule(findings(*rich), "numbers-agree")]
    assert kept == ["L1", "L2"]


@pytest.mark.parametrize(("at", "by", "subject"), CHANGES, ids=[change[0] for change in CHANGES])
def test_a_changed_number_is_noticed(scenes, rich, at, by, subject):
    plan, site = rich
    found = _failing(scenes, scenes.changed(plan, at, by=by), site)
    assert subject in found, found


@pytest.mark.parametrize(("at", "by", "subject"), LEAST, ids=[change[0] for change in LEAST])
def test_a_number_changed_by_little_more_than_it_may_is_noticed(scenes, rich, at, by, subject):
    plan, site = rich
    assert subject in _failing(scenes, scenes.changed(plan, at, by=by), site)


def test_a_tenth_of_that_is_rounding(scenes, rich):
    plan, site = rich
    for at, by, _ in LEAST:
        plan = scenes.changed(plan, at, by=by / 10)
    assert _failing(scenes, plan, site) == {}


@pytest.mark.parametrize(("at", "to", "subject"), SWAPS, ids=[f"{swap[0]} {swap[1]}" for swap in SWAPS])
def test_a_missing_or_wrong_part_is_noticed(scenes, rich, at, to, subject):
    plan, site = rich
    changed = scenes.changed(plan, at, to=to)
    if at == "outlets.1.name":
        changed = scenes.changed(changed, "outlets.1.x", by=1.0)  # neither its name nor its place is the survey's
    found = _failing(scenes, changed, site)
    assert subject in found, found


@pytest.mark.parametrize("at", TWICE)
def test_what_is_listed_twice_is_noticed(scenes, rich, at):
    plan, site = rich
    keys = [int(key) if key.isdigit() else key for key in at.split(".")]
    listed = functools.reduce(lambda of, key: of[key] if isinstance(key, int) else getattr(of, key), keys, plan)
    assert listed
    for number, one in enumerate(listed):
        twice = (*listed[: number + 1], *listed[number:])
        told = _failing(scenes, scenes.changed(plan, at, to=twice), site)
        subject = "L1" if at.startswith("lines") else "S1" if at == "candidates" else one.id
        assert any("is listed" in text or "in the schedule" in text for text in told[subject]), told


def test_swapped_rows_are_noticed(scenes, rich):
    plan, site = rich
    rows = list(plan.lines[0].rows)
    rows[1], rows[2] = rows[2], rows[1]
    found = _failing(scenes, scenes.changed(plan, "lines.0.rows", to=tuple(rows)), site)
    assert any("order of the schedule" in message for message in found["L1"])


def test_two_lines_of_one_name_are_noticed(scenes, rich):
    plan, site = rich
    assert "L1" in _failing(scenes, scenes.changed(plan, "lines.1.id", to="L1"), site)


def test_message_states_both_numbers(scenes, rich):
    plan, site = rich
    off = scenes.changed(plan, "lines.0.rows.1.cover", by=0.25)
    stated = plan.lines[0].rows[1].cover
    assert _failing(scenes, off, site) == {
        "L1": [f"cover of a row [m]: the plan states {stated + 0.25:.4g}, the recheck finds {stated:.4g}"]
    }


def bedded(scenes, **beds):
    """The rich lot with reaches on its long line: lawn, drive, lawn, hollow, lawn, each with its bedding."""
    edges = (("lawn", 7.9), ("drive", 16.1), ("between", 19.8), ("hollow", 21.3), ("upper", 99.0))
    reaches = [{"to": to, "kind": "pvc_sdr35", "bedding": beds.get(name, "firm")} for name, to in edges]
    first, *others = RICH["lines"]
    return scenes.build(**{**RICH, "lines": [{**first, "reaches": reaches}, *others]})


@pytest.mark.parametrize(
    ("drive", "hollow", "wrong"),
    [
        ("tamped_sides", "stone_bed", 0),
        ("stone_sides", "stone_bed", 0),
        ("firm", "stone_bed", 1),  # nothing is tamped beside the pipe under wheels
        ("tamped_under", "stone_bed", 1),
        ("tamped_sides", "firm", 1),  # no stone in the hollow
        ("tamped_sides", "stone_sides", 1),
        ("firm", "firm", 2),
    ],
)
def test_a_bedding_is_what_wheels_and_wet_ground_ask(scenes, drive, hollow, wrong):
    told = [
        text for text in _failing(scenes, *bedded(scenes, drive=drive, hollow=hollow)).get("L1", []) if "bedded" in text
    ]
    assert len(told) == (1 if wrong else 0), told
    assert not told or ("so do 1 more" in told[0]) == (wrong == 2)
