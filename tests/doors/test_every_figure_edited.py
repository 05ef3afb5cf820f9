"""Every kind of figure, word and list in a plan.json edited in turn.

The review finds it, or it is named as taken on trust.
"""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from siteplan.checks import judge
from siteplan.cli.main import main
from siteplan.errors import InputError
from siteplan.offered import made_sheets
from siteplan.review.against_site import rule_findings, verdict_findings
from siteplan.review.derived import own_inflows
from siteplan.review.made_again import made_again, made_findings
from siteplan.review.same_files import text_findings
from siteplan.review.whole import review
from siteplan.stored.folder_of import StoredPlan, read_plan
from siteplan.stored.plan_of import stored_plan
from siteplan.survey.folder import read_site

REPO = Path(__file__).parents[2]
SAMPLES = ("alder-court", "marsh-lane")
ON_TRUST = {"site.stamp"}  # the standing of every review names it: the date on the sheets


@pytest.fixture(scope="module", params=SAMPLES)
def planned(request, sample_plan):
    out = sample_plan(request.param).folder
    folder = REPO / "sample_sites" / request.param
    stored, site = read_plan(out), read_site(folder)
    made, why = made_again(stored, site, folder)
    assert why == ""
    return stored, site, folder, made


def kinds(value, pattern="", path=()):
    """One place of each kind: its keys without numbers, the keys that lead there."""
    yield pattern, path, value
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, item in items:
        name = "[]" if isinstance(value, list) else f".{key}"
        yield from kinds(item, f"{pattern}{name}".lstrip("."), (*path, key))


def edits(value):
    """What somebody might write in its place."""
    if isinstance(value, bool):
        yield "turned", not value
    elif isinstance(value, int | float):
        yield "made zero", 0.0 if value else 7.5
        yield "a twentieth less", value * 0.95 - 0.01
    elif isinstance(value, str):
        yield "other words", f"{value} and no more"
        if value:
            yield "no words", ""
    elif value is None:
        yield "given", 0.25
    elif isinstance(value, list):
        if value:
            yield "last one gone", value[:-1]
            yield "last one twice", [*value, value[-1]]
        if len(value) > 3:
            yield "thinned to its ends", [value[0], value[-1]]
    elif isinstance(value, dict):
        yield "a word more", {**value, "approved": "yes"}


def put(record, path, value):
    """The record with one value changed; what is not on the way to it is shared."""
    if not path:
        return value
    key, *rest = path
    changed = dict(record) if isinstance(record, dict) else list(record)
    changed[key] = put(record[key], rest, value)
    return changed


def caught(stored, site, made, record):
    """Refused where it is read, or a fail against the plan made again or the rules in force."""
    try:
        changed = StoredPlan(plan=stored_plan(record), record=record, folder=stored.folder)
    except InputError:
        return True
    found = [*made_findings(changed, made), *rule_findings(changed, site)]
    return any(one.status == "fail" for one in found)


def shapes(record):
    return {(pattern, type(value).__name__) for pattern, _, value in kinds(record)}


def tampered(record, seen):
    """One place of each kind that was not seen yet, each way of editing it."""
    seen = set(seen)
    for pattern, path, value in kinds(record):
        shape = (pattern, type(value).__name__)
        if path and shape not in seen and path[0] != "checks":
            seen.add(shape)
            for how, other in edits(value):
                yield pattern, how, put(record, path, other)


def test_every_edit_is_found_or_named_as_taken_on_trust(planned, sample_plan):
    stored, site, _, made = planned
    record = json.loads(json.dumps(stored.record))
    assert not caught(stored, site, made, record)
    tried, missed = 0, []
    first = read_plan(sample_plan(SAMPLES[0]).folder).record
    other = stored.record["site"]["name"] != first["site"]["name"]
    for pattern, how, changed in tampered(
        record, shapes(first) if other else ()
    ):  # of another sample what it has beside
        tried += 1
        # a line led another way is another line: its own arithmetic and every rule answer for it, see below
        if not caught(stored, site, made, changed) and not re.match(
            r"lines$|lines\[\](\.id|\.vertices\[\]\.(x|y|station|invert)|\.vertices)?$", pattern
        ):
            missed.append(f"{pattern}: {how}")
    assert tried >= (25 if other else 300)
    assert set(missed) <= {f"{one}: given" for one in ON_TRUST} | {
        f"{one}: {how}" for one in ON_TRUST for how in ("other words", "no words")
    }


FIGURE = re.compile(r"\d+(?:\.\d+)?")


def a_last_digit_more(text):
    """The text as often as it has figures, one of them greater by one of its last digit each time."""
    for figure in FIGURE.finditer(text):
        digits = len(figure[0].partition(".")[2])
        more = f"{float(figure[0]) + 10.0**-digits:.{digits}f}"
        yield f"{text[: figure.start()]}{more}{text[figure.end() :]}"


def test_one_of_the_last_digit_of_any_figure_in_words_is_found(planned):
    stored, site, _, made = planned
    record = json.loads(json.dumps(stored.record))
    tried, missed, seen = 0, [], set()
    for pattern, path, value in kinds(record):
        if not isinstance(value, str) or pattern in seen or path[0] == "checks":
            continue
        for text in a_last_digit_more(value):
            seen.add(pattern)
            tried += 1
            if not caught(stored, site, made, put(record, path, text)):
                missed.append((pattern, text[:80]))
    assert tried >= 100
    assert missed == []


def test_one_of_the_last_digit_of_any_figure_in_a_verdict_is_found(planned, monkeypatch):
    stored, site, _, _ = planned
    own = judge.findings(stored.plan, site, own_inflows(site))
    monkeypatch.setattr(judge, "findings", lambda plan, site, inflows: own)  # the same for every change below
    record = json.loads(json.dumps(stored.record))
    assert told(stored, site, record) == 0
    # one figure of every verdict at a time: as many are named as were edited
    ways = [
        [(key, text) for key in ("message", "where") for text in a_last_digit_more(check[key])]
        for check in record["checks"]
    ]
    for turn in range(max(map(len, ways))):
        edited = [number for number, some in enumerate(ways) if turn < len(some)]
        checks = [
            {**check, **dict([ways[number][turn]])} if number in edited else check
            for number, check in enumerate(record["checks"])
        ]
        assert told(stored, site, {**record, "checks": checks}) == len(edited)
    assert sum(map(len, ways)) >= 300


def told(stored, site, record):
    """How many verdicts were edited, as the recheck says."""
    changed = StoredPlan(plan=stored_plan(record), record=record, folder=stored.folder)
    return sum(one.rule == "verdict-edited" and one.status == "fail" for one in verdict_findings(changed, site))


def test_rain_edited_alike_in_the_record_and_on_every_sheet_is_found(planned, tmp_path, capsys):
    """The sheets are made from the edited record, so that they agree with it letter by letter."""
    stored, site, folder, _ = planned
    record = json.loads(json.dumps(stored.record))
    (number, rain), *_ = ((k, text) for k, text in enumerate(record["assumptions"]) if text.startswith("Rain: "))
    record["assumptions"][number] = next(a_last_digit_more(rain))
    record["water"]["rain"] = next(a_last_digit_more(record["water"]["rain"]))
    for name, content in made_sheets(stored_plan(record), site).items():
        (tmp_path / name).write_bytes(content)
    assert main(["review", str(tmp_path), str(folder), "--json"]) == 1
    fails = [one for one in json.loads(capsys.readouterr().out)["findings"] if one["status"] == "fail"]
    assert {one["where"] for one in fails if one["rule"] == "made-again"} >= {
        f"assumptions {number + 1}",
        "water.rain",
    }


@pytest.mark.parametrize("key", ["x", "y", "station", "invert"])
def test_a_line_led_another_way_is_judged_by_itself_and_the_rest_of_it_is_on_trust(planned, key, tmp_path):
    stored, _, folder, _ = planned
    record = json.loads(json.dumps(stored.record))
    line = record["lines"][0]
    line["vertices"][1][key] += 0.3
    line["belly"] = None
    for name in ("map.html", "trench_schedule.csv"):
        (tmp_path / name).write_bytes((stored.folder / name).read_bytes())
    (tmp_path / "plan.json").write_text(json.dumps(record), encoding="utf-8")
    result = review(tmp_path, folder)
    fails = {one.rule for one in result.findings if one.status == "fail"}
    assert {"arithmetic", "map"} <= fails
    assert any(
        one.rule == "made-again" and one.subject == line["id"] and one.status == "flag" for one in result.findings
    )
    for part in ("forecasts", "ways tried", "barred"):
        assert any(line["id"] in text and part in text for text in result.standing.trust), part


def made_told(planned, record):
    """What the plan made again says of an edited record."""
    stored, _, _, made = planned
    return [*made_findings(StoredPlan(plan=stored_plan(record), record=record, folder=stored.folder), made)]


@pytest.mark.parametrize("key", ["x", "y", "station", "invert"])
def test_a_line_nudged_by_less_than_can_be_staked_is_ours_with_figures_edited(planned, key):
    """Else a hair's breadth would take fittings, pipes and forecasts of a line from what is compared."""
    record = json.loads(json.dumps(planned[0].record))
    record["lines"][0]["vertices"][1][key] += 0.002
    record["lines"][0]["ground_notes"] = []
    found = made_told(planned, record)
    assert not [one for one in found if one.status == "flag"]
    assert {one.where.rpartition(" ")[2] for one in found} >= {f"2.{key}", "ground_notes"}


@pytest.mark.parametrize("key", ["reach_note", "cautions"])
def test_what_hangs_on_no_way_is_compared_where_a_line_goes_another(planned, key):
    record = json.loads(json.dumps(planned[0].record))
    record["lines"][0]["vertices"][1]["x"] += 0.3
    assert not [one for one in made_told(planned, record) if one.status == "fail"]
    record[key][-1] += " or so"
    assert [one.where for one in made_told(planned, record) if one.status == "fail"] == [f"{key} {len(record[key])}"]


@pytest.mark.parametrize("key", ["cautions", "assumptions"])
def test_a_sentence_twice_or_a_caution_elsewhere_is_told(planned, key):
    stored, site, _, _ = planned
    record = json.loads(json.dumps(stored.record))

    def told_of(text):
        changed = StoredPlan(plan=stored_plan(record), record=record, folder=stored.folder)
        found = [one for one in text_findings(changed, site) if one.status == "fail"]
        return [one.subject for one in found if text in one.message]

    assert told_of("") == []
    record[key].append(record[key][0])
    assert told_of("twice") == [key]
    if key == "cautions":
        record[key] = [*record[key][1:-1], record[key][0]]
        assert told_of("another order") == [key]


@pytest.mark.parametrize("how", ["another id", "gone", "a vertex less"])
def test_a_line_renamed_taken_out_or_cut_is_found_by_the_recheck(planned, how, tmp_path):
    stored, _, folder, _ = planned
    record = json.loads(json.dumps(stored.record))
    line = max(record["lines"], key=lambda one: len(one["vertices"]))
    if how == "another id":
        line["id"] = "L99"
    elif how == "gone":
        record["lines"].remove(line)
    else:
        del line["vertices"][1]
    written(planned, tmp_path)
    (tmp_path / "plan.json").write_text(json.dumps(record), encoding="utf-8")
    fails = {one.rule for one in review(tmp_path, folder).findings if one.status == "fail"}
    assert {"map", "verdict-edited"} <= fails


def written(planned, folder):
    for entry in planned[0].folder.iterdir():
        (folder / entry.name).write_bytes(entry.read_bytes())
    return folder


def test_cells_past_the_last_column_and_files_beside_the_sheets_are_told(planned, tmp_path):
    folder = written(planned, tmp_path)
    path = folder / "trench_schedule.csv"
    lines = path.read_bytes().split(b"\n")
    lines[2] = lines[2].rstrip(b"\r") + b",lay it flat here\r"
    path.write_bytes(b"\n".join(lines))
    (folder / "schedule_final.csv").write_text("station\n")
    (folder / ".notes").mkdir()
    result = review(folder, planned[2])
    told = [(one.rule, one.status, one.message) for one in result.findings]
    assert any(
        rule == "schedule" and status == "fail" and "past the last column" in text for rule, status, text in told
    )
    assert {one.subject for one in result.findings if one.rule == "extra-file" and one.status == "flag"} == {
        "schedule_final.csv",
        ".notes",
    }


def test_limits_that_a_site_softens_for_itself_are_told(tmp_path):
    import shutil

    site = tmp_path / "site"
    shutil.copytree(REPO / "sample_sites" / "alder-court", site)
    text = (site / "site.toml").read_text(encoding="utf-8")
    assert "[rules]" not in text
    (site / "site.toml").write_text(f"{text}\n[rules]\nmin_cover_in = 6\n", encoding="utf-8")
    main(["plan", str(site), "--out", str(tmp_path / "plan")])
    result = review(tmp_path / "plan", site)
    own = [one for one in result.findings if one.rule == "rules-own"]
    assert [one.subject for one in own] == ["min-cover"]
    assert "0.50 ft" in own[0].message
    assert "12" in own[0].message
    assert any("limits which the site sets" in text for text in result.standing.trust)
