"""The mark that heights hang on.

Read from the site, carried by the plan, printed on sheets and page, a blank for what nobody stated.
"""

from __future__ import annotations

import json

import pytest

from siteplan.cli.main import main


@pytest.fixture
def lot(metric_lot):
    """The lot in metres, whose survey shows a mark named BM; takes what is said of it."""

    def made(**told):
        folder = metric_lot()
        path = folder / "features.geojson"
        record = json.loads(path.read_text(encoding="utf-8"))
        (mark,) = [one for one in record["features"] if one["properties"]["kind"] == "benchmark"]
        mark["properties"].update(told)
        path.write_text(json.dumps(record), encoding="utf-8")
        return folder

    return made


def planned(site, folder):
    assert main(["plan", str(site), "--out", str(folder), "--layouts", "1"]) in {0, 1}
    return json.loads((folder / "plan.json").read_text(encoding="utf-8"))


def told_of_mark(plan):
    (mark,) = [one for one in plan["features"] if one["kind"] == "benchmark"]
    return {one["key"]: one["value"] for one in mark["told"]}


def test_elevation_and_datum_reach_sheets_and_page_and_an_edited_one_is_found(lot, tmp_path, paper, capsys):
    level, folder = 100.25, tmp_path / "plan"
    site = lot(elevation=level, datum="EVRF2019 <b>")
    assert told_of_mark(planned(site, folder)) == {"elevation": level, "datum": "EVRF2019 <b>"}
    assert main(["sheets", str(folder), "--out", str(tmp_path / "set.pdf"), "--parts", "cover,plan"]) == 0
    cover, *sheets = [" ".join(one.split()) for one in paper(tmp_path / "set.pdf")]
    assert f"Benchmark: BM, elevation {level:.3f} m, datum EVRF2019 <b>." in cover
    assert any(f"{level:.3f} m" in one and "EVRF2019" in one for one in sheets)
    page = (folder / "map.html").read_text(encoding="utf-8")
    assert f'["Elevation","{level:.3f} m"],["Datum","EVRF2019 \\u003cb\\u003e"]' in page
    path = folder / "plan.json"
    record = path.read_text(encoding="utf-8")
    edited = record.replace(f'"value": {level}', '"value": 100.35')
    assert edited != record
    path.write_text(edited, encoding="utf-8")
    capsys.readouterr()
    main(["review", str(folder), str(site)])
    assert "the plan states 100.35; made again it is 100.25" in capsys.readouterr().out


def test_what_nobody_stated_is_a_blank(lot, tmp_path, paper):
    planned(lot(elevation=None), tmp_path / "plan")
    assert main(["sheets", str(tmp_path / "plan"), "--out", str(tmp_path / "set.pdf"), "--parts", "cover"]) == 0
    told = " ".join(paper(tmp_path / "set.pdf")[0].split())
    assert "elevation ____________ m, datum ____________ (the survey states no elevation and no datum)" in told


@pytest.mark.parametrize(("elevation", "told"), [("a lot", 'is "a lot"'), (9000.0, "above the ground there")])
def test_an_elevation_that_cannot_be_is_asked_about(lot, tmp_path, capsys, elevation, told):
    assert main(["plan", str(lot(elevation=elevation)), "--out", str(tmp_path / "plan")]) == 2
    said = capsys.readouterr().err
    assert "elevation" in said
    assert told in said
    assert not (tmp_path / "plan").exists()


def test_other_features_may_carry_a_column_of_that_name(metric_lot, tmp_path):
    site = metric_lot()
    path = site / "features.geojson"
    record = json.loads(path.read_text(encoding="utf-8"))
    for one in record["features"]:
        if one["properties"]["kind"] != "benchmark":
            one["properties"]["elevation"] = "not surveyed"
    path.write_text(json.dumps(record), encoding="utf-8")
    plan = planned(site, tmp_path / "plan")
    assert not [
        one
        for thing in plan["features"]
        if thing["kind"] != "benchmark"
        for one in thing["told"]
        if one["key"] == "elevation"
    ]
