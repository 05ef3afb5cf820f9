"""A rule has one row under one id: on the map, on the check sheet, on the screen and in the docs."""

from __future__ import annotations

import html
import json
import re
from pathlib import Path

import pytest

from siteplan.cli.main import main
from siteplan.review.comments import check_sheet
from siteplan.review.whole import review

REPO = Path(__file__).parents[2]


@pytest.fixture
def driven(swale_drive, tmp_path):
    """The story of the driveway with a limit of its own, planned."""
    place = swale_drive / "site.toml"
    place.write_text(place.read_text().replace("[rules]\n", "[rules]\nmax_depth_ft = 5\n"))
    main(["plan", str(swale_drive), "--out", str(tmp_path / "plan")])
    return tmp_path / "plan", swale_drive


def _text(markup):
    bare = re.sub(r"</?span[^>]*>", "", markup)
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", bare)).replace("\u00a0", " ").split())


def _map_rows(page):
    found = {}
    for row in re.findall(r'<tr data-rule=".*?</tr>', page, re.DOTALL):
        first, limit, broken, standing, source = re.findall(r"<td.*?</td>", row, re.DOTALL)
        ident = _text(first).split()[0]
        assert ident not in found
        found[ident] = (_text(first), _text(limit), _text(standing), _text(source), _text(broken))
    return found


def _sheet_rows(page):
    found = {}
    for group in re.findall(r"<tbody.*?</tbody>", page, re.DOTALL):
        cells = [_text(cell) for cell in re.findall(r"<td.*?</td>", group, re.DOTALL)]
        if len(cells) >= 8 and "<b>" in group.split("</td>")[0]:
            assert cells[0].split()[0] not in found
            found[cells[0].split()[0]] = (*cells[:8], cells[8].removeprefix("Source: ") if len(cells) > 8 else "")
    return found


def _screen_rows(text):
    found = {}
    for block in re.split(r"\n(?=[a-z][a-z-]+: )", text)[1:]:
        head, told = re.split(r"\n {4}(?! )", block, maxsplit=1)
        ident, title = " ".join(head.split()).split(": ", 1)
        assert ident not in found
        found[ident] = (title, " ".join(told.split()))
    return found


def test_every_sheet_prints_the_same_row(driven, capsys):
    plan, site = driven
    on_map = _map_rows((plan / "map.html").read_text(encoding="utf-8"))
    on_sheet = _sheet_rows(check_sheet(review(plan, site)).decode())
    capsys.readouterr()
    assert main(["rules", str(site)]) == 0
    screen = capsys.readouterr().out
    assert max(map(len, screen.splitlines())) <= 80
    on_screen = _screen_rows(screen)
    docs = dict(
        re.findall(
            r"^\| \[([a-z-]+)\]\(#[a-z-]+\) \| ([^|]+) \|", (REPO / "docs" / "rules.md").read_text(), re.MULTILINE
        )
    )
    ids = [one["id"] for one in json.loads((plan / "plan.json").read_text())["rules"]]
    assert list(on_map) == list(on_sheet) == list(on_screen) == list(docs) == ids
    for ident, (name, limit, standing, source, broken) in on_map.items():
        assert on_sheet[ident][:3] == (name, limit, standing)
        assert on_sheet[ident][8] == source
        assert on_screen[ident][0] == docs[ident] == name.removeprefix(f"{ident} ")
        told = on_screen[ident][1]
        assert told.startswith(f"{limit}; ")
        assert f"; {standing}" in told
        assert broken in told
        assert told.endswith(source)


def test_the_standing_is_told_where_no_source_is_and_a_sites_own_limit_has_no_standing_of_ours(driven):
    plan, site = driven
    rows = _sheet_rows(check_sheet(review(plan, site)).decode())
    assert rows["clear-of-no-dig"][2] == "practice"
    assert rows["clear-of-no-dig"][8] == ""
    assert rows["trench-protection"][2] == "law"
    assert rows["clear-of-trees"][2] == "local rules, which differ"
    assert rows["max-depth"][1:3] == ("at most 5.00 ft (5'-0\")", "set by this site")
    assert rows["max-depth"][8].startswith("site.toml [rules]")
    assert rows["sleeve"][8].startswith("a city driveway rule")


def test_the_planned_figure_stands_beside_the_blank_for_the_measured_one(driven):
    plan, site = driven
    page = check_sheet(review(plan, site)).decode()
    heads = [_text(head) for head in re.findall(r"<th[ >].*?</th>", page, re.DOTALL)]
    assert heads[heads.index("Planned") + 1] == "Measured"
    rows = _sheet_rows(page)
    assert all(row[4] == "" for row in rows.values())  # for the pen
    record = json.loads((plan / "plan.json").read_text())
    deepest = max(row["ground"] - row["invert"] for line in record["lines"] for row in line["stations"])
    least = min(one["value"] for one in record["checks"] if one["rule"] == "min-grade")
    assert float(rows["max-depth"][3].split()[0]) == pytest.approx(deepest / 0.3048, abs=0.011)
    assert rows["min-grade"][3] == f"{least:.2f} %"
    # a length under a limit of width is no figure to hold against it
    assert "ft" not in rows["foundation-backfill"][3]


def test_findings_on_the_map_carry_the_rules_id(driven):
    page = (driven[0] / "map.html").read_text(encoding="utf-8")
    record = json.loads((driven[0] / "plan.json").read_text())
    told = re.findall(r'<li class="(pass|flag|fail)"><svg(?:(?!</li>).)*?<code>([a-z-]+)</code>', page, re.DOTALL)
    stated = [(one["status"], one["rule"]) for one in record["checks"]]
    assert sorted(one for one in told if one[0] != "pass") == sorted(one for one in stated if one[0] != "pass")
    assert sorted({*told}) == sorted({*stated})  # what passes at several places is told under its rule once
