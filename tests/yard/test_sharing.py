"""Who may share a trench, and which outlet takes whose water.

Asked for in the site, kept by the plan, judged by the verifier beside it.
"""

import json
import shutil
from pathlib import Path

import pytest

from siteplan.cli.main import main

SITE = Path(__file__).parents[2] / "sample_sites" / "alder-court"


@pytest.fixture(scope="module")
def asked(tmp_path_factory, plan_once):
    """Plan Alder Court with attributes laid over its features: name to keys."""

    def make(title, edits):
        folder = tmp_path_factory.mktemp("asked") / title
        shutil.copytree(SITE, folder)
        file = folder / "features.geojson"
        record = json.loads(file.read_text("utf-8"))
        for feature in record["features"]:
            feature["properties"].update(edits.get(feature["properties"].get("name"), {}))
        file.write_text(json.dumps(record), "utf-8")
        return plan_once(folder)

    return make


def lines_of(made):
    record = json.loads((made.folder / "plan.json").read_text("utf-8"))
    names = {one["id"]: one["name"] for one in (*record["sources"], *record["outlets"])}
    return record, [
        ({names[key] for key in line["sources"]}, names.get(line["to"], line["to"])) for line in record["lines"]
    ]


def test_as_it_stands_all_five_share_one_way_out(plan_once):
    _, lines = lines_of(plan_once(SITE))
    assert max(len(carried) for carried, _ in lines) == 5


def test_a_line_of_its_own_is_shared_by_nobody(asked):
    record, lines = lines_of(asked("own", {"Sump": {"own_line": True}, "DS-3": {"own_line": "yes"}}))
    for name in ("Sump", "DS-3"):
        carrying = [(carried, to) for carried, to in lines if name in carried]
        assert [carried for carried, _ in carrying] == [{name}]
        assert carrying[0][1] in {"Curb hole", "Rear slope"}  # an outlet, no other line
    assert {one["status"] for one in record["checks"] if one["rule"] == "own-line"} == {"pass"}
    assert not [one for one in record["checks"] if one["rule"] == "lines-cross" and one["status"] == "fail"]
    assert {key for carried, _ in lines for key in carried} == {"DS-1", "DS-2", "DS-3", "DS-4", "Sump"}


def test_an_outlet_gets_only_the_water_that_it_takes(asked):
    record, lines = lines_of(asked("refuses", {"Rear slope": {"refuses": ["downspout"]}}))
    ends = {name: to for carried, to in lines for name in carried if to in {"Curb hole", "Rear slope"}}
    assert ends == {
        "DS-1": "Curb hole",
        "DS-2": "Curb hole",
        "DS-3": "Curb hole",
        "DS-4": "Curb hole",
        "Sump": "Rear slope",
    }
    assert {one["status"] for one in record["checks"] if one["rule"] == "outlet-takes"} == {"pass"}
    refused = [one for one in record["candidates"] if one.get("source") == "S1" and one["outlet"] == "O2"]
    assert [(one["feasible"], one["reason"]) for one in refused] == [
        (False, "Rear slope takes no water of a downspout, as the site says (its keys takes, refuses)")
    ]


def test_text_of_a_table_lists_kinds_too(asked):
    _, lines = lines_of(asked("takes", {"Curb hole": {"takes": "downspout, area_drain"}}))
    assert not any("Sump" in carried and to == "Curb hole" for carried, to in lines)


@pytest.mark.parametrize(
    ("edits", "told"),
    [
        ({"Sump": {"own_line": "maybe"}}, '("Sump"), own_line: is "maybe". Write true or false.'),
        (
            {"Curb hole": {"takes": "downspot"}},
            'takes: names "downspot", which is no kind of source. Did you mean downspout?',
        ),
        ({"Curb hole": {"refuses": 3}}, 'refuses: is "3". List kinds of source: downspout'),
        ({"Curb hole": {"refuses": ["sump", ["x"]]}}, "which is no kind of source"),
    ],
)
def test_what_cannot_be_read_is_told(edits, told, tmp_path, capsys):
    folder = tmp_path / "site"
    shutil.copytree(SITE, folder)
    file = folder / "features.geojson"
    record = json.loads(file.read_text("utf-8"))
    for feature in record["features"]:
        feature["properties"].update(edits.get(feature["properties"].get("name"), {}))
    file.write_text(json.dumps(record), "utf-8")
    assert main(["plan", str(folder), "--out", str(tmp_path / "plan")]) == 2
    assert told in capsys.readouterr().err
