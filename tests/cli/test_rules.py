"""`siteplan rules` from outside."""

from __future__ import annotations

import json
from pathlib import Path

from siteplan.books.rules import RULES
from siteplan.cli.main import main

REPO = Path(__file__).parents[2]
SAMPLES = REPO / "sample_sites"


def test_the_defaults_each_with_source_and_standing(capsys):
    assert main(["rules", "--json"]) == 0
    record = json.loads(capsys.readouterr().out)
    assert [one["id"] for one in record["rules"]] == [rule.id for rule in RULES]
    assert all(
        one["source"] and one["date"] and one["status"] in {"code", "local", "practice", "unknown"}
        for one in record["rules"]
    )
    cover = next(one for one in record["rules"] if one["id"] == "min-cover")
    assert (cover["limit"], cover["unit"]) == (0.3048, "m")


def test_a_sites_own_rules_and_what_they_replace(capsys):
    assert main(["rules", str(SAMPLES / "marsh-lane"), "--json"]) == 0
    own = {one["id"]: one for one in json.loads(capsys.readouterr().out)["rules"]}
    assert any(one["replaced"] is not None and "site.toml" in one["source"] for one in own.values())


def test_two_profiles_that_contradict_one_another(capsys):
    limits = []
    for name in ("fernhollow", "stonebridge"):
        assert main(["rules", "--profile", str(SAMPLES / "rules" / f"{name}.toml"), "--json"]) == 0
        limits.append({one["id"]: one["limit"] for one in json.loads(capsys.readouterr().out)["rules"]})
    assert limits[0]["min-grade"] == 2.0
    assert limits[1]["min-grade"] == 0.5


def test_the_screen_names_source_and_unknown(capsys):
    assert main(["rules", "--profile", str(SAMPLES / "rules" / "stonebridge.toml")]) == 0
    out = capsys.readouterr().out
    trees = out[out.index("\nclear-of-trees: ") :].split("\n    ")[1].split("\nlines-cross")[0]
    told = " ".join(out[out.index("\nclear-of-trees: ") : out.index("\nlines-cross: ")].split())
    assert trees.startswith("not known; ")
    assert "standing not known" in told
    assert "Asked of the borough's office" in told


def test_what_cannot_be_used(tmp_path, capsys):
    assert main(["rules", str(tmp_path)]) == 2
    assert main(["rules", "--profile", str(tmp_path / "none.toml")]) == 2
    assert main(["rules", str(SAMPLES / "marsh-lane"), "--profile", str(SAMPLES / "rules" / "fernhollow.toml")]) == 2
    assert "Traceback" not in capsys.readouterr().err
