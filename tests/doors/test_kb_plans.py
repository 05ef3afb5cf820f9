"""What `siteplan plan` and `review` say of a site held to a roughness in use, and of n on a metric site."""

from __future__ import annotations

import csv
import json

import pytest

from siteplan.cli.main import main

KB = '\n[water]\nbasis = "prandtl-colebrook"\npipe = "pvc_metric"\n'


@pytest.fixture
def plan_of(tmp_path, capsys):
    """Plan a folder: the screen with its lines joined, plan.json, the schedule's rows, the map, the folder."""

    def go(folder):
        out = tmp_path / "out"
        assert main(["plan", str(folder), "--out", str(out)]) in {0, 1}
        screen = " ".join(capsys.readouterr().out.split())
        rows = list(csv.DictReader((out / "trench_schedule.csv").read_text(encoding="utf-8-sig").splitlines()))
        plan = json.loads((out / "plan.json").read_text(encoding="utf-8"))
        return screen, plan, rows, (out / "map.html").read_text(encoding="utf-8"), out

    return go


def test_capacity_by_a_roughness_in_use_where_people_read(metric_lot, plan_of, capsys):
    # 103.6 mm, 14.75 %, kb 1.5 mm, 0.70 of the depth, by hand: d = 4R = 0.12276 m, r = sqrt(2 g d S) = 0.59594 m/s,
    # 2.51 x 1.31e-6 / (d r) + 0.0015 / (3.71 d) = 0.0033385, v = 2.95161 m/s on 0.0063027 m2: 18.603 L/s
    folder = metric_lot(tables=KB + "kb_mm = 1.5\ndesign_fill = 0.7\n", bare=True)
    _, plan, rows, page, out = plan_of(folder)
    assert plan["water"]["kb_mm"] == 1.5
    run = plan["water"]["lines"][0]["runs"][0]
    assert (run["bore_m"], run["grade_percent"]) == (pytest.approx(0.1036), pytest.approx(14.75))
    assert run["capacity_lps"] == pytest.approx(18.603, abs=0.002)
    assert run["capacity_from"] == "prandtl-colebrook"
    told = "Prandtl-Colebrook, kb 1.5 mm"
    assert {row["capacity_by"] for row in rows} == {told}
    assert told in page
    assert "Prandtl-Colebrook with kb 1.5 mm gives DN 110" in next(
        one["message"] for one in plan["checks"] if (one["rule"], one["subject"]) == ("size-fits", "L1")
    )
    assert not [one for one in plan["checks"] if one["rule"] == "numbers-agree" and one["status"] != "pass"]
    assert any("kb 1.5 mm" in text for text in plan["assumptions"])
    assert not any("European" in text for text in plan["assumptions"])
    capsys.readouterr()
    assert main(["review", str(out), str(folder)]) in {0, 1}
    told = capsys.readouterr().out
    assert "numbers-agree" not in told
    assert "made-again" not in told
    assert "size-fits" not in told


def test_the_usual_kb_is_said_to_be_taken(metric_lot, plan_of):
    _, plan, _, _, _ = plan_of(metric_lot(tables=KB, bare=True))
    assert plan["water"]["kb_mm"] == 1.0
    assert any("kb 1 mm" in text and "EN 12056-2 annex B takes" in text for text in plan["assumptions"])


def test_kb_speaks_of_smooth_pipe_alone(metric_lot, plan_of):
    screen, plan, rows, page, _ = plan_of(metric_lot(tables=KB.replace("pvc_metric", "pe_corr_single"), bare=True))
    flags = [one for one in plan["checks"] if one["rule"] == "size-fits"]
    assert {one["status"] for one in flags} <= {"flag", "fail"}
    assert all("kb speaks of smooth pipe" in one["message"] for one in flags)
    assert "Manning: kb is of smooth pipe" in {row["capacity_by"] for row in rows}
    assert "Manning: kb is of smooth pipe" in page
    assert "kb speaks of smooth pipe" in screen


@pytest.mark.parametrize(
    ("tables", "told"),
    [
        (KB + "kb_mm = 0\n", "Give millimetres from 0.01 to 5"),
        (KB + 'kb_mm = "rough"\n', "Give millimetres from 0.01 to 5"),
        (KB + "kb_mm = 250\n", "Give millimetres from 0.01 to 5"),
        (KB + 'roughness = "aged"\n', "Take roughness out and give kb_mm"),
        ("\n[water]\nkb_mm = 0.5\n", 'write basis = "prandtl-colebrook"'),
    ],
)
def test_a_kb_that_cannot_be_is_refused(metric_lot, tmp_path, capsys, tables, told):
    assert main(["plan", str(metric_lot(tables=tables)), "--out", str(tmp_path / "out")]) == 2
    assert told in " ".join(capsys.readouterr().err.split())
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(("rough", "said"), [("design", True), ("aged", False)])
def test_a_kind_roughness_is_said_where_it_is_taken(metric_lot, plan_of, rough, said):
    _, plan, _, page, _ = plan_of(
        metric_lot(tables=f'\n[water]\npipe = "pvc_metric"\nroughness = "{rough}"\n', bare=True)
    )
    told = {"design": "n 0.011 gives 9 % more", "aged": "European tables"}[rough]
    assert (told in page) is said
    assert any(told in text for text in plan["assumptions"]) is said
