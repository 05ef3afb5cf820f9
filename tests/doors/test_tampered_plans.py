"""A plan that somebody changed afterwards: the review finds every change and names it."""

from __future__ import annotations

import copy
import csv
import io
import json
import random
import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from siteplan.cli.main import main
from siteplan.review.whole import review

REPO = Path(__file__).parents[2]
SAMPLES = ("alder-court", "marsh-lane")
EACH = 2  # times each kind is tried, at another place


@pytest.fixture(scope="module", autouse=True)
def worked_once():
    """What a review works out from the same figures and the same site is worked out once for all the changes."""
    import functools

    from siteplan.checks import judge
    from siteplan.review import derived
    from siteplan.sheets import map_page
    from siteplan.survey import folder

    def once(module, name, key):
        whole, known = getattr(module, name), {}

        @functools.wraps(whole)
        def again(*given):
            of = key(*given)
            if of is None:
                return whole(*given)
            if of not in known:
                known[of] = whole(*given)
            return known[of]

        patch.setattr(module, name, again)

    patch = pytest.MonkeyPatch()
    once(folder, "read_site", lambda path, *asked: (path, repr(asked)) if REPO in path.parents else None)
    once(derived, "own_inflows", lambda site, *_: site.inputs)
    once(derived, "own_low_spots", lambda site: site.inputs)
    once(derived, "worked_out", lambda plan, site: (repr(plan), site.inputs))
    once(judge, "findings", lambda plan, site, *more: (repr(replace(plan, findings=())), site.inputs, repr(more)))
    once(map_page, "map_page", lambda plan, site, *more: (repr(plan), site.inputs, repr(more)))
    yield
    patch.undo()


@pytest.fixture(scope="module")
def planned(sample_plan):
    return {name: sample_plan(name).folder for name in SAMPLES}


def rewritten(change):
    """A change to plan.json; returns what the review must name, or None where the plan has nothing to change."""

    def apply(folder, site, pick):
        path = folder / "plan.json"
        record = json.loads(path.read_text(encoding="utf-8"))
        named = change(record, pick)
        path.write_text(json.dumps(record), encoding="utf-8")
        return named

    return apply


def a_line(record, pick, key=None):
    lines = [line for line in record["lines"] if key is None or line[key]]
    return pick.choice(lines) if lines else None


def inner(line, part, pick):
    return pick.choice(line[part][1:-1] or line[part])


def vertex_moved(record, pick):
    line = a_line(record, pick)
    inner(line, "vertices", pick)["x"] += pick.choice([-1, 1]) * pick.uniform(0.05, 2)
    return line["id"]


def vertex_invert(record, pick):
    line = a_line(record, pick)
    inner(line, "vertices", pick)["invert"] += pick.choice([-1, 1]) * pick.uniform(0.01, 0.3)
    return line["id"]


def vertex_station(record, pick):
    line = a_line(record, pick)
    inner(line, "vertices", pick)["station"] += 0.05
    return line["id"]


def row_of(key, step):
    def change(record, pick):
        line = a_line(record, pick)
        row = pick.choice([row for row in line["stations"][1:] if row[key] is not None])
        row[key] += pick.choice([-1, 1]) * step
        return line["id"]

    return change


def row_gone(record, pick):
    line = a_line(record, pick)
    del line["stations"][pick.randrange(1, len(line["stations"]) - 1) if len(line["stations"]) > 2 else 0]
    return line["id"]


def row_note(record, pick):
    line = a_line(record, pick)
    pick.choice(line["stations"])["note"] += " no cleanout needed"
    return line["id"]


def line_length(record, pick):
    line = a_line(record, pick)
    line["length"] -= 0.5
    return line["id"]


def line_gone(record, pick):
    ends = [line for line in record["lines"] if not any(other["to"] == line["id"] for other in record["lines"])]
    line = pick.choice(ends)
    record["lines"].remove(line)
    return line["from"]


def pipe_size(record, pick):
    line = a_line(record, pick)
    line["pipe"]["od_m"] *= 0.95
    return line["id"]


def whole_line_raised(record, pick):
    """Every figure changed alike, so that arithmetic holds: the cover over it no longer does."""
    line = a_line(record, pick)
    for vertex in line["vertices"]:
        vertex["invert"] += 0.2
    for row in line["stations"]:
        row["invert"] += 0.2
        row["cut"] = None if row["cut"] is None else row["cut"] - 0.2
        row["cover"] = None if row["cover"] is None else row["cover"] - 0.2
    return line["id"]


def limit_edited(record, pick):
    rule = pick.choice([rule for rule in record["rules"] if rule["limit"]])
    rule["limit"] *= 0.5
    return rule["id"]


def source_edited(record, pick):
    rule = pick.choice(record["rules"])
    rule["source"] = "State code, section 4"
    return rule["id"]


def authority_edited(record, pick):
    rule = pick.choice([rule for rule in record["rules"] if rule["authority"] == "practice"])
    rule["authority"] = "code"
    return rule["id"]


def rule_gone(record, pick):
    rule = pick.choice(record["rules"])
    record["rules"].remove(rule)
    return rule["id"]


def crossing_gone(record, pick):
    line = a_line(record, pick, "crossings")
    if line is None:
        return None
    line["crossings"].pop(pick.randrange(len(line["crossings"])))
    return line["id"]


def crossing_moved(record, pick):
    line = a_line(record, pick, "crossings")
    if line is None:
        return None
    pick.choice(line["crossings"])["station_to"] -= 0.4
    return line["id"]


def crossing_cover(record, pick):
    line = a_line(record, pick, "crossings")
    if line is None:
        return None
    pick.choice(line["crossings"])["cover_min"] += 0.1
    return line["id"]


def check_turned(record, pick):
    check = pick.choice([check for check in record["checks"] if check["status"] != "pass"])
    check["status"] = "pass"
    return check["rule"]


def check_gone(record, pick):
    check = pick.choice(record["checks"])
    record["checks"].remove(check)
    return check["rule"]


def check_words(record, pick):
    check = pick.choice([check for check in record["checks"] if check["status"] != "pass"])
    check["message"] = "nothing to worry about"
    return check["rule"]


def check_value(record, pick):
    check = pick.choice([check for check in record["checks"] if check["value"]])
    check["value"] *= 1.5
    return check["rule"]


def used_outlet(record, pick):
    ends = {line["to"] for line in record["lines"]}
    return pick.choice([outlet for outlet in record["outlets"] if outlet["id"] in ends])


def outlet_control(record, pick):
    outlet = used_outlet(record, pick)
    outlet["control"] -= 0.3
    return outlet["id"]


def outlet_moved(record, pick):
    outlet = used_outlet(record, pick)
    outlet["x"] += 1.5
    return outlet["id"]


def source_moved(record, pick):
    source = pick.choice(record["sources"])
    source["y"] += 0.5
    return source["id"]


def source_gone(record, pick):
    source = pick.choice(record["sources"])
    record["sources"].remove(source)
    return source["id"]


def source_flow(record, pick):
    source = pick.choice([source for source in record["sources"] if source["flow_lps"]])
    source["flow_lps"] *= 0.5
    return source["id"]


def low_spot_gone(record, pick):
    if not record["low_spots"]:
        return None
    spot = pick.choice(record["low_spots"])
    record["low_spots"].remove(spot)
    for line in record["lines"]:
        line["low_spots"] = [passage for passage in line["low_spots"] if passage["id"] != spot["id"]]
    return spot["id"]


def low_spot_shallower(record, pick):
    if not record["low_spots"]:
        return None
    spot = pick.choice(record["low_spots"])
    spot["depth"] *= 0.4
    return spot["id"]


def accuracy_better(record, pick):
    record["site"]["accuracy"] *= 0.2
    return "accuracy"


def digest_edited(record, pick):
    entry = pick.choice(record["site"]["inputs"])
    entry["sha256"] = "0" * 64
    return entry["file"]


def input_hidden(record, pick):
    entry = pick.choice(record["site"]["inputs"])
    record["site"]["inputs"].remove(entry)
    return entry["file"]


def caution_gone(record, pick):
    text = pick.choice(record["cautions"])
    record["cautions"].remove(text)
    return text[:40]


def assumption_gone(record, pick):
    texts = [text for text in record["assumptions"] if any(text.startswith(f"{o['name']}:") for o in record["outlets"])]
    text = pick.choice(texts)
    record["assumptions"].remove(text)
    return text[:40]


def reach_pipe(record, pick):
    line = a_line(record, pick, "reaches")
    if line is None:
        return None
    reach = pick.choice(line["reaches"])
    reach["pipe"]["od_m"] *= 0.9
    return line["id"]


def unknown_key(record, pick):
    line = a_line(record, pick)
    line["approved"] = "yes"
    return line["id"]


def scheduled(change):
    """A change to the trench schedule's rows, header first."""

    def apply(folder, site, pick):
        path = folder / "trench_schedule.csv"
        rows = list(csv.reader(io.StringIO(path.read_text(encoding="utf-8-sig"))))
        named = change(rows, pick)
        text = io.StringIO()
        csv.writer(text).writerows(rows)
        path.write_text(text.getvalue(), encoding="utf-8", newline="")
        return named

    return apply


def two_rows_swapped(rows, pick):
    i = pick.randrange(1, len(rows) - 1)
    rows[i], rows[i + 1] = rows[i + 1], rows[i]
    return f"row {i + 1}"


def invert_in_schedule(rows, pick):
    i, column = pick.randrange(1, len(rows)), next(k for k, name in enumerate(rows[0]) if name.startswith("invert"))
    rows[i][column] = f"{float(rows[i][column]) + 0.1:.3f}"
    return f"row {i + 1}"


def cut_in_schedule(rows, pick):
    i, column = pick.randrange(1, len(rows)), next(k for k, name in enumerate(rows[0]) if name.startswith("cut_to"))
    rows[i][column] = f"{float(rows[i][column]) - 0.1:.3f}"
    return f"row {i + 1}"


def schedule_row_gone(rows, pick):
    i = pick.randrange(1, len(rows))
    del rows[i]
    return "rows"


def formula_in_schedule(rows, pick):
    i = pick.randrange(1, len(rows))
    rows[i][5] = "=1+1"
    return f"row {i + 1}"


def mapped(change):
    def apply(folder, site, pick):
        path = folder / "map.html"
        page = path.read_text(encoding="utf-8")
        changed, named = change(page, pick)
        assert changed != page, "the change changes nothing"
        path.write_text(changed, encoding="utf-8", newline="")
        return named

    return apply


def map_data(page, pick):
    start = page.index('id="plan-data">') + len('id="plan-data">')
    end = page.index("</script>", start)
    data = json.loads(page[start:end])
    line = pick.choice(data["lines"])
    chart = next(part for part in parts(line) if {"station", "invert"} <= set(part))
    chart["invert"][len(chart["invert"]) // 2] -= 0.3
    return page[:start] + json.dumps(data, separators=(",", ":")) + page[end:], "map.html"


def parts(value):
    if isinstance(value, dict):
        yield value
        for item in value.values():
            yield from parts(item)
    elif isinstance(value, list):
        for item in value:
            yield from parts(item)


def map_words(page, pick):
    at = page.index("Before digging")
    return page[:at] + "No need to call" + page[at + len("Before digging") :], "map.html"


def map_script(page, pick):
    return page.replace("</body>", "<script>alert(1)</script></body>"), "map.html"


def ground_replaced(folder, site, pick):
    import numpy as np
    import rasterio

    path = site / "ground.tif"
    with rasterio.open(path) as file:
        profile, z = file.profile, file.read(1)
    with rasterio.open(path, "w", **profile) as file:
        file.write(np.where(np.isfinite(z), z - 0.02 * pick.uniform(1, 20), z).astype(z.dtype), 1)
    return "ground.tif"


def features_changed(folder, site, pick):
    path = site / "features.geojson"
    record = json.loads(path.read_text(encoding="utf-8"))
    feature = pick.choice([one for one in record["features"] if one["properties"]["kind"] == "building"])
    ring = feature["geometry"]["coordinates"][0]
    ring[1] = [ring[1][0] + 1e-6 * (1 if abs(ring[1][0]) <= 180 else 1e6), ring[1][1]]
    path.write_text(json.dumps(record), encoding="utf-8")
    return "features.geojson"


def site_rules_changed(folder, site, pick):
    path = site / "site.toml"
    text = path.read_text(encoding="utf-8")
    if "[rules]" in text:
        path.write_text(
            text.replace("[rules]", f"[rules]\nmax_grade_percent = {pick.randrange(5, 9)}"), encoding="utf-8"
        )
    else:
        path.write_text(text + f"\n[rules]\nmax_grade_percent = {pick.randrange(5, 9)}\n", encoding="utf-8")
    return "max-grade"


KINDS = {
    **{
        change.__name__: rewritten(change)
        for change in (
            vertex_moved,
            vertex_invert,
            vertex_station,
            row_gone,
            row_note,
            line_length,
            line_gone,
            pipe_size,
            whole_line_raised,
            limit_edited,
            source_edited,
            authority_edited,
            rule_gone,
            crossing_gone,
            crossing_moved,
            crossing_cover,
            check_turned,
            check_gone,
            check_words,
            check_value,
            outlet_control,
            outlet_moved,
            source_moved,
            source_gone,
            source_flow,
            low_spot_gone,
            low_spot_shallower,
            accuracy_better,
            digest_edited,
            input_hidden,
            caution_gone,
            assumption_gone,
            reach_pipe,
            unknown_key,
        )
    },
    **{
        f"row_{key}": rewritten(row_of(key, step))
        for key, step in (("invert", 0.03), ("ground", 0.1), ("cut", 0.05), ("cover", 0.05), ("grade_percent", 0.2))
    },
    **{
        change.__name__: scheduled(change)
        for change in (two_rows_swapped, invert_in_schedule, cut_in_schedule, schedule_row_gone, formula_in_schedule)
    },
    **{change.__name__: mapped(change) for change in (map_data, map_words, map_script)},
    **{change.__name__: change for change in (ground_replaced, features_changed, site_rules_changed)},
}


OF_SITE = {"ground_replaced", "features_changed", "site_rules_changed"}


@pytest.mark.parametrize("name", SAMPLES)
def test_a_plan_that_nobody_touched_has_no_fail_of_its_own(planned, name):
    """A fail of the plan itself (a source that cannot be served) is a fail; nothing else may be."""
    site = REPO / "sample_sites" / name
    own = json.loads((planned[name] / "plan.json").read_text(encoding="utf-8"))
    fails = {(one["rule"], one["subject"]) for one in own["checks"] if one["status"] == "fail"}
    found = review(planned[name], site)
    assert {(one.rule, one.subject) for one in found.findings if one.status == "fail"} == fails


@pytest.mark.parametrize("kind", KINDS)
def test_every_change_is_found_and_named(planned, tmp_path, kind):
    tried = 0
    for number in range(EACH):
        pick = random.Random(f"{kind} {number}")
        name = SAMPLES[number % len(SAMPLES)]
        folder, site = tmp_path / f"plan{number}", tmp_path / f"site{number}"
        shutil.copytree(planned[name], folder)
        if kind in OF_SITE:
            shutil.copytree(REPO / "sample_sites" / name, site)
        else:
            site = REPO / "sample_sites" / name  # planned once for all changes of a plan
        untouched = _own(name, planned)
        named = KINDS[kind](folder, site, pick)
        if named is None:
            continue
        tried += 1
        fails = [
            one
            for one in review(folder, site).findings
            if one.status == "fail" and (one.rule, one.subject, one.message) not in untouched
        ]
        assert fails, f"{kind} {number} on {name} went unseen"
        said = [f"{one.rule} {one.subject} {one.where} {one.message}" for one in fails]
        assert any(named in text for text in said), f"{kind} {number}: {named!r} is not named in {said[:4]}"
    assert tried, f"{kind} was never tried: no sample has such a thing"


_KNOWN: dict[str, set[tuple[str, str, str]]] = {}


def _own(name, planned):
    """Fails that the untouched plan has itself."""
    if name not in _KNOWN:
        found = review(planned[name], REPO / "sample_sites" / name)
        _KNOWN[name] = {(one.rule, one.subject, one.message) for one in found.findings if one.status == "fail"}
    return _KNOWN[name]


def test_there_are_a_hundred_changes_of_twenty_kinds_or_more():
    assert len(KINDS) >= 20
    assert len(KINDS) * EACH >= 100


def test_a_change_makes_the_command_leave_with_one(planned, tmp_path, capsys):
    folder = tmp_path / "plan"
    shutil.copytree(planned["alder-court"], folder)
    site = str(REPO / "sample_sites" / "alder-court")
    assert main(["review", str(folder), site, "--json"]) == 0
    before = json.loads(capsys.readouterr().out)
    assert before["counts"]["fail"] == 0
    record = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    changed = copy.deepcopy(record)
    limit_edited(changed, random.Random(1))
    (folder / "plan.json").write_text(json.dumps(changed), encoding="utf-8")
    assert main(["review", str(folder), site, "--json"]) == 1
    after = json.loads(capsys.readouterr().out)
    assert after["counts"]["fail"] >= 1
    assert {one["rule"] for one in after["findings"] if one["status"] == "fail"} == {"rules-edited"}
