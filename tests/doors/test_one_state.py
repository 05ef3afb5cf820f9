"""Samples and invented lots: a line stands the same on every sheet that names it, and no better than its way out."""

from __future__ import annotations

import contextlib
import csv
import html
import io
import json
import re
from pathlib import Path

import pytest

from siteplan.cli.main import main

REPO = Path(__file__).parents[2]
WORDS = {"sure": "sure", "cannot-tell": "cannot tell", "fails": "FAILS"}
RANK = {"sure": 0, "cannot-tell": 1, "fails": 2}
STATE = r"(?:sure|cannot tell|FAILS) \([^()]*\)"
LAYERS = {"sure": "line", "cannot-tell": "line_unsure", "fails": "line_fail"}
FALL = {"continuous-fall", "min-grade", "outlet-control"}


def said(*words):
    out = io.StringIO()
    with contextlib.redirect_stdout(out):
        main([str(word) for word in words])
    return " ".join(out.getvalue().split())


@pytest.fixture(
    scope="module",
    params=["alder-court", "marsh-lane", 3, 6, *(pytest.param(n, marks=pytest.mark.slow) for n in (9, 31))],
)
def sheets(request, tmp_path_factory, sample_plan, planned_lot):
    out = tmp_path_factory.mktemp(f"of{request.param}")
    planned = (sample_plan if isinstance(request.param, str) else planned_lot)(request.param)
    terminal, plan, site = " ".join(planned.said.split()), planned.folder, planned.at
    record = json.loads((plan / "plan.json").read_text(encoding="utf-8"))
    high = max(vertex["ground"] for line in record["lines"] for vertex in line["vertices"]) + 1.4
    cut = said("cutsheet", plan, "--hi", f"{high:.3f}m", "--html", out / "cut.html")
    said("review", plan, site, "--html", out / "check.html")

    def text(path):
        page = path.read_text(encoding="utf-8")
        return html.unescape(re.sub(r"\s+", " ", page.replace("\u00a0", " ")))

    rows = list(csv.DictReader((plan / "trench_schedule.csv").read_text(encoding="utf-8-sig").splitlines()))
    return record, rows, terminal, cut, text(plan / "map.html"), text(out / "cut.html"), text(out / "check.html")


def test_a_line_stands_the_same_on_every_sheet(sheets):
    record, rows, terminal, cut, page, paper, check = sheets
    data = json.loads(re.search(r'id="plan-data">(.*?)</script>', page, re.DOTALL)[1])
    assert record["lines"]
    for line in record["lines"]:
        ident, state = line["id"], line["state"]
        (words,) = {row["state"] for row in rows if row["line"] == ident}
        assert words.startswith(WORDS[state])
        assert re.fullmatch(STATE, words)
        plain = re.sub(r"<[^>]+>", " ", page)
        found = {
            "terminal": set(re.findall(rf"\b{ident} ({STATE}): ", terminal)),
            "cut sheet": set(re.findall(rf"\b{ident} ({STATE}): ", cut)),
            "cut sheet on paper": set(re.findall(rf"\b{ident} ({STATE}): ", paper)),
            "caption": set(re.findall(rf"Trench schedule of {ident}: ({STATE})", plain)),
            "check sheet": set(
                re.findall(rf"<td[^>]*>{ident}</td>\s*<td[^>]*>[^<]*</td>\s*<td[^>]*>({STATE})</td>", check)
            ),
        }
        assert found == {name: {words} for name in found}
        shown = next(one for one in data["lines"] if one["id"] == ident)
        assert shown["layer"] == LAYERS[state]
        assert shown["label"]["en"] == (ident if state == "sure" else f"{ident} {WORDS[state]}")


def test_no_line_is_better_than_its_way_out(sheets):
    record, *_ = sheets
    by_id = {line["id"]: line for line in record["lines"]}
    for line in record["lines"]:
        if line["to"] in by_id:
            assert RANK[line["state"]] >= RANK[by_id[line["to"]]["state"]], line["id"]


def test_a_sure_line_has_no_fail_and_no_doubt_of_its_fall(sheets):
    record, *_ = sheets
    for line in record["lines"]:
        own = [one for one in record["checks"] if one["subject"].split(":")[0] == line["id"]]
        if any(one["status"] == "fail" for one in own):
            assert line["state"] == "fails"
        if line["state"] == "sure":
            assert min(line["doubt"]["chance_falls"], line["doubt"]["chance_min_grade"]) >= 0.95
            assert not [one for one in own if one["status"] != "pass" and one["rule"] in FALL]


def test_a_head_counts_sources_by_the_state_of_their_lines(sheets):
    record, _, terminal, *_ = sheets
    head = terminal.partition("Survey doubt")[0]
    worst = {
        source["id"]: max(
            (RANK[line["state"]] for line in record["lines"] if source["id"] in line["sources"]), default=3
        )
        for source in record["sources"]
    }
    counts = [list(worst.values()).count(rank) for rank in range(4)]
    for count, words in zip(
        counts, ("sure to drain", "cannot tell", "on a line that FAILS", "NOT DRAINED"), strict=True
    ):
        assert (f"{count} {words}" in head) == (count > 0)
