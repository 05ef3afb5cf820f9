"""A size whose strength no book holds: what cannot be judged of it is said, line by line, with how to give it."""

from __future__ import annotations

import json

import pytest

from siteplan.cli.main import main

GIVEN = """
[pipes.dn160]
kind = "pvc_metric"
nominal = "DN 160"
like = "pvc_sdr35 6 in"
od_mm = 160.0
id_mm = 150.6
wall_mm = 4.7
displaced_dia_mm = 160.0
bell_od_mm = 180.0
EI_short_lb_in2 = 6648000
EI_long_lb_in2 = 2327000
weight_lb_per_ft = 2.3
source = "the maker's data sheet"
"""
METRIC = '\n[water]\npipe = "pvc_metric"\n'
RULES = ("flotation", "belly-risk", "ring-deflection", "sleeve")


@pytest.fixture
def findings_of(tmp_path, capsys):
    def go(folder):
        out = tmp_path / "out"
        assert main(["plan", str(folder), "--out", str(out)]) in {0, 1}, capsys.readouterr().err
        plan = json.loads((out / "plan.json").read_text(encoding="utf-8"))
        return {rule: [one for one in plan["checks"] if one["rule"] == rule] for rule in RULES}, plan

    return go


def test_what_no_strength_is_known_of_is_not_passed_over(metric_lot, findings_of):
    found, plan = findings_of(metric_lot(tables=METRIC))
    for rule in RULES:
        assert found[rule], f"{rule} says nothing"
    for one in (*found["belly-risk"], *found["ring-deflection"], *found["sleeve"]):
        assert one["status"] == "flag"
        assert one["message"].startswith("cannot tell: ")
        assert one["subject"].split(":")[0] in {line["id"] for line in plan["lines"]}
        assert (
            "no strength or weight of DN 110" in one["message"] or "no strength or weight of DN 160" in one["message"]
        )
        assert "[pipes]" in one["message"]
    # 110 mm of no weight: 62.4 lb/ft3 x 0.0095 m2 of water lifts it; whatever lies over it is light organic soil at
    # worst
    for one in found["flotation"]:
        assert one["status"] == "flag"
        assert "no strength or weight of DN 1" in one["message"]
        assert one["value"] < one["limit"]
    told = " ".join(plan["assumptions"])
    assert "flotation" in told


def test_a_strength_that_the_site_gives_is_judged_by(metric_lot, findings_of):
    found, plan = findings_of(metric_lot(tables=METRIC + 'smallest = "DN 160"\n' + GIVEN))
    small = [line["id"] for line in plan["lines"] if line["pipe"]["nominal"] == "DN 160"]
    assert small
    said = [one for rule in RULES for one in found[rule] if one["subject"].split(":")[0] in small]
    assert {one["rule"] for one in said} >= {"flotation", "ring-deflection"}
    assert not any("no strength or weight" in one["message"] for one in said)


@pytest.mark.parametrize(
    ("wrong", "told"),
    [('nominal = "DN 111"', "DN 110"), ("nominal = 110", "in quotes"), ("id_mm = 90.0", "inside")],
)
def test_a_size_that_is_none_of_the_kind_is_refused(metric_lot, tmp_path, capsys, wrong, told):
    key = wrong.split(" = ", maxsplit=1)[0]
    given = "\n".join(wrong if row.startswith(f"{key} ") else row for row in GIVEN.splitlines())
    if key == "id_mm":
        given = given.replace("od_mm = 160.0", "od_mm = 160.2")
    assert main(["plan", str(metric_lot(tables=METRIC + given)), "--out", str(tmp_path / "out")]) == 2
    assert told in " ".join(capsys.readouterr().err.split())
