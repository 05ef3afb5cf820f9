"""What a plan gives away, read by general-purpose readers.

Places as the survey has them, every run joined, no name that acts.
"""

from __future__ import annotations

import csv
import io
import itertools
import json
import math
import re
import shutil
import zipfile
from pathlib import Path
from xml.etree import ElementTree as ET

import numpy as np
import pyogrio
import pytest
from pyproj import Transformer

from siteplan.cli.main import main

MILLIMETRE = {"m": 0.001, "ft": 0.001 / 0.3048, "us-ft": 0.001 * 3937 / 1200}
FOOT = {"m": 1.0, "ft": 0.3048, "us-ft": 1200 / 3937}
SAMPLES = ("alder-court", "marsh-lane")
X = "{http://www.landxml.org/schema/LandXML-1.2}"


@pytest.fixture(params=SAMPLES)
def planned(request, sample_plan):
    folder = sample_plan(request.param).folder
    return folder, json.loads((folder / "plan.json").read_text(encoding="utf-8"))


def exported(folder, out, form, *more):
    assert main(["export", str(folder), "--to", form, "--out", str(out), *more]) == 0
    return out


def stakes(plan):
    return [(line["id"], row) for line in plan["lines"] for row in line["stations"]]


def test_geopackage_holds_the_stakes_where_the_survey_has_them(planned, tmp_path):
    folder, plan = planned
    file = exported(folder, tmp_path / "plan.gpkg", "gpkg")
    told, near = pyogrio.read_dataframe(file, layer="stations"), MILLIMETRE[plan["site"]["survey_unit"]]
    assert told.crs == plan["site"]["survey_crs"]
    lift = FOOT[plan["site"]["elevation_unit"]]
    gravity = [(line, row) for line, row in stakes(plan)]
    assert len(told) == len(gravity)
    for shape, line, (id_, row) in zip(told.geometry, told["line"], gravity, strict=True):
        assert line == id_
        assert math.dist((shape.x, shape.y), (row["survey_x"], row["survey_y"])) < near
        assert shape.z * lift == pytest.approx(row["invert"], abs=0.0005)
    pipes = pyogrio.read_dataframe(file, layer="pipes")
    mark = {"m": "m", "ft": "ft", "us-ft": "us_ft"}[plan["site"]["length_unit"]]
    for line in plan["lines"]:
        runs = pipes[pipes["line"] == line["id"]]
        assert runs[f"length_{mark}"].sum() * FOOT[plan["site"]["length_unit"]] == pytest.approx(
            line["vertices"][-1]["station"], abs=0.005
        )
    areas = pyogrio.read_dataframe(file, layer="site_areas")
    assert set(areas["what"]) >= {"lot", "building"}
    assert len(pyogrio.read_dataframe(file, layer="checks")) == len(plan["checks"])


def test_geojson_is_longitude_and_latitude_by_its_standard(planned, tmp_path):
    folder, plan = planned
    told = json.loads(exported(folder, tmp_path / "plan.geojson", "geojson").read_text(encoding="utf-8"))
    assert "crs" not in told
    back = Transformer.from_crs("EPSG:4326", plan["site"]["survey_crs"], always_xy=True)
    points = [one for one in told["features"] if one["properties"]["layer"] == "stations"]
    assert len(points) == len(stakes(plan))
    for one, (_, row) in zip(points, stakes(plan), strict=True):
        lon, lat, height = one["geometry"]["coordinates"]
        place = back.transform(lon, lat)
        assert math.dist(place, (row["survey_x"], row["survey_y"])) < MILLIMETRE[plan["site"]["survey_unit"]]
        assert height == pytest.approx(row["invert"], abs=0.0005)
    rings = [one["geometry"]["coordinates"] for one in told["features"] if one["geometry"]["type"] == "Polygon"]
    assert rings
    for outer, *_ in rings:  # RFC 7946, 3.1.6: an outer ring turns counter-clockwise and closes
        assert outer[0] == outer[-1]
        assert sum(a[0] * b[1] - b[0] * a[1] for a, b in itertools.pairwise(outer)) > 0


def test_svg_is_true_to_scale(planned, tmp_path):
    folder, plan = planned
    root = ET.fromstring(exported(folder, tmp_path / "plan.svg", "svg", "--scale", "300").read_bytes())
    svg = "{http://www.w3.org/2000/svg}"
    told = json.loads(root.find(f"{svg}metadata").text)
    wide, high = (float(part) for part in root.get("viewBox").split()[2:])
    unit = FOOT[plan["site"]["survey_unit"]]
    for size, units in (("width", wide), ("height", high)):
        millimetres = float(root.get(size).removesuffix("mm"))
        assert millimetres / 1000 * 300 == pytest.approx(units * unit, rel=1e-4)
    (group,) = [one for one in root.iter(f"{svg}g") if one.get("id") == "stations"]
    marks = list(group.iter(f"{svg}circle"))
    assert len(marks) == len(stakes(plan))
    for mark, (_, row) in zip(marks, stakes(plan), strict=True):
        place = told["left"] + float(mark.get("cx")), told["top"] - float(mark.get("cy"))
        assert math.dist(place, (row["survey_x"], row["survey_y"])) < MILLIMETRE[plan["site"]["survey_unit"]]


def test_landxml_network_holds_together(planned, tmp_path):
    folder, plan = planned
    root = ET.fromstring(exported(folder, tmp_path / "plan.xml", "landxml").read_bytes())
    lift, unit = FOOT[plan["site"]["elevation_unit"]], FOOT[plan["site"]["survey_unit"]]
    for network in root.iter(f"{X}PipeNetwork"):
        places = {one.get("name"): one for one in network.iter(f"{X}Struct")}
        pipes = {one.get("name"): one for one in network.iter(f"{X}Pipe")}
        assert len(places) == len(pipes) + 1  # a tree
        inverts = {
            (name, one.get("refPipe")): (float(one.get("elev")), one.get("flowDir"))
            for name, struct in places.items()
            for one in struct.iter(f"{X}Invert")
        }
        for name, pipe in pipes.items():
            high, way_out = inverts.pop((pipe.get("refStart"), name))
            low, way_in = inverts.pop((pipe.get("refEnd"), name))
            assert (way_out, way_in) == ("out", "in")
            fall = (high - low) * lift / (float(pipe.get("length")) * unit)
            assert float(pipe.get("slope")) == pytest.approx(
                100 * fall, abs=0.06 if float(pipe.get("length")) * unit > 0.5 else 1.0
            )
        assert inverts == {}
    lines = {one.get("name"): one for one in root.iter(f"{X}Alignment")}
    assert set(lines) == {line["id"] for line in plan["lines"]}
    for line in plan["lines"]:
        stations = [[float(part) for part in one.text.split()] for one in lines[line["id"]].iter(f"{X}PVI")]
        wanted = [[v["station"] / unit, v["invert"] / lift] for v in line["vertices"]]
        np.testing.assert_allclose(stations, wanted, atol=1e-3)
        north, east = (float(part) for part in next(lines[line["id"]].iter(f"{X}Start")).text.split())
        row = line["stations"][0]
        assert math.dist((east, north), (row["survey_x"], row["survey_y"])) < MILLIMETRE[plan["site"]["survey_unit"]]


ORDERS = {
    "north-first": "PNEZD",
    "east-first": "PENZD",
    "north-first-number-last": "NEZDP",
    "east-first-number-last": "ENZDP",
}


@pytest.mark.parametrize("order", ORDERS)
def test_stakeout_points_in_the_order_asked_for(planned, tmp_path, order):
    folder, plan = planned
    text = exported(folder, tmp_path / "p.csv", "points", "--order", order).read_text(encoding="utf-8")
    rows = [dict(zip(ORDERS[order], row, strict=True)) for row in csv.reader(io.StringIO(text))]
    assert [row["P"] for row in rows] == [str(k) for k in range(1, len(stakes(plan)) + 1)]
    lift = FOOT[plan["site"]["elevation_unit"]]
    for told, (line, row) in zip(rows, stakes(plan), strict=True):
        assert math.dist((float(told["E"]), float(told["N"])), (row["survey_x"], row["survey_y"])) < 0.002
        assert float(told["Z"]) * lift == pytest.approx(row["invert"], abs=0.0005)
        assert told["D"].startswith(f"{line} ")


def cells(file, page):
    """Cells of a page by their names: text, number, or a formula with '=' before it."""
    main_ = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
    with zipfile.ZipFile(file) as book:
        names = [one.get("name") for one in ET.fromstring(book.read("xl/workbook.xml")).iter(f"{main_}sheet")]
        shared = [
            "".join(t.text or "" for t in one.iter(f"{main_}t"))
            for one in ET.fromstring(book.read("xl/sharedStrings.xml"))
        ]
        root = ET.fromstring(book.read(f"xl/worksheets/sheet{names.index(page) + 1}.xml"))
    found = {}
    for cell in root.iter(f"{main_}c"):
        formula, value = cell.find(f"{main_}f"), cell.find(f"{main_}v")
        if formula is not None:
            found[cell.get("r")] = "=" + formula.text
        elif value is not None:
            found[cell.get("r")] = shared[int(value.text)] if cell.get("t") == "s" else float(value.text)
    return found


HI = {"ft": "104.2", "m": "5"}


def test_rods_of_the_workbook_are_those_of_the_cut_sheet(planned, tmp_path, capsys):
    """What a crew finds with a pencil from the cells as shown is what `cutsheet` prints for the same height of instrument."""
    folder, plan = planned
    held = cells(exported(folder, tmp_path / "plan.xlsx", "xlsx"), "Cut sheet")
    capsys.readouterr()
    unit = plan["site"]["length_unit"]
    digits = 3 if unit == "m" else 2
    main(["cutsheet", str(folder), "--hi", HI[unit], "--json"])
    sheet = json.loads(capsys.readouterr().out)
    printed = [(line["line"], one["printed"]) for line in sheet["lines"] for one in line["targets"]]
    assert len(printed) == len(stakes(plan))
    for number, (line, one) in enumerate(printed, start=7):
        assert held[f"A{number}"] == line
        assert held[f"C{number}"] == one["station"]
        for column, key in (("F", "ground"), ("G", "invert"), ("H", "trench_bottom"), ("I", "top"), ("J", "cut")):
            assert f"{held[f'{column}{number}']:.{digits}f}" == one[key], (line, one["station"], key)
            assert held[f"{column}{number}"] == float(one[key])  # no digit behind those shown
        for column, of, key in (("K", "H", "rod_bottom"), ("L", "I", "rod_top")):
            assert held[f"{column}{number}"] == f'=IF($B$3="","",ROUND(ROUND($B$3,{digits})-{of}{number},{digits}))'
            assert f"{float(HI[unit]) - held[f'{of}{number}']:.{digits}f}" == one[key]
        if one["cut_ft_in"]:
            assert held[f"M{number}"] == one["cut_ft_in"]
    assert all("," in held[f"{column}6"] for column in "BDEFGHIJKL")  # each head names its unit


def test_the_workbook_says_where_a_hand_digs_and_where_no_rod_reaches(sample_plan, tmp_path):
    held = cells(exported(sample_plan("marsh-lane").folder, tmp_path / "m.xlsx", "xlsx"), "Cut sheet")
    assert any(str(one).startswith("HAND DIG 0+008.90 to 0+010.12") for one in held.values())
    assert held["M7"] == '=IF($B$3="","",IF(MIN(K7,L7)<0,"above the beam",IF(K7>7.62,"rod too short","")))'


def test_prices_of_the_workbook_multiply_and_add_up_as_the_printed_table_does(sample_plan, tmp_path):
    folder = sample_plan("alder-court").folder
    held = cells(exported(folder, tmp_path / "q.xlsx", "xlsx"), "Quantities")
    rows = [int(name[1:]) for name in held if name.startswith("C") and isinstance(held[name], float)]
    assert rows == list(range(4, 4 + len(rows)))
    assert all(held[f"F{row}"] == f'=IF(E{row}="","",ROUND(C{row}*E{row},2))' for row in rows)
    assert held[f"F{rows[-1] + 1}"] == f"=SUM(F4:F{rows[-1]})"
    printed = list(csv.DictReader(io.StringIO((folder / "quantities.csv").read_text("utf-8"))))
    for row, one in zip(rows, printed, strict=True):
        assert held[f"C{row}"] == float(one["amount"])
        assert held.get(f"E{row}") == (float(one["unit_price"]) if one["unit_price"] else None)
        if one["cost"]:
            assert round(held[f"C{row}"] * held[f"E{row}"], 2) == pytest.approx(float(one["cost"]), abs=0.0051)


def test_the_workbooks_schedule_is_the_trench_schedule(planned, tmp_path):
    folder, _ = planned
    held = cells(exported(folder, tmp_path / "s.xlsx", "xlsx"), "Schedule")
    rows = list(csv.reader(io.StringIO((folder / "trench_schedule.csv").read_text("utf-8-sig"))))
    for number, row in enumerate(rows, start=1):
        for column, text in enumerate(row):
            name = f"{chr(ord('A') + column) if column < 26 else 'A' + chr(ord('A') + column - 26)}{number}"
            shown = held.get(name, "")
            if isinstance(shown, float):
                assert shown == float(text), name
            else:
                assert shown.replace(" ", "_") == text.replace(" ", "_"), name


def test_checks_and_rules_of_the_workbook_stand_in_the_sites_unit(planned, tmp_path):
    folder, plan = planned
    file = exported(folder, tmp_path / "c.xlsx", "xlsx")
    per = {"m": FOOT[plan["site"]["length_unit"]], "m/s": FOOT[plan["site"]["length_unit"]]}
    short = {"ft": {"m": "ft", "m/s": "ft/s", "lps": "gpm"}, "m": {"lps": "L/s"}}[plan["site"]["length_unit"]]
    flow = 231 * 0.0254**3 / 60 * 1000 if plan["site"]["length_unit"] == "ft" else 1.0
    for page, listed, columns in (
        ("Checks", plan["checks"], ("value", "limit", "doubt")),
        ("Rules", plan["rules"], ("limit",)),
    ):
        held = cells(file, page)
        heads = {held[name]: name[:-1] for name in held if re.fullmatch(r"[A-Z]1", name)}
        for number, one in enumerate(listed, start=2):
            unit = one["unit"]
            assert held.get(f"{heads['unit']}{number}", "") == short.get(unit, unit)
            for key in columns:
                shown = held.get(f"{heads[f'{key}, in its unit']}{number}")
                wanted = one[key]
                assert (shown is None) == (wanted is None), (page, number, key)
                if wanted is not None:
                    assert shown * (flow if unit == "lps" else per.get(unit, 1.0)) == pytest.approx(wanted, abs=2e-4)


@pytest.mark.slow
@pytest.mark.skipif(shutil.which("soffice") is None, reason="no office suite here")
def test_an_office_suite_finds_the_figures_of_the_cut_sheet(planned, tmp_path):
    """Opened, recalculated and saved by a program that is none of ours."""
    import subprocess
    import sys

    script = Path(__file__).parents[2] / "benchmarks" / "workbook_recalculated.py"
    done = subprocess.run([sys.executable, str(script), str(planned[0])], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    assert " 0 differ" in done.stdout


@pytest.mark.parametrize("form", ["gpkg", "geojson", "svg", "landxml", "points", "xlsx"])
def test_same_plan_same_bytes(sample_plan, tmp_path, form):
    first, second = (exported(sample_plan("marsh-lane").folder, tmp_path / name, form) for name in ("one", "two"))
    assert first.read_bytes() == second.read_bytes()


HOSTILE = (
    '=HYPERLINK("http://x")',
    "+1+1",
    "@SUM(A1)",
    "<script>alert(1)</script>",
    "]]>&amp;\x00\x1b[2J",
    "{{ 7*7 }}",
)


@pytest.mark.parametrize("form", ["gpkg", "geojson", "svg", "landxml", "points", "xlsx"])
@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_name_is_text_everywhere(sample_plan, tmp_path, form, name):
    folder = tmp_path / "plan"
    shutil.copytree(sample_plan("alder-court").folder, folder)
    plan = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    plan["site"]["name"] = name
    for part in ("sources", "outlets", "features", "low_spots"):
        for one in plan[part]:
            one["name" if "name" in one else "id"] = name
    for line in plan["lines"]:
        for row in line["stations"]:
            row["note"] = name
        for crossing in line["crossings"]:
            crossing["name"] = name
    (folder / "plan.json").write_text(json.dumps(plan), encoding="utf-8")
    file = exported(folder, tmp_path / f"out.{form}", form)
    if form in {"svg", "landxml"}:
        root = ET.fromstring(file.read_bytes())
        assert not [one for one in root.iter() if one.tag.endswith("script")]
    elif form == "xlsx":
        with zipfile.ZipFile(file) as book:
            pages = "".join(book.read(one).decode() for one in book.namelist() if "worksheets" in one)
        formulas = re.findall(r"<f>(.*?)</f>", pages)
        assert formulas
        assert all(one.startswith(("IF(", "SUM(F4:")) for one in formulas)
    elif form == "points":
        assert not [cell for row in csv.reader(io.StringIO(file.read_text())) for cell in row if cell[:1] in "=+@"]
    elif form == "geojson":
        assert json.loads(file.read_text(encoding="utf-8"))["features"]
    else:
        assert name.replace("\x00", "")[:5] in "".join(pyogrio.read_dataframe(file, layer="sources")["name"])


def test_what_a_format_cannot_hold_is_said_and_nothing_is_written(metric_lot, tmp_path, capsys):
    main(["plan", str(metric_lot()), "--out", str(tmp_path / "plan")])
    capsys.readouterr()
    out = tmp_path / "x.geojson"
    assert main(["export", str(tmp_path / "plan"), "--to", "geojson", "--out", str(out)]) == 2
    told = capsys.readouterr().err
    assert "plan.json, survey_crs" in told
    assert "export gpkg, svg, landxml or points" in told
    assert not out.exists()
    for form in ("gpkg", "svg", "landxml", "points", "xlsx"):
        exported(tmp_path / "plan", tmp_path / f"x.{form}", form)


def test_a_plan_without_lines_is_exported_too(sample_plan, tmp_path):
    for form in ("gpkg", "svg", "landxml", "points", "xlsx"):
        exported(sample_plan("long-meadow").folder, tmp_path / f"x.{form}", form)


@pytest.mark.parametrize("scale", ["0", "-5", "1.5", "x", "999999999"])
def test_a_scale_is_a_whole_number(sample_plan, tmp_path, scale, capsys):
    out = ["--to", "svg", "--out", str(tmp_path / "x.svg"), "--scale", scale]
    assert main(["export", str(sample_plan("marsh-lane").folder), *out]) == 2
    assert "whole number" in capsys.readouterr().err


@pytest.mark.parametrize("form", ["geojson", "gpkg"])
def test_what_goes_out_comes_in_again_and_is_judged_the_same(sample_plan, tmp_path, form):
    """Lines read back as a person's own: each invert where it was, each rule's verdicts as they were."""
    folder, site = sample_plan("alder-court").folder, tmp_path / "site"
    shutil.copytree(Path(__file__).parents[2] / "sample_sites" / "alder-court", site)
    exported(folder, site / f"plan.{form}", form)
    settings = (site / "site.toml").read_text(encoding="utf-8")
    assert 'files = ["features.geojson"]' in settings
    (site / "site.toml").write_text(
        settings.replace('files = ["features.geojson"]', f'files = ["features.geojson", "plan.{form}"]'),
        encoding="utf-8",
    )
    assert main(["plan", str(site), "--out", str(tmp_path / "again"), "--layouts", "1"]) == 0
    first, again = (json.loads((one / "plan.json").read_text(encoding="utf-8")) for one in (folder, tmp_path / "again"))
    before, after = ({line["from"]: line for line in plan["lines"]} for plan in (first, again))
    assert set(before) == set(after)
    for start, line in before.items():
        assert after[start]["own"]
        assert after[start]["state"] == line["state"]
        for one, other in zip(line["vertices"], after[start]["vertices"], strict=True):
            assert math.dist((one["x"], one["y"]), (other["x"], other["y"])) < 0.001
            assert other["invert"] == pytest.approx(one["invert"], abs=0.0002)

    def verdicts(plan):
        return sorted((check["rule"], check["status"]) for check in plan["checks"])

    assert verdicts(first) == verdicts(again)
    assert any("things of an exported plan are passed over" in text for text in again["assumptions"])
