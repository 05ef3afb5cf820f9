"""What `siteplan plan` says of rain, curbs, sumps and sizes, from outside: its screen, plan.json, map and schedule."""

from __future__ import annotations

import csv
import json

import pytest

from siteplan.cli.main import main

TABLE = "[[15, 5.0], [30, 3.6], [60, 2.4]]"


@pytest.fixture
def run(tmp_path, capsys):
    """Plan a folder: exit code, the screen with its lines joined, and the parts people read."""

    def go(folder):
        out = tmp_path / "out"
        code = main(["plan", str(folder), "--out", str(out)])
        screen = " ".join(capsys.readouterr().out.split())
        plan = json.loads((out / "plan.json").read_text(encoding="utf-8"))
        rows = list(csv.DictReader((out / "trench_schedule.csv").read_text(encoding="utf-8-sig").splitlines()))
        return code, screen, plan, rows, (out / "map.html").read_text(encoding="utf-8")

    return go


def of(plan, rule):
    return [one for one in plan["checks"] if one["rule"] == rule]


def test_a_table_that_begins_too_late_is_flagged_where_people_read(run, stories, tmp_path):
    folder = stories.s1(tmp_path / "site")
    text = (folder / "site.toml").read_text(encoding="utf-8")
    (folder / "site.toml").write_text(text.replace("intensity = 5.5", f"table = {TABLE}"), encoding="utf-8")
    _, screen, plan, rows, page = run(folder)
    flags = of(plan, "rain-duration")
    assert {(one["status"], one["value"], one["limit"]) for one in flags} == {("flag", 900.0, 300.0)}
    told = "begins at 15 min and a roof answers in 5 min"
    assert told in screen
    assert told in page
    wet = [row for row in rows if row["line"] in {one["subject"] for one in flags}]
    assert {row["rain_minutes"] for row in wet} == {"15 (wanted 5)"}


def test_a_duration_that_the_table_lacks_is_refused(site, tmp_path, capsys):
    folder = site(
        changes={"rainfall.intensity": None, "rainfall.table": "[[15, 127.0], [60, 61.0]]", "rainfall.duration": "5"}
    )
    assert main(["plan", str(folder), "--out", str(tmp_path / "out")]) == 2
    assert "is 5 minutes and the table begins at 15" in " ".join(capsys.readouterr().err.split())
    assert not (tmp_path / "out").exists()


def test_a_table_of_depths_is_asked_about(site, tmp_path, capsys):
    folder = site(changes={"rainfall.intensity": None, "rainfall.table": "[[5, 10.0], [15, 22.0], [60, 40.0]]"})
    assert main(["plan", str(folder), "--out", str(tmp_path / "out")]) == 2
    told = " ".join(capsys.readouterr().err.split())
    assert "10 mm in 5 minutes, is 120 mm/h" in told
    assert 'table_gives = "depths"' in told
