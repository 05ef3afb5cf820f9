"""LandXML as the published schema has it: names, order, needed attributes, words allowed, references.

By the schema file itself where one is at hand.
"""

from __future__ import annotations

import json
import os
import shutil
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
from landxml_structure import SPACE, faults_of

from siteplan.cli.main import main

SAMPLES = ("alder-court", "marsh-lane", "long-meadow")
# the schema's licence is not stated in it, so it is not carried here: name the file in this variable, or lay it there
SCHEMA = Path(
    os.environ.get("SITEPLAN_LANDXML_SCHEMA") or Path(__file__).parents[3] / "shared" / "reference" / "LandXML-1.2.xsd"
)


def landxml(folder, out):
    assert main(["export", str(folder), "--to", "landxml", "--out", str(out)]) == 0
    return out.read_bytes()


@pytest.fixture(params=SAMPLES)
def told(request, sample_plan, tmp_path):
    return landxml(sample_plan(request.param).folder, tmp_path / "plan.xml")


def test_it_keeps_the_published_structure(told):
    assert faults_of(ET.fromstring(told)) == []


def test_a_metric_lot_keeps_it_too(metric_lot, tmp_path):
    main(["plan", str(metric_lot()), "--out", str(tmp_path / "plan")])
    root = ET.fromstring(landxml(tmp_path / "plan", tmp_path / "plan.xml"))
    assert faults_of(root) == []
    (units,) = root.find(f"{SPACE}Units")
    assert (units.tag, units.get("linearUnit"), units.get("elevationUnit")) == (f"{SPACE}Metric", "meter", "meter")


@pytest.mark.parametrize(
    ("what", "edit"),
    [
        ("Struct holds", lambda root: next(root.iter(f"{SPACE}Struct")).clear()),
        ("CircPipe lacks diameter", lambda root: next(root.iter(f"{SPACE}CircPipe")).attrib.pop("diameter")),
        ("Invert flowDir is", lambda root: next(root.iter(f"{SPACE}Invert")).set("flowDir", "down")),
        ("Pipe refEnd nowhere", lambda root: next(root.iter(f"{SPACE}Pipe")).set("refEnd", "nowhere")),
        ("PVI holds the text", lambda root: setattr(next(root.iter(f"{SPACE}PVI")), "text", "0.0 nan")),
        ("LandXML date is", lambda root: root.set("date", "28.11.2026")),
        ("has no attribute colour", lambda root: next(root.iter(f"{SPACE}Pipe")).set("colour", "red")),
    ],
)
def test_the_structure_finds_what_is_wrong(sample_plan, tmp_path, what, edit):
    root = ET.fromstring(landxml(sample_plan("alder-court").folder, tmp_path / "plan.xml"))
    edit(root)
    assert any(what in fault for fault in faults_of(root))


def test_ground_that_was_not_surveyed_is_a_gap_of_the_profile(sample_plan, tmp_path):
    """Published schema, element ProfSurf: "Gaps in the profile are handled by having 2 or more PntList2D elements." """
    folder = tmp_path / "plan"
    shutil.copytree(sample_plan("alder-court").folder, folder)
    plan = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    line = next(one for one in plan["lines"] if len(one["stations"]) > 4)
    line["stations"][2]["ground"] = None
    (folder / "plan.json").write_text(json.dumps(plan), encoding="utf-8")
    root = ET.fromstring(landxml(folder, tmp_path / "plan.xml"))
    assert faults_of(root) == []
    (surface,) = [
        one
        for alignment in root.iter(f"{SPACE}Alignment")
        if alignment.get("name") == line["id"]
        for one in alignment.iter(f"{SPACE}ProfSurf")
    ]
    parts = [len(one.text.split()) // 2 for one in surface]
    assert parts == [2, len(line["stations"]) - 3]


def test_a_reader_learns_the_system_and_what_ends_a_line(sample_plan, tmp_path):
    folder = sample_plan("alder-court").folder
    plan = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    root = ET.fromstring(landxml(folder, tmp_path / "plan.xml"))
    assert f"EPSG:{root.find(f'{SPACE}CoordinateSystem').get('epsgCode')}" == plan["site"]["survey_crs"]
    outlets = {one.get("name") for one in root.iter(f"{SPACE}Struct") if one.find(f"{SPACE}OutletStruct") is not None}
    ids = {line["id"] for line in plan["lines"]}
    assert outlets == {f"{line['id']}-0" for line in plan["lines"] if line["to"] not in ids}


@pytest.mark.skipif(not SCHEMA.exists(), reason="no LandXML-1.2.xsd here: set SITEPLAN_LANDXML_SCHEMA")
def test_it_is_valid_by_the_schema_file(told):
    xmlschema = pytest.importorskip("xmlschema")
    assert [str(one) for one in xmlschema.XMLSchema(str(SCHEMA), validation="lax").iter_errors(told.decode())] == []
