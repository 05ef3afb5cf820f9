"""The pages of docs/ as a site: no broken link, every page on the list, nothing fetched from elsewhere."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

DOCS = Path(__file__).parents[2] / "docs"


def built(docs, out):
    return subprocess.run(
        [sys.executable, str(docs / "make_site.py"), str(out)], capture_output=True, text=True, check=False
    )


@pytest.fixture(scope="module")
def site(tmp_path_factory):
    out = tmp_path_factory.mktemp("site") / "out"
    done = built(DOCS, out)
    assert done.returncode == 0, done.stderr
    return out


def test_every_page_is_built_and_asks_nothing_of_the_network(site):
    pages = {page.stem for page in site.glob("*.html")} - {"404"}
    assert pages == {page.stem for page in DOCS.glob("*.md")}
    for page in site.glob("*.html"):
        text = page.read_text(encoding="utf-8")
        asked = re.findall(r"<(?:script|img|link|iframe)[^>]*(?:src|href)=\"(https?:[^\"]*)", text)
        assert asked == [], page.name


def test_every_person_has_a_page(site):
    start = (site / "index.html").read_text(encoding="utf-8")
    for page in ("for-designer.html", "for-contractor.html", "for-inspector.html", "trust.html"):
        assert f'href="{page}"' in start
        assert (site / page).is_file()


def test_a_broken_link_ends_the_build(tmp_path):
    docs = shutil.copytree(DOCS, tmp_path / "docs")
    with (docs / "index.md").open("a", encoding="utf-8") as page:
        page.write("\n[gone](nowhere.md)\n")
    done = built(docs, tmp_path / "out")
    assert done.returncode == 1
    assert "index.md" in done.stderr
    assert "nowhere.md" in done.stderr


@pytest.mark.parametrize("name", ["alder-court", "marsh-lane"])
def test_the_gallery_says_what_the_plan_says(sample_plan, name):
    from make_gallery import verdict_of

    page = (DOCS / "gallery.md").read_text(encoding="utf-8")
    assert f"> {verdict_of(sample_plan(name).said)}\n" in page
