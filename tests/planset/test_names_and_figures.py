"""Strange names stand whole on the drawn sheets and act on nothing.

Plan sheet and profile say the same figures, which are plan.json's.
"""

from __future__ import annotations

import json
import re
import shutil
import unicodedata
from itertools import pairwise

import pytest

from siteplan.planset.typed_set import set_from_typed
from siteplan.planset.whole import plan_set, set_pages
from siteplan.plotting.shapes import Lettering
from siteplan.plotting.svg_of import page_svg

STRANGE = (
    "<script>alert(1)</script>",
    "</svg><b>",
    "{{ 7*7 }}",
    "${7*7}",
    "=1+1",
    "+cmd|' /C calc'!A0",
    "@SUM(A1)",
    "-2+3",
    "\x1b[2J\x07bell",
    "\u202egpj",
    "two\nlines",
    "tab\tbetween",
    "\x00nul",
    "'; drop table plan;--",
    '"quoted"',
    "a&b&amp;",
    "%s%n%d",
    "../../etc/passwd",
    "\u6f22\u5b57",
    "\U0001f6b1 tap",
    "\u0627\u0644\u0645\u0627\u0621",
    "e\u0301\u0302\u0303",
    "x" * 90,
    "(paren) \\) Tj ET",
    "Stra\u00dfe \u00d8\u017d",
)


def set_of(folder, **more):
    typed = {
        "plan": folder,
        "paper": "letter",
        "scale": None,
        "site": None,
        "against": None,
        "revision": "",
        "date": None,
        "language": "en",
    }
    return set_from_typed({**typed, "debug": True, **more})


def shown(name):
    """A name as it can be set: control marks become spaces, a mark that the type lacks its code point."""
    from fontTools.ttLib import TTFont

    from siteplan import assets

    glyphs = shown.glyphs = (
        getattr(shown, "glyphs", None) or TTFont(f"{assets.__path__[0]}/fonts/DejaVuSans.ttf").getBestCmap()
    )
    plain = "".join(" " if unicodedata.category(one)[0] in "CZ" else one for one in name)
    return "".join(one if ord(one) in glyphs else f"<U+{ord(one):04X}>" for one in plain).replace(" ", "")


@pytest.fixture(scope="module")
def strange(sample_plan, tmp_path_factory):
    folder = tmp_path_factory.mktemp("strange") / "plan"
    shutil.copytree(sample_plan("marsh-lane").folder, folder)
    plan = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    given = iter(STRANGE)
    for group in (plan["sources"], plan["outlets"], plan["features"]):
        for one in group:
            one["name"] = next(given, one["name"])
    rest = [*given]
    plan["site"]["name"] = " ".join(rest)
    (folder / "plan.json").write_text(json.dumps(plan), encoding="utf-8")
    return folder, plan


def test_strange_names_are_whole_on_the_sheets_and_act_on_nothing(strange):
    folder, plan = strange
    pages, left = set_pages(set_of(folder), ("plan", "profiles"))
    assert left == ()
    said = "".join(one.text.replace(" ", "") for page in pages for one in page.shapes if isinstance(one, Lettering))
    used = {line["from"] for line in plan["lines"]} | {line["to"] for line in plan["lines"]}
    for one in (*plan["sources"], *(outlet for outlet in plan["outlets"] if outlet["id"] in used)):
        assert shown(one["name"]) in said.replace("/", "") or shown(one["name"]) in said, one["name"]
    for page in pages:
        drawn = str(page_svg(page))
        assert not re.search(r"<(?!/?(svg|title|path|g|text)\b)", drawn), "an element that is none of ours"
        assert all(
            one.isprintable() for shape in page.shapes if isinstance(shape, Lettering) for one in shown(shape.text)
        )
    content, _ = plan_set(set_of(folder), ("plan", "profiles"))
    assert content == plan_set(set_of(folder), ("plan", "profiles"))[0]
    for word in (b"/JavaScript", b"/OpenAction", b"/Launch", b"/URI"):
        assert word not in content


def test_plan_sheet_and_profile_say_the_same_runs_and_they_are_the_plans(sample_plan):
    folder = sample_plan("alder-court").folder
    plan = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    pages, _ = set_pages(set_of(folder), ("plan", "profiles"))

    def of(kind):
        return {
            found
            for page in pages
            if kind in page.title
            for one in page.shapes
            if isinstance(one, Lettering)
            for found in re.findall(r"(\d+\.\d) ft at (\d+\.\d\d) %", one.text)
        }

    assert of("Plan") == of("Profile")
    for length, grade in of("Plan"):
        # the stretch between two corners or changes of pipe of one line whose inverts give this grade over this length
        assert any(
            f"{(b[0] - a[0]) / 0.3048:.1f}" == length and f"{100 * (b[1] - a[1]) / (b[0] - a[0]):.2f}" == grade
            for line in plan["lines"]
            for a, b in stretches(line)
        ), (length, grade)
    inverts = {
        one.text for page in pages if "Profile" in page.title for one in page.shapes if isinstance(one, Lettering)
    }
    for line in plan["lines"]:
        for row in line["stations"]:
            near = [one for one in inverts if re.fullmatch(r"\d+\.\d\d", one)]
            assert min(abs(float(one) - row["invert"] / 0.3048) for one in near) < 0.00501


def stretches(line):
    corners = [(v["station"], v["invert"]) for v in line["vertices"]]
    ends = {round(reach[key], 6) for reach in line["reaches"] for key in ("station_from", "station_to")}
    for station in sorted(ends):
        for (s0, z0), (s1, z1) in pairwise([(v["station"], v["invert"]) for v in line["vertices"]]):
            if s0 < station < s1:
                corners.append((station, z0 + (z1 - z0) * (station - s0) / (s1 - s0)))
    corners.sort()
    return [(a, b) for k, a in enumerate(corners) for b in corners[k + 1 :]]


def test_a_profile_that_cannot_be_drawn_is_named_and_the_rest_stands(sample_plan, tmp_path, monkeypatch, capsys):
    from siteplan.cli.main import main
    from siteplan.plotting import profile_sheet

    whole = profile_sheet.printed_rows
    monkeypatch.setattr(
        profile_sheet, "printed_rows", lambda plan, line: whole(plan, line) if line.id != "L1" else 1 / 0
    )
    out = tmp_path / "set.pdf"
    assert main(["sheets", str(sample_plan("marsh-lane").folder), "--out", str(out)]) == 1
    assert "Left out: Profile L1, not drawn by a fault of ours (ZeroDivisionError)" in capsys.readouterr().out
    import pypdf

    texts = [page.extract_text() for page in pypdf.PdfReader(out).pages]
    assert any("Profile L1" in text and "ZeroDivisionError" in text for text in texts[:2])
    assert any("Profile L2" in text for text in texts[1:])
