"""Whole plans with fall to spare do not dig to the limit of cover and then doubt themselves."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from siteplan.cli.main import main

SAMPLES = Path(__file__).parents[2] / "sample_sites"


def planned(site, out):
    main(["plan", str(site), "--out", str(out)])
    return json.loads((out / "plan.json").read_text(encoding="utf-8"))


def doubtful_covers(plan):
    return [c["subject"] for c in plan["checks"] if c["rule"] == "min-cover" and c["status"] != "pass"]


def with_certainty(tmp_path, share):
    site = tmp_path / f"lot-{share}"
    site.mkdir()
    for file in (SAMPLES / "alder-court").iterdir():
        (site / file.name).write_bytes(file.read_bytes())
    text = (site / "site.toml").read_text(encoding="utf-8")
    (site / "site.toml").write_text(f"{text}\n[trench]\ncertainty = {share}\n", encoding="utf-8")
    return site


def test_alder_court_is_sure_of_its_covers(tmp_path):
    plan = planned(SAMPLES / "alder-court", tmp_path / "out")
    assert doubtful_covers(plan) == []
    # the sample's heights are good to 0.04 ft; 1.645 times that is 0.066 ft
    assert any(
        re.search(r"lie 0\.07 ft .* deeper than least cover asks: 95 % sure", text) for text in plan["assumptions"]
    )


def test_without_margin_it_was_not(tmp_path):
    plan = planned(with_certainty(tmp_path, 0.5), tmp_path / "out")
    assert doubtful_covers(plan)
    assert not any("certainty" in text for text in plan["assumptions"])


def test_each_line_says_what_it_keeps_and_what_that_costs(tmp_path, capsys):
    plan = planned(SAMPLES / "alder-court", tmp_path / "out")
    said = " ".join(capsys.readouterr().out.split())
    assert plan["lines"]
    for line in plan["lines"]:
        by_rule = {one["rule"]: one for one in line["margins"]}
        at_outlet = line["to"] in {outlet["id"] for outlet in plan["outlets"]}
        assert {"min-grade", "max-depth"} <= set(by_rule)
        assert ("outlet-control" in by_rule) == at_outlet
        covers = [one for rule, one in by_rule.items() if "cover" in rule]
        # 1.645 times 0.04 ft: the sample's heights are good to 0.04 ft
        assert [round(one["asked"] / 0.3048, 4) for one in covers] == [0.0658]
        for one in by_rule.values():
            assert one["cost"] >= 0
            assert (one["short_of"] is None) == (one["held"] >= one["asked"] - 2e-6)
        # grades that a crew sets: whole sixteenths of an inch a foot
        rows = [row["grade_percent"] for row in line["stations"][1:]]
        assert all(abs(grade / 100 * 192 - round(grade / 100 * 192)) < 0.002 for grade in rows), rows
    assert "Margins past the limits: cover" in said
    assert "Margins" in (tmp_path / "out" / "map.html").read_text(encoding="utf-8")
    assert "past the limits: cover" in (tmp_path / "out" / "trench_schedule.csv").read_text(encoding="utf-8")


def test_a_layout_for_more_fall_keeps_its_covers_by_the_sites_own_least_grade(lots, tmp_path):
    """Its ways are looked for at a steeper grade; what its lines then do with the fall is for the rules of the site."""
    main(
        [
            "plan",
            str(lots.lot(tmp_path / "lot", 7)),
            "--out",
            str(tmp_path / "out"),
            "--layouts",
            "2",
            "--choose",
            "2",
        ]
    )
    plan = json.loads((tmp_path / "out" / "plan.json").read_text(encoding="utf-8"))
    (taken,) = [one for one in plan["layouts"] if one["chosen"]]
    assert taken["aim"]["what"] == "fall"
    assert taken["spare"] > 0.3  # m
    assert doubtful_covers(plan) == []
    for line in plan["lines"]:
        (cover,) = [one for one in line["margins"] if "cover" in one["rule"]]
        assert cover["held"] >= cover["asked"] - 2e-6, line["id"]


@pytest.mark.parametrize("share", ["0.4", "1", '"sure"', "true"])
def test_a_certainty_that_is_none_is_refused(tmp_path, capsys, share):
    site = with_certainty(tmp_path, share)
    assert main(["plan", str(site), "--out", str(tmp_path / "out")]) == 2
    said = capsys.readouterr().err
    assert "site.toml, [trench] certainty" in said
    assert "Give a share from 0.5 (no margin) to 0.999." in said
    assert not (tmp_path / "out").exists()
