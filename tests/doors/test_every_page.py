"""Every page that a command writes, in a real browser.

Nothing serious or moderate for the accessibility engine, nothing torn, dated.
"""

from __future__ import annotations

import importlib.util
import shutil
from pathlib import Path

import pytest

from siteplan.cli.main import main

FOOT = 0.3048
DATE = ("--date", "2026-05-01")
DESK = {"viewport": {"width": 1280, "height": 800}}
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True, "device_scale_factor": 2}
PAGES = (
    "map.html",
    "bare.html",
    "cut.html",
    "check.html",
    "check-alone.html",
    "record.html",
    "owner.html",
    "words.html",
)

# figures and stations, each with how many lines it stands on; and columns of words so narrow that they are read letter
# by letter
TORN = r"""() => {
  const torn = [];
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) {
    const text = walk.currentNode, cell = text.parentElement.closest('td, dd, .number');
    if (!cell || getComputedStyle(cell).visibility === 'hidden') continue;
    for (const found of text.data.matchAll(/-?\d+[.\d+'"\/-]*\d["%]?(?:[ \u00a0](?:ft|in|m|mm|%)(?![\w]))?/g)) {
      const range = document.createRange();
      range.setStart(text, found.index);
      range.setEnd(text, found.index + found[0].length);
      const lines = new Set([...range.getClientRects()].filter(r => r.width > 0).map(r => Math.round(r.top)));
      if (lines.size > 1) torn.push(found[0]);
    }
  }
  document.querySelectorAll('td').forEach(td => {
    const width = td.getBoundingClientRect().width, letters = td.textContent.trim().length;
    if (width > 0 && letters > 20 && width < 60) torn.push('narrow: ' + td.textContent.slice(0, 30));
  });
  return torn;
}"""


@pytest.fixture(scope="module")
def pages(tmp_path_factory):
    """The story of the driveway from plan to record; each page under its own name."""
    from siteplan.sheets.map_page import words_page
    from siteplan.stored.folder_of import read_plan
    from siteplan.survey.folder import read_site

    root = tmp_path_factory.mktemp("pages")
    spec = importlib.util.spec_from_file_location(
        "story_of_the_pages", Path(__file__).parents[1] / "builders" / "driveway_story.py"
    )
    story = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(story)
    site, plan = story.site_folder(root / "site"), root / "plan"
    assert main(["plan", str(site), "--out", str(plan), *DATE]) in {0, 1}
    stored = read_plan(plan).plan
    (line,) = stored.lines
    rods = ["sta,rod,name"]
    for row in line.rows:
        top = row.invert + line.pipe_at(row.station).rise
        rods.append(f"{row.station / FOOT:.2f},{104.0 - top / FOOT:.2f},{'CO' if 'cleanout' in row.note else ''}")
    (root / "rods.csv").write_text("\n".join(rods))
    assert main(
        ["cutsheet", str(plan), "--hi", "104.00", "--offset", "left,3", "--html", str(root / "cut.html"), *DATE]
    ) in {0, 1}
    assert main(["review", str(plan), str(site), "--html", str(root / "check.html"), *DATE]) in {0, 1}
    assert main(["review", str(plan), "--html", str(root / "check-alone.html")]) in {0, 1}
    laid = [
        "record",
        str(plan),
        str(root / "rods.csv"),
        "--hi",
        "104.00",
        "--site",
        str(site),
        "--out",
        str(root / "rec"),
        *DATE,
    ]
    assert main(laid) == 0
    assert main(
        ["belly", str(plan), "--line", "L1", "--wet", "10", "30", "--chart", str(root / "belly.svg"), *DATE]
    ) in {0, 1}
    shutil.copy(plan / "map.html", root / "map.html")
    (root / "words.html").write_bytes(words_page(stored, read_site(site)))
    assert main(["plan", str(site), "--out", str(root / "bare")]) in {0, 1}
    shutil.copy(root / "bare" / "map.html", root / "bare.html")
    for name in ("record.html", "owner.html"):
        shutil.copy(root / "rec" / name, root / name)
    assert {path.name for path in root.glob("*.html")} == set(PAGES)
    return root


@pytest.fixture
def shown(chromium, pages):
    contexts = []

    def opened(name, size):
        # the engine is put into the page from outside, which its own policy would refuse
        contexts.append(chromium.new_context(offline=True, bypass_csp=True, **size))
        page = contexts[-1].new_page()
        page.goto((pages / name).as_uri())
        page.wait_for_timeout(100)
        page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
        return page

    yield opened
    for context in contexts:
        context.close()


@pytest.mark.browser
@pytest.mark.parametrize("size", [pytest.param(DESK, id="desk"), pytest.param(PHONE, id="phone")])
@pytest.mark.parametrize("name", [*PAGES, "belly.svg"])
def test_nothing_serious_or_moderate_stands_in_anybodys_way(shown, name, size):
    from axe_playwright_python import sync_playwright as axe

    if name.endswith(".svg"):
        page = shown("words.html", size)
        page.evaluate(
            "text => { document.querySelector('pre').outerHTML = text; }",
            (Path(page.url[7:]).parent / name).read_text().split("\n", 1)[1],
        )
    else:
        page = shown(name, size)
    found = axe.Axe().run(page).response["violations"]
    assert [
        (one["id"], one["impact"], [node["target"] for node in one["nodes"]][:3])
        for one in found
        if one["impact"] in {"moderate", "serious", "critical"}
    ] == []


@pytest.mark.browser
@pytest.mark.parametrize("size", [pytest.param(DESK, id="desk"), pytest.param(PHONE, id="phone")])
@pytest.mark.parametrize("name", PAGES)
def test_no_figure_is_torn_and_no_page_scrolls_sideways(shown, name, size):
    page = shown(name, size)
    assert page.evaluate(TORN) == []
    assert page.evaluate("document.documentElement.scrollWidth") <= size["viewport"]["width"]


def test_the_date_stands_on_every_sheet_that_was_given_one(pages):
    undated = {"bare.html", "check-alone.html"}
    for path in [*sorted(pages.glob("*.html")), pages / "belly.svg"]:
        told = path.read_text(encoding="utf-8").count("2026-05-01")
        # words.html is the terminal's summary; a check sheet without a date of its own tells the plan's
        assert (told > 0) is (path.name not in {"bare.html", "words.html"}), path.name
        assert path.name not in undated or "Date of the recheck: 2026" not in path.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    "date",
    ["1.5.2026", "20260501", "2026-02-30", "today", "", "\u0662\u0660\u0662\u0666-05-01", "2026-05-01 10:00", "<b>"],
)
@pytest.mark.parametrize(
    "command",
    [
        ["plan", "{site}", "--out", "{out}"],
        ["cutsheet", "{plan}", "--hi", "104.00", "--html", "{out}"],
        ["review", "{plan}", "--html", "{out}"],
        ["record", "{plan}", "{rods}", "--hi", "104.00", "--out", "{out}"],
        ["belly", "{plan}", "--chart", "{out}"],
    ],
    ids=lambda command: command[0],
)
def test_what_is_no_date_ends_with_one_message_and_nothing_written(pages, tmp_path, capsys, command, date):
    out = tmp_path / "out"
    places = {"site": pages / "site", "plan": pages / "plan", "rods": pages / "rods.csv", "out": out}
    assert main([*(part.format(**places) for part in command), "--date", date]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert len(told.err.strip().splitlines()) == 1
    assert "--date" in told.err
    assert "2026-05-01" in told.err
    assert not out.exists()
