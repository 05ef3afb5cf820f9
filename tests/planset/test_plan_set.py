"""The plan set as its readers get it.

Type that can be selected, the same bytes, one message where it cannot be made.
"""

from __future__ import annotations

import hashlib
import json
import subprocess
import tomllib
from dataclasses import replace
from importlib import resources

import pytest

from siteplan.cli.main import main


def text_of(file):
    return subprocess.run(["pdftotext", "-layout", str(file), "-"], capture_output=True, check=True, text=True).stdout


@pytest.fixture(scope="module")
def alder(sample_plan, tmp_path_factory):
    folder = sample_plan("alder-court").folder
    out = tmp_path_factory.mktemp("set") / "set.pdf"
    assert main(["sheets", str(folder), "--out", str(out), "--date", "2026-05-01"]) == 0
    return folder, out


def test_every_sheet_says_whose_which_of_how_many_and_of_what_plan(alder):
    folder, out = alder
    pages = text_of(out).split("\f")[:-1]
    identity = hashlib.sha256((folder / "plan.json").read_bytes()).hexdigest()[:12]
    for number, page in enumerate(pages, start=1):
        for said in ("Alder Court, lot 7", identity, "2026-05-01", f"{number} of {len(pages)}"):
            assert said in page, (number, said)


def test_same_plan_same_bytes(alder, tmp_path):
    folder, out = alder
    assert main(["sheets", str(folder), "--out", str(tmp_path / "two.pdf"), "--date", "2026-05-01"]) == 0
    assert (tmp_path / "two.pdf").read_bytes() == out.read_bytes()


@pytest.mark.parametrize("scale", ["1:5", "1in=ft", "1:x", "1:9999999"])
def test_a_scale_that_is_none_is_refused(alder, tmp_path, capsys, scale):
    assert main(["sheets", str(alder[0]), "--out", str(tmp_path / "no.pdf"), "--scale", scale]) == 2
    assert "a scale is written 1:240" in capsys.readouterr().err
    assert not (tmp_path / "no.pdf").exists()


def test_another_site_than_the_plans_own_is_refused(alder, tmp_path, capsys):
    from pathlib import Path

    other = Path(__file__).parents[2] / "sample_sites" / "kiln-rise"
    assert main(["sheets", str(alder[0]), "--out", str(tmp_path / "no.pdf"), "--site", str(other)]) == 2
    assert "not as the plan was made from" in capsys.readouterr().err


def test_fonts_are_as_their_source_gives_them():
    folder = resources.files("siteplan").joinpath("assets", "fonts")
    told = tomllib.loads(folder.joinpath("SOURCES.toml").read_text(encoding="utf-8"))
    assert {one["name"] for one in told["file"]} == {"DejaVuSans.ttf", "DejaVuSans-Bold.ttf", "LICENSE"}
    for one in told["file"]:
        assert hashlib.sha256(folder.joinpath(one["name"]).read_bytes()).hexdigest() == one["sha256"], one["name"]


def test_a_lot_for_no_paper_leaves_the_plan_sheet_out_by_name_and_the_rest_stands(alder, tmp_path, capsys):
    record = json.loads((alder[0] / "plan.json").read_bytes())
    (lot,) = [one for one in record["features"] if one["kind"] == "lot"]
    x = lot["rings"][0][0][0]
    lot["rings"][0] = [[at[0] + (9000.0 if at[0] > x + 5 else 0.0), at[1]] for at in lot["rings"][0]]
    (tmp_path / "plan").mkdir()
    (tmp_path / "plan" / "plan.json").write_text(json.dumps(record), encoding="utf-8")
    given = ["sheets", str(tmp_path / "plan"), "--out", str(tmp_path / "set.pdf")]
    assert main(given) == 1
    assert "Left out: Plan, would take" in capsys.readouterr().out
    pages = text_of(tmp_path / "set.pdf").split("\f")[:-1]
    assert "Plan: would take" in " ".join(pages[0].split())
    for title in ("Profile", "Trench schedule", "Check sheet"):
        assert any(title in page for page in pages), title
    for more in (["--parts", "plan"], ["--scale", "1:240"]):  # nothing else was wanted; what was typed cannot be done
        (tmp_path / "set.pdf").unlink(missing_ok=True)
        assert main([*given, *more]) == 2
        assert "plan sheets at" in capsys.readouterr().err
        assert not (tmp_path / "set.pdf").exists()


@pytest.mark.parametrize("upright", [False, True])
def test_no_word_of_a_title_block_runs_over_its_field(upright):
    from siteplan.plotting.fonts import text_width
    from siteplan.plotting.frame import Heading, framed
    from siteplan.plotting.paper_sizes import PAPERS
    from siteplan.plotting.shapes import Lettering, Page, Stroke

    head = Heading(site="Alder Court, lot 7", units="lengths ft, elevations m", plan_id="0" * 12, revision="", date="")
    for paper in PAPERS:
        page = framed(
            Page(paper=replace(paper, upright=upright), title="Check sheet, all lines", shapes=()), head, 1, 37
        )
        cuts = sorted(
            {
                one.points[0][0]
                for one in page.shapes
                if isinstance(one, Stroke) and one.points[0][0] == one.points[-1][0]
            }
        )
        assert len(cuts) > 2
        for one in page.shapes:
            if isinstance(one, Lettering):
                end = one.x + text_width(one.text, one.size, bold=one.bold)
                right = next((cut for cut in cuts if cut > one.x), page.paper.frame.right)
                assert end <= right, (paper.name, one.text)
