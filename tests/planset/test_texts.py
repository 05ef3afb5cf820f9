"""Pages of words of a plan set, read with an extractor and held against plan.json.

Whole, inside the frame, nothing over anything.
"""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from types import SimpleNamespace
from xml.etree import ElementTree as ET

import pytest

from siteplan.cli.main import main

_TEXTS = "cover,schedule,cuts,quantities,details,notes,rules,assumptions,check-sheets"
_INCH = 0.0254


def printed(folder, out, *more):
    """The words of a set, by sheet, as an extractor finds them."""
    assert main(["sheets", str(folder), "--out", str(out), "--parts", _TEXTS, "--date", "2026-05-01", *more]) == 0
    said = subprocess.run(["pdftotext", "-layout", str(out), "-"], capture_output=True, check=True, text=True).stdout
    return said.split("\f")[:-1]


def read(file):
    """The words of a file in the order in which a person reads columns."""
    said = subprocess.run(["pdftotext", str(file), "-"], capture_output=True, check=True, text=True).stdout
    return " ".join(said.split())


def boxes(file):
    """Every word with its box, by sheet, in points from the upper left corner."""
    told = subprocess.run(["pdftotext", "-bbox", str(file), "-"], capture_output=True, check=True, text=True).stdout
    root = ET.fromstring(re.sub(r"[\x00-\x08\x0b\x0c\x0e-\x1f]", "", told))
    for page in root.iter("{*}page"):
        size = float(page.get("width")), float(page.get("height"))
        yield (
            size,
            [
                (word.text, *(float(word.get(key)) for key in ("xMin", "yMin", "xMax", "yMax")))
                for word in page.iter("{*}word")
            ],
        )


@pytest.fixture(scope="module")
def alder(sample_plan, tmp_path_factory):
    folder = sample_plan("alder-court").folder
    out = tmp_path_factory.mktemp("texts") / "set.pdf"
    return folder, json.loads((folder / "plan.json").read_text("utf-8")), printed(folder, out), out


def titled(sheets, title):
    return " ".join(" ".join(sheet.split()) for sheet in sheets if f" {title} " in f" {' '.join(sheet.split())} ")


def test_the_cover_has_the_verdict_each_line_with_its_state_blanks_and_the_index(alder):
    _, plan, sheets, _ = alder
    cover = " ".join(sheets[0].split())
    assert "5 sources: 5 sure to drain" in cover
    for line in plan["lines"]:
        assert f"{line['id']} " in cover
        assert f"{line['length'] / 0.3048:.1f} ft" in cover
    for blank in (
        "Permit no.",
        "Owner",
        "Address, lot and block",
        "Contractor",
        "Locate ticket no.",
        "signature, date",
        "Benchmark used",
    ):
        assert blank in cover
    index = re.findall(r"(\d+)(?: to (\d+))? (Trench schedule|Cut table|Quantities|Rules and sources)", cover)
    assert {title for *_, title in index} == {"Trench schedule", "Cut table", "Quantities", "Rules and sources"}
    for first, last, title in index:
        for number in range(int(first), int(last or first) + 1):
            assert title in sheets[number - 1], (number, title)


def test_a_line_that_fails_or_is_in_doubt_says_so_on_the_cover(alder, tmp_path):
    folder = tmp_path / "plan"
    shutil.copytree(alder[0], folder)
    plan = json.loads((folder / "plan.json").read_text("utf-8"))
    for check in plan["checks"]:
        if check["rule"] == "min-cover" and check["subject"] == "L2":
            check.update(status="fail", message="too shallow by 2 in")
    next(one for one in plan["lines"] if one["id"] == "L5")["doubt"]["chance_falls"] = 0.6
    (folder / "plan.json").write_text(json.dumps(plan), "utf-8")
    printed(folder, tmp_path / "set.pdf")
    cover = read(tmp_path / "set.pdf")
    assert re.search(r"L2\W+DS-1 joins L1\W+FAILS \(min-cover; falls: over 95 %\)", cover)
    assert re.search(r"L5\W+DS-4 joins L1\W+cannot tell \(falls: 60 %\)", cover)
    assert "min-cover, L2: too shallow by 2 in" in cover


def test_every_station_of_the_schedule_is_that_of_plan_json(alder):
    _, plan, sheets, _ = alder
    schedule = "\n".join(sheet for sheet in sheets if "Trench schedule" in sheet and "Permit no." not in sheet)
    for line in plan["lines"]:
        for row in line["stations"]:
            ground, invert, cut = (row[key] / 0.3048 for key in ("ground", "invert", "cut"))
            tenths = int(row["station"] / 0.3048 * 10 + 0.5)
            station = f"{tenths // 1000}+{tenths % 1000 / 10:04.1f}"
            rows = re.findall(rf"^ *{re.escape(station)} .*$", schedule, re.MULTILINE)
            figures = [[float(one) for one in re.findall(r"(?<![\d+.-])-?\d+\.\d\d(?!\d)", row)] for row in rows]
            # what is printed is rounded; a cut from printed figures may differ by one in the last place
            assert any(
                all(
                    any(abs(one - wanted) < 0.0051 + off for one in row)
                    for wanted, off in ((ground, 0), (invert, 0), (cut, 0.01))
                )
                for row in figures
            ), (line["id"], station, ground, invert, rows)


def test_the_check_sheets_have_every_figure_its_limit_and_its_spare(alder):
    _, plan, sheets, _ = alder
    common = titled(sheets, "Check sheet, all lines")
    for line in plan["lines"]:
        sheet = titled(sheets, f"Check sheet {line['id']}")
        held = [one for one in sheets if f"Check sheet {line['id']}" in one and "Cover" not in one]
        assert len(held) == 1, "one page a line"
        own = [one for one in plan["checks"] if one["subject"].split(":")[0] == line["id"]]
        assert len(own) > 20
        for one in own:
            by_tape = (
                one["value"] is not None and one["limit"] is not None and one["unit"] not in {"verdict", "lps", "m/s"}
            )
            assert one["rule"] in (sheet if by_tape else common)
            if one["status"] != "pass":
                assert one["rule"] in sheet
            if one["unit"] == "percent" and one["limit"] is not None:
                assert f"{one['value']:.2f} % at" in sheet
                sense = next(rule["sense"] for rule in plan["rules"] if rule["id"] == one["rule"])
                spare = one["value"] - one["limit"] if sense == "at least" else one["limit"] - one["value"]
                assert f" {one['limit']:.2f} % {spare:.2f} %" in sheet, (one["rule"], spare)
        cover = next(one for one in own if one["rule"] == "min-cover")
        feet = [cover["value"] / 0.3048, cover["limit"] / 0.3048]
        assert f"{feet[0]:.2f} ft" in sheet
        assert f"at least {feet[1]:.2f} ft" in sheet
        assert f"{feet[0] - feet[1]:.2f} ft" in sheet
        for vertex in line["vertices"]:
            assert f"{vertex['invert'] / 0.3048:.2f} ft" in sheet
        for said in ("Measured", "Holds: date, initials", "WATER TEST", "Inspector: name, signature, date"):
            assert said in sheet
    for said in (
        "Hold until seen",
        "HOLD 3, pipe laid and not covered",
        "Seen or worked out, not measured on the site",
    ):
        assert said in common


def test_quantities_rules_sources_and_assumptions_are_the_plans(alder):
    _, plan, sheets, _ = alder
    takes = titled(sheets, "Quantities")
    for one in plan["quantities"]:
        if one["unit"] == "m":
            assert f"{one['amount'] / 0.3048:.1f} ft" in takes
        if one["unit"] == "piece":
            assert f" {one['amount']:.0f} pieces" in takes
    rules = "".join(read(alder[3]).split())
    spoken = {one["rule"] for one in plan["checks"]}
    for rule in plan["rules"]:
        assert rule["id"] in rules
        if rule["id"] in spoken:
            assert "".join(rule["source"].split()) in rules, rule["id"]
    given = "".join(titled(sheets, "Assumptions").split())
    for text in plan["assumptions"]:
        assert "".join(text.split()) in given
    for one in plan["site"]["inputs"]:
        assert one["sha256"] in given


def test_the_details_are_this_lots_own_with_a_source_at_each_figure(alder, sample_plan, tmp_path):
    folder, plan, *_ = alder
    printed(folder, tmp_path / "d.pdf", "--parts", "details")
    said = read(tmp_path / "d.pdf")
    first = plan["lines"][0]
    assert "End at daylight: L1 at Rear slope" in said
    assert f"Invert at the end of L1 {first['vertices'][0]['invert'] / 0.3048:.2f} ft" in said
    for branch in plan["lines"][1:]:
        end = branch["vertices"][0]
        trunk = next(one for one in plan["lines"] if one["id"] == branch["to"])
        at = min(trunk["vertices"], key=lambda one: (one["x"] - end["x"]) ** 2 + (one["y"] - end["y"]) ** 2)
        assert f"{branch['id']} into {trunk['id']}" in said
        assert f"Trunk invert {at['invert'] / 0.3048:.2f} ft, branch {end['invert'] / 0.3048:.2f} ft" in said
    cleanouts = [
        v for line in plan["lines"] for v in line["vertices"] if any(f["kind"] == "cleanout" for f in v["fittings"])
    ]
    assert len(re.findall(r"from the ground to it\. \[plan\.json\]", said)) == len(cleanouts) == 9
    assert "Air gap: Sump" in said
    assert "[common practice, no source]" in said
    assert "Crossing" not in said  # nothing is crossed here
    assert "Outlet at the curb" not in said

    printed(sample_plan("marsh-lane").folder, tmp_path / "m.pdf", "--parts", "details")
    marsh = read(tmp_path / "m.pdf")
    for words in (
        "Outlet at the curb: L1 at Kerb hole",
        "Crossing of a utility: L1 0+009.51, Power cable",
        "97 mm clear",
        "Crossing: L2 0+014.21 to 0+018.03, Drive",
        "least 342 mm",
        "No sleeve is planned",
    ):
        assert words in marsh, words


def test_a_sleeve_that_a_plan_has_is_drawn_with_its_figures(sample_plan, tmp_path):
    folder = tmp_path / "plan"
    shutil.copytree(sample_plan("marsh-lane").folder, folder)
    plan = json.loads((folder / "plan.json").read_text("utf-8"))
    line = next(one for one in plan["lines"] if one["id"] == "L2")
    reach = next(one for one in line["reaches"] if one["station_from"] < 15.0 < one["station_to"])
    pipe = {**reach["pipe"], "nominal": "6 in", "od_m": 0.1683, "id_m": 0.1541, "wall_m": 0.0071}
    lies = {"station_from": 13.9, "station_to": 18.3, "length": 4.4, "top_above_pipe": 0.031, "play": 0.024}
    reach["sleeve"] = {"pipe": pipe, **lies}
    (folder / "plan.json").write_text(json.dumps(plan), "utf-8")
    printed(folder, tmp_path / "s.pdf", "--parts", "details")
    said = read(tmp_path / "s.pdf")
    sleeve = (
        "Sleeve: 6 in (168 mm outside) schedule 40 PVC, 0+013.90 to 0+018.30, 4.40 m long, its top 31 mm over "
        "the line's; play inside 24 mm"
    )
    assert sleeve in said
    assert "No sleeve is planned" not in said


def test_a_detail_carries_what_was_found_there_and_not_where_a_like_name_is_crossed(sample_plan, tmp_path):
    folder = tmp_path / "plan"
    shutil.copytree(sample_plan("marsh-lane").folder, folder)
    plan = json.loads((folder / "plan.json").read_text("utf-8"))
    line = next(one for one in plan["lines"] if one["id"] == "L1")
    (first,) = line["crossings"]
    line["crossings"].append({**first, "name": "Power", "station_from": 20.0, "station_to": 20.0})
    found = next(one for one in plan["checks"] if one["rule"] == "utility-crossed" and one["subject"].startswith("L1"))
    there = {**found["place"], "from": 19.4, "to": 20.6}
    words = {
        "subject": "L1:crossing Power",
        "where": "station 0+019.40 to 0+020.60",
        "message": "dig the second by hand",
    }
    plan["checks"].insert(plan["checks"].index(found) + 1, {**found, **words, "place": there})
    (folder / "plan.json").write_text(json.dumps(plan), "utf-8")
    printed(folder, tmp_path / "c.pdf", "--parts", "details")
    said = read(tmp_path / "c.pdf")
    second = said.split("Crossing of a utility: L1 0+020.00")[1].split("Crossing")[0]
    assert "dig the second by hand" in second
    assert "97 mm clear" not in second


def clipped(file):
    for (wide, high), words in boxes(file):
        for text, left, top, right, bottom in words:
            if left < 26.0 or top < 26.0 or right > wide - 26.0 or bottom > high - 26.0:
                yield text


def one_over_another(file):
    for _, words in boxes(file):
        for k, (text, left, top, right, bottom) in enumerate(words):
            for other, l2, t2, r2, b2 in words[k + 1 :]:
                if min(right, r2) - max(left, l2) > 0.5 and min(bottom, b2) - max(top, t2) > 0.15 * min(
                    bottom - top, b2 - t2
                ):
                    yield text, other


def bounds(mark):
    """The box round a mark [mm]; of type by the width of its glyphs."""
    from siteplan.plotting.fonts import text_corners
    from siteplan.plotting.shapes import Filled, Lettering

    spots = (
        text_corners(mark)
        if isinstance(mark, Lettering)
        else sum(mark.rings, ())
        if isinstance(mark, Filled)
        else mark.points
    )
    xs, ys = zip(*spots, strict=True)
    return SimpleNamespace(left=min(xs), bottom=min(ys), right=max(xs), top=max(ys))


def apart(a, b, slack=0.05):
    """Whether two boxes stand beside or over one another, but for a hair."""
    return (
        a.right <= b.left + slack or b.right <= a.left + slack or a.top <= b.bottom + slack or b.top <= a.bottom + slack
    )


def drawn(folder, paper):
    """The text pages before they are framed."""
    from siteplan.planset.texts.cover import cover_pages
    from siteplan.planset.typed_set import set_from_typed
    from siteplan.planset.whole import SET_PARTS

    typed = {"against": None, "site": None, "scale": None, "date": None, "revision": "", "debug": True}
    asked = set_from_typed({"plan": folder, "paper": paper, **typed})
    pages = [page for part in SET_PARTS if part.word in _TEXTS.split(",") for page in part.make(asked)]
    return [*cover_pages(asked, pages, ()), *pages]


@pytest.mark.parametrize(
    ("name", "paper"), [("alder-court", "letter"), ("marsh-lane", "a4"), ("kiln-rise", "a3"), ("kiln-rise", "letter")]
)
def test_every_mark_stands_inside_its_frame_and_no_letter_on_another(sample_plan, name, paper):
    """Measured on the marks themselves: an extractor does not tell what lies off the paper."""
    from siteplan.plotting.shapes import Lettering

    for page in drawn(sample_plan(name).folder, paper):
        room, held = page.paper.inside, []
        for one in page.shapes:
            box = bounds(one)
            assert room.left - 0.1 <= box.left, (page.title, one)
            assert box.right <= room.right + 0.1, (page.title, one)
            assert room.bottom - 0.1 <= box.bottom, (page.title, one)
            assert box.top <= room.top + 0.1, (page.title, one)
            if isinstance(one, Lettering):
                assert one.size >= 2.5, (page.title, one.text)  # mm: 7 points
                assert all(apart(box, other) for _, other in held), (page.title, one.text)
                held.append((one.text, box))


@pytest.mark.parametrize(
    ("name", "paper"),
    [("alder-court", "letter"), ("marsh-lane", "a4"), ("kiln-rise", "a4"), ("marsh-lane", "a3")],
)
def test_nothing_is_clipped_and_no_word_lies_over_another(sample_plan, tmp_path, name, paper):
    out = tmp_path / "set.pdf"
    sheets = printed(sample_plan(name).folder, out, "--paper", paper)
    assert len(sheets) > 8
    assert list(clipped(out)) == []
    assert list(one_over_another(out)) == []


def test_a_metric_plan_has_no_us_word(sample_plan, tmp_path):
    us = re.compile(r"\d\s?(?:in|ft)\b|\b(?:ft|feet|foot|inch|inches|lbf?|psi|gpm|gal|acres?|cfs)\b|\d'-\d")
    for language in ("english", "spanish"):
        printed(sample_plan("marsh-lane").folder, tmp_path / "m.pdf", "--language", language)
        said = read(tmp_path / "m.pdf")
        said = re.sub(
            r"\d+ in \(\d+ mm (?:outside|por fuera)\)", "", said
        )  # a size by its name, with what a tape finds
        assert [said[max(0, one.start() - 40) : one.end() + 20] for one in us.finditer(said)] == []


def test_the_crews_sheets_are_in_spanish_where_that_is_asked(sample_plan, tmp_path):
    said = " ".join(
        " ".join(printed(sample_plan("alder-court").folder, tmp_path / "s.pdf", "--language", "spanish")).split()
    )
    for words in (
        "Tabla de zanja",
        "Tabla de cortes",
        "Antes de excavar: pida el marcado",
        "ALTO 1, antes de excavar",
        "PRUEBA DE AGUA",
        "Arrastre planeado",
        "salida: Rear slope",
    ):
        assert words in said, words


_STRANGE = (
    "<script>alert(1)</script>",
    "=1+1",
    "a\nb\tc",
    "x\x1b[2J\x07",
    "\u202egpj\u2066",
    "漢字かな",
    "مرحبا",
    "🚰",
    "'); DROP",
    "{0} %s ${x}",
    "null\x00byte",
    "$(rm -rf /)",
    "../../etc/passwd",
    "%n%n%n",
    "\\N{DASH} \\x41",
    "a\u200bb",
    "Straße é Ł",
    "∞ ≈ √ ½",
    '"quoted" `tick`',
    "[link](http://x)",
    "-2+3+cmd|' /C calc'!A0",
    "(paren) \\( /Type /Action",
    "endstream endobj",
    "W" * 70,
    "&amp;<b>",
)


def test_strange_names_stay_whole(sample_plan, tmp_path):
    """Each name on the pages, marks that cannot be printed gone, glyphs that the face lacks by their number."""
    folder = tmp_path / "plan"
    shutil.copytree(sample_plan("alder-court").folder, folder)
    plan = json.loads((folder / "plan.json").read_text("utf-8"))
    renamed = [*plan["sources"], *plan["outlets"]]
    for k, one in enumerate(renamed):
        one["name"] = _STRANGE[k % len(_STRANGE)]
    plan["site"]["name"] = "".join(_STRANGE[:4])
    plan["assumptions"] = [f"begin {one} end" for one in _STRANGE]
    (folder / "plan.json").write_text(json.dumps(plan), "utf-8")
    out = tmp_path / "set.pdf"
    given = "".join(titled(printed(folder, out), "Assumptions").split())
    for one in _STRANGE:
        shown = "".join(c for c in one if c.isprintable() and not c.isspace())
        shown = (
            "".join(c if ord(c) < 0x600 else f"<U+{ord(c):04X}>" for c in shown) if one in {"漢字かな", "🚰"} else shown
        )
        if one != "مرحبا":  # the extractor turns letters that run from the right
            assert f"begin{shown}end" in given, one
    assert list(clipped(out)) == []
    content = out.read_bytes()
    assert b"/JavaScript" not in content
    assert b"/URI" not in content
    assert b"/Launch" not in content


def test_a_part_that_fails_is_named_and_ends_nothing(sample_plan, tmp_path, monkeypatch, capsys):
    from siteplan.planset import whole

    def broken(_):
        raise ZeroDivisionError

    parts = tuple(one._replace(make=broken) if one.word == "quantities" else one for one in whole.SET_PARTS)
    monkeypatch.setattr(whole, "SET_PARTS", parts)
    folder, out = sample_plan("alder-court").folder, tmp_path / "set.pdf"
    assert main(["sheets", str(folder), "--out", str(out), "--parts", "cover,quantities,notes"]) == 1
    assert "Left out: Quantities, not drawn by a fault of ours (ZeroDivisionError)" in capsys.readouterr().out
    said = subprocess.run(["pdftotext", str(out), "-"], capture_output=True, check=True, text=True).stdout
    assert "Left out of this set" in said


def test_a_part_that_is_none_is_refused(sample_plan, tmp_path, capsys):
    out = tmp_path / "set.pdf"
    assert main(["sheets", str(sample_plan("alder-court").folder), "--out", str(out), "--parts", "cover,sauce"]) == 2
    assert "has no part 'sauce'" in capsys.readouterr().err
    assert not out.exists()


def test_a_figure_without_a_limit_says_so_and_why_on_its_check_sheet(alder):
    """A turn made by two fittings is not held against the limit of one."""
    _, plan, _, out = alder
    said = "".join(read(out).split())
    bare = [
        one for one in plan["checks"] if one["limit"] is None and one["value"] is not None and one["unit"] != "verdict"
    ]
    assert {"bend", "inside-lot"} <= {one["rule"] for one in bare}
    lines = {one["id"] for one in plan["lines"]}
    for one in bare:
        if one["subject"] in lines:
            assert "".join(one["message"].split()) in said, one["message"]
    worse = [one for one in bare if one["subject"] in lines and one["status"] != "pass"]
    assert worse
    assert said.count("none,seebelow") == len(worse)
    for one in worse:
        assert "".join(f"{one['rule']}: {one['message']}".split()) in said
