"""What a plan takes, against sums done by hand on a line whose figures can be done in the head."""

import csv
import io
import json
import math
import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from siteplan.cli.main import main
from siteplan.sheets.quantities import prices_note, quantities_csv
from siteplan.stored.folder_of import read_plan
from siteplan.survey.folder import read_site
from siteplan.trench.quantities import quantities_of
from siteplan.values.laid_pipe import Bedding, Fitting, FittingKind, Pipe
from siteplan.values.lines import Crossing, Line, Reach, Row, Vertex
from siteplan.values.water_ends import Outlet

SITES = Path(__file__).parents[2] / "sample_sites"
PIPE = Pipe(
    kind="pvc_sdr35", title="PVC, SDR 35", nominal="4 in", od=0.107, bore=0.101, wall=0.003, roughness=0.009, source=""
)
OUTLET = Outlet(id="O1", kind="daylight_outlet", name="Slope", x=0.0, y=0.0, ground=0.0, control=0.0, basis="")
WIDTH, BED = 12 * 0.0254, 3 * 0.0254  # m: trench-width 12 in and bedding 0.25 ft, the defaults in docs/rules.md


def row(station, cut):
    return Row(station=station, x=station, y=0.0, ground=1.0, invert=0.0, cut=cut, cover=0.0, grade=0.02)


@pytest.fixture(scope="module")
def site():
    return read_site(SITES / "alder-court")


@pytest.fixture
def line():
    """24 m in plan at 2 %: cut 0.4 m rising evenly to 0.6 m half way and level from there.

    Two bends, a wye, a cleanout; a drive of 4 m.
    """
    here = Fitting(kind=FittingKind.BEND, angle=45.0)
    at = {
        8.0: (here,),
        12.0: (Fitting(kind=FittingKind.WYE),),
        16.0: (here,),
        24.0: (Fitting(kind=FittingKind.CLEANOUT),),
    }
    vertices = [
        Vertex(x=s, y=0.0, station=s, invert=0.02 * s, ground=1.0, fittings=at.get(s, ()))
        for s in (0.0, 8.0, 12.0, 16.0, 24.0)
    ]
    drive = Crossing(
        kind="driveway",
        name="Drive",
        station_from=2.0,
        station_to=6.0,
        angle=90.0,
        cover_from=0.4,
        cover_to=0.4,
        cover_min=0.4,
    )
    return Line(
        id="L1",
        sources=("S1",),
        start="S1",
        end="O1",
        pipe=PIPE,
        vertices=tuple(vertices),
        rows=(row(0.0, 0.4), row(12.0, 0.6), row(24.0, 0.6)),
        crossings=(drive,),
        low_spots=(),
        spare=0.1,
        binding="",
        cost=1.0,
    )


def amounts(site, *lines, outlet=OUTLET):
    return {(one.what, one.kind): (one.amount, one.unit) for one in quantities_of(site, lines, [outlet])}


def test_a_line_done_in_the_head(site, line):
    found = amounts(site, line)
    area = 12 * 0.5 + 12 * 0.6  # m2 of the trench's side
    pipe = math.pi / 4 * 0.107**2 * 24
    assert found["pipe", "pvc_sdr35 4 in"] == (pytest.approx(24 * math.hypot(1, 0.02), abs=1e-3), "m")
    assert found["sticks", "pvc_sdr35 4 in"] == (8, "piece")  # 24.005 m in sticks of 10 ft: 7.88
    assert found["bend", "4 in 45 degrees"] == (2, "piece")
    assert (found["wye", "4 in"], found["cleanout", "4 in"]) == ((1, "piece"), (1, "piece"))
    assert found["excavation", ""] == (pytest.approx(WIDTH * area, abs=1e-3), "m3")
    assert found["bedding", ""] == (pytest.approx(WIDTH * BED * 24, abs=1e-3), "m3")
    assert found["spoil", ""] == (pytest.approx(WIDTH * BED * 24 + pipe, abs=1.5e-3), "m3")
    assert found["backfill", ""] == (pytest.approx(WIDTH * area - WIDTH * BED * 24 - pipe, abs=1.5e-3), "m3")
    assert found["pavement", "driveway"] == (pytest.approx(4 * (WIDTH + 0.3048), abs=1e-3), "m2")  # 6 in past each side
    assert found["concrete", "driveway"] == (pytest.approx(4 * (WIDTH + 0.3048) * 0.1016, abs=1e-3), "m3")  # 4 in
    assert found["lawn", ""] == (pytest.approx(20 * WIDTH, abs=1e-3), "m2")
    assert ("curb_opening", "") not in found


def test_soft_ground_takes_two_diameters_of_stone(site, line):
    reaches = tuple(
        Reach(station_from=a, station_to=b, place="lawn", pipe=PIPE, why="", bedding=bed, cover_min=0.3)
        for a, b, bed in ((0.0, 12.0, Bedding.FIRM), (12.0, 18.0, Bedding.STONE_BED), (18.0, 24.0, Bedding.STONE_SIDES))
    )
    firm, soft = amounts(site, line), amounts(site, replace(line, reaches=reaches))
    deeper = 2 * 0.107 - BED
    beside = WIDTH * 0.107 * 6 - math.pi / 4 * 0.107**2 * 6
    assert soft["excavation", ""][0] - firm["excavation", ""][0] == pytest.approx(WIDTH * deeper * 6, abs=2e-3)
    assert soft["stone", ""][0] == pytest.approx(WIDTH * 2 * 0.107 * 6 + beside, abs=1e-3)
    assert soft["bedding", ""][0] == pytest.approx(WIDTH * BED * 18, abs=1e-3)


def test_ground_that_is_not_known_is_not_dug(site, line):
    blind = replace(line, rows=(row(0.0, 0.4), row(12.0, math.nan), row(18.0, 0.6), row(24.0, 0.6)))
    assert amounts(site, blind)["excavation", ""][0] == pytest.approx(WIDTH * 0.6 * 6, abs=1e-3)


def test_a_line_to_a_curb_opens_it(site, line):
    assert amounts(site, line, outlet=replace(OUTLET, kind="curb_outlet"))["curb_opening", ""] == (1, "piece")


@pytest.fixture
def priced(tmp_path):
    folder = shutil.copytree(SITES / "marsh-lane", tmp_path / "site")
    (folder / "prices.csv").write_text(
        (
            "what,kind,unit,price,dated\npipe,pvc_sdr35 4 "
            "in,m,7.50,2026-09-01\npipe,,ft,3,2026-09-01\nexcavation,,cu yd,45,\n"
        ),
        "utf-8",
    )
    text = (folder / "site.toml").read_text("utf-8")
    (folder / "site.toml").write_text(f'{text}\n[costs]\nunit_prices = "prices.csv"\n', "utf-8")
    return folder


def test_prices_of_ones_own_are_laid_over_the_placeholders(priced, plan_once, capsys):
    made = plan_once(priced)
    record = json.loads((made.folder / "plan.json").read_text("utf-8"))
    told = {(one["what"], one["kind"]): (one["unit_price"], one["price_basis"]) for one in record["quantities"]}
    assert told["pipe", "pvc_sdr35 4 in"] == (7.5, "prices.csv, 2026-09-01")
    assert told["pipe", "pvc_sch40 4 in"] == (pytest.approx(3 / 0.3048), "prices.csv, 2026-09-01")
    assert told["excavation", ""] == (pytest.approx(45 / 0.9144**3), "prices.csv, not dated")
    assert told["lawn", ""][1] == "placeholder"
    assert "prices.csv" in {one["file"] for one in record["site"]["inputs"]}
    rows = {
        (one["what"], one["kind"]): one
        for one in csv.DictReader(io.StringIO((made.folder / "quantities.csv").read_text("utf-8")))
    }
    pipe = next(one for key, one in rows.items() if key[0] == "Pipe" and "SDR 35" in key[1])
    assert float(pipe["cost"]) == pytest.approx(float(pipe["amount"]) * 7.5, abs=0.006)
    assert "of" in prices_note(made.plan)
    assert "placeholders" in prices_note(made.plan)
    assert quantities_csv(made.plan) == (made.folder / "quantities.csv").read_bytes()
    assert main(["review", str(made.folder), str(priced)]) == (
        1 if any(f.status == "fail" for f in made.plan.findings) else 0
    )
    capsys.readouterr()


@pytest.mark.parametrize(("what", "share"), [("pipe", 1.01), ("excavation", 0.9), ("backfill", 1.1), ("spoil", 0.5)])
def test_a_quantity_that_was_changed_is_found(what, share, plan_once, tmp_path, capsys):
    folder = shutil.copytree(plan_once(SITES / "alder-court").folder, tmp_path / "plan")
    record = json.loads((folder / "plan.json").read_text("utf-8"))
    one = next(one for one in record["quantities"] if one["what"] == what)
    one["amount"] = round(one["amount"] * share, 3)
    (folder / "plan.json").write_text(json.dumps(record), "utf-8")
    assert main(["review", str(folder)]) == 1
    assert "arithmetic, quantities" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("table", "told"),
    [
        ("what,kind,unit,price\npips,,m,3\n", 'prices.csv, row 2, what: is "pips". Did you mean pipe?'),
        ("what,kind,unit,price\npipe,,m3,3\n", 'prices.csv, row 2, unit: is "m3". Write m or ft.'),
        ("what,kind,unit,price\npipe,,m,dear\n", 'prices.csv, row 2, price: is "dear". Give a number'),
        ("what,kind,unit,price\npipe,,m,-1\n", 'prices.csv, row 2, price: is "-1"'),
        ("what,kind,unit,price\npipe,,m,1\npipe,,ft,2\n", "prices.csv, row 3: prices pipe  a second time"),
        ("thing,cost\npipe,2\n", "prices.csv: is no table of prices"),
        ("thing,kind,unit,cost\npipe,a,m,2\n", "prices.csv, row 1: is no header of prices"),
    ],
)
def test_a_table_that_cannot_be_read_is_told(table, told, priced, tmp_path, capsys):
    (priced / "prices.csv").write_text(table, "utf-8")
    assert main(["plan", str(priced), "--out", str(tmp_path / "plan")]) == 2
    assert " ".join(told.split()) in " ".join(capsys.readouterr().err.split())
    assert not (tmp_path / "plan").exists()


def test_words_are_made_of_values_and_never_read_out_of_words(sample_plan):
    """A row whose words were changed in a plan is still told by its parts; a size is no prefix of another."""
    made = sample_plan("alder-court")
    before = quantities_csv(made.plan)
    changed = replace(
        made.plan,
        quantities=tuple(replace(one, kind="4 in 90 degrees" if one.kind else "") for one in made.plan.quantities),
    )
    assert quantities_csv(changed) == before
    bends = [one.sort for one in made.plan.quantities if one.what == "bend"]
    assert bends
    assert all(one.nominal == "4 in" and one.angle in {22.5, 45.0} for one in bends)
    stored = read_plan(made.folder).plan
    assert stored.quantities == made.plan.quantities
