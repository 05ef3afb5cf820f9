"""What `siteplan plan` says of rain, curbs, sumps and sizes, from outside: its screen, plan.json, map and schedule."""

from __future__ import annotations

import csv
import itertools
import json

import pytest

from siteplan.cli.main import main

TABLE = "[[15, 5.0], [30, 3.6], [60, 2.4]]"


@pytest.fixture
def run(tmp_path, capsys):
    """Plan a folder: exit code, the screen with its lines joined, and the parts people read."""

    def go(folder):
        out = tmp_path / "out"
        code = main(["plan", str(folder), "--out", str(out)])
        screen = " ".join(capsys.readouterr().out.split())
        plan = json.loads((out / "plan.json").read_text(encoding="utf-8"))
        rows = list(csv.DictReader((out / "trench_schedule.csv").read_text(encoding="utf-8-sig").splitlines()))
        return code, screen, plan, rows, (out / "map.html").read_text(encoding="utf-8")

    return go


def of(plan, rule):
    return [one for one in plan["checks"] if one["rule"] == rule]


def test_a_table_that_begins_too_late_is_flagged_where_people_read(run, stories, tmp_path):
    folder = stories.s1(tmp_path / "site")
    text = (folder / "site.toml").read_text(encoding="utf-8")
    (folder / "site.toml").write_text(text.replace("intensity = 5.5", f"table = {TABLE}"), encoding="utf-8")
    _, screen, plan, rows, page = run(folder)
    flags = of(plan, "rain-duration")
    assert {(one["status"], one["value"], one["limit"]) for one in flags} == {("flag", 900.0, 300.0)}
    told = "begins at 15 min and a roof answers in 5 min"
    assert told in screen
    assert told in page
    wet = [row for row in rows if row["line"] in {one["subject"] for one in flags}]
    assert {row["rain_minutes"] for row in wet} == {"15 (wanted 5)"}


def test_a_duration_that_the_table_lacks_is_refused(site, tmp_path, capsys):
    folder = site(
        changes={"rainfall.intensity": None, "rainfall.table": "[[15, 127.0], [60, 61.0]]", "rainfall.duration": "5"}
    )
    assert main(["plan", str(folder), "--out", str(tmp_path / "out")]) == 2
    assert "is 5 minutes and the table begins at 15" in " ".join(capsys.readouterr().err.split())
    assert not (tmp_path / "out").exists()


def test_a_table_of_depths_is_asked_about(site, tmp_path, capsys):
    folder = site(changes={"rainfall.intensity": None, "rainfall.table": "[[5, 10.0], [15, 22.0], [60, 40.0]]"})
    assert main(["plan", str(folder), "--out", str(tmp_path / "out")]) == 2
    told = " ".join(capsys.readouterr().err.split())
    assert "10 mm in 5 minutes, is 120 mm/h" in told
    assert 'table_gives = "depths"' in told


YARD = ((4992, 98.50), (5000, 99.60), (5030, 101.00), (5068, 102.20), (5110, 102.30), (5150, 102.40))
BANK = (
    (4992, 98.40),
    (4996, 98.45),
    (4997, 99.50),
    (5001, 100.00),
    (5030, 103.00),
    (5068, 108.00),
    (5110, 108.10),
    (5150, 108.20),
)


def street(stories, folder, *, curb, roof=780, rain=5.5, tables="", yard=YARD):
    """A lot above its street, feet: a parkway behind a 6 in curb, a yard that climbs 4 ft to the house."""
    rows = []
    for east in (2000, 2012, 2030, 2060):
        rows += [
            (4985, east, 97.95, "GR"), (4989.5, east, 97.85, "GUTTER FL"), (4990, east, 98.35, "TC"),
            *((north, east, up, "GR") for north, up in yard),
        ]  # fmt: skip
    points = "".join(f"{k},{n},{e},{z},{d}\n" for k, (n, e, z, d) in enumerate(rows, 1))
    features = [
        stories.one("lot", stories.box(5000, 2000, 5150, 2060), "Lot"),
        stories.one("building", stories.box(5068, 2012, 5110, 2048), "House"),
        stories.one("curb", [(4990, 1990), (4990, 2070)], "Curb"),
        stories.one("downspout", (5068, 2012), "DS1", roof_area=roof),
        stories.one("curb_outlet", (4989.5, 2012), "CURB", **curb),
    ]
    return stories.write(folder, points, features, tables=f"\n[rainfall]\nintensity = {rain}\n{tables}")


def test_a_curb_is_not_reached_down_a_chute_that_stands_out_of_the_parkway(run, stories, tmp_path):
    _, _, plan, _, _ = run(street(stories, tmp_path / "site", curb={}, yard=BANK))
    (line,) = plan["lines"]
    # the parkway lies at 98.40 to 98.45 ft from 2.5 to 6.5 ft behind the gutter; the pipe's top is 0.341 or 0.355 ft up
    last = [(at["station"] / 0.3048, at["invert"] / 0.3048) for at in line["vertices"]]
    for feet in (2.5, 4.0, 6.0):
        (s0, z0), (s1, z1) = next((a, b) for a, b in itertools.pairwise(last) if a[0] <= feet <= b[0])
        invert = z0 + (z1 - z0) * (feet - s0) / (s1 - s0)
        assert invert + 0.341 < 98.45 + 0.005
    assert [one["status"] for one in of(plan, "daylight-stretch")] == ["pass"]


def test_the_face_of_a_curb_is_read_off_its_shots(run, stories, tmp_path):
    _, _, plan, _, _ = run(street(stories, tmp_path / "site", curb={}))
    # top of curb 98.35 less flow line 97.85 is 6 in; heavy pipe lies in the outlet zone: 4.500 in high, its bottom
    # 0.04 ft - 0.237 in = 0.243 in over the gutter: 6 - 4.500 - 0.243 = 1.257 in of concrete; 1.5 in asked, and the face
    # is known to 0.01 ft x 1.414 = 0.17 in
    (found,) = of(plan, "curb-concrete")
    assert found["status"] == "fail"
    assert found["value"] == pytest.approx(1.257 * 0.0254, abs=2e-4)
    assert any("curb face 0.50 ft" in text for text in plan["assumptions"])


def test_a_typed_face_is_judged_without_doubt_and_one_cure_is_told(run, stories, tmp_path):
    _, _, plan, _, _ = run(street(stories, tmp_path / "site", curb={"curb_height": 0.45}, roof=2400, rain=6.0))
    # 2400 sq ft at 6 in/h are 149.6 gpm; 5.4 - 1.5 - 0.36 = 3.54 in outside at most, which 3.5 in (3 in schedule 40) keeps
    (concrete,), (link,) = (
        of(plan, "curb-concrete"),
        [one for one in of(plan, "weakest-link") if "curb hole" in one["message"]],
    )
    assert (concrete["status"], link["status"]) == ("fail", "fail")
    for one in (concrete, link):
        assert "3 in" in one["message"]
        assert "holes = " in one["message"]
        assert "nlarge" not in one["message"]
        assert "maller" not in one["message"]


def test_a_large_line_into_a_small_hole_fails(run, stories, tmp_path):
    tables = '\n[water]\nsmallest = "6 in"\n'
    code, _, plan, _, _ = run(street(stories, tmp_path / "site", curb={"diameter_in": 3}, tables=tables))
    assert code == 1
    (found,) = of(plan, "curb-hole")
    assert found["status"] == "fail"
    assert "6 in line comes to a hole 3.0 in inside" in found["message"]


def test_a_face_too_low_for_the_line_is_told_one_cure_and_the_cure_is_not_failed(run, stories, tmp_path):
    # no hole is given: heavy 4 in pipe, 4.500 in high, never leaves 1.5 in of a 6 in face
    _, _, plan, _, _ = run(street(stories, tmp_path / "site", curb={}))
    (concrete,) = of(plan, "curb-concrete")
    assert concrete["status"] == "fail"
    # 780 sq ft at 5.5 in/h: 780 x 5.5 / 96.25 = 44.6 gpm
    assert "3 in" in concrete["message"]
    assert "flat-bottom reducer passes" in concrete["message"]
    assert "44.6 gpm that comes" in concrete["message"]
    assert "4 in sleeve" in concrete["message"]
    # the cure taken: nothing about this curb fails any more, and nobody asks for a larger hole
    _, _, plan, _, _ = run(street(stories, tmp_path / "cured", curb={"diameter_in": 3}))
    (concrete,), (hole,) = of(plan, "curb-concrete"), of(plan, "curb-hole")
    assert (concrete["status"], hole["status"]) == ("pass", "flag")
    assert "flat-bottom reducer" in hole["message"]
    assert [one["status"] for one in of(plan, "weakest-link")] == ["pass"]


def test_several_holes_pass_several_times_one(run, stories, tmp_path):
    curb = {"diameter_in": 3, "holes": 2, "hole_spacing": 1.0}
    _, _, plan, _, _ = run(street(stories, tmp_path / "site", curb=curb))
    (found,) = of(plan, "weakest-link")
    # two 3 in pipes, n 0.011: 48.9 gpm each at 1 % (0.4644/0.011 x (3/12)^(8/3) x 0.1 cfs); the line falls steeper
    grade = min(row["grade_percent"] for row in plan["lines"][0]["stations"] if 0 < row["station"] <= 4.6)
    by_hand = 2 * 0.46314 / 0.011 * (3 / 12) ** (8 / 3) * (grade / 100) ** 0.5 * 28.316847
    assert found["limit"] == pytest.approx(by_hand, rel=0.01)
    (hole,) = of(plan, "curb-hole")
    assert hole["status"] == "pass"


def test_a_sump_into_the_gutter_is_judged_as_the_place_says(run, stories, tmp_path):
    def planned(name, rules):
        folder = street(stories, tmp_path / name, curb={}, tables=rules)
        features = json.loads((folder / "features.geojson").read_text(encoding="utf-8"))
        sump = stories.one("sump", (5068, 2030), "SUMP", pump_rate=30, air_gap="none")
        features["features"].append(sump)
        (folder / "features.geojson").write_text(json.dumps(features), encoding="utf-8")
        return run(folder)

    _, screen, plan, _, page = planned("one", "")
    assert [one["status"] for one in of(plan, "sump-to-curb")] == ["flag"]
    assert "ask the road owner" in screen
    assert "ask the road owner" in page
    (gap,) = of(plan, "air-gap")
    assert gap["status"] == "fail"
    assert "joined without an open gap" in gap["message"]
    blocked = [one for one in of(plan, "overflow-path") if "blocked" in one["subject"]]
    assert blocked
    assert not any("SUMP" in one["message"] for one in blocked)
    code, _, plan, _, _ = planned("two", '\n[rules]\nsump_to_curb = "fail"\nair_gap = "allow"\n')
    assert code == 1
    assert [one["status"] for one in of(plan, "sump-to-curb")] == ["fail"]
    assert [one["status"] for one in of(plan, "air-gap")] == ["pass"]


def test_a_profile_says_how_water_may_leave(run, stories, tmp_path):
    folder = street(stories, tmp_path / "site", curb={})
    (folder / "town.toml").write_text(
        '[jurisdiction]\nname = "Invented Town"\ndate = "2026"\n\n[[rule]]\nid = "downspout-to-curb"\nvalue = "fail"\n'
        'source = "ordinance 7-3"\ndate = "2026"\nstatus = "local"\n',
        encoding="utf-8",
    )
    text = (folder / "site.toml").read_text(encoding="utf-8")
    (folder / "site.toml").write_text('rule_profile = "town.toml"\n' + text, encoding="utf-8")
    _, _, plan, _, page = run(folder)
    assert [one["status"] for one in of(plan, "downspout-to-curb")] == ["fail"]
    assert "ordinance 7-3" in page


def test_tail_water_is_not_passed_on_a_rim_that_nobody_gave(run, stories, tmp_path):
    drowned = {"tail_water": 101.5}  # ft: the pipe starts at 100.86, its top at 101.19, the ground at 102.20
    _, _, plan, _, _ = run(street(stories, tmp_path / "site", curb=drowned))
    (found,) = of(plan, "tail-water")
    assert found["status"] == "flag"
    assert "no rim is given there" in found["message"]


@pytest.mark.parametrize("value", ["sometimes", 1])
def test_a_verdict_is_one_of_three_words(stories, tmp_path, capsys, value):
    folder = street(stories, tmp_path / "site", curb={}, tables=f"\n[rules]\nsump_to_curb = {json.dumps(value)}\n")
    assert main(["plan", str(folder), "--out", str(tmp_path / "out")]) == 2
    assert 'Write "allow", "flag", "fail" or "unknown"' in capsys.readouterr().err


def test_where_a_printed_table_is_silent_a_larger_size_is_still_taken(run, stories, tmp_path):
    # the book holds 1/4 in per ft of this table alone, the lower run lies at 1.00 %: by Manning at 0.80 of the depth a
    # 4 in SDR 35 carries 0.977 x 99.2 = 97 gpm there, and 2100 sq ft at 5.5 in/h bring 0.01039 x 5.5 x 2100 = 120 gpm
    tables = '\n[water]\nbasis = "upc"\n'
    _, screen, plan, rows, page = run(street(stories, tmp_path / "site", curb={}, yard=BANK, roof=2100, tables=tables))
    (line,) = plan["lines"]
    assert line["pipe"]["nominal"] == "6 in"
    (found,) = of(plan, "size-fits")
    assert found["status"] == "flag"
    assert "the book holds none" in found["message"]
    assert "sized by Manning there" in screen
    assert "Manning: the book holds none of upc" in {row["capacity_by"] for row in rows}
    assert "Manning: the book holds none of upc" in page


def test_a_printed_table_is_read_at_its_row_and_a_size_up_is_taken(run, stories, tmp_path):
    # the table's rows for 4 in: 78 gpm at 1/8, 110 at 1/4, 156 at 1/2 in per ft. 2100 sq ft at 5.5 in/h bring 120 gpm,
    # 109 % of what the row at 1/4 in per ft gives a 4 in pipe and more than a lawn's grade below 1/2 in per ft may carry
    tables = '\n[water]\nbasis = "upc"\n\n[rules]\nmin_grade_percent = 2.2\n'
    _, screen, plan, rows, page = run(street(stories, tmp_path / "site", curb={}, yard=BANK, roof=2100, tables=tables))
    (line,) = plan["lines"]
    assert line["pipe"]["nominal"] == "6 in"
    (found,) = of(plan, "size-fits")
    # 314 gpm at 1/4 in per ft (2.08 %) for 6 in, 445 at 1/2 (4.17 %); nothing is read between the two
    assert found["status"] == "pass"
    assert found["limit"] == pytest.approx(314 * 231 * 0.0254**3 / 60 * 1000, rel=1e-6)
    assert "its row at 2.08 %, from memory" in found["message"]
    assert {row["capacity_by"] for row in rows} == {"upc, row at 2.08 %", "upc, row at 4.17 %"}
    assert "upc, row at 2.08 %" in page
    assert any("of its rows are from memory" in text for text in plan["assumptions"])
    assert "size-fits" not in screen


def test_a_table_is_silent_on_metric_pipe_and_says_so(run, stories, tmp_path):
    tables = '\n[water]\nbasis = "upc"\npipe = "pvc_metric"\n'
    _, screen, plan, rows, page = run(street(stories, tmp_path / "site", curb={}, tables=tables))
    flags = of(plan, "size-fits")
    assert flags
    for one in flags:
        assert one["status"] == "flag"
        assert "the book holds none for DN" in one["message"]
    assert {row["capacity_by"] for row in rows} == {"Manning: the book holds none of upc"}
    assert "Manning: the book holds none of upc" in page
    assert "the book holds none for DN" in screen


def test_a_flatter_pipe_is_not_given_more_than_the_table_gives_a_steeper_one(run, stories, tmp_path):
    # at 1.00 % Manning would give a 4 in pipe 97 gpm, the table prints 78 at 1/8 in per ft (1.04 %): 90 gpm asks for 6 in
    tables = '\n[water]\nbasis = "upc"\n'
    _, _, plan, _, _ = run(street(stories, tmp_path / "site", curb={}, yard=BANK, roof=1575, tables=tables))
    (line,) = plan["lines"]
    assert min(run["grade_percent"] for run in plan["water"]["lines"][0]["runs"]) < 1.04
    assert line["pipe"]["nominal"] == "6 in"
