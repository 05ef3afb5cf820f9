"""What `siteplan plan` says of rain, curbs, sumps and sizes, from outside: its screen, plan.json, map and schedule."""

from __future__ import annotations

import contextlib
import csv
import io
import itertools
import json
import math
import re

import pytest

from siteplan.cli.main import main

TABLE = "[[15, 5.0], [30, 3.6], [60, 2.4]]"


@pytest.fixture
def run(tmp_path, capsys):
    """Plan a folder: exit code, the screen with its lines joined, and the parts people read."""

    def go(folder, *more):
        out = tmp_path / "out"
        code = main(["plan", str(folder), "--out", str(out), *more])
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
            (4985, east, 97.95, "GR"),
            (4989.5, east, 97.85, "GUTTER FL"),
            (4990, east, 98.35, "TC"),
            *((north, east, up, "GR") for north, up in yard),
        ]
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
    _, _, plan, _, _ = run(street(stories, tmp_path / "site", curb={}, yard=BANK), "--layouts", "1")
    (line,) = plan["lines"]
    # the parkway lies at 98.40 to 98.45 ft from 2.5 to 6.5 ft behind the gutter; the pipe's top is 0.341 or 0.355 ft up
    last = [(at["station"] / 0.3048, at["invert"] / 0.3048) for at in line["vertices"]]
    for feet in (2.5, 4.0, 6.0):
        (s0, z0), (s1, z1) = next((a, b) for a, b in itertools.pairwise(last) if a[0] <= feet <= b[0])
        invert = z0 + (z1 - z0) * (feet - s0) / (s1 - s0)
        assert invert + 0.341 < 98.45 + 0.005
    assert [one["status"] for one in of(plan, "daylight-stretch")] == ["pass"]


def test_a_point_that_was_found_is_offered_and_not_taken_in_place_of_a_named_outlet(run, stories, tmp_path):
    """A bank 13 ft from the downspout costs a fifth of the 78 ft to the curb, but its owner named the curb."""
    folder = street(stories, tmp_path / "site", curb={}, yard=BANK)
    _, screen, plan, _, _ = run(folder, "--layouts", "3")
    named = {one["id"]: one["name"] for one in plan["outlets"]}
    assert [named[line["to"]] for line in plan["lines"]] == ["CURB"]
    first, second = plan["layouts"]
    assert ([end["found"] for end in first["ends"]], first["chosen"]) == ([True], False)
    assert ([end["name"] for end in second["ends"]], second["chosen"]) == (["CURB"], True)
    assert first["cost"] < second["cost"] / 3
    assert "LAYOUTS This plan is layout 2" in screen
    _, _, plan, _, _ = run(folder, "--layouts", "3", "--choose", "1")
    assert [named.get(line["to"]) for line in plan["lines"]] != ["CURB"]


def test_the_face_of_a_curb_is_read_off_its_shots(run, stories, tmp_path):
    # 3 in at 1 % takes 48.9 gpm and not the 1250 x 5.5 / 96.25 = 71.4 gpm that come, so that the line's own 4 in goes
    # to the curb
    _, _, plan, _, _ = run(street(stories, tmp_path / "site", curb={}, roof=1250))
    # top of curb 98.35 less flow line 97.85 is 6 in; heavy pipe lies in the outlet zone: 4.500 in high, its bottom
    # 0.04 ft - 0.237 in = 0.243 in over the gutter: 6 - 4.500 - 0.243 = 1.257 in of concrete; 1.5 in asked, and the
    # face
    # is known to 0.01 ft x 1.414 = 0.17 in
    (found,) = of(plan, "curb-concrete")
    assert found["status"] == "fail"
    assert found["value"] == pytest.approx(1.257 * 0.0254, abs=2e-4)
    assert found["doubt"] == pytest.approx(0.01 * 2**0.5 * 0.3048, abs=1e-5)
    assert any("curb face 0.50 ft" in text for text in plan["assumptions"])


def test_a_typed_face_is_judged_without_doubt_and_one_cure_is_told(run, stories, tmp_path):
    _, _, plan, _, _ = run(street(stories, tmp_path / "site", curb={"curb_height": 0.45}, roof=2400, rain=6.0))
    # 2400 sq ft at 6 in/h are 149.6 gpm; 5.4 - 1.5 - 0.36 = 3.54 in outside at most, which 3.5 in (3 in schedule 40)
    # keeps
    (concrete,), (link,) = (
        of(plan, "curb-concrete"),
        [one for one in of(plan, "weakest-link") if "curb hole" in one["message"]],
    )
    assert (concrete["status"], link["status"]) == ("fail", "fail")
    assert "3 in" in concrete["message"]
    assert "holes = " in concrete["message"]
    # the cure stands in one of them, the other says which
    assert "holes = " not in link["message"]
    assert "what would do is said under curb-concrete, L1" in link["message"]
    for one in (concrete, link):
        assert "nlarge" not in one["message"]
        assert "maller" not in one["message"]


def test_a_large_line_into_a_small_hole_fails(run, stories, tmp_path):
    tables = '\n[water]\nsmallest = "6 in"\n'
    code, _, plan, _, _ = run(street(stories, tmp_path / "site", curb={"diameter_in": 3}, tables=tables))
    assert code == 1
    (found,) = of(plan, "curb-hole")
    assert found["status"] == "fail"
    assert "6 in line comes to a hole 3.0 in inside" in found["message"]


def nobody_says_both(plan, screen):
    told = " ".join([one["message"] for one in plan["checks"] if one["status"] != "pass"] + [screen])
    assert "nlarge" not in told
    assert "take smaller" not in told


@pytest.mark.parametrize("curb", [{}, {"diameter_in": 3}])
def test_smaller_heavy_pipe_is_laid_to_a_curb_that_takes_no_other(run, stories, tmp_path, curb):
    # heavy 4 in pipe, 4.500 in high, never leaves 1.5 in of a 6 in face; 780 sq ft at 5.5 in/h are 44.6 gpm, which 3 in
    # takes
    _, screen, plan, table, _ = run(street(stories, tmp_path / "site", curb=curb))
    (line,) = plan["lines"]
    piece = line["curb_piece"]
    assert (piece["pipe"]["kind"], piece["pipe"]["nominal"], piece["number"]) == ("pvc_sch40", "3 in", 1)
    assert piece["fitting"] == "flat-bottom reducer"
    assert piece["station_to"] == pytest.approx(5 * 0.3048)
    last, above = line["reaches"][:2]
    assert (last["station_to"], last["pipe"]["nominal"], above["pipe"]["nominal"]) == (
        piece["station_to"],
        "3 in",
        "4 in",
    )
    assert last["coupling"].startswith("flat-bottom reducer 4 in schedule 40 PVC to 3 in schedule 40 PVC")
    # 3.500 in high, its bottom 0.04 ft - 0.216 in = 0.264 in over the gutter: 6 - 3.500 - 0.264 = 2.236 in
    (concrete,), (hole,) = of(plan, "curb-concrete"), of(plan, "curb-hole")
    assert (concrete["status"], hole["status"]) == ("pass", "flag")
    assert concrete["value"] == pytest.approx(2.236 * 0.0254, abs=2e-4)
    assert "flat-bottom reducer" in hole["message"]
    assert "cleanout" in hole["message"]
    assert [one["status"] for one in of(plan, "weakest-link")] == ["pass"]
    assert not [one for one in of(plan, "numbers-agree") if one["status"] != "pass"]
    assert not [one for one in of(plan, "size-shrinks") if one["status"] != "pass"]
    nobody_says_both(plan, screen)
    stake = next(row for row in table if "REDUCER" in row["point"])
    assert stake["coupling"].startswith("flat-bottom reducer")
    assert "REDUCER 3 in x 4 in, inverts level" in stake["point"]
    (at,) = [row for row in line["stations"] if abs(row["station"] - piece["station_to"]) < 1e-6]
    assert at["pipe_top"] == pytest.approx((4.5 + 4.026) / 2 * 0.0254, abs=1e-6)


def test_where_one_smaller_hole_does_not_take_the_water_several_do(run, stories, tmp_path):
    # 2400 sq ft at 6 in/h are 149.6 gpm; 48.9 gpm at 1 % in each 3 in pipe
    curb = {"hole_spacing": 1.0}
    _, screen, plan, table, _ = run(street(stories, tmp_path / "site", curb=curb, roof=2400, rain=6.0))
    (line,) = plan["lines"]
    piece = line["curb_piece"]
    grade = min(row["grade_percent"] for row in line["stations"] if 0 < row["station"] <= 25 * 0.3048)
    each = 0.46314 / 0.011 * (3.068 / 12) ** (8 / 3) * (grade / 100) ** 0.5 * 448.83
    assert piece["number"] == math.ceil(149.6 / each)
    assert (piece["fitting"], piece["pipe"]["nominal"]) == ("box", "3 in")
    for rule in ("curb-concrete", "curb-hole", "weakest-link", "numbers-agree"):
        assert {one["status"] for one in of(plan, rule)} == {"pass"}, rule
    nobody_says_both(plan, screen)
    first = table[0]
    assert f"box that can be opened: {piece['number']} of 3 in schedule 40 PVC through the curb" in first["point"]


def test_the_share_of_a_line_names_the_pipe_that_it_is_the_share_of(run, stories, tmp_path):
    """The 3 in through the curb is the tightest place of a 4 in line: its capacity is not told as that of 4 in."""
    _, screen, plan, _, _ = run(street(stories, tmp_path / "site", curb={}))
    tightest = max(plan["water"]["lines"][0]["runs"], key=lambda one: one["share"])
    assert tightest["bore_m"] == pytest.approx(3.068 * 0.0254, abs=1e-4)
    told = re.search(r"[\d.]+ gpm of ([\d.]+) gpm in (\d+) in", screen)
    assert told is not None
    assert told[2] == "3"
    assert float(told[1]) == pytest.approx(tightest["capacity_lps"] / 0.0630902, abs=0.06)


def test_holes_that_a_survey_names_are_laid(run, stories, tmp_path):
    curb = {"holes": 2, "hole_spacing": 1.0}
    _, _, plan, _, _ = run(street(stories, tmp_path / "site", curb=curb))
    assert plan["lines"][0]["curb_piece"]["number"] == 2
    assert {one["status"] for one in of(plan, "curb-concrete")} == {"pass"}


def test_a_hole_cut_below_the_flow_line_is_judged(run, stories, tmp_path):
    # flow line 97.85 ft; heavy 3 in pipe with its invert there has its bottom 0.216 in lower
    _, _, plan, _, _ = run(street(stories, tmp_path / "site", curb={"invert": 97.55}))
    (found,) = [one for one in of(plan, "curb-concrete") if "flow line" in one["subject"]]
    assert found["status"] == "fail"
    assert found["value"] == pytest.approx((97.55 - 97.85) * 0.3048 - 0.216 * 0.0254, abs=2e-3)
    assert "below the flow line of the gutter" in found["message"]
    _, _, plan, _, _ = run(street(stories, tmp_path / "at_it", curb={}, tables="\n[rules]\ncurb_allowance_ft = 0.0\n"))
    (found,) = [one for one in of(plan, "curb-concrete") if "flow line" in one["subject"]]
    assert found["status"] == "flag"
    assert found["value"] == pytest.approx(-0.216 * 0.0254, abs=1e-3)  # the flow line by two scans of the ground


@pytest.mark.parametrize(
    ("change", "what"),
    [
        (lambda line: line.update(curb_piece=None), "smaller pipe at the curb"),
        (lambda line: line["curb_piece"].update(number=2, fitting="box"), "curb-hole"),
        (lambda line: line["curb_piece"].update(station_to=0.9), "station of the reducer"),
        (lambda line: line["curb_piece"]["pipe"].update(od_m=0.06), "od of the pipe through the curb"),
    ],
)
def test_a_curb_piece_changed_in_a_stored_plan_is_found_out(run, stories, tmp_path, change, what):
    folder = street(stories, tmp_path / "site", curb={})
    _, _, plan, _, _ = run(folder)
    (stored,) = tmp_path.glob("**/plan.json")
    change(plan["lines"][0])
    stored.write_text(json.dumps(plan), encoding="utf-8")
    with contextlib.redirect_stdout(io.StringIO()) as told:
        code = main(["review", str(stored.parent), str(folder), "--json"])
    assert code == 1
    found = [one for one in json.loads(told.getvalue())["findings"] if one["status"] != "pass"]
    assert any(what in f"{one['rule']} {one['message']}" for one in found)


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
    assert "ordinance 7-3" in " ".join(re.sub(r"<[^>]+>", "", page).split())


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
    _, screen, plan, rows, page = run(
        street(stories, tmp_path / "site", curb={}, yard=BANK, roof=2100, tables=tables), "--layouts", "1"
    )
    (line,) = plan["lines"]
    # at 4.17 % a 4 in pipe carries it by the table (156 gpm), but so steep from the curb it stands out of the parkway
    assert line["pipe"]["nominal"] == "6 in"
    assert not any(one["status"] == "fail" for one in of(plan, "daylight-stretch"))
    (found,) = of(plan, "size-fits")
    assert found["status"] == "flag"
    assert "the book holds none" in found["message"]
    assert "sized by Manning there" in screen
    assert "Manning: the book holds none of upc" in {row["capacity_by"] for row in rows}
    assert "Manning: the book holds none of upc" in page


def test_a_printed_table_is_read_at_its_row_and_a_size_up_is_taken(run, stories, tmp_path):
    # the table's rows for 4 in: 78 gpm at 1/8, 110 at 1/4, 156 at 1/2 in per ft. 2100 sq ft at 5.5 in/h bring 120 gpm,
    # 109 % of what the row at 1/4 in per ft gives a 4 in pipe and more than a lawn's grade below 1/2 in per ft may
    # carry
    tables = '\n[water]\nbasis = "upc"\n\n[rules]\nmin_grade_percent = 2.2\n'
    _, screen, plan, rows, page = run(
        street(stories, tmp_path / "site", curb={}, yard=BANK, roof=2100, tables=tables), "--layouts", "1"
    )
    (line,) = plan["lines"]
    assert line["pipe"]["nominal"] == "6 in"
    assert not any(one["status"] == "fail" for one in of(plan, "daylight-stretch"))
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
    # at 1.00 % Manning would give a 4 in pipe 97 gpm, the table prints 78 at 1/8 in per ft (1.04 %): 90 gpm asks for 6
    # in,
    # or for the 2.08 % of the next row (110 gpm), at which a pipe stands out of a parkway that lies under the curb's
    # top
    low = ((4992, 98.25), (4996, 98.25), *BANK[2:])
    tables = '\n[water]\nbasis = "upc"\n'
    _, _, plan, _, _ = run(
        street(stories, tmp_path / "site", curb={}, yard=low, roof=1575, tables=tables), "--layouts", "1"
    )
    (line,) = plan["lines"]
    assert min(run["grade_percent"] for run in plan["water"]["lines"][0]["runs"]) < 1.04
    assert line["pipe"]["nominal"] == "6 in"
    # the recheck too: the table prints 222 gpm for 6 in at 1/8 in per ft, Manning would give 280 at 1.00 %
    (fits,) = of(plan, "size-fits")
    assert fits["limit"] == pytest.approx(222 * 0.0630902, rel=0.01)
