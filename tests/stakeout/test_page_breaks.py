"""The cut sheet on paper: wherever a page ends, a station and what is said of it stay together."""

import re
from pathlib import Path

import pytest

from siteplan.cli.main import main

SITE = Path(__file__).parents[2] / "sample_sites" / "marsh-lane"
HEIGHTS = [f"{height:.2f}in" for height in (4.5, 4.75, 5.0, 5.25, 5.5, 5.75, 6.0, 6.25)]


@pytest.mark.browser
def test_a_note_never_begins_a_page(chromium, paper, plan_once, tmp_path, capsys):
    page = tmp_path / "cut.html"
    assert main(["cutsheet", str(plan_once(SITE).folder), "--hi", "5.2", "--html", str(page)]) == 0
    capsys.readouterr()
    first = []
    shown = chromium.new_page()
    shown.goto(page.as_uri())
    for height in HEIGHTS:
        shown.pdf(path=str(tmp_path / "cut.pdf"), width="8.5in", height=height)
        for sheet in paper(tmp_path / "cut.pdf")[1:]:
            below = re.split(r"btm, m[^\n]*\n", sheet)[1:]  # the head of the table stands on each page again
            first += [part.split()[0] for part in below if part.strip()]
    shown.close()
    assert len(first) > len(HEIGHTS)
    assert [word for word in first if not re.match(r"\d\+\d", word)] == []
