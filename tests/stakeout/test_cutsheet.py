"""The cut sheet of the worked day, to the last digit; stakes; cards; what cannot be staked."""

from __future__ import annotations

import json
import re

import pytest

from siteplan.errors import InputError
from siteplan.stakeout.cutsheet_page import cut_page
from siteplan.stakeout.cutsheet_text import CARD_WIDTH, as_card, cutsheet_as_json, cutsheet_as_text
from siteplan.stakeout.cutsheet_typed import sheet_from_typed

# practice reference, section 5 (own invention of that note), dig day: HI 102.37; figures ending in 5 are rounded up
# there
DAY = """
0+00 97.12 96.66 97.00 1.4 96.40 0.72 0'-8 5/8" 5.97 5'-11 5/8" 5.37
0+10 97.55 96.79 97.13 5.1 96.53 1.02 1'-0 1/4" 5.84 5'-10 1/8" 5.24
0+20 98.02 96.91 97.25 9.2 96.65 1.37 1'-4 1/2" 5.72 5'-8 5/8" 5.12
0+30 98.45 97.04 97.38 12.9 96.78 1.67 1'-8 1/8" 5.59 5'-7 1/8" 4.99
0+40 98.70 97.16 97.50 14.4 96.90 1.80 1'-9 5/8" 5.47 5'-5 5/8" 4.87
0+50 98.85 97.29 97.63 14.7 97.03 1.82 1'-9 7/8" 5.34 5'-4 1/8" 4.74
0+60 98.95 97.41 97.75 14.4 97.15 1.80 1'-9 5/8" 5.22 5'-2 5/8" 4.62
0+70 99.08 97.54 97.88 14.4 97.28 1.80 1'-9 5/8" 5.09 5'-1 1/8" 4.49
0+84 99.26 97.71 98.05 14.5 97.45 1.81 1'-9 3/4" 4.92 4'-11" 4.32
"""


def printed(sheet):
    return [target["printed"] for target in json.loads(cutsheet_as_json(sheet))["lines"][0]["targets"]]


def typed(plan, **more):
    return {"plan": str(plan), "hi": "102.37", **more}


def test_the_day_sheet_to_the_last_digit(day):
    rows = printed(sheet_from_typed(typed(day())))
    assert len(rows) == 9
    for row, line in zip(rows, DAY.strip().splitlines(), strict=True):
        station, rest = line.split(" ", 1)
        assert row["station"] == f"{station}.0"
        cells = [
            row[key]
            for key in (
                "ground",
                "invert",
                "top",
                "cover",
                "trench_bottom",
                "cut",
                "cut_ft_in",
                "rod_bottom",
                "rod_bottom_ft_in",
                "rod_top",
            )
        ]
        assert " ".join(cells) == rest


def test_benchmark_and_backsight_give_the_same_sheet(day):
    plan = day()
    by_hi = sheet_from_typed(typed(plan))
    by_mark = sheet_from_typed({"plan": str(plan), "benchmark": "100.00", "backsight": "2.37"})
    assert printed(by_hi) == printed(by_mark)
    assert "benchmark 100.00 ft + backsight 2.37 ft" in " ".join(cutsheet_as_text(by_mark).split())


def test_the_offset_hub_says_what_its_cut_is_to(day):
    sheet = sheet_from_typed(typed(day(), stake=["0+30,left,3,98.62"]))
    assert """3' o/s left  C 1.59 (1'-7") to INV""" in cutsheet_as_text(sheet)
    assert "3' o/s left C 1.59 (1'-7\") to INV" in " ".join(as_card(sheet).split())
    stake = sheet.lines[0].stakes[0]
    assert (round(stake.x / 0.3048, 3), round(stake.y / 0.3048, 3)) == (
        1997.0,
        5030.0,
    )  # looking up the stations, north


def test_a_hub_read_off_the_rod_and_a_cut_to_the_trench(day):
    sheet = sheet_from_typed(typed(day(), stake=["0+30,R,3,rod 3.75"], to="TRENCH"))
    # hub 102.37 - 3.75 = 98.62; trench bottom 96.775
    assert """3' o/s right  C 1.85 (1'-10 1/8") to TRENCH""" in cutsheet_as_text(sheet)


def test_a_hub_below_the_pipe_is_a_fill(day):
    sheet = sheet_from_typed(typed(day(), stake=["0+30,left,3,96.62"]))
    assert """F 0.42 (0'-5") to INV""" in cutsheet_as_text(sheet)


def test_stations_from_the_start_are_said_and_turned(day):
    plan = day()
    sheet = sheet_from_typed(typed(plan, stations_from="start"))
    assert [round(target.station / 0.3048) for target in sheet.lines[0].targets] == [0, 14, 24, 34, 44, 54, 64, 74, 84]
    assert sheet.lines[0].targets[0].ground == pytest.approx(99.26 * 0.3048)
    assert "from the START (0) down" in " ".join(cutsheet_as_text(sheet).split())
    assert "from the OUTLET (0) upstream" in " ".join(cutsheet_as_text(sheet_from_typed(typed(plan))).split())


def test_no_line_of_the_card_is_wider_than_a_phone(day):
    card = as_card(
        sheet_from_typed(
            typed(day(fittings={40: [("bend", 45.0), ("bend", 45.0), ("cleanout", None)]}), offset="left,3")
        )
    )
    assert max(map(len, card.splitlines())) <= CARD_WIDTH
    assert "ROD BTM   5.59 5'-7 1/8\"" in card
    assert "TRENCH" in card


def test_the_page_escapes_names_and_loads_nothing(day):
    plan = day()
    record = json.loads((plan / "plan.json").read_text())
    record["site"]["name"] = "<script>alert(1)</script>"
    (plan / "plan.json").write_text(json.dumps(record))
    page = cut_page(sheet_from_typed(typed(plan))).decode()
    assert "<script" not in page
    assert "&lt;script&gt;" in page
    assert "http" not in page.replace("http-equiv", "")
    assert "5.59" in page


def test_a_beam_below_the_pipe_is_said(day):
    sheet = sheet_from_typed(typed(day(), hi="97.9"))
    assert any(target.reach == "above the beam" for target in sheet.lines[0].targets)
    assert "ABOVE THE BEAM" in cutsheet_as_text(sheet)


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"hi": None}, "--hi: is missing"),
        ({"hi": "31.2"}, "another datum or unit"),
        ({"hi": None, "benchmark": "100"}, "one is given without the other"),
        ({"benchmark": "100", "backsight": "3.37"}, "is not 103.37 ft"),
        ({"stake": ["0+99,left,3,98.62"]}, "is not on L1"),
        ({"stake": ["0+30,up,3,98.62"]}, "Write [LINE:]STATION"),
        ({"stake": ["0+30,left,-3,98.62"]}, "distance: is below 0"),
        ({"offset": "left,-3"}, "--offset: is below 0. Give the distance without a sign"),
        ({"line": "L9"}, "no line 'L9'"),
        ({"to": "GRASS"}, "INV or TRENCH"),
    ],
)
def test_what_cannot_be_staked_is_one_line(day, more, said):
    with pytest.raises(InputError) as caught:
        sheet_from_typed(typed(day(), **more))
    assert said in str(caught.value)


def test_a_distance_below_0_in_a_file_of_stakes_is_told_by_its_row(day, tmp_path):
    stakes = tmp_path / "stakes.csv"
    stakes.write_text("station,side,distance,hub\n0+30,left,3,98.62\n0+40,left,-3,98.70\n", encoding="utf-8")
    with pytest.raises(InputError, match="row 3, distance: is below 0"):
        sheet_from_typed(typed(day(), stakes=str(stakes)))


@pytest.mark.parametrize("line", ["L1", "L2", "L4"])
def test_the_bedding_told_is_that_of_every_pipe_that_lies_there(sample_plan, line):
    """[3 in] under all pipe is asked for on this lot, whichever wall stands on it: 0.25 ft."""
    told = sheet_from_typed({"plan": str(sample_plan("alder-court").folder), "hi": "103.55", "line": line}).below
    beds = re.findall(r"- ([\d.]+) ft of bedding", told)
    assert len(beds) == told.count("of wall") > 0
    assert set(beds) == {"0.25"}


def test_a_metric_plan_prints_millimetres_and_no_inches(day):
    plan = day()
    record = json.loads((plan / "plan.json").read_text())
    record["site"]["length_unit"] = record["site"]["elevation_unit"] = "m"
    (plan / "plan.json").write_text(json.dumps(record))
    text = cutsheet_as_text(sheet_from_typed({"plan": str(plan), "hi": "31.202"}))
    assert "'-" not in text
    row = re.search(r"0\+009\.14.*\n.*", text)[0]
    assert "ROD BTM 1.705" in row  # 31.202 - 29.497 (trench bottom)


def test_one_unit_on_a_sheet_and_in_each_of_its_heads(day):
    """Ground given in metres beside a tape in feet.

    The crew reads feet all over, with the mark's own unit beside HI.
    """
    plan = day()
    record = json.loads((plan / "plan.json").read_text())
    record["site"]["elevation_unit"] = "m"
    (plan / "plan.json").write_text(json.dumps(record))
    sheet = sheet_from_typed({"plan": str(plan), "benchmark": "30.480", "backsight": "0.722"})
    rows = printed(sheet)
    # the same day in feet: HI 31.202 m is 102.37 ft
    assert [row["rod_bottom"] for row in rows] == [
        line.split()[-4] for line in DAY.replace("4'-11\"", "4'-11 0\"").strip().splitlines()
    ]
    page = cut_page(sheet).decode()
    assert "HI 31.202 m" in page
    heads = re.findall(r"<th(?: class=.t.)?>(.*?)</th>", page)
    assert heads == [
        "Sta",
        "ROD BTM, ft",
        "ROD TOP, ft",
        "Cut to btm, ft",
        "Cover, in",
        "Ground, ft",
        "Invert, ft",
        "Trench btm, ft",
        "As dug",
        "As laid",
    ]
    assert "All figures in ft, cover in in." in cutsheet_as_text(sheet)


def test_every_printed_page_names_lot_benchmark_and_date_and_its_number(chromium, paper, day, tmp_path):
    plan = day(fittings={40: [("cleanout", None)]})
    record = json.loads((plan / "plan.json").read_text())
    record["site"]["name"] = 'Lot "9"; } body { display: none } /*'
    line = record["lines"][0]
    line["stations"] = [{**row, "station": row["station"] + k * 0.12} for row in line["stations"] for k in range(7)]
    (plan / "plan.json").write_text(json.dumps(record))
    sheet = sheet_from_typed({"plan": str(plan), "benchmark": "100.00", "backsight": "2.37", "date": "3 March 2027"})
    (tmp_path / "cut.html").write_bytes(cut_page(sheet))
    pages = printed_pages(chromium, paper, tmp_path / "cut.html", tmp_path)
    assert len(pages) >= 3
    for number, text in enumerate(pages, 1):
        assert 'Lot "9"; } body { display: none } /*' in text
        assert "benchmark 100.00 ft + backsight 2.37 ft" in text
        assert "3 March 2027" in text
        assert f"page {number} of {len(pages)}" in text


def printed_pages(chromium, paper, page, folder):
    """The text of each sheet of paper, as the browser prints it."""
    shown = chromium.new_page()
    shown.goto(page.as_uri())
    shown.pdf(path=str(folder / "page.pdf"), format="Letter")
    shown.close()
    return [" ".join(one.split()) for one in paper(folder / "page.pdf") if one.strip()]
