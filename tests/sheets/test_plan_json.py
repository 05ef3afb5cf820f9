"""plan.json holds what the contract names, in SI, rounded without breaking what a reader checks."""

from __future__ import annotations

import itertools
import json
import math
from dataclasses import replace

import pytest

from siteplan.sheets.plan_json import plan_json

KEYS = {
    "site": {"name", "crs", "unit", "inputs"},
    "rules": {"id", "title", "limit", "unit", "source"},
    "sources": {"id", "kind", "name", "x", "y", "flow_lps"},
    "outlets": {"id", "kind", "name", "x", "y", "invert"},
    "lines": {"id", "sources", "from", "to", "pipe", "vertices", "stations", "crossings", "low_spots"},
    "low_spots": {"id", "depth", "area", "volume", "spill_elevation", "polygon"},
    "candidates": {"outlet", "feasible", "fall_available", "fall_needed", "margin", "length", "reason"},
    "checks": {"rule", "subject", "value", "limit", "unit", "status", "where", "message"},
}
INSIDE_A_LINE = {
    "vertices": {"x", "y", "station", "invert", "ground"},
    "stations": {"station", "x", "y", "ground", "invert", "cut", "cover", "grade_percent", "note"},
    "crossings": {"kind", "name", "station_from", "station_to", "angle_deg", "cover_min", "sleeve"},
    "low_spots": {"id", "station_from", "station_to"},
}


@pytest.fixture(scope="module")
def record(yard):
    return json.loads(plan_json(*yard))


def test_every_name_of_the_contract_is_there(record):
    assert (record["format"], record["version"]) == ("siteplan-plan", 1)
    assert record["site"]["unit"] == "m"
    for part, keys in KEYS.items():
        entries = record[part] if isinstance(record[part], list) else [record[part]]
        assert entries, part
        for entry in entries:
            assert keys <= set(entry), part
    for part, keys in INSIDE_A_LINE.items():
        entries = [entry for line in record["lines"] for entry in line[part]]
        assert entries, part
        assert all(keys <= set(entry) for entry in entries), part
    assert {"kind", "nominal", "od_m", "id_m"} <= set(record["lines"][0]["pipe"])
    assert all(isinstance(text, str) for text in record["assumptions"] + record["cautions"])


def test_one_source_is_named_and_several_are_a_group(record):
    assert [entry.get("source", entry.get("group")) for entry in record["candidates"]] == [
        ["S1", "S2"],
        "S1",
        "S3",
        "S3",
    ]


def test_units_are_metres_percent_and_litres_a_second(record, yard):
    plan, _ = yard
    assert record["sources"][0]["flow_lps"] == pytest.approx(2.1)
    assert record["lines"][0]["stations"][1]["grade_percent"] == pytest.approx(1.15)
    assert record["lines"][0]["pipe"]["od_m"] == pytest.approx(plan.lines[0].pipe.od, abs=1e-6)
    limits = {rule["id"]: (rule["limit"], rule["unit"]) for rule in record["rules"]}
    assert limits["min-cover"] == (0.3048, "m")
    assert limits["min-grade"] == (1.0, "percent")
    assert limits["clear-of-trees"] == (None, "m")  # the site says it is not known


def test_a_users_text_comes_through_unchanged(record, invented):
    assert record["sources"][1]["name"] == invented.FORMULA
    assert record["outlets"][1]["name"] == invented.SCRIPT
    assert record["sources"][2]["name"] == invented.SUM


def test_stations_agree_with_distances_between_rounded_vertices(record):
    for line in record["lines"]:
        vertices = line["vertices"]
        assert vertices[0]["station"] == 0
        for low, high in itertools.pairwise(vertices):
            apart = math.dist((low["x"], low["y"]), (high["x"], high["y"]))
            assert high["station"] - low["station"] == pytest.approx(apart, abs=3e-4)
            assert high["invert"] > low["invert"]


def test_schedule_rows_agree_with_the_vertices(record):
    for line in record["lines"]:
        top = (line["pipe"]["od_m"] + line["pipe"]["id_m"]) / 2
        assert [row["station"] for row in line["stations"]] == sorted(row["station"] for row in line["stations"])
        for row in line["stations"]:
            assert row["cover"] == pytest.approx(row["ground"] - row["invert"] - top, abs=3e-4)
    joined = record["lines"][1]["vertices"][0]
    assert any(
        (v["x"], v["y"], v["invert"]) == (joined["x"], joined["y"], joined["invert"])
        for v in record["lines"][0]["vertices"]
    )


def test_what_is_not_known_is_null_and_what_must_be_known_stops_the_writing(yard):
    plan, site = yard
    line = plan.lines[0]
    dim = replace(line.rows[0], ground=math.nan, cut=math.nan, cover=math.nan)
    told = json.loads(plan_json(replace(plan, lines=(replace(line, rows=(dim, *line.rows[1:])),)), site))
    row = told["lines"][0]["stations"][0]
    assert (row["ground"], row["cut"], row["cover"]) == (None, None, None)
    broken = replace(line, vertices=(replace(line.vertices[0], invert=math.nan), *line.vertices[1:]))
    with pytest.raises(ValueError, match="not a number"):
        plan_json(replace(plan, lines=(broken,)), site)


def test_text_ends_with_a_newline_and_holds_one_record_a_line(yard):
    written = plan_json(*yard).decode()
    assert written.endswith("}\n")
    assert sum('"rule": "min-cover"' in line for line in written.splitlines()) == 1
    assert "NaN" not in written
    assert "-0.0," not in written


def test_a_plan_without_lines_is_still_a_plan(hopeless):
    told = json.loads(plan_json(*hopeless))
    assert told["lines"] == []
    assert [check["rule"] for check in told["checks"]] == ["served"]
    assert all(not candidate["feasible"] for candidate in told["candidates"])
