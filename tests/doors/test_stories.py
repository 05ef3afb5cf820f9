"""The six stories from files laid out as they print them: what a master answers, figures included.

The stories judge cover at the points they list. The planner judges it everywhere: just past the 15 ft of heavy pipe
three of the stories' own lines are short of it, so they are laid here with heavy pipe over 20 or 25 ft, and the strict
answer is asserted beside. S4 is an as-laid check and stands with that command.
"""

from __future__ import annotations

import pytest
import shapely

from siteplan import units
from siteplan.cli.main import main
from siteplan.errors import InputError, InputErrors
from siteplan.plan import plan_site

FT = units.FOOT
RISE = 0.341  # ft, top of the 4 in sewer-grade pipe above its invert
HUNDREDTH = 0.01
TWENTY = "\n[rules]\noutlet_zone_ft = 20\n"


def feet(value):
    return None if value is None else value / FT


def tried(plan, name):
    outlet = next(outlet for outlet in plan.outlets if outlet.name == name)
    return next(candidate for candidate in plan.candidates if candidate.outlet == outlet.id)


def outlet_of(plan, name):
    return next(outlet for outlet in plan.outlets if outlet.name == name)


def reported(plan, rule):
    return [finding for finding in plan.findings if finding.rule == rule]


def told(plan, text):
    return any(text in one for one in plan.assumptions)


def cover_at(line, station):
    row = next(row for row in line.rows if abs(feet(row.station) - station) < 0.02)
    return feet(row.cover) * 12


# ---- S1


def test_s1_the_high_curb_is_no_outlet(tmp_path, stories):
    plan, _ = plan_site(stories.s1(tmp_path / "s"))
    curb = tried(plan, "CURB")
    assert not curb.feasible
    source = plan.sources[0]
    assert feet(source.ground) == pytest.approx(99.10, abs=HUNDREDTH)
    assert feet(outlet_of(plan, "CURB").control) == pytest.approx(
        97.89, abs=HUNDREDTH
    )  # the gutter's flow line, not the curb's top
    assert feet(curb.ends_fall) == pytest.approx(-0.13, abs=HUNDREDTH)
    assert curb.chance < 1e-6
    assert "short of fall by 1.04 ft" in curb.reason  # more than between the ends: the cover along the way counts too
    carried = {key for line in plan.lines for key in line.sources}
    # the source drains to the rear, and what would make the curb work is told all the same
    assert carried == {source.id}
    assert {(one.source, one.outlet) for one in plan.attempts} == {(source.id, outlet_of(plan, "CURB").id)}


def test_s1_a_rear_daylight_is_found_and_laid(tmp_path, stories):
    plan, site = plan_site(stories.s1(tmp_path / "s"))
    line = plan.lines[0]
    found = next(outlet for outlet in plan.outlets if outlet.id == line.end)
    assert found.found
    assert feet(found.y) > 5110  # behind the house
    assert feet(site.lot.exterior.distance(shapely.Point(found.x, found.y))) >= 10.0
    assert not [finding for finding in plan.findings if finding.status == "fail"]
    assert line.doubt.chance_min_grade < line.doubt.chance_falls <= 1.0
    assert told(plan, "shots.csv: points 5 are left out of the ground")


def test_s1_the_masters_way_out_is_go_with_heavy_pipe_past_the_bank(tmp_path, stories):
    rear = stories.one("daylight_outlet", (5138, 2012), "REAR", invert=96.00)
    strict, _ = plan_site(stories.s1(tmp_path / "a", features=[rear]))
    assert feet(tried(strict, "REAR").ends_fall) == pytest.approx(1.76, abs=HUNDREDTH)
    plan, _ = plan_site(stories.s1(tmp_path / "b", features=[rear], tables=TWENTY.replace("20", "25")))
    go = tried(plan, "REAR")
    assert go.feasible
    assert feet(go.ends_fall) / 76.7 * 100 == pytest.approx(2.29, abs=0.02)
    assert not tried(plan, "CURB").feasible


# ---- S2


def test_s2_the_popup_is_not_taken_and_the_easement_is(tmp_path, stories):
    plan, _ = plan_site(stories.s2(tmp_path / "s", tables=TWENTY))
    assert not tried(plan, "POPUP").chosen
    swale = tried(plan, "SWALE")
    assert swale.chosen
    source = plan.sources[0]
    assert feet(outlet_of(plan, "SWALE").control) == pytest.approx(98.73, abs=HUNDREDTH)
    assert feet(swale.ends_fall) / 78.4 * 100 == pytest.approx(1.44, abs=0.02)
    line = plan.lines[0]
    assert 72 < feet(line.length) < 80  # 78.4 ft by the master; 68.5 ft as the crow flies
    assert units.flow_text(plan.inflows.of(source.id), "ft") == "61.2 gpm"
    assert reported(plan, "foundation-backfill")[0].status == "flag"
    assert not [finding for finding in plan.findings if finding.status == "fail"]
    assert told(plan, "shots.csv: points 5, 9 are left out of the ground")  # a threshold and a sketch are no ground


def test_s2_by_the_letter_of_fifteen_feet_it_misses_by_a_hundredth(tmp_path, stories):
    plan, _ = plan_site(stories.s2(tmp_path / "s"))
    swale = tried(plan, "SWALE")
    assert feet(swale.margin) == pytest.approx(-0.01, abs=HUNDREDTH)
    assert 0.1 < swale.chance < 0.5  # inside what the shots can tell: no plain no
    first = next(one for one in plan.attempts if one.outlet == swale.outlet).cures[0]
    assert (first.kind, feet(first.held)) == ("outlet-zone", pytest.approx(15))
    assert feet(first.amount) == pytest.approx(20)


# ---- S3


def test_s3_daylight_at_the_toe_of_the_bank(tmp_path, stories):
    plan, _ = plan_site(stories.s3(tmp_path / "s", tables=TWENTY))
    line = plan.lines[0]
    assert outlet_of(plan, "BANK").id == line.end
    assert feet(line.length) == pytest.approx(60.0, abs=0.1)
    start, end = line.vertices[-1].invert, line.vertices[0].invert
    # the limit is 98.26 and 1.51 %; the master starts at 98.25 and 1.50 %, with 12.1 in at the wall
    assert feet(start) == pytest.approx(98.25, abs=HUNDREDTH)
    assert feet(end) == pytest.approx(97.35, abs=HUNDREDTH)
    assert feet(start - end) / 60 * 100 == pytest.approx(1.50, abs=0.02)
    assert cover_at(line, 60.0) == pytest.approx(12.1, abs=0.15)
    assert line.doubt.chance_falls > 0.99
    assert told(
        plan,
        (
            "all shots lie on one line; the ground is taken as level across it for 6.0 ft on each side, as strip "
            "in site.toml says"
        ),
    )


def test_s3_popups_stand_above_any_invert(tmp_path, stories):
    plan, _ = plan_site(stories.s3(tmp_path / "s"))
    farther = tried(plan, "POPUP 42")
    assert not farther.feasible
    assert feet(farther.ends_fall) == pytest.approx(-0.74, abs=HUNDREDTH)
    old = outlet_of(plan, "POPUP OLD")
    assert feet(old.ground - plan.sources[0].ground) == pytest.approx(
        0.12, abs=HUNDREDTH
    )  # water walks back to the wall
    assert not tried(plan, "POPUP OLD").feasible


# ---- S5


def test_s5_cover_is_told_at_both_edges_and_heavy_pipe_is_laid(tmp_path, stories):
    plan, _ = plan_site(stories.s5(tmp_path / "s"))
    line = plan.lines[0]
    (drive,) = [crossing for crossing in line.crossings if crossing.kind == "driveway"]
    assert feet(drive.station_from) == pytest.approx(38, abs=0.05)
    assert feet(drive.station_to) == pytest.approx(50, abs=0.05)
    for cover, station, surface in ((drive.cover_from, 38, 98.40), (drive.cover_to, 50, 98.70)):
        at = [vertex for vertex in line.vertices if feet(vertex.station) <= station][-1]
        above = next(vertex for vertex in line.vertices if feet(vertex.station) > station)
        share = (station - feet(at.station)) / (feet(above.station) - feet(at.station))
        invert = feet(at.invert) + share * (feet(above.invert) - feet(at.invert))
        under = next(
            reach.pipe for reach in line.reaches if feet(reach.station_from) <= station < feet(reach.station_to)
        )
        assert feet(cover) == pytest.approx(surface - invert - feet(under.rise), abs=HUNDREDTH)
    assert 12.0 <= feet(drive.cover_min) * 12 < 18.0  # lawful in heavy pipe only
    assert {
        reach.pipe.kind for reach in line.reaches if feet(reach.station_from) < 50 and feet(reach.station_to) > 38
    } == {"pvc_sch40"}
    (verdict,) = reported(plan, "min-cover-pavement-heavy")
    assert verdict.status == "pass"
    assert min(row.grade for row in line.rows) * 100 >= 1.0 - 1e-6
    assert feet(outlet_of(plan, "SWALE").control) == pytest.approx(96.20, abs=HUNDREDTH)


# ---- S6


def test_s6_the_metre_file_stops_with_the_evidence(tmp_path, stories, capsys):
    folder = stories.s6(tmp_path / "s")
    assert main(["plan", str(folder), "--out", str(tmp_path / "out")]) == 2
    said = capsys.readouterr().err
    assert said.startswith("shots.csv: is it in metres? lengths declared as ft; elevations declared as ft; ")
    for evidence in (
        "the lot reads 18.29 x 45.72 (836 square), which in m is the plat's 60.00 x 150.00 ft",
        "in ft a roof of 1750 would stand on a lot of 836 square",
        "'BM STEP NAIL EL 100.00' (row 5) has elevation 30.480, which is 100.00 x 0.3048",
        'Say points_unit = "m" under [ground] if so',
    ):
        assert evidence in said
    assert not (tmp_path / "out").exists()


def test_s6_answered_it_is_go(tmp_path, stories):
    plan, _ = plan_site(stories.s6(tmp_path / "s", ground={"points_unit": '"m"'}))
    source, rear = plan.sources[0], outlet_of(plan, "REAR")
    assert feet(source.ground) == pytest.approx(99.20, abs=HUNDREDTH)
    assert feet(rear.ground) == pytest.approx(96.20, abs=HUNDREDTH)
    go = tried(plan, "REAR")
    assert go.feasible
    assert feet(go.ends_fall) == pytest.approx(1.61, abs=HUNDREDTH)
    assert feet(go.ends_fall) / 90.0 * 100 == pytest.approx(1.79, abs=0.02)
    line = plan.lines[0]
    assert feet(line.length) == pytest.approx(90.0, abs=0.5)
    # highest 97.86; shots are good to 0.01 ft, and 1.645 times that is kept as margin
    # and one grade that a crew sets may lie deeper, never higher
    assert 96.25 + 0.90 < feet(line.vertices[-1].invert) <= 97.86 - 0.016 + HUNDREDTH
    assert told(plan, "shots.csv: coordinates in m as a person confirmed: the lot reads 18.29 x 45.72")


def test_s6_read_as_feet_against_the_evidence_is_refused(tmp_path, stories):
    with pytest.raises(
        (InputError, InputErrors), match=r"coordinates are said to be in ft, and all evidence speaks against it"
    ):
        plan_site(stories.s6(tmp_path / "s", ground={"points_unit": '"ft"'}))


def test_s6_swapped_it_is_called_mirrored(tmp_path, stories):
    with pytest.raises(
        (InputError, InputErrors),
        match=r"the plan is mirrored, though every length and slope agrees: LOT SE lies east of LOT SW",
    ):
        plan_site(stories.s6(tmp_path / "s", ground={"points_unit": '"m"', "points_order": '"east-first"'}))
