"""A finding's place is a value beside its words.

The same line and the same stations, in the record, read back and reviewed.
"""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from siteplan.stored.folder_of import read_plan

ROOT = Path(__file__).parents[2]
FOOT = 0.3048


def stations(text):
    return [(int(a) * 100 + float(b)) * FOOT for a, b in re.findall(r"(\d+)\+(\d+\.\d)", text)]


@pytest.fixture(scope="module")
def made(plan_once):
    return plan_once(ROOT / "sample_sites" / "alder-court")


def test_what_a_finding_says_in_words_stands_beside_it_in_metres(made):
    checks = json.loads((made.folder / "plan.json").read_text(encoding="utf-8"))["checks"]
    spoken = [one for one in checks if "station" in one["where"]]
    assert len(spoken) > 60
    for one in spoken:
        said = stations(one["where"])
        assert one["place"]["from"] == pytest.approx(min(said), abs=0.05 * FOOT + 1e-6), one
        assert one["place"]["to"] == pytest.approx(max(said), abs=0.05 * FOOT + 1e-6), one
        assert one["place"]["line"] in (
            one["subject"],
            one["where"].partition(",")[0],
            one["subject"].partition(":")[0],
        )
    assert {one["place"] is None for one in checks if "station" not in one["where"]} == {True}


def test_places_are_read_back_as_they_stand(made):
    checks = json.loads((made.folder / "plan.json").read_text(encoding="utf-8"))["checks"]
    for said, kept in zip(checks, read_plan(made.folder).plan.findings, strict=True):
        told = kept.place and {"line": kept.place.line, "from": kept.place.station_from, "to": kept.place.station_to}
        assert said["place"] == told


@pytest.mark.parametrize("how", ["another line", "a foot along", "taken out"])
def test_an_edited_place_is_found_by_a_review(made, tmp_path, capsys, how):
    from siteplan.cli.main import main

    record = json.loads((made.folder / "plan.json").read_text(encoding="utf-8"))
    one = next(one for one in record["checks"] if one["place"] and one["place"]["line"] == "L2")
    if how == "another line":
        one["place"]["line"] = "L3"
    elif how == "a foot along":
        one["place"]["to"] += FOOT
    else:
        one["place"] = None
    for file in made.folder.iterdir():
        (tmp_path / file.name).write_bytes(file.read_bytes())
    (tmp_path / "plan.json").write_text(json.dumps(record), encoding="utf-8")
    assert main(["review", str(tmp_path), str(ROOT / "sample_sites" / "alder-court")]) == 1
    told = " ".join(capsys.readouterr().out.split())
    assert "verdict-edited" in told
    assert "as its place, the recheck finds" in told
