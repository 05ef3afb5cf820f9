"""One figure once: what a finding says is not printed a second time beside it.

Rounded otherwise or to another measure.
"""

from __future__ import annotations

import html
import json
import re
from pathlib import Path

import pytest

REPO = Path(__file__).parents[2]
NOTHING = re.compile(
    r"(?<![\d.])(?:0\.00 ft|0\.000 m)(?![\d])|-0\.0+\b|\b1\.00 times|\bnan\b|\bNone\b|nothing to spare, against"
)


@pytest.fixture(scope="module", params=["alder-court", "marsh-lane"])
def printed(request, sample_plan):
    one = sample_plan(request.param)
    return " ".join(one.said.split()), one.folder


def test_a_finding_on_the_terminal_says_its_length_once(printed):
    said, _ = printed
    (line, *_) = re.findall(r"FLAG foundation-backfill.*?fall steeper there", said)
    places, _, rest = line.rpartition(": compact")[0].partition("of it lies")
    assert len(re.findall(r"\d+\.\d+ (?:ft|m)\b", places)) == 1  # the length in the fill, before the width of the band
    assert rest.count("within") == 1
    assert " limit " not in line


def test_a_finding_on_the_map_says_its_figure_once(printed):
    _, folder = printed
    page = (folder / "map.html").read_text(encoding="utf-8")
    checks = re.findall(r'<li class="(?:fail|flag|pass)">.*?</li>', page, re.DOTALL)
    assert len(checks) > 20
    assert not any(">found " in one or 'class="figures"' in one for one in checks)


def test_nothing_is_printed_as_nothing(printed):
    said, folder = printed
    assert not NOTHING.findall(said)
    schedule = (folder / "trench_schedule.csv").read_text(encoding="utf-8-sig")
    assert not re.findall(r"-0\.0+(?!\d)|\bnan\b|\bNone\b", schedule)


SPARE = re.compile(
    r"\d+\.\d+ (?:ft|m)(?: \([^)]*\))? of fall to spare|[Nn]o fall to spare|[Ss]hort of fall by [^:;,]*?(?=, doubt)"
)


def spares(text):
    return {one.lower() for one in SPARE.findall(text.replace("\u00a0", " "))}


def test_one_spare_and_one_doubt_of_a_line_on_every_sheet(printed):
    said, folder = printed
    plan = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    page = html.unescape((folder / "map.html").read_text(encoding="utf-8"))
    heads = re.split(r"(?=\bL\d+ (?:sure|cannot tell|FAILS) \()", said)
    articles = re.findall(r'<article class="line">.*?</article>', page, re.DOTALL)
    assert plan["lines"]
    for line in plan["lines"]:
        ident, places = line["id"], {}
        (head,) = (one for one in heads if one.startswith(f"{ident} "))
        places["terminal"] = spares(head.partition("Tightest:")[0])
        (article,) = (one for one in articles if f"<b>{ident}</b>" in one)
        places["map"] = spares(article)
        places["findings"] = {
            one
            for check in plan["checks"]
            if check["rule"] == "outlet-control" and check["subject"] == ident
            for one in spares(check["message"])
        }
        assert all(len(found) == 1 for found in places.values()), places
        assert len(set.union(*places.values())) == 1, places
        (check,) = (one for one in plan["checks"] if one["rule"] == "outlet-control" and one["subject"] == ident)
        assert (check["value"], check["doubt"]) == (line["spare"], line["doubt"]["fall"])
        taken = [one for one in plan["candidates"] if one["chosen"] and one.get("source") == line["from"]]
        assert [one["margin"] for one in taken] == [line["spare"]]
        for one in taken:
            assert one["fall_available"] - one["fall_needed"] == pytest.approx(one["margin"], abs=2e-6)


@pytest.mark.parametrize("name", ["alder-court", "kiln-rise"])
def test_the_slider_reads_at_a_stake_what_the_schedule_prints(sample_plan, name):
    from siteplan.sheets.readings import reading_texts, readings
    from siteplan.sheets.schedule import printed_rows

    made = sample_plan(name)
    plan, seen = made.plan, 0
    for line in plan.lines:
        found = readings(line, made.site)
        texts = reading_texts(line, found, plan.length_unit, plan.elevation_unit)
        at = {told[0]: told for told in texts}
        for row in printed_rows(plan, line):
            told = at[row.station]
            if row.cut:
                assert (told[4].split(" ")[0], told[5].split(" ")[0]) == (row.cover, row.cut), row.station
                seen += 1
    assert seen >= 10
