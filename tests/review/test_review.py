"""The review: the driveway story as a master answers, what cannot be judged, and the check sheet."""

from __future__ import annotations

import json
import re
from pathlib import Path

import numpy as np
import pytest

from siteplan.cli.main import main
from siteplan.review.alike import record_differences, text_differs
from siteplan.review.comments import check_sheet, review_as_json, review_as_text
from siteplan.review.derived import worked_out
from siteplan.review.whole import review
from siteplan.sheets.plan_json import plan_json
from siteplan.stored.folder_of import read_plan
from siteplan.survey.folder import read_site

FOOT = 0.3048
REPO = Path(__file__).parents[2]


@pytest.fixture
def planned(swale_drive, tmp_path):
    main(["plan", str(swale_drive), "--out", str(tmp_path / "plan")])
    return tmp_path / "plan"


def drafted(folder, grade):
    """The same line as a draft in sewer-grade pipe at one grade from an outlet invert of 96.20."""
    path = folder / "plan.json"
    record = json.loads(path.read_text(encoding="utf-8"))
    (line,) = record["lines"]
    pipe = line["pipe"]
    assert pipe["kind"] == "pvc_sdr35"
    rise, below = (pipe["od_m"] + pipe["id_m"]) / 2, (pipe["od_m"] - pipe["id_m"]) / 2 + 0.25 * FOOT
    for part in ("vertices", "stations"):
        for one in line[part]:
            one["invert"] = round(96.20 * FOOT + grade * one["station"], 6)
            if part == "stations":
                one["cover"] = round(one["ground"] - one["invert"] - rise, 6)
                one["cut"] = round(one["ground"] - one["invert"] + below, 6)
                one["grade_percent"] = grade * 100 if one["station"] else 0.0
    line["reaches"] = []
    path.write_text(json.dumps(record), encoding="utf-8")


def test_the_first_draft_under_the_driveway_fails_at_its_low_edge(planned, swale_drive):
    drafted(planned, 0.02)
    result = review(planned, swale_drive)
    fails = [one for one in result.findings if one.rule == "min-cover-pavement" and one.status == "fail"]
    assert fails
    assert any("0+38" in one.where and "13.2 in" in one.message for one in fails)
    (advice,) = result.advice
    assert "13.2 in of cover at 0+38.0, 18.0 in asked" in advice
    assert "Flattening cannot solve it: the grade could be at most 0.94 %, least is 1.00 %" in advice
    assert "from 0+34.0 to 0+54.0 needs 12.0 in and has 13.0 in at this grade" in advice
    assert advice in review_as_text(result)
    assert advice in json.loads(review_as_json(result))["advice"]


def test_where_flatter_pipe_is_allowed_the_same_draft_is_told_to_be_laid_flatter(swale_drive, tmp_path):
    """The story's own figure: at most 0.94 % gives the drive its 18 in.

    A site that allows half a percent can have it.
    """
    toml = swale_drive / "site.toml"
    toml.write_text(toml.read_text(encoding="utf-8") + "min_grade_percent = 0.5\n", encoding="utf-8")
    main(["plan", str(swale_drive), "--out", str(tmp_path / "plan")])
    drafted(tmp_path / "plan", 0.02)
    (advice,) = review(tmp_path / "plan", swale_drive).advice
    assert "A grade of 0.94 % or less from the same outlet would give it." in advice
    assert "Flattening cannot" not in advice


def test_flattening_to_the_least_grade_still_fails_at_the_low_edge(planned, swale_drive):
    """The trap: at 1.00 % the centre has 18.8 in, the low edge 17.7 in."""
    drafted(planned, 0.01)
    (advice,) = review(planned, swale_drive).advice
    assert "17.7 in of cover at 0+38.0" in advice


def test_the_tools_own_plan_has_heavy_pipe_there_and_no_fail(planned, swale_drive):
    result = review(planned, swale_drive)
    assert result.counts["fail"] == 0, [one for one in result.findings if one.status == "fail"]
    assert result.advice == ()
    (line,) = result.stored.plan.lines
    edges = (38 * FOOT, 50 * FOOT)
    assert {line.pipe_at(at).kind for at in edges} == {"pvc_sch40"}
    for at, ground in zip(edges, (98.40, 98.70), strict=True):
        invert = float(np.interp(at, [v.station for v in line.vertices], [v.invert for v in line.vertices]))
        assert ground * FOOT - invert - line.pipe_at(at).rise >= 12 * 0.0254 - 0.002


def test_without_a_site_rules_are_not_judged_and_that_is_said(planned):
    result = review(planned, None)
    assert result.counts["fail"] == 0
    assert any(
        one.rule == "rules-edited" and one.status == "flag" and "Give SITE" in one.message for one in result.findings
    )
    assert not any(one.rule == "min-grade" for one in result.findings)


def test_without_a_site_pencil_arithmetic_still_catches(planned):
    path = planned / "plan.json"
    record = json.loads(path.read_text())
    record["lines"][0]["stations"][2]["invert"] += 0.05
    path.write_text(json.dumps(record))
    fails = {one.rule for one in review(planned, None).findings if one.status == "fail"}
    assert {"arithmetic", "schedule"} <= fails


def test_the_check_sheet_has_sources_blanks_and_signatures(planned, swale_drive):
    page = check_sheet(review(planned, swale_drive)).decode()
    for words in ("Inspector: name, signature, date", "HOLD 3", "under Driveway", "state one-call laws", "Permit no."):
        assert words in page
    assert "Source: common practice, no source" not in page  # a source nobody gave is blank
    for column in ("Measured", "Initials"):  # for a pen
        assert set(re.findall(rf'<td[^>]*data-head="{column}"[^>]*>', page)) == {f'<td class="s" data-head="{column}">'}
    assert set(re.findall(r'<td[^>]*data-head="Worst place"[^>]*>', page)) == {'<td class="t" data-head="Worst place">'}
    assert "<script" not in page


def test_names_are_text_on_the_check_sheet(planned, swale_drive):
    path = planned / "plan.json"
    path.write_text(path.read_text().replace("Driveway story", "<img src=x>"))
    assert "<img" not in check_sheet(review(planned, swale_drive)).decode()


def test_a_folder_without_map_and_schedule_fails(planned, swale_drive):
    (planned / "map.html").unlink()
    (planned / "trench_schedule.csv").unlink()
    fails = {(one.rule, one.subject) for one in review(planned, swale_drive).findings if one.status == "fail"}
    assert {("map", "map.html"), ("schedule", "trench_schedule.csv")} <= fails


@pytest.mark.parametrize(
    "content",
    [
        "",
        "{",
        "[]",
        '{"format": "other"}',
        '{"format": "siteplan-plan", "version": 2}',
        '{"format": "siteplan-plan", "version": 1}',
    ],
)
def test_what_is_no_plan_is_one_line(tmp_path, content, capsys):
    (tmp_path / "plan.json").write_text(content)
    assert main(["review", str(tmp_path)]) == 2
    err = capsys.readouterr().err
    assert err.startswith("plan.json")
    assert len(err.strip().splitlines()) == 1


def test_words_are_the_same_or_not_and_the_figure_that_differs_is_named_whole():
    assert text_differs("cut 1'-7 1/4\" at 0+38.0", "cut 1'-7 1/4\" at 0+38.0") is None
    assert text_differs("cut 1'-7 1/4\" at 0+38.0", "cut 1'-7 3/8\" at 0+38.0") == ("1'-7 1/4\"", "1'-7 3/8\"")
    assert text_differs("cut 1'-7 1/4\" at 0+38.0", "cut 1'-7 1/4\" at 0+38.1") == ("0+38.0", "0+38.1")
    assert text_differs("rain 5.50 in/h", "rain 5.51 in/h") == ("5.50", "5.51")
    assert text_differs("design fill .80", "design fill .81") is not None
    assert text_differs("1 and 2", "1 and 2 ") is not None
    assert text_differs("5 of 5 drained", "5 of 6 drained") == ("5", "6")
    assert text_differs("falls", "fails") is not None
    assert [*record_differences({"a": [1.0, {"b": "x"}]}, {"a": [1.0000001, {"b": "y"}], "c": 1})] == [
        ("a 2.b", "x", "y"),
        ("c", "nothing", "1"),
    ]


def test_a_plan_reads_back_as_it_was_written(planned, swale_drive):
    """What follows from the lines (water, doubts) is worked out again; all else is read."""
    stored = read_plan(planned)
    site = read_site(swale_drive)
    plan, why = worked_out(stored.plan, site)
    assert why == ""
    own = json.loads(plan_json(plan, site))
    assert [*record_differences(stored.record, own)] == []
    parts = {"water", "doubt", "chance", "shots_wanted", "ground_doubt"}
    assert {key for key in own if key not in parts and own[key] != stored.record[key]} <= {"lines", "candidates"}


def test_the_order_of_the_rules_is_part_of_the_plan(planned, swale_drive):
    """A rule that is taken to the foot of a long list is read by nobody."""
    path = planned / "plan.json"
    record = json.loads(path.read_text())
    record["rules"].append(record["rules"].pop(0))
    path.write_text(json.dumps(record))
    (told,) = (one for one in review(planned, swale_drive).findings if one.status == "fail")
    assert (told.rule, told.subject) == ("rules-edited", record["rules"][0]["id"])
    assert "order" in told.message


def test_words_beside_a_stated_bedding_or_fitting_are_those_of_its_values(planned, swale_drive):
    """Whoever changes the words alone is found without the planner.

    Whoever changes the value changes what is judged.
    """
    path = planned / "plan.json"
    record = json.loads(path.read_text())
    for vertex in record["lines"][0]["vertices"]:
        vertex["fitting"] = "cleanout"
    record["lines"][0]["reaches"][0]["side_fill"] = "stone"
    path.write_text(json.dumps(record))
    told = [
        one.message for one in review(planned, swale_drive).findings if one.rule == "plan-file" and one.status == "fail"
    ]
    assert any(".fitting" in text for text in told)
    assert any(".side_fill" in text for text in told)


def test_what_was_compared_and_found_as_made_is_not_called_not_compared(planned, swale_drive):
    result = review(planned, swale_drive)
    assert {"extra-file", "sheet-text"} <= {one.rule for one in result.findings if one.status == "pass"}
    assert "not compared" not in check_sheet(result).decode()


def test_a_figure_in_a_finding_is_rounded_and_a_table_is_told_by_its_keys(planned, swale_drive):
    record = json.loads((planned / "plan.json").read_text(encoding="utf-8"))
    first = next(
        one for one in record["checks"] if isinstance(one.get("value"), float) and one.get("doubt") is not None
    )
    first["value"] += 1.2345678901234
    table = next(key for key, value in record["water"]["lines"][0].items() if isinstance(value, dict))
    record["water"]["lines"][0][table] = None
    (planned / "plan.json").write_text(json.dumps(record), encoding="utf-8")
    result = review(planned, swale_drive)
    said = review_as_text(result, everything=True)
    assert "the plan states a value of" in said
    assert re.search(r"\d\.\d{12,}", said) is None
    assert "{'" not in said


def test_an_edited_limit_is_told_beside_the_one_in_force(planned, swale_drive):
    """The story asks for no cover of its own: 12 in are in force."""
    path = planned / "plan.json"
    record = json.loads(path.read_text(encoding="utf-8"))
    rule = next(one for one in record["rules"] if one["id"] == "min-cover")
    rule["limit"] = round(0.5 * FOOT, 6)
    path.write_text(json.dumps(record), encoding="utf-8")
    said = [one.message for one in review(planned, swale_drive).findings if one.rule == "rules-edited"]
    assert [text for text in said if "limit of min-cover edited" in text and "the site's rules give 0.3048 m (" in text]


def test_one_fail_is_no_fails(planned, swale_drive):
    (planned / "map.html").unlink()
    result = review(planned, swale_drive)
    assert result.counts["fail"] == 1
    assert "1 fail," in review_as_text(result).splitlines()[0]
    assert "1 fail," in check_sheet(result).decode()
    assert "1 fails" not in check_sheet(result).decode()
